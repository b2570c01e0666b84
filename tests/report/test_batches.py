"""Batches bound into one PDF: nothing lost, and every batch on a front page where asked."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader, PdfWriter

from limbwright.report.batches import in_batches


def pages(batch: tuple[int, ...]) -> bytes:
    made = PdfWriter()
    for width in batch:
        made.add_blank_page(width=width, height=100)
    out = io.BytesIO()
    made.write(out)
    return out.getvalue()


@pytest.mark.parametrize(("even", "widths"), [(False, [1, 2, 3, 4]), (True, [1, 2, 3, 3, 4])])
def test_batches_keep_their_order_and_begin_on_a_front(even: bool, widths: list[int]) -> None:
    told = []
    bound = in_batches([(1, 2, 3), (4,)], pages, lambda done, _: told.append(done), even=even)
    found = [int(page.mediabox.width) for page in PdfReader(io.BytesIO(bound)).pages]
    assert found == widths
    assert told == [3, 4]

"""Set many cards in batches, each in a process of its own, and bind them into one PDF."""

from __future__ import annotations

import io
import multiprocessing
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

from pypdf import PdfWriter

__all__ = ["in_batches"]


Batch = TypeVar("Batch", bound=Sequence[object])


def in_batches(
    batches: Sequence[Batch],
    set_one: Callable[[Batch], bytes],
    on_progress: Callable[[int, str], None] | None = None,
    *,
    even: bool = False,
) -> bytes:
    """Return one PDF of all batches in their order.

    Each batch is set in a process that ends with it, so that memory does not grow with the number
    of batches. ``on_progress(done, "")`` is told the number of items done after each batch.
    ``even`` lets every batch begin on a front page, for printing on both sides.
    """
    workers = min(len(batches), os.cpu_count() or 1)
    context = multiprocessing.get_context("spawn")
    whole = PdfWriter()
    done = 0
    with ProcessPoolExecutor(workers, mp_context=context, max_tasks_per_child=1) as pool:
        for batch, pdf in zip(batches, pool.map(set_one, batches), strict=True):
            if even and len(whole.pages) % 2:
                whole.add_blank_page()
            whole.append(io.BytesIO(pdf), import_outline=False)
            done += len(batch)
            if on_progress is not None:
                on_progress(done, "")
    whole.compress_identical_objects()
    bound = io.BytesIO()
    whole.write(bound)
    return bound.getvalue()

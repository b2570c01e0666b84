"""Set many cards in batches, each in a process of its own, and bind them into one PDF."""

from __future__ import annotations

import io
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from typing import TypeVar

from pypdf import PdfWriter

__all__ = ["AT_ONCE", "bound", "in_batches", "shared_out"]


Item = TypeVar("Item")
Batch = TypeVar("Batch", bound=Sequence[object])

AT_ONCE = 24
"""Up to so many cards are set in one process, one after the other; judgement."""
BATCH = 8
"""Cards of a batch; judgement: few enough to share among cores, enough to be worth a process."""
BATCHES_A_PROCESS = 3
"""A process begins in a second and keeps what it has set until it ends; judgement."""


def shared_out(items: Sequence[Item]) -> list[Sequence[Item]]:
    """Return items in their order as the fewest even batches of at most `BATCH` each.

    The batches go by the number of items alone, so that a PDF is the same on every machine.
    """
    count = -(-len(items) // BATCH)
    ends = [len(items) * k // count for k in range(count + 1)] if count else [0]
    return [items[first:last] for first, last in pairwise(ends)]


def in_batches(
    batches: Sequence[Batch],
    set_one: Callable[[Batch], bytes],
    on_progress: Callable[[int, str], None] | None = None,
    *,
    even: bool = False,
    workers: int | None = None,
) -> bytes:
    """Return one PDF of all batches in their order.

    Batches are set in processes that end after a few, so that memory does not grow with their
    number; ``workers`` of them at once, all cores by default. ``on_progress(done, "")`` is told
    the number of items done after each batch. ``even`` as in `bound`.
    """
    count = min(len(batches), workers if workers is not None else (os.cpu_count() or 1))
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(
        max(count, 1),
        mp_context=context,
        initializer=_deaf,
        max_tasks_per_child=BATCHES_A_PROCESS,
    )
    pdfs: list[bytes] = []
    done = 0
    try:
        for batch, pdf in zip(batches, pool.map(set_one, batches), strict=True):
            pdfs.append(pdf)
            done += len(batch)
            if on_progress is not None:
                on_progress(done, "")
    finally:
        pool.shutdown(cancel_futures=True)
    return bound(pdfs, even=even)


def bound(pdfs: Iterable[bytes], *, even: bool = False) -> bytes:
    """Return PDFs as one, in their order; a single one as it is.

    ``even`` lets every one begin on a front page, for printing on both sides.
    """
    every = list(pdfs)
    if len(every) == 1:
        return every[0]
    whole = PdfWriter()
    for pdf in every:
        if even and len(whole.pages) % 2:
            whole.add_blank_page()
        whole.append(io.BytesIO(pdf), import_outline=False)
    whole.compress_identical_objects()
    out = io.BytesIO()
    whole.write(out)
    return out.getvalue()


def _deaf() -> None:
    """Ignore Ctrl-C in a process that sets: the one that started it ends it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)

"""Share work among processes: in order, with what is ahead bounded, and stopped at once."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator, Sized
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from itertools import islice
from typing import TypeVar

from limbwright.errors import LimbwrightError

__all__ = ["FEW", "spread"]

Item = TypeVar("Item")
Result = TypeVar("Result")

FEW = 8
"""Below this many trees, starting processes costs more than it saves."""


def spread(
    task: Callable[[Item], Result],
    items: Iterable[Item],
    *,
    workers: int | None = None,
    few: int = FEW,
) -> Generator[Result, None, None]:
    """Yield the result of each item, in the order given.

    Parameters
    ----------
    task
        What is done with an item; it and its results pass between processes.
    items
        Drawn a few at a time: what it takes to make one is done while others are worked at.
    workers
        Processes that share the work; all cores by default.
    few
        Fewer items than this are worked through in this process, where their number is known.

    Closing the iterator stops the work.

    Raises
    ------
    LimbwrightError
        The system ended one of the processes.
    """
    count = workers if workers is not None else (os.cpu_count() or 1)
    if count <= 1 or (isinstance(items, Sized) and len(items) < few):
        for item in items:
            yield task(item)
        return
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, mp_context=context, initializer=_settle)
    coming = iter(items)
    waiting: deque[Future[Result]] = deque()
    try:
        for item in islice(coming, 4 * count):
            with _deaf_children():
                waiting.append(pool.submit(task, item))
        while waiting:
            done = waiting.popleft().result()
            for item in islice(coming, 1):
                waiting.append(pool.submit(task, item))
            yield done
    except BrokenProcessPool:
        raise LimbwrightError(
            "The system ended a process that shared the work, perhaps for want of memory.",
            "Close other programs, or work on one core with --workers 1.",
        ) from None
    finally:
        pool.shutdown(cancel_futures=True)


@contextmanager
def _deaf_children() -> Iterator[None]:
    """Let processes started meanwhile ignore Ctrl-C: the one that started them ends them.

    Interrupted themselves they would print traces and leave the rest waiting for ever.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, heard)


def _settle() -> None:
    """Keep each process to one core: the trees are the parallel work.

    The search for rings of objects is made rarer too. A tree's arrays are in no ring, and looking
    through all that the libraries hold took 6 % of a plan over five seasons.
    """
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[name] = "1"
    gc.set_threshold(50_000, 20, 50)

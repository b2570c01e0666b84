"""Make a solver without its banner, which would spoil JSON on standard output."""

from __future__ import annotations

import ctypes
import os
import sys
import threading

import highspy

__all__ = ["quiet_solver"]

_lock = threading.Lock()


def quiet_solver() -> highspy.Highs:
    """Return a HiGHS that prints nothing.

    HiGHS 1.16 writes its licence lines to the process's standard output when the first instance
    is made, before any option can be set; so that output is put aside for that moment.
    """
    with _lock:
        sys.stdout.flush()
        try:
            saved = os.dup(1)
        except OSError:  # no standard output to protect
            return _made()
        aside = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(aside, 1)
            solver = _made()
            _flush_c()
        finally:
            os.dup2(saved, 1)
            os.close(saved)
            os.close(aside)
        return solver


def _made() -> highspy.Highs:
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    return solver


def _flush_c() -> None:
    """Empty the C library's buffer while standard output is put aside."""
    try:
        library = ctypes.cdll.msvcrt if os.name == "nt" else ctypes.CDLL(None)
        library.fflush(None)
    except (AttributeError, OSError):  # a platform without a reachable C library: banner may show
        return

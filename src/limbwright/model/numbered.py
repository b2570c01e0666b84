"""The order of names that bear numbers: 9 before 10."""

from __future__ import annotations

import re
from functools import lru_cache

__all__ = ["in_order"]


@lru_cache(maxsize=4096)  # names of orchards come again and again
def in_order(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return what names sort by so that numbers in them count: 9 before 10."""
    parts = re.split(r"(\d+)", name)
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p.casefold()) for p in parts if p)

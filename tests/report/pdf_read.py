"""Read a PDF back: its words page by page, the size of its type, its pictures."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from pypdf import PdfReader

__all__ = ["count_pictures", "pages_of", "smallest_type_pt", "words_of"]


def _flat(text: str) -> str:
    return " ".join(text.replace("\u200b", "").replace("\u00a0", " ").split())


def pages_of(path: Path) -> list[str]:
    """Return the words of each page, blanks and line ends made one blank."""
    return [_flat(page.extract_text()) for page in PdfReader(path).pages]


def words_of(path: Path) -> str:
    """Return all words of a PDF."""
    return " ".join(pages_of(path))


def smallest_type_pt(path: Path) -> float:
    """Return the smallest type anything is set in [pt]."""
    sizes: list[float] = []

    def visit(text: str, cm: Any, tm: Any, font: Any, size: float) -> None:
        if text.strip():
            scale = math.hypot(cm[0], cm[1]) * math.hypot(tm[0], tm[1])
            sizes.append(size * scale)

    for page in PdfReader(path).pages:
        page.extract_text(visitor_text=visit)
    return min(sizes)


def count_pictures(path: Path) -> int:
    """Return how many photos are in a PDF."""
    return sum(len(page.images) for page in PdfReader(path).pages)

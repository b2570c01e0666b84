"""The bundled typeface of the cards and what it can write."""

from __future__ import annotations

import unicodedata
from pathlib import Path

__all__ = ["FAMILY", "covers", "font_folder"]

FAMILY = "Atkinson Hyperlegible"
"""Drawn by the Braille Institute so that look-alike letters differ; SIL Open Font License 1.1."""

LAST_COVERED = 0x017F
"""Latin, Latin-1 and Latin Extended-A; a few letters within it are missing and fall back."""

ALSO_COVERED = frozenset("–—‘’‚“”„†‡•…‰‹›⁄€™−∙√∞≈≠≤≥")


def font_folder() -> Path:
    """Return the folder of the bundled font files."""
    return Path(__file__).parent / "fonts"


def covers(text: str) -> bool:
    """Return whether the bundled typeface writes every character of ``text``."""
    return all(
        ord(c) <= LAST_COVERED or c in ALSO_COVERED or unicodedata.category(c) in ("Zs", "Cc")
        for c in set(text)
    )

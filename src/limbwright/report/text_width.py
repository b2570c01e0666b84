"""How wide words in the bundled typeface are at most, for setting them where nothing is covered."""

from __future__ import annotations

__all__ = ["shortened", "text_width_mm", "wrapped"]

# Advance widths of Atkinson Hyperlegible Bold over the size of type, from the table "hmtx" of its
# font file; each group has the widest of its letters.
WIDTHS = (
    (0.38, " ijl!',.:;|-ftr()[]`{}"),
    (0.46, '1I"*/\\_'),
    (0.61, "abcdeghknopqsuvxyz2379EFJL"),
    (0.66, "04568BKPRSTVZ<>=+"),
    (0.98, "mMwW%@&OQGXY#"),
)
OTHERS = 0.71
"""The widest of the other letters and signs ("N" 0.700)."""
BEYOND = 1.1
"""Letters from other typefaces, East Asian ones as wide as high (judgement)."""
LAST_LATIN = 0x024F


def text_width_mm(text: str, size_mm: float) -> float:
    """Return a width [mm] that ``text`` in type of ``size_mm`` does not pass, bold or not."""
    return size_mm * sum(_width(letter) for letter in text)


def _width(letter: str) -> float:
    for width, letters in WIDTHS:
        if letter in letters:
            return width
    return OTHERS if ord(letter) <= 0x7F else 1.0 if ord(letter) <= LAST_LATIN else BEYOND


def shortened(text: str, size_mm: float, width_mm: float) -> str:
    """Return text cut short with "…" where it would pass ``width_mm``."""
    if text_width_mm(text, size_mm) <= width_mm:
        return text
    kept = text
    while kept and text_width_mm(kept, size_mm) + size_mm * BEYOND > width_mm:
        kept = kept[:-1]
    return f"{kept.rstrip()}…"


def wrapped(text: str, size_mm: float, width_mm: float) -> list[str]:
    """Return text as lines that do not pass ``width_mm``, broken between words."""
    lines: list[str] = []
    for word in text.split():
        whole = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_mm(whole, size_mm) <= width_mm:
            lines[-1] = whole
        else:
            lines.append(shortened(word, size_mm, width_mm))
    return lines

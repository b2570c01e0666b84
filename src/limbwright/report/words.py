"""Figures and cuts in plain words, as a card or a summary says them."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from limbwright.cuts.results import Cut

__all__ = ["AS_BEFORE", "chance_among", "cut_words", "one_in", "per_cent_pair", "plain"]

AS_BEFORE = "as before"

VERBS = {"remove": "Take out", "shorten": "Shorten", "head": "Head", "thin": "Thin"}


def plain(text: str) -> str:
    """Return text fit to print: one line, no control or direction-changing characters."""
    if text.isascii() and text.isprintable():
        return " ".join(text.split())
    kept = "".join(
        " " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c
        for c in text
        if unicodedata.category(c) not in ("Cf", "Cs") or c == "\u200d"
    )
    return " ".join(kept.split())


def one_in(chance: float) -> str:
    """Return a chance a year as "1 in so many", rounded as far as it is known.

    From one in three upwards it is told in per cent, as one in two and a half reads badly.
    """
    if not chance > 1e-6:
        return "under 1 in 1 000 000"
    if chance >= 0.3:
        return f"{100.0 * min(chance, 1.0):.0f} in 100"
    n = 1.0 / chance
    digits = 1 if n < 10.0 else 2
    rounded = float(f"{n:.{digits}g}")
    return f"1 in {rounded:,.0f}".replace(",", " ")


def chance_among(*chances: float) -> tuple[str, tuple[str, ...]]:
    """Return chances a year as so many among a hundred, a thousand or ten thousand trees.

    All share one number of trees, the smallest that gives each at least two trees and tells
    different chances apart where they differ by a tenth or more.

    Returns
    -------
    tuple
        The number of trees, such as ``"100"``, and how many of them, such as ``("10", "5")``.
    """
    for trees in (100, 1000, 10_000):
        counts = [round(trees * min(max(p, 0.0), 1.0)) for p in chances]
        told = all(
            x != y or abs(p - q) <= 0.1 * max(p, q)
            for x, p in zip(counts, chances, strict=True)
            for y, q in zip(counts, chances, strict=True)
        )
        if min(counts, default=0) >= 2 and told:
            break
    of = f"{trees:,}".replace(",", " ")
    return of, tuple(str(n) if n else "fewer than 1" for n in counts)


def per_cent_pair(before: float, after: float) -> tuple[int, int | None]:
    """Return two shares of 1 in whole per cent; the second None where it is the first again."""
    first, second = (round(100.0 * min(max(share, 0.0), 1.0)) for share in (before, after))
    return first, None if second == first else second


def cut_words(cut: Cut) -> str:
    """Return what a cut does, as an order."""
    verb = VERBS.get(cut.cut, cut.cut.capitalize())
    words = f"{verb} limb {cut.limb}"
    if cut.to_lateral:
        joined = cut.to_lateral.startswith(("to ", "at ", "just "))
        return plain(f"{words} {cut.to_lateral}" if joined else f"{words} to {cut.to_lateral}")
    if cut.cut == "remove":
        words += " to the collar"
    return plain(words)

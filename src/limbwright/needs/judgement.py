"""A judgement: what was decided, why, how sure it is, between which bounds, by whose word."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

__all__ = ["Judgement", "sure_words"]

Value = TypeVar("Value", bound="str | int | float | tuple[int, ...]")

SURE_WORDS = ((0.85, "fairly sure"), (0.65, "likely"), (0.45, "unsure"))
"""Sureness from which each word is used; judgement. Nothing seen in two minutes is certain."""


def sure_words(sure: float) -> str:
    """Return a sureness between 0 and 1 in words."""
    return next((words for least, words in SURE_WORDS if sure >= least), "a guess")


@dataclass(frozen=True, slots=True)
class Judgement(Generic[Value]):
    """One value with its reason.

    ``sure`` runs from 0 (a guess) to 1. ``low`` and ``high`` bound a number, None where the value
    is a word. ``source`` names where the rule comes from.
    """

    value: Value
    because: str
    sure: float
    low: float | None = None
    high: float | None = None
    source: str = ""

    @property
    def sure_words(self) -> str:
        """The sureness in words."""
        return sure_words(self.sure)

    def to_dict(self) -> dict[str, Any]:
        """Return the judgement as plain values; low and high only where there are any."""
        value: object = self.value
        if isinstance(value, float):
            value = round(value, 4)
        elif isinstance(value, tuple):
            value = list(value)
        out: dict[str, Any] = {"value": value, "because": self.because}
        out["sure"] = round(self.sure, 2)
        out["sure_words"] = self.sure_words
        if self.low is not None and self.high is not None:
            out["low"], out["high"] = round(self.low, 4), round(self.high, 4)
        out["source"] = self.source
        return out

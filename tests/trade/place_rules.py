"""Rules of an invented place."""

from __future__ import annotations

from limbwright.trade.seasons.days import year_day
from limbwright.trade.seasons.local import LocalRule, LocalStrength

__all__ = ["rule"]


def rule(
    strength: LocalStrength, first: str, last: str, job: str = "structural", kind: str = "all"
) -> LocalRule:
    begins, ends = year_day(first), year_day(last)
    assert begins
    assert ends
    return LocalRule(job, kind, begins, ends, strength, "Invented Scheme", "Elsewhere", "2027")

"""A value with the range its sources leave."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, log

from limbwright.trade.parameters import Parameter

__all__ = ["Range", "given"]


@dataclass(frozen=True, slots=True)
class Range:
    """A value, and the low and high that its sources leave."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Range:
        """Return the range times a factor that is not below zero."""
        return Range(self.value * factor, self.low * factor, self.high * factor)

    def by(self, other: Range) -> Range:
        """Return the product with another range that errs independently, all above zero.

        The logarithms of low and high over the value add as squares do.
        """
        value = self.value * other.value
        low = hypot(log(self.low / self.value), log(other.low / other.value))
        high = hypot(log(self.high / self.value), log(other.high / other.value))
        return Range(value, value * exp(-low), value * exp(high))

    def within(self, least: float, most: float) -> Range:
        """Return the range held between two bounds."""
        held = (min(max(one, least), most) for one in (self.value, self.low, self.high))
        return Range(*held)

    def to_dict(self) -> dict[str, float]:
        """Return the three numbers, to six places."""
        return {name: round(getattr(self, name), 6) for name in ("value", "low", "high")}


def given(parameter: Parameter) -> Range:
    """Return the range of a constant of the trade."""
    return Range(parameter.value, parameter.low, parameter.high)

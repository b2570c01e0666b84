"""The faults Limbwright reports to a person.

LimbwrightError
├── InputError        a file or an option that cannot be used at all
├── SkeletonError     a set of segments that is not a tree
└── PlanError         a wish that no plan can meet
"""

from __future__ import annotations

__all__ = ["InputError", "LimbwrightError", "PlanError", "SkeletonError"]


class LimbwrightError(Exception):
    """A fault worth telling, with what would put it right.

    Parameters
    ----------
    message
        What is wrong and where, as a plain sentence.
    remedy
        What would be right; may be empty.
    """

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        """Return the message, and the remedy where there is one."""
        return f"{self.message} {self.remedy}".strip()


class InputError(LimbwrightError):
    """A file or an option that cannot be used at all."""


class SkeletonError(LimbwrightError):
    """A set of segments that is not one rooted tree."""


class PlanError(LimbwrightError):
    """A wish that no plan can meet; the message names the limits that collide."""

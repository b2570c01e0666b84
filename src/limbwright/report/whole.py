"""Write a file whole or not at all: the same for reports as for tables."""

from __future__ import annotations

from limbwright.survey.whole import write_whole

__all__ = ["write_whole"]

"""Lines of words for the screen."""

from __future__ import annotations

import textwrap

__all__ = ["WIDTH", "say"]

WIDTH = 96
"""Letters of a line; judgement: fits half a laptop's screen and a printed page."""


def say(text: str, then: str = "", *, first: str = "") -> None:
    """Print text in lines; ``first`` begins the first one, ``then`` the others."""
    print(textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=then))

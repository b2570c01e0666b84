"""What the pictures that scripts draw for the docs share: colours, the page, and its writing."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

from limbwright.report.whole import write_whole

__all__ = ["BAND", "FAINT", "GROUND", "page", "stroke", "write_picture"]

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
GROUND, FAINT, BAND = "#fbf8f1", "#d9d2c4", "#e6d9de"
SANS = "Atkinson Hyperlegible, Verdana, DejaVu Sans, sans-serif"


def stroke(path: str, colour: str, width: float, dashes: str = "") -> str:
    """Return a path as a line, in dashes where they are given."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width}" '
        f'stroke-linejoin="round"{dashed}/>'
    )


def page(width: float, height: float, parts: Iterable[str]) -> str:
    """Return a whole picture."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'font-family="{SANS}"><rect width="100%" height="100%" fill="{GROUND}"/>'
        + "\n".join(parts)
        + "</svg>\n"
    )


def write_picture(name: str, picture: str) -> None:
    """Write a picture into the folder the command line names, else among those of the docs."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURES
    write_whole(folder / name, picture.encode())

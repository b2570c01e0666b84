"""Set a report into a PDF: words and figures as data, pictures beside them, one template."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from shutil import copyfile
from typing import Any

import typst

from limbwright.report.fonts import covers, font_folder
from limbwright.report.strokes import GROUND
from limbwright.report.text_width import shortened
from limbwright.report.wording import tied
from limbwright.report.words import plain

__all__ = ["PHOTO_PPI", "photo_share", "set_book", "shown_photo"]

PARTS = ("parts.typ", "book-parts.typ")
HEAD_TEXT_MM, HEAD_MM = 3.2, 60.0
"""Type of the head of a page, and the room a name has there on either page."""
PHOTO_PPI = 170
"""Judgement: at 88 mm a photo of 590 points across reads well in print and stays small."""
PHOTO_MM = (88, 80)
"""Most width and height of a photo, half a page and under a third; judgement."""
PHOTO = """
#set page(width: auto, height: auto, margin: 0mm)
#context {{
  let tall = measure(image("{file}", width: {wide}mm)).height > {high}mm
  if tall {{ image("{file}", height: {high}mm) }} else {{ image("{file}", width: {wide}mm) }}
}}
"""
PNG_WIDTH = slice(16, 20)
"""Where a PNG holds its width in points (ISO/IEC 15948, IHDR)."""
MM_AN_INCH = 25.4
PAPER_WHITE = "#ffffff"


def set_book(
    template: str,
    data: Mapping[str, Any],
    pictures: Mapping[str, str | bytes],
    *,
    ppi: float | None = None,
) -> list[bytes]:
    """Return a report as one PDF, or as one PNG a page where ``ppi`` is given.

    Parameters
    ----------
    template
        Name of the template beside this module.
    data
        Plain strings, numbers, lists and mappings; nothing of it is ever read as markup. Figures
        are tied to their units.
    pictures
        SVG text or PNG bytes by file name, as ``data`` names them.
    """
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        short = shortened(plain(str(data["holding"])), HEAD_TEXT_MM, HEAD_MM)
        text = json.dumps(_cleaned({**data, "short": short, "ground": "white"}), ensure_ascii=False)
        (root / "data.json").write_text(text, "utf-8")
        said = [text]
        for file, picture in pictures.items():
            if isinstance(picture, str):
                # drawings have a warm ground on screens; paper is its own ground
                white = picture.replace(GROUND, PAPER_WHITE)
                said.append(white)
                (root / file).write_text(white, "utf-8")
            else:
                (root / file).write_bytes(picture)
        for part in (*PARTS, template):
            copyfile(Path(__file__).parent / part, root / part)
        compiler = typst.Compiler(
            root / template,
            root=root,
            font_paths=[font_folder()],
            ignore_system_fonts=all(covers(one) for one in said),
        )
        made = compiler.compile(format="png" if ppi else "pdf", ppi=ppi)
    if made is None:  # only where it is told to write a file itself
        raise RuntimeError("the setter gave no report back")
    return [made] if isinstance(made, bytes) else list(made)


def shown_photo(picture: bytes) -> bytes | None:
    """Return a photo as small as it is printed (PNG), None where it is no picture.

    Cameras write several million points; a report of forty trees would be too large to send.
    """
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        suffix = _suffix(picture)
        if not suffix:
            return None
        (root / f"photo{suffix}").write_bytes(picture)
        wide, high = PHOTO_MM
        words = PHOTO.format(file=f"photo{suffix}", wide=wide, high=high)
        (root / "photo.typ").write_text(words, "utf-8")
        try:
            # there are no words in it, and looking through a system's fonts takes a while
            setter = typst.Compiler(root / "photo.typ", root=root, ignore_system_fonts=True)
            made = setter.compile(format="png", ppi=PHOTO_PPI)
        except RuntimeError:  # what the setter raises for a broken picture
            return None
    if made is None:
        return None
    return made if isinstance(made, bytes) else made[0]


def photo_share(shown: bytes) -> float:
    """Return the share of the most width that a photo from `shown_photo` takes."""
    points = int.from_bytes(shown[PNG_WIDTH], "big")
    return min(points / (PHOTO_PPI / MM_AN_INCH * PHOTO_MM[0]), 1.0)


def _suffix(picture: bytes) -> str:
    """Return the suffix of a picture by its first bytes; empty for none that can be set."""
    if picture[:3] == b"\xff\xd8\xff":
        return ".jpg"
    if picture[:8] == b"\x89PNG\r\n\x1a\n":
        return ".png"
    if picture[:6] in (b"GIF87a", b"GIF89a"):
        return ".gif"
    if picture[:4] == b"RIFF" and picture[8:12] == b"WEBP":
        return ".webp"
    return ""


def _cleaned(value: Any) -> Any:
    """Return values with all text fit to print and figures tied to their units."""
    if isinstance(value, str):
        return tied(plain(value))
    if isinstance(value, Mapping):
        return {name: _cleaned(one) for name, one in value.items()}
    return [_cleaned(one) for one in value] if isinstance(value, list | tuple) else value

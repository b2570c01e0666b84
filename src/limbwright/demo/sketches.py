"""Invented drawings in place of photos of the work, each saying on its face that it is one."""

from __future__ import annotations

import json
import tempfile
import zlib
from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np
import typst

from limbwright.demo.names import MARK
from limbwright.model import Photo, Visit
from limbwright.report.fonts import FAMILY, font_folder

__all__ = ["draw_sketches", "sketched"]

EACH_SEASON = 3
"""Visits of each season that have a drawing before and one after."""
WIDE_MM, HIGH_MM, PPI = 80.0, 60.0, 150.0
LEAST_MM = 2.0
"""Judgement: no line is drawn shorter than this."""

Line = tuple[float, float, float, float, float]
"""From x, y to x, y, and how thick; all in mm of the picture, y down."""

PAGE = f"""#set page(width: {WIDE_MM}mm, height: {HIGH_MM}mm, margin: 0mm, fill: rgb("#f7f2e8"))
#set text(font: "{FAMILY}", size: 9pt, fill: rgb("#1d2b2a"))
"""


def sketched(visits: Iterable[Visit]) -> tuple[Photo, ...]:
    """Return the records of the drawings: before and after the work of a few visits a season."""
    found: list[Photo] = []
    seen: dict[str, int] = {}
    for visit in visits:
        seen[visit.season] = seen.get(visit.season, 0) + 1
        if seen[visit.season] > EACH_SEASON:
            continue
        plain = visit.tree.lower().replace(" ", "-").replace("/", "-")
        for shows in ("before", "after"):
            file = f"photos/{plain}-{visit.done_on.year}-{shows}.png"
            bearing = 45.0 * (zlib.crc32(visit.tree.encode()) % 8)
            found.append(
                Photo(
                    visit.tree, file, visit.done_on, shows, bearing, f"A drawing, no photo; {MARK}"
                )
            )
    return tuple(found)


def draw_sketches(photos: Iterable[Photo]) -> Mapping[str, bytes]:
    """Return each drawing as PNG, by the name of its file.

    The crown is drawn from the tree's name, so that before and after show the same tree; after the
    work some of its limbs are gone.
    """
    listed = tuple(photos)
    if not listed:
        return {}
    pages = [_page(photo) for photo in listed]
    with tempfile.TemporaryDirectory() as made:
        source = Path(made) / "sketches.typ"
        source.write_text(PAGE + "\n#pagebreak()\n".join(pages), "utf-8")
        compiler = typst.Compiler(source, root=Path(made), font_paths=[font_folder()])
        drawn = compiler.compile(format="png", ppi=PPI)
    each = drawn if isinstance(drawn, list) else [drawn]
    return {photo.file: bytes(png) for photo, png in zip(listed, each, strict=True) if png}


def _page(photo: Photo) -> str:
    lines = _crown(zlib.crc32(photo.tree.encode()), whole=photo.shows == "before")
    drawn = "\n".join(
        f"#place(line(start: ({a:.2f}mm, {b:.2f}mm), end: ({c:.2f}mm, {d:.2f}mm), "
        f'stroke: (thickness: {thick:.2f}mm, paint: rgb("#1d2b2a"), cap: "round")))'
        for a, b, c, d, thick in lines
    )
    words = f"text({json.dumps(f'{photo.tree}, {photo.shows}')}) + linebreak()"
    words += f" + text({json.dumps(f'{MARK}: a drawing, no photo')})"
    return f"{drawn}\n#place(bottom + left, dx: 3mm, dy: -2mm, {words})"


def _crown(seed: int, *, whole: bool) -> list[Line]:
    """Return the lines of a bare tree; not whole: near half of its thin limbs gone."""
    rng = np.random.default_rng(seed)
    foot, fork = (WIDE_MM / 2.0, HIGH_MM - 12.0), (WIDE_MM / 2.0, HIGH_MM - 27.0)
    found: list[Line] = [(*foot, *fork, 1.8)]
    for k in range(5):
        rise = np.radians(150.0 - 30.0 * k + float(rng.uniform(-8.0, 8.0)))
        length = float(rng.uniform(20.0, 27.0))
        tip = fork[0] + length * np.cos(rise), fork[1] - 0.8 * length * np.sin(rise)
        found.append((*fork, float(tip[0]), float(tip[1]), 0.8))
        for _ in range(9):
            share, turn = float(rng.uniform(0.35, 1.0)), float(rng.uniform(-1.1, 1.1))
            own = max(float(rng.uniform(5.0, 12.0)) * (1.3 - share), LEAST_MM)
            gone = float(rng.uniform()) < 0.45
            if gone and not whole:
                continue
            x = fork[0] + share * (tip[0] - fork[0])
            y = fork[1] + share * (tip[1] - fork[1])
            end = x + own * np.cos(rise + turn), y - own * np.sin(rise + turn)
            found.append((float(x), float(y), float(end[0]), float(end[1]), 0.35))
    return found

"""Set out and draw one map: its scale, boundaries, crowns, numbers and all that is said below.

How a station looks is in `map_marks`, where numbers go in `map_numbers`, what stands below the
map in `map_key`, and how coordinates become metres in `map_places`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from html import escape

import numpy as np
from shapely import MultiPoint, Polygon

from limbwright.model.holding import Holding
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Floats
from limbwright.report.labels import Box, Placed
from limbwright.report.map_key import (
    PLANNED,
    PLANNED_WORDS,
    key_svg,
    note_lines,
    notes_svg,
    scale_svg,
)
from limbwright.report.map_list import grid_height, grid_svg
from limbwright.report.map_marks import MARKS, Crown, crown_svg, mark_of, ring_svg
from limbwright.report.map_numbers import free_place, place_numbers
from limbwright.report.map_places import Places, half_spreads, places
from limbwright.report.strokes import GREY, GROUND, INK, PLUM, line, svg, words
from limbwright.report.text_width import shortened, text_width_mm
from limbwright.report.words import plain

__all__ = ["NO_KINDS", "MapDrawing"]

NO_KINDS: Mapping[str, str] = {}

LEAST_WIDTH_MM = 80.0
EDGE_MM, SCALE_STRIP_MM = 4.0, 12.0
LEAST_MAP_MM = 40.0
NUMBER_MM, NAME_MM = 2.5, 3.5  # 7 pt, 10 pt
LARGEST_SCALE = 200
"""1 in so many; larger, a lone tree would fill the page."""
LEAST_CROWN_MM = 1.1
LEAST_NUMBERED_MM = 0.8
"""Judgement: half a middling crown on paper below which a map is an overview without numbers."""
ROOM_M = 3.0
"""Judgement: how far outside its crowns an orchard nobody measured is outlined."""


class MapDrawing:
    """A map on its way to paper."""

    def __init__(
        self,
        holding: Holding,
        stations: Sequence[StationRecord],
        kinds: Mapping[str, str],
        planned: Collection[str],
        width_mm: float,
        most_height_mm: float,
        *,
        alone: bool = False,
        at: Places | None = None,
        window: Polygon | None = None,
        sheet: str = "",
        elsewhere: str = "",
    ) -> None:
        """Set the map out; ``at`` and ``window`` give one sheet of a larger map its own part.

        ``elsewhere`` names the maps on which the numbers stand, where this one bears none.
        """
        if width_mm < LEAST_WIDTH_MM:
            raise ValueError(f"a map needs at least {LEAST_WIDTH_MM:g} mm")
        self.holding, self.stations, self.alone = holding, stations, alone
        self.width, self.most_height = width_mm, most_height_mm
        self.window, self.sheet, self.elsewhere = window, sheet, elsewhere
        found = places(holding, stations) if at is None else at
        self.xy_m, self.rings = found.xy_m, found.rings
        self.placed = np.asarray(~np.isnan(self.xy_m).any(axis=1), dtype=np.bool_)
        self.marks = [mark_of(kinds.get(s.tree, ""), s.status) for s in stations]
        self.planned = [s.tree in planned for s in stations]
        self.half_m, self.untaped = half_spreads(stations, self.marks)
        names = [one.name for one in holding.orchards] + [s.orchard for s in stations]
        self.orchards = tuple(dict.fromkeys(names))
        self.counts = Counter(self.marks)
        self.outlines = self._outlines()
        self.has_map = bool(self.outlines)
        self._scale()

    def _outlines(self) -> dict[str, tuple[Polygon, bool]]:
        """Return by orchard its outline with every crown in it, and whether it was surveyed."""
        out: dict[str, tuple[Polygon, bool]] = {}
        for name in self.orchards:
            rows = [k for k, s in enumerate(self.stations) if s.orchard == name and self.placed[k]]
            ring = self.rings.get(name)
            if ring is not None:
                out[name] = Polygon(ring), True
            elif rows:
                reach = float(self.half_m[rows].max()) + ROOM_M
                out[name] = MultiPoint(self.xy_m[rows]).convex_hull.buffer(reach, 8), False
        return out

    def _extent(self) -> tuple[Floats, Floats]:
        """Return the lower left corner and size [m] of all boundaries and crowns."""
        rows = self.placed
        shapes = [shape for shape, _ in self.outlines.values()]
        if self.window is not None:
            shapes = [s for one in shapes if not (s := one.intersection(self.window)).is_empty]
        low, high = [s.bounds[:2] for s in shapes], [s.bounds[2:] for s in shapes]
        low += (self.xy_m[rows] - self.half_m[rows]).tolist()
        high += (self.xy_m[rows] + self.half_m[rows]).tolist()
        corner = np.min(low, axis=0)
        return corner, np.maximum(np.max(high, axis=0) - corner, 1.0)

    def _scale(self) -> None:
        """Choose the largest round scale at which the map and all below it fit."""
        self.inner = self.width - 2 * EDGE_MM
        counts = [(mark, self.counts[mark]) for mark in MARKS if self.counts[mark]]
        if any(self.planned):
            counts.append((PLANNED, sum(self.planned)))
        self.key, self.key_height = key_svg(counts, EDGE_MM, 0.0, self.inner)
        self.name_room = NAME_MM + 2.0 if self.has_map else 0.0
        self.mm_per_m, self.overview, self.middling_mm = 0.0, False, np.inf
        if not self.has_map:
            return
        self.low_m, self.size_m = self._extent()
        below = self.key_height + SCALE_STRIP_MM + self._notes_height()
        unplaced = int((~self.placed).sum())
        below += grid_height(unplaced, self.inner) if unplaced else 0.0
        high = max(self.most_height - below - self.name_room - 2 * EDGE_MM, LEAST_MAP_MM)
        paper = np.array([self.inner - 2.4, high - 2.4])  # room for the rings of what is planned
        for one_in in _round_scales():
            self.mm_per_m = 1000.0 / one_in
            if bool((self.size_m * self.mm_per_m <= paper).all()):
                break
        self.map_height = float(self.size_m[1]) * self.mm_per_m + self.name_room + 2.4
        middling = float(np.median(self.half_m[self.placed])) if self.placed.any() else 1.0
        self.middling_mm = middling * self.mm_per_m
        self.overview = not self.alone and self.middling_mm < LEAST_NUMBERED_MM

    def _notes_height(self) -> float:
        # the scale is not known yet: as if all had to be said
        lines = note_lines(self._notes(small=True, left_out=1, overview=True), self.inner)
        return notes_svg(lines, 0.0, 0.0)[1]

    def _notes(self, *, small: bool, left_out: int, overview: bool) -> list[str]:
        said = []
        if overview:
            said.append("An overview: numbers and needs stand on the maps of the orchards.")
        elif self.elsewhere and self.has_map:
            said.append(f"Numbers stand on the {self.elsewhere} that follow.")
        if any(not surveyed for _, surveyed in self.outlines.values()):
            said.append("Broken outline: drawn round the trees, the boundary was not surveyed.")
        if self.untaped and self.has_map:
            many = "1 crown was" if self.untaped == 1 else f"{self.untaped} crowns were"
            said.append(f"{many} not taped and drawn as wide as the middle of the others.")
        if small and not overview:
            said.append(f"Crowns are to scale, but at least {2 * LEAST_CROWN_MM:g} mm across.")
        if left_out and not overview:
            many = "1 number" if left_out == 1 else f"{left_out} numbers"
            said.append(f"{many} found no room: use a larger sheet.")
        return said

    def crowns(self) -> list[Crown]:
        """Return the stations on paper, those with a place."""
        out = []
        at = self.to_paper(self.xy_m[self.placed])
        for (x, y), k in zip(at.tolist(), np.flatnonzero(self.placed).tolist(), strict=True):
            half_x, half_y = np.maximum(self.half_m[k] * self.mm_per_m, LEAST_CROWN_MM).tolist()
            out.append(Crown(x, y, half_x, half_y, self.marks[k], self.planned[k]))
        return out

    def to_paper(self, xy_m: Floats) -> Floats:
        """Return where points in metres lie on paper [mm]."""
        spare = (self.inner - float(self.size_m[0]) * self.mm_per_m) / 2.0
        flat = (xy_m - self.low_m) * self.mm_per_m
        foot = EDGE_MM + self.map_height - 1.2
        return np.column_stack([EDGE_MM + spare + flat[:, 0], foot - flat[:, 1]])

    def svg(self) -> str:
        """Return the whole drawing."""
        parts, y, left_out, small = [], EDGE_MM, 0, False
        if self.has_map:
            drawn, left_out, small = self._draw()
            parts += drawn
            y += self.map_height + 2.0
            parts += scale_svg(EDGE_MM, y, self.inner, self.mm_per_m)
            y += SCALE_STRIP_MM - 2.0
        unplaced = [k for k in range(len(self.stations)) if not self.placed[k]]
        if unplaced:
            room = self.most_height - y - self.key_height - EDGE_MM - self._notes_height()
            chosen = [(self.stations[k], self.marks[k], self.planned[k]) for k in unplaced]
            listed, high = grid_svg(chosen, EDGE_MM, y, self.inner, room, beside=self.has_map)
            parts += listed
            y += high
        if not self.stations:
            said = "No stations yet." if self.has_map else "No stations and no boundaries yet."
            parts.append(words(EDGE_MM, y + 4.0, said, NAME_MM, INK))
            y += 7.0
        parts.append(f'<g transform="translate(0 {y:.2f})">{"".join(self.key)}</g>')
        y += self.key_height
        notes = self._notes(small=small, left_out=left_out, overview=self.overview)
        said_svg, high = notes_svg(note_lines(notes, self.inner), EDGE_MM, y)
        parts += said_svg
        height = y + high + EDGE_MM
        ground = f'<rect width="{self.width:.2f}" height="{height:.2f}" fill="{GROUND}"/>'
        title = f"<title>{escape(self._in_words())}</title>"
        return svg(self.width, height, [title, ground, *parts]) + "\n"

    def _draw(self) -> tuple[list[str], int, bool]:
        """Return boundaries, crowns and numbers; how many found no room; whether any is small."""
        crowns = self.crowns()
        frame: Box = (EDGE_MM, EDGE_MM, self.width - EDGE_MM, EDGE_MM + self.map_height)
        names = self._names(crowns, frame)
        parts = [self._outline(shape, known) for shape, known in self.outlines.values()]
        if self.overview:
            parts += [
                f'<circle cx="{c.x_mm:.2f}" cy="{c.y_mm:.2f}" r="0.4" '
                f'fill="{PLUM if c.planned else INK}"/>'
                for c in crowns
            ]
            return [*parts, *_names_svg(names)], 0, False
        for one in crowns:
            parts += crown_svg(one)
        for one in crowns:
            parts += ring_svg(one)
        least = self.half_m[self.placed] * self.mm_per_m < LEAST_CROWN_MM
        if self.elsewhere:
            return [*parts, *_names_svg(names)], 0, bool(least.any())
        texts = [
            shortened(plain(s.station), NUMBER_MM, 18.0)
            for s, known in zip(self.stations, self.placed, strict=True)
            if known
        ]
        sizes = [(text_width_mm(text, NUMBER_MM) + 0.5, NUMBER_MM + 0.3) for text in texts]
        numbers = place_numbers(crowns, texts, sizes, frame, [box_ for _, box_ in names])
        parts += [
            line(found.label.x_mm, found.label.y_mm, found.x_mm, found.y_mm, INK, 0.18)
            for found in numbers
            if found.leader
        ]
        for number in numbers:
            parts += _number_svg(number)
        return [*parts, *_names_svg(names)], len(texts) - len(numbers), bool(least.any())

    def _names(self, crowns: Sequence[Crown], frame: Box) -> list[tuple[str, Box]]:
        """Return names of orchards with how many stations they have, clear of one another."""
        out: list[tuple[str, Box]] = []
        trees = [
            (c.x_mm - c.reach_mm, c.y_mm - c.reach_mm, c.x_mm + c.reach_mm, c.y_mm + c.reach_mm)
            for c in crowns
        ]
        for name, (shape, _) in self.outlines.items():
            many = sum(1 for s in self.stations if s.orchard == name)
            said = f"{many} station" + ("" if many == 1 else "s")
            text = shortened(plain(name), NAME_MM, 60.0)
            text = ", ".join(one for one in (text, self.sheet, said) if one)
            shown = shape if self.window is None else shape.intersection(self.window)
            left, _, right, top = shape.bounds if shown.is_empty else shown.bounds
            near = self.to_paper(np.array([[(left + right) / 2.0, top]]))[0]
            size = (text_width_mm(text, NAME_MM) + 1.0, NAME_MM + 0.8)
            wish = (float(near[0]), float(near[1]) - size[1] / 2 - 0.8)
            named = [taken for _, taken in out]
            at = free_place(wish, size, frame, _boxes([*named, *trees]))
            at = at if at is not None else free_place(wish, size, frame, _boxes(named))
            if at is not None:
                x, y = at
                half_w, half_h = size[0] / 2, size[1] / 2
                out.append((text, (x - half_w, y - half_h, x + half_w, y + half_h)))
        return out

    def _outline(self, shape: Polygon, surveyed: bool) -> str:
        edge = shape.exterior
        if self.window is not None:
            edge = edge.intersection(self.window)
        lines = [one for one in getattr(edge, "geoms", [edge]) if one.length > 0.0]
        path = "".join(
            "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in self.to_paper(at[:, :2]).tolist())
            for one in lines
            if len(at := np.asarray(one.coords)) > 1
        )
        path += "z" if self.window is None else ""
        broken = "" if surveyed else ' stroke-dasharray="2.4 1.6"'
        colour, pen = (INK, 0.45) if surveyed else (GREY, 0.35)
        return (
            f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{pen}" '
            f'stroke-linejoin="round"{broken}/>'
        )

    def _in_words(self) -> str:
        whose = self.orchards[0] if self.alone and self.orchards else self.holding.name
        told = [f"{MARKS[mark]}: {self.counts[mark]}" for mark in MARKS if self.counts[mark]]
        if any(self.planned):
            told.append(f"{PLANNED_WORDS}: {sum(self.planned)}")
        return f"Map of {plain(whose) or 'the holding'}. " + "; ".join(told or ["no stations"])


def _boxes(found: Sequence[Box]) -> Floats:
    return np.asarray(found, dtype=np.float64).reshape(-1, 4)


def _round_scales() -> Sequence[int]:
    steps = (100, 125, 150, 200, 250, 300, 400, 500, 600, 750)
    return [
        step * 10**power
        for power in range(12)
        for step in steps
        if step * 10**power >= LARGEST_SCALE
    ]


def _names_svg(names: Sequence[tuple[str, Box]]) -> list[str]:
    return [
        words((left + right) / 2, bottom - 1.3, text, NAME_MM, INK, bold=True, anchor="middle")
        for text, (left, _, right, bottom) in names
    ]


def _number_svg(one: Placed) -> list[str]:
    left, top, _, _ = one.box
    return [
        f'<rect class="number" x="{left:.2f}" y="{top:.2f}" width="{one.label.width_mm:.2f}" '
        f'height="{one.label.height_mm:.2f}" rx="0.5" fill="{GROUND}"/>',
        words(
            one.x_mm, one.y_mm + 0.36 * NUMBER_MM, one.label.text, NUMBER_MM, INK,
            bold=True, anchor="middle",
        ),
    ]  # fmt: skip

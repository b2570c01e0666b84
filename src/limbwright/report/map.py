"""Draw a holding or an orchard as a map: crowns to scale, gaps, needs, numbers, what is planned.

How a map is set out is in `map_drawing`, how a station looks in `map_marks`, where numbers go in
`map_numbers`, what stands below in `map_key`, how coordinates become metres in `map_places`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from shapely import box

from limbwright.model.holding import Holding
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Floats, Ints
from limbwright.report.map_drawing import NO_KINDS, MapDrawing
from limbwright.report.map_places import Places

__all__ = ["MapPage", "holding_map", "map_pages", "orchard_map"]

CLEAR_MM = 3.0
"""Judgement: half a middling crown on paper from which a number of three figures fits inside."""
MOST_SHEETS = 8
FAR_M = 1.0e8


@dataclass(frozen=True, slots=True)
class MapPage:
    """One map of a holding: the whole, for which ``orchard`` is empty, or of one orchard.

    ``sheet`` says which part of the orchard it shows, empty for all of it.
    """

    orchard: str
    svg: str
    sheet: str = ""


def holding_map(
    holding: Holding,
    stations: Sequence[StationRecord],
    *,
    kinds: Mapping[str, str] = NO_KINDS,
    planned: Collection[str] = (),
    width_mm: float = 180.0,
    most_height_mm: float = 250.0,
) -> str:
    """Return the map of a holding as an SVG drawing, in millimetres, north up.

    Where crowns come out too small to number, it is an overview: bare places, and the orchards'
    names with their counts; `map_pages` then maps each orchard as well.

    Parameters
    ----------
    holding
        Its orchards with their boundaries, in the coordinates of its map.
    stations
        The stations of all orchards; those without a place are drawn as a list below.
    kinds
        Kind of need by tree (``orchard/station``), as `limbwright.needs` words it.
    planned
        Trees planned for the seasons that come next, ringed.
    width_mm
        Width of the drawing, at least 80.
    most_height_mm
        Height it may take; it takes no more than it needs.

    Raises
    ------
    InputError
        The holding's coordinate reference system has no such name.
    ValueError
        The width is too small for the key.
    """
    return MapDrawing(holding, stations, kinds, planned, width_mm, most_height_mm).svg()


def orchard_map(
    holding: Holding,
    orchard: str,
    stations: Sequence[StationRecord],
    *,
    kinds: Mapping[str, str] = NO_KINDS,
    planned: Collection[str] = (),
    width_mm: float = 180.0,
    most_height_mm: float = 250.0,
) -> str:
    """Return the map of one orchard; ``stations`` may be those of the whole holding.

    Other parameters and faults are those of `holding_map`.
    """
    chosen = [s for s in stations if s.orchard == orchard]
    alone = [one for one in holding.orchards if one.name == orchard]
    part = Holding(name=holding.name, crs=holding.crs, orchards=tuple(alone))
    return MapDrawing(part, chosen, kinds, planned, width_mm, most_height_mm, alone=True).svg()


def map_pages(
    holding: Holding,
    stations: Sequence[StationRecord],
    *,
    kinds: Mapping[str, str] = NO_KINDS,
    planned: Collection[str] = (),
    width_mm: float = 180.0,
    most_height_mm: float = 250.0,
) -> tuple[MapPage, ...]:
    """Return the map of a holding, and of each orchard where that of the whole is too small.

    An orchard too large for one page is shown in sheets besides its whole, from south to north and
    west to east. A map that others follow bears no numbers: on them there is room. Parameters and
    faults are those of `holding_map`.
    """
    size = (kinds, planned, width_mm, most_height_mm)
    whole = MapDrawing(holding, stations, *size)
    if whole.middling_mm >= CLEAR_MM:
        return (MapPage("", whole.svg()),)
    several, pages = len(whole.orchards) > 1, list[MapPage]()
    for name in whole.orchards:
        chosen = [s for s in stations if s.orchard == name]
        part = replace(holding, orchards=tuple(o for o in holding.orchards if o.name == name))
        one = MapDrawing(part, chosen, *size, alone=True)
        sheets = []
        if one.has_map and one.middling_mm < CLEAR_MM:
            sheets = _sheets(name, part, one, size)
        if several and sheets:
            one = MapDrawing(part, chosen, *size, alone=True, elsewhere="sheets")
        pages += [*([MapPage(name, one.svg())] if several else []), *sheets]
    if pages:
        follow = "maps of the orchards" if several else "sheets"
        whole = MapDrawing(holding, stations, *size, elsewhere=follow)
    return (MapPage("", whole.svg()), *pages)


def _sheets(name: str, holding: Holding, one: MapDrawing, size: tuple[Any, ...]) -> list[MapPage]:
    """Return an orchard in as few sheets as give each crown room for its number."""
    rows = np.flatnonzero(one.placed)
    best: list[MapDrawing] = []
    for count in range(2, min(MOST_SHEETS, rows.size) + 1):
        ways = [k for k in range(1, count + 1) if count % k == 0]
        tried = [_parts(holding, one, rows, (k, count // k), size) for k in ways]
        best = max([best, *tried], key=_clear_mm)
        if _clear_mm(best) >= CLEAR_MM:
            break
    return [MapPage(name, sheet.svg(), sheet.sheet) for sheet in best]


def _clear_mm(sheets: Sequence[MapDrawing]) -> float:
    return min((sheet.middling_mm for sheet in sheets), default=0.0)


def _parts(
    holding: Holding,
    one: MapDrawing,
    rows: Ints,
    across_up: tuple[int, int],
    size: tuple[Any, ...],
) -> list[MapDrawing]:
    """Return an orchard cut into so many sheets from west to east, by so many south to north."""
    out: list[MapDrawing] = []
    across, up = across_up
    for column, west, east in _cut(one.xy_m, rows, 0, across):
        for chosen, south, north in _cut(one.xy_m, column, 1, up):
            number = len(out) + 1
            out.append(
                MapDrawing(
                    holding,
                    [one.stations[k] for k in chosen.tolist()],
                    *size,
                    alone=True,
                    at=Places(one.xy_m[chosen], one.rings),
                    window=box(west, south, east, north),
                    sheet=f"sheet {number} of {across * up}",
                )
            )
    return out


def _cut(xy_m: Floats, rows: Ints, axis: int, count: int) -> list[tuple[Ints, float, float]]:
    """Return stations in equal parts along an axis, each with its two ends [m]."""
    order = rows[np.argsort(xy_m[rows, axis], kind="stable")]
    parts = [part for part in np.array_split(order, count) if part.size]
    cuts = [float(xy_m[a[-1], axis] + xy_m[b[0], axis]) / 2.0 for a, b in pairwise(parts)]
    ends = zip(parts, [-FAR_M, *cuts], [*cuts, FAR_M], strict=True)
    return [(np.sort(part), low, high) for part, low, high in ends]

"""Stations that have no place on a map, drawn in the order of their list."""

from __future__ import annotations

from collections.abc import Sequence

from limbwright.model.records import StationRecord
from limbwright.report.map_marks import Crown, crown_svg, ring_svg
from limbwright.report.strokes import INK, words
from limbwright.report.text_width import shortened, wrapped
from limbwright.report.words import plain

__all__ = ["grid_height", "grid_svg"]

CELL_MM = (11.5, 9.5)
HALF_MM = 2.1
TEXT_MM, HEAD_MM, HEAD_LINE_MM = 2.5, 3.0, 4.2
NOT_HERE = "Without coordinates, so not on the map; in the order of the list."
NOWHERE = (
    "No coordinates were taken: the stations stand in the order of the list, not where they grow."
)


def _columns(width: float) -> int:
    return max(1, int(width / CELL_MM[0]))


def grid_height(many: int, width: float) -> float:
    """Return the height [mm] that a list of so many stations of one orchard takes."""
    return 2 * HEAD_LINE_MM + 3.0 + CELL_MM[1] * -(-many // _columns(width))


def grid_svg(
    stations: Sequence[tuple[StationRecord, str, bool]],
    left: float,
    top: float,
    width: float,
    most_height: float,
    *,
    beside: bool,
) -> tuple[list[str], float]:
    """Return stations as rows of marks, orchard by orchard, and the height they take [mm].

    ``stations`` holds record, mark and whether it is planned; ``beside`` says that a map of others
    stands above. What has no room is counted in words.
    """
    out: list[str] = []
    y = top
    for said in wrapped(NOT_HERE if beside else NOWHERE, HEAD_MM, width):
        y += HEAD_LINE_MM
        out.append(words(left, y, said, HEAD_MM, INK, bold=True))
    end = top + most_height - HEAD_LINE_MM
    columns, shown = _columns(width), 0
    orchards = dict.fromkeys(one.orchard for one, _, _ in stations)
    for name in orchards:
        chosen = [one for one in stations if one[0].orchard == name]
        if y + HEAD_LINE_MM + CELL_MM[1] > end and shown:
            break
        if name and (len(orchards) > 1 or beside):
            y += HEAD_LINE_MM
            out.append(words(left, y, shortened(plain(name), HEAD_MM, width), HEAD_MM, INK))
        y += 1.6
        for at in range(0, len(chosen), columns):
            if y + CELL_MM[1] > end and shown:
                break
            for k, one in enumerate(chosen[at : at + columns]):
                out += _cell(*one, left + (k + 0.5) * CELL_MM[0], y)
            y += CELL_MM[1]
            shown += len(chosen[at : at + columns])
    if shown < len(stations):
        y += HEAD_LINE_MM
        rest = f"And {len(stations) - shown} more: see the list of stations."
        out.append(words(left, y - 0.8, rest, HEAD_MM, INK))
    return out, y - top + 1.0


def _cell(station: StationRecord, mark: str, planned: bool, x: float, top: float) -> list[str]:
    half = HALF_MM if not planned else HALF_MM - 0.5
    crown = Crown(x, top + 3.4, half, half, mark, planned)
    text = shortened(plain(station.station), TEXT_MM, CELL_MM[0] - 0.6)
    number = words(x, top + 8.6, text, TEXT_MM, INK, bold=True, anchor="middle")
    return [*crown_svg(crown), *ring_svg(crown), number]

"""What a map file holds, as tables with a shape beside each row."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from shapely.geometry.base import BaseGeometry

from limbwright.model import Fault
from limbwright.survey.spreadsheet import guarded, with_plain_blanks
from limbwright.survey.tables import Book

__all__ = ["Layer", "LayerKind", "cell_text", "layer", "sort_shapes"]

LayerKind = Literal["points", "polygons", "rows"]


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a map file.

    ``book`` holds its attributes as a table; the shape of the row with number ``n`` is
    ``shapes[n]``. ``crs`` names the system of the shapes, empty where the file does not say.
    """

    name: str
    kind: LayerKind
    book: Book
    shapes: Mapping[int, BaseGeometry]
    crs: str
    faults: tuple[Fault, ...] = ()


def cell_text(value: object) -> str:
    """Return a value of a map file as the text of a cell."""
    if value is None:
        return ""
    if isinstance(value, str):
        return with_plain_blanks(value).strip()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, list | dict):
        try:
            return json.dumps(value, ensure_ascii=False)
        except RecursionError:
            return "(too deeply nested)"
    return str(value)


def layer(
    file: str,
    name: str,
    kind: LayerKind,
    header: Sequence[str],
    rows: Iterable[tuple[int, Sequence[object]]],
    shapes: Mapping[int, BaseGeometry],
    crs: str,
    faults: Iterable[Fault] = (),
) -> Layer:
    """Return a layer of rows of values; text is kept as it is, whatever it begins with."""
    filled: list[tuple[int, Sequence[str]]] = [(0, [guarded(c) for c in header])]
    filled += [(n, [guarded(cell_text(v)) for v in values]) for n, values in rows]
    book = Book(file, b"", None, {"": (filled, [])})
    return Layer(name, kind, book, shapes, crs, tuple(faults))


def sort_shapes(
    file: str, shapes: Iterable[tuple[int, BaseGeometry | None]]
) -> tuple[dict[int, BaseGeometry], dict[int, BaseGeometry], set[int], list[Fault]]:
    """Return the points and the polygons by row number, the rows of neither, and the faults.

    A shape of one part in a set of parts is that part. Of a boundary of several parts the
    largest is taken, with a warning; lines and empty sets are refused.
    """
    points: dict[int, BaseGeometry] = {}
    polygons: dict[int, BaseGeometry] = {}
    odd: set[int] = set()
    faults: list[Fault] = []
    for number, shape in shapes:
        if shape is None or shape.is_empty:
            continue
        parts = list(getattr(shape, "geoms", [shape]))
        kinds = {part.geom_type for part in parts}
        if kinds == {"Point"} and len(parts) == 1:
            points[number] = parts[0]
        elif kinds == {"Polygon"}:
            polygons[number] = max(parts, key=lambda p: p.area)
            if len(parts) > 1:
                said = f"a boundary of {len(parts)} parts; the largest is taken"
                remedy = "Give each part a name of its own."
                faults.append(Fault(file, number, "", shape.geom_type, said, remedy, "warning"))
        else:
            odd.add(number)
            fault = "neither one point nor a polygon; the row is left out"
            remedy = "Stations are points, orchards polygons."
            faults.append(Fault(file, number, "", shape.geom_type, fault, remedy))
    return points, polygons, odd, faults

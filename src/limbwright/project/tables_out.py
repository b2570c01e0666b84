"""What a project holds as the tables it was read from, ready to be written in any format."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from limbwright.errors import InputError
from limbwright.model.numbered import in_order
from limbwright.model.skeleton import Floats
from limbwright.project.crs import Moved, move, named_crs
from limbwright.project.store import Project
from limbwright.project.tables import table_spec
from limbwright.survey.limbs import FURTHER_COLUMNS, LIMB_COLUMNS
from limbwright.survey.local_rules import RULE_COLUMNS
from limbwright.survey.project_columns import DATED
from limbwright.survey.record_columns import RECORD_COLUMNS
from limbwright.survey.segments import SEGMENT_COLUMNS
from limbwright.survey.shoots import SHOOT_COLUMNS
from limbwright.survey.stations import STATION_COLUMNS

__all__ = ["OUT", "OutTable", "out_tables"]

OUT = (
    *("orchards", "walks", "stations", "limbs", "shoots", "segments"),
    *("visits", "cuts", "responses", "photos", "rules"),
)
"""The tables that can be written, places before what stands on them."""

_PLACES = ("x", "y", "lon", "lat")
_VALUES = tuple(c for c in STATION_COLUMNS if c not in (*_PLACES, "spread_m"))
_FURTHER = frozenset(FURTHER_COLUMNS)
Row = dict[str, object]


@dataclass(frozen=True, slots=True)
class OutTable:
    """One table: its columns, its rows, and the shape of each row where it is a layer.

    ``crs`` names the system of the shapes, empty on a local grid.
    """

    name: str
    columns: tuple[str, ...]
    rows: list[Row]
    shapes: list[BaseGeometry | None] | None = None
    crs: str = ""
    extras: Sequence[Mapping[str, object]] = field(default_factory=tuple)

    @property
    def header(self) -> list[str]:
        """The columns, then those unknown here that some row has."""
        more = dict.fromkeys(c for extra in self.extras for c in extra if c not in self.columns)
        return [*self.columns, *more]

    def body(self) -> list[list[object]]:
        """Return the rows in the order of the header."""
        header = self.header
        return [
            [row[c] if c in row else extra.get(c) for c in header]
            for row, extra in zip(self.rows, self.extras, strict=True)
        ]

    def with_shapes_as_cells(self) -> OutTable:
        """Return the table with its shapes in columns: x and y, lon and lat, or WKT."""
        if self.shapes is None:
            return self
        if self.name == "orchards":
            cells = [
                {"boundary": "" if s is None else shapely.to_wkt(s, rounding_precision=-1)}
                for s in self.shapes
            ]
            columns = (*self.columns, "boundary")
        else:
            globe = bool(self.crs) and named_crs(self.crs).is_geographic
            across, up = ("lon", "lat") if globe else ("x", "y")
            cells = [{} if s is None else {across: s.x, up: s.y} for s in self.shapes]
            at = self.columns.index("status")
            columns = (*self.columns[:at], across, up, *self.columns[at:])
        blank = dict.fromkeys(columns)
        rows = [blank | row | more for row, more in zip(self.rows, cells, strict=True)]
        return OutTable(self.name, columns, rows, None, "", self.extras)


def out_tables(
    project: Project, what: Iterable[str], *, orchard: str | None = None, crs: str = ""
) -> list[OutTable]:
    """Return tables of a project in the columns in which they are read.

    Parameters
    ----------
    project
        The project.
    what
        Names among `OUT`.
    orchard
        One orchard alone; None: all.
    crs
        CRS of the shapes; empty: the project's.
    """
    with project.reading():
        made = _Made(project, orchard, crs or project.crs)
        return [made.table(name) for name in OUT if name in set(what)]


class _Made:
    """Makes the tables of one project."""

    def __init__(self, project: Project, orchard: str | None, crs: str) -> None:
        self.project = project
        self.orchard = orchard
        self.crs = crs
        self.surveys = {row["survey"]: row for row in project.rows("surveys")}
        held = [row for row in project.rows("stations") if row["station"]]
        held.sort(key=lambda r: (in_order(str(r["orchard"])), in_order(str(r["station"]))))
        self.stations = [r for r in held if orchard is None or r["orchard"] == orchard]
        self.places = {_tree(r): (str(r["orchard"]), str(r["station"])) for r in held}

    def table(self, name: str) -> OutTable:
        """Return one table by name."""
        makers: Mapping[str, Callable[[], OutTable]] = {
            "orchards": self._orchards,
            "walks": self._walks,
            "stations": self._stations,
            "rules": self._rules,
        }
        if name in makers:
            return makers[name]()
        if name in RECORD_COLUMNS:
            return self._records(name)
        return self._sets(name)

    def _of(self, rows: Iterable[Row]) -> list[Row]:
        """Return the rows of the orchard that is wanted."""
        if self.orchard is None:
            return list(rows)
        return [r for r in rows if self._place(str(r["tree"]))[0] == self.orchard]

    def _place(self, tree: str) -> tuple[str, str]:
        orchard, _, station = tree.rpartition("/")
        return self.places.get(tree, (orchard, station))

    def _day(self, row: Row) -> Row:
        survey = self.surveys.get(row["survey"], {})
        return {"taken_on": survey.get("taken_on") or "", "who": survey.get("who") or ""}

    def _stations(self) -> OutTable:
        last: dict[str, Row] = {}
        for row in self.project.rows("walks"):
            day = self._day(row)
            held = last.get(_tree(row))
            if held is None or str(held["taken_on"]) <= str(day["taken_on"]):
                last[_tree(row)] = day
        blank: Row = {"taken_on": "", "who": ""}
        rows = [{c: r.get(c) for c in _VALUES} | last.get(_tree(r), blank) for r in self.stations]
        shapes = self._moved([(r["x"], r["y"]) for r in self.stations])
        extras = [_extra(r, "stations") for r in self.stations]
        return OutTable("stations", (*_VALUES, *DATED), rows, shapes, self.crs, extras)

    def _moved(self, places: Sequence[tuple[object, object]]) -> list[BaseGeometry | None]:
        known = [
            (k, float(x), float(y))
            for k, (x, y) in enumerate(places)
            if isinstance(x, float) and isinstance(y, float)
        ]
        shapes: list[BaseGeometry | None] = [None] * len(places)
        x, y = np.array([p[1] for p in known]), np.array([p[2] for p in known])
        if self.crs and known:
            moved = self._there(x, y)
            x, y = moved.x, moved.y
        made = shapely.points(x, y) if known else []
        for (k, _, _), point in zip(known, made, strict=True):
            shapes[k] = point
        return shapes

    def _there(self, x: Floats, y: Floats) -> Moved:
        """Return positions in the CRS wanted; all of them have to have a place there."""
        moved = move(x, y, self.project.crs, self.crs)
        lost = int(np.count_nonzero(~np.isfinite(moved.x)))
        if lost:
            raise InputError(
                f"{lost} of {moved.x.size} positions have no place in {self.crs}.",
                "Choose a CRS for this region.",
            )
        return moved

    def _orchards(self) -> OutTable:
        rows, shapes, extras = [], [], []
        names = ("orchard", "grazed_by", "access", "people_below", "note")
        for held in self.project.rows("orchards"):
            if not held["orchard"] or self.orchard not in (None, held["orchard"]):
                continue
            row = {c: held[c] for c in names}
            told = held["people_below"]
            row["people_below"] = "" if told is None else "yes" if told else "no"
            rows.append(row)
            extras.append(_extra(held, "orchards"))
            shapes.append(self._polygon(held["rings"]))
        return OutTable("orchards", names, rows, shapes, self.crs, extras)

    def _polygon(self, rings: object) -> BaseGeometry | None:
        if not isinstance(rings, tuple | list) or not rings:
            return None
        moved = []
        for ring in rings:
            points = np.array(ring, dtype=np.float64)
            if self.crs:
                there = self._there(points[:, 0], points[:, 1])
                points = np.column_stack([there.x, there.y])
            moved.append(points)
        polygon: BaseGeometry = shapely.Polygon(moved[0], moved[1:])
        return polygon

    def _walks(self) -> OutTable:
        held = self.project.rows("walks")
        found = [r for r in held if self.orchard in (None, r["orchard"])]
        rows = [{c: r.get(c) for c in _VALUES} | self._day(r) for r in found]
        rows_extra = [_extra(r, "walks") for r in found]
        return OutTable("walks", (*_VALUES, *DATED), rows, extras=rows_extra)

    def _rules(self) -> OutTable:
        """Return the local rules, which hold for all orchards."""
        held = self.project.rows("rules")
        rows = [{c: row[c] for c in RULE_COLUMNS} for row in held]
        return OutTable("rules", RULE_COLUMNS, rows, extras=[_extra(r, "rules") for r in held])

    def _sets(self, name: str) -> OutTable:
        """Return limbs, shoots or segments, of all surveys, each row with its day."""
        columns: tuple[str, ...] = {
            "limbs": LIMB_COLUMNS,
            "shoots": SHOOT_COLUMNS,
            "segments": SEGMENT_COLUMNS,
        }[name]
        found = self._of(self.project.rows(name))
        found.sort(key=lambda r: (r["survey"], in_order(str(r["tree"])), r.get("number") or 0))
        rows = []
        for held in found:
            row = {c: held.get(c) for c in columns} | self._day(held)
            if name != "segments":
                row["orchard"], row["station"] = self._place(str(held["tree"]))
            rows.append(row)
        return OutTable(name, (*columns, *DATED), rows, extras=[_extra(r, name) for r in found])

    def _records(self, name: str) -> OutTable:
        left_out = {"orchard", "station"}
        columns = tuple(c for c in RECORD_COLUMNS[name] if c not in left_out)
        table = "cuts_done" if name == "cuts" else name
        seasons = {}
        if name == "cuts":
            visits = self.project.rows("visits")
            seasons = {(v["tree"], v["done_on"]): v["season"] for v in visits}
        rows = []
        for held in self._of(self.project.rows(table)):
            row = {c: held.get(c) for c in columns}
            if name == "cuts":
                row["order"] = held["on_card"]
                row["season"] = seasons.get((held["tree"], held["done_on"]), "")
            lost = row.get("limbs_lost")
            if name == "responses":
                row["limbs_lost"] = ", ".join(map(str, lost)) if isinstance(lost, list) else ""
            rows.append(row)
        return OutTable(name, columns, rows, extras=[{} for _ in rows])


def _tree(row: Row) -> str:
    return f"{row['orchard']}/{row['station']}" if row["orchard"] else str(row["station"])


def _extra(row: Row, table: str) -> dict[str, object]:
    """Return the unknown columns of a row, those that another program added among them."""
    kept = row.get("extra")
    extra = dict(kept) if isinstance(kept, dict) else {}
    known = set(table_spec(table).values) - _FURTHER
    further = {k: v for k, v in row.items() if k not in known and v not in (None, "")}
    return extra | {k: v for k, v in further.items() if not isinstance(v, bytes)}

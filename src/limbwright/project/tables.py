"""What a project file holds, table by table, as data: its layout, reading and writing follow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["TABLES", "Column", "ColumnType", "Geometry", "TableSpec", "table_spec"]

ColumnType = Literal["TEXT", "INTEGER", "REAL", "BOOLEAN", "DATE", "DATETIME", "BLOB", "JSON"]
"""The column types of OGC 12-128r18, table 1; ``JSON`` is plain values kept as TEXT."""

Geometry = Literal["", "POINT", "POLYGON"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, with the unit in it, its type, and what it tells."""

    name: str
    type: ColumnType
    about: str = ""


@dataclass(frozen=True, slots=True)
class TableSpec:
    """One table: ``key`` names the columns that tell its rows apart.

    A table with ``geometry`` is a layer for a GIS. In rows, a point is ``x`` and ``y``, a polygon
    ``rings``, the outer ring first. ``silent`` columns say where a row came from: a row that
    differs in these alone counts as the same.
    """

    name: str
    about: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    geometry: Geometry = ""
    silent: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the columns, the shape left out."""
        return tuple(c.name for c in self.columns)

    @property
    def values(self) -> tuple[str, ...]:
        """The names a row has: the columns, then those of its shape."""
        return (*self.names, *SHAPE_VALUES[self.geometry])

    def column(self, name: str) -> Column:
        """Return a column by name."""
        return next(c for c in self.columns if c.name == name)


SHAPE_VALUES: dict[Geometry, tuple[str, ...]] = {"": (), "POINT": ("x", "y"), "POLYGON": ("rings",)}


def _columns(type_: ColumnType, *told: str) -> tuple[Column, ...]:
    """Return columns of one type; each is told as ``name: about`` or by its name alone."""
    parted = [t.partition(": ") for t in told]
    return tuple(Column(name, type_, about) for name, _, about in parted)


_FROM = (*_columns("TEXT", "file: the file the row came from"), *_columns("INTEGER", "row"))
_EXTRA = _columns("JSON", "extra: columns of other tables that are not known here")
_TREE = _columns("TEXT", "tree: `orchard/station`, or the station alone")
_SURVEY = _columns("INTEGER", "survey: the number of the survey")
_PLACE = _columns("TEXT", "orchard", "station")
_NOTE = _columns("TEXT", "note")

_STATION_VALUES = (
    *_columns("TEXT", "species", "cultivar", "status: living, dead, stump, gap, new"),
    *_columns("INTEGER", "planted: year"),
    *_columns("TEXT", "form", "stock"),
    *_columns("REAL", "girth_cm", "girth_at_m", "height_m", "spread_ns_m", "spread_ew_m"),
    *_columns("REAL", "clear_stem_m", "lean_deg", "lean_bearing_deg"),
    *_columns("TEXT", "condition: good, fair, poor, dead"),
    *_columns("REAL", "extension_cm", "dead_pct"),
    *_columns("TEXT", "features", "faults", "note"),
    *_EXTRA,
    *_FROM,
)

TABLES: tuple[TableSpec, ...] = (
    TableSpec(
        "holding",
        "the holding and its place; one row",
        ("number",),
        (
            *_columns("INTEGER", "number: always 1"),
            *_columns("TEXT", "name", "owner", "site_name"),
            *_columns("TEXT", "crs: of all x and y; empty is a local grid in metres"),
            *_columns("REAL", "wind_speed_m_s"),
            *_columns("TEXT", "terrain: 0, I, II, III, IV"),
            *_columns("REAL", "wet_snow_kg_m2", "ice_mm"),
            *_columns("BOOLEAN", "southern"),
            *_columns("REAL", "latitude_deg", "clearness", "spacing_m", "years_stood"),
            *_columns("JSON", "aims: the owner's, most important first"),
            *_columns("TEXT", "marked: words that mark every page", "note"),
        ),
    ),
    TableSpec(
        "orchards",
        "the orchards; the polygon is the boundary, empty where nobody drew it",
        ("orchard",),
        (
            *_columns("TEXT", "orchard", "grazed_by", "access"),
            *_columns("BOOLEAN", "people_below"),
            *_NOTE,
            *_EXTRA,
        ),
        "POLYGON",
    ),
    TableSpec(
        "stations",
        "the planting places in their latest state; a gap is a station too",
        ("orchard", "station"),
        (*_PLACE, *_STATION_VALUES),
        "POINT",
        ("file", "row"),
    ),
    TableSpec(
        "surveys",
        "one row a table that was read: what it held, of which day, from which file",
        ("survey",),
        (
            *_SURVEY,
            *_columns("TEXT", "kind: walk, limbs, shoots, segments"),
            *_columns("DATE", "taken_on"),
            *_columns("TEXT", "who", "file", "content_sha256: of the values read", "note"),
        ),
        "",
        ("file",),
    ),
    TableSpec(
        "walks",
        "stations as each walk found them",
        ("survey", "orchard", "station"),
        (*_SURVEY, *_PLACE, *_STATION_VALUES),
        "",
        ("file", "row"),
    ),
    TableSpec(
        "limbs",
        "limbs as each survey found them, the stem first",
        ("survey", "tree", "limb"),
        (
            *_SURVEY,
            *_TREE,
            *_columns("TEXT", "limb"),
            *_columns("INTEGER", "number: place in the tree's order, parents first"),
            *_columns("TEXT", "parent: empty for the stem"),
            *_columns("REAL", "diameter_mm", "length_m", "at_m", "end_diameter_mm"),
            *_columns("REAL", "bearing_deg", "rise_deg", "end_rise_deg", "crown: 0 bare to 3 full"),
            *_columns("TEXT", "state: live, dead, diseased, broken"),
            *_columns("TEXT", "union: sound, included, cracked"),
            *_columns("REAL", "cavity_wall_mm", "cavity_far_wall_mm", "cavity_open_deg"),
            *_columns("TEXT", "keep", "rubs", "species", "note"),
            *_EXTRA,
            *_FROM,
        ),
        "",
        ("file", "row"),
    ),
    TableSpec(
        "shoots",
        "shoots of young trees as each survey found them",
        ("survey", "tree", "shoot"),
        (
            *_SURVEY,
            *_TREE,
            *_columns("TEXT", "shoot"),
            *_columns("INTEGER", "number: place in the tree's order, the leader first"),
            *_columns("TEXT", "parent: empty for the leader"),
            *_columns("REAL", "at_m", "length_m", "grown_cm", "diameter_mm"),
            *_columns("REAL", "bearing_deg", "rise_deg"),
            *_columns("TEXT", "state: live, dead, diseased, broken", "keep", "note"),
            *_EXTRA,
            *_FROM,
        ),
        "",
        ("file", "row"),
    ),
    TableSpec(
        "segments",
        "whole skeletons as each survey found them, one row a segment",
        ("survey", "tree", "segment"),
        (
            *_SURVEY,
            *_TREE,
            *_columns("INTEGER", "segment", "parent: -1 is the ground"),
            *_columns("REAL", "x0_m", "y0_m", "z0_m", "x1_m", "y1_m", "z1_m", "d0_mm", "d1_mm"),
            *_columns("TEXT", "state", "species"),
            *_columns("REAL", "leaf_area_m2", "fruit_kg", "fine_wood_kg"),
            *_columns("TEXT", "limb", "union"),
            *_columns("REAL", "cavity_wall_mm", "cavity_far_wall_mm", "cavity_open_deg"),
            *_columns("TEXT", "keep", "surveyed: yes or no", "derived"),
            *_columns("REAL", "crown"),
            *_columns("TEXT", "rubs", "note"),
            *_EXTRA,
        ),
    ),
    TableSpec(
        "scans",
        "clouds of points taken of trees; the points stay in their own files",
        ("tree", "file_sha256"),
        (
            *_TREE,
            *_columns("TEXT", "file_sha256", "file"),
            *_columns("DATE", "taken_on"),
            *_columns("INTEGER", "points", "size_bytes"),
            *_columns("TEXT", "crs", "note"),
        ),
        "",
        ("file",),
    ),
    TableSpec(
        "plans",
        "plans of trees, each with its whole document",
        ("tree", "kind", "season", "edition"),
        (
            *_TREE,
            *_columns("TEXT", "kind: season, years, form", "season: its first season"),
            *_columns("INTEGER", "edition: 1, 2, ...; agreed and done ones are never overwritten"),
            *_columns("TEXT", "status: proposed, agreed, done"),
            *_columns("DATE", "made_on"),
            *_columns("TEXT", "version: of Limbwright"),
            *_columns(
                "TEXT",
                "settings_sha256: of all that the plan came from, so that the same is not planned "
                "anew: survey, place, rules, settings, what was learnt, seasons",
            ),
            *_columns("JSON", "document: the plan"),
            *_NOTE,
        ),
        "",
        ("made_on",),
    ),
    TableSpec(
        "visits",
        "trees worked on, one row a tree and day",
        ("tree", "done_on"),
        (
            *_TREE,
            *_columns("DATE", "done_on"),
            *_columns("TEXT", "season", "who"),
            *_columns("REAL", "hours: person-hours in the tree", "brash_hours"),
            *_columns("TEXT", "found", "note"),
        ),
    ),
    TableSpec(
        "cuts_done",
        "the cuts of a visit, made or not",
        ("tree", "done_on", "number"),
        (
            *_TREE,
            *_columns("DATE", "done_on"),
            *_columns("INTEGER", "number: place in the record", "on_card: 0 if not on the card"),
            *_columns("TEXT", "limb", "cut: remove, shorten, head, thin", "done: yes, no, other"),
            *_columns("REAL", "at_m", "diameter_mm"),
            *_NOTE,
        ),
    ),
    TableSpec(
        "responses",
        "how trees answered, one row a tree and day",
        ("tree", "seen_on"),
        (
            *_TREE,
            *_columns("DATE", "seen_on"),
            *_columns("TEXT", "who"),
            *_columns("INTEGER", "shoots: new watershoots"),
            *_columns("REAL", "shoot_length_cm", "extension_cm", "girth_cm"),
            *_columns("REAL", "wound_mm", "wound_closed_mm"),
            *_columns("TEXT", "condition: good, fair, poor, dead"),
            *_columns("JSON", "limbs_lost"),
            *_NOTE,
        ),
    ),
    TableSpec(
        "photos",
        "photos of trees",
        ("tree", "file"),
        (
            *_TREE,
            *_columns("TEXT", "file"),
            *_columns("DATE", "taken_on"),
            *_columns("TEXT", "shows: before, after, defect, whole"),
            *_columns("REAL", "bearing_deg"),
            *_columns("TEXT", "note", "file_sha256"),
            *_columns("INTEGER", "size_bytes"),
        ),
    ),
    TableSpec(
        "pictures",
        "the pictures themselves, where they were taken in",
        ("file_sha256",),
        (*_columns("TEXT", "file_sha256", "media_type"), *_columns("BLOB", "picture")),
    ),
    TableSpec(
        "settings",
        "settings of the holding that differ from the tables, with their source",
        ("name",),
        (
            *_columns("TEXT", "name"),
            *_columns("JSON", "value"),
            *_columns("TEXT", "source"),
            *_columns("DATE", "since"),
            *_NOTE,
        ),
    ),
    TableSpec(
        "rules",
        "local rules for windows, each with its scheme, place and date",
        ("job", "species", "scheme", "place", "first_day", "last_day"),
        (
            *_columns("TEXT", "job", "species: or pome, stone, all", "scheme", "place"),
            *_columns("TEXT", "first_day: month and day, as 11-01", "last_day"),
            *_columns("TEXT", "strength: forbid, only, allow, look first"),
            *_columns("TEXT", "dated: day or year it was read or made", "source", "note"),
        ),
    ),
    TableSpec(
        "findings",
        "reasoned observations on trees",
        ("tree", "kind", "finding"),
        (
            *_TREE,
            *_columns("TEXT", "kind", "finding", "because"),
            *_columns("REAL", "confidence: 0 to 1"),
            *_columns("DATE", "found_on"),
            *_columns("TEXT", "source", "note"),
        ),
    ),
)


def table_spec(name: str) -> TableSpec:
    """Return the table of that name.

    Raises
    ------
    KeyError
        There is no such table.
    """
    for spec in TABLES:
        if spec.name == name:
            return spec
    known = ", ".join(s.name for s in TABLES)
    raise KeyError(f"no table {name!r}; known are {known}")

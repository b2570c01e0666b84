"""Column mapping: read a table from elsewhere as if it had our columns and units."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from limbwright.errors import InputError
from limbwright.survey.limbs import FURTHER_COLUMNS, LIMB_COLUMNS
from limbwright.survey.local_rules import RULE_COLUMNS
from limbwright.survey.project_columns import DATED, ORCHARD_COLUMNS
from limbwright.survey.record_columns import RECORD_COLUMNS
from limbwright.survey.segments import SEGMENT_COLUMNS
from limbwright.survey.shoots import SHOOT_COLUMNS
from limbwright.survey.stations import STATION_COLUMNS
from limbwright.survey.tables import Row, Table, plain_name
from limbwright.survey.units import LENGTH_MM, as_number
from limbwright.survey.weather_columns import WEATHER_COLUMNS

__all__ = ["ColumnMap", "TableMap", "apply_columns", "read_columns"]

_KINDS: Mapping[str, Mapping[str, float]] = {
    "length": LENGTH_MM,
    "area": {"mm2": 1e-6, "cm2": 1e-4, "m2": 1.0, "ft2": 0.09290304},
    "mass": {"g": 1e-3, "kg": 1.0, "lb": 0.45359237},
    "share": {"fraction": 100.0, "pct": 1.0},
    "angle": {"deg": 1.0, "percent grade": 1.0, "gon": 0.9, "radian": 180.0 / math.pi},
    "temperature": {"c": 1.0, "f": 1.0 / 1.8},  # degrees Fahrenheit begin at 32
}
"""Size of each unit in one of its kind; source: international yard and pound agreement, 1959."""
# fmt: off
Unit = Literal[
    "mm", "cm", "m", "in", "ft", "mm2", "cm2", "m2", "ft2", "g", "kg", "lb", "fraction", "pct",
    "deg", "percent grade", "gon", "radian", "c", "f",
]
# fmt: on
Sense = Literal["as is", "angle from vertical", "angle below horizontal", "girth", "diameter"]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Column(_Strict):
    """Where one of our columns comes from.

    ``column`` is one source name or several, the first filled one is taken; ``constant`` fills
    what stays blank. ``unit`` is that of the source; ``sense`` says what an angle is measured
    from, or that a girth is a diameter or the other way round; ``offset`` is added last (in our
    unit; a bearing then wraps round); ``words`` translates whole cells first.
    """

    column: str | list[str] = Field(default_factory=list)
    constant: str | int | float | None = None
    unit: Unit | None = None
    sense: Sense = "as is"
    offset: float = 0.0
    words: dict[str, str | int | float] = Field(default_factory=dict)

    def names(self) -> list[str]:
        """Return the source columns as in a table's header."""
        given = [self.column] if isinstance(self.column, str) else self.column
        return [plain_name(name) for name in given]


class JoinedName(_Strict):
    """How the name of a station or a tree is put together from several columns."""

    join: list[str] = Field(min_length=1)
    separator: str = "-"


class StemRow(_Strict):
    """Which row of a tree is its stem: the one where ``column`` holds ``value``."""

    column: str
    value: str | int


class _Columns(_Strict):
    columns: dict[str, str | Column] = Field(default_factory=dict)


class _Stations(_Columns):
    station: JoinedName | None = None


class _Trees(_Columns):
    tree: JoinedName | None = None


class _File(_Stations):
    """A whole column-mapping file: limbs at the top, the other tables each in a section."""

    stem: StemRow | None = None
    stations: _Stations = _Stations()
    shoots: _Stations = _Stations()
    segments: _Trees = _Trees()
    orchards: _Columns = _Columns()
    rules: _Columns = _Columns()
    weather: _Columns = _Columns()
    visits: _Trees = _Trees()
    cuts: _Trees = _Trees()
    responses: _Trees = _Trees()
    photos: _Trees = _Trees()


_KNOWN: Mapping[str, tuple[str, ...]] = {
    "limbs": (*LIMB_COLUMNS, *FURTHER_COLUMNS, *DATED),
    "stations": (*STATION_COLUMNS, *DATED),
    "shoots": (*SHOOT_COLUMNS, *DATED),
    "segments": (*SEGMENT_COLUMNS, *DATED),
    "orchards": ORCHARD_COLUMNS,
    "rules": RULE_COLUMNS,
    "weather": WEATHER_COLUMNS,
    **RECORD_COLUMNS,
}
"""The columns of each table; all but the limbs have a section of their own."""


class TableMap(_Strict):
    """How one table is read: its columns, the name joined of several, the row of the stem."""

    columns: dict[str, Column] = Field(default_factory=dict)
    known: tuple[str, ...] = ()
    named: str = "station"
    name: JoinedName | None = None
    stem: StemRow | None = None

    def sources(self) -> list[str]:
        """Return every column of the file that the mapping names, each once."""
        asked = [name for source in self.columns.values() for name in source.names()]
        join = [plain_name(c) for c in self.name.join] if self.name else []
        stem = [plain_name(self.stem.column)] if self.stem else []
        return list(dict.fromkeys([*asked, *join, *stem]))


class ColumnMap(_Strict):
    """How each of the tables is read."""

    limbs: TableMap = TableMap()
    stations: TableMap = TableMap()
    shoots: TableMap = TableMap()
    segments: TableMap = TableMap()
    orchards: TableMap = TableMap()
    rules: TableMap = TableMap()
    weather: TableMap = TableMap()
    visits: TableMap = TableMap()
    cuts: TableMap = TableMap()
    responses: TableMap = TableMap()
    photos: TableMap = TableMap()

    def of(self, kind: str) -> TableMap:
        """Return how one of the tables is read, by its name; walks are tables of stations."""
        found: TableMap = getattr(self, "stations" if kind == "walks" else kind)
        return found

    def known_in(self, kind: str) -> set[str]:
        """Return the columns that have a meaning in a table: ours and those of the mapping."""
        return {*_KNOWN["stations" if kind == "walks" else kind], *self.of(kind).sources()}

    def kind_of(self, header: Iterable[str], kinds: Iterable[str]) -> str:
        """Return which of these tables has all the columns the mapping names for it.

        Of several it is the one for which most are named, then the first; empty where none has.
        """
        held = set(header)
        named = [(kind, set(self.of(kind).sources())) for kind in kinds]
        fitting = [(len(asked), kind) for kind, asked in named if asked and asked <= held]
        return max(fitting, key=lambda one: one[0])[1] if fitting else ""


def read_columns(path: Path) -> ColumnMap:
    """Read a column-mapping file (TOML).

    Raises
    ------
    InputError
        It cannot be read; the message lists everything wrong with it at once.
    """
    path = Path(path)
    see = "See docs/formats.md, Column mapping."
    try:
        found = _File.model_validate(tomllib.loads(path.read_text("utf-8-sig")))
    except FileNotFoundError:
        raise InputError(f"There is no file {path.name}.", "Check its name and folder.") from None
    except UnicodeDecodeError:
        raise InputError(f"{path.name} is not UTF-8 text.", see) from None
    except (OSError, ValueError, RecursionError) as error:
        if isinstance(error, ValidationError):
            raise InputError(f"{path.name}: {_plainly(error)}.", see) from None
        if isinstance(error, tomllib.TOMLDecodeError):
            raise InputError(f"{path.name} is not TOML: {error}.", see) from None
        said = getattr(error, "strerror", None) or error
        raise InputError(f"{path.name} cannot be read: {said}.") from None
    parts = {kind: found if kind == "limbs" else getattr(found, kind) for kind in _KNOWN}
    wrong = [w for kind, part in parts.items() for w in _wrong(kind, part.columns)]
    if wrong:
        raise InputError(f"{path.name}: {'; '.join(wrong)}.", see)
    return ColumnMap(**{kind: _table_map(kind, part) for kind, part in parts.items()})


def _table_map(kind: str, part: _Columns) -> TableMap:
    named = "tree" if isinstance(part, _Trees) else "station"
    return TableMap(
        columns={t: Column(column=s) if isinstance(s, str) else s for t, s in part.columns.items()},
        known=_KNOWN[kind],
        named=named,
        name=getattr(part, named, None),
        stem=getattr(part, "stem", None),
    )


def _plainly(error: ValidationError) -> str:
    """Return what is wrong with a mapping, each setting once, without the library's own words."""
    found: dict[str, str] = {}
    items = error.errors()
    settings = {i["loc"][:k] for i in items if "Column" in i["loc"] for k in range(len(i["loc"]))}
    for item in items:
        loc = item["loc"]
        if loc[-1] == "str" and (*loc[:-1], "Column") in settings:
            continue  # the other reading of a column, as settings, says it better
        where = ".".join(str(p) for p in loc if p not in {"str", "Column", "list[str]"})
        if item["type"] == "extra_forbidden":
            said = "is not a setting known here"
        elif item["type"] == "literal_error":
            said = f"is {item['input']!r}, none of {item['ctx']['expected']}"
        elif item["type"] in {"string_type", "list_type", "model_type"} and "columns" in loc:
            said = "is neither the name of a column nor settings in braces"
            said = "is not the name of a column or several" if "column" in loc else said
        else:
            said = f"{item['msg'][0].lower()}{item['msg'][1:]}"
        found.setdefault(where, said)
    return "; ".join(f"{where} {said}".strip() for where, said in found.items())


def _wrong(kind: str, columns: Mapping[str, str | Column]) -> Iterator[str]:
    where = "" if kind == "limbs" else f"{kind}."
    for target, source in columns.items():
        name = f"{where}columns.{target}"
        if target not in _KNOWN[kind]:
            yield f"{name} is not a column of {kind} ({', '.join(_KNOWN[kind])})"
        elif isinstance(source, Column):
            yield from (f"{name}: {fault}" for fault in _misfits(target, source))


def _kind(unit: str) -> str:
    return next((kind for kind, units in _KINDS.items() if unit in units), "")


def _misfits(target: str, source: Column) -> Iterator[str]:
    if not source.names() and source.constant is None:
        yield "give column, constant or both"
    kind = _kind(target.rpartition("_")[2])
    if source.unit is not None and _kind(source.unit) != kind:
        yield f"the unit {source.unit} is one of {_kind(source.unit)}"
    if source.unit == "percent grade" and not target.endswith("rise_deg"):
        yield "percent grade is for rise_deg and end_rise_deg"
    if source.sense in {"girth", "diameter"}:
        if target != {"girth": "diameter_mm", "diameter": "girth_cm"}[source.sense]:
            yield f"sense {source.sense} is for a girth given as a diameter or the other way round"
    elif source.sense != "as is" and not target.endswith("rise_deg"):
        yield f"sense {source.sense} is for rise_deg and end_rise_deg"
    if not math.isfinite(source.offset):
        yield "the offset is not a number"


def apply_columns(table: Table, mapping: TableMap) -> Table:
    """Return the table with our columns; nothing else it holds is lost.

    Columns not mapped stay as they are; one of our names that the mapping fills from elsewhere
    keeps what it held as ``<name>_as_given``.

    Raises
    ------
    InputError
        The mapping names columns the table does not have (all of them are listed).
    """
    sources = mapping.sources()
    if not sources and not mapping.columns:
        return table
    missing = [name for name in sources if name not in table.header]
    if missing:
        raise InputError(
            f"{table.file} has no column {', '.join(missing)}, which the column mapping names.",
            f"It has: {', '.join(table.header)}.",
        )
    name_of = _namer(mapping)
    stem_column = plain_name(mapping.stem.column) if mapping.stem else ""
    stem_value = str(mapping.stem.value) if mapping.stem else ""

    def is_stem(row: Row) -> bool:
        return bool(stem_column) and row.cells[stem_column] == stem_value

    stems: dict[str, str] = {}
    for row in table.rows if mapping.stem else ():
        if is_stem(row):
            source = mapping.columns.get("limb", Column(column="limb"))
            name = _cell("limb", source, row)[0] if source.column != "limb" else ""
            stems.setdefault(name_of(row), name or row.cells.get("limb", ""))
    joined = [plain_name(c) for c in mapping.name.join] if mapping.name else []
    plain = {*joined, stem_column} - {""}
    rows = []
    for row in table.rows:
        cells, given = dict(row.cells), {}
        taken: dict[str, tuple[str, str]] = {}
        for target, source in mapping.columns.items():
            value, was, used = _taken(target, source, row)
            taken[target] = (value, was)
            if used and used not in mapping.known:
                cells.pop(used, None)
        for column in plain:
            if column not in mapping.known:
                cells.pop(column, None)
        for target, (value, was) in taken.items():
            held = row.cells.get(target, "")
            if held and target not in sources:
                cells[f"{target}_as_given"] = held
            cells[target], given[target] = value, was
        if joined:
            cells[mapping.named] = given[mapping.named] = name_of(row)
            if not cells[mapping.named]:
                given[mapping.named] = _separator(mapping).join(row.cells[c] for c in joined)
        if is_stem(row):
            cells["parent"] = ""
        elif mapping.stem and not cells.get("parent"):
            cells["parent"] = stems.get(name_of(row), stem_value)
        rows.append(Row(row.number, cells, given))
    header = tuple(dict.fromkeys(c for row in rows for c in row.cells)) or table.header
    called = {t: s.names()[0] for t, s in mapping.columns.items() if s.names()}
    if joined:
        called[mapping.named] = _separator(mapping).join(joined)
    return Table(table.file, header, tuple(rows), table.faults, called)


def _separator(mapping: TableMap) -> str:
    return mapping.name.separator if mapping.name else ""


def _namer(mapping: TableMap) -> Callable[[Row], str]:
    """Return what gives the name of a row's station or tree; empty where a part is blank."""
    own = mapping.columns.get(mapping.named)
    join = [plain_name(c) for c in mapping.name.join] if mapping.name else []

    def name_of(row: Row) -> str:
        if join:
            parts = [row.cells[c] for c in join]
            return _separator(mapping).join(parts) if all(parts) else ""
        if own is not None:
            return _cell(mapping.named, own, row)[0]
        return row.cells.get(mapping.named, "")

    return name_of


def _taken(target: str, source: Column, row: Row) -> tuple[str, str, str]:
    """Return the value of a column, what it was, and the column of the file it was taken from."""
    used = next((c for c in source.names() if row.cells.get(c)), "")
    value, was = _cell(target, source, row)
    return value, was, used or (source.names()[0] if source.names() else "")


def _cell(target: str, source: Column, row: Row) -> tuple[str, str]:
    given = next((row.cells[c] for c in source.names() if row.cells.get(c)), "")
    if not given:
        return ("" if source.constant is None else str(source.constant)), ""
    words = {k.strip().lower(): str(v) for k, v in source.words.items()}
    if given.lower() in words:
        return words[given.lower()], given
    if source.unit is None and source.sense == "as is" and not source.offset:
        return given, given
    value, _ = as_number(given)
    if value is None:
        return given, given  # the reader of the cell says what is wrong with it
    suffix = target.rpartition("_")[2]
    if source.unit == "percent grade":
        value = math.degrees(math.atan(value / 100.0))
    elif source.unit is not None:
        sizes = _KINDS[_kind(source.unit)]
        value -= 32.0 if source.unit == "f" else 0.0
        value = value * sizes[source.unit] / sizes[suffix]
    if source.sense == "angle from vertical":
        value = 90.0 - value
    elif source.sense == "angle below horizontal":
        value = -value
    elif source.sense == "girth":
        value /= math.pi
    elif source.sense == "diameter":
        value *= math.pi
    value += source.offset
    if source.offset and target.endswith("bearing_deg"):
        value %= 360.0
    return f"{value:.12g}", given

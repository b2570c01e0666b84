"""Column mapping: read a table from elsewhere as if it had our columns and units."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from limbwright.errors import InputError
from limbwright.survey.cells import as_number
from limbwright.survey.limbs import LIMB_COLUMNS
from limbwright.survey.tables import Row, Table

__all__ = ["ColumnMap", "apply_columns", "read_columns"]

_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in a unit; source: international yard and pound agreement, 1959."""


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Column(_Strict):
    """Where one of our columns comes from.

    ``column`` is one source name or several, the first filled one is taken; ``constant`` fills
    what stays blank. ``unit`` is that of the source; ``sense`` says what an angle is measured
    from; ``offset`` is added last (in our unit; a bearing then wraps round); ``words`` translates.
    """

    column: str | list[str] = Field(default_factory=list)
    constant: str | int | float | None = None
    unit: Literal["mm", "cm", "m", "in", "ft", "deg", "percent grade"] | None = None
    sense: Literal["as is", "angle from vertical", "angle below horizontal"] = "as is"
    offset: float = 0.0
    words: dict[str, str] = Field(default_factory=dict)

    def names(self) -> list[str]:
        """Return the source columns as in a table's header."""
        given = [self.column] if isinstance(self.column, str) else self.column
        return ["_".join(name.strip().lower().split()) for name in given]


class StationName(_Strict):
    """How the name of a station is put together from several columns."""

    join: list[str] = Field(min_length=1)
    separator: str = "-"


class StemRow(_Strict):
    """Which row of a tree is its stem: the one where ``column`` holds ``value``."""

    column: str
    value: str | int


class ColumnMap(_Strict):
    """A whole column-mapping file."""

    station: StationName | None = None
    stem: StemRow | None = None
    columns: dict[str, str | Column] = Field(default_factory=dict)


def read_columns(path: Path) -> ColumnMap:
    """Read a column-mapping file (TOML).

    Raises
    ------
    InputError
        It cannot be read; the message lists everything wrong with it at once.
    """
    path = Path(path)
    try:
        found = ColumnMap.model_validate(tomllib.loads(path.read_text("utf-8-sig")))
    except FileNotFoundError:
        raise InputError(f"There is no file {path.name}.", "Check its name and folder.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name} cannot be read: {error}.") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path.name} is not TOML: {error}.", "See docs/formats.md.") from None
    except ValidationError as error:
        raise InputError(f"{path.name}: {_plainly(error)}.", "See docs/formats.md.") from None
    wrong = []
    for target, source in found.columns.items():
        if target not in LIMB_COLUMNS:
            wrong.append(f"columns.{target} is not a column of limbs ({', '.join(LIMB_COLUMNS)})")
        elif isinstance(source, Column):
            wrong.extend(f"columns.{target}: {fault}" for fault in _misfits(target, source))
    if wrong:
        raise InputError(f"{path.name}: {'; '.join(wrong)}.", "See docs/formats.md.")
    return found


def _plainly(error: ValidationError) -> str:
    seen: dict[str, None] = {}
    for item in error.errors():
        where = ".".join(str(p) for p in item["loc"] if p not in {"str", "Column", "list[str]"})
        said = "is not a setting known here" if item["type"] == "extra_forbidden" else item["msg"]
        if item["type"] != "string_type" or len(item["loc"]) < 4:
            seen[f"{where} {said[0].lower()}{said[1:]}"] = None
    return "; ".join(seen)


def _misfits(target: str, source: Column) -> list[str]:
    found = []
    if not source.names() and source.constant is None:
        found.append("give column, constant or both")
    suffix = target.rpartition("_")[2]
    if source.unit in _MM and suffix not in _MM:
        found.append(f"the unit {source.unit} is one of length")
    if source.unit in {"deg", "percent grade"} and suffix != "deg":
        found.append(f"the unit {source.unit} is one of angle")
    if source.sense != "as is" and not target.endswith("rise_deg"):
        found.append("sense is for rise_deg and end_rise_deg")
    return found


def apply_columns(table: Table, columns: ColumnMap) -> Table:
    """Return the table with our columns; unmapped columns stay as they are.

    Raises
    ------
    InputError
        The mapping names columns the table does not have (all of them are listed).
    """
    maps = {
        target: Column(column=source) if isinstance(source, str) else source
        for target, source in columns.columns.items()
    }
    asked = [name for source in maps.values() for name in source.names()]
    join = [_plain(c) for c in columns.station.join] if columns.station else []
    stem_column = _plain(columns.stem.column) if columns.stem else ""
    missing = [
        name
        for name in dict.fromkeys([*asked, *join, *([stem_column] if stem_column else [])])
        if name not in table.header
    ]
    if missing:
        raise InputError(
            f"{table.file} has no column {', '.join(missing)}, which the column mapping names.",
            f"It has: {', '.join(table.header)}.",
        )
    used = {*asked, *join, stem_column} - {""}
    sep = columns.station.separator if columns.station else ""

    def station_of(row: Row) -> str:
        if "station" in maps:
            return _cell("station", maps["station"], row)[0]
        parts = [row.cells[c] for c in join] or [row.cells.get("station", "")]
        return sep.join(parts) if all(parts) else ""

    def is_stem(row: Row) -> bool:
        return bool(columns.stem) and row.cells[stem_column] == str(
            columns.stem.value if columns.stem else ""
        )

    stems: dict[str, str] = {}
    for row in table.rows if columns.stem else ():
        if is_stem(row):
            name = _cell("limb", maps["limb"], row)[0] if "limb" in maps else row.cells.get("limb")
            stems.setdefault(station_of(row), name or "")
    rows: list[Row] = []
    for row in table.rows:
        cells = {k: v for k, v in row.cells.items() if k not in used or k in LIMB_COLUMNS}
        given: dict[str, str] = {}
        for target, source in maps.items():
            cells[target], given[target] = _cell(target, source, row)
        if join:
            cells["station"] = station_of(row)
            given["station"] = sep.join(row.cells[c] for c in join)
        if columns.stem and is_stem(row):
            cells["parent"] = ""
        elif columns.stem and not cells.get("parent"):
            cells["parent"] = stems.get(station_of(row), str(columns.stem.value))
        rows.append(Row(row.number, cells, given))
    header = tuple(dict.fromkeys(c for row in rows for c in row.cells)) or table.header
    sources = {t: s.names()[0] for t, s in maps.items() if s.names()}
    if join:
        sources["station"] = sep.join(join)
    return Table(table.file, header, tuple(rows), table.faults, sources)


def _plain(name: str) -> str:
    return "_".join(name.strip().lower().split())


def _cell(target: str, source: Column, row: Row) -> tuple[str, str]:
    given = next((row.cells[c] for c in source.names() if row.cells[c]), "")
    if not given:
        return ("" if source.constant is None else str(source.constant)), ""
    if source.words:
        words = {k.strip().lower(): v for k, v in source.words.items()}
        return words.get(given.lower(), given), given
    if source.unit is None and source.sense == "as is" and not source.offset:
        return given, given
    value, _ = as_number(given)
    if value is None:
        return given, given  # the reader of the cell says what is wrong with it
    suffix = target.rpartition("_")[2]
    if source.unit in _MM:
        value = value * _MM[source.unit] / _MM[suffix]
    elif source.unit == "percent grade":
        value = math.degrees(math.atan(value / 100.0))
    if source.sense == "angle from vertical":
        value = 90.0 - value
    elif source.sense == "angle below horizontal":
        value = -value
    value += source.offset
    if source.offset and target == "bearing_deg":
        value %= 360.0
    return f"{value:.12g}", given

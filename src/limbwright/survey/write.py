"""Write limbs, stations and segments as the tables they are read from."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import LimbRecord, Skeleton, StationRecord, TreeSurvey
from limbwright.survey.limbs import LIMB_COLUMNS, STATES, UNIONS
from limbwright.survey.segments import SEGMENT_COLUMNS
from limbwright.survey.stations import STATION_COLUMNS

__all__ = ["write_limbs", "write_segments", "write_stations"]

_RENAMED = {"lon": "lon_deg", "lat": "lat_deg"}


def write_limbs(trees: Iterable[TreeSurvey], path: Path) -> None:
    """Write one row a limb; numbers read back exactly, notes of unknown columns are kept.

    Raises
    ------
    InputError
        The file cannot be written.
    """
    rows: list[tuple[LimbRecord, dict[str, str]]] = [
        (limb, {"orchard": tree.station.orchard}) for tree in trees for limb in tree.limbs
    ]
    _write(
        path,
        [c for c in LIMB_COLUMNS if c != "orchard" or any(more["orchard"] for _, more in rows)],
        [{c: _text(getattr(one, c, "")) for c in LIMB_COLUMNS} | more for one, more in rows],
        [one.extra for one, _ in rows],
    )


def write_stations(stations: Iterable[StationRecord], path: Path) -> None:
    """Write one row a station; see `write_limbs`."""
    listed = list(stations)
    columns = [c for c in STATION_COLUMNS if c != "spread_m"]
    _write(
        path,
        columns,
        [{c: _text(getattr(one, _RENAMED.get(c, c))) for c in columns} for one in listed],
        [one.extra for one in listed],
    )


def write_segments(skeletons: Iterable[Skeleton], path: Path) -> None:
    """Write one row a segment; every number reads back bit for bit.

    Raises
    ------
    InputError
        The file cannot be written.
    """
    rows: list[dict[str, str]] = []
    for one in skeletons:
        ids = one.segment_ids.tolist()
        wall = one.cavity_wall_mm.tolist()
        starts, ends = one.start_m.tolist(), one.end_m.tolist()
        for k, p in enumerate(one.parent.tolist()):
            values: list[object] = [
                *(one.tree, ids[k], ids[p] if p >= 0 else -1, *starts[k], *ends[k]),
                float(one.start_diameter_mm[k]),
                float(one.end_diameter_mm[k]),
                STATES[int(one.state[k])],
                one.species,
                float(one.leaf_area_m2[k]),
                float(one.fruit_kg[k]),
                float(one.fine_wood_kg[k]),
                one.limbs[int(one.limb[k])].label if one.limbs else "",
                UNIONS[int(one.union[k])],
                None if math.isnan(wall[k]) else wall[k],
                one.keep_reasons[int(one.keep[k])],
                "yes" if bool(one.surveyed[k]) else "no",
            ]
            rows.append(dict(zip(SEGMENT_COLUMNS, map(_text, values), strict=True)))
    _write(path, SEGMENT_COLUMNS, rows, [])


def _text(value: object) -> str:
    if value is None:
        return ""
    return repr(value) if isinstance(value, float) else str(value)


def _write(
    path: Path,
    columns: Sequence[str],
    rows: Sequence[Mapping[str, str]],
    extras: Sequence[Mapping[str, str]],
) -> None:
    more = list(dict.fromkeys(c for extra in extras for c in extra if c not in columns))
    try:
        with Path(path).open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([*columns, *more])
            for k, row in enumerate(rows):
                extra = extras[k] if extras else {}
                writer.writerow([row[c] for c in columns] + [extra.get(c, "") for c in more])
    except OSError as error:
        raise InputError(f"{Path(path).name} cannot be written: {error.strerror}.") from None

"""Write limbs, stations and segments as the tables they are read from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import LimbRecord, Skeleton, StationRecord, TreeSurvey
from limbwright.survey.limbs import LIMB_COLUMNS, STATES, UNIONS
from limbwright.survey.segments import DERIVABLE, SEGMENT_COLUMNS, Extra
from limbwright.survey.spreadsheet import csv_bytes
from limbwright.survey.stations import STATION_COLUMNS
from limbwright.survey.whole import write_whole
from limbwright.survey.workbook_out import workbook_bytes

__all__ = ["limb_extra", "write_limbs", "write_segments", "write_stations"]

_RENAMED = {"lon": "lon_deg", "lat": "lat_deg"}


def write_limbs(trees: Iterable[TreeSurvey], path: Path) -> None:
    """Write one row a limb; numbers read back exactly, notes of unknown columns are kept.

    A name ending in ``.xlsx`` gives a workbook (numbers to sixteen figures), any other CSV (UTF-8).

    Raises
    ------
    InputError
        The file cannot be written.
    """
    rows: list[tuple[LimbRecord, dict[str, object]]] = [
        (limb, {"orchard": tree.station.orchard, "station": tree.station.station})
        for tree in trees
        for limb in tree.limbs
    ]
    _write(
        path,
        "limbs",
        [c for c in LIMB_COLUMNS if c != "orchard" or any(more["orchard"] for _, more in rows)],
        [{c: getattr(one, c, "") for c in LIMB_COLUMNS} | more for one, more in rows],
        [one.extra for one, _ in rows],
    )


def write_stations(stations: Iterable[StationRecord], path: Path) -> None:
    """Write one row a station; see `write_limbs`."""
    listed = list(stations)
    columns = [c for c in STATION_COLUMNS if c != "spread_m"]
    _write(
        path,
        "stations",
        columns,
        [{c: getattr(one, _RENAMED.get(c, c)) for c in columns} for one in listed],
        [one.extra for one in listed],
    )


def write_segments(
    skeletons: Iterable[Skeleton], path: Path, *, extra: Mapping[str, Extra] | None = None
) -> None:
    """Write one row a segment; every number reads back bit for bit.

    What is told of a whole limb (``crown``, ``rubs``, ``note``) stands on the row of its first
    segment.

    Parameters
    ----------
    skeletons
        The trees.
    path
        Where to; ``.xlsx`` gives a workbook, any other name CSV (UTF-8).
    extra
        Cells of further columns by tree and segment number, as `read_segments` found them.

    Raises
    ------
    InputError
        The file cannot be written.
    """
    rows: list[dict[str, object]] = []
    extras: list[Mapping[str, str]] = []
    for one in skeletons:
        more = (extra or {}).get(one.tree, {})
        ids = one.segment_ids.tolist()
        wall, far_wall = one.cavity_wall_mm.tolist(), one.cavity_far_wall_mm.tolist()
        measured = {name: one.provenance.is_measured(name, one.n) for name in DERIVABLE}
        starts, ends = one.start_m.tolist(), one.end_m.tolist()
        for k, p in enumerate(one.parent.tolist()):
            limb = one.limbs[int(one.limb[k])] if one.limbs else None
            told = limb if limb is not None and limb.first_segment == k else None
            values: list[object] = [
                *(one.tree, ids[k], ids[p] if p >= 0 else -1, *starts[k], *ends[k]),
                float(one.start_diameter_mm[k]),
                float(one.end_diameter_mm[k]),
                STATES[int(one.state[k])],
                one.species,
                float(one.leaf_area_m2[k]),
                float(one.fruit_kg[k]),
                float(one.fine_wood_kg[k]),
                limb.label if limb is not None else "",
                UNIONS[int(one.union[k])],
                None if math.isnan(wall[k]) else wall[k],
                None if math.isnan(far_wall[k]) else far_wall[k],
                float(one.cavity_open_deg[k]) or None,
                one.keep_reasons[int(one.keep[k])],
                "yes" if bool(one.surveyed[k]) else "no",
                " ".join(name for name in DERIVABLE if not measured[name][k]),
                *((None, "", "") if told is None else (told.crown, told.rubs, told.note)),
            ]
            rows.append(dict(zip(SEGMENT_COLUMNS, values, strict=True)))
            extras.append(more.get(ids[k], {}))
    _write(path, "segments", SEGMENT_COLUMNS, rows, extras)


def limb_extra(tree: TreeSurvey, skeleton: Skeleton) -> Extra:
    """Return the unknown columns of each limb by the number of its first segment."""
    told = {one.limb: one.extra for one in tree.limbs if one.extra}
    return {
        int(skeleton.segment_ids[limb.first_segment]): told[limb.label]
        for limb in skeleton.limbs
        if limb.label in told
    }


def _write(
    path: Path,
    title: str,
    columns: Sequence[str],
    rows: Sequence[Mapping[str, object]],
    extras: Sequence[Mapping[str, str]],
) -> None:
    path = Path(path)
    more = list(dict.fromkeys(c for extra in extras for c in extra if c not in columns))
    header = [*columns, *more]
    body = [
        [row[c] for c in columns] + [extra.get(c, "") for c in more]
        for row, extra in zip(rows, extras, strict=True)
    ]
    as_workbook = path.suffix.lower() == ".xlsx"
    data = workbook_bytes({title: (header, body)}) if as_workbook else csv_bytes(header, body)
    try:
        write_whole(path, data)
    except OSError as error:
        said = error.strerror or error
        raise InputError(f"{path.name} cannot be written: {said}.") from None

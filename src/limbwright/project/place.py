"""Where what is added stands, on the project's map, and whether that can be right."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.model.skeleton import Floats
from limbwright.project.crs import WGS84, crs_label, is_metric, move, named_crs, outside_of, utm_of
from limbwright.project.store import Project

__all__ = ["SAME_PLACE_M", "Placer", "far_ones", "same_place", "shape_crs"]

SAME_PLACE_M = 0.005
"""Positions nearer than this are the same; judgement: a shift of datum and its inverse agree to
about a millimetre, and no one measures trees so finely."""
FAR_M = 5_000.0
"""From the middle of an orchard beyond which a station hardly belongs to it; judgement."""
HUDDLE_M = 1.0
"""Width within which three trees or more cannot stand; judgement: degrees read as metres."""


def same_place(a: tuple[object, object], b: tuple[object, object]) -> bool:
    """Return whether two positions, or the lack of them, are the same."""
    if any(not isinstance(v, float | int) for v in (*a, *b)):
        return a == b
    return all(
        abs(float(p) - float(q)) <= SAME_PLACE_M  # type: ignore[arg-type]
        for p, q in zip(a, b, strict=True)
    )


def shape_crs(named: str, option: str, shapes: Collection[BaseGeometry]) -> str:
    """Return the CRS of shapes: that of their file, else the one given with it.

    Degrees beyond the globe are none, whatever the file says: there too the one given counts.
    """
    if not named:
        return option
    if option and shapes and named_crs(named).is_geographic:
        west, south, east, north = shapely.total_bounds(list(shapes)).tolist()
        if max(-west, east) > 360.0 or max(-south, north) > 90.0:
            return option
    return named


class Placer:
    """Moves positions on to the project's map; the first that come may choose the map."""

    def __init__(self, project: Project, option: str | None) -> None:
        self.project = project
        self.option = crs_label(option) if option else ""
        self.notes: list[str] = []
        self._told: set[str] = set()

    def place(self, x: ArrayLike, y: ArrayLike, source: str) -> tuple[Floats, Floats]:
        """Return positions ``(N,)`` on the project's map, NaN where they cannot be placed.

        Parameters
        ----------
        x, y
            East and north, or longitude and latitude.
        source
            Name of their CRS; empty: that of the project.

        Raises
        ------
        InputError
            The project stands on a local grid, which has no place on the earth.
        """
        a, b = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
        known = np.isfinite(a) & np.isfinite(b)
        if not source or not known.any():
            return a, b
        x0, y0 = float(a[known][0]), float(b[known][0])
        if named_crs(source).is_geographic:
            on_globe = (np.abs(a) <= 360.0) & (np.abs(b) <= 90.0)
            a, b = np.where(on_globe, a, np.nan), np.where(on_globe, b, np.nan)
            known &= on_globe
            if not known.any():
                raise InputError(
                    f"No position is a longitude and a latitude; the first is {x0:g}, {y0:g}.",
                    "If they are metres of a map, give its CRS.",
                )
        if not self.project.crs:
            self._choose(a[known], b[known], source)
        moved = move(a, b, source, self.project.crs)
        if source not in self._told and named_crs(source) != named_crs(self.project.crs):
            self._told.add(source)
            good = f", good to about {moved.accuracy_m:g} m" if moved.accuracy_m > 0.0 else ""
            self.notes.append(
                f"Positions are moved from {_named(source)} to {_named(self.project.crs)}{good}."
            )
        return moved.x, moved.y

    def _choose(self, x: Floats, y: Floats, source: str) -> None:
        """Give a project without a CRS the one its first positions call for."""
        if has_positions(self.project):
            raise InputError(
                f"The positions of {self.project.path.name} are metres of a local grid, which "
                f"has no place on the earth; {_named(source)} cannot be put on it.",
                "Give x and y of that grid, or begin a new project with a CRS.",
            )
        if is_metric(source):
            chosen = source
        else:
            there = move(x, y, source, WGS84)
            seen = np.isfinite(there.x) & np.isfinite(there.y)
            if not seen.any():
                raise InputError(
                    f"No position can be placed in {_named(source)}.", "Give the right CRS."
                )
            chosen = utm_of(float(np.median(there.x[seen])), float(np.median(there.y[seen])))
        self.project.set_crs(chosen)
        self.notes.append(f"The project had no CRS; its map is now {_named(chosen)}.")


def _named(crs: str) -> str:
    name = str(named_crs(crs).name)
    return f"{crs} ({name})" if len(crs) <= 20 else name


def has_positions(project: Project) -> bool:
    """Return whether anything of a project has a place yet."""
    if any(row["x"] is not None for row in project.rows("stations")):
        return True
    return any(row["rings"] for row in project.rows("orchards"))


def far_ones(
    crs: str,
    new: Mapping[tuple[str, str], tuple[float, float]],
    known: Iterable[tuple[tuple[str, str], tuple[float, float]]],
    rows: Mapping[tuple[str, str], tuple[str, int]],
) -> list[Fault]:
    """Return a warning for each new position that can hardly be right.

    Parameters
    ----------
    crs
        Of the project; empty: a local grid.
    new
        Positions just placed, by orchard and station.
    known
        All others of the project.
    rows
        File and row of each new one.
    """
    if not new:
        return []
    faults: list[Fault] = []
    file = next(iter(rows.values()))[0]
    xs = np.array([x for x, _ in new.values()])
    ys = np.array([y for _, y in new.values()])
    if crs and (outside := outside_of(xs, ys, crs)).any():
        fault = (
            f"{int(outside.sum())} of {len(new)} positions lie outside the area of {_named(crs)}"
        )
        remedy = "Are lon and lat swapped, or is it another CRS?"
        faults.append(Fault(file, 0, "", "", fault, remedy, "warning"))
        return faults
    by_orchard: dict[str, list[tuple[float, float]]] = {}
    for (orchard, _), place in [*known, *new.items()]:
        by_orchard.setdefault(orchard, []).append(place)
    keys: dict[str, list[tuple[str, str]]] = {}
    for key in new:
        keys.setdefault(key[0], []).append(key)
    for orchard, added in keys.items():
        points = np.array(by_orchard[orchard])
        width = float(np.ptp(points, axis=0).max())
        if len(points) >= 3 and width < HUDDLE_M:
            where = orchard or "the orchard"
            fault = f"all {len(points)} stations of {where} stand within {width:.2g} m"
            remedy = "Are x and y degrees? Name the columns lon and lat."
            faults.append(Fault(rows[added[0]][0], 0, "", "", fault, remedy, "warning"))
            continue
        middle = np.median(points, axis=0)
        away = np.hypot(*(np.array([new[key] for key in added]) - middle).T)
        for k in np.flatnonzero(away > FAR_M).tolist():
            file, row = rows[added[k]]
            fault = f"{away[k] / 1000.0:.0f} km from the middle of {orchard or 'the orchard'}"
            remedy = "Check the position, its order (x east, y north) and its CRS."
            told = Fault(file, row, "station", added[k][1], fault, remedy, "warning")
            faults.append(told)
    return faults

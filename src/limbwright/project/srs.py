"""The coordinate reference system of a project, as a GeoPackage names it."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from pyproj import CRS
from pyproj.exceptions import CRSError

from limbwright.errors import InputError

__all__ = [
    "LOCAL",
    "STANDARD_SYSTEMS",
    "System",
    "add_system",
    "project_system",
    "system_names",
]

LOCAL = -1
"""Undefined Cartesian system (OGC 12-128r18, table 4): a local grid."""
_FIRST_OWN = 100_000  # beyond the numbers any authority gives


@dataclass(frozen=True, slots=True)
class System:
    """One row of the table of systems (OGC 12-128r18, table 3)."""

    srs: int
    name: str
    organization: str
    number: int
    definition: str
    description: str = ""


STANDARD_SYSTEMS = (
    System(LOCAL, "Undefined Cartesian SRS", "NONE", -1, "undefined", "a local grid"),
    System(0, "Undefined geographic SRS", "NONE", 0, "undefined"),
    System(
        4326,
        "WGS 84 geodetic",
        "EPSG",
        4326,
        CRS.from_epsg(4326).to_wkt("WKT1_GDAL"),
        "longitude and latitude in degrees",
    ),
)
"""The rows every GeoPackage has (OGC 12-128r18, requirement 11)."""


def project_system(crs: str) -> System:
    """Return the system a project's coordinates can be in; empty text is the local grid.

    Raises
    ------
    InputError
        It is not known, or its x and y are not in metres on a map.
    """
    if not crs.strip():
        return STANDARD_SYSTEMS[0]
    try:
        system = CRS.from_user_input(crs.strip())
    except CRSError as error:
        raise InputError(
            f"{crs!r} is not a coordinate reference system.",
            "Give one as EPSG:27700, or leave it out for a local grid in metres.",
        ) from error
    axes = [a for a in system.axis_info if a.direction.lower() not in ("up", "down")]
    metres = all(abs(a.unit_conversion_factor - 1.0) < 1e-9 for a in axes) and axes
    if not system.is_projected or not metres:
        raise InputError(
            f"{crs!r} does not measure x and y in metres on a map.",
            "Give the map projection of the country, or the UTM zone; data in degrees or feet "
            "are turned into it as they are added.",
        )
    organization, number = "NONE", 0
    if (known := system.to_authority()) is not None and known[1].isdigit():
        organization, number = known[0], int(known[1])
    try:
        definition = system.to_wkt("WKT1_GDAL")
    except CRSError:
        definition = system.to_wkt()
    srs = number if organization == "EPSG" else _FIRST_OWN
    return System(srs, system.name, organization, number or srs, definition)


def system_names(connection: sqlite3.Connection, srs: int) -> tuple[str, ...]:
    """Return the names `pyproj` may know a system of the file by, the shortest first.

    Authority and number come before the definition; an undefined system has no name.
    """
    if srs in (LOCAL, 0):
        return ()
    found = connection.execute(
        "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys "
        "WHERE srs_id = ?",
        (srs,),
    ).fetchone()
    if found is None:
        return ()
    organization, number, definition = str(found[0]).upper(), found[1], str(found[2])
    return (definition,) if organization == "NONE" else (f"{organization}:{number}", definition)


def add_system(connection: sqlite3.Connection, system: System) -> int:
    """Write a system among those of the file unless it is there, and return its number there."""
    rows = connection.execute(
        "SELECT srs_id, organization, organization_coordsys_id, definition "
        "FROM gpkg_spatial_ref_sys"
    ).fetchall()
    for srs, organization, number, definition in rows:
        same = str(organization).upper() == system.organization and number == system.number
        if same and (system.organization != "NONE" or definition == system.definition):
            return int(srs)
    taken = {r[0] for r in rows}
    srs = system.srs
    while srs in taken:
        srs = max(srs, _FIRST_OWN) + 1
    number = srs if system.organization == "NONE" else system.number
    connection.execute(
        "INSERT INTO gpkg_spatial_ref_sys (srs_name, srs_id, organization, "
        "organization_coordsys_id, definition, description) VALUES (?, ?, ?, ?, ?, ?)",
        (
            system.name,
            srs,
            system.organization,
            number,
            system.definition,
            system.description,
        ),
    )
    return srs

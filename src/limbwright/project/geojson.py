"""Points and polygons from GeoJSON, and to it (RFC 7946)."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from shapely import GEOSException
from shapely.geometry import shape as as_shape
from shapely.geometry.base import BaseGeometry

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.project.crs import WGS84, crs_label, named_crs
from limbwright.project.layers import Layer, LayerKind, layer, sort_shapes
from limbwright.survey.tables import MAX_FILE_BYTES

__all__ = ["geojson_bytes", "read_geojson"]

_CRS84 = ("urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84")
DECIMALS_DEG = 9
"""Decimals of degrees written; derived: 1e-9 of a degree is a tenth of a millimetre."""
DECIMALS_M = 4
"""Decimals of metres written; derived: the same."""
_UNREADABLE = (
    *(ValueError, TypeError, KeyError, IndexError, AttributeError, OverflowError),
    *(RecursionError, GEOSException),
)
"""What the library says of shapes that are none, in a dozen ways."""
_SAVE_AGAIN = "Save the layer again as GeoJSON."


def read_geojson(path: Path) -> tuple[Layer, ...]:
    """Return the layers of a GeoJSON file: its points, its polygons, its rows without a shape.

    Positions are longitude and latitude unless the old member ``crs`` names another system,
    which is taken with a warning. A feature's row number is its place in the file, from 1.

    Raises
    ------
    InputError
        The file cannot be read, or is no GeoJSON of features.
    """
    path = Path(path)
    found = _parsed(path)
    features = _features(path.name, found)
    faults: list[Fault] = []
    crs = _crs(path.name, found, faults)
    shapes: list[tuple[int, BaseGeometry | None]] = []
    properties: dict[int, Mapping[str, Any]] = {}
    for number, one in enumerate(features, start=1):
        if not isinstance(one, dict) or one.get("type") != "Feature":
            fault = "not a feature; it is left out"
            faults.append(Fault(path.name, number, "", _short(one), fault, _SAVE_AGAIN))
            continue
        held = one.get("properties")
        properties[number] = held if isinstance(held, dict) else {}
        try:
            shapes.append((number, _shape(one.get("geometry"))))
        except _UNREADABLE:
            fault = "a geometry that cannot be read; the feature is left out"
            shown = _short(one.get("geometry"))
            faults.append(Fault(path.name, number, "", shown, fault, _SAVE_AGAIN))
            del properties[number]
    points, polygons, odd, told = sort_shapes(path.name, shapes)
    faults += told
    rest = [n for n in properties if n not in points and n not in polygons and n not in odd]
    parts: tuple[tuple[LayerKind, Sequence[int], Mapping[int, BaseGeometry]], ...] = (
        ("points", list(points), points),
        ("polygons", list(polygons), polygons),
        ("rows", rest, {}),
    )
    layers = []
    for kind, numbers, held_shapes in parts:
        if not numbers:
            continue
        header = list(dict.fromkeys(key for n in numbers for key in properties[n]))
        rows = [(n, [properties[n].get(key) for key in header]) for n in numbers]
        layers.append(
            layer(path.name, kind, kind, header or ["id"], rows, held_shapes, crs, faults)
        )
        faults = []
    if not layers:
        first = f" {faults[0]}" if faults else ""
        raise InputError(f"{path.name} holds no feature that can be used.{first}", _SAVE_AGAIN)
    return tuple(layers)


def _parsed(path: Path) -> dict[str, Any]:
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            raise InputError(
                f"{path.name} holds {path.stat().st_size / 2**20:.0f} MB.",
                f"Up to {MAX_FILE_BYTES // 2**20} MB is read: split it by orchard.",
            )
        found = json.loads(path.read_text("utf-8-sig"))
    except FileNotFoundError:
        raise InputError(f"There is no file {path.name}.", "Check its name and folder.") from None
    except UnicodeDecodeError:
        raise InputError(f"{path.name} is not UTF-8 text.", _SAVE_AGAIN) from None
    except (json.JSONDecodeError, RecursionError) as error:
        where = f" (line {error.lineno})" if isinstance(error, json.JSONDecodeError) else ""
        raise InputError(f"{path.name} is not JSON that can be read{where}.", _SAVE_AGAIN) from None
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or error
        raise InputError(f"{path.name} cannot be read: {said}.") from None
    if not isinstance(found, dict):
        raise InputError(f"{path.name} is JSON, but no GeoJSON.", _SAVE_AGAIN)
    return found


def _features(file: str, found: Mapping[str, Any]) -> list[Any]:
    if found.get("type") == "Feature":
        return [found]
    features = found.get("features")
    if found.get("type") != "FeatureCollection" or not isinstance(features, list):
        raise InputError(
            f"{file} is no collection of features.",
            "Points and polygons need names, which bare geometries lack. " + _SAVE_AGAIN,
        )
    if not features:
        raise InputError(f"{file} has no features.", _SAVE_AGAIN)
    return features


def _crs(file: str, found: Mapping[str, Any], faults: list[Fault]) -> str:
    """Return the system of the positions, with a warning where the file names another."""
    held = found.get("crs")
    if held is None:
        return WGS84
    inner = held.get("properties") if isinstance(held, dict) else None
    name = inner.get("name") if isinstance(inner, dict) else None
    if not isinstance(name, str):
        fault = "a member crs without a name; read as longitude and latitude"
        faults.append(Fault(file, 0, "crs", _short(held), fault, "Name it with --crs.", "warning"))
        return WGS84
    if name in _CRS84 or named_crs(name) == named_crs(WGS84):
        return WGS84
    fault = "GeoJSON should be in longitude and latitude; read in this system"
    faults.append(Fault(file, 0, "crs", name, fault, "Check that it is so.", "warning"))
    return crs_label(name)


def _shape(geometry: object) -> BaseGeometry | None:
    if geometry is None:
        return None
    if not isinstance(geometry, dict) or not _all_finite(geometry.get("coordinates")):
        raise ValueError("no coordinates")
    found: BaseGeometry = as_shape(geometry)
    return found


def _all_finite(held: object) -> bool:
    if isinstance(held, list):
        return all(_all_finite(h) for h in held)
    return isinstance(held, int | float) and not isinstance(held, bool) and math.isfinite(held)


def _short(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


def geojson_bytes(
    features: Iterable[tuple[BaseGeometry | None, Mapping[str, object]]], *, crs: str = ""
) -> bytes:
    """Return features as a GeoJSON file, rings turned as the standard asks.

    Parameters
    ----------
    features
        Shapes in longitude and latitude, or in ``crs``, each with its properties.
    crs
        Another system than longitude and latitude, named in the old member ``crs``: most
        programs read it, and the standard of today does not.
    """
    digits = DECIMALS_M if crs and named_crs(crs).is_projected else DECIMALS_DEG
    document: dict[str, Any] = {"type": "FeatureCollection"}
    if crs:
        authority, _, code = crs.partition(":")
        name = f"urn:ogc:def:crs:{authority}::{code}" if code.isdigit() else crs
        document["crs"] = {"type": "name", "properties": {"name": name}}
    document["features"] = [
        {"type": "Feature", "geometry": _geometry(shape, digits), "properties": dict(properties)}
        for shape, properties in features
    ]
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace('{"type":"Feature",', '\n{"type":"Feature",').encode("utf-8", "replace")


def _geometry(shape: BaseGeometry | None, digits: int) -> dict[str, Any] | None:
    if shape is None or shape.is_empty:
        return None
    if shape.geom_type == "Point":
        place = [round(shape.x, digits), round(shape.y, digits)]
        return {"type": "Point", "coordinates": place}
    from shapely.geometry.polygon import orient

    turned = orient(shape, 1.0)  # outer rings run counter-clockwise: RFC 7946, 3.1.6
    rings = [turned.exterior, *turned.interiors]
    places = [[[round(x, digits), round(y, digits)] for x, y, *_ in r.coords] for r in rings]
    return {"type": "Polygon", "coordinates": places}

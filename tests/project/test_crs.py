"""Any map in, any map out: the names, the places, and what is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.project.crs import WGS84, crs_label, is_metric, move, named_crs, outside_of, utm_of


def test_a_published_point_lands_where_its_handbook_says() -> None:
    # EPSG Guidance Note 7-2 (IOGP 373-7-2), worked example of Transverse Mercator: EPSG:27700,
    # 50 30 00 N, 0 30 00 E on OSGB36 is E 577274.99, N 69740.50.
    moved = move([0.5], [50.5], "EPSG:4277", "EPSG:27700")
    assert (moved.x[0], moved.y[0]) == pytest.approx((577274.99, 69740.50), abs=0.02)


@pytest.mark.parametrize(
    ("lon", "lat", "zone"),
    [
        (-2.5, 52.0, "EPSG:32630"),
        (2.5, 52.0, "EPSG:32631"),
        (174.8, -41.3, "EPSG:32760"),
        (-180.0, 10.0, "EPSG:32601"),
        (180.0, 10.0, "EPSG:32601"),
    ],
)
def test_the_utm_zone_of_a_place(lon: float, lat: float, zone: str) -> None:
    assert utm_of(lon, lat) == zone


def test_beyond_the_zones_is_refused() -> None:
    with pytest.raises(InputError, match="swapped"):
        utm_of(52.0, -88.0)


@pytest.mark.parametrize("name", ["EPSG:1", "nonsense", "", "27700000000", "EPSG:5701"])
def test_nonsense_is_refused_in_a_sentence(name: str) -> None:
    with pytest.raises(InputError, match=r"no coordinate system known here|no map of the ground"):
        named_crs(name)


@pytest.mark.parametrize("name", ["EPSG:27700", "27700", "urn:ogc:def:crs:EPSG::27700"])
def test_one_system_by_several_names(name: str) -> None:
    assert crs_label(name) == "EPSG:27700"


def test_which_systems_are_metres() -> None:
    assert is_metric("EPSG:27700")
    assert not is_metric(WGS84)
    assert not is_metric("EPSG:2263")  # New York, US survey feet


@settings(max_examples=50, deadline=None)
@given(st.floats(-5.9, 1.6), st.floats(50.1, 58.0))
def test_there_and_back_is_the_same_place(lon: float, lat: float) -> None:
    there = move([lon], [lat], WGS84, "EPSG:27700")
    back = move(there.x, there.y, "EPSG:27700", WGS84)
    again = move(back.x, back.y, WGS84, "EPSG:27700")
    # the datum shift and its inverse agree to about a millimetre
    assert (again.x[0], again.y[0]) == pytest.approx((there.x[0], there.y[0]), abs=0.002)
    assert abs(back.x[0] - lon) < 1e-7
    assert abs(back.y[0] - lat) < 1e-7


def test_swapped_or_impossible_places_lie_outside() -> None:
    swapped = move([52.0, -2.5], [-2.5, 52.0], WGS84, "EPSG:27700")
    assert outside_of(swapped.x, swapped.y, "EPSG:27700").tolist()[1] is False
    finite = np.isfinite(swapped.x[0])
    assert not finite or outside_of(swapped.x, swapped.y, "EPSG:27700")[0]
    assert outside_of([0.0], [0.0], "EPSG:27700").tolist() == [False]  # its false origin at sea
    assert outside_of([5.0e6], [5.0e6], "EPSG:27700").tolist() == [True]


def test_what_cannot_be_placed_is_nan() -> None:
    moved = move([0.0], [1.0e9], "EPSG:27700", WGS84)
    assert np.isnan(moved.x[0]) == np.isnan(moved.y[0])

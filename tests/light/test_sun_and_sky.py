"""The sun's place and the sky's light against an independent library and published values."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.light.canopy import leaf_projection
from limbwright.light.sky import (
    diffuse_share,
    even_sky,
    overcast_sky,
    season_sky,
    winter_sky,
)
from limbwright.light.sun import extraterrestrial_w_m2, sun_position


def test_sun_of_the_published_example() -> None:
    """Reda & Andreas 2004, table A5: zenith 50.11162 (with refraction), azimuth 194.34024."""
    when = np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]")
    elevation, bearing = sun_position(39.742476, -105.1786, when)
    # refraction lifts it by 0.0159 degrees there (same table)
    assert elevation[0] == pytest.approx(90 - 50.11162 - 0.0159, abs=0.01)
    assert bearing[0] == pytest.approx(194.34024, abs=0.01)


@pytest.mark.parametrize(("latitude", "longitude"), [(52, 0), (-35, 20), (0, 100), (65, -120)])
def test_sun_agrees_with_an_independent_library(latitude: float, longitude: float) -> None:
    """Pvlib's full algorithm over sixty years: within 0.02 degrees everywhere."""
    rng = np.random.default_rng(latitude + 100)
    seconds = rng.uniform(0, 60 * 365 * 86400, 500).astype("timedelta64[s]")
    when = np.datetime64("1990-01-01T00:00:00", "s") + seconds
    theirs = pvlib.solarposition.spa_python(pd.DatetimeIndex(when, tz="UTC"), latitude, longitude)
    elevation, bearing = sun_position(latitude, longitude, when)
    turn = (bearing - theirs.azimuth.to_numpy() + 180) % 360 - 180
    assert np.abs(elevation - theirs.elevation.to_numpy()).max() < 0.02
    assert np.abs(turn * np.cos(np.radians(elevation))).max() < 0.02


@pytest.mark.parametrize(
    ("latitude", "noons"),
    [
        (45, (45.1, 68.4, 45.0, 21.6)),
        (48, (42.1, 65.4, 42.0, 18.6)),
        (52, (38.1, 61.4, 38.0, 14.6)),
        (55, (35.1, 58.4, 35.0, 11.6)),
    ],
)
def test_noon_heights_through_the_year(latitude: float, noons: tuple[float, ...]) -> None:
    """Noon elevations of 2024 by the full algorithm, longitude 0, to a tenth of a degree."""
    for day, noon in zip(("03-20", "06-20", "09-22", "12-21"), noons, strict=True):
        when = np.datetime64(f"2024-{day}T00:00", "m") + np.arange(1440).astype("timedelta64[m]")
        elevation, _ = sun_position(latitude, 0.0, when)
        assert elevation.max() == pytest.approx(noon, abs=0.06)


def test_power_above_the_air_agrees_with_an_independent_library() -> None:
    day = np.arange(365)
    theirs = pvlib.irradiance.get_extra_radiation(day + 1, method="spencer", solar_constant=1366.1)
    ours = extraterrestrial_w_m2(np.datetime64("2026-01-01", "h") + day.astype("timedelta64[D]"))
    assert ours == pytest.approx(theirs, rel=1e-9)


def test_sky_share_by_erbs() -> None:
    """Erbs et al. 1982 at clearness 0.1 to 0.8."""
    expected = [0.9910, 0.9820, 0.9486, 0.8400, 0.6591, 0.4395, 0.2440, 0.1653]
    assert diffuse_share(np.arange(1, 9) / 10) == pytest.approx(expected, abs=6e-5)
    # as in pvlib's tests: light on level ground 50, 1000, 1000 W/m2, and its sky part
    share = diffuse_share(np.array([0.4057, 0.7181, 0.7682]))
    assert share * [50, 1000, 1000] == pytest.approx([41.570, 217.860, 170.790], rel=1e-3)


@pytest.mark.parametrize(
    ("latitude", "hours", "rises_at"),
    [
        (45, (12.17, 15.62, 12.16, 8.77), (89, 55, 89, 123)),
        (48, (12.19, 16.05, 12.17, 8.37), (89, 52, 89, 125)),
        (50, (12.19, 16.37, 12.17, 8.07), (89, 50, 89, 127)),
        (52, (12.20, 16.74, 12.18, 7.74), (89, 48, 89, 129)),
        (55, (12.22, 17.38, 12.18, 7.17), (89, 44, 89, 132)),
    ],
)
def test_length_of_day_and_where_the_sun_rises(
    latitude: float, hours: tuple[float, ...], rises_at: tuple[float, ...]
) -> None:
    """Days of 2024 by the full algorithm, longitude 0: its upper rim above the horizon, lifted by
    the air (0.833 degrees below), to 0.04 h and a degree."""
    for day, long, bearing_there in zip(
        ("03-20", "06-20", "09-22", "12-21"), hours, rises_at, strict=True
    ):
        when = np.datetime64(f"2024-{day}T00:00", "m") + np.arange(1440).astype("timedelta64[m]")
        elevation, bearing = sun_position(latitude, 0.0, when)
        up = np.flatnonzero(elevation > -0.833)
        assert len(up) / 60 == pytest.approx(long, abs=0.04)
        assert bearing[up[0]] == pytest.approx(bearing_there, abs=1.0)


@pytest.mark.parametrize(
    ("place", "day", "utc", "rise", "noon", "fall"),
    [
        ((39.742476, -105.1786), "2015-01-02", -7, "07:21:55", "12:04:45", "16:47:43"),
        ((39.742476, -105.1786), "2015-08-02", -7, "05:00:27", "12:06:58", "19:13:58"),
        ((-35.0, 0.0), "1996-07-05", 0, "07:08:15", "12:04:36", "17:01:04"),
        ((-35.0, 0.0), "2004-12-04", 0, "04:38:57", "11:50:22", "19:02:03"),
    ],
)
def test_published_sunrise_noon_and_sunset(
    place: tuple[float, float], day: str, utc: int, rise: str, noon: str, fall: str
) -> None:
    """Tables of the full algorithm (Golden, Colorado, and 35 S), to half a minute; each event is
    that of the universal day, so a western sunset may be the evening before's."""
    start = np.datetime64(f"{day}T00:00:00", "s")
    elevation, _ = sun_position(*place, start + np.arange(0, 86400, 5).astype("timedelta64[s]"))
    up = elevation > -0.8333
    rises, falls = np.flatnonzero(up & ~np.roll(up, 1)), np.flatnonzero(~up & np.roll(up, 1))
    for found, told in ((rises[0], rise), (elevation.argmax(), noon), (falls[0], fall)):
        hour, minute, second = (int(part) for part in told.split(":"))
        there = (5 * int(found) + 3600 * utc) % 86400
        assert there == pytest.approx(3600 * hour + 60 * minute + second, abs=30)


def test_even_and_overcast_skies_within_rings_of_the_zenith() -> None:
    """Share of level light within 30, 45, 60 degrees: even .25 .50 .75, overcast .3074 .5837
    .8214, by integration."""
    for sky, expected in (
        (even_sky(2000), (0.25, 0.50, 0.75)),
        (overcast_sky(2000), (0.3074, 0.5837, 0.8214)),
    ):
        for ring, share in zip((30, 45, 60), expected, strict=True):
            within = sky.towards[:, 2] > np.cos(np.radians(ring))
            assert sky.share[within].sum() == pytest.approx(share, abs=0.002)


@given(st.floats(-60, 60), st.floats(0.1, 0.9))
@settings(max_examples=25, deadline=None)
def test_every_sky_adds_up_to_the_light_in_the_open(latitude: float, clearness: float) -> None:
    for sky in (season_sky(latitude, clearness=clearness), even_sky(), overcast_sky()):
        assert sky.share.sum() == pytest.approx(1.0)
        assert (sky.share >= 0).all()
        assert (sky.towards[:, 2] > 0).all()
        assert np.linalg.norm(sky.towards, axis=1) == pytest.approx(1.0)


def test_more_light_comes_from_the_sunny_side_and_from_low_down_in_winter() -> None:
    north, south, winter = season_sky(52.0), season_sky(-35.0), winter_sky(52.0)
    assert north.towards[:, 1] @ north.share < -0.02  # the sun stands in the south
    assert south.towards[:, 1] @ south.share > 0.02
    assert winter.towards[:, 2] @ winter.share < north.towards[:, 2] @ north.share - 0.02


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((95.0,), "latitude"),
        ((52.0, [13]), "Months"),
        ((52.0, []), "Months"),
        ((85.0, [12]), "rise"),
    ],
)
def test_a_season_that_cannot_be_is_refused(arguments: tuple, word: str) -> None:
    with pytest.raises(InputError, match=word):
        season_sky(*arguments)
    with pytest.raises(InputError, match="clearness"):
        season_sky(52.0, clearness=1.5)


@pytest.mark.parametrize(
    ("ratio", "level"),
    [
        (0.5, (0.2921, 0.4462, 0.6531, 1.0532, 2.1997)),
        (1.0, (0.4997, 0.5770, 0.7066, 0.9993, 1.9306)),
        (2.0, (0.7248, 0.7544, 0.8103, 0.9588, 1.5344)),
        (3.0, (0.8284, 0.8436, 0.8732, 0.9565, 1.3222)),
    ],
)
def test_leaf_projection_of_ellipsoidal_leaves(ratio: float, level: tuple[float, ...]) -> None:
    """Extinction on level ground, Campbell & Norman 1998, at 0, 30, 45, 60, 75 from overhead."""
    up = np.cos(np.radians([0, 30, 45, 60, 75]))
    assert leaf_projection(up, ratio) / up == pytest.approx(level, abs=6e-5)

"""The ribbon of the year: its days on paper, told by shape, and readable as plain values."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.model.site import Site
from limbwright.report.ribbon import LEFT_MM, RIGHT_MM, Hung, ribbon_svg
from limbwright.report.strokes import INK, PLUM
from limbwright.trade.seasons.climate import Climate
from limbwright.trade.seasons.days import YearDay
from limbwright.trade.seasons.job_windows import windows_for
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.seasons.ribbon import ribbon
from limbwright.trade.species import species

SVG = "{http://www.w3.org/2000/svg}"
NORTH, SOUTH = Site(latitude_deg=52.0), Site(latitude_deg=-42.0)


def drawn(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def bars(svg: str, fill: str) -> list[tuple[float, float]]:
    """Return where the bars of a filling begin and end, those of the key left out."""
    return [
        (float(r.get("x", "0")), float(r.get("x", "0")) + float(r.get("width", "0")))
        for r in drawn(svg).findall(f"{SVG}rect")
        if r.get("fill") == fill and r.get("stroke") == PLUM
    ]


def at(day: date, width_mm: float = 180.0) -> float:
    first = date(day.year, 1, 1)
    days = (date(day.year, 12, 31) - first).days + 1
    return LEFT_MM + (day - first).days * (width_mm - LEFT_MM - RIGHT_MM) / days


@pytest.mark.parametrize("site", [NORTH, SOUTH], ids=["north", "south"])
@pytest.mark.parametrize("year", [2027, 2028])
def test_bands_hold_the_days_of_the_windows(site: Site, year: int) -> None:
    found = ribbon(year, site)
    by_key = {band.key: band for band in found.bands}
    for key, name in (("pome", "apple"), ("stone", "plum")):
        window = windows_for("structural", species(name), site, year)
        for k in range((date(year, 12, 31) - date(year, 1, 1)).days + 1):
            day = date(year, 1, 1) + timedelta(days=k)
            (state,) = {s.state for s in window.spans if s.first <= day <= s.last}
            marks = [s.mark for s in by_key[key].stretches if s.first <= day <= s.last]
            care: list[list[str]] = [["look first"], ["in doubt"]]
            wanted: dict[str, list[list[str]]] = {"open": [["open"]], "closed": [[]]}
            assert marks in wanted.get(state, care)
    nests = by_key["nesting"].stretches
    assert all(one.mark == "about" for one in nests)
    assert len(nests) == (1 if site is NORTH else 2)
    assert {one.label for one in by_key["harvest"].stretches} == {
        "cherry",
        "plum",
        "damson",
        "apple and pear",
    }


def test_open_bars_stand_where_their_days_are() -> None:
    svg = ribbon_svg(ribbon(2027, NORTH))
    wanted = [
        (at(date(2027, 1, 1)), at(date(2027, 3, 1))),
        (at(date(2027, 11, 1)), 180.0 - RIGHT_MM),
        (at(date(2027, 9, 1)), at(date(2027, 10, 1))),
    ]
    for found, right in zip(bars(svg, PLUM), wanted, strict=True):
        assert found == pytest.approx(right, abs=0.02)
    assert len(bars(svg, "url(#look)")) == 2
    assert len(bars(svg, "none")) == 2


def test_it_is_told_by_shape_in_ink_and_one_accent() -> None:
    svg = ribbon_svg(ribbon(2027, NORTH))
    colours = set(re.findall(r"#[0-9a-f]{6}", svg))
    assert colours <= {INK, PLUM, "#fbf7ef", "#a9a39a"}
    assert "stroke-dasharray" in svg
    assert 'fill="url(#look)"' in svg
    title = drawn(svg).findtext(f"{SVG}title") or ""
    assert "stone fruit, in growth: 1 May to 31 August (look first), 1 September" in title
    assert "birds nesting: 1 March to 31 August" in title


def test_hung_seasons_and_today_are_shown_where_they_fall() -> None:
    hung = [
        Hung(date(2027, 9, 6), date(2027, 9, 26), "plums & gages of <Long Acre>"),
        Hung(date(2027, 11, 8), date(2028, 2, 20), "apples, second year"),
        Hung(date(2029, 1, 1), date(2029, 2, 1), "not of this year"),
    ]
    plain = ribbon_svg(ribbon(2027, NORTH))
    svg = ribbon_svg(ribbon(2027, NORTH), hung=hung, today=date(2027, 4, 12))
    texts = [t.text for t in drawn(svg).iter(f"{SVG}text")]
    assert "plums & gages of <Long Acre>" in texts
    assert "apples, second year" in texts
    assert "not of this year" not in texts
    height = float(drawn(svg).get("viewBox", "").split()[-1])
    assert height > float(drawn(plain).get("viewBox", "").split()[-1])


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(-200, 500), st.integers(0, 400), st.integers(0, 40)), max_size=7
    ),
    st.floats(120.0, 400.0),
)
def test_all_that_is_drawn_stays_on_the_paper(
    seasons: list[tuple[int, int, int]], width_mm: float
) -> None:
    first = date(2027, 1, 1)
    hung = [
        Hung(first + timedelta(days=a), first + timedelta(days=a + b), "w" * c)
        for a, b, c in seasons
    ]
    svg = drawn(ribbon_svg(ribbon(2027, NORTH), hung=hung, width_mm=width_mm))
    high = float(svg.get("viewBox", "").split()[-1])
    for one in svg.findall(f"{SVG}line"):
        for name, limit in (("x1", width_mm), ("x2", width_mm), ("y1", high), ("y2", high)):
            assert -0.01 <= float(one.get(name, "nan")) <= limit + 0.01
    for rect in svg.findall(f"{SVG}rect"):
        x, wide = float(rect.get("x", "0")), float(rect.get("width", "nan"))
        assert wide >= 0.0
        assert x + wide <= width_mm + 0.5
    for text in svg.findall(f"{SVG}text"):
        assert 0.0 <= float(text.get("x", "nan")) <= width_mm
        assert 0.0 <= float(text.get("y", "nan")) <= high


def test_a_local_rule_and_a_climate_show_on_it() -> None:
    shut = LocalRule("all", "all", YearDay(9, 1), YearDay(9, 30), "forbid", "Invented")
    found = ribbon(2027, NORTH, local_rules=[shut])
    stone = next(band for band in found.bands if band.key == "stone")
    assert stone.stretches[-1].last == date(2027, 8, 31)
    cold = Climate((-3.1, -3.8, -0.7, 4.5, 10.4, 14.9, 18.1, 16.9, 12.3, 6.6, 2.4, -0.7))
    moved = ribbon(2027, Site(latitude_deg=60.0), cold)
    stone = next(band for band in moved.bands if band.key == "stone")
    assert stone.stretches[0].first > date(2027, 6, 1)
    assert "leaf falls" in moved.sentence


def test_the_plain_values_go_through_json() -> None:
    told = json.loads(json.dumps(ribbon(2027, NORTH).to_dict()))
    assert told["year"] == 2027
    assert [band["key"] for band in told["bands"]] == ["pome", "stone", "nesting", "harvest"]
    assert told["bands"][1]["stretches"][-1] == {
        "first": "2027-09-01",
        "last": "2027-09-30",
        "mark": "open",
        "label": "",
    }


def test_a_ribbon_too_narrow_is_refused() -> None:
    with pytest.raises(ValueError, match="120 mm"):
        ribbon_svg(ribbon(2027, NORTH), width_mm=100.0)

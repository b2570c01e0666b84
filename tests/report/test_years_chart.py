"""The chart of ways and the bars of what was done: lines, bands and bars are their figures."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.report.drawn import SVG, of_class, read, said, size_of

from limbwright.report.done_bars import Bar, done_bars
from limbwright.report.strokes import INK, PLUM
from limbwright.report.years_chart import Course, CourseYears, round_steps, years_chart

LEAST_MM = 7 / 72 * 25.4
YEARS = tuple(range(2026, 2036))
NAMES = ("staged", "at once", "equal shares", "left alone")


def course(name: str, chance: float, *, plan: bool = False, crown: float = 0.9) -> Course:
    so_far = tuple(1.0 - (1.0 - chance) ** (k + 1) for k in range(len(YEARS)))
    return Course(
        name,
        chance=CourseYears(so_far, tuple(0.5 * c for c in so_far), tuple(1.2 * c for c in so_far)),
        crown=CourseYears((crown,) * len(YEARS)),
        light=CourseYears((0.3, 0.31, None, None, None, None, None, None, None, 0.33)),
        hours=CourseYears(tuple(min(k, 3) * 2.0 for k in range(len(YEARS)))),
        plan=plan,
    )


COURSES = [course(n, 0.01 * (k + 1), plan=not k) for k, n in enumerate(NAMES)]


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", path)]


def axis(svg: str, panel: int) -> tuple[float, float]:
    """Return where nothing and the last step of a panel's axis lie, from its figures."""
    marks = [one for one in said(svg) if re.fullmatch(r"\d+(\.\d+)?", one.text)]
    lefts: dict[int, list[tuple[float, float]]] = {0: [], 1: []}
    for one in marks:
        if len(one.text) < 4:
            lefts[int(one.right > 90.0)].append((float(one.text), one.base - 0.9))
    side = lefts[panel % 2]
    # the upper panel of that side: its marks fall from the first nothing upwards
    upper = [m for m in side if (m[1] < 75.0) == (panel < 2)]
    return next(y for v, y in upper if v == 0.0), max(upper)[1]


def test_each_line_is_told_apart_and_named_at_its_end() -> None:
    svg = years_chart(YEARS, COURSES)
    paths = of_class(svg, "path", "way")
    chance = [p for p in paths if p.get("d", "").count("L") == len(YEARS) - 1][:4]
    kinds = {(p.get("stroke-dasharray"), p.get("stroke")) for p in chance}
    assert len(kinds) == 4
    assert len({p.get("stroke-dasharray") for p in chance}) == 4
    assert sum(p.get("stroke") == PLUM for p in chance) == 1
    told = [one.text for one in said(svg)]
    assert all(told.count(name) == 4 for name in NAMES)


def test_a_line_lies_where_its_values_are() -> None:
    svg = years_chart(YEARS, COURSES)
    zero, top = axis(svg, 0)
    most = round_steps(100.0 * 1.2 * (1.0 - 0.96**10))[-1]
    plan = next(p for p in of_class(svg, "path", "way") if p.get("stroke") == PLUM)
    for (_, y), value in zip(points(plan.get("d", "")), COURSES[0].chance.value, strict=True):
        assert value is not None
        assert (zero - y) / (zero - top) * most == pytest.approx(100.0 * value, abs=0.05)


def test_the_range_of_the_plan_is_a_band_and_of_others_a_stroke() -> None:
    svg = years_chart(YEARS, COURSES)
    (band,) = of_class(svg, "path", "band")
    assert len(points(band.get("d", ""))) == 2 * len(YEARS)
    told = " ".join(one.text for one in said(svg))
    assert "Shaded: the range of the plan." in told
    assert "Hairlines" in told
    bare = [Course("left alone", chance=CourseYears((0.1,) * 10), note="a note")]
    told = " ".join(one.text for one in said(years_chart(YEARS, bare)))
    assert "Shaded" not in told
    assert told.count("not reckoned") == 3
    assert "Left alone: a note" in told


@pytest.mark.parametrize("width_mm", [80.0, 150.0, 180.0])
def test_names_at_the_ends_never_cover_one_another(width_mm: float) -> None:
    same = [course(f"way {k}", 0.02, plan=not k) for k in range(6)]
    svg = years_chart(YEARS, same, width_mm=width_mm)
    width, height = size_of(svg)
    words = said(svg)
    assert all(one.left >= 0.0 and one.right <= width for one in words)
    assert all(one.box[1] >= 0.0 and one.box[3] <= height for one in words)
    assert min(one.size for one in words) >= LEAST_MM
    ends = [one for one in words if one.text.startswith("way ")]
    assert len(ends) == 24
    for k, one in enumerate(ends):
        for other in ends[k + 1 :]:
            apart = abs(one.left - other.left) > 5.0 or abs(one.base - other.base) >= 3.0
            assert apart


def test_what_cannot_be_drawn_is_told() -> None:
    for years, ways, said_so in (
        ((), COURSES, "nothing to draw"),
        (YEARS, [], "nothing to draw"),
        (YEARS[::-1], COURSES, "do not rise"),
        (YEARS[:3], COURSES, "not one value a year"),
    ):
        with pytest.raises(ValueError, match=said_so):
            years_chart(years, ways)
    with pytest.raises(ValueError, match="at least 80 mm"):
        years_chart(YEARS, COURSES, width_mm=50.0)


@given(st.floats(1e-5, 1e9), st.integers(1, 12))
def test_axes_have_few_round_steps_and_hold_their_values(most: float, count: int) -> None:
    steps = round_steps(most, count)
    assert steps[0] == 0.0
    assert steps[-1] >= most * (1 - 1e-6)
    assert len(steps) - 1 <= count
    assert round(float(f"{steps[1]:.6e}".split("e")[0]), 5) in (1.0, 2.0, 5.0)


values = st.none() | st.floats(0.0, 1e4)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.builds(Bar, st.text(max_size=30), values, values, values, values, values), max_size=12
    ),
    st.floats(90.0, 250.0),
)
def test_bars_are_as_long_as_their_figures(bars: list[Bar], width_mm: float) -> None:
    svg = done_bars("Hours in the tree", "person-hours", bars, width_mm=width_mm)
    width, height = size_of(svg)
    assert all(one.left >= 0.0 and one.right <= width for one in said(svg))
    assert all(one.box[1] >= 0.0 and one.box[3] <= height for one in said(svg))
    assert min(one.size for one in said(svg)) >= LEAST_MM
    lengths = []
    for kind in ("planned", "done"):
        figures = [v for one in bars if (v := getattr(one, kind)) is not None]
        drawn = [float(r.get("width", "0")) for r in of_class(svg, "rect", kind)]
        assert len(drawn) == len(figures)
        lengths += list(zip(drawn, figures, strict=True))
    scales = [mm / figure for mm, figure in lengths if figure > 1.0 and mm > 1.0]
    assert scales == pytest.approx([scales[0]] * len(scales), rel=2e-3) if scales else True


def test_bars_tell_both_figures_and_what_is_not_known() -> None:
    svg = done_bars("Dose", "%", [Bar("1", 18.0, None, 15.0, 20.0, 25.0), Bar("2", None, 7.25)])
    told = [one.text for one in said(svg)]
    assert {"18.0", "7.2", "–", "range of the plan", "not to be passed"} <= set(told)
    limits = [e for e in read(svg).iter(f"{SVG}line") if e.get("stroke") == PLUM]
    assert len(limits) == 2  # one in the key
    (done,) = of_class(svg, "rect", "done")
    assert done.get("fill") == INK
    assert any("nothing recorded" in one.text for one in said(done_bars("Hours", "h", [])))


def test_a_chance_without_a_range_says_how_to_read_it() -> None:
    bare = Course("left alone", chance=CourseYears((0.1, 0.2)))
    ranged = Course("left alone", chance=CourseYears((0.1, 0.2), (0.05, 0.1), (0.2, 0.4)))
    told, silent = (years_chart([1, 2], [way]) for way in (bare, ranged))
    assert "should be read as orders of magnitude" in told
    assert "orders of magnitude" not in silent

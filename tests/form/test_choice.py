"""The choice of scaffold limbs: the best of every set there is, and each term as it is told."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.form.young import candidate

from limbwright.form.choice import (
    TERMS,
    Candidate,
    best_sets,
    gaps_deg,
    score_set,
)
from limbwright.form.settings import FormSettings

SETTINGS = FormSettings()


def plain_score(members: tuple[Candidate, ...], s: FormSettings) -> float:
    """The score of a set as the page on forming states it, written a second time."""
    k = len(members)
    round_ = sorted(c.bearing_deg % 360 for c in members)
    gaps = [b - a for a, b in zip(round_, [*round_[1:], round_[0] + 360], strict=True)]
    off = sum(abs(g - 360 / k) for g in gaps) / 2
    spread = 1 - (off / (360 - 360 / k) if k > 1 else 0)
    if max(gaps) > s["gap_most"]:
        spread = 0.0
    angle = 0.0
    for c in members:
        up = (c.angle_deg - s["angle_least"]) / (s["angle"] - s["angle_least"])
        down = (s["angle_drooping"] - c.angle_deg) / (s["angle_drooping"] - s["angle_flat"])
        angle += max(0.0, min(1.0, up, down)) / k
    stagger = 1.0
    if k > 1:
        stagger = 0.0
        for i, c in enumerate(members):
            near = min(abs(c.at_m - o.at_m) for j, o in enumerate(members) if j != i)
            stagger += min(1.0, near / s["stagger"]) / k
    thick = [c.diameter_mm for c in members]
    union = sum(
        max(0.0, min(1.0, (1 - c.diameter_mm / c.stem_mm) / (1 - s["thick_share"])))
        for c in members
    )
    wide = max(s["count"] - s["fewest"], s["most"] - s["count"], 1.0) + 1
    count = max(0.0, 1 - abs(k - s["count"]) / wide)
    terms = (spread, angle, stagger, min(thick) / max(thick), union / k, count)
    weights = [s[f"weight.{t}"] for t in TERMS]
    return sum(w * t for w, t in zip(weights, terms, strict=True)) / sum(weights)


@st.composite
def shoots(draw: st.DrawFn, most: int = 9) -> list[Candidate]:
    count = draw(st.integers(1, most))
    number = lambda low, high: draw(st.floats(low, high, allow_nan=False))  # noqa: E731
    return [
        Candidate(
            str(k),
            number(1.8, 2.8),
            number(0.0, 720.0),
            number(20.0, 110.0),
            number(4.0, 20.0),
            number(15.0, 40.0),
            draw(st.integers(0, 9)) == 0,
        )
        for k in range(count)
    ]


@settings(max_examples=60, deadline=None)
@given(shoots(), st.integers(1, 4), st.integers(0, 3))
def test_the_search_finds_the_best_of_every_set_there_is(
    able: list[Candidate], fewest: int, more: int
) -> None:
    most = fewest + more
    forced = {c.name for c in able if c.chosen}
    low, high = max(fewest, len(forced), 1), max(most, len(forced))
    every = [
        score_set(some, SETTINGS)
        for k in range(low, high + 1)
        for some in combinations(able, k)
        if forced <= {c.name for c in some}
    ]
    every.sort(key=lambda s: -s.score)
    found = best_sets(able, SETTINGS, fewest=fewest, most=most)
    assert len(found) == min(len(every), 2)
    for one, other in zip(found, every, strict=False):
        assert one.score == pytest.approx(other.score, abs=1e-9)
    if len(found) == 2:
        assert found[0].names != found[1].names


@settings(max_examples=60, deadline=None)
@given(shoots(6))
def test_the_score_is_the_one_the_page_states(able: list[Candidate]) -> None:
    scored = score_set(able, SETTINGS)
    assert scored.score == pytest.approx(plain_score(tuple(able), SETTINGS), abs=1e-9)
    assert all(-1e-9 <= t <= 1 + 1e-9 for t in scored.terms)


@settings(max_examples=25, deadline=None)
@given(shoots(), st.randoms())
def test_the_order_of_the_shoots_is_no_matter(able: list[Candidate], chance: object) -> None:
    turned = list(able)
    chance.shuffle(turned)  # type: ignore[attr-defined]
    one = best_sets(able, SETTINGS, fewest=1, most=4)
    other = best_sets(turned, SETTINGS, fewest=1, most=4)
    assert [s.score for s in one] == pytest.approx([s.score for s in other])


@settings(max_examples=60, deadline=None)
@given(shoots(7), st.floats(0.0, 360.0))
def test_turning_the_tree_round_changes_nothing(able: list[Candidate], turn: float) -> None:
    turned = [
        Candidate(
            c.name, c.at_m, c.bearing_deg + turn, c.angle_deg, c.diameter_mm, c.stem_mm, c.chosen
        )
        for c in able
    ]
    one, other = score_set(able, SETTINGS), score_set(turned, SETTINGS)
    # a gap of just the widest that is allowed may fall on either side of it in the last digit
    widest = max(gaps_deg([c.bearing_deg for c in able]))
    if abs(widest - SETTINGS["gap_most"]) > 1e-6:
        assert one.score == pytest.approx(other.score, abs=1e-6)


def test_an_even_round_of_four_beats_four_on_one_side() -> None:
    even = [candidate(str(k), 1.85 + 0.15 * k, 90.0 * k) for k in range(4)]
    crowd = [candidate(f"x{k}", 1.9 + 0.15 * k, 10.0 + 20.0 * k) for k in range(4)]
    best = best_sets([*crowd, *even], SETTINGS, fewest=3, most=5)[0]
    assert best.names == ("0", "1", "2", "3")
    assert best.terms == pytest.approx((1.0,) * 6)
    assert best.score == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("changed", "term"),
    [
        ({"bearing_deg": 200.0}, "evenness"),
        ({"angle_deg": 30.0}, "angle"),
        ({"angle_deg": 90.0}, "angle"),
        ({"at_m": 2.14}, "stagger"),
        ({"diameter_mm": 6.0}, "vigour"),
        ({"diameter_mm": 24.0}, "union"),
    ],
)
def test_each_term_falls_for_its_own_reason(changed: dict[str, float], term: str) -> None:
    good = [candidate(str(k), 1.85 + 0.15 * k, 90.0 * k) for k in range(4)]
    worse = [*good[:3], candidate("3", **({"at_m": 2.3, "bearing_deg": 270.0} | changed))]
    before, after = score_set(good, SETTINGS), score_set(worse, SETTINGS)
    k = TERMS.index(term)
    assert after.terms[k] < before.terms[k]
    assert after.score < before.score


def test_a_limb_chosen_before_is_in_every_set_even_where_it_is_a_poor_one() -> None:
    poor = candidate("old", 1.85, 5.0, angle_deg=28.0, chosen=True)
    even = [candidate(str(k), 1.85 + 0.15 * k, 90.0 * k) for k in range(4)]
    for one in best_sets([poor, *even], SETTINGS, fewest=3, most=5):
        assert "old" in one.names


def test_counts_follow_the_settings() -> None:
    able = [candidate(str(k), 1.8 + 0.15 * k, 137.0 * k) for k in range(9)]
    three = FormSettings({"count": 3.0, "most": 3.0})
    eight = FormSettings({"count": 8.0, "most": 8.0, "weight.count": 5.0})
    assert len(best_sets(able, three, fewest=3, most=3)[0].members) == 3
    assert len(best_sets(able, eight, fewest=3, most=8)[0].members) == 8


def test_gaps_go_once_round() -> None:
    assert gaps_deg([350.0, 10.0, 180.0]) == pytest.approx((170.0, 170.0, 20.0))
    assert gaps_deg([45.0]) == (360.0,)
    assert gaps_deg([45.0, 405.0]) == (0.0, 360.0)
    assert gaps_deg([]) == ()

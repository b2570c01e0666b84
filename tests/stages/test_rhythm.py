"""Rests: what may follow what, and every choice worth weighing."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.cuts.weights import Settings
from limbwright.errors import InputError
from limbwright.stages.rhythm import Rhythm, patterns, rhythm
from limbwright.stages.seasons import following, year_of

RULES = st.builds(
    Rhythm,
    hard=st.sampled_from([0.1, 0.2]),
    after_hard=st.sampled_from([0.0, 0.1]),
    running=st.integers(1, 4),
    rest=st.integers(1, 3),
)


def test_a_hard_cut_is_followed_by_a_light_one_or_a_rest() -> None:
    rule = rhythm(Settings(), frail=False)
    for one in patterns(rule, np.full(5, 0.25)):
        for now, then in pairwise(one.tolist()):
            assert now <= 0.20 or then <= 0.10
    assert all(one[0] <= 0.10 for one in patterns(rule, np.full(3, 0.25), before=(0.24,)))


def test_four_seasons_of_cutting_then_a_rest() -> None:
    for one in patterns(rhythm(Settings(), frail=False), np.full(6, 0.15)):
        assert 0.0 in one[:5]
        assert one[0] > 0.0


def test_a_veteran_is_cut_every_fourth_year_at_most() -> None:
    for one in patterns(rhythm(Settings(), frail=True), np.full(6, 0.08)):
        at = np.flatnonzero(one > 0.0)
        assert at[0] == 0
        assert bool((np.diff(at) >= 4).all())


@given(rule=RULES, limit=st.sampled_from([0.08, 0.15, 0.25]), seasons=st.integers(1, 4))
def test_every_way_to_stage_the_doses_has_room_in_one_of_the_choices(
    rule: Rhythm, limit: float, seasons: int
) -> None:
    chosen = patterns(rule, np.full(seasons, limit))
    levels = sorted({0.0, *(d for d in (0.05, rule.after_hard, rule.hard, limit) if d <= limit)})
    for one in product(levels, repeat=seasons):
        if rule.allows(one) and one[0] > 0.0:
            assert any((np.asarray(one) <= choice + 1e-9).all() for choice in chosen)
    assert all(rule.allows(choice.tolist()) for choice in chosen)


@given(
    rule=RULES,
    doses=st.lists(st.sampled_from([0.0, 0.05, 0.1, 0.2, 0.25]), min_size=1, max_size=6),
    before=st.lists(st.sampled_from([0.0, 0.1, 0.25]), max_size=2),
)
def test_many_seasons_at_once_are_judged_as_one_by_one(
    rule: Rhythm, doses: list[float], before: list[float]
) -> None:
    many = np.asarray([doses])
    kept = rule.kept(many, many > 0.0, tuple(before))
    assert bool(kept[0]) == rule.allows([*before, *doses])


def test_rests_are_settings() -> None:
    rule = rhythm(Settings({"rest_years": 2.0, "running_years": 3.0}), frail=False)
    assert (rule.running, rule.rest) == (3, 2)
    assert not rule.allows((0.1, 0.1, 0.1, 0.0, 0.1))
    assert rule.allows((0.1, 0.1, 0.1, 0.0, 0.0, 0.1))


def test_seasons_follow_one_another_by_name() -> None:
    assert following("winter 2026-27", 3) == ("winter 2026-27", "winter 2027-28", "winter 2028-29")
    assert following("summer 2099", 2) == ("summer 2099", "summer 2100")
    assert following("winter 2098-99", 2)[1] == "winter 2099-00"
    assert year_of("winter 2026/27") == 2026
    with pytest.raises(InputError):
        following("next winter", 2)

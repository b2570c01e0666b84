"""Records and plans brought together: each visit to its plan, each response to its work."""

from __future__ import annotations

from datetime import date
from itertools import permutations

import pytest
from tests.learn.records import SEASON, TREE, document, planned, seen, station, visit

from limbwright.learn.season import Planned, season_document, seasons_of


def test_visits_and_responses_find_their_season() -> None:
    later = Planned(TREE, "winter 2028-29", date(2028, 10, 1), document(season="winter 2028-29"))
    visits = [
        visit(season="Winter  2026-27"),
        visit(season="", done_on=date(2028, 12, 3)),
    ]
    answers = [seen(), seen(seen_on=date(2028, 7, 1)), seen(seen_on=date(2029, 8, 1))]
    first, second = seasons_of([planned(), later], visits, answers)
    assert first.season == SEASON
    assert [r.seen_on.year for r in first.responses] == [2027, 2028]
    assert second.season == "winter 2028-29"
    assert second.visits[0].done_on == date(2028, 12, 3)
    assert [r.seen_on.year for r in second.responses] == [2029]


def test_order_does_not_matter() -> None:
    answers = [seen(), seen(seen_on=date(2028, 7, 1)), seen(seen_on=date(2029, 8, 1))]
    found = [seasons_of([planned()], [visit()], list(p)) for p in permutations(answers)]
    assert all(one == found[0] for one in found)


def test_a_plan_of_several_years_is_parted_by_season() -> None:
    years = {
        "tree": TREE,
        "species": "apple",
        "target": {"leaf_now_m2": 90.0, "leaf_m2": 70.0},
        "seasons": [
            {"season": SEASON, "rest": False, "plan": {"cuts": [], "chance_after": 0.1}},
            {"season": "winter 2027-28", "rest": True, "plan": None},
            {"season": "winter 2028-29", "rest": False, "plan": document(chance_after=0.05)},
        ],
    }
    part = season_document(years, "Winter 2028-29")
    assert part is not None
    assert part["chance_after"] == 0.05
    assert "leaf_m2" not in part  # that of the first season alone is known
    rest = season_document(years, "winter 2027-28")
    assert rest is not None
    assert rest["cuts"] == []
    assert season_document(years, "winter 2031-32") is None
    plan = Planned(TREE, SEASON, date(2026, 10, 1), years)
    visits = [visit(), visit(season="winter 2028-29", done_on=date(2029, 1, 5))]
    found = seasons_of([plan], visits, [])
    plans = [one.plan for one in found if one.visits and one.plan]
    assert [one["chance_after"] for one in plans] == [0.1, 0.05]
    assert plans[0]["leaf_m2"] == 90.0
    assert plans[0]["species"] == "apple"


@pytest.mark.parametrize(
    ("said", "done_on", "found"),
    [
        ("", date(2027, 1, 5), SEASON),
        ("Winter 26/27", date(2026, 11, 5), SEASON),
        ("", date(2027, 8, 5), "work of 2027"),
        ("summer 2027", date(2027, 8, 5), "summer 2027"),
        ("", date(2028, 1, 5), "work of 2028"),
    ],
)
def test_a_season_in_other_words_is_known_by_its_day(said: str, done_on: date, found: str) -> None:
    told = seasons_of([planned()], [visit(season=said, done_on=done_on)], [])
    (one,) = [s for s in told if s.visits]
    assert one.season == found
    assert (one.plan is not None) == (found == SEASON)


def test_the_station_is_the_one_before_the_work() -> None:
    asked: list[date] = []

    def on(tree: str, day: date) -> object:
        asked.append(day)
        return station()

    (one,) = seasons_of([planned()], [visit()], [seen()], station_on=on)  # type: ignore[arg-type]
    assert asked == [visit().done_on]
    assert one.species == "apple"


def test_a_response_without_plan_or_visit_is_kept() -> None:
    (one,) = seasons_of([], [], [seen(extension_cm=20.0)])
    assert one.season == ""
    assert one.responses == (seen(extension_cm=20.0),)

"""Records and plans brought together: each visit to its plan, each response to its work."""

from __future__ import annotations

from datetime import date
from itertools import permutations

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
        "chance_before": 0.2,
        "seasons": [
            {"season": SEASON, "cuts": [], "chance_after": 0.1},
            {"season": "winter 2028-29", "cuts": [], "chance_after": 0.05},
        ],
    }
    part = season_document(years, "Winter 2028-29")
    assert part is not None
    assert part["chance_after"] == 0.05
    assert part["species"] == "apple"
    assert season_document(years, "winter 2031-32") is None
    plan = Planned(TREE, SEASON, date(2026, 10, 1), years)
    visits = [visit(), visit(season="winter 2028-29", done_on=date(2029, 1, 5))]
    found = seasons_of([plan], visits, [])
    assert [one.plan["chance_after"] for one in found if one.plan] == [0.1, 0.05]


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

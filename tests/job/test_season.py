"""The season that runs or comes next, by the calendar and by the rules of the place."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from tests.project.holdings import add_text, new
from tests.trade.place_rules import rule

from limbwright.job.gather import gather
from limbwright.job.holding_plan import plan_forms
from limbwright.job.season import next_season
from limbwright.job.tree_years import YearsOrder
from limbwright.model import Site
from limbwright.survey.local_rules import RULE_COLUMNS
from limbwright.trade.species import all_species, species, window

PLUM, APPLE = species("plum"), species("apple")
NORTH, SOUTH = Site(), Site(southern=True)
HEAD = ",".join(RULE_COLUMNS)


@pytest.mark.parametrize(
    ("kind", "site", "today", "season"),
    [
        (APPLE, NORTH, date(2026, 11, 7), "winter 2026-27"),
        (APPLE, NORTH, date(2027, 3, 31), "winter 2026-27"),
        (APPLE, NORTH, date(2027, 4, 1), "winter 2027-28"),
        (APPLE, SOUTH, date(2027, 9, 30), "winter 2027"),
        (APPLE, SOUTH, date(2027, 10, 1), "winter 2028"),
        (PLUM, NORTH, date(2027, 9, 30), "summer 2027"),
        (PLUM, NORTH, date(2027, 10, 1), "summer 2028"),
        (PLUM, SOUTH, date(2027, 3, 31), "summer 2026-27"),
        (PLUM, SOUTH, date(2027, 4, 1), "summer 2027-28"),
    ],
)
def test_the_calendar_tells_the_season_in_whole_months(
    kind: object, site: Site, today: date, season: str
) -> None:
    assert next_season(kind, site, today) == season  # type: ignore[arg-type]


@pytest.mark.parametrize("southern", [False, True])
@pytest.mark.parametrize("kind", all_species(), ids=lambda kind: kind.key)
def test_in_the_months_of_its_window_the_season_runs(kind: object, southern: bool) -> None:
    months = window(kind, southern).months  # type: ignore[arg-type]
    site = Site(southern=southern)
    names = [
        next_season(kind, site, date(2027 + (m < months[0]), m, d))  # type: ignore[arg-type]
        for m in months
        for d in (1, 28)
    ]
    assert len(set(names)) == 1
    after = date(2027 + (months[-1] < months[0]), months[-1] + 1, 1)
    assert next_season(kind, site, after) != names[0]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("site", "kind", "barred", "days"),
    [
        # forbidden until a date: before it and in it the season is still the coming one
        (NORTH, APPLE, ("11-01", "01-31"), {"2026-11-07": "2026-27", "2027-02-20": "2026-27"}),
        (SOUTH, APPLE, ("05-01", "07-31"), {"2027-05-07": "2027", "2027-08-20": "2027"}),
        (NORTH, PLUM, ("05-01", "07-14"), {"2027-05-07": "2027", "2027-08-20": "2027"}),
        (SOUTH, PLUM, ("11-01", "01-14"), {"2026-11-07": "2026-27", "2027-02-20": "2026-27"}),
        # all that is left of this season is forbidden: the next one
        (NORTH, APPLE, ("01-15", "10-31"), {"2027-01-14": "2026-27", "2027-01-15": "2027-28"}),
        (SOUTH, APPLE, ("07-15", "04-30"), {"2027-07-14": "2027", "2027-07-15": "2028"}),
        (NORTH, PLUM, ("07-15", "04-30"), {"2027-07-14": "2027", "2027-07-15": "2028"}),
        (SOUTH, PLUM, ("01-15", "10-31"), {"2027-01-14": "2026-27", "2027-01-15": "2027-28"}),
    ],
)
def test_a_rule_that_forbids_moves_the_season(
    site: Site, kind: object, barred: tuple[str, str], days: dict[str, str]
) -> None:
    rules = (rule("forbid", *barred),)
    for day, season in days.items():
        told = next_season(kind, site, date.fromisoformat(day), rules)  # type: ignore[arg-type]
        assert told.split()[1] == season


def test_days_a_rule_adds_belong_to_the_season_they_are_nearest_to() -> None:
    late, early = (rule("allow", "03-01", "05-15"),), (rule("allow", "09-15", "11-01"),)
    assert next_season(APPLE, NORTH, date(2027, 5, 10)) == "winter 2027-28"
    assert next_season(APPLE, NORTH, date(2027, 5, 10), late) == "winter 2026-27"
    assert next_season(APPLE, NORTH, date(2027, 5, 16), late) == "winter 2027-28"
    assert next_season(APPLE, NORTH, date(2027, 10, 10), early) == "winter 2027-28"


def test_where_rules_leave_no_day_or_do_not_concern_it_the_calendar_tells() -> None:
    today = date(2027, 1, 20)
    always = (rule("forbid", "01-01", "12-31"),)
    assert next_season(APPLE, NORTH, today, always) == "winter 2026-27"
    others = (
        rule("forbid", "01-01", "12-31", kind="plum"),
        rule("forbid", "01-01", "12-31", job="planting"),
    )
    assert next_season(APPLE, NORTH, today, others) == "winter 2026-27"
    tropics = Site(latitude_deg=4.0)
    assert next_season(APPLE, tropics, today, (rule("forbid", "01-01", "03-31"),)) == (
        "winter 2026-27"
    )


def test_a_rule_in_the_project_moves_what_reports_and_forming_tell(tmp_path: Path) -> None:
    project = new(tmp_path)
    add_text(
        project,
        "stations.csv",
        "station,species,status,girth_cm\n1,apple,living,150\n2,plum,living,90\n3,apple,new,\n",
    )
    add_text(
        project,
        "shoots.csv",
        "station,shoot,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg\n"
        "3,leader,,,18,1.6,,90\n",
    )
    today = date(2027, 1, 20)
    order = YearsOrder(site=Site(), today=today)
    before = gather(project.path, today=today).first_season
    assert before == {"pome": "winter 2026-27", "stone": "summer 2027"}
    plain = plan_forms(project, order)[0][0]
    assert plain.season == "winter 2026-27"
    rows = "all,pome,01-15,02-10,forbid,Invented Scheme,Elsewhere,2027,,\n"
    add_text(project, "rules.csv", f"{HEAD}\n{rows}")
    moved = plan_forms(project, order)[0][0]
    assert moved.window.startswith("1 November to 14 January and 11 February to 15 March")
    assert "Invented Scheme" in moved.window
    assert gather(project.path, today=today).first_season == before
    add_text(project, "rules.csv", f"{HEAD}\n{rows.replace('02-10', '10-31')}")
    assert plan_forms(project, order)[0][0].season == "winter 2027-28"
    after = gather(project.path, today=today).first_season
    assert after == {"pome": "winter 2027-28", "stone": "summer 2027"}

"""What a holding's report counts: stations, seasons, hours; each held against the records."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from tests.report.invented_holding import a_visit, first_season, invented_report
from tests.report.kept_plans import form_document, season_document, years_document

from limbwright.errors import InputError
from limbwright.growth.ranges import Range
from limbwright.learn.look_back import look_back
from limbwright.learn.season import Planned, seasons_of
from limbwright.model import CutDone, StationRecord, Visit
from limbwright.model.numbered import in_order
from limbwright.report.book_wild import ribbon_picture, wildlife_words
from limbwright.report.book_words import (
    and_list,
    figure,
    hours_words,
    money_words,
    places,
    unmarked,
)
from limbwright.report.book_works import LATER, TreePlan, Work, group_of, season_key, works_of
from limbwright.report.holding_report import HoldingReport
from limbwright.report.tables_xlsx import Sheet, plan_sheets, write_csv, write_workbook


def living(report: HoldingReport, species: str = "") -> StationRecord:
    """Return the first living tree, of a species where one is named."""
    return next(s for s in report.stations if s.status == "living" and species in ("", s.species))


def of_tree(report: HoldingReport, tree: str) -> list[Work]:
    return [w for w in report.works if w.tree == tree]


@given(count=st.integers(1, 60))
@settings(max_examples=15, deadline=None)
def test_what_stands_is_counted_station_by_station(count: int) -> None:
    report = invented_report(count)
    whole = report.baselines[0]
    status = Counter(s.status for s in report.stations)
    live = [s for s in report.stations if s.status in ("living", "new")]
    assert whole.stations == count
    assert (whole.dead, whole.gaps, whole.stumps) == (status["dead"], status["gap"], 0)
    assert whole.living == len(live)
    assert whole.occupancy == pytest.approx(len(live) / count)
    for counts in (whole.species, whole.ages, whole.condition):
        assert sum(counts.values()) == len(live)
    if len(report.baselines) > 1:
        assert sum(b.stations for b in report.baselines[1:]) == count


@given(count=st.integers(1, 80), seasons=st.integers(1, 8))
@settings(max_examples=20, deadline=None)
def test_every_station_comes_once_and_no_hour_is_lost(count: int, seasons: int) -> None:
    report = invented_report(count, seasons=seasons)
    assert Counter(w.tree for w in report.works) == Counter(s.tree for s in report.stations)
    for pick in ("value", "low", "high"):
        summed = sum(getattr(one.hours, pick) for one in report.sums)
        told = sum(getattr(n.hours, pick if pick != "value" else "value") for n in report.needs)
        assert summed == pytest.approx(told)


def test_what_presses_comes_first_and_what_has_five_years_is_shared_out() -> None:
    report = invented_report(150)
    urgency = {n.tree: n.urgency.value for n in report.needs}
    kinds = {n.tree: n.kind.value for n in report.needs}
    left = ("leave for wildlife", "leave standing")
    pome = report.season_names[0::2]
    for work in report.works:
        if kinds[work.tree] in left:
            continue
        if urgency[work.tree] in ("now", "this season"):
            assert work.season in first_season.values()
        if urgency[work.tree] == "within two years":
            assert work.season in ("winter 2027-28", "summer 2028")
        if urgency[work.tree] == "when there is time":
            assert work.season == ""
    shared = [sum(w.hours.value for w in report.works if w.season == name) for name in pome[2:]]
    most = max(w.hours.value for w in report.works)
    # each season's load is within one tree of the others
    assert max(shared) - min(shared) <= most


def test_a_plan_over_years_speaks_for_its_tree() -> None:
    bare = invented_report(30)
    tree = living(bare, "apple").tree
    plan = TreePlan(tree, "years", "winter 2026-27", years_document(tree))
    report = replace(bare, plans=(plan,))
    works = of_tree(report, tree)
    assert [w.season for w in works] == ["winter 2026-27", "winter 2027-28", "winter 2028-29"]
    assert [w.rest for w in works] == [False, True, False]
    assert [w.dose for w in works] == [0.10, 0.0, 0.2]
    assert [w.hours.value for w in works] == pytest.approx([1.0, 0.0, 2.0])
    assert all(w.hours.low < w.hours.value < w.hours.high for w in works if not w.rest)
    assert works[0].cuts == 2
    assert works[0].highest_m == 5.5
    assert works[0].why == "The dose is used up."
    first = next(s for s in report.sums if s.season == "winter 2026-27")
    assert first.cuts == 2


def test_plans_of_seasons_gone_by_do_not_count() -> None:
    bare = invented_report(30)
    tree = living(bare, "apple").tree
    gone = TreePlan(tree, "season", "winter 2024-25", season_document(tree, "winter 2024-25"))
    assert of_tree(replace(bare, plans=(gone,)), tree)[0].basis == "walk"
    later = replace(bare, first_season={"pome": "winter 2027-28", "stone": "summer 2028"})
    years = TreePlan(tree, "years", "winter 2026-27", years_document(tree))
    works = of_tree(replace(later, plans=(years,)), tree)
    assert [w.season for w in works] == ["winter 2027-28", "winter 2028-29"]


def test_a_young_tree_goes_by_its_shoots() -> None:
    bare = invented_report(90)
    tree = next(s for s in bare.stations if s.status == "new" and s.species == "apple").tree
    plan = TreePlan(tree, "form", "winter 2026-27", form_document(tree))
    now, ahead = of_tree(replace(bare, plans=(plan,)), tree)
    assert now.hours == Range(0.3, 0.2, 0.5)
    assert now.cuts == 2
    assert now.what == "Choosing the scaffold. Shoot s1: shorten; shoot s2: take out."
    assert (ahead.season, ahead.cuts, ahead.hours) == ("winter 2027-28", 4, Range(0.4, 0.2, 0.6))


def test_shoots_told_alike_stand_together_and_the_highest_cut_is_known() -> None:
    bare = invented_report(90)
    tree = next(s for s in bare.stations if s.status == "new" and s.species == "apple").tree
    rows = [
        {"order": 1, "shoot": "leader", "what": "Shorten to shoot 3", "cut_at_m": 2.4},
        {"order": 2, "shoot": "1", "what": "Take out to the collar", "cut_at_m": 0.6},
        {"order": 3, "shoot": "2", "what": "Spread to 55 degrees", "cut_at_m": None},
        {"order": 4, "shoot": "4", "what": "Take out to the collar", "cut_at_m": 0.9},
    ]
    document = {**form_document(tree), "rows": rows}
    plan = TreePlan(tree, "form", "winter 2026-27", document)
    now, _ = of_tree(replace(bare, plans=(plan,)), tree)
    assert now.what == (
        "Choosing the scaffold. Leader: shorten to shoot 3; shoots 1 and 4: take out to the "
        "collar; shoot 2: spread to 55 degrees."
    )
    assert now.highest_m == 2.4


def test_forming_of_stone_fruit_comes_in_its_year_under_the_season_s_name() -> None:
    bare = invented_report(90)
    tree = next(s for s in bare.stations if s.status == "new" and group_of(s.species) == "stone")
    document = {**form_document(tree.tree), "season": "spring or summer 2027"}
    document["window"] = "1 April to 31 August, on a dry day. By other accounts longer."
    document["ahead"] = [{**document["ahead"][0], "year": 2028}]
    plan = TreePlan(tree.tree, "form", "spring or summer 2027", document)
    report = replace(bare, plans=(plan,))
    works = of_tree(report, tree.tree)
    assert [w.season for w in works] == ["summer 2027", "summer 2028"]
    assert works[0].why.endswith("When: 1 April to 31 August, on a dry day.")
    told = {*report.season_names, LATER}
    assert {w.season for w in report.works} <= told
    assert sum(len(one.works) for one in report.sums) == len(report.works)


def test_work_that_was_done_is_not_planned_again() -> None:
    bare = invented_report(30)
    tree = living(bare, "apple").tree
    plan = TreePlan(tree, "season", "winter 2026-27", season_document(tree))

    def with_visit(done: Visit) -> list[Work]:
        told = Planned(tree, plan.season, date(2026, 11, 1), plan.document)
        looked = look_back(seasons_of([told], [done], []))
        report = replace(bare, plans=(plan,), visits=(done,), looked_back=looked)
        return [w for w in of_tree(report, tree) if w.season == "winter 2026-27"]

    whole = a_visit(tree, cuts=(CutDone(1, "a"), CutDone(2, "b")))
    assert with_visit(whole) == []
    (begun,) = with_visit(a_visit(tree))
    assert begun.what.startswith("Begun on 20 January 2027, see what is left.")


def test_seasons_stand_in_order_of_time_in_both_halves_of_the_world() -> None:
    north = ["winter 2026-27", "summer 2027", "winter 2027-28", "summer 2028"]
    south = ["summer 2026-27", "winter 2027", "summer 2027-28", "winter 2028"]
    for names in (north, south):
        assert sorted((names[k] for k in (2, 0, 3, 1)), key=season_key) == names
    report = invented_report(40)
    works = works_of(report.needs, (), {"pome": "winter 2027", "stone": "summer 2026-27"}, 2)
    assert {w.season for w in works} <= {*south[:3], "", "winter 2028"}


def test_words_of_figures() -> None:
    assert hours_words(Range(4.24, 3.0, 6.0)) == "4.2 h (3.0 to 6.0)"
    assert hours_words(Range(42.4, 30.0, 61.0)) == "42 h (30 to 61)"
    assert (
        money_words(Range(100.0, 50.0, 200.0), 34.0, "EUR")
        == "EUR 3\u202f400 (1\u202f700 to 6\u202f800)"
    )
    assert and_list(["a", "b", "c", "d"], 2) == "a, b and 2 more"
    assert places(["Far/2", "Far/10", "Near/1"]) == "Far: 2 and 10; Near: 1"
    assert unmarked("torn; Invented example", "invented example") == "torn"
    assert unmarked("invented example", "invented example") == ""
    assert unmarked("a; b", "") == "a; b"
    assert [figure(v) for v in (57.3, 2.14, 0.285, 3.0, 100.0)] == ["57", "2.1", "0.28", "3", "100"]
    assert sorted(["10", "9", "9a", "2"], key=in_order) == ["2", "9", "9a", "10"]


def test_faults_are_told() -> None:
    report = invented_report(3)
    with pytest.raises(InputError, match="no stations yet"):
        replace(report, stations=(), needs=())
    with pytest.raises(InputError, match="Give 1 to 10"):
        replace(report, seasons=11)
    with pytest.raises(InputError, match="cannot be"):
        replace(report, rate=float("nan"))


def test_sheets_hold_the_same_figures_and_run_no_formula(tmp_path: Path) -> None:
    report = invented_report(25, rate=34.0, currency="EUR")
    odd = replace(report.stations[0], faults="=1+1", features="'quoted", note="")
    report = replace(report, stations=(odd, *report.stations[1:]))
    path = write_workbook(plan_sheets(report), tmp_path / "plan.xlsx")
    book = load_workbook(path)
    assert [sheet.freeze_panes for sheet in book] == ["A2"] * len(book.sheetnames)
    sheet = book["stations"]
    head = [c.value for c in sheet[1]]
    faults = sheet.cell(2, head.index("faults") + 1)
    assert (faults.value, faults.data_type) == ("=1+1", "s")
    assert sheet.max_row == 1 + len(report.stations)
    rows = list(book["seasons"].iter_rows(min_row=2, values_only=True))
    for row, one in zip(rows, report.sums, strict=True):
        assert row[4] == pytest.approx(one.hours.value, abs=0.01)
        assert row[7] == pytest.approx(34.0 * one.hours.value, abs=0.01)
    assert book["work"].max_row == 1 + len(report.works)


def test_a_table_as_csv_is_guarded(tmp_path: Path) -> None:
    path = write_csv(Sheet("t", ("a", "b"), (("=cmd", 1.5), (None, "x"))), tmp_path / "t.csv")
    assert path.read_text("utf-8") == "a,b\n'=cmd,1.5\n,x\n"


def test_dead_trees_are_told_once_and_what_holds_everywhere_once() -> None:
    report = invented_report(120)
    told = wildlife_words(report)
    dead = {s.tree for s in report.stations if s.status == "dead"}
    assert dead
    lists = [line for one in told["rules"] for line in one["stand"]]
    assert len(lists) >= 1
    for tree in dead:
        _, _, number = tree.rpartition("/")
        assert not any(f"{number})" in line and "dead" in line for line in told["left"])
    everywhere = "Lay fallen wood in piles"
    assert everywhere in told["shared"]
    assert not any(everywhere in " ".join(one["reasons"]) for one in told["rules"])


def test_the_ribbon_and_the_table_of_seasons_count_the_same_trees() -> None:
    report = invented_report(120)
    first = report.first_season["pome"]
    # a look at a dead stone fruit tree falls into winter
    trees = next(s.trees for s in report.sums if s.season == first)
    assert f"{first}: {trees} trees" in ribbon_picture(report)

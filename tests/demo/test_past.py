"""What the demo's two years of work hold: whole, marked, and with something known to learn."""

from math import exp, log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.demo import InventedHolding, make_holding, write_holding
from limbwright.demo.names import MARK
from limbwright.demo.past import HOURS_FACTOR, SEASONS
from limbwright.learn.look_back import LookBack, look_back
from limbwright.learn.season import seasons_of
from limbwright.survey.record_tables import read_records
from limbwright.trade.species import species
from limbwright.trade.windows import group_window


def seen(holding: InventedHolding) -> LookBack:
    then = {s.tree: s for s in holding.past.stations}
    seasons = seasons_of(
        holding.past.plans,
        holding.past.visits,
        holding.past.responses,
        station_on=lambda tree, day: then.get(tree),
    )
    return look_back(seasons)


def test_some_twenty_trees_were_worked_on_in_two_years_each_within_its_season(
    holding: InventedHolding,
) -> None:
    past = holding.past
    now = {s.tree: s for s in holding.stations}
    assert 20 <= len(past.visits) <= 30
    assert {v.season for v in past.visits} == {s.words for s in SEASONS}
    assert len({v.who for v in past.visits}) == 2
    for visit in past.visits:
        kind = species(now[visit.tree].species)
        assert visit.done_on.month in group_window(kind.group)
        assert str(visit.done_on.year)[2:] in visit.season
        assert (visit.hours or 0.0) > 0.0
        assert (visit.brash_hours or 0.0) > 0.0


def test_every_visit_has_its_plan_made_before_and_within_its_limits(
    holding: InventedHolding,
) -> None:
    plans = {(p.tree, p.season): p for p in holding.past.plans}
    assert len(plans) == len(holding.past.visits)
    for visit in holding.past.visits:
        plan = plans[visit.tree, visit.season]
        told = plan.document
        assert (plan.made_on or visit.done_on) < visit.done_on
        assert 0.0 < told["dose"] <= told["dose_limit"]
        assert told["wound_share"] <= told["wound_limit"]
        assert 0.0 < told["chance_after"] < told["chance_before"] < 1.0
        assert told["hours"] == pytest.approx(sum(c["hours"] for c in told["cuts"]), abs=0.01)
        assert [c["order"] for c in told["cuts"]] == list(range(1, len(told["cuts"]) + 1))
        rows = {c["order"]: c["limb"] for c in told["cuts"]}
        ticked = {c.order: c.limb for c in visit.cuts if c.order}
        assert ticked == rows


def test_limbs_taken_off_do_not_stand_today(holding: InventedHolding) -> None:
    stands = {(s.station.tree, x.limb) for s in holding.surveys() for x in s.limbs}
    for visit in holding.past.visits:
        gone = [c.limb for c in visit.cuts if c.cut == "remove" and c.done != "no"]
        assert not any((visit.tree, limb) in stands for limb in gone)
    lost = [(r.tree, limb) for r in holding.past.responses for limb in r.limbs_lost]
    assert 1 <= len(lost) <= 2
    assert not stands & set(lost)


def test_all_of_the_past_is_marked(holding: InventedHolding) -> None:
    past = holding.past
    assert all(MARK in one.note for one in past.stations)
    assert all(MARK in one.note for one in past.visits)
    assert all(MARK in one.cuts[0].note for one in past.visits)
    assert all(MARK in one.note for one in past.responses)
    assert all(MARK in one.note for one in past.photos)
    assert all(one.document["marked"] == MARK for one in past.plans)


def test_the_walk_before_is_of_the_same_stations_two_years_younger(
    holding: InventedHolding,
) -> None:
    assert [s.tree for s in holding.past.stations] == [s.tree for s in holding.stations]
    for then, now in zip(holding.past.stations, holding.stations, strict=True):
        assert (then.x, then.y) == (now.x, now.y)
        if now.planted is not None and now.planted > 2024:
            assert then.status == "gap"
        if then.girth_cm is not None and now.girth_cm is not None:
            assert then.girth_cm <= now.girth_cm
    worked = {v.tree for v in holding.past.visits}
    both = zip(holding.past.stations, holding.stations, strict=True)
    for then, now in both:
        if now.tree in worked and then.height_m and now.height_m:
            assert then.height_m > now.height_m


def test_looking_back_compares_every_visit_and_nothing_is_left_over(
    holding: InventedHolding,
) -> None:
    found = seen(holding)
    assert len(found.works) == len(holding.past.visits)
    assert all(work.ticked for work in found.works)
    assert not [note for _, note in found.notes]
    what = {one.what for one in found.compared}
    assert {"hours in the tree", "hours for the brash", "watershoots"} <= what
    outcomes = {cut.outcome for work in found.works for cut in work.cuts}
    assert {"made", "not made"} <= outcomes


def test_hours_differ_from_the_forecast_by_the_factor_stated() -> None:
    logs = [
        log(row.found / row.base)
        for seed in range(3, 8)
        for row in seen(make_holding(seed)).compared
        if row.what == "hours in the tree"
    ]
    assert len(logs) >= 100
    # 0.25 of scatter over some 120 visits: two standard errors are 5 %, rounding to quarters beside
    assert exp(sum(logs) / len(logs)) == pytest.approx(HOURS_FACTOR, rel=0.07)


@given(st.integers(0, 10_000))
@settings(max_examples=3, deadline=None)
def test_any_seed_gives_records_that_read_back_without_a_fault(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    from limbwright.survey import read_survey

    holding = make_holding(seed)
    folder = tmp_path_factory.mktemp("survey")
    stations, limbs = write_holding(holding, folder)
    survey = read_survey(limbs, stations)
    assert [str(f) for f in survey.faults if f.severity == "error"] == []
    tables = [folder / f"{name}.csv" for name in ("visits", "cuts", "responses", "photos")]
    records = read_records(tables)
    assert [str(f) for f in records.faults] == []
    assert records.visits == holding.past.visits
    assert records.responses == holding.past.responses
    assert records.photos == holding.past.photos
    assert all((folder / photo.file).stat().st_size > 0 for photo in records.photos)
    at = [(s.x or 0.0, s.y or 0.0) for s in holding.stations]
    near = [(a, b) for k, a in enumerate(at) for b in at[:k] if abs(a[0] - b[0]) < 3.0]
    assert all(abs(a[1] - b[1]) >= 3.0 for a, b in near)

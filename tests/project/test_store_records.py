"""The model in the project file: what is written is read back, the latest survey of each tree."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.model import (
    CutDone,
    Faults,
    Holding,
    LimbRecord,
    Orchard,
    Photo,
    Response,
    ShootRecord,
    Site,
    StationRecord,
    TreeSurvey,
    Visit,
    YoungTree,
)
from limbwright.project import plans as kept
from limbwright.project import records, surveys
from limbwright.project.store import Counts, Project
from limbwright.trade.seasons.days import YearDay
from limbwright.trade.seasons.local import LocalRule

CORNERS = ((0.0, 0.0), (120.0, 0.0), (120.0, 80.0), (0.0, 80.0), (0.0, 0.0))
INVENTED = Holding(
    "Hollin Bank",
    "A. Marl",
    Site("Marl Hill", 23.5, "III", 40.0, None, True, -41.25, 0.55, 9.5, 12.0),
    "EPSG:2193",
    ("keep the old trees standing", "fruit for juice"),
    "invented example",
    (Orchard("Kiln Piece", CORNERS, "sheep", "by the lane", True, "wet below"),),
    "an invented place",
)


@pytest.fixture
def project(tmp_path: Path) -> Iterator[Project]:
    with Project.create(tmp_path / "hollin.gpkg", INVENTED) as made:
        yield made


def test_the_holding_is_read_as_it_was_made(project: Project) -> None:
    assert records.holding(project) == INVENTED


def test_a_holding_of_nothing_but_a_name_keeps_its_defaults(tmp_path: Path) -> None:
    with Project.create(tmp_path / "b.gpkg", Holding("Hollin Bank")) as project:
        assert records.holding(project) == Holding("Hollin Bank")


def test_a_changed_holding_keeps_orchards_it_does_not_name(project: Project) -> None:
    new = Holding("Hollin Bank", "B. Marl", orchards=(Orchard("Long Acre", (), "cattle"),))
    assert records.save_holding(project, new) == Counts(1, 1, 0)
    held = records.holding(project)
    assert (held.owner, held.crs) == ("B. Marl", "EPSG:2193")
    assert [o.name for o in held.orchards] == ["Kiln Piece", "Long Acre"]
    with pytest.raises(InputError, match="have positions"):
        records.save_holding(project, Holding("Hollin Bank", crs="EPSG:27700"))


def test_an_orchard_known_by_its_stations_alone_is_one(project: Project) -> None:
    records.save_stations(project, [StationRecord("1", "Long Acre"), StationRecord("2")])
    assert [o.name for o in records.orchards(project)] == ["Kiln Piece", "Long Acre"]


def test_a_boundary_that_is_none_is_told(project: Project) -> None:
    with pytest.raises(InputError, match="Long Acre has fewer than three points"):
        records.save_orchards(project, [Orchard("Long Acre", ((0.0, 0.0), (1.0, 1.0)))])


WORDS = st.text("abc é/'\"", max_size=6)
NUMBER = st.none() | st.floats(-1e6, 1e6)
STATIONS = st.builds(
    StationRecord,
    station=st.text("abc123", min_size=1, max_size=3),
    orchard=st.sampled_from(["Kiln Piece", "Long Acre", ""]),
    species=st.sampled_from(["apple", "perry pear", ""]),
    cultivar=WORDS,
    status=st.sampled_from(["living", "dead", "stump", "gap", "new"]),
    planted=st.none() | st.integers(1700, 2100),
    girth_cm=NUMBER,
    height_m=NUMBER,
    spread_ns_m=NUMBER,
    lean_bearing_deg=NUMBER,
    condition=st.sampled_from(["good", "fair", "poor", "dead", ""]),
    dead_pct=NUMBER,
    note=WORDS,
    extra=st.dictionaries(st.text("ab ", min_size=1, max_size=3), WORDS, max_size=2),
    file=WORDS,
    row=st.integers(0, 99),
)


def test_any_station_is_read_as_it_was_written(project: Project) -> None:
    @settings(max_examples=30, deadline=None)
    @given(st.lists(STATIONS, max_size=5, unique_by=lambda s: (s.orchard, s.station)))
    def check(new: list[StationRecord]) -> None:
        records.save_stations(project, new)
        found = records.stations(project)
        assert sorted(found, key=lambda s: s.tree) == sorted(new, key=lambda s: s.tree)
        project.remove("stations", [(s.orchard, s.station) for s in new])

    check()


def test_stations_come_in_the_order_one_walks(project: Project) -> None:
    names = ["10", "9", "2b", "2a", "100"]
    records.save_stations(project, [StationRecord(n, "Kiln Piece", x=1.0, y=2.0) for n in names])
    records.save_stations(project, [StationRecord("1", "Long Acre")])
    found = [s.station for s in records.stations(project, "Kiln Piece")]
    assert found == ["2a", "2b", "9", "10", "100"]
    assert records.stations(project)[-1].tree == "Long Acre/1"


def limb(name: str, parent: str = "", **values: object) -> LimbRecord:
    taped = {"station": "1", "limb": name, "parent": parent, "diameter_mm": 90.0, "length_m": 2.5}
    return LimbRecord(**taped | values)  # type: ignore[arg-type]


def survey(project: Project, number: int, kind: str, day: str) -> None:
    project.put("surveys", [{"survey": number, "kind": kind, "taken_on": day, "who": "B. Marl"}])


def test_the_latest_limbs_of_each_tree_count(project: Project) -> None:
    one = StationRecord("1", "Kiln Piece", "apple", girth_cm=120.0)
    two = StationRecord("2", "Kiln Piece")
    records.save_stations(project, [one, two])
    old = (limb("stem"), limb("2", "stem", at_m=1.9), limb("10", "stem", union="included"))
    new = (
        limb("stem", diameter_mm=400.0),
        limb("10", "stem", at_m=2.0, bearing_deg=0.0, crown=0.0, keep="owl", extra={"moss": "y"}),
    )
    other = (limb("stem", station="2", species="pear"),)
    survey(project, 1, "limbs", "2025-02-01")
    survey(project, 2, "limbs", "2026-02-01")
    survey(project, 3, "limbs", "2024-02-01")
    surveys.save_limbs(project, 1, [TreeSurvey(one, old), TreeSurvey(two, other)])
    surveys.save_limbs(project, 2, [TreeSurvey(one, new)])
    surveys.save_limbs(project, 3, [TreeSurvey(one, old[:1])])
    first, second = surveys.surveys(project)
    assert first == TreeSurvey(one, new)
    assert (second.limbs, second.station.species) == (other, "pear")
    assert surveys.surveys(project, date(2025, 12, 31))[0].limbs == old
    assert surveys.surveys(project, date(2020, 1, 1)) == ()
    assert surveys.latest(project, "limbs") == {"Kiln Piece/1": 2, "Kiln Piece/2": 1}
    assert [s.number for s in surveys.surveys_taken(project, "limbs")] == [3, 1, 2]


def test_a_tree_whose_station_is_gone_still_has_its_limbs(project: Project) -> None:
    survey(project, 1, "limbs", "2025-02-01")
    gone = StationRecord("1", "Kiln Piece")
    surveys.save_limbs(project, 1, [TreeSurvey(gone, (limb("stem"),))])
    assert surveys.surveys(project)[0].station == gone


def test_young_trees_and_walks_are_read_as_they_were_found(project: Project) -> None:
    station = StationRecord("7", "Kiln Piece", "plum", status="new", x=1.0, y=2.0)
    records.save_stations(project, [station])
    survey(project, 1, "shoots", "2026-01-15")
    survey(project, 2, "walk", "2026-01-15")
    shoots = (
        ShootRecord("7", "leader", length_m=2.25, grown_cm=55.0),
        ShootRecord(
            "7",
            "b",
            "leader",
            1.75,
            0.5,
            None,
            9.0,
            0.0,
            40.0,
            "diseased",
            "",
            "x",
            {"buds": "9"},
            "shoots.csv",
            3,
        ),
    )
    surveys.save_shoots(project, 1, [YoungTree(station, shoots)])
    assert surveys.young_trees(project) == (YoungTree(station, shoots),)
    as_found = StationRecord("7", "Kiln Piece", "plum", status="new", note="then")
    surveys.save_walk(project, 2, [as_found])
    assert surveys.walk(project, 2) == (as_found,)


CUTS = (
    CutDone(1, "3", "remove", "yes"),
    CutDone(2, "5", "shorten", "other", 1.25, 60.0, "further out"),
    CutDone(0, "9", "remove", "yes", note="torn"),
)
VISIT = Visit("Kiln Piece/1", "winter 2026-27", date(2027, 1, 9), "crew", 3.5, None, CUTS, "a nest")


def test_visits_are_read_as_they_were_written_and_replaced_by_day(project: Project) -> None:
    later = Visit("Kiln Piece/1", "winter 2026-27", date(2027, 1, 10), cuts=CUTS[:1])
    other = Visit("Kiln Piece/10", "summer 2027", date(2027, 7, 1), hours=0.0)
    assert records.save_visits(project, [other, later, VISIT]) == Counts(3, 0, 0)
    assert records.visits(project) == (VISIT, later, other)
    assert records.visits(project, season="summer 2027") == (other,)
    assert records.save_visits(project, [VISIT]) == Counts(0, 0, 1)
    shorter = Visit(VISIT.tree, VISIT.season, VISIT.done_on, cuts=CUTS[1:])
    records.save_visits(project, [shorter])
    assert records.visits(project, tree="Kiln Piece/1") == (shorter, later)
    project.undo()
    assert records.visits(project, tree="Kiln Piece/1") == (VISIT, later)


def test_responses_and_photos_are_read_as_they_were_written(project: Project) -> None:
    seen = Response(
        "Kiln Piece/1",
        date(2027, 8, 1),
        "B. Marl",
        31,
        90.0,
        22.5,
        121.0,
        80.0,
        9.0,
        "fair",
        ("5", "6"),
        "healthy",
    )
    bare = Response("Kiln Piece/2", date(2027, 8, 1))
    records.save_responses(project, [bare, seen])
    assert records.responses(project) == (seen, bare)
    photo = Photo("Kiln Piece/1", "before.jpg", date(2027, 1, 9), "before", 270.0, "from the gate")
    copy = Photo("Kiln Piece/2", "copy.jpg", date(2027, 1, 9))
    records.save_photos(project, [photo])
    assert records.picture(project, photo) is None
    for one in (photo, copy):
        records.save_picture(project, one, b"\xff\xd8 a picture")
    assert records.photos(project) == (photo, copy)
    assert records.picture(project, copy) == b"\xff\xd8 a picture"
    assert len(project.rows("pictures")) == 1
    assert project.rows("pictures")[0]["media_type"] == "image/jpeg"


def save(project: Project, cuts: object, settings_sha256: str = "s") -> kept.StoredPlan:
    return kept.save_plan(
        project,
        "Kiln Piece/1",
        "winter 2026-27",
        "season",
        {"cuts": cuts},
        made_on=date(2026, 11, 27),
        version="0.1",
        settings_sha256=settings_sha256,
    )


def test_an_agreed_plan_is_never_overwritten(project: Project) -> None:
    assert save(project, [1]).edition == 1
    proposed = save(project, (1, 2))
    assert (proposed.edition, proposed.document) == (1, {"cuts": [1, 2]})
    agreed = kept.set_plan_status(project, proposed, "agreed")
    assert agreed.status == "agreed"
    assert save(project, [1, 2]) == agreed
    second = save(project, [3])
    assert (second.edition, second.status) == (2, "proposed")
    assert save(project, [4]).edition == 2
    assert [p.edition for p in kept.plans(project)] == [2]
    assert kept.plans(project, status="agreed") == (agreed,)
    assert [p.document for p in kept.plans(project, every=True)] == [
        {"cuts": [1, 2]},
        {"cuts": [4]},
    ]


def test_a_plan_under_other_settings_is_another_plan(project: Project) -> None:
    kept.set_plan_status(project, save(project, [1]), "done")
    assert save(project, [1], settings_sha256="t").edition == 2


def test_settings_and_rules_are_kept_with_where_they_come_from(project: Project) -> None:
    setting = kept.Setting("dose_weak", 0.1, "learnt from 12 trees", date(2027, 9, 1), "was 0.15")
    kept.save_setting(project, setting)
    assert kept.settings(project) == {"dose_weak": setting}
    rule = LocalRule(
        "all",
        "stone",
        YearDay(11, 1),
        YearDay(3, 10),
        "forbid",
        "an invented scheme",
        "Marl Hill",
        "2026",
        "its leaflet",
        "no cutting",
    )
    kept.save_rules(project, [rule])
    assert kept.rules(project) == (rule,)
    project.put(
        "rules",
        [
            {n: getattr(rule, n) for n in ("species", "scheme", "place")}
            | {"job": "all", "first_day": "13-01", "last_day": "03-10"}
        ],
    )
    faults = Faults()
    assert kept.rules(project, faults) == (rule,)
    assert any("rules" in f.file and f.column == "first_day" for f in faults)

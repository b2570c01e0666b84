"""What a person gets from the demo: an invented survey that is whole, true and varied."""

import csv
from collections import defaultdict
from itertools import combinations

import numpy as np
import shapely

from limbwright.demo import make_holding, write_holding
from limbwright.demo.axes import rubbing_pairs
from limbwright.demo.names import MARK
from limbwright.form.plan import form_plan
from limbwright.needs.need import needs


def trees_of(holding):
    trees = defaultdict(list)
    for limb in holding.limbs:
        trees[limb.station].append(limb)
    return trees


def test_same_seed_gives_the_same_holding_and_another_seed_another():
    made = make_holding(5)
    assert make_holding(5) == made
    assert make_holding(6).limbs != made.limbs


def taped(holding):
    trees = set(trees_of(holding))
    return [s for s in holding.stations if s.station in trees]


def test_it_has_three_orchards_of_some_150_stations_of_all_kinds(holding):
    assert 145 <= len(holding.stations) <= 160
    names = [one.name for one in holding.place.orchards]
    assert len(names) == 3
    assert {s.orchard for s in holding.stations} == set(names)
    species = {"apple", "pear", "perry pear", "plum", "damson", "gage", "cherry"}
    assert {s.species for s in holding.stations if s.status == "living"} == species
    assert {s.status for s in holding.stations} == {"living", "new", "dead", "gap", "stump"}
    assert len({s.station for s in holding.stations}) == len(holding.stations)
    assert 20 <= len(holding.surveys()) <= 30
    assert [t.station for t in holding.surveys()] == taped(holding)
    assert all(s.status == "living" for s in taped(holding))


def test_its_trees_are_of_all_ages(holding):
    years = [s.planted for s in holding.stations if s.planted]
    for first, last in ((1800, 1890), (1891, 1960), (1961, 1999), (2017, 2024), (2026, 2026)):
        assert sum(first <= one <= last for one in years) >= 3, (first, last)


def test_no_two_stations_stand_closer_than_three_metres_and_all_within_their_orchard(holding):
    at = np.array([[s.x, s.y] for s in holding.stations])
    apart = np.linalg.norm(at[:, None] - at[None], axis=-1) + 1e3 * np.eye(len(at))
    assert apart.min() >= 3.0
    for orchard in holding.place.orchards:
        within = shapely.Polygon(orchard.boundary)
        assert within.is_valid
        own = [s for s in holding.stations if s.orchard == orchard.name]
        assert all(within.contains(shapely.Point(s.x, s.y)) for s in own)
    grounds = [shapely.Polygon(o.boundary) for o in holding.place.orchards]
    assert not any(a.intersects(b) for a, b in combinations(grounds, 2))


def test_every_kind_of_need_is_met_on_it(holding):
    found = needs(
        holding.stations,
        year=2026,
        orchards={o.name: o for o in holding.place.orchards},
        site=holding.site,
    )
    kinds = {one.kind.value for one in found}
    assert kinds >= {
        *("form", "maintain", "restore", "retrench", "leave for wildlife", "restock"),
        "leave standing",
    }
    assert {"now", "this season"} <= {one.urgency.value for one in found}
    words = " ".join(s.features + " " + s.faults for s in holding.stations)
    for word in ("mistletoe", "silver leaf", "canker", "root plate", "fallen", "guard", "hollow"):
        assert word in words


def test_young_trees_can_be_formed_and_stand_at_several_stages(holding):
    young = holding.young_trees()
    assert len(young) >= 12
    named = {o.name: o for o in holding.place.orchards}
    plans = [form_plan(t, named[t.station.orchard], holding.site, year=2026) for t in young]
    assert len({one.stage.key for one in plans}) >= 3
    assert any(row.what != "leave" for one in plans for row in one.rows)


def test_everything_is_marked_as_invented(holding):
    assert all(MARK in one.note for one in holding.stations)
    assert all(MARK in one.note for one in holding.limbs)
    assert all(MARK in one.note for one in holding.shoots)
    assert all(MARK in one.note for one in holding.place.orchards)
    assert holding.place.marked == MARK
    assert MARK in holding.site.name


def test_each_tree_is_one_tree_with_the_stem_first_and_parents_before_limbs(holding):
    for limbs in trees_of(holding).values():
        assert limbs[0].limb == "stem"
        assert limbs[0].parent == ""
        seen = {"stem"}
        for limb in limbs[1:]:
            assert limb.parent in seen
            assert limb.limb not in seen
            seen.add(limb.limb)
        assert 8 <= len(limbs) <= 22


def test_limbs_are_thinner_than_their_parents_and_attached_within_their_length(holding):
    for limbs in trees_of(holding).values():
        by_label = {one.limb: one for one in limbs}
        for limb in limbs[1:]:
            parent = by_label[limb.parent]
            assert 0.0 <= limb.at_m <= parent.length_m
            assert limb.diameter_mm < parent.diameter_mm
            tip = parent.end_diameter_mm or 8.0
            share = limb.at_m / parent.length_m
            here = parent.diameter_mm + (tip - parent.diameter_mm) * share
            assert limb.diameter_mm <= max(0.85 * here + 2.5, 20.0)
            if limb.cavity_wall_mm is not None:
                assert 0.0 < limb.cavity_wall_mm < limb.diameter_mm / 2.0


def test_scaffold_limbs_follow_leonardo_on_trees_that_fork_at_the_stem_head(holding):
    """Sum of squared diameters over the stem's: 0.94, 0.89 in Brym & Ernest 2018 data."""
    ratios = []
    for limbs in trees_of(holding).values():
        stem = limbs[0]
        if stem.end_diameter_mm is None:
            continue
        scaffolds = [one.diameter_mm for one in limbs if one.parent == "stem"]
        ratios.append(sum(d**2 for d in scaffolds) / stem.diameter_mm**2)
    assert len(ratios) >= 15
    assert 0.75 < np.median(ratios) < 1.05
    assert max(ratios) < 1.3


def test_numbers_read_as_from_tape_and_compass(holding):
    for limb in holding.limbs:
        assert limb.diameter_mm % 5.0 == 0.0
        assert limb.length_m == round(limb.length_m, 1)
        assert limb.at_m is None or limb.at_m == round(limb.at_m, 1)
        assert limb.rise_deg % 5.0 == 0.0
        assert limb.end_rise_deg % 5.0 == 0.0
        assert limb.bearing_deg % 5.0 == 0.0
        assert 0.0 <= limb.bearing_deg < 360.0
        assert -90.0 <= limb.rise_deg <= 90.0
        assert -90.0 <= limb.end_rise_deg <= 90.0
        assert 0.0 <= limb.crown <= 3.0


def test_limbs_said_to_rub_do_touch(holding):
    """Measured afresh: sampled distance between the two axes less the two radii."""
    told = 0
    for limbs in trees_of(holding).values():
        by_label = {one.limb: one for one in limbs}
        for limb in limbs:
            if not limb.rubs:
                continue
            told += 1
            other = by_label[limb.rubs]
            a, ra = fine_axis(limb, by_label)
            b, rb = fine_axis(other, by_label)
            gap = np.linalg.norm(a[:, None] - b[None], axis=-1) - ra[:, None] - rb[None]
            assert gap.min() < 0.05, (limb.station, limb.limb, limb.rubs)
    assert told >= 12


def fine_axis(limb, by_label, points=200):
    """The axis and radii of a limb by small steps, written anew for this check."""
    start = np.zeros(3)
    if limb.parent:
        parent = by_label[limb.parent]
        line, _ = fine_axis(parent, by_label, points)
        start = line[round(limb.at_m / parent.length_m * (points - 1))]
    line = [start]
    for k in range(points - 1):
        share = (k + 0.5) / (points - 1)
        rise = np.radians(limb.rise_deg + (limb.end_rise_deg - limb.rise_deg) * share)
        turn = np.radians(limb.bearing_deg)
        way = [np.cos(rise) * np.sin(turn), np.cos(rise) * np.cos(turn), np.sin(rise)]
        line.append(line[-1] + np.array(way) * limb.length_m / (points - 1))
    tip = limb.end_diameter_mm or 8.0
    return np.array(line), np.linspace(limb.diameter_mm, tip, points) / 2000.0


def test_limbs_apart_are_not_told_as_rubbing():
    holding = make_holding(1)
    limbs = next(iter(trees_of(holding).values()))
    stem, first = limbs[0], limbs[1]
    assert rubbing_pairs([stem, first]) == []


def test_it_has_the_hurts_and_the_homes_a_restorer_meets(holding):
    limbs = holding.limbs
    assert {"live", "dead", "diseased", "broken"} == {one.state for one in limbs}
    assert {"sound", "included", "cracked"} == {one.union for one in limbs}
    assert any(one.cavity_wall_mm for one in limbs)
    assert all(one.crown == 0.0 for one in limbs if one.state == "dead")
    kept = " ".join(one.keep for one in limbs)
    for home in ("woodpecker", "bats", "mistletoe", "lichen"):
        assert home in kept
    holes = [one for one in limbs if "woodpecker" in one.keep or "bats" in one.keep]
    assert all(one.diameter_mm >= 100.0 for one in holes)
    assert any((s.lean_deg or 0.0) >= 15.0 for s in holding.stations)
    assert any(s.condition == "good" for s in holding.stations)
    assert any((s.girth_cm or 0.0) > 195.0 for s in holding.stations)


def test_nothing_lives_beyond_dead_wood(holding):
    for limbs in trees_of(holding).values():
        dead = {one.limb for one in limbs if one.state == "dead"}
        assert all(one.state == "dead" for one in limbs if one.parent in dead)


def test_old_trees_have_the_girth_height_and_clear_stem_of_standards(holding):
    for station in taped(holding):
        if station.condition != "good":
            assert 85.0 <= station.girth_cm <= 225.0
        assert 1.6 <= station.clear_stem_m <= 2.3
        assert 3.5 <= station.height_m <= 12.0


def test_written_tables_hold_what_was_made(holding, tmp_path):
    stations, limbs = write_holding(holding, tmp_path / "deep" / "survey")
    with limbs.open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    assert len(rows) == len(holding.limbs)
    for row, limb in zip(rows, holding.limbs, strict=True):
        assert float(row["diameter_mm"]) == limb.diameter_mm
        assert float(row["length_m"]) == limb.length_m
        assert (row["limb"], row["parent"], row["rubs"]) == (limb.limb, limb.parent, limb.rubs)
        assert row["at_m"] == "" if limb.at_m is None else float(row["at_m"]) == limb.at_m
    with stations.open(encoding="utf-8", newline="") as table:
        assert [r["status"] for r in csv.DictReader(table)] == [s.status for s in holding.stations]


def test_the_survey_reader_finds_nothing_wrong(holding, tmp_path):
    from limbwright.survey import read_survey

    stations, limbs = write_holding(holding, tmp_path)
    found = read_survey(limbs, stations)
    assert [str(f) for f in found.faults if f.severity == "error"] == []
    assert len(found.trees) == len(holding.surveys())

"""The management plan as it is printed: everything in it, marked, readable, whole or not at all."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest
from pypdf import PdfReader
from tests.report.invented_holding import MARK, TODAY, first_season, invented_report
from tests.report.kept_plans import form_document, season_document, years_document
from tests.report.pdf_read import pages_of, smallest_type_pt, words_of
from tests.trees import random_skeleton

from limbwright.model import Holding, Skeleton, StationRecord
from limbwright.needs.need import needs
from limbwright.report import book_plan
from limbwright.report.book_plan import management_plan
from limbwright.report.book_words import hours_words, money_words
from limbwright.report.book_works import TreePlan
from limbwright.report.book_years import plan_strip
from limbwright.report.holding_report import HoldingReport
from limbwright.stages.plan_years import plan_years
from limbwright.statics.assess import assess

LEAST_PT = 6.99


@cache
def planned_tree() -> tuple[dict[str, object], Skeleton]:
    skeleton = random_skeleton(4, 14, tree="Tump Orchard/4")
    names = ("winter 2026-27", "winter 2027-28", "winter 2028-29")
    plan = plan_years(assess(skeleton), seasons=names, compare=False)
    return plan.to_dict(), skeleton


def whole_report() -> HoldingReport:
    bare = invented_report(24, rate=34.0, currency="EUR", scheme="An invented scheme")
    live = [s.tree for s in bare.stations if s.status == "living" and s.species == "apple"]
    young = next(s.tree for s in bare.stations if s.status == "new")
    document, skeleton = planned_tree()
    plans = (
        TreePlan(live[0], "years", "winter 2026-27", document | {"tree": live[0]}),
        TreePlan(live[1], "years", "winter 2026-27", years_document(live[1])),
        TreePlan(live[2], "season", "winter 2026-27", season_document(live[2])),
        TreePlan(young, "form", "winter 2026-27", form_document(young)),
    )
    return replace(bare, plans=plans, skeletons={live[0]: skeleton})


@dataclass(frozen=True)
class Printed:
    report: HoldingReport
    path: Path
    pages: list[str]

    @property
    def text(self) -> str:
        return " ".join(self.pages)


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Printed:
    report = whole_report()
    path = management_plan(report, tmp_path_factory.mktemp("plan") / "plan.pdf")
    return Printed(report, path, pages_of(path))


def test_every_page_bears_the_name_the_mark_and_its_number(
    printed: Printed,
) -> None:
    pages = printed.pages
    for number, page in enumerate(pages, 1):
        assert MARK.upper() in page
        assert "Cinder Batch" in page
        assert f"{number} / {len(pages)}" in page
        assert "28 November 2026 by An invented adviser." in page


def test_all_stations_and_figures_are_in_it(printed: Printed) -> None:
    report, text = printed.report, printed.text
    told = text[text.rindex("Every station") :]
    for station in report.stations:
        assert re.search(rf"\b{station.station}\b", told)
    for one in report.sums:
        if one.season and one.works:
            assert f"{one.season} {one.trees}" in text
            assert hours_words(one.hours, unit=False) in text
            said = money_words(one.hours, 34.0, "EUR").replace("\u202f", " ")
            assert said in text.replace("\u202f", " ")
    for aim in report.holding.aims:
        assert aim in text
    for words in report.unknown:
        assert " ".join(words.split()) in text
    assert "An invented scheme" in text


def test_trees_with_plans_are_told_season_by_season(printed: Printed) -> None:
    report, text = printed.report, printed.text
    part = text[text.rindex("Trees planned limb by limb") : text.rindex("Every station")]
    second, third = report.plans[1].tree, report.plans[2].tree
    assert f"{second} apple" in part
    assert "winter 2026-27 2 10 % of 25 % 8.0 % 1.0" in part
    assert "winter 2028-29 2 20 % of 25 % 8.0 % 2.0" in part
    assert "No cuts in winter 2027-28: rest after a season of cutting." in part
    assert "this plan 21 %, all at once 25 %, left alone 62 %" in part
    assert f"{third} apple" in part
    assert "10.0 %, after the cuts 4.0 %" in part
    assert "Stays whole: limb c: rot hole." in part
    assert "Choosing the scaffold. Shoot s1: shorten; shoot s2: take out." in text


def test_a_tree_whose_survey_is_at_hand_is_drawn(printed: Printed) -> None:
    text = printed.text
    # one strip is drawn, two plans have no survey beside them
    assert text.count("Leaf is told against the first picture") == 1
    assert text.count("No picture: the survey of its limbs is not at hand") == 2


def test_nothing_is_set_smaller_than_seven_point(printed: Printed) -> None:
    assert smallest_type_pt(printed.path) >= LEAST_PT


def test_headings_are_marks_to_turn_to(printed: Printed) -> None:
    titles = [
        str(one["/Title"]) for one in PdfReader(printed.path).outline if not isinstance(one, list)
    ]
    for title in ("What stands", "Season by season", "Wildlife", "Cautions", "Every station"):
        assert title in titles


def test_a_strip_follows_the_plan_and_refuses_another_tree() -> None:
    document, skeleton = planned_tree()
    drawn = plan_strip(document, skeleton)
    for name in ("winter 2026-27", "winter 2027-28", "winter 2028-29", "a year later"):
        assert name in drawn
    seasons = document["seasons"]
    assert isinstance(seasons, list)
    for one in seasons:
        if one["dose"]:
            assert f"{100.0 * one['dose']:.0f} % of it goes" in drawn
    other = random_skeleton(9, 6)
    cuts = [s for s in seasons if s["plan"]]
    assert cuts
    assert plan_strip(document, other) == ""


def test_no_price_is_made_up(tmp_path: Path) -> None:
    text = words_of(management_plan(invented_report(6), tmp_path / "plan.pdf"))
    assert "Person-hours" in text
    assert not re.search(r"\b(Costs?|EUR|rate)\b", text)


def test_one_bare_station_is_enough(tmp_path: Path) -> None:
    stations = (StationRecord(station="1"),)
    report = HoldingReport(
        holding=Holding(name=""),
        stations=stations,
        needs=needs(stations, year=2027),
        first_season=first_season,
        made_on=TODAY,
    )
    text = words_of(management_plan(report, tmp_path / "plan.pdf"))
    assert "No aims were written down" in text
    assert "species not taken on 1 tree" in text


def test_long_names_and_signs_are_printed_as_they_are(tmp_path: Path) -> None:
    bare = invented_report(6)
    signs = "*bold* #let x = 1 $a$ <label> @ref `code` // [ ]"
    name = "Langeweidenbaumgartenhofwiese" * 3
    holding = replace(bare.holding, name=name, aims=(signs,), note=signs)
    text = words_of(management_plan(replace(bare, holding=holding), tmp_path / "plan.pdf"))
    assert text.count(signs) == 2
    assert name in text.replace(" ", "")


def test_a_fault_while_writing_leaves_the_old_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "plan.pdf"
    path.write_bytes(b"the old report")

    def fails(*_: object, **__: object) -> list[bytes]:
        raise RuntimeError("no room")

    monkeypatch.setattr(book_plan, "set_book", fails)
    with pytest.raises(RuntimeError):
        management_plan(invented_report(3), path)
    assert path.read_bytes() == b"the old report"
    assert [p.name for p in tmp_path.iterdir()] == ["plan.pdf"]

"""Forming cards: one page a tree, everything on it, readable, drawn true, told without colour."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from limbwright.errors import InputError
from limbwright.form.plan import form_plan
from limbwright.form.read import read_young_trees
from limbwright.form.results import FormPlan
from limbwright.model.holding import Orchard
from limbwright.report.form_card import form_card_png, form_cards
from limbwright.report.form_drawing import draw_young, room_needed
from limbwright.report.form_scene import young_scene, young_skeleton
from limbwright.report.labels import overlaps
from limbwright.report.strokes import PLUM
from limbwright.report.views import ABOVE, SOUTH, WEST

SVG = "{http://www.w3.org/2000/svg}"
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.fixture(scope="module")
def plans() -> list[FormPlan]:
    read = read_young_trees(EXAMPLES / "shoots.csv", EXAMPLES / "young-stations.csv")
    return [form_plan(t, Orchard("x", grazed_by="sheep"), year=2026) for t in read.trees]


@pytest.fixture(scope="module")
def printed(plans: list[FormPlan], tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cards") / "cards.pdf"
    return form_cards(plans, path, holding="Example Close", marked="invented example")


def sizes_pt(path: Path) -> set[float]:
    """Return the sizes in which a PDF's letters stand on paper."""
    found: set[float] = set()

    def note(
        text: str, cm: Sequence[float], tm: Sequence[float], _font: object, size: float
    ) -> None:
        if text.strip():
            a = np.array([[tm[0], tm[1]], [tm[2], tm[3]]]) @ np.array(
                [[cm[0], cm[1]], [cm[2], cm[3]]]
            )
            found.add(round(size * math.sqrt(abs(float(np.linalg.det(a)))), 2))

    for page in PdfReader(path).pages:
        page.extract_text(visitor_text=note)
    return found


def plain(text: str) -> str:
    return re.sub(r"[\s-]", "", text).lower()


def test_each_tree_is_one_page_with_all_that_is_done_and_why(
    plans: list[FormPlan], printed: Path
) -> None:
    pages = PdfReader(printed).pages
    assert len(pages) == len(plans)
    for page, plan in zip(pages, plans, strict=True):
        text = plain(page.extract_text())
        assert plain(plan.tree) in text
        assert "inventedexample" in text
        assert plain(plan.stage.title) in text
        assert f"clearstem{plan.target.metres:.1f}m" in text
        for row in plan.work:
            assert plain(row.why) in text
        for words in (*plan.cautions, *plan.reminders):
            assert plain(words) in text
        if plan.choice is not None and not plan.choice.good:
            assert "nogoodscaffold" in text
            for words in (*plan.choice.missing, *plan.choice.remedies):
                assert plain(words) in text
        assert "doneandfound" in text


def test_nothing_is_written_smaller_than_can_be_read(printed: Path) -> None:
    found = sizes_pt(printed)
    assert min(found) >= 9.0 - 0.01, sorted(found)[:5]


def test_drawings_number_every_cut_and_name_every_shoot(plans: list[FormPlan]) -> None:
    for plan in plans:
        scene = young_scene(plan)
        for view in (SOUTH, WEST, ABOVE):
            wide, high = room_needed(scene, view, 30.0)
            root = ET.fromstring(draw_young(scene, view, wide, high, 30.0))
            said = [one.text for one in root.iter(f"{SVG}text")]
            for row in plan.work:
                assert str(row.order) in said
            for shoot in plan.crown.shoots:
                assert shoot.name in said
            assert view.caption in said
            assert ("N" in said) == (view is not SOUTH)


def test_labels_cover_none_of_each_other_at_the_scale_of_the_card(plans: list[FormPlan]) -> None:
    for plan in plans:
        scene = young_scene(plan)
        wide, high = room_needed(scene, SOUTH, 40.0)
        root = ET.fromstring(draw_young(scene, SOUTH, wide, high, 40.0))
        boxes = [
            (
                float(r.attrib["x"]),
                float(r.attrib["y"]),
                float(r.attrib["x"]) + float(r.attrib["width"]),
                float(r.attrib["y"]) + float(r.attrib["height"]),
            )
            for r in root.iter(f"{SVG}rect")
            if "fill-opacity" in r.attrib
        ]
        assert len(boxes) >= len(plan.work)
        assert overlaps(boxes) <= len(boxes) // 6


def test_what_comes_off_is_told_by_dashes_and_not_by_colour_alone(plans: list[FormPlan]) -> None:
    plan = next(p for p in plans if any(r.cuts for r in p.rows))
    scene = young_scene(plan)
    root = ET.fromstring(draw_young(scene, SOUTH, 90.0, 120.0, 30.0))
    for one in root.iter(f"{SVG}path"):
        if one.attrib.get("stroke") == PLUM:
            assert "stroke-dasharray" in one.attrib


def test_the_drawn_tree_is_the_surveyed_one_and_loses_what_the_rows_take(
    plans: list[FormPlan],
) -> None:
    for plan in plans:
        s = young_skeleton(plan.crown, plan.tree)
        assert s.length_m.sum() == pytest.approx(sum(x.length_m for x in plan.crown.every))
        scene = young_scene(plan)
        gone = scene.skeleton.length_m[scene.gone].sum()
        floor = scene.floor_m
        kept = scene.skeleton.length_m[~scene.gone].sum() + floor
        assert gone + kept == pytest.approx(sum(x.length_m for x in plan.crown.every), abs=1e-3)
        own = sum(r.takes_cm for r in plan.rows) / 100.0
        assert gone >= own - 1e-3
        assert len(scene.kerfs) == sum(r.cuts for r in plan.rows)


def test_a_card_as_a_picture(plans: list[FormPlan], tmp_path: Path) -> None:
    path = form_card_png(plans[0], tmp_path / "card.png", ppi=40.0)
    assert path.read_bytes().startswith(b"\x89PNG")


def test_no_plans_make_no_cards(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no young trees"):
        form_cards([], tmp_path / "cards.pdf")
    assert not list(tmp_path.iterdir())

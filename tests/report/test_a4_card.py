"""One tree on one A4 page: everything on it, readable, and told apart without colour."""

from __future__ import annotations

import io
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import segno
from pypdf import PdfReader

from limbwright.cuts.plan import plan
from limbwright.demo import make_holding, write_holding
from limbwright.model.skeleton import State
from limbwright.report.card import _Subject, cut_cards
from limbwright.report.drawing import Scene, draw_view, label_places
from limbwright.report.labels import overlaps
from limbwright.report.layout import PAPER_MM, settings
from limbwright.report.strokes import SAMPLES, sample
from limbwright.report.views import ABOVE, SOUTH, WEST
from limbwright.statics.assess import assess
from limbwright.survey import read_survey
from limbwright.survey.build import build_skeleton

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def holding(tmp_path_factory):
    """Every third tree of the invented holding, planned."""
    made = make_holding(1)
    stations, limbs = write_holding(made, tmp_path_factory.mktemp("survey"))
    found = []
    for tree in read_survey(limbs, stations).trees[::3]:
        skeleton, _ = build_skeleton(tree)
        assessment = assess(skeleton, made.site)
        season = "winter 2026/27"
        found.append((assessment, plan(assessment, tree.station, season=season), tree.station))
    return found


@pytest.fixture(scope="module")
def printed(holding, tmp_path_factory):
    """The A4 cards of all trees."""
    return cut_cards(holding, tmp_path_factory.mktemp("cards") / "cards.pdf")


@pytest.fixture(scope="module")
def subjects(holding):
    return [_Subject(*item, page="a4") for item in holding]


def sizes_pt(path: Path) -> set[float]:
    """Return the sizes in which a PDF's letters stand on paper."""
    found: set[float] = set()

    def note(text, cm, tm, _font, size) -> None:
        if text.strip():
            a = np.array([[tm[0], tm[1]], [tm[2], tm[3]]]) @ np.array(
                [[cm[0], cm[1]], [cm[2], cm[3]]]
            )
            found.add(round(size * math.sqrt(abs(float(np.linalg.det(a)))), 2))

    for page in PdfReader(path).pages:
        page.extract_text(visitor_text=note)
    return found


def test_a_tree_of_the_invented_holding_is_one_page(holding, printed) -> None:
    pages = PdfReader(printed).pages
    assert len(pages) == len(holding)
    for page, (_, made, _) in zip(pages, holding, strict=True):
        box = page.mediabox
        assert (float(box.width), float(box.height)) == pytest.approx((595.28, 841.89), abs=0.1)
        text = " ".join(page.extract_text().split())
        assert made.tree in text
        for limb, why in made.keep:
            assert f"Limb {limb}: {why}" in text
            assert f"keep {limb}" in text, "the drawing does not name what is not to be touched"
        for caution in made.cautions:
            assert re.sub(r"[\s-]", "", caution) in re.sub(r"[\s-]", "", text)


def test_nothing_on_a4_is_written_smaller_than_can_be_read(printed) -> None:
    found = sizes_pt(printed)
    assert min(found) >= 9.0 - 0.01, sorted(found)[:5]
    assert max(found) >= 20.0


def test_nothing_on_a5_is_written_smaller_than_can_be_read(holding, tmp_path) -> None:
    found = sizes_pt(cut_cards(holding[:10], tmp_path / "cards.pdf", page="a5"))
    assert min(found) >= 8.5 - 0.01, sorted(found)[:5]


def test_the_orders_of_an_a4_card_are_in_eleven_points(printed) -> None:
    heads: set[float] = set()

    def note(text, _cm, _tm, _font, size) -> None:
        if re.match(r"\s*(?:Shorten|Take out|Head) limb", text):
            heads.add(round(size, 2))

    for page in PdfReader(printed).pages:
        page.extract_text(visitor_text=note)
    assert heads
    assert min(heads) >= 10.97


def test_drawings_keep_to_round_scales_and_to_the_page(subjects) -> None:
    for one in subjects:
        for setting in one.settings:
            assert setting.one_in % 5 == 0
            (first, high), (second, _), (left, above) = setting.boxes_mm
            if setting.kind == "pair":
                assert first + second <= PAPER_MM[0]
                assert high + above <= PAPER_MM[1]
            else:
                assert first == second == left
                assert 2 * high + above <= PAPER_MM[1]


def test_the_largest_scale_on_offer_is_the_largest_that_fits(subjects) -> None:
    for one in subjects:
        scales = [setting.one_in for setting in one.settings]
        assert scales == sorted(scales)
        s = one.scene.skeleton
        ends = np.concatenate([s.start_m, s.end_m])
        # the next round scale up: the drawings without any margin would be too wide or too high
        grown = 1000.0 / (0.72 * scales[0])
        spread = np.ptp(ends, axis=0) * grown
        too_wide = spread[0] + spread[1] > PAPER_MM[0] - 38 or spread[:2].max() > 108 - 12
        too_high = spread[2] + spread[1] > 236 - 28
        assert too_wide or too_high or scales[0] == 25


@pytest.fixture(scope="module")
def all_places(subjects):
    """Every tree and view at the four largest scales, with where its labels stand."""
    return list(places_of(subjects))


def places_of(subjects):
    for one in subjects:
        for setting in one.settings[:4]:
            for view, (wide, high) in zip(one.views, setting.boxes_mm, strict=True):
                yield one, label_places(one.scene, view, wide, high, setting.mm_per_m)


def test_names_and_numbers_hardly_ever_cover_one_another(all_places) -> None:
    """Names that could only cover another are left off; numbers and kept limbs never are."""
    total = drawings = 0
    for one, places in all_places:
        drawings += 1
        total += overlaps([place.box for place in places])
        flags = [p.label.text for p in places if p.label.kind == "flag"]
        assert sorted(flags) == sorted(str(c.order) for c in one.scene.cuts)
        kept = [p for p in places if p.label.kind == "keep"]
        assert len(kept) == len(one.scene.kept)
    assert drawings > 60
    assert total <= 0.01 * drawings, f"{total} overlaps in {drawings} drawings"


def test_every_number_stands_near_its_kerf(all_places) -> None:
    """From the kerf to the edge of the number's box, on paper."""
    away = [
        max(
            abs(p.x_mm - p.label.x_mm) - p.label.width_mm / 2,
            abs(p.y_mm - p.label.y_mm) - p.label.height_mm / 2,
        )
        for _, places in all_places
        for p in places
        if p.label.kind == "flag"
    ]
    assert min(away) > 0.0, "a number covers its own kerf"
    assert float(np.median(away)) <= 3.5
    assert float(np.percentile(away, 95)) <= 9.0
    assert max(away) <= 24.0


def test_every_limb_cut_is_named_in_at_least_one_drawing(subjects) -> None:
    for one in subjects:
        setting = one.settings[0]
        named = set()
        for view, (wide, high) in zip(one.views, setting.boxes_mm, strict=True):
            named |= {
                p.label.text
                for p in label_places(one.scene, view, wide, high, setting.mm_per_m)
                if p.label.kind in ("goes", "keep")
            }
        for cut in one.scene.cuts:
            assert cut.limb in named or f"keep {cut.limb}" in named


def colourless(text: str) -> str:
    """Return a drawing with every colour made black or white, as a bad copier would."""

    def luma(match: re.Match[str]) -> str:
        r, g, b = (int(match[1][k : k + 2], 16) for k in (0, 2, 4))
        return "#ffffff" if 0.299 * r + 0.587 * g + 0.114 * b > 127 else "#000000"

    return re.sub(r"#([0-9a-f]{6})", luma, text)


def test_the_ways_of_drawing_differ_without_colour() -> None:
    made = [colourless(sample(kind)) for kind in SAMPLES]
    assert len(set(made)) == len(SAMPLES)


def marks(scene: Scene, view) -> dict[str, int]:
    """Count, in black and white, dashes, crosses and sleeves of a drawing."""
    made = draw_view(replace(scene, cuts=(), named=()), view, 90.0, 90.0, 8.0)
    root = ET.fromstring(colourless(made))
    paths = list(root.iter(f"{SVG}path"))
    black = [p for p in paths if p.get("stroke") == "#000000"]
    widths = [float(p.get("stroke-width", "0")) for p in black]
    lines = [one for one in root.iter(f"{SVG}line") if one.get("stroke-width") == "0.38"]
    dashed = [p for p in black if p.get("stroke-dasharray") and p.get("stroke-linecap") == "butt"]
    return {"dashes": len(dashed), "crosses": len(lines) // 2, "widest": round(100 * max(widths))}


@pytest.mark.parametrize("view", [SOUTH, WEST, ABOVE], ids=lambda v: v.name)
def test_kept_cut_and_dead_wood_are_told_apart_in_black_and_white(subjects, view) -> None:
    scene = subjects[0].scene
    s = scene.skeleton
    limb = next(k for k, one in enumerate(s.limbs) if one.parent == 0 and one.label)
    mine = (s.limb == limb) & s.surveyed
    plain = replace(scene, gone=np.zeros(s.n, dtype=np.bool_), kept=())
    none = marks(plain, view)
    assert none["dashes"] == none["crosses"] == 0
    assert marks(replace(plain, gone=mine), view)["dashes"] > 0
    dead = replace(s, state=np.where(mine, int(State.DEAD), int(State.LIVE)))
    assert marks(replace(plain, skeleton=dead), view)["crosses"] > 0
    kept = marks(replace(plain, kept=(limb,)), view)
    assert kept["dashes"] == kept["crosses"] == 0
    thick = 0.5 * (s.start_diameter_mm[mine] + s.end_diameter_mm[mine]).max() * 8.0 / 1000.0
    assert kept["widest"] >= 100 * (max(thick, 0.8) + 2.9)


def test_the_code_holds_the_tree_and_nothing_else(holding, tmp_path, monkeypatch) -> None:
    told: list[str] = []
    real = segno.make_qr
    monkeypatch.setattr(
        segno, "make_qr", lambda text, **kw: (told.append(text), real(text, **kw))[1]
    )
    path = cut_cards(holding[:3], tmp_path / "cards.pdf")
    assert told == [made.tree for _, made, _ in holding[:3]]
    whole = path.read_bytes() + " ".join(p.extract_text() for p in PdfReader(path).pages).encode()
    assert b"http" not in re.sub(rb"https?://(?:www\.w3\.org|ns\.adobe\.com|purl\.org)", b"", whole)


def test_a_tree_without_cuts_still_says_when_why_and_what_to_mind(holding, tmp_path) -> None:
    assessment, made, station = holding[0]
    none = replace(made, cuts=(), lesser=(), left=(), gone=np.zeros_like(made.gone))
    pages = PdfReader(cut_cards([(assessment, none, station)], tmp_path / "c.pdf")).pages
    text = " ".join(pages[0].extract_text().split())
    assert len(pages) == 1
    assert "No cut this season." in text
    assert "cut here" not in text
    assert "Take care" in text
    assert made.window in text.replace("\u00a0", " ")


def test_settings_are_found_for_a_sapling_and_for_a_giant(subjects) -> None:
    s = subjects[0].scene.skeleton
    for grown in (0.05, 30.0):
        other = replace(s, start_m=s.start_m * grown, end_m=s.end_m * grown)
        assert settings(other, (SOUTH, WEST, ABOVE))


def test_pictures_of_an_a4_card_are_on_a_warm_ground(items, tmp_path: Path) -> None:
    from limbwright.report.card import card_png

    data = card_png(items[0], tmp_path / "c.png", ppi=40).read_bytes()
    assert io.BytesIO(data).read(8) == b"\x89PNG\r\n\x1a\n"

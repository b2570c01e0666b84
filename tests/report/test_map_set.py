"""Maps, charts, strips and bars as set into a PDF: their typeface, and how wide words come out."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
import typst
from pypdf import PdfReader

from limbwright.demo import make_holding
from limbwright.model.holding import Holding
from limbwright.report.done_bars import Bar, done_bars
from limbwright.report.fonts import FAMILY, font_folder
from limbwright.report.map import orchard_map
from limbwright.report.text_width import shortened, text_width_mm, wrapped
from limbwright.report.years_chart import Course, CourseYears, years_chart
from limbwright.report.years_drawing import Stand, tree_years
from limbwright.survey.build import build_skeleton

DEMO = make_holding(1)
PRINTABLE = "".join(chr(k) for k in range(0x20, 0x7F)) + "äöüßéèêçñøåłŵŷ–…²°×"


def drawings() -> dict[str, str]:
    tree = build_skeleton(DEMO.surveys()[2])[0]
    return {
        "map": orchard_map(Holding("Invented"), "Bell Acre", DEMO.stations),
        "years": tree_years([Stand("winter 2026-27", tree)]),
        "chart": years_chart(
            [0, 1, 2], [Course("left alone", chance=CourseYears((0.1, 0.2, 0.3)))]
        ),
        "bars": done_bars("Hours in the tree", "person-hours", [Bar("Bell Acre/7", 6.5, 7.2)]),
    }


@pytest.fixture
def setter(tmp_path: Path) -> typst.Compiler:
    for name, svg in drawings().items():
        (tmp_path / f"{name}.svg").write_text(svg, "utf-8")
    images = "\n".join(f'#image("{name}.svg")\n#pagebreak(weak: true)' for name in drawings())
    letters = json.dumps([*PRINTABLE], ensure_ascii=False)
    (tmp_path / "letters.json").write_text(letters, "utf-8")
    measured = """
#set page(width: 190mm, height: auto, margin: 5mm)
#context {
  for letter in json("letters.json") {
    for weight in ("regular", "bold") {
      let wide = measure(text(font: "%s", size: 100pt, weight: weight, letter)).width / 100pt
      [#metadata((letter, wide)) <wide>]
    }
  }
}
"""
    (tmp_path / "main.typ").write_text(measured % FAMILY + images, "utf-8")
    return typst.Compiler(
        tmp_path / "main.typ",
        root=tmp_path,
        font_paths=[font_folder()],
        ignore_system_fonts=True,
    )


def test_drawings_are_set_with_their_words_in_the_bundled_typeface(
    setter: typst.Compiler,
) -> None:
    pdf = setter.compile(format="pdf")
    assert isinstance(pdf, bytes)
    pages = PdfReader(io.BytesIO(pdf)).pages
    words = [page.extract_text() for page in pages]
    whole = " ".join(words)
    for said in ("Bell Acre", "1 : ", "winter 2026-27", "left alone", "person-hours", "7.2"):
        assert said in whole
    fonts = [
        dict(font.get_object())["/BaseFont"]
        for page in pages
        for font in dict(page["/Resources"].get_object()).get("/Font", {}).values()  # type: ignore[call-overload]
    ]
    assert fonts
    assert all("AtkinsonHyperlegible" in str(name) for name in fonts)


def test_no_letter_is_wider_than_is_reckoned_with(setter: typst.Compiler) -> None:
    found = json.loads(setter.query("<wide>", field="value"))
    assert len(found) == 2 * len(PRINTABLE)
    for letter, wide in found:
        assert wide <= text_width_mm(letter, 1.0) + 1e-6, letter


def test_words_are_cut_short_and_broken_to_fit() -> None:
    long = "an orchard with an uncommonly long name of its own"
    assert shortened("short", 2.5, 40.0) == "short"
    assert shortened(long, 2.5, 40.0).endswith("…")
    assert text_width_mm(shortened(long, 2.5, 40.0), 2.5) <= 40.0
    lines = wrapped(long, 2.5, 40.0)
    assert " ".join(lines) == long
    assert all(text_width_mm(one, 2.5) <= 40.0 for one in lines)
    assert wrapped("", 2.5, 40.0) == []

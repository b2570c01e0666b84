"""Cut cards: one tree on one sheet, its pictures, cuts and reasons, as PDF or PNG."""

from __future__ import annotations

import io
import json
import os
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from shutil import copyfile
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import segno
import typst

from limbwright.errors import InputError
from limbwright.model.skeleton import State
from limbwright.report.batches import AT_ONCE, in_batches, shared_out
from limbwright.report.drawing import Scene, draw_view, fit_scale
from limbwright.report.fonts import covers, font_folder
from limbwright.report.layout import Setting, a5_setting, settings
from limbwright.report.strokes import SAMPLES, sample
from limbwright.report.views import ABOVE, View, choose_sides
from limbwright.report.whole import write_whole
from limbwright.report.wording import card_words
from limbwright.report.words import plain

if TYPE_CHECKING:
    from limbwright.cuts.results import Plan
    from limbwright.model.records import StationRecord
    from limbwright.statics.assess import Assessment

__all__ = ["Item", "Page", "card_batches", "card_png", "cut_cards", "set_cards"]

Page = Literal["a5", "a4"]
Item = "tuple[Assessment, Plan, StationRecord | None]"


PLAN_MM = 46.0
"""The small view from above at the head of a second page, both ways."""


def cut_cards(
    items: Sequence[tuple[Assessment, Plan, StationRecord | None]],
    path: str | os.PathLike[str],
    *,
    holding: str = "",
    page: Page = "a4",
    marked: str = "",
    workers: int | None = None,
    on_progress: Callable[[int, str], None] | None = None,
) -> Path:
    """Write one cut card a tree into one PDF.

    On A4 a card is one page that says everything, two where the cuts are many. On A5 it is a leaf,
    front and back, and every card begins on a front page, so that the PDF prints two-sided.

    Parameters
    ----------
    items
        Assessment, plan and station (or None) of each tree, in the order of the cards.
    path
        The PDF; written whole or not at all.
    holding
        Name printed on every card.
    page
        ``a4``, or ``a5`` for the pocket.
    marked
        Words that mark every card, such as "invented example".
    workers
        Processes that share the work where cards are many; all cores by default.
    on_progress
        Called with the number of cards drawn and the tree.

    Returns
    -------
    Path
        The PDF written.

    Raises
    ------
    InputError
        No trees, or a page that is neither.
    """
    if len(items) <= AT_ONCE:
        pdf = _compile(items, holding=holding, page=page, marked=marked, on_progress=on_progress)
        return write_whole(Path(path), pdf[0])
    set_one = partial(set_cards, holding=holding, page=page, marked=marked)
    made = in_batches(card_batches(items), set_one, on_progress, even=page == "a5", workers=workers)
    return write_whole(Path(path), made)


def card_batches(
    items: Sequence[tuple[Assessment, Plan, StationRecord | None]],
) -> list[Sequence[tuple[Assessment, Plan, StationRecord | None]]]:
    """Return items as they are set together, for `set_cards`."""
    return shared_out(items)


def set_cards(
    items: Sequence[tuple[Assessment, Plan, StationRecord | None]],
    *,
    holding: str = "",
    page: Page = "a4",
    marked: str = "",
) -> bytes:
    """Return the cards of a few trees as one PDF; parameters and errors as of `cut_cards`."""
    return _compile(items, holding=holding, page=page, marked=marked)[0]


def card_png(
    item: tuple[Assessment, Plan, StationRecord | None],
    path: str | os.PathLike[str],
    *,
    holding: str = "",
    page: Page = "a4",
    marked: str = "",
    side: Literal["front", "back"] = "front",
    ppi: float = 144.0,
) -> Path:
    """Write one side of one card as a picture on a warm ground and return its path."""
    pages = _compile([item], holding=holding, page=page, marked=marked, ppi=ppi)
    return write_whole(Path(path), pages[min(1 if side == "back" else 0, len(pages) - 1)])


def _compile(
    items: Sequence[tuple[Assessment, Plan, StationRecord | None]],
    *,
    holding: str,
    page: Page,
    marked: str,
    on_progress: Callable[[int, str], None] | None = None,
    ppi: float | None = None,
) -> list[bytes]:
    """Return the PDF, or one PNG a page where ``ppi`` is given."""
    if page not in ("a4", "a5"):
        raise InputError(f"There is no page {page!r} for cut cards.", "Choose a4 or a5.")
    if not items:
        raise InputError("There are no planned trees to make cut cards of.", "Plan a tree first.")
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        subjects = [_Subject(*item, page=page) for item in items]
        data = {
            "holding": plain(holding),
            "marked": plain(marked),
            "ground": "paper" if ppi else "white",
            "cards": [one.words(root, number) for number, one in enumerate(subjects, 1)],
        }
        text = json.dumps(data, ensure_ascii=False, sort_keys=True)
        (root / "data.json").write_text(text, "utf-8")
        for part in ("parts.typ", f"card-{page}.typ"):
            copyfile(Path(__file__).parent / part, root / part)
        setter = partial(
            typst.Compiler,
            root / f"card-{page}.typ",
            root=root,
            font_paths=[font_folder()],
            # The bundled typeface alone, so that a card is the same to the byte everywhere,
            # unless somebody wrote in letters it hasn't got.
            ignore_system_fonts=covers(text),
        )
        chosen = [one.settings[0] for one in subjects]
        if page == "a4":
            # The words are set first, without drawings: what they leave is the drawings' paper.
            measured = setter(sys_inputs={"measuring": "yes"}).query("<fit>", field="value")
            (root / "fits.json").write_text(measured, "utf-8")
            fits = json.loads(measured)
            chosen = [s.settings[fit["setting"]] for s, fit in zip(subjects, fits, strict=True)]
            for kind in SAMPLES:
                (root / f"sample-{kind}.svg").write_text(sample(kind), "utf-8")
        for number, (subject, setting) in enumerate(zip(subjects, chosen, strict=True), 1):
            subject.draw(root, number, setting)
            if on_progress is not None:
                on_progress(number, subject.plan.tree)
        made = setter().compile(format="png" if ppi else "pdf", ppi=ppi)
    if made is None:  # only where it is told to write a file itself
        raise RuntimeError("the setter gave no card back")
    return [made] if isinstance(made, bytes) else list(made)


class _Subject:
    """One tree on its way to paper: what is drawn, from where, and how large it could be."""

    def __init__(
        self, assessment: Assessment, plan: Plan, station: StationRecord | None, *, page: Page
    ) -> None:
        self.plan, self.station = plan, station
        s = assessment.skeleton
        used = np.asarray(assessment.utilisation, dtype=np.float64)
        kept = {label for label, _ in plan.keep}
        self.scene = Scene(
            skeleton=s,
            cuts=plan.cuts,
            gone=np.asarray(plan.gone, dtype=np.bool_),
            used=used.max(axis=0) if used.ndim == 2 and used.size else np.zeros(s.n),
            named=_named(assessment, plan),
            kept=tuple(k for k, limb in enumerate(s.limbs) if limb.label in kept),
        )
        self.views: tuple[View, View, View] = (
            *choose_sides([c.point_m for c in plan.cuts]),
            ABOVE,
        )
        self.settings: tuple[Setting, ...] = (
            settings(s, self.views)
            if page == "a4"
            else (a5_setting(s, self.views, len(plan.cuts)),)
        )

    def words(self, root: Path, number: int) -> dict[str, Any]:
        """Return the words of the card and the names of its pictures; write its code."""
        s = self.scene.skeleton
        code = io.BytesIO()
        # The code holds the tree's name and nothing else: no address, nothing to look up.
        segno.make_qr(self.plan.tree, error="m").save(
            code, kind="svg", border=0, dark="#000000", xmldecl=False, nl=False
        )
        (root / f"{number:05d}-q.svg").write_bytes(code.getvalue())
        scales = sorted({one.one_in for one in self.settings})
        return {
            "pictures": [f"{number:05d}-{k}.svg" for k in range(len(self.views))],
            "plan": f"{number:05d}-p.svg",
            "code": f"{number:05d}-q.svg",
            "dead": bool((s.state[s.surveyed] == State.DEAD).any()),
            "settings": [
                {
                    "kind": one.kind,
                    "one_in": f"{one.one_in}",
                    "rank": scales.index(one.one_in),
                    "boxes_mm": one.boxes_mm,
                }
                for one in self.settings
            ],
            **card_words(self.plan, self.station),
        }

    def draw(self, root: Path, number: int, setting: Setting) -> None:
        """Draw the views as they are set out, and the small plan for a second page."""
        for k, (view, (wide, high)) in enumerate(zip(self.views, setting.boxes_mm, strict=True)):
            picture = draw_view(self.scene, view, wide, high, setting.mm_per_m)
            (root / f"{number:05d}-{k}.svg").write_text(picture, "utf-8")
        if setting.kind != "a5":
            small = fit_scale(self.scene.skeleton, [(ABOVE, PLAN_MM, PLAN_MM)])
            bare = replace(self.scene, named=())
            picture = draw_view(bare, ABOVE, PLAN_MM, PLAN_MM, small)
            (root / f"{number:05d}-p.svg").write_text(picture, "utf-8")


def _named(assessment: Assessment, plan: Plan) -> tuple[int, ...]:
    """Return the limbs worth naming: those cut, those left alone, scaffold limbs, the thick."""
    s = assessment.skeleton
    cut = {c.limb for c in plan.cuts}
    kept = {label for label, _ in plan.keep} | {x.limb for x in plan.left}

    def rank(k: int) -> tuple[int, float]:
        limb = s.limbs[k]
        level = 0 if limb.label in cut else 1 if limb.label in kept else 2
        if level == 2 and limb.parent > 0:
            level = 3
        return level, -limb.diameter_mm

    seen = [
        k
        for k, limb in enumerate(s.limbs)
        if limb.parent >= 0 and bool(s.surveyed[limb.first_segment]) and limb.label
    ]
    return tuple(sorted(seen, key=rank))

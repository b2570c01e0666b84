"""Cut cards: one tree on one sheet, its pictures, cuts and reasons, as PDF or PNG."""

from __future__ import annotations

import io
import json
import os
import re
import tempfile
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from shutil import copyfile
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import segno
import typst

from limbwright.cuts.order import point_words
from limbwright.errors import InputError
from limbwright.report.batches import in_batches
from limbwright.report.drawing import Scene, draw_view, fit_scale, height_needed
from limbwright.report.fonts import covers, font_folder
from limbwright.report.views import ABOVE, choose_sides
from limbwright.report.whole import write_whole
from limbwright.report.words import chance_phrase, cut_words, one_in, plain

if TYPE_CHECKING:
    from limbwright.cuts.results import Cut, Plan
    from limbwright.model.records import StationRecord
    from limbwright.statics.assess import Assessment

__all__ = ["Item", "Page", "card_png", "cut_cards"]

Page = Literal["a5", "a4"]
Item = "tuple[Assessment, Plan, StationRecord | None]"

BATCH = 24
"""Cards set at once: the setter keeps about 2 MB for each as long as its process lives."""

BOXES_MM = {"a5": (65.0, 66.0, 54.0), "a4": (93.0, 92.0, 74.0)}
"""Width of a drawing, height of the side views, height of the view from above [mm]."""


def cut_cards(
    items: Sequence[tuple[Assessment, Plan, StationRecord | None]],
    path: str | os.PathLike[str],
    *,
    holding: str = "",
    page: Page = "a5",
    marked: str = "",
    on_progress: Callable[[int, str], None] | None = None,
) -> Path:
    """Write one cut card a tree into one PDF.

    Every card takes a whole number of leaves (front and back on A5), so the PDF prints two-sided.

    Parameters
    ----------
    items
        Assessment, plan and station (or None) of each tree, in the order of the cards.
    path
        The PDF; written whole or not at all.
    holding
        Name printed on every card.
    page
        ``a5`` or, larger, ``a4``.
    marked
        Words that mark every card, such as "invented example".
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
    if len(items) <= BATCH:
        pdf = _compile(items, holding=holding, page=page, marked=marked, on_progress=on_progress)
        return write_whole(Path(path), pdf[0])
    batches = [items[at : at + BATCH] for at in range(0, len(items), BATCH)]
    return write_whole(
        Path(path),
        in_batches(
            batches,
            partial(_one_pdf, holding=holding, page=page, marked=marked),
            on_progress,
            even=page == "a5",
        ),
    )


def _one_pdf(
    items: Sequence[tuple[Assessment, Plan, StationRecord | None]],
    *,
    holding: str,
    page: Page,
    marked: str,
) -> bytes:
    return _compile(items, holding=holding, page=page, marked=marked)[0]


def card_png(
    item: tuple[Assessment, Plan, StationRecord | None],
    path: str | os.PathLike[str],
    *,
    holding: str = "",
    page: Page = "a5",
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
    if page not in BOXES_MM:
        raise InputError(f"There is no page {page!r} for cut cards.", "Choose a5 or a4.")
    if not items:
        raise InputError("There are no planned trees to make cut cards of.", "Plan a tree first.")
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        cards = []
        for number, item in enumerate(items, 1):
            cards.append(_card(item, number, root, page))
            if on_progress is not None:
                on_progress(number, item[1].tree)
        data = {
            "page": page,
            "holding": plain(holding),
            "marked": plain(marked),
            "ground": "paper" if ppi else "white",
            "cards": cards,
        }
        text = json.dumps(data, ensure_ascii=False, sort_keys=True)
        (root / "data.json").write_text(text, "utf-8")
        copyfile(Path(__file__).parent / "card.typ", root / "card.typ")
        # The bundled typeface alone, so that a card is the same to the byte everywhere, unless
        # somebody wrote in letters it hasn't got.
        made = typst.compile(
            root / "card.typ",
            root=root,
            font_paths=[font_folder()],
            ignore_system_fonts=covers(text),
            format="png" if ppi else "pdf",
            ppi=ppi,
        )
    return [made] if isinstance(made, bytes) else list(made)


def _card(
    item: tuple[Assessment, Plan, StationRecord | None], number: int, root: Path, page: Page
) -> dict[str, Any]:
    """Draw the pictures of one card into ``root`` and return its words and figures."""
    assessment, plan, station = item
    s = assessment.skeleton
    used = np.asarray(assessment.utilisation, dtype=np.float64)
    scene = Scene(
        skeleton=s,
        cuts=plan.cuts,
        gone=np.asarray(plan.gone, dtype=np.bool_),
        used=used.max(axis=0) if used.ndim == 2 and used.size else np.zeros(s.n),
        named=_named(assessment, plan),
    )
    first, second = choose_sides([c.point_m for c in plan.cuts])
    width, side_high, above_high = BOXES_MM[page]
    # Many cuts need room in the table: the drawings give up to a third of their height.
    shrink = float(np.clip(1.0 - 0.07 * (len(plan.cuts) - 3), 0.65, 1.0))
    side_high, above_high = shrink * side_high, shrink * above_high
    boxes = [(first, width, side_high), (second, width, side_high), (ABOVE, width, above_high)]
    scale = fit_scale(s, boxes)
    pictures = []
    # Paper a wide low tree does not need goes to its cuts; both side views stay level.
    sides = min(side_high, max(height_needed(s, view, scale) for view in (first, second)))
    above = min(above_high, height_needed(s, ABOVE, scale))
    boxes = [(first, width, sides), (second, width, sides), (ABOVE, width, above)]
    for k, (view, wide, high) in enumerate(boxes):
        name = f"{number:05d}-{k}.svg"
        (root / name).write_text(draw_view(scene, view, wide, high, scale), "utf-8")
        pictures.append(name)
    code = io.BytesIO()
    segno.make_qr(f"limbwright:{plan.tree}", error="m").save(
        code, kind="svg", border=0, dark="#1d2226", xmldecl=False, nl=False
    )
    (root / f"{number:05d}-q.svg").write_bytes(code.getvalue())
    return {
        "tree": plain(plan.tree),
        "pictures": pictures,
        "code": f"{number:05d}-q.svg",
        "scale": f"1 : {1000.0 / scale:.0f}",
        **_words(plan, station),
    }


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


def _words(plan: Plan, station: StationRecord | None) -> dict[str, Any]:
    species = plan.species
    cultivar = "" if station is None else station.cultivar
    lesser = list(plan.lesser)
    return {
        "kind": plain(", ".join(w for w in (species, cultivar) if w)),
        "season": plain(plan.season),
        "state": plain(plan.state),
        "window": plain(plan.window),
        "summary": plain(plan.summary),
        "hours": f"{plan.hours:.1f}" if plan.hours < 9.95 else f"{plan.hours:.0f}",
        "cuts": [_cut(c) for c in plan.cuts],
        "lesser": [f"{cut_words(c)}, {_place(c)}" for c in lesser],
        "dose": _share(plan.dose, plan.dose_limit),
        "wound": _share(plan.wound_share, plan.wound_limit),
        "chance": {
            "before": one_in(plan.chance_before),
            "after": one_in(plan.chance_after),
            "words_before": chance_phrase(plan.chance_before),
            "words_after": chance_phrase(plan.chance_after),
        },
        "keep": [{"limb": plain(limb), "why": plain(why)} for limb, why in plan.keep],
        "left": [
            {"limb": plain(x.limb), "cut": plain(x.cut), "why": plain(x.why)} for x in plan.left
        ],
        "cautions": [plain(c) for c in plan.cautions],
        "certificate": plain(plan.certificate),
        "binding": [plain(b) for b in plan.binding],
    }


def _share(taken: float, limit: float) -> dict[str, Any]:
    """Return a share and its limit as per cent in words and as a part of the limit."""
    return {
        "taken": f"{100.0 * taken:.0f} %" if taken >= 0.095 else f"{100.0 * taken:.1f} %",
        "limit": f"{100.0 * limit:.0f} %",
        "fill": float(min(max(taken / limit, 0.0), 1.0)) if limit > 0.0 else 0.0,
    }


def _place(cut: Cut) -> str:
    if cut.height_m < 0.05:
        return "at the ground"
    return f"{cut.height_m:.1f} m up, {point_words(cut.bearing_deg)} side"


def _sentence(words: str) -> str:
    words = plain(words).strip()
    if not words:
        return ""
    words = words[0].upper() + words[1:]
    return words if words[-1] in ".!?" else words + "."


def _cut(cut: Cut) -> dict[str, Any]:
    reason = _sentence(cut.reason)
    head = cut_words(cut)
    # A reason that opens by naming the cut again is told from its "because" on.
    opening = re.match(r"^(?:Take out|Shorten|Head|Thin|Remove)\b[^:]*:\s*(.+)$", reason, re.S)
    if opening:
        head = reason[: opening.start(1)].rstrip().rstrip(":")
        reason = _sentence(opening.group(1))
    kg = cut.piece_kg
    return {
        "order": str(cut.order),
        "what": plain(head),
        "where": _place(cut),
        "across": f"{cut.diameter_mm:.0f} mm across"
        if cut.diameter_mm < 100
        else f"{cut.diameter_mm / 10:.0f} cm across",
        "piece": (f"{kg:.0f} kg" if kg >= 9.5 else f"{kg:.1f} kg")
        + f", {cut.piece_length_m:.1f} m",
        "tool": _sentence(cut.tool),
        "reason": reason,
        "effect": _sentence(cut.effect),
    }

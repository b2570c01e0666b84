"""Forming cards: one young tree on one A4 page, its pictures, cuts, reasons and years ahead."""

from __future__ import annotations

import io
import json
import os
import re
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from shutil import copyfile
from typing import TYPE_CHECKING, Any

import segno
import typst

from limbwright.errors import InputError
from limbwright.form.dose import WAITS
from limbwright.form.words import side
from limbwright.report.batches import AT_ONCE, in_batches, shared_out
from limbwright.report.drawing import ROUND_SCALES
from limbwright.report.fonts import covers, font_folder
from limbwright.report.form_drawing import draw_later, draw_young, room_needed, turned_sample
from limbwright.report.form_scene import YoungScene, young_scene
from limbwright.report.strokes import sample
from limbwright.report.views import ABOVE, SOUTH, WEST, View
from limbwright.report.whole import write_whole
from limbwright.report.wording import tied
from limbwright.report.words import plain

if TYPE_CHECKING:
    from limbwright.form.results import FormPlan, FormRow

__all__ = ["form_batches", "form_card_png", "form_cards", "set_forms"]

VIEWS = (SOUTH, WEST, ABOVE)
LARGEST_SCALE = 20
"""1 in so many; larger, a shoot would look like a limb."""
MANY_HIGH_MM = 74.0
"""Height of the drawings beside a long list of work, so that it keeps to its page; by looking."""
SMALLEST_SCALE = 40
"""Smaller than 1 in 40 the kerfs of three drawings run together; found by looking."""
PAPER_WIDE_MM = 190.0
SIDES_WIDE_MM = 126.0
"""Room for the two sides, so that at least 60 mm stay for the view from above; judgement."""
ABOVE_MM = (60.0, 58.0)
MOST_YEARS = 5
NAMES = {"scaffold": "Limb", "second": "Side limb"}
OVER = "more than the limit, but the cuts that form it are made all the same"
LATER_MM = 17.0
LATER_FROM_M = 0.4
"""How far below the clear stem the small pictures begin."""


def form_cards(
    plans: Sequence[FormPlan],
    path: str | os.PathLike[str],
    *,
    holding: str = "",
    marked: str = "",
    workers: int | None = None,
    on_progress: Callable[[int, str], None] | None = None,
) -> Path:
    """Write one forming card a young tree into one PDF, whole or not at all.

    Parameters
    ----------
    plans
        The plans, in the order of the cards.
    path
        The PDF.
    holding
        Name printed on every card.
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
        There are no plans.
    """
    if len(plans) <= AT_ONCE:
        pdf = _compile(plans, holding=holding, marked=marked, on_progress=on_progress)
        return write_whole(Path(path), pdf[0])
    set_one = partial(set_forms, holding=holding, marked=marked)
    return write_whole(
        Path(path), in_batches(form_batches(plans), set_one, on_progress, workers=workers)
    )


def form_batches(plans: Sequence[FormPlan]) -> list[Sequence[FormPlan]]:
    """Return plans as they are set together, for `set_forms`."""
    return shared_out(plans)


def set_forms(plans: Sequence[FormPlan], *, holding: str = "", marked: str = "") -> bytes:
    """Return the forming cards of a few trees as one PDF, errors as of `form_cards`."""
    return _compile(plans, holding=holding, marked=marked)[0]


def form_card_png(
    plan: FormPlan,
    path: str | os.PathLike[str],
    *,
    holding: str = "",
    marked: str = "",
    ppi: float = 144.0,
) -> Path:
    """Write one forming card as a picture on a warm ground and return its path."""
    pages = _compile([plan], holding=holding, marked=marked, ppi=ppi)
    return write_whole(Path(path), pages[0])


def _compile(
    plans: Sequence[FormPlan],
    *,
    holding: str,
    marked: str,
    on_progress: Callable[[int, str], None] | None = None,
    ppi: float | None = None,
) -> list[bytes]:
    """Return the PDF, or one PNG a page where ``ppi`` is given."""
    if not plans:
        raise InputError("There are no young trees to make forming cards of.", "Plan a tree first.")
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        cards = []
        for number, plan in enumerate(plans, 1):
            cards.append(_card(plan, root, number))
            if on_progress is not None:
                on_progress(number, plan.tree)
        data = {
            "holding": plain(holding),
            "marked": plain(marked),
            "ground": "paper" if ppi else "white",
            "cards": cards,
        }
        text = json.dumps(data, ensure_ascii=False, sort_keys=True)
        (root / "data.json").write_text(text, "utf-8")
        for part in ("parts.typ", "form-card.typ"):
            copyfile(Path(__file__).parent / part, root / part)
        for kind in ("cut", "goes", "dead"):
            (root / f"sample-{kind}.svg").write_text(sample(kind), "utf-8")
        (root / "sample-turned.svg").write_text(turned_sample(), "utf-8")
        made = typst.Compiler(
            root / "form-card.typ",
            root=root,
            font_paths=[font_folder()],
            ignore_system_fonts=covers(text),
        ).compile(format="png" if ppi else "pdf", ppi=ppi)
    if made is None:  # only where it is told to write a file itself
        raise RuntimeError("the setter gave no card back")
    return [made] if isinstance(made, bytes) else list(made)


def _card(plan: FormPlan, root: Path, number: int) -> dict[str, Any]:
    """Return the words of one card; draw its pictures and write its code."""
    scene = young_scene(plan)
    layout = _layout(scene, len(plan.work))
    for k, (view, (wide, high)) in enumerate(zip(layout.views, layout.boxes, strict=True)):
        picture = draw_young(scene, view, wide, high, 1000.0 / layout.one_in)
        (root / f"{number:05d}-{k}.svg").write_text(picture, "utf-8")
    code = io.BytesIO()
    segno.make_qr(plan.tree, error="m").save(
        code, kind="svg", border=0, dark="#000000", xmldecl=False, nl=False
    )
    (root / f"{number:05d}-q.svg").write_bytes(code.getvalue())
    card: dict[str, Any] = tied(
        {
            "tree": plain(plan.tree),
            "kind": plain(", ".join(w for w in (plan.species, plan.cultivar) if w)),
            "state": f"planted {plan.planted}" if plan.planted is not None else "young tree",
            "season": plan.season.replace(" ", "\u00a0"),
            "dose": _share(plan.dose, plan.dose_limit),
            "wound": _share(plan.wound_share, 1.0 / 3.0),
            "window": re.split(r"(?<=[.!?]) ", plain(plan.window)),
            "hours": _hours(plan),
            "stage": plan.stage.title,
            "because": _sentence(plan.stage.because),
            "over": _sentence(OVER if plan.dose > plan.dose_limit + 1e-9 else ""),
            "target": f"{plan.target.metres:.1f} m",
            "target_why": _target(plan),
            "rows": [_row(row) for row in plan.work],
            "left": _left(plan),
            "choice": _choice(plan),
            "milestones": list(plan.milestones),
            "stop": plan.stop,
            "reminders": [plain(r) for r in plan.reminders],
            "cautions": [plain(c) for c in plan.cautions],
            "notes": [plain(n) for n in plan.notes],
        }
    )
    return {
        **card,
        "pictures": [f"{number:05d}-{k}.svg" for k in range(len(layout.views))],
        "code": f"{number:05d}-q.svg",
        "boxes_mm": layout.boxes,
        "one_in": f"{layout.one_in}",
        "kinds": _kinds(plan),
        "years": _years(plan, root, number),
        "later_mm": LATER_MM,
    }


def _kinds(plan: FormPlan) -> list[dict[str, str]]:
    """Return the ways of drawing that a card uses, each with its words."""
    cut = any(r.cuts for r in plan.rows)
    used = {
        "cut": ("cut here", cut),
        "goes": ("comes off", cut),
        "turned": ("set to the dotted line", any(r.spread_to_deg is not None for r in plan.rows)),
        "dead": ("dead wood", any(s.state == "dead" for s in plan.crown.shoots)),
    }
    return [{"kind": kind, "words": words} for kind, (words, wanted) in used.items() if wanted]


@dataclass(frozen=True, slots=True)
class _Layout:
    """The drawings of one card: from where, how large [mm], and 1 in how many."""

    views: tuple[View, ...]
    boxes: tuple[tuple[float, float], ...]
    one_in: int


def _layout(scene: YoungScene, count: int) -> _Layout:
    """Return two sides and the view from above, or a wide crown's better side and that view."""
    highest = 96.0 if count <= 5 else 88.0 if count <= 8 else 80.0  # judgement, by looking
    three = _three(scene, highest)
    if three.one_in <= SMALLEST_SCALE:
        return three
    two = _two(scene, highest if count <= 8 else MANY_HIGH_MM)
    return two if two.one_in < three.one_in else three


def _three(scene: YoungScene, highest: float) -> _Layout:
    for one_in in _scales():
        first, second, above = (room_needed(scene, view, 1000.0 / one_in) for view in VIEWS)
        fits = (
            first[0] + second[0] <= SIDES_WIDE_MM
            and max(first[1], second[1]) <= highest
            and above[0] <= ABOVE_MM[0]
            and above[1] <= ABOVE_MM[1]
        )
        if fits:
            break
    slack = (SIDES_WIDE_MM - first[0] - second[0]) / 2.0
    sides = max(first[1], second[1])
    boxes = ((first[0] + slack, sides), (second[0] + slack, sides), (ABOVE_MM[0], above[1]))
    return _Layout(VIEWS, boxes, one_in)


def _two(scene: YoungScene, highest: float) -> _Layout:
    side = max((SOUTH, WEST), key=lambda view: room_needed(scene, view, 1.0)[0])
    for one_in in _scales():
        own, above = (room_needed(scene, view, 1000.0 / one_in) for view in (side, ABOVE))
        if own[0] + above[0] <= PAPER_WIDE_MM - 4.0 and max(own[1], above[1]) <= highest:
            break
    slack = (PAPER_WIDE_MM - 4.0 - own[0] - above[0]) / 2.0
    high = max(own[1], above[1])
    return _Layout((side, ABOVE), ((own[0] + slack, high), (above[0] + slack, high)), one_in)


def _scales() -> list[int]:
    return [scale for scale in ROUND_SCALES if scale >= LARGEST_SCALE]


def _share(taken: float, limit: float) -> dict[str, Any]:
    return {
        "taken": f"{100.0 * taken:.0f} %",
        "limit": f"{100.0 * limit:.0f} %",
        "fill": float(min(max(taken / limit, 0.0), 1.0)) if limit > 0.0 else 0.0,
    }


def _hours(plan: FormPlan) -> str:
    every = (plan.hours.value, plan.hours.low, plan.hours.high)
    value, low, high = (5 * round(12.0 * h) for h in every)
    return f"{value} minutes ({low} to {high})"


def _target(plan: FormPlan) -> str:
    target = plan.target
    words = f"({target.low_m:.1f} to {target.high_m:.1f}) {target.because}"
    if target.low_m == target.high_m:
        words = target.because
    return _sentence(f"{words}; {target.other}" if target.other else words, capital=False)


def _sentence(words: str, *, capital: bool = True) -> str:
    words = plain(words)
    if not words:
        return ""
    if capital:
        words = words[0].upper() + words[1:]
    return words if words.endswith((".", "!", "?")) else f"{words}."


def _row(row: FormRow) -> dict[str, str]:
    leader = row.role == "leader" and row.bearing_deg is None
    name = "Leader" if leader else f"{NAMES.get(row.role, 'Shoot')} {row.shoot}"
    where = [plain(name)]
    if not leader:
        unit = "m up" if row.role not in ("second", "lateral") else "m out"
        where.append(f"{row.at_m:.2f} {unit}")
        if row.bearing_deg is not None:
            where.append(side(row.bearing_deg))
    how = []
    if row.work == "head" and row.takes_cm:
        stays = f", {row.buds} buds stay" if row.share and row.buds else ""
        how.append(f"{row.takes_cm:.0f} cm off{stays}")
    elif row.work == "shorten":
        how.append(f"{row.takes_cm:.0f} cm off")
    if row.cuts:
        how.append(row.tool.lower())
    text = "; ".join(how)
    return {
        "order": str(row.order),
        "where": ", ".join(where),
        "what": plain(row.what[0].lower() + row.what[1:]).replace(" degrees", "°"),
        "how": _sentence(text) if text else "",
        "why": _sentence(row.why),
    }


def _left(plan: FormPlan) -> list[dict[str, str]]:
    """Return the shoots left alone, those of one reason together."""
    groups: dict[str, list[str]] = {}
    for row in plan.rows:
        if row.order:
            continue
        if row.what == WAITS:
            groups.setdefault("wait until next year, as the dose is full", []).append(row.shoot)
            continue
        what = row.what[0].lower() + row.what[1:]
        why = row.why if what == "leave" else f"{what}, {row.why}"
        groups.setdefault(plain(why), []).append(row.shoot)
    return [{"shoots": ", ".join(names), "why": why} for why, names in groups.items()]


def _choice(plan: FormPlan) -> dict[str, Any]:
    choice = plan.choice
    if choice is None:
        return {}
    names = ", ".join(choice.best.names)
    score = f"{100 * choice.best.score:.0f} of 100"
    title = f"Scaffold: {names} ({score})" if choice.good else f"No good scaffold yet ({score})"
    return {
        "title": plain(title),
        "terms": list(choice.terms),
        "against": plain(choice.against),
        "missing": [plain(m) for m in choice.missing],
        "remedies": [plain(r) for r in choice.remedies],
    }


def _years(plan: FormPlan, root: Path, number: int) -> list[dict[str, str]]:
    """Return the years ahead with a small picture of each, all to one scale."""
    years = [y for y in plan.ahead if y.crown is not None][:MOST_YEARS]
    if not years:
        return []
    wide = 190.0 / len(years) - 3.0
    lowest = min(y.crown.height_m for y in years if y.crown is not None)
    floor = max(min(plan.target.metres, lowest) - LATER_FROM_M, 0.0)
    high = max(y.crown.height_m for y in years if y.crown is not None) - floor
    spread = max(y.crown.spread_m for y in years if y.crown is not None)
    scale = min((LATER_MM - 2.0) / max(high, 0.5), (wide - 4.0) / max(spread, 0.5))
    found = []
    for k, year in enumerate(years):
        assert year.crown is not None
        name = f"{number:05d}-y{k}.svg"
        (root / name).write_text(draw_later(year.crown, wide, LATER_MM, scale, floor), "utf-8")
        found.append(
            {
                "year": str(year.year),
                "stage": "" if year.stage.key == "build" else f"{year.stage.title}.",
                "what": tied(year.what),
                "picture": name,
            }
        )
    return found

"""All words and figures of one card, as plain strings for the setter."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any

from limbwright.cuts.order import point_words
from limbwright.report.words import AS_BEFORE, chance_among, cut_words, per_cent_pair, plain

if TYPE_CHECKING:
    from limbwright.cuts.results import Cut, Left, Plan
    from limbwright.light.summary import LightAir
    from limbwright.model.records import StationRecord

__all__ = ["card_words"]

UNIT = re.compile(
    r"(?<=\d) (?=(?:mm|cm|m|kg|h|%|\d{3})(?!\w))|(?<=\b1) (?=in \d)|(?<=\b1 in) (?=\d)"
)
"""A blank between a figure and its unit, within a long figure or "1 in 20"."""

LONG_REASON = 70
"""Letters from which a reason already told at another cut is not told again; judgement."""


def card_words(plan: Plan, station: StationRecord | None) -> dict[str, Any]:
    """Return everything a card says about a plan, without its drawings."""
    cultivar = "" if station is None else station.cultivar
    shared = _shared(c.effect for c in plan.cuts)
    trees, counts = chance_among(plan.chance_before, plan.chance_after)
    card: dict[str, Any] = tied(
        {
            "tree": plain(plan.tree),
            "kind": plain(", ".join(w for w in (plan.species, cultivar) if w)),
            "season": plain(plan.season).replace(" ", "\u00a0"),
            "state": plain(plan.state),
            "window": re.split(r"(?<=[.!?]) ", plain(plan.window)),
            "summary": plain(plan.summary),
            "hours": f"{plan.hours:.1f}" if plan.hours < 9.95 else f"{plan.hours:.0f}",
            "cuts": _cuts(plan.cuts, shared),
            "undone": [
                {"cuts": _numbers(c.order for c in plan.cuts if c.effect == effect), "what": words}
                for effect in shared
                if (words := _effect(effect))
            ],
            "lesser": _lesser(plan.lesser),
            "dose": _share(plan.dose, plan.dose_limit),
            "wound": _share(plan.wound_share, plan.wound_limit),
            "chance": {"trees": trees, "before": counts[0], "after": counts[1]},
            "light": _light(plan.light_before, plan.light_after),
            "keep": [{"limb": plain(limb), "why": plain(why)} for limb, why in plan.keep],
            "left": _left(plan.left),
            "cautions": [plain(c) for c in plan.cautions],
            "certificate": plain(plan.certificate),
            "binding": [plain(b) for b in plan.binding],
        }
    )
    return card


def tied(words: Any) -> Any:
    """Return words, or all words of a mapping or list, with figures tied to their units."""
    if isinstance(words, str):
        return UNIT.sub("\u00a0", words)
    if isinstance(words, dict):
        return {name: tied(value) for name, value in words.items()}
    return [tied(one) for one in words] if isinstance(words, list) else words


def _share(taken: float, limit: float) -> dict[str, Any]:
    """Return a share and its limit as per cent in words and as a part of the limit."""
    return {
        "taken": f"{100.0 * taken:.0f} %" if taken >= 0.095 else f"{100.0 * taken:.1f} %",
        "limit": f"{100.0 * limit:.0f} %",
        "fill": float(min(max(taken / limit, 0.0), 1.0)) if limit > 0.0 else 0.0,
    }


def _light(before: LightAir, after: LightAir) -> dict[str, str]:
    """Return light on the leaf and hats that pass of a hundred, before and after; or nothing.

    A tree without leaf, or left without, has no light to tell of.
    """
    if not (before.mean > 0.0 and after.mean > 0.0 and isfinite(before.hat + after.hat)):
        return {}
    light, lit = per_cent_pair(before.mean, after.mean)
    hats, pass_then = per_cent_pair(before.hat, after.hat)
    return {
        "before": f"{light} %",
        "after": AS_BEFORE if lit is None else f"{lit} %",
        "hats": f"{hats}",
        "hats_after": AS_BEFORE if pass_then is None else f"{pass_then}",
    }


def _shared(texts: Iterable[str]) -> list[str]:
    """Return the texts that come more than once, in order."""
    every = [text for text in texts if text]
    return [text for text in dict.fromkeys(every) if every.count(text) > 1]


def _numbers(orders: Iterable[int]) -> str:
    every = [str(n) for n in orders]
    return every[0] if len(every) == 1 else ", ".join(every[:-1]) + " and " + every[-1]


def _sentence(words: str) -> str:
    words = plain(words).strip()
    if not words:
        return ""
    words = words[0].upper() + words[1:]
    return words if words[-1] in ".!?" else words + "."


def _effect(effect: str, reason: str = "") -> str:
    """Return what stays without the cut; a share the reason has told is not told again."""
    words = re.sub(r"^Left undone,\s*", "", plain(effect))
    stays = re.match(
        r"^(.+?) stays at (\d+ %) of what it can bear(?:; its chance of failure is (.+))?$",
        words.removesuffix("."),
    )
    if stays and stays[2] in reason:
        if stays[3] is None:
            return ""
        name = "it" if stays[1] == "it" else stays[1]
        words = f"the chance that {name} fails is {stays[3]}"
    return _sentence(words)


def _place(cut: Cut) -> str:
    if cut.height_m < 0.05:
        return "at the ground"
    return f"{cut.height_m:.1f} m up, {point_words(cut.bearing_deg)} side"


def _cuts(cuts: Sequence[Cut], shared: Sequence[str]) -> list[dict[str, Any]]:
    told: dict[str, int] = {}
    rows = []
    for cut in cuts:
        row = _cut(cut)
        reason = row["reason"]
        row["as"] = ""
        if len(reason) >= LONG_REASON:
            if reason in told:
                row["as"] = f"For the same reason as cut {told[reason]}."
            told.setdefault(reason, cut.order)
        if cut.effect in shared:
            row["effect"] = ""
        rows.append(row)
    return rows


def _cut(cut: Cut) -> dict[str, Any]:
    reason = _sentence(cut.reason)
    order = cut_words(cut)
    # A reason that opens by naming the cut again is told from its "because" on.
    opening = re.match(r"^(?:Take out|Shorten|Head|Thin|Remove)\b[^:]*:\s*(.+)$", reason, re.S)
    if opening:
        order = reason[: opening.start(1)].rstrip().rstrip(":")
        reason = _sentence(opening.group(1))
    end = plain(cut.to_lateral) or "to the collar"
    head = order.removesuffix(end).rstrip()
    to = "" if head == order else end if end.startswith(("to ", "at ", "just ")) else f"to {end}"
    if head.endswith(" to") and to.startswith("to "):
        head = head.removesuffix(" to")
    kg = cut.piece_kg
    return {
        "order": str(cut.order),
        "what": plain(head),
        "to": plain(to).replace(", to be found near ", " near "),
        "where": _place(cut),
        "across": f"{cut.diameter_mm:.0f} mm across"
        if cut.diameter_mm < 100
        else f"{cut.diameter_mm / 10:.0f} cm across",
        "piece": (f"{kg:.0f} kg" if kg >= 9.5 else f"{kg:.1f} kg")
        + f", {cut.piece_length_m:.1f} m",
        "tool": _sentence(cut.tool),
        "reason": reason,
        "effect": _effect(cut.effect, reason),
    }


def _left(rows: Sequence[Left]) -> list[dict[str, str]]:
    """Return what is left for later, limbs with the same cut and the same reason together."""
    alike: dict[tuple[str, str], list[str]] = {}
    for x in rows:
        alike.setdefault((plain(x.cut), plain(x.why)), []).append(plain(x.limb))
    return [
        {"limb": ", ".join(limbs), "cut": cut, "why": why} for (cut, why), limbs in alike.items()
    ]


def _lesser(cuts: Sequence[Cut]) -> list[str]:
    """Return small work in sentences, one for all limbs that are to be treated alike."""
    alike: dict[tuple[str, str], list[Cut]] = {}
    for cut in cuts:
        order = plain(cut.reason).split(": ", 1)[0]
        before, found, after = order.partition(f"limb {plain(cut.limb)}")
        parts = (before, after) if found else (cut_words(cut), "")
        alike.setdefault(parts, []).append(cut)
    rows = []
    for (before, after), group in alike.items():
        if not before.endswith(" ") and not after:  # an order that names no limb
            rows += [f"{before}, {_place(cut)}." for cut in group]
            continue
        names = [f"{plain(cut.limb)} ({_place(cut)})" for cut in group]
        noun = "limb" if len(names) == 1 else "limbs"
        listed = names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
        rows.append(_sentence(f"{before}{noun} {listed}{after}"))
    return rows

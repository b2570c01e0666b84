"""Where the tape is worth taking: what a limb survey is expected to gain before deciding.

Without it there are three decisions: leave the tree, work by eye within its state's dose, work
heavily by eye; each is expected to gain so much and may gain more or less (`prior`). With the limbs
taped, the better of these is known, and the plan places each cut. What that brings beyond the best
decision without, less the time it takes, is what the tape is worth.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from importlib.resources import files
from typing import Any

import numpy as np

from limbwright.cuts.weights import Settings
from limbwright.model.records import StationRecord
from limbwright.model.site import Site
from limbwright.model.skeleton import Floats
from limbwright.needs.evsi import best_of_three
from limbwright.needs.features import FEATURES
from limbwright.needs.judgement import Judgement
from limbwright.needs.kinds import AT_WORK, kind_of_work, sureness
from limbwright.needs.prior import WAYS, Prior, prior
from limbwright.needs.taped import learnt_from
from limbwright.needs.walk import read_walk
from limbwright.trade.parameters import parameters

__all__ = ["SCHEMA", "TapeValue", "tape_schema", "tape_to_dict", "tape_value", "value_of_seeing"]

SCHEMA = "limbwright.tape/1"
WITHOUT = ("leave", *WAYS[:2])
SAID = {
    "leave": "leaving it",
    "eye": "work by eye",
    "heavy": "heavy work by eye",
}
WORDS = {
    "girth": ("a stout stem", "a thin stem for its crown"),
    "height": ("its height", "its lowness"),
    "spread": ("its spread", "its narrow crown"),
    "dead": ("its dead wood", "little dead wood"),
    "lean": ("its lean", "its upright stem"),
    "cracked": ("a crack", ""),
    "included": ("bark in a union", ""),
    "heavy": ("long heavy limbs", ""),
    "hollow": ("a hollow", ""),
    "weak and heavy": ("long heavy limbs on a weak place", ""),
    "hollow stem": ("a hollow stem", ""),
    "broken": ("a broken limb", ""),
    "congested": ("its crowded crown", ""),
    "rubbing": ("rubbing limbs", ""),
    "diseased": ("disease", ""),
    "poor": ("its poor condition", ""),
    "good": ("its good condition", ""),
    "frail": ("its frail state", ""),
    "long forgotten": ("long neglect", ""),
    "overgrown": ("its overgrown crown", ""),
    "routine": ("its yearly care", ""),
    "stone": ("a stone fruit", ""),
    "leader": ("a leader", ""),
}
"""What stands for a feature in a sentence where it pulls the value up: more of it, less of it."""

TELLING_H = 0.25
"""Judgement: a feature that brings less than this is not named."""
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class TapeValue:
    """What taping one tree is expected to be worth, in hours.

    ``gain_h`` is with the tape beyond the best decision without, before its cost; ``choosing_h``
    the part that comes of knowing which work the tree needs, ``placing_h`` that of placing each
    cut by what its limb carries. ``without`` is that best decision (leave, eye, heavy) and
    ``without_h`` what it is expected to gain; ``with_h`` what a plan on taped limbs is. ``cost_h``
    are the person-hours of taping, ``minutes`` how long it takes.
    """

    tree: str
    station: StationRecord
    gain_h: float
    choosing_h: float
    placing_h: float
    cost_h: float
    minutes: float
    without: str
    without_h: float
    with_h: float
    chance: Judgement[float]
    sure: float
    because: str

    @property
    def net_h(self) -> float:
        """The gain less what taping costs [h]."""
        return self.gain_h - self.cost_h

    def line(self) -> str:
        """Return the value in one printable line."""
        return f"{self.tree}: {self.net_h:+.1f} h ({self.because})"

    def to_dict(self) -> dict[str, Any]:
        """Return the value as plain values, units in the keys."""
        return {
            "tree": self.tree,
            "net_h": round(self.net_h, 3),
            "gain_h": round(self.gain_h, 3),
            "choosing_h": round(self.choosing_h, 3),
            "placing_h": round(self.placing_h, 3),
            "cost_h": round(self.cost_h, 3),
            "minutes": round(self.minutes, 1),
            "without": self.without,
            "without_h": round(self.without_h, 3),
            "with_h": round(self.with_h, 3),
            "chance": self.chance.to_dict(),
            "sure": round(self.sure, 2),
            "because": self.because,
        }


def value_of_seeing(
    mean_h: Floats, sd_h: Floats, rho: float, known: float = 1.0
) -> tuple[Floats, Floats, Floats]:
    """Return what seeing the limbs gains, and of that what the choice of work and what the plan.

    Parameters
    ----------
    mean_h, sd_h
        ``(3, n)`` gain expected by eye, of heavy work, of a plan on taped limbs, and its scatter.
    rho
        Correlation of the first two.
    known
        Share of the variance that the tape takes away.

    Returns
    -------
    tuple
        Three ``(n,)`` in hours: in all, choosing, placing. With ``B = max(0, eye, heavy)`` once
        the limbs are seen, all is ``max(E plan, E B) - max(0, E eye, E heavy)`` and choosing is
        ``E B - max(0, E eye, E heavy)``; neither is ever below 0.
    """
    best = np.maximum(np.maximum(mean_h[0], mean_h[1]), 0.0)
    sd = np.sqrt(known) * sd_h
    seen = best_of_three(mean_h[0], sd[0], mean_h[1], sd[1], rho)
    choosing = np.maximum(seen - best, 0.0)
    whole = np.maximum(np.maximum(mean_h[2], seen) - best, 0.0)
    choosing = np.minimum(choosing, whole)
    return whole, choosing, whole - choosing


def tape_value(
    stations: Sequence[StationRecord],
    site: Site | None = None,
    *,
    year: int | None = None,
    settings: Settings | None = None,
    taped: Sequence[str] = (),
    chances: Mapping[str, float] | None = None,
) -> tuple[TapeValue, ...]:
    """Return what taping each tree is expected to be worth, the most worth first.

    Gaps, dead trees, trees in their forming years and trees left for wildlife are left out: no
    limb survey changes what is to be done there. ``taped`` names trees whose limbs are known;
    ``chances`` gives the chance of failure a year of such trees, which teach the others.
    """
    year = date.today().year if year is None else year
    site, settings = site or Site(), settings or Settings()
    walks = [read_walk(s, year) for s in stations]
    learnt = learnt_from(walks, chances or {}, site, settings)
    known = {*taped, *(chances or {})}
    walks = [w for w in walks if w.station.tree not in known and kind_of_work(w).value in AT_WORK]
    if not walks:
        return ()
    found = prior(walks, site, settings, shift=learnt.shift)
    share = parameters("needs")["tape_tells"].value
    whole, choosing, placing = value_of_seeing(found.gain_h, found.gain_sd_h, found.rho, share)
    table = parameters("needs")
    minutes = table["minutes_to_tape"].value + table["minutes_to_find"].value
    cost = table["people_to_tape"].value * minutes / 60.0
    outside = table["sure_outside"].value
    options = np.vstack([np.zeros(len(walks)), found.gain_h[:2]])
    without = np.argmax(options, axis=0)
    out = []
    for k, walk in enumerate(walks):
        action = WITHOUT[int(without[k])]
        mean, low, high = (
            float(v[k]) for v in (found.chance.mean, found.chance.low, found.chance.high)
        )
        chance = Judgement(
            mean,
            f"of 100 trees like this about {100 * mean:.0f} lose a limb in a year",
            sureness(walk, "default", "girth", "height", "spread"),
            low,
            high,
            parameters("tape")["chance.sd"].source,
        )
        out.append(
            TapeValue(
                tree=walk.station.tree,
                station=walk.station,
                gain_h=float(whole[k]),
                choosing_h=float(choosing[k]),
                placing_h=float(placing[k]),
                cost_h=cost,
                minutes=minutes,
                without=action,
                without_h=float(options[without[k], k]),
                with_h=float(options[without[k], k] + whole[k]),
                chance=chance,
                sure=chance.sure * (outside if found.outside[k] else 1.0),
                because=_because(found, k, int(without[k]), chance, float(whole[k])),
            )
        )
    return tuple(sorted(out, key=lambda one: -one.net_h))


def _because(found: Prior, k: int, without: int, chance: Judgement[float], gain_h: float) -> str:
    """Return the sentence: what speaks for the tape here, beside a usual tree."""
    pull = found.pull_h[2, k] - (found.pull_h[without - 1, k] if without else 0.0)
    names: list[str] = []
    for i in np.argsort(-pull):
        more, less = WORDS.get(FEATURES[i], ("", ""))
        word = more if found.beside[k, i] > 0.0 else less
        if pull[i] < TELLING_H or len(names) == MOST_NAMED:
            break
        if word:
            names.append(word)
    told = f"{', '.join(names)}; " if names else ""
    return (
        f"{told}{chance.because}; a plan on taped limbs is expected to gain {gain_h:.1f} h over "
        f"{SAID[WITHOUT[without]]}"
    )


def tape_to_dict(found: Sequence[TapeValue]) -> dict[str, Any]:
    """Return values of the tape under the published schema ``limbwright.tape/1``."""
    return {"schema": SCHEMA, "trees": [one.to_dict() for one in found]}


def tape_schema() -> dict[str, Any]:
    """Return the JSON schema that values of the tape are written by, with a day or without."""
    text = files("limbwright.needs").joinpath("tape.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema

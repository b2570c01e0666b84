"""What one tree, or each of many, needs: every judgement with its reason and how sure it is."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

from limbwright.cuts.weights import Settings
from limbwright.errors import InputError
from limbwright.form.care import form_window
from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.model.site import Site
from limbwright.needs.amounts import AS_USUAL, CUTS_CM, dose_of, hours_of, review_year, wounds_of
from limbwright.needs.cautions import cautions_for
from limbwright.needs.judgement import Judgement
from limbwright.needs.kinds import AT_WORK, dead_over_people, kind_of_work, sureness
from limbwright.needs.prior import EIGHT_OF_TEN, WAYS, Prior, Spread, prior
from limbwright.needs.taped import learnt_from
from limbwright.needs.urgency import at_once, costs_of_waiting, tier_of, urgency_of
from limbwright.needs.walk import Walk, read_walk
from limbwright.trade.parameters import parameters
from limbwright.trade.place_window import place_window
from limbwright.trade.seasons.job_windows import FIRST_YEAR, LAST_YEAR
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.species import species
from limbwright.trade.windows import Window, group_window

__all__ = ["SCHEMA", "Need", "need_of", "needs", "needs_schema", "needs_to_dict"]

SCHEMA = "limbwright.needs/1"

NO_ORCHARDS: Mapping[str, Orchard] = {}
NO_CHANCES: Mapping[str, float] = {}
NO_FACTORS: Mapping[str, tuple[float, float]] = {}


@dataclass(frozen=True, slots=True)
class Need:
    """What a station needs, from the walk alone.

    ``waiting_h_a_year`` is what a year's delay is expected to cost. ``chance`` is that any limb
    fails within a year, for trees like this one; None where no crown is worked on, as with
    ``dose`` and ``cuts_allowed`` (of 5, 10 and 15 cm). ``months`` are those of the window.
    ``tier`` says what comes first, see `limbwright.needs.urgency.TIERS`.
    """

    tree: str
    station: StationRecord
    kind: Judgement[str]
    urgency: Judgement[str]
    waiting_h_a_year: Judgement[float]
    chance: Judgement[float] | None
    dose: Judgement[float] | None
    cuts_allowed: Judgement[tuple[int, ...]] | None
    window: Judgement[str]
    months: tuple[int, ...]
    hours: Judgement[float]
    review: Judgement[int]
    tier: str
    missing: tuple[str, ...]
    contradictions: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def sure(self) -> float:
        """How sure the least sure of kind, urgency and hours is."""
        return min(self.kind.sure, self.urgency.sure, self.hours.sure)

    def line(self) -> str:
        """Return the need in one printable line."""
        dose = (
            ""
            if self.dose is None
            else f"; at most {100 * self.dose.value:.0f} % of the live crown"
        )
        low, high = self.hours.low or 0.0, self.hours.high or 0.0
        return (
            f"{self.tree}: {self.kind.value}, {self.urgency.value} ({self.urgency.because}){dose}; "
            f"{self.hours.value:.1f} h ({low:.1f} to {high:.1f}); look again {self.review.value}"
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the need as plain values, units in the keys."""
        cuts = self.cuts_allowed
        return {
            "tree": self.tree,
            "kind": self.kind.to_dict(),
            "urgency": self.urgency.to_dict(),
            "waiting_h_a_year": self.waiting_h_a_year.to_dict(),
            "chance": None if self.chance is None else self.chance.to_dict(),
            "dose": None if self.dose is None else self.dose.to_dict(),
            "cuts_allowed": None
            if cuts is None
            else {
                **{f"of_{d}_cm": n for d, n in zip(CUTS_CM, cuts.value, strict=True)},
                "because": cuts.because,
                "sure": round(cuts.sure, 2),
                "source": cuts.source,
            },
            "window": self.window.to_dict(),
            "months": list(self.months),
            "hours": self.hours.to_dict(),
            "review_year": self.review.to_dict(),
            "tier": self.tier,
            "missing": list(self.missing),
            "contradictions": list(self.contradictions),
            "cautions": list(self.cautions),
        }


def need_of(
    station: StationRecord,
    *,
    year: int | None = None,
    orchard: Orchard | None = None,
    site: Site | None = None,
    settings: Settings | None = None,
    only_one: bool = False,
    local_rules: Sequence[LocalRule] = (),
    hours_factors: Mapping[str, tuple[float, float]] | None = None,
) -> Need:
    """Return what one station needs.

    Parameters
    ----------
    station
        Its record from the walk.
    year
        The year of the look; this year if left out.
    orchard
        Its orchard, for who grazes and who walks below.
    site
        Wind, hemisphere, years the trees have stood.
    settings
        Weights and limits in place of the tables'.
    only_one
        Whether no other tree of its cultivar is known on the holding.
    local_rules
        Rules of the place for when work may be done; they come before the calendar.
    hours_factors
        What records have taught of hours, by the key of a species, ``""`` for all others: factors
        of the hours in the tree, and of those for the brash.

    Raises
    ------
    InputError
        The year is none of a calendar.
    """
    return _all(
        [station], year, {} if orchard is None else {station.orchard: orchard}, site, settings,
        [only_one], local_rules=local_rules, hours_factors=hours_factors,
    )[0]  # fmt: skip


def needs(
    stations: Sequence[StationRecord],
    *,
    year: int | None = None,
    orchards: Mapping[str, Orchard] | None = None,
    site: Site | None = None,
    settings: Settings | None = None,
    chances: Mapping[str, float] | None = None,
    local_rules: Sequence[LocalRule] = (),
    hours_factors: Mapping[str, tuple[float, float]] | None = None,
) -> tuple[Need, ...]:
    """Return what each station needs, in the order given; see `need_of`.

    A cultivar that only one live tree of all these bears is taken as the only one. ``chances``
    gives the chance of failure a year of trees whose limbs are known; they teach the others.
    """
    return _all(
        stations,
        year,
        orchards or NO_ORCHARDS,
        site,
        settings,
        _singles(stations),
        chances or NO_CHANCES,
        local_rules,
        hours_factors,
    )


def needs_to_dict(found: Sequence[Need]) -> dict[str, Any]:
    """Return needs under the published schema ``limbwright.needs/1``."""
    return {"schema": SCHEMA, "trees": [one.to_dict() for one in found]}


def needs_schema() -> dict[str, Any]:
    """Return the JSON schema that needs, ranked or not, are written by."""
    text = files("limbwright.needs").joinpath("needs.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def _singles(stations: Sequence[StationRecord]) -> list[bool]:
    names = [
        " ".join(s.cultivar.casefold().split()) if s.status in ("living", "new") else ""
        for s in stations
    ]
    count = Counter(names)
    return [bool(name) and count[name] == 1 for name in names]


def _all(
    stations: Sequence[StationRecord],
    year: int | None,
    orchards: Mapping[str, Orchard],
    site: Site | None,
    settings: Settings | None,
    singles: Sequence[bool],
    chances: Mapping[str, float] = NO_CHANCES,
    local_rules: Sequence[LocalRule] = (),
    hours_factors: Mapping[str, tuple[float, float]] | None = None,
) -> tuple[Need, ...]:
    year = date.today().year if year is None else year
    if not 1 <= year <= 9999:
        raise InputError(f"The year {year} cannot be.", "Give one such as 2027.")
    site, settings = site or Site(), settings or Settings()
    walks = [read_walk(s, year) for s in stations]
    kinds = [kind_of_work(w, orchards.get(w.station.orchard)) for w in walks]
    at = [k for k, kind in enumerate(kinds) if kind.value in AT_WORK]
    learnt = learnt_from(walks, chances, site, settings)
    found = prior([walks[k] for k in at], site, settings, shift=learnt.shift) if at else None
    rules, factors = tuple(local_rules), hours_factors or NO_FACTORS
    place = {k: j for j, k in enumerate(at)}
    out = []
    for k, (walk, kind) in enumerate(zip(walks, kinds, strict=True)):
        j = place.get(k)
        chance = None if found is None or j is None else _at(found.chance, j)
        gain = None if found is None or j is None else _gain(found, j)
        orchard = orchards.get(walk.station.orchard)
        key = "" if walk.kind is None else walk.kind.key
        taught = factors.get(key, factors.get("", AS_USUAL))
        window = _window(walk, kind.value, site, rules)
        one = _one(walk, kind, orchard, chance, gain, site, settings, singles[k], window, taught)
        known = chances.get(one.tree)
        if known is not None and one.chance is not None:
            one = replace(one, chance=_known(known))
        out.append(one)
    return tuple(out)


def _at(one: Spread, j: int) -> tuple[float, float, float]:
    return float(one.mean[j]), float(one.low[j]), float(one.high[j])


def _gain(found: Prior, j: int) -> tuple[float, float, float]:
    """Return what a plan gains over the horizon [h], with the bounds of eight of ten trees."""
    at = WAYS.index("tape")
    mean, sd = float(found.gain_h[at, j]), EIGHT_OF_TEN * float(found.gain_sd_h[at, j])
    return mean, max(mean - sd, 0.0), mean + sd


def _one(
    walk: Walk,
    kind: Judgement[str],
    orchard: Orchard | None,
    chance: tuple[float, float, float] | None,
    gain: tuple[float, float, float] | None,
    site: Site,
    settings: Settings,
    only_one: bool,
    when: tuple[Judgement[str], tuple[int, ...]],
    taught: tuple[float, float],
) -> Need:
    only_one = only_one and not walk.unknown_cultivar
    costs = costs_of_waiting(walk, kind.value, only_one=only_one, gain=gain, settings=settings)
    over = kind.because if dead_over_people(walk, orchard) else ""
    urgency = urgency_of(walk, costs, over)
    total = sum(c.hours for c in costs)
    below = orchard is not None and orchard.people_below
    words = "; ".join(f"{c.because}, {c.hours:.1f} h" for c in costs) or "nothing presses"
    window, months = when
    now = at_once(walk) or bool(over)
    return Need(
        tree=walk.station.tree,
        station=walk.station,
        kind=kind,
        urgency=urgency,
        waiting_h_a_year=Judgement(
            total, words, urgency.sure, urgency.low, urgency.high, "judgement"
        ),
        chance=None if chance is None else _chance(walk, chance),
        dose=dose_of(walk, kind.value, settings),
        cuts_allowed=wounds_of(walk, kind.value, settings),
        window=window,
        months=months,
        hours=hours_of(walk, kind.value, taught),
        review=review_year(walk, kind.value, at_once=now, people_below=below),
        tier=tier_of(walk, kind.value, only_one=only_one),
        missing=walk.missing,
        contradictions=walk.contradictions,
        cautions=cautions_for(walk, kind.value, months, orchard, southern=site.southern),
    )


def _chance(walk: Walk, chance: tuple[float, float, float]) -> Judgement[float]:
    mean, low, high = chance
    because = (
        f"of 100 trees like this about {100 * mean:.0f} lose a limb in a year; eight of ten such "
        f"trees lie between {100 * low:.0f} and {100 * high:.0f}"
    )
    sure = sureness(walk, "default", "girth", "height", "spread")
    return Judgement(mean, because, sure, low, high, parameters("tape")["chance.sd"].source)


def _known(chance: float) -> Judgement[float]:
    because = f"reckoned from its taped limbs: about {100 * chance:.0f} in 100 a year"
    return Judgement(chance, because, 0.8, chance, chance, "docs/method/chance.md")


def _window(
    walk: Walk, kind: str, site: Site, rules: tuple[LocalRule, ...]
) -> tuple[Judgement[str], tuple[int, ...]]:
    """Return the window of a kind of work, as a sentence and as months."""
    if kind in ("restock", "replace"):
        usual = _planting(site.southern)
        tree = species("apple") if walk.kind is None else walk.kind
        when = place_window(tree, site, rules, job="planting", usual=usual)
        source = "English and Irish planting grants: November (October) to March"
        return Judgement(when.sentence, when.reason, 0.85, source=source), when.months
    if kind in ("leave for wildlife", "leave standing"):
        every = tuple(range(1, 13))
        return Judgement("Any time.", "only a look at it", 0.9, source="judgement"), every
    if walk.kind is None:
        words = "Find out the species first: pome fruit in winter, stone fruit in summer."
        return Judgement(words, "species not taken", 0.2, source="common practice"), ()
    if kind == "form":
        year = min(max(walk.year, FIRST_YEAR), LAST_YEAR)  # the days are those of any year
        when = form_window(walk.kind, site, year, rules)
    else:
        when = place_window(walk.kind, site, rules)
    source = "trade/data/season_rules.csv"
    return Judgement(when.sentence, when.reason, 0.85, source=source), when.months


@cache
def _planting(southern: bool) -> Window:
    dormant = group_window("pome", southern)
    words = f"{dormant.sentence.split(',')[0]}, while leafless and the ground is open."
    return Window(dormant.months, words, "bare-rooted trees are planted dormant")

"""Plan the forming of a young tree: this season shoot by shoot, and the years ahead."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from limbwright.errors import InputError
from limbwright.form.ahead import look_ahead
from limbwright.form.care import cautions, form_window, reminders, season_name
from limbwright.form.results import FormPlan
from limbwright.form.season import Season, one_season
from limbwright.form.settings import FormSettings
from limbwright.form.target import clear_stem
from limbwright.model.holding import Orchard
from limbwright.model.shoots import YoungTree
from limbwright.model.site import Site
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.species import species

__all__ = ["form_plan"]

GONE = ("dead", "stump", "gap")
WOUND_MOST = 1.0 / 3.0
"""Cut area over stem section, above is severe: draft BS 3998 (2008), for grown trees."""


def form_plan(
    tree: YoungTree,
    orchard: Orchard | None = None,
    site: Site | None = None,
    settings: FormSettings | None = None,
    *,
    year: int,
    local_rules: Sequence[LocalRule] = (),
) -> FormPlan:
    """Return how one young tree is formed in a season, shoot by shoot, and in the years ahead.

    Parameters
    ----------
    tree
        Its station, with a species, and its shoots, the leader first.
    orchard
        What grazes beneath sets the clear stem; None counts as nothing.
    site
        The half of the world and the latitude, for the seasons.
    settings
        Figures of one's own; None takes those of ``formation.csv``.
    year
        The year in which the season begins.
    local_rules
        Rules of the place for when a tree may be formed.

    Returns
    -------
    FormPlan
        Its choice of scaffold limbs is the best set there is by the stated score, proven by
        search; everything else follows stated rules (docs/method/form.md).

    Raises
    ------
    InputError
        No living tree, no species or an unknown one, no leader, or nothing tells how tall it is.
    """
    settings = settings or FormSettings()
    site = site or Site()
    station = tree.station
    if station.status in GONE:
        raise InputError(
            f"Station {station.tree} is down as {station.status}: there is no tree to form.",
            "Correct its status, or leave its shoots out.",
        )
    kind = species(station.species)
    grazed_by = "" if orchard is None else orchard.grazed_by
    target = clear_stem(kind, station.form, grazed_by, settings)
    now = one_season(tree, kind, target, settings, year)
    still = now.standing.stage.key == "still"
    ahead = look_ahead(tree, now, kind, target, settings, year)
    when = form_window(kind, site, year, tuple(local_rules))
    section = math.pi * (now.crown.leader.diameter_mm / 20.0) ** 2
    wound = sum(r.wound_area_cm2 for r in now.rows) / max(section, 1e-9)
    return FormPlan(
        tree=station.tree,
        species=kind.name,
        cultivar=station.cultivar,
        year=year,
        season=season_name(kind, site, year),
        planted=station.planted,
        stage=now.standing.stage,
        target=target,
        choice=now.choice,
        rows=now.rows,
        dose=now.dosed.dose,
        dose_limit=now.dosed.limit,
        dose_words=now.dosed.words,
        wound_share=wound,
        window=when.sentence,
        window_reason=when.reason,
        hours=now.hours,
        ahead=() if still else ahead.years,
        milestones=() if still else ahead.milestones,
        stop="" if still else ahead.stop,
        reminders=reminders(now.standing.age, grazed_by, now.rows, settings),
        cautions=cautions(kind, site, when, now.rows, settings, target.cautions),
        notes=_notes(now, wound, settings),
        crown=now.crown,
    )


def _notes(now: Season, wound: float, settings: FormSettings) -> tuple[str, ...]:
    """Return what the survey leaves open, and what else was found."""
    crown, found = now.crown, []
    found += [f"Shoot {name} is left out: {why}." for name, why in crown.lost]
    counts = Counter(what for s in crown.every for what in s.assumed)
    if counts:
        told = ", ".join(f"{what} of {n}" for what, n in sorted(counts.items()))
        found.append(f"Not measured, so assumed: {told}.")
    if now.standing.stage.key == "still":
        found.append(
            "Look for grass and weeds about the foot, drought or wet, a tie that cuts in, bark "
            "gnawed by stock, hares or voles, canker, and a graft set too deep; then look again "
            "next summer. No form is cut into a tree that does not grow."
        )
    if now.standing.stage.key == "choose" and now.choice is None:
        why = "; ".join(f"{name}: {why}" for name, why in now.standing.unable)
        found.append(
            "No shoot is fit for a scaffold limb yet"
            + (f" ({why})" if why else "")
            + ": the uppermost one is cut to a few buds so that more break, or it is left to grow."
        )
    if wound > WOUND_MOST:
        found.append(
            f"The cuts come to {100 * wound:.0f} % of the stem's section; a third is called severe "
            "on grown trees. Spread them over two seasons if the tree is not strong."
        )
    return tuple(found)

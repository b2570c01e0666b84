"""What is asked of one tree for one season: its limits, motives and candidates as a problem."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from limbwright.cuts.build_problem import Built, build_problem
from limbwright.cuts.candidates import Offer, candidates
from limbwright.cuts.cases import Engine
from limbwright.cuts.crossing import Crossing, crossings
from limbwright.cuts.disease import with_margins
from limbwright.cuts.lighting import Lighting, Lit, best_lit_cuts, lighting
from limbwright.cuts.limits import Limits, limits
from limbwright.cuts.motives import Crown, Motives, crown, motives
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.cuts.wildlife import with_wildlife
from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.statics.assess import Assessment
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.species import Species, species

__all__ = ["Question", "ask", "wishes_in"]


@dataclass(frozen=True)
class Question:
    """One tree with all that is weighed on it; ``assessment`` has diseased wood drawn wide.

    ``orchard`` and ``local_rules`` are what is known of the place beside its site.
    """

    assessment: Assessment
    station: StationRecord | None
    settings: Settings
    kind: Species
    bounds: Limits
    crossing: tuple[Crossing, ...]
    crown: Crown
    motives: Motives
    offer: Offer
    built: Built
    light: Lighting
    orchard: Orchard | None = None
    local_rules: tuple[LocalRule, ...] = ()

    def answer(self, engine: Engine) -> Lit:
        """Return the best set of cuts with its light.

        Raises
        ------
        PlanError
            The wishes and limits can't be met together; the message names those that collide.
        """
        tree = self.assessment.skeleton.tree
        return best_lit_cuts(self.built, self.light, self.bounds, tree, engine)


def ask(
    assessment: Assessment,
    station: StationRecord | None = None,
    wishes: Wishes | None = None,
    settings: Settings | None = None,
    *,
    year: int | None = None,
    orchard: Orchard | None = None,
    local_rules: Sequence[LocalRule] = (),
) -> Question:
    """Return what is asked of one tree; ``year`` of the season gives its age.

    ``orchard`` is where it stands, ``local_rules`` when it may be pruned there.

    Raises
    ------
    PlanError
        A wish names no limb of the tree, or two wishes contradict each other.
    """
    wishes, settings = wishes_in(orchard, wishes), settings or Settings()
    kind = species(assessment.skeleton.species)
    # strength stays as assessed; only where to cut moves down into sound wood
    s = with_wildlife(with_margins(assessment.skeleton, station, kind), wishes)
    assessment = replace(assessment, skeleton=s)
    wood = assessment.loads.wood_kg
    bounds = limits(s, wood, kind, station, wishes, settings, year=year)
    crossing = crossings(s, settings)
    shape = crown(s, wood, settings)
    speaks = motives(s, wood, shape, crossing, settings)
    offer = candidates(assessment, kind, crossing, wishes, settings, speaks.total)
    built = build_problem(
        assessment, offer.candidates, offer.forbidden, crossing, speaks, bounds, kind, settings
    )
    # a frail tree needs all its leaf: it is not thinned for light
    worth = 0.0 if bounds.state.frail else settings["light"] * bounds.live_leaf_m2
    light = lighting(s, assessment.site, built, worth)
    return Question(
        assessment,
        station,
        settings,
        kind,
        bounds,
        crossing,
        shape,
        speaks,
        offer,
        built,
        light,
        orchard,
        tuple(local_rules),
    )


def wishes_in(orchard: Orchard | None, wishes: Wishes | None = None) -> Wishes:
    """Return the wishes for a tree of an orchard: where people are below, that is one of them."""
    wishes = wishes or Wishes()
    below = orchard is not None and orchard.people_below
    return replace(wishes, people_below=True) if below else wishes

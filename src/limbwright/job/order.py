"""What a person asks for: place, season, limits, and what each tree must or must not lose."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from limbwright.cuts.results import Wishes
from limbwright.errors import InputError
from limbwright.model import Orchard, Site
from limbwright.trade.seasons.local import LocalRule

__all__ = ["Order", "parse_wishes"]


def _no_orchards() -> Mapping[str, Orchard]:
    return {}


def _no_wishes() -> Mapping[str, Wishes]:
    return {}


@dataclass(frozen=True, slots=True)
class Order:
    """One run over a survey.

    ``only`` names load cases (empty: all); ``light`` asks for light and air as well; ``vectors``
    asks for the forces and moments of each tree, most of its memory, to come back with it;
    ``green_density_kg_m3`` is the density of all wood where given; ``settings`` are weights, limits
    and tools by name in place of the tables'; ``wishes`` are by tree, ``every`` holds for the trees
    without their own. ``orchards`` are by name, for who grazes and who walks below; ``local_rules``
    say when work may be done in this place.
    """

    site: Site = field(default_factory=Site)
    today: date = date(2026, 1, 1)
    seed: int = 0
    only: tuple[str, ...] = ()
    light: bool = False
    vectors: bool = True
    green_density_kg_m3: float | None = None
    every: Wishes = field(default_factory=Wishes)
    wishes: Mapping[str, Wishes] = field(default_factory=_no_wishes)
    engine: str = "proof"
    settings: Mapping[str, float] = field(default_factory=dict)
    marked: str = ""
    orchards: Mapping[str, Orchard] = field(default_factory=_no_orchards)
    local_rules: tuple[LocalRule, ...] = ()

    def wishes_for(self, tree: str) -> Wishes:
        """Return the wishes that hold for one tree."""
        return self.wishes.get(tree, self.every)


def parse_wishes(
    protect: Iterable[str],
    force: Iterable[str],
    forbid: Iterable[str],
    every: Wishes,
    trees: Iterable[str],
) -> Mapping[str, Wishes]:
    """Turn ``TREE:LIMB`` options into wishes by tree.

    Raises
    ------
    InputError
        A wish without a colon, or one that names a tree that is not in the survey.
    """
    known = set(trees)
    found: dict[str, Wishes] = {}
    for kind, given in (("protect", protect), ("force", force), ("forbid", forbid)):
        for wish in given:
            tree, colon, limb = wish.rpartition(":")
            if not colon or not limb.strip():
                raise InputError(
                    f"--{kind} {wish!r} does not name a limb.", "Write TREE:LIMB, such as T1:3."
                )
            if tree not in known:
                some = ", ".join(sorted(known)[:5])
                raise InputError(
                    f"--{kind} {wish!r}: there is no tree {tree!r}.", f"The survey has {some}."
                )
            mine = found.get(tree, every)
            found[tree] = replace(mine, **{kind: getattr(mine, kind) | {limb.strip()}})
    return found

"""Which trees first, across an orchard or a holding, and the sentence that says why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from limbwright.needs.need import SCHEMA, Need
from limbwright.needs.urgency import TIERS, URGENCIES

__all__ = ["Ranked", "rank", "ranked_to_dict"]

THE_REST = "the rest"
WHY = {
    "instability": "what may fall or break out comes first",
    "graft rescue": "its cultivar may be lost with it, so grafting wood first",
    "young tree": "a frame is made in its first years or not at all",
    THE_REST: "In the order of what waiting costs",
}


@dataclass(frozen=True, slots=True)
class Ranked:
    """A need with its place in the order, from 1, and why it stands there."""

    place: int
    need: Need
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Return the place, the sentence and the need."""
        return {"place": self.place, "sentence": self.sentence, **self.need.to_dict()}


def rank(found: Sequence[Need]) -> tuple[Ranked, ...]:
    """Return needs in order: instability, graft rescue, young trees, then the rest.

    Within each the more urgent class comes first, then the dearer wait, then the order given.
    """
    ordered = sorted(
        found,
        key=lambda n: (
            TIERS.index(n.tier),
            URGENCIES.index(n.urgency.value),
            -n.waiting_h_a_year.value,
        ),
    )
    return tuple(Ranked(k, one, _sentence(one)) for k, one in enumerate(ordered, 1))


def _sentence(one: Need) -> str:
    words = f"{one.tree}: {one.kind.value}, {one.urgency.value}. "
    tier = "" if one.tier == THE_REST else f"{one.tier[0].upper()}{one.tier[1:]}: "
    words += f"{tier}{WHY[one.tier]}. "
    why = one.urgency.because
    return f"{words}{why[0].upper()}{why[1:]}."


def ranked_to_dict(order: Sequence[Ranked]) -> dict[str, Any]:
    """Return needs in their order under the published schema ``limbwright.needs/1``."""
    return {"schema": SCHEMA, "trees": [one.to_dict() for one in order]}

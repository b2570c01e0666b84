"""Chances of failure that plans in a project found from a tree's limbs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from limbwright.project.plans import StoredPlan

__all__ = ["known_chances"]


def known_chances(stored: Iterable[StoredPlan]) -> dict[str, float]:
    """Return the chance of failure a year of each tree as its latest plan found it.

    Only a plan that tells of limbs was made of limbs; others know no more than the walk.
    """
    found: dict[str, float] = {}
    for one in sorted(stored, key=lambda p: str(p.made_on or "")):
        document = _first_season(one.document)
        chance = document.get("chance_before")
        if document.get("limbs") and isinstance(chance, int | float):
            found[one.tree] = float(chance)
    return found


def _first_season(document: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the plan of one season, or that of the first season of several."""
    seasons = document.get("seasons")
    if not isinstance(seasons, list) or not seasons or not isinstance(seasons[0], Mapping):
        return document
    return seasons[0].get("plan") or {}

"""Chances that plans know: from limbs alone, the latest first season."""

from __future__ import annotations

from datetime import date

from limbwright.job.chances import known_chances
from limbwright.project.plans import StoredPlan


def stored(tree: str, day: date, document: dict[str, object]) -> StoredPlan:
    return StoredPlan(tree, "years", "winter 2026-27", 1, "proposed", day, "0", "", document)


def test_only_plans_made_of_limbs_are_known_and_the_latest_holds() -> None:
    limbs = [{"limb": "A"}]
    early, late = date(2025, 11, 1), date(2026, 11, 1)
    season = {"chance_before": 0.2, "limbs": limbs}
    plans = [
        stored("1", late, {"seasons": [{"plan": season}]}),
        stored("1", early, {"chance_before": 0.4, "limbs": limbs}),
        stored("2", late, {"chance_before": 0.3}),
        stored("3", late, {"seasons": [{"plan": None}]}),
        stored("4", late, {"chance_before": 0.1, "limbs": limbs}),
    ]
    assert known_chances(plans) == {"1": 0.2, "4": 0.1}

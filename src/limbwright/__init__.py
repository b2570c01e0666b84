"""Limbwright: from a quick survey of an old fruit tree to the few best cuts, with reasons.

>>> import limbwright as lw
>>> survey = lw.read_limbs("limbs.csv", stations="stations.csv")
>>> tree = survey.trees[0]
>>> plan = lw.plan(lw.assess(lw.build(tree)), tree.station)
>>> 0 < plan.dose <= plan.dose_limit
True
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

_HOMES = {
    "LimbwrightError": "limbwright.errors",
    "Skeleton": "limbwright.model",
    "Taped": "limbwright.survey.allometry",
    "Site": "limbwright.model",
    "Wishes": "limbwright.cuts.results",
    "assess": "limbwright.statics.assess",
    "build": "limbwright.job.face",
    "carried_wood": "limbwright.survey.allometry",
    "light_air": "limbwright.light.tree",
    "plan": "limbwright.cuts.plan",
    "read_limbs": "limbwright.job.face",
    "read_segments": "limbwright.survey",
    "read_weather": "limbwright.survey.weather",
    "scab_periods": "limbwright.light.infection",
    "tree_wood": "limbwright.survey.allometry",
    "write_cards": "limbwright.job.face",
    "write_segments": "limbwright.survey",
}

__all__ = [
    "LimbwrightError",
    "Site",
    "Skeleton",
    "Taped",
    "Wishes",
    "__version__",
    "assess",
    "build",
    "carried_wood",
    "light_air",
    "plan",
    "read_limbs",
    "read_segments",
    "read_weather",
    "scab_periods",
    "tree_wood",
    "write_cards",
    "write_segments",
]

if TYPE_CHECKING:
    from limbwright.cuts.plan import plan
    from limbwright.cuts.results import Wishes
    from limbwright.errors import LimbwrightError
    from limbwright.job.face import build, read_limbs, write_cards
    from limbwright.light.infection import scab_periods
    from limbwright.light.tree import light_air
    from limbwright.model import Site, Skeleton
    from limbwright.statics.assess import assess
    from limbwright.survey import read_segments, write_segments
    from limbwright.survey.allometry import Taped, carried_wood, tree_wood
    from limbwright.survey.weather import read_weather


def __getattr__(name: str) -> object:
    """Load a public name on first use: importing limbwright alone stays quick."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'limbwright' has no attribute {name!r}")

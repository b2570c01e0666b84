"""What the taped trees of a holding teach about those that were only walked.

The forecast was made from invented trees of all kinds. A holding is one kind: its soil, its wind,
how it was kept, who walked it. So the forecasts of all its trees are off in the same way, and the
trees whose limbs are known show by how much.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.weights import Settings
from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.needs.prior import prior
from limbwright.needs.walk import Walk
from limbwright.trade.parameters import parameters

__all__ = ["Learnt", "learnt_from"]


@dataclass(frozen=True, slots=True)
class Learnt:
    """How far a holding lies from the forecast, on the scale of ln chance.

    ``shift`` is its mean, ``sd`` how well it is known, ``trees`` how many taped trees it rests on.
    """

    shift: float = 0.0
    sd: float = 0.0
    trees: int = 0

    @property
    def factor(self) -> float:
        """What chances are multiplied by."""
        return math.exp(self.shift)

    @property
    def sentence(self) -> str:
        """What was learnt in a sentence; empty where nothing was."""
        if self.trees == 0:
            return ""
        many = "one tree" if self.trees == 1 else f"{self.trees} trees"
        return (
            f"The limbs of {many} here are known; by them chances of failure are taken "
            f"{self.factor:.2f} times what the walk alone foretells."
        )


def learnt_from(
    walks: Sequence[Walk], chances: Mapping[str, float], site: Site, settings: Settings
) -> Learnt:
    """Return what trees of known limbs show of a holding.

    The shift is normal about 0 before (its spread between holdings in ``needs.csv``); each tree
    shows it with the scatter of its own forecast. Both normal, the posterior is closed (Gelman et
    al. 2013, *Bayesian Data Analysis*, ch. 2.5).

    Parameters
    ----------
    walks
        The walks of the holding.
    chances
        Chance that any limb fails within a year by tree, from its limbs; trees that were not
        walked are left aside.

    Raises
    ------
    InputError
        A chance is none.
    """
    for name, chance in chances.items():
        if not 0.0 <= chance <= 1.0:
            raise InputError(f"The chance of tree {name} is {chance:g}.", "Give one from 0 to 1.")
    known = [w for w in walks if chances.get(w.station.tree, 0.0) > 0.0]
    if not known:
        return Learnt()
    found = prior(known, site, settings)
    seen = np.log([chances[w.station.tree] for w in known])
    weight = 1.0 / found.log_chance_sd**2
    total = 1.0 / parameters("needs")["holding_spread"].value ** 2 + float(weight.sum())
    shift = float((weight * (seen - found.log_chance)).sum()) / total
    return Learnt(shift, total**-0.5, len(known))

"""Learning from the years a limb has stood.

A handbook strength knows nothing of this limb; that it stood T years of wind and crop does. Bayes'
rule with the likelihood (chance to stand a year)^T on the nodes of `reliability` turns what is
unknown of each section before into what is unknown after.
"""

from __future__ import annotations

import numpy as np

from limbwright.model.skeleton import Floats, Ints, State
from limbwright.statics.reliability import PRIOR
from limbwright.trade.parameters import parameters

__all__ = ["learn", "years_counted"]


def years_counted(years_stood: float, state: Ints) -> Floats:
    """Return ``(n,)`` how many of the years stood speak for the wood as it is now.

    Dead, diseased and broken wood loses strength, so that only its last years count.
    """
    table = parameters("reliability")
    years = np.full(state.size, max(years_stood, 0.0))
    for health, name in (
        (State.DEAD, "years_dead"),
        (State.DISEASED, "years_diseased"),
        (State.BROKEN, "years_broken"),
    ):
        here = state == health
        years[here] = np.minimum(years[here], table[name].value)
    return years


def learn(stands: Floats, years: Floats) -> Floats:
    """Return ``(n, K)`` the weight of each node after ``years`` ``(n,)`` without failure.

    ``stands`` is ``(n, K)`` from `reliability.stand_a_year`. Where no node could have stood so
    long, the one that stands best takes the weight: what is seen outweighs what is computed.
    """
    ln_likelihood = years[:, None] * np.log(np.maximum(stands, 1e-300))
    ln_weight = ln_likelihood + np.log(PRIOR)
    ln_weight -= ln_weight.max(axis=1, keepdims=True)
    weight = np.exp(ln_weight)
    weight /= weight.sum(axis=1, keepdims=True)
    return np.asarray(weight)

"""A tree assessed with what is known of it already."""

from __future__ import annotations

import numpy as np
import pytest
from tests.trees import random_skeleton

from limbwright.model import Site
from limbwright.statics.assess import assess, reassess


def test_a_tree_assessed_with_what_is_known_of_it_is_it_assessed_again() -> None:
    """What its own loads would teach is not asked for; nothing else changes."""
    one = random_skeleton(5, 40, faults=True)
    first = assess(one)
    known = assess(one, belief=first.belief)
    again = reassess(first, np.ones(one.n, dtype=np.bool_))
    assert known.chance == pytest.approx(again.chance, rel=1e-12)
    assert known.limbs == again.limbs
    assert known.utilisation == pytest.approx(again.utilisation, rel=1e-12)
    # a tree that stood through more has proven more
    proven = assess(one, Site(years_stood=60.0))
    taught = assess(one, belief=proven.belief)
    assert taught.chance == pytest.approx(proven.chance, rel=1e-9)
    assert float(taught.chance.mean()) < float(assess(one, Site(years_stood=1.0)).chance.mean())

"""An axis is never thinner than what it bears, however few of a tree's limbs were taped."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import limbwright as lw

HEADER = "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,crown,species\n"


@pytest.mark.parametrize("at_m", [1.2, 1.7, 1.8, 1.9])
def test_a_stem_with_one_taped_limb_is_no_thinner_below_it(tmp_path: Path, at_m: float) -> None:
    table = tmp_path / "limbs.csv"
    table.write_text(
        HEADER + f"A1,stem,,,420,1.9,0,90,,apple\nA1,1,stem,{at_m},210,5.2,40,45,2,apple\n"
    )
    tree = lw.build(lw.read_limbs(table).trees[0])
    stem = tree.limb == [limb.label for limb in tree.limbs].index("stem")
    stem &= np.abs(tree.end_m[:, :2]).max(axis=1) < 1e-9  # its axis, upright, without laterals
    below = stem & (tree.end_m[:, 2] <= at_m + 1e-6)
    assert below.any()
    assert tree.end_diameter_mm[below].min() >= 210 - 1e-9
    assert np.all(tree.end_diameter_mm[stem] <= tree.start_diameter_mm[stem] + 1e-9)
    assert tree.start_diameter_mm[stem].max() == 420
    use = {limb.label: limb.utilisation for limb in lw.assess(tree).limbs}
    assert use["stem"] < 1  # 42 cm of wood under one limb of 21 cm: nobody would believe more

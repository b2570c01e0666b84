"""Where on a tree the wind takes hold, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from tests.trees import worked_tree

from limbwright.model import Site
from limbwright.statics.loads import loads
from limbwright.statics.wind import peak_pressure_pa

CASE = "gust-bare-270.0"


def test_wind_pushes_a_tapered_stem_at_the_middle_of_what_it_meets() -> None:
    """Centroid of a trapezium of sides a and b: L (a + 2 b) / (3 (a + b)) from a (geometry)."""
    stem = worked_tree([-1], [(0, 0, 0)], [(0, 0, 2.0)], [300], [100])
    found = loads(stem, Site(), only=[CASE])
    force, moment = found.force_n[0, 0], found.moment_n_m[0, 0]
    # 1.1 of the gust pressure (below 2 m that at 2 m) on the frontal area; from the west, so east
    drag_n = 1.1 * float(peak_pressure_pa(1.0, Site())) * (0.3 + 0.1) / 2 * 2.0
    assert force[:2] == pytest.approx([drag_n, 0.0], abs=1e-9)
    assert moment[1] / force[0] == pytest.approx(2.0 * (0.3 + 2 * 0.1) / (3 * (0.3 + 0.1)))


@pytest.mark.parametrize("rise_deg", [30.0, 60.0])
def test_the_wind_meets_as_much_of_a_limb_as_it_sees(rise_deg: float) -> None:
    """The sine of the angle between wood and wind, docs/method/loads.md.

    A limb leaning down the wind is pushed like an upright one as high as its end.
    """
    rise = np.radians(rise_deg)
    limb = worked_tree([-1], [(0, 0, 5)], [(np.cos(rise), 0, 5 + np.sin(rise))], [80], [80])
    upright = worked_tree([-1], [(0, 0, 5)], [(0, 0, 5 + np.sin(rise))], [80], [80])
    push, seen = (loads(one, Site(), only=[CASE]).force_n[0, 0, 0] for one in (limb, upright))
    assert push == pytest.approx(seen, rel=1e-9)
    level = worked_tree([-1], [(0, 0, 5)], [(1, 0, 5)], [80], [80])
    assert loads(level, Site(), only=[CASE]).force_n[0, 0, 0] == pytest.approx(0.0, abs=1e-6)


def test_a_crown_in_leaf_shelters_its_wood_and_not_the_stem_below() -> None:
    """0.25 of the drag of wood stays inside the crown (canopy profile, loads.csv)."""
    tree = worked_tree(
        [-1, 0],
        [(0, 0, 0), (0, 0, 2)],
        [(0, 0, 2), (0, 0, 4)],
        [200, 150],
        [150, 100],
        leaf_area_m2=[0, 10],
    )
    bare = worked_tree(
        [-1, 0], [(0, 0, 0), (0, 0, 2)], [(0, 0, 2), (0, 0, 4)], [200, 150], [150, 100]
    )
    in_leaf = loads(tree, Site(), only=["gust-leaf-270.0"]).force_n[0, :, 0]
    wood = loads(bare, Site(), only=[CASE]).force_n[0, :, 0]
    assert in_leaf[0] == pytest.approx(wood[0])
    leaf_n = float(peak_pressure_pa(3.0, Site())) * 10 * 0.25 / 4
    assert in_leaf[1] == pytest.approx(leaf_n + 0.25 * wood[1])

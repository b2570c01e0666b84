"""A digitised apple comes in whole."""

import os
from pathlib import Path

import numpy as np
import pytest

from limbwright.errors import InputError
from limbwright.survey.mtg import read_mtg

DATA = Path(os.environ.get("LIMBWRIGHT_DATA", Path(__file__).parents[2].parent / "shared" / "data"))

SMALL = """CODE :\tFORM-A
MTG:

ENTITY-CODE\t\t\tXX\tYY\tZZ\tTopDia
/P1
^/U1\t\t\t0\t0\t0\t400
^<U2\t\t\t0\t0\t1000\t300
\t+B1\t\t300\t0\t1400\t100
^<U3\t\t\t0\t0\t2000\t200
"""


def test_a_small_graph_branches_where_it_says(tmp_path):
    path = tmp_path / "small.mtg"
    path.write_text(SMALL, encoding="latin-1")
    tree = read_mtg(path, species="apple")
    assert tree.n == 3
    np.testing.assert_allclose(np.sort(tree.length_m), [0.5, 1.0, 1.0])
    branch = int(np.flatnonzero(tree.end_m[:, 0] == 0.3)[0])
    assert tree.parent[branch] == 0
    assert tree.end_diameter_mm[branch] == pytest.approx(10.0)
    assert (tree.start_diameter_mm[0], tree.end_diameter_mm[0]) == pytest.approx((40.0, 30.0))


def test_the_digitised_apple(tmp_path):
    path = DATA / "digitised-trees" / "agraf.mtg"
    if not path.exists():
        pytest.skip("the digitised apple is not here: set LIMBWRIGHT_DATA")
    tree = read_mtg(path, species="apple")
    assert int((tree.parent == -1).sum()) == 1
    child = np.flatnonzero(tree.parent >= 0)
    np.testing.assert_array_equal(tree.start_m[child], tree.end_m[tree.parent[child]])
    # The stem is 825 mm from foot to first branch and 33 mm thick there (first rows of the file).
    assert tree.length_m[0] == pytest.approx(0.8257, abs=0.001)
    assert tree.end_diameter_mm[0] == pytest.approx(33.0)
    # Every digitised point of the file is reached.
    assert 20.0 < float(tree.length_m.sum()) < 200.0
    assert float(tree.end_m[:, 2].max()) < 4.0


@pytest.mark.parametrize("text", ["", "ENTITY-CODE\tXX\n", "ENTITY-CODE\tXX\tYY\tZZ\tTopDia\n/P1"])
def test_what_is_no_tree_says_so(tmp_path, text):
    path = tmp_path / "bad.mtg"
    path.write_text(text)
    with pytest.raises(InputError):
        read_mtg(path, species="apple")

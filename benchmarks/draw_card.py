"""Draw the cut card that the README and docs/cards.md show: a tree of the invented holding.

Run: ``python benchmarks/draw_card.py [orchard/station] [picture.png]``.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from limbwright.cuts.plan import plan
from limbwright.demo import make_holding, write_holding
from limbwright.report.card import card_png
from limbwright.statics.assess import assess
from limbwright.survey import read_survey
from limbwright.survey.build import build_skeleton

PICTURE = Path(__file__).resolve().parents[1] / "docs" / "pictures" / "cut-card.png"


def main() -> None:
    wanted = sys.argv[1] if len(sys.argv) > 1 else "Long Sallow/18"
    path = Path(sys.argv[2]) if len(sys.argv) > 2 else PICTURE
    holding = make_holding(1)
    with tempfile.TemporaryDirectory() as folder:
        stations, limbs = write_holding(holding, Path(folder))
        trees = read_survey(limbs, stations).trees
    for tree in trees:
        skeleton, _ = build_skeleton(tree)
        if skeleton.tree != wanted:
            continue
        assessment = assess(skeleton, holding.site)
        made = plan(assessment, tree.station, season="winter 2026/27")
        name = holding.site.name.split(" (")[0]
        item = (assessment, made, tree.station)
        card_png(item, path, holding=name, marked="invented example", ppi=120.0)
        print(f"{path}: {made.tree}, {len(made.cuts)} cuts")
        return
    raise SystemExit(f"The holding has no tree {wanted!r}.")


if __name__ == "__main__":
    main()

"""Draw predicted against measured wood of limbs and trees left out, for docs/method/tree.md.

Run: python benchmarks/allometry_picture.py [picture.svg]    (the open data as for allometry_fit)
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from allometry_fit import DATA, KINDS, LEAST_MM, Branches, Floats, leave_out, read

PICTURE = Path(__file__).resolve().parents[1] / "docs" / "pictures" / "limb-wood.svg"
SIDE = 260.0
LEFT, TOP, GAP = 56.0, 34.0, 46.0
RANGE_KG = (0.12, 120.0)
TICKS_KG = (0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
NAMES = ("apple: 10 trees", "tart cherry: 3 trees")


def place(kg: Floats | float) -> Floats:
    """Return where a mass lies along an axis, 0 to `SIDE`."""
    low, high = np.log(RANGE_KG)
    return np.asarray((np.log(kg) - low) / (high - low) * SIDE)


def panel(one: Branches, kind: int, x0: float, limbs: Floats, trees: Floats) -> list[str]:
    """Return the drawing of one species."""
    mine = (one.kind == kind) & (one.diameter_cm * 10.0 > LEAST_MM)
    foot = TOP + SIDE

    def line(over: float, dash: str) -> str:
        """Return the line of predicted = measured times ``over``, cut to the frame."""
        low, high = RANGE_KG[0] / min(over, 1.0), RANGE_KG[1] / max(over, 1.0)
        a, b = place(low), place(high)
        c, d = place(low * over), place(high * over)
        return (
            f'<line x1="{x0 + a:.1f}" y1="{foot - c:.1f}" x2="{x0 + b:.1f}" y2="{foot - d:.1f}" '
            f'stroke="#555" stroke-width="1"{dash}/>'
        )

    parts = [
        f'<rect x="{x0}" y="{TOP}" width="{SIDE}" height="{SIDE}" fill="none" stroke="#333"/>',
        f'<text x="{x0}" y="{TOP - 10}" font-weight="bold">{NAMES[kind]}</text>',
    ]
    for kg in TICKS_KG:
        at = float(place(kg))
        parts += [
            f'<line x1="{x0 + at:.1f}" y1="{foot}" x2="{x0 + at:.1f}" y2="{TOP}" stroke="#ddd"/>',
            f'<line x1="{x0}" y1="{foot - at:.1f}" x2="{x0 + SIDE}" y2="{foot - at:.1f}" '
            'stroke="#ddd"/>',
            f'<text x="{x0 + at:.1f}" y="{foot + 15}" text-anchor="middle">{kg:g}</text>',
            f'<text x="{x0 - 6}" y="{foot - at + 4:.1f}" text-anchor="end">{kg:g}</text>',
        ]
    parts += [line(1.0, ""), *(line(o, ' stroke-dasharray="4 3"') for o in (0.75, 1.25))]
    measured, guessed = place(one.wood_kg[mine]), place(limbs[mine])
    parts += [
        f'<circle cx="{x0 + x:.1f}" cy="{foot - y:.1f}" r="2.6" fill="#1b6b93" fill-opacity="0.6"/>'
        for x, y in zip(measured, guessed, strict=True)
    ]
    for trunk in np.flatnonzero(one.trunk & (one.kind == kind)):
        x = x0 + float(place(one.wood_kg[trunk]))
        y = foot - float(place(trees[one.tree[trunk]]))
        parts.append(
            f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" fill="none" '
            'stroke="#000" stroke-width="1.6"/>'
        )
    parts.append(
        f'<text x="{x0 + SIDE / 2}" y="{foot + 33}" text-anchor="middle">measured, kg dry</text>'
    )
    return parts


def main() -> None:
    """Write the picture."""
    path = DATA / "measured-branches" / "branch_segments.csv"
    if not path.exists():
        print("The open branch data are not here; nothing drawn.")
        return
    one = read(path)
    limbs, _ = leave_out(one, base=True)
    _, trees = leave_out(one, base=False)
    width, height = LEFT + 2 * SIDE + GAP + 12, TOP + SIDE + 68
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}" font-family="sans-serif" font-size="11">',
        "<title>Predicted against measured dry wood of limbs and trees left out</title>",
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>',
    ]
    for kind in range(len(KINDS)):
        parts += panel(one, kind, LEFT + kind * (SIDE + GAP), limbs, trees)
    middle, foot = TOP + SIDE / 2, TOP + SIDE + 56
    parts += [
        f'<text x="14" y="{middle}" text-anchor="middle" transform="rotate(-90 14 {middle})">'
        "predicted, kg dry</text>",
        f'<circle cx="{LEFT + 4}" cy="{foot - 4}" r="2.6" fill="#1b6b93" fill-opacity="0.6"/>',
        f'<text x="{LEFT + 12}" y="{foot}">limb over 3 cm</text>',
        f'<rect x="{LEFT + 110}" y="{foot - 9}" width="10" height="10" fill="none" stroke="#000" '
        'stroke-width="1.6"/>',
        f'<text x="{LEFT + 126}" y="{foot}">whole tree from stem and limbs</text>',
        f'<text x="{LEFT + 306}" y="{foot}">dashed: 25 % over and under</text>',
        "</svg>",
    ]
    to = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURE
    to.write_text("\n".join(parts) + "\n", encoding="utf-8")
    print(f"Drawn: {to.name}")


if __name__ == "__main__":
    main()

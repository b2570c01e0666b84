"""Light and air in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import isfinite

from limbwright.cli.lines import say
from limbwright.job import Done
from limbwright.light.shape import Close, Gap, Inward
from limbwright.light.tree import TreeLight

__all__ = ["light_lines", "print_light"]

MOST = 4
"""So many limbs are named; JSON holds all."""
_EIGHTHS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)
_CENTRE = {
    "hollow": "hollow: it holds {:.1f} times",
    "even": "about as full as the rest: it holds {:.1f} times",
    "filled": "filled up: it holds {:.1f} times",
}


def print_light(done: Iterable[Done], *, spacing_m: float | None = None) -> None:
    """Print light and air of each tree that has them, and how far to trust them."""
    lit = [one.light for one in done if one.light is not None]
    if not lit:
        return
    stand = (
        "each by itself (--spacing sets neighbours round it)"
        if spacing_m is None
        else f"each with others like it {spacing_m:g} m away all round"
    )
    print("\nLight and air, as the trees stand. 100% is the light in the open. Reckoned")
    print(f"{stand}.")
    for one in lit:
        print(f"\n{one.tree}")
        for title, text in light_lines(one):
            head = f"  {title:<7}"
            say(text, " " * len(head), first=head)
    print()
    say(
        "Sure: the chance that it is so, for limbs placed by tape and compass. An opened crown "
        "has more light for certain; that it dries faster is likely, and trials do not agree."
    )


def light_lines(tree: TreeLight) -> Iterator[tuple[str, str]]:
    """Yield title and sentences: light, grass, air, and the limbs that stand in the way."""
    light = tree.light
    if isfinite(light.mean):
        yield (
            "Light",
            f"On average the leaf gets {light.mean:.0%} in the months that make next year's fruit "
            f"buds. {light.flowering:.0%} of the leaf has enough for flower buds, "
            f"{light.fruiting:.0%} for good fruit.",
        )
        yield (
            "Grass",
            f"Below the crown {light.ground:.0%} in summer, {light.winter_ground:.0%} in winter.",
        )
    words = f"From the side one sees through {light.seen_through:.0%} of the crown in leaf, "
    words += f"{light.seen_through_bare:.0%} bare."
    if not tree.centre:
        words = f"It bears no leaf. One sees through {light.seen_through_bare:.0%} of it."
    else:
        centre = _CENTRE[tree.centre].format(light.centre)
        words += f" The middle is {centre} the leaf of an equal space of the whole crown."
        words += f" A hat thrown at it passes {100 * light.hat:.0f} times in 100."
    yield "Air", words
    if tree.close:
        yield "Close", ("Running too close: " + _listed([_close(tree, one) for one in tree.close]))
    if tree.inward:
        yield (
            "Inward",
            (
                "Ending nearer the middle than where they begin: "
                + _listed([_inward(tree, one) for one in tree.inward])
            ),
        )
    if tree.gap is not None:
        yield "Gap", _gap(tree.gap)


def _close(tree: TreeLight, one: Close) -> str:
    a, b = tree.limbs[one.a], tree.limbs[one.b]
    gap = f"{100 * one.gap_m:.0f} cm apart" if one.gap_m >= 0.01 else "touching"
    return f"{a} and {b}, {gap}, over {one.along_m:.1f} m ({_sure(one.confidence)})"


def _inward(tree: TreeLight, one: Inward) -> str:
    return f"{tree.limbs[one.limb]} by {one.inward_m:.1f} m ({_sure(one.confidence)})"


def _gap(gap: Gap) -> str:
    towards = _EIGHTHS[round(gap.bearing_deg / 45.0) % 8]
    return (
        f"No limb to speak of over {gap.width_deg:.0f}° of the crown, towards the {towards} "
        f"({_sure(gap.confidence)})."
    )


def _sure(confidence: float) -> str:
    """Return a chance in words; nothing in a limb survey is certain."""
    return f"{min(confidence, 0.99):.0%} sure"


def _listed(parts: Sequence[str]) -> str:
    more = f"; and {len(parts) - MOST} more" if len(parts) > MOST else ""
    return "; ".join(parts[:MOST]) + more + "."

"""Second-order limbs and the laterals of young scaffold limbs."""

from __future__ import annotations

from limbwright.form.crown import Crown, Shoot
from limbwright.form.making import Maker
from limbwright.form.settings import FormSettings
from limbwright.form.words import side

__all__ = ["second_order"]

INWARD_DEG = 110.0
"""Judgement: turned so far off its parent's bearing a shoot grows back into the centre."""
BESIDE_DEG = 15.0
"""Judgement: less to the side than this a shoot runs along its parent."""
UPRIGHT_RISE_DEG = 65.0
"""Judgement: steeper than this on a limb, a one-year shoot is a competitor or a watershoot."""
APART_M = 0.1
"""Judgement: two second-order limbs from one place make a fork."""
FURTHEST_M = 0.4
"""Judgement: so far beyond the asked place a shoot may still become the first side limb."""


def second_order(
    make: Maker,
    crown: Crown,
    scaffold: tuple[Shoot, ...],
    settings: FormSettings,
    *,
    head: bool,
) -> None:
    """Add rows for all shoots that grow from other shoots.

    On each scaffold limb one side limb to the left and one to the right are chosen, as near to
    `second_at` out as there are; the others stay as fruiting wood, or go where they stand upright
    or grow inward.

    Parameters
    ----------
    head
        Whether side limbs are chosen and shortened this season.
    """
    limbs = {s.name: s for s in scaffold}
    row_of = {r.shoot: r for r in make.rows}
    by_name = crown.by_name
    chosen_on = {n: _chosen(crown, s, settings, make) if head else () for n, s in limbs.items()}
    for shoot in crown.shoots:
        if shoot.level < 2 or shoot.name in make.names:
            continue
        parent = by_name[shoot.parent]
        above = row_of.get(shoot.parent)
        if above is not None and above.cuts and shoot.at_m >= (above.keep_cm or 0.0) / 100.0:
            make.gone_with(shoot, f"Goes with {parent.name}", "it sits beyond the cut")
            row_of[shoot.name] = make.rows[-1]
            continue
        _one(make, shoot, parent, chosen_on.get(parent.name, ()), settings, head=head)
        row_of[shoot.name] = make.rows[-1]


def _one(
    make: Maker,
    shoot: Shoot,
    parent: Shoot,
    chosen: tuple[str, ...],
    settings: FormSettings,
    *,
    head: bool,
) -> None:
    if shoot.name in chosen:
        share = settings["cut_second"] if shoot.grown_m > 0.1 else 0.0
        make.head(
            shoot,
            "second",
            shoot.length_m - share * shoot.grown_m,
            f"side limb of {parent.name} on its {side(shoot.bearing_deg)}, {shoot.at_m:.1f} m out",
            to="an outward bud",
            share=share,
        )
    elif abs(_turn(shoot, parent)) > INWARD_DEG:
        make.remove(shoot, "lateral", "it grows back into the centre")
    elif shoot.rise_deg >= UPRIGHT_RISE_DEG and shoot.rise_deg > parent.rise_deg + 10.0:
        make.remove(shoot, "lateral", f"it stands upright on {parent.name} and shades the centre")
    elif (
        head
        and shoot.length_m > 0.8 * max(parent.length_m - shoot.at_m, 0.05)
        and (shoot.length_m > settings["flat_lateral_length"])
    ):
        make.remove(shoot, "lateral", f"it is as strong as the end of {parent.name} and competes")
    else:
        make.leave(shoot, "lateral", "young laterals left uncut make fruit buds")


def _turn(shoot: Shoot, parent: Shoot) -> float:
    """Return how far a shoot's bearing is off its parent's [degrees], right positive."""
    return ((shoot.bearing_deg or 0.0) - (parent.bearing_deg or 0.0) + 180.0) % 360.0 - 180.0


def _chosen(crown: Crown, parent: Shoot, settings: FormSettings, make: Maker) -> tuple[str, ...]:
    """Return the side limbs of one scaffold limb: the pair, or the one, nearest to its place."""
    row = next((r for r in make.rows if r.shoot == parent.name), None)
    end = parent.length_m if row is None or row.keep_cm is None else row.keep_cm / 100.0
    wanted = settings["second_at"]
    sides: dict[bool, list[Shoot]] = {False: [], True: []}
    for s in crown.shoots:
        if s.parent != parent.name or not s.sound or s.at_m >= end:
            continue
        turn = abs(_turn(s, parent))
        fit = (
            settings.low("second_at") - 0.1 <= s.at_m <= wanted + FURTHEST_M
            and s.length_m >= settings["shoot_least"]
            and BESIDE_DEG <= turn <= INWARD_DEG
            and s.rise_deg < UPRIGHT_RISE_DEG
        )
        if fit:
            sides[_turn(s, parent) > 0.0].append(s)
    if settings["second_most"] < 1.0:
        return ()
    best: tuple[float, tuple[str, ...]] = (float("inf"), ())
    for a in [None, *sides[False]]:
        for b in [None, *sides[True]]:
            pair = [s for s in (a, b) if s is not None]
            if len(pair) > settings["second_most"]:
                continue
            if len(pair) == 2 and abs(pair[0].at_m - pair[1].at_m) < APART_M:
                continue
            # each side without a limb costs as much as one at the far end of its range
            cost = sum(abs(s.at_m - wanted) for s in pair) + (2 - len(pair)) * 2 * FURTHEST_M
            best = min(best, (cost, tuple(sorted(s.name for s in pair))))
    return best[1]

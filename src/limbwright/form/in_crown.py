"""What happens to the shoots of the crown: scaffold limbs, those that wait, those not chosen."""

from __future__ import annotations

from dataclasses import replace

from limbwright.form.crown import Crown, Shoot
from limbwright.form.level import level_cuts, outward_bud, share_of_growth
from limbwright.form.making import Maker
from limbwright.form.settings import FormSettings
from limbwright.form.stage import SLACK_M, Standing
from limbwright.form.words import side

__all__ = ["growing_crown", "scaffold_cuts", "spare_shoots", "spread_wanted", "waiting_crown"]

COMPETES = 0.6
"""Judgement: a spare shoot this long, over the chosen ones, takes their strength."""
SPREAD_TO_MM = 25.0
"""Judgement: thicker, a young limb is not bent without harm."""
UPRIGHT_DEG = 25.0
"""Judgement: nearer the upright than this, a shoot in an open centre shades and competes."""


def spread_wanted(shoot: Shoot, settings: FormSettings) -> float | None:
    """Return the angle from the stem a scaffold limb is to be set to, None where it stands well."""
    if shoot.diameter_mm > SPREAD_TO_MM:
        return None
    if settings["angle"] - 1.0 <= shoot.angle_deg <= settings["angle_flat"] + 1.0:
        return None
    return settings["angle_spread"]


def scaffold_cuts(
    make: Maker,
    scaffold: tuple[Shoot, ...],
    winters: int,
    settings: FormSettings,
    stone: bool,
    growth_cm: float | None,
) -> None:
    """Cut the scaffold limbs back, tips level, and set those that stand too steep or too flat."""
    share = share_of_growth(winters, growth_cm, stone, settings)
    scaffold = tuple(s for s in scaffold if s.name not in make.names)
    wanted = [spread_wanted(s, settings) for s in scaffold]
    as_set = [
        s if to is None else replace(s, rise_deg=90.0 - to)
        for s, to in zip(scaffold, wanted, strict=True)
    ]
    cuts = level_cuts(as_set, share, settings)
    for shoot, to, cut in zip(scaffold, wanted, cuts, strict=True):
        words = []
        if cut.share <= 0.0:
            words.append("weak, and its tip below the others: it is not cut, so that it catches up")
        elif abs(cut.share - share.value) < 0.03:
            words.append(f"{share.words}; the tips end level")
        else:
            words.append(
                f"{100 * cut.share:.0f} % of last year's growth, not {100 * share.value:.0f} %, "
                "to level the tips"
            )
        if to is not None:
            words.append(
                ("too steep" if to > shoot.angle_deg else "too flat")
                + f" at {shoot.angle_deg:.0f} degrees"
            )
        make.head(
            shoot,
            "scaffold",
            cut.keep_m,
            "; ".join(words),
            to=outward_bud(shoot, scaffold, settings),
            share=cut.share,
            spread_to_deg=to,
        )


def waiting_crown(
    make: Maker, crown: Crown, scaffold: tuple[Shoot, ...], settings: FormSettings
) -> None:
    """Deal with a crown whose scaffold is not there yet: keep what would serve, wake more."""
    for shoot in scaffold:
        if shoot.name in make.names:
            continue
        to = spread_wanted(shoot, settings)
        why = f"it would serve as a scaffold limb on the {side(shoot.bearing_deg)}; it waits"
        if to is not None:
            make.spread(shoot, "able", to, why)
        else:
            make.leave(shoot, "able", why)
    rest = [s for s in crown.on_leader if s.name not in make.names]
    headed = crown.leader.grown_m < 0.05
    top = max(rest, key=lambda s: (s.at_m, s.name), default=None)
    for shoot in rest:
        if headed and shoot is top and shoot.angle_deg < settings["angle_least"]:
            buds = int(settings["head_buds"])
            keep = buds * settings["bud_spacing"] / 100.0
            make.head(
                shoot,
                "leader",
                keep,
                "the uppermost shoot carries the stem on; cut to a few buds it makes more shoots",
                buds=buds,
            )
        elif shoot.angle_deg < settings["angle_least"]:
            make.remove(
                shoot,
                "spare",
                f"it stands only {shoot.angle_deg:.0f} degrees off the stem: such a union splits",
            )
        else:
            make.leave(shoot, "spare", "its leaf feeds the tree until the scaffold is chosen")


def growing_crown(make: Maker, crown: Crown, settings: FormSettings) -> None:
    """Deal with shoots above the clear stem while the leader still grows or is headed now."""
    for shoot in crown.on_leader:
        if shoot.name in make.names:
            continue
        strong = shoot.length_m > COMPETES * max(crown.leader.length_m - shoot.at_m, 0.1)
        if shoot.angle_deg < settings["angle_least"] and strong:
            make.remove(shoot, "spare", "it stands steep and strong beside the leader: one leader")
        else:
            make.leave(
                shoot, "spare", "it sits above the clear stem and may become a scaffold limb"
            )


def spare_shoots(
    make: Maker,
    crown: Crown,
    scaffold: tuple[Shoot, ...],
    standing: Standing,
    settings: FormSettings,
    *,
    over: bool,
) -> None:
    """Deal with the shoots of the crown that were not chosen."""
    unable = dict(standing.unable)
    typical = sum(s.length_m for s in scaffold) / len(scaffold) if scaffold else 1.0
    buds = int(settings["stub_buds"])
    keep = buds * settings["bud_spacing"] / 100.0
    for shoot in crown.on_leader:
        if shoot.name in make.names:
            continue
        flat = (
            shoot.rise_deg <= settings["flat_lateral_rise"]
            and shoot.length_m <= settings["flat_lateral_length"]
        )
        if flat:
            make.leave(shoot, "lateral", "short and flat, it makes fruit buds and shades the stem")
        elif shoot.angle_deg < UPRIGHT_DEG:
            why = unable.get(shoot.name, "it stands upright in the open centre")
            make.remove(shoot, "spare", f"not chosen: {why}")
        elif shoot.length_m >= COMPETES * typical:
            make.remove(shoot, "spare", f"not chosen: {_crowds(shoot, scaffold)}")
        elif over or not shoot.one_year_old:
            make.remove(shoot, "spare", "not chosen, and it has fed the stem its year")
        elif shoot.length_m <= keep + 0.02:
            make.leave(shoot, "spare", "short; its leaf feeds the stem, and it goes next year")
        else:
            make.head(
                shoot,
                "spare",
                keep,
                "not chosen; its leaf feeds the stem this year, next year it goes",
                buds=buds,
            )


def _crowds(shoot: Shoot, scaffold: tuple[Shoot, ...]) -> str:
    if shoot.bearing_deg is None or not scaffold:
        return "it takes strength from the scaffold limbs"

    def apart(other: Shoot) -> float:
        return abs(((other.bearing_deg or 0.0) - (shoot.bearing_deg or 0.0) + 180) % 360 - 180)

    near = min(scaffold, key=lambda s: (apart(s), s.name))
    high = abs(near.at_m - shoot.at_m)
    if apart(near) <= 45.0 or high <= SLACK_M:
        return (
            f"it crowds {near.name}, {apart(near):.0f} degrees round the stem and "
            f"{100 * high:.0f} cm along it"
        )
    return f"it is strong enough to compete with {near.name}, its nearest scaffold limb"

"""What happens to every shoot of one tree this season: the leader, the stem, then the crown."""

from __future__ import annotations

from limbwright.form.crown import Crown, Shoot
from limbwright.form.in_crown import growing_crown, scaffold_cuts, spare_shoots, waiting_crown
from limbwright.form.making import Maker
from limbwright.form.results import Choice, FormRow, Role
from limbwright.form.second import second_order
from limbwright.form.settings import FormSettings
from limbwright.form.stage import (
    LEADER_GROWS_CM,
    SLACK_M,
    Standing,
    chosen_before,
    head_height_m,
    is_scaffold,
)
from limbwright.form.target import ClearStem

__all__ = ["rows_for"]

FROM_THE_STOCK_M = 0.3
"""Judgement: a shoot lower than this may come from the rootstock."""
SHEAR_M = 0.2
"""How far a leader kept for a time stands above the level: about 20 cm, German meadow-orchard
advice; one shear-length, regional press."""
DAMAGED_M = 0.1
"""Judgement: so far below a break the wood may be torn."""


def rows_for(
    crown: Crown,
    standing: Standing,
    choice: Choice | None,
    target: ClearStem,
    settings: FormSettings,
    *,
    stone: bool = False,
    growth_cm: float | None = None,
) -> tuple[FormRow, ...]:
    """Return a row for every shoot, the leader first: what happens to it this season, and why.

    Parameters
    ----------
    crown, standing, choice, target
        The tree, how far it has come, its scaffold and its clear stem.
    stone
        True for stone fruit, which is cut lightly.
    growth_cm
        Growth of the tree last season [cm], which sets how hard it is cut.
    """
    make = Maker(crown, settings)
    key = standing.stage.key
    _kept(make, crown)
    _failed(make, crown)
    if key == "still":
        for shoot in crown.every:
            if shoot.name not in make.names:
                make.leave(shoot, _role(shoot), "no cut helps a tree that stands still")
        return _sorted(crown, make)
    built = key in ("build", "done")
    scaffold = chosen_before(crown) if built else _chosen(crown, choice)
    good = choice is not None and choice.good
    if key == "build" or (key == "choose" and good):
        scaffold_cuts(make, scaffold, standing.winters, settings, stone, growth_cm)
    _leader(make, crown, standing, scaffold, target, settings, ready=built or good)
    _stem_shoots(make, crown, target, settings, over=key == "done")
    if key == "done":
        for shoot in (s for s in scaffold if s.name not in make.names):
            make.leave(shoot, "scaffold", "the framework carries, so its tip is cut no more")
    elif key == "choose" and not good:
        waiting_crown(make, crown, scaffold, settings)
    elif key not in ("choose", "build"):
        growing_crown(make, crown, settings)
    if built or good:
        spare_shoots(make, crown, scaffold, standing, settings, over=key == "done")
    second_order(make, crown, scaffold, settings, head=key != "done" and (built or good))
    return _sorted(crown, make)


def _role(shoot: Shoot) -> Role:
    if shoot.level == 0:
        return "leader"
    if is_scaffold(shoot):
        return "scaffold"
    return "spare" if shoot.level == 1 else "lateral"


def _chosen(crown: Crown, choice: Choice | None) -> tuple[Shoot, ...]:
    names = set() if choice is None else set(choice.best.names)
    return tuple(s for s in crown.on_leader if s.name in names)


def _kept(make: Maker, crown: Crown) -> None:
    """Leave what somebody wrote must stay, and what bears it."""
    by_name = crown.by_name
    for shoot in crown.shoots:
        if not shoot.keep or is_scaffold(shoot):
            continue
        if shoot.name not in make.names:
            make.leave(shoot, _role(shoot), f"to be kept: {shoot.keep}")
        above = by_name[shoot.parent]
        while above.level > 0:
            if above.name not in make.names:
                make.leave(above, _role(above), f"it bears {shoot.name}, which is to be kept")
            above = by_name[above.parent]


def _kept_above(make: Maker, crown: Crown, height_m: float) -> str:
    """Return the first shoot to be kept that a cut of the leader at a height would take, or ""."""
    kept = {r.shoot for r in make.rows if "to be kept" in r.why}
    return next((s.name for s in crown.on_leader if s.name in kept and s.at_m > height_m), "")


def _failed(make: Maker, crown: Crown) -> None:
    for shoot in crown.shoots:
        if shoot.name in make.names or shoot.sound:
            continue
        why = {
            "dead": "it is dead",
            "broken": "it is broken; a torn end does not heal",
            "diseased": "it is diseased: clean the blade after it and take the wood away",
        }.get(shoot.state, f"it is {shoot.state}")
        if is_scaffold(shoot):
            why += "; it was a scaffold limb, so another has to take its place"
        make.remove(shoot, "failed", why)
        _gone(make, crown, shoot.name)


def _gone(make: Maker, crown: Crown, name: str) -> None:
    for borne in crown.borne_by(name):
        if borne.name not in make.names:
            make.gone_with(borne, f"Goes with {name}", "it grows from it")


def _leader(
    make: Maker,
    crown: Crown,
    standing: Standing,
    scaffold: tuple[Shoot, ...],
    target: ClearStem,
    settings: FormSettings,
    *,
    ready: bool,
) -> None:
    leader, key = crown.leader, standing.stage.key
    serve = [s.at_m for s in scaffold] or [c.at_m for c in standing.able]
    head = head_height_m(target, settings, serve)
    grows = leader.grown_m * 100.0 > LEADER_GROWS_CM
    if key == "mend":
        _new_leader(make, crown, target)
    elif key in ("plant", "rise"):
        why = f"it grows on to {head:.2f} m; keep it straight and alone"
        make.leave(leader, "leader", why, "Leave; tie it to its stake")
    elif ready and scaffold:
        _open_centre(make, crown, standing, scaffold, settings)
    elif leader.state != "live" or (grows and leader.length_m > head + SLACK_M):
        kept = _kept_above(make, crown, head)
        if kept:
            make.leave(leader, "leader", f"it bears {kept}, which is to be kept")
            return
        low, high = settings.low("head_buds"), settings.high("head_buds")
        make.head(
            leader,
            "leader",
            min(head, leader.length_m),
            f"{target.metres:.1f} m stay clear ({target.because}), and the {low:.0f} or {high:.0f} "
            "buds below the cut make the limbs",
            to="a sound bud",
        )
        for shoot in crown.on_leader:
            if shoot.at_m >= head and shoot.name not in make.names:
                make.gone_with(shoot, "Goes with the leader", "it sits above the cut")
                _gone(make, crown, shoot.name)
    else:
        make.leave(leader, "leader", "it has been headed, or is not yet tall enough to cut")


def _open_centre(
    make: Maker,
    crown: Crown,
    standing: Standing,
    scaffold: tuple[Shoot, ...],
    settings: FormSettings,
) -> None:
    """Take the leader out above the highest scaffold limb, so that the centre stands open."""
    leader = crown.leader
    top = max(scaffold, key=lambda s: (s.at_m, s.name))
    if leader.length_m - top.at_m < SLACK_M:
        make.leave(leader, "leader", "it ends at the highest scaffold limb")
        return
    kept = _kept_above(make, crown, top.at_m)
    if kept:
        make.leave(leader, "leader", f"it bears {kept}, which is to be kept")
        return
    if standing.winters < settings["leader_wait"]:
        cut_at = {r.shoot: r.cut_at_m for r in make.rows}
        level = max(cut_at.get(s.name) or s.tip_m[2] for s in scaffold) + SHEAR_M
        make.head(
            leader,
            "leader",
            min(level, leader.length_m),
            f"it stays a year, at most {100 * SHEAR_M:.0f} cm above the tips; then it goes",
            to="a sound bud",
        )
        return
    make.shorten(
        leader, "leader", top, "the scaffold is chosen: without the leader the centre stands open"
    )
    for shoot in crown.on_leader:
        if shoot.at_m > top.at_m and shoot.name not in make.names:
            make.gone_with(shoot, "Goes with the leader", "it sits above the highest scaffold limb")
            _gone(make, crown, shoot.name)


def _new_leader(make: Maker, crown: Crown, target: ClearStem) -> None:
    """Choose the shoot that replaces a lost leader: the strongest high one, tied upright."""
    able = [s for s in crown.on_leader if s.sound and s.at_m <= crown.leader.length_m]
    if not able:
        keep = max(crown.leader.length_m - DAMAGED_M, DAMAGED_M)
        kept = _kept_above(make, crown, keep)
        if kept:
            make.leave(crown.leader, "leader", f"it bears {kept}, which is to be kept")
            return
        make.head(
            crown.leader,
            "leader",
            keep,
            "its end is lost: the top bud makes the new leader",
            to="a sound bud below the damage",
        )
        return
    best = max(able, key=lambda s: (s.at_m + s.length_m * (1.0 - s.angle_deg / 180.0), s.name))
    kept = _kept_above(make, crown, best.at_m)
    if kept or best.name in make.names:
        make.leave(crown.leader, "leader", f"it bears {kept or best.name}, which is to be kept")
        return
    make.shorten(crown.leader, "leader", best, "its end is lost, and this shoot takes its place")
    make.spread(
        best,
        "leader",
        0.0,
        f"it becomes the leader, and grows on until {target.metres:.1f} m of stem stand clear",
    )
    for shoot in crown.on_leader:
        if shoot.at_m > best.at_m and shoot.name not in make.names:
            make.gone_with(shoot, "Goes with the leader", "it sits above the cut")
            _gone(make, crown, shoot.name)


def _stem_shoots(
    make: Maker, crown: Crown, target: ClearStem, settings: FormSettings, *, over: bool
) -> None:
    """Deal with shoots below the clear stem: shortened this year, taken out the next."""
    buds = int(settings["stub_buds"])
    keep = buds * settings["bud_spacing"] / 100.0
    for shoot in crown.on_leader:
        if shoot.name in make.names or is_scaffold(shoot):
            continue
        if shoot.at_m >= target.metres - SLACK_M:
            continue
        where = f"below the clear stem of {target.metres:.1f} m"
        thick = shoot.diameter_mm / max(crown.stem_mm(shoot.at_m), 1e-9)
        if shoot.at_m < FROM_THE_STOCK_M:
            make.remove(shoot, "stem shoot", "it comes from near the ground, perhaps the rootstock")
        elif over:
            make.remove(shoot, "stem shoot", where)
        elif thick >= settings["thick_share"]:
            make.remove(
                shoot, "stem shoot", f"{where}, and is {100 * thick:.0f} % as thick as it there"
            )
        elif not shoot.one_year_old:
            make.remove(shoot, "stem shoot", f"{where}, and has fed the stem its year")
        elif shoot.length_m <= keep + 0.02:
            make.leave(shoot, "stem shoot", "it is short; it feeds the stem, and goes next year")
        else:
            make.head(
                shoot,
                "stem shoot",
                keep,
                f"{where}: its leaves thicken the stem this year, next year it goes",
                buds=buds,
            )
        _gone_beyond(make, crown, shoot)


def _gone_beyond(make: Maker, crown: Crown, shoot: Shoot) -> None:
    row = next(r for r in make.rows if r.shoot == shoot.name)
    for borne in crown.borne_by(shoot.name):
        if borne.name in make.names:
            continue
        if row.cuts:
            make.gone_with(borne, f"Goes with {shoot.name}", "it grows from it")
        else:
            make.leave(borne, "lateral", "it grows on a shoot that goes next year")


def _sorted(crown: Crown, make: Maker) -> tuple[FormRow, ...]:
    place = {s.name: k for k, s in enumerate(crown.every)}
    return tuple(sorted(make.rows, key=lambda r: place[r.shoot]))

"""How much one season takes from a young tree, what waits where it is too much, and the order."""

from __future__ import annotations

from dataclasses import dataclass, replace

from limbwright.form.crown import Crown, Shoot
from limbwright.form.results import FormRow
from limbwright.form.settings import FormSettings

__all__ = ["WAITS", "Dosed", "within_dose"]

WAITS = "Leave until next year"
"""What is said of a shoot whose turn does not come this season."""

FIRST_TO_WAIT = ("lateral", "spare", "stem shoot")
"""Whose removal waits first where the dose is full; what forms the tree does not wait."""
FORMING = ("leader", "scaffold", "second")


@dataclass(frozen=True, slots=True)
class Dosed:
    """Rows in which what was too much waits, the share they take, its limit, and words."""

    rows: tuple[FormRow, ...]
    dose: float
    limit: float
    words: str


def within_dose(
    rows: tuple[FormRow, ...], crown: Crown, settings: FormSettings, *, stone: bool
) -> Dosed:
    """Return the rows with their parts of the dose, numbered in working order.

    The dose is the share of the length of all live shoots that comes off; of the leader what grew
    last season and what stands among the shoots counts, as a bare stem bears no leaf. Over the
    limit the removal of spare shoots waits for next year, the one that takes least harm first:
    laterals, then spares, then shoots on the stem, the longest of each first. Dead wood, and the
    cuts that form the tree, never wait; where they alone exceed the limit, the words say so.
    """
    limit = settings["dose_young_stone" if stone else "dose_young"]
    whole = sum(s.length_m for s in crown.shoots if s.sound) + _leafy_leader_m(crown)
    taken = {row.shoot: _taken_m(row, crown) for row in rows}
    share = {name: metres / max(whole, 1e-9) for name, metres in taken.items()}
    found = [replace(row, dose=share[row.shoot]) for row in rows]
    total = sum(share.values())
    waits: list[str] = []
    for role in FIRST_TO_WAIT:
        able = [r for r in found if r.role == role and r.cuts and r.dose > 0.0]
        for row in sorted(able, key=lambda r: (-r.dose, r.shoot)):
            if total <= limit + 1e-9:
                break
            total -= row.dose
            waits.append(row.shoot)
            found[found.index(row)] = _waiting(row)
    freed = {r.shoot for r in found if r.shoot in waits}
    found = [
        replace(r, what="Leave", why="it grows on a shoot that waits")
        if r.what.startswith("Goes with ") and r.what.removeprefix("Goes with ") in freed
        else r
        for r in found
    ]
    words = f"{100 * total:.0f} % of the length of its live shoots, of {100 * limit:.0f} % at most"
    if waits:
        words += f"; {', '.join(waits)} wait{'s' if len(waits) == 1 else ''} for next year"
    if total > limit + 1e-9:
        words += "; the cuts that form it come to more, and are made all the same"
    return Dosed(_numbered(found), total, limit, words)


def _waiting(row: FormRow) -> FormRow:
    return replace(
        row,
        work="leave",
        what=WAITS,
        why=f"the dose is full ({row.why})",
        cut_at_m=None,
        keep_cm=None,
        takes_cm=0.0,
        share=0.0,
        buds=0,
        dose=0.0,
        wound_area_cm2=0.0,
        tool="",
    )


def _leafy_leader_m(crown: Crown) -> float:
    """Return how much of the leader bears leaf [m]: last year's growth, and up from its shoots."""
    leader = crown.leader
    if leader.state == "dead":
        return 0.0
    lowest = min((s.at_m for s in crown.on_leader if s.sound), default=leader.length_m)
    bare = min(lowest, leader.length_m - leader.grown_m)
    return max(leader.length_m - bare, 0.0)


def _taken_m(row: FormRow, crown: Crown) -> float:
    """Return the length of live shoots one row takes [m], with all that is borne beyond its cut."""
    if not row.cuts or row.role == "failed":
        return 0.0
    shoot = crown.by_name[row.shoot]
    keep = 0.0 if row.work == "remove" else (row.keep_cm or 0.0) / 100.0
    own = max(shoot.length_m - keep, 0.0) if shoot.sound else 0.0
    if shoot.level == 0:
        own = min(own, _leafy_leader_m(crown))
    return own + sum(_whole_m(s, crown) for s in crown.shoots if _beyond(s, shoot, keep))


def _beyond(one: Shoot, parent: Shoot, keep_m: float) -> bool:
    return one.parent == parent.name and one.at_m > keep_m + 1e-9


def _whole_m(shoot: Shoot, crown: Crown) -> float:
    every = (shoot, *crown.borne_by(shoot.name))
    return sum(s.length_m for s in every if s.sound)


def _numbered(rows: list[FormRow]) -> tuple[FormRow, ...]:
    """Return the rows numbered: what has failed, the leader, what goes, what is shortened, set."""

    def rank(row: FormRow) -> tuple[int, float]:
        if row.role == "failed":
            return 0, -row.at_m
        if row.role == "leader":
            return 1, 0.0
        if row.work in ("remove", "shorten"):
            return 2, -row.at_m
        if row.role in ("scaffold", "second"):
            return (3 if row.role == "scaffold" else 4), row.at_m
        return 5, row.at_m

    order = {
        row.shoot: k
        for k, row in enumerate(sorted((r for r in rows if r.work != "leave"), key=rank), 1)
    }
    return tuple(replace(row, order=order.get(row.shoot, 0)) for row in rows)

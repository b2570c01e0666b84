"""The cuts a pruner would weigh on one tree, each with what speaks for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from limbwright.cuts.crossing import Crossing, axis_segments
from limbwright.cuts.results import Left, Wishes
from limbwright.cuts.weights import Settings
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats, Skeleton, State, Union
from limbwright.statics.assess import Assessment
from limbwright.trade.species import Species

__all__ = ["Candidate", "Offer", "candidates"]

SHORTEN_AT = (1 / 3, 1 / 2, 2 / 3)  # common practice: shortening points a pruner picks along a limb
MOST_TAPED = 80  # judgement: candidates for a limb survey
MOST_SEGMENTS = 300  # judgement: candidates for a tree given segment by segment
THINNEST_MM = 12.0  # judgement: thinner wood is thinned, not counted as a cut, unless unhealthy

Kind = Literal["remove", "shorten", "head"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """One possible cut at the base of ``segment``.

    ``at_m`` along its limb from the limb's base; ``laterals`` the first segments of the measured
    laterals one of which must stay, empty for none; ``to_lateral`` what is left in words.
    ``dead`` is True where the wood cut is dead, so that no live wound is made.
    ``forced``: it must go.
    """

    segment: int
    kind: Kind
    limb: int
    at_m: float
    diameter_mm: float
    laterals: tuple[int, ...] = ()
    to_lateral: str = ""
    dead: bool = False
    forced: bool = False


@dataclass(frozen=True, slots=True)
class Offer:
    """The candidates in preorder, and what of note was not offered and why.

    ``forbidden`` ``(n,)`` True for wood that must stay and all that carries it.
    """

    candidates: tuple[Candidate, ...]
    refused: tuple[Left, ...]
    forbidden: Bools
    keep: tuple[tuple[str, str], ...]


def _forbidden(skeleton: Skeleton, wishes: Wishes) -> tuple[Bools, tuple[tuple[str, str], ...]]:
    must = skeleton.keep > 0
    words: list[tuple[str, str]] = []
    for k, limb in enumerate(skeleton.limbs):
        mine = skeleton.limb == k
        if limb.label in wishes.protect:
            must = must | mine
            words.append((limb.label, "you asked for it to be left whole"))
        elif limb.keep:
            must = must | mine
            words.append((limb.label, limb.keep))
        elif bool((must & mine).any()):
            reason = skeleton.keep_reasons[int(skeleton.keep[mine].max())]
            words.append((limb.label, reason or "it is marked to be kept"))
    forbidden = skeleton.subtree_sum(must.astype(np.float64)) > 0
    forbidden[0] = True
    return forbidden, tuple(words)


def _check_labels(skeleton: Skeleton, wishes: Wishes) -> None:
    known = {limb.label for limb in skeleton.limbs}
    for wish, labels in (
        ("protect", wishes.protect),
        ("force", wishes.force),
        ("forbid", wishes.forbid),
    ):
        for label in sorted(labels - known):
            raise PlanError(
                f"There is no limb {label!r} on tree {skeleton.tree} to {wish}.",
                f"Its limbs are {', '.join(sorted(known))}.",
            )
    both = sorted(wishes.force & (wishes.protect | wishes.forbid))
    if both:
        raise PlanError(
            f"Limb {both[0]} of tree {skeleton.tree} is both to go and to stay.",
            "Ask for one of the two.",
        )


def _unhealthy(state: int) -> bool:
    return state in (State.DEAD, State.DISEASED, State.BROKEN)


class _Finder:
    """Holds what every rule of one tree needs."""

    def __init__(
        self,
        assessment: Assessment,
        kind: Species,
        crossing: tuple[Crossing, ...],
        wishes: Wishes,
        settings: Settings,
    ) -> None:
        self.skeleton = assessment.skeleton
        self.settings = settings
        self.wishes = wishes
        self.name = kind.name
        self.ordinary_mm = kind.largest_cut_mm.value
        self.danger_mm = max(kind.largest_cut_mm.high, self.ordinary_mm)
        self.overloaded = {
            limb.limb for limb in assessment.limbs if limb.utilisation >= settings["overload"]
        }
        self.in_rub = {c.a for c in crossing} | {c.b for c in crossing}
        self.losing = {c.loser for c in crossing}
        self.leaf = self.skeleton.subtree_sum(self.skeleton.leaf_area_m2)
        self.refused: dict[str, Left] = {}
        s = self.skeleton
        self.axes = [axis_segments(s, k) for k in range(len(s.limbs))]
        self.on_axis = {int(i): (k, j) for k, a in enumerate(self.axes) for j, i in enumerate(a)}

    def grave(self, segment: int, limb: int) -> bool:
        """Whether the wood is such that a larger wound is justified."""
        s = self.skeleton
        one = s.limbs[limb]
        return (
            _unhealthy(int(s.state[segment]))
            or one.union == Union.CRACKED
            or limb in self.overloaded
            or one.label in self.wishes.force
        )

    def too_large(self, segment: int, limb: int, *, collar: bool) -> str:
        """Why a cut is too large to be offered; empty when it may be."""
        s = self.skeleton
        label = s.limbs[limb].label
        if label in self.wishes.force and segment == s.limbs[limb].first_segment:
            return ""
        d = float(s.start_diameter_mm[segment])
        dead = int(s.state[segment]) == State.DEAD
        grave = self.grave(segment, limb)
        if not dead and d > self.danger_mm:
            return (
                f"the wound would be {d:.0f} mm across; on {self.name} not above "
                f"{self.danger_mm:.0f} mm even in danger"
            )
        if not grave and d > self.ordinary_mm:
            return (
                f"the wound would be {d:.0f} mm across; on sound {self.name} wood not above "
                f"{self.ordinary_mm:.0f} mm"
            )
        parent = int(s.parent[segment])
        if collar and not grave and parent >= 0:
            carrier = max(float(s.end_diameter_mm[parent]), 1e-9)
            if d > self.settings["parent_ratio"] * carrier:
                share = 100 * self.settings["parent_ratio"]
                return (
                    f"at {d:.0f} mm it is more than {share:.0f} % of the {carrier:.0f} mm that "
                    "carries it: part of the framework"
                )
        return ""

    def laterals(self, segment: int) -> tuple[list[int], bool]:
        """Measured laterals a shortening at ``segment`` may end at, and whether a derived one."""
        s = self.skeleton
        parent = int(s.parent[segment])
        inside = np.arange(parent + 1, int(s.subtree_end[parent]))
        siblings = inside[(s.parent[inside] == parent) & (inside != segment)]
        need = self.settings["lateral_ratio"] * float(s.start_diameter_mm[segment])
        live = (s.state[siblings] == State.LIVE) & (s.union[siblings] != Union.CRACKED)
        leafy = self.leaf[siblings] > 0
        siblings = siblings[live & leafy]
        fit = siblings[s.start_diameter_mm[siblings] >= need]
        measured = [int(i) for i in fit if s.surveyed[i]]
        return measured, bool((~s.surveyed[siblings]).any())

    def shorten(self, limb: int, j: int) -> Candidate | None:
        """Return a shortening at the j-th segment of an axis, where a lateral allows it."""
        s = self.skeleton
        segment = int(self.axes[limb][j])
        at = float(s.length_m[self.axes[limb][:j]].sum())
        d = float(s.start_diameter_mm[segment])
        dead = int(s.state[segment]) == State.DEAD
        parent = int(s.parent[segment])
        sound = "to sound live wood" if int(s.state[parent]) == State.LIVE else ""
        if dead or int(s.state[segment]) == State.BROKEN:
            return Candidate(segment, "shorten", limb, at, d, (), sound, dead) if sound else None
        ill = int(s.state[segment]) == State.DISEASED
        measured, derived = self.laterals(segment)
        if measured:
            best = max(measured, key=lambda i: float(s.start_diameter_mm[i]))
            label = s.limbs[int(s.limb[best])].label
            own = int(s.limb[best]) != limb
            words = f"to limb {label}" if own else "to a lateral"
            words += f", {s.start_diameter_mm[best]:.0f} mm"
            return Candidate(segment, "shorten", limb, at, d, tuple(measured), words, dead)
        if derived or not bool(s.surveyed.all()):
            need = 5.0 * np.ceil(self.settings["lateral_ratio"] * d / 5.0)
            where = f"{at:.1f} m along or below" if ill else f"near {at:.1f} m along"
            words = f"to a live lateral of at least {need:.0f} mm, to be found {where}"
            return Candidate(segment, "shorten", limb, at, d, (), words, dead)
        if ill:
            return Candidate(segment, "shorten", limb, at, d, (), sound, dead) if sound else None
        if d <= self.settings["head_to"]:
            return Candidate(segment, "head", limb, at, d, (), "to an outward bud", dead)
        return None


def candidates(
    assessment: Assessment,
    kind: Species,
    crossing: tuple[Crossing, ...],
    wishes: Wishes,
    settings: Settings,
    motives: Floats | None = None,
) -> Offer:
    """Return the cuts worth weighing, in preorder, and what was refused.

    Parameters
    ----------
    motives
        ``(n,)`` hours gained when each segment's own wood goes, to rank by when there are more
        than 80 (limb survey) or 300 (segment by segment).

    Raises
    ------
    PlanError
        A wish names no limb of the tree, or asks a limb both to go and to stay.
    """
    s = assessment.skeleton
    _check_labels(s, wishes)
    forbidden, keep = _forbidden(s, wishes)
    finder = _Finder(assessment, kind, crossing, wishes, settings)
    found: dict[int, Candidate] = {}
    for k, limb in enumerate(s.limbs):
        if limb.parent >= 0:
            _collar(finder, k, forbidden, found)
        _along(finder, k, forbidden, found)
    if bool(s.surveyed.all()):
        _branchings(finder, forbidden, found)
    kept = _ranked(finder, found, motives)
    return Offer(
        candidates=tuple(sorted(kept, key=lambda c: c.segment)),
        refused=tuple(finder.refused.values()),
        forbidden=forbidden,
        keep=keep,
    )


def _collar(finder: _Finder, k: int, forbidden: Bools, found: dict[int, Candidate]) -> None:
    s = finder.skeleton
    limb, segment = s.limbs[k], s.limbs[k].first_segment
    force = limb.label in finder.wishes.force
    if forbidden[segment]:
        if force:
            raise PlanError(
                f"Limb {limb.label} of tree {s.tree} is to go, but it is to be kept or carries "
                "what is to be kept.",
                "Drop one of the two wishes.",
            )
        return
    if limb.label in finder.wishes.forbid:
        finder.refused[limb.label] = Left(limb.label, "remove", "you asked for no cut on it")
        return
    why = finder.too_large(segment, k, collar=True)
    if why:
        if k in finder.losing or finder.grave(segment, k):
            finder.refused[limb.label] = Left(limb.label, "remove", why)
        return
    dead = int(s.state[segment]) == State.DEAD
    if s.start_diameter_mm[segment] < THINNEST_MM and not (force or _unhealthy(limb.state)):
        return
    found[segment] = Candidate(
        segment, "remove", k, 0.0, float(s.start_diameter_mm[segment]), dead=dead, forced=force
    )


def _along(finder: _Finder, k: int, forbidden: Bools, found: dict[int, Candidate]) -> None:
    """Up to three shortenings to derived laterals, and one at each fit measured lateral."""
    s = finder.skeleton
    if s.limbs[k].label in finder.wishes.forbid or _unhealthy(s.limbs[k].state):
        return
    axis = finder.axes[k]
    length = float(s.length_m[axis].sum())
    start = np.concatenate([[0.0], np.cumsum(s.length_m[axis])[:-1]])
    points: set[int] = set()
    for j in range(1, axis.size):
        segment = int(axis[j])
        changes = int(s.state[segment]) != int(s.state[axis[j - 1]])
        if changes or finder.laterals(segment)[0]:
            points.add(j)
    for share in SHORTEN_AT:
        if axis.size > 2 and not bool(s.surveyed.all()):
            points.add(max(1, int(np.argmin(np.abs(start - share * length)))))
    stem = s.limbs[k].parent < 0
    for j in sorted(points):
        segment = int(axis[j])
        if forbidden[segment] or segment in found:
            continue
        if stem and start[j] < 0.5 * length:
            continue  # the stem itself is never lowered to below the crown
        if finder.too_large(segment, k, collar=False):
            continue
        if s.start_diameter_mm[segment] < THINNEST_MM and not _unhealthy(int(s.state[segment])):
            continue
        cut = finder.shorten(k, j)
        if cut is not None:
            found[segment] = cut


def _branchings(finder: _Finder, forbidden: Bools, found: dict[int, Candidate]) -> None:
    """Every branching of a tree given segment by segment that isn't yet offered."""
    s = finder.skeleton
    for segment in range(1, s.n):
        if segment in found or segment in finder.on_axis or forbidden[segment]:
            continue
        parent, limb = int(s.parent[segment]), int(s.limb[segment])
        if s.limbs[limb].label in finder.wishes.forbid:
            continue
        alone = int(np.count_nonzero(s.parent == parent)) < 2
        d = float(s.start_diameter_mm[segment])
        new_fault = _unhealthy(int(s.state[segment])) and s.state[parent] != s.state[segment]
        if (alone or d < THINNEST_MM) and not new_fault:
            continue
        inside = np.arange(parent + 1, int(s.subtree_end[parent]))
        siblings = inside[s.parent[inside] == parent]
        leader = int(siblings[np.argmax(s.start_diameter_mm[siblings])]) == segment
        at = float(np.linalg.norm(s.start_m[segment] - s.start_m[s.limbs[limb].first_segment]))
        if finder.too_large(segment, limb, collar=not leader):
            continue
        dead = int(s.state[segment]) == State.DEAD
        if not leader or new_fault:
            found[segment] = Candidate(segment, "remove", limb, at, d, dead=dead)
            continue
        measured, _ = finder.laterals(segment)
        if measured:
            best = max(float(s.start_diameter_mm[i]) for i in measured)
            words = f"to a lateral, {best:.0f} mm"
            found[segment] = Candidate(segment, "shorten", limb, at, d, tuple(measured), words)


def _ranked(
    finder: _Finder, found: dict[int, Candidate], motives: Floats | None
) -> list[Candidate]:
    """Return the candidates that matter most where there are too many."""
    s = finder.skeleton
    most = MOST_SEGMENTS if bool(s.surveyed.all()) else MOST_TAPED
    every = list(found.values())
    if len(every) <= most:
        return every
    gain = np.zeros(s.n) if motives is None else s.subtree_sum(np.asarray(motives))
    load = finder.leaf / max(float(finder.leaf[0]), 1e-9)

    def worth(cut: Candidate) -> tuple[bool, bool, float]:
        rub = cut.kind == "remove" and cut.limb in finder.in_rub
        must = cut.forced or _unhealthy(int(s.state[cut.segment])) or rub
        whole = s.limbs[cut.limb].first_segment == cut.segment
        return must, whole, float(gain[cut.segment] + load[cut.segment])

    return sorted(every, key=worth, reverse=True)[:most]

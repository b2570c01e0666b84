"""Which seasons cut and which rest: what may follow what, and the choices worth weighing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Bools, Floats

__all__ = ["Rhythm", "patterns", "rhythm"]

SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Rhythm:
    """What may follow what: doses are shares of the live crown, times whole seasons.

    A dose above ``hard`` is a hard cut; the season after it takes no more than ``after_hard``.
    After ``running`` seasons of cutting come at least ``rest`` without.
    """

    hard: float
    after_hard: float
    running: int
    rest: int

    def allows(self, doses: Sequence[float]) -> bool:
        """Whether these seasons may follow one another; a dose of 0 is a rest."""
        run = rested = 0
        before = 0.0
        for dose in doses:
            if before > self.hard + SAME and dose > self.after_hard + SAME:
                return False
            if dose > 0.0:
                run, rested = run + 1, 0
                if run > self.running:
                    return False
            else:
                rested += 1
                if rested >= self.rest:
                    run = 0
            before = dose
        return True

    def kept(self, doses: Floats, cut: Bools, before: Sequence[float] = ()) -> Bools:
        """Return ``(B,)`` whether seasons with ``doses`` ``(B, Y)`` may follow ``before``.

        ``cut`` ``(B, Y)`` True where a season makes any cut, of dead wood too.
        """
        many = doses.shape[0]
        past = np.asarray(before, dtype=np.float64)
        taken = np.concatenate([np.tile(past, (many, 1)), doses], axis=1)
        work = np.concatenate([np.tile(past > 0.0, (many, 1)), cut], axis=1)
        fine = np.ones(many, dtype=np.bool_)
        run, rested = np.zeros(many, dtype=np.int64), np.zeros(many, dtype=np.int64)
        for y in range(taken.shape[1]):
            if y:
                hard = taken[:, y - 1] > self.hard + SAME
                fine &= ~hard | (taken[:, y] <= self.after_hard + SAME)
            run = np.where(work[:, y], run + 1, run)
            rested = np.where(work[:, y], 0, rested + 1)
            fine &= ~work[:, y] | (run <= self.running)
            run = np.where(~work[:, y] & (rested >= self.rest), 0, run)
        return fine


def rhythm(settings: Settings, *, frail: bool) -> Rhythm:
    """Return the rhythm of a tree, slower where it is weak or a veteran."""
    tail = "_frail" if frail else ""
    return Rhythm(
        hard=settings["hard_dose"],
        after_hard=settings["dose_after_hard"],
        running=max(1, round(settings[f"running_years{tail}"])),
        rest=max(0, round(settings[f"rest_years{tail}"])),
    )


def patterns(rule: Rhythm, limits: Floats, before: Sequence[float] = ()) -> tuple[Floats, ...]:
    """Return the doses ``(Y,)`` that the seasons may be held to, each as much as can be.

    Parameters
    ----------
    rule
        What may follow what.
    limits
        ``(Y,)`` the most each season may take by itself.
    before
        Doses of the seasons before the first, earliest first; what they ask for is kept.

    Returns
    -------
    tuple
        Every choice none of whose seasons could be given more; all others are worse or equal. The
        first season only rests where what came before asks for it.
    """
    levels = [
        sorted({0.0, *(d for d in (rule.after_hard, rule.hard, float(most)) if 0.0 < d <= most)})
        for most in limits
    ]
    found: list[tuple[float, ...]] = [()]
    for some in levels:
        longer = [(*one, level) for one in found for level in some]
        found = [one for one in longer if rule.allows((*before, *one))]
    fits = set(found)

    def full(one: tuple[float, ...]) -> bool:
        # whatever may be done may be done with less, so raising one season at a time tells
        return not any(
            (*one[:y], level, *one[y + 1 :]) in fits
            for y, some in enumerate(levels)
            for level in some
            if level > one[y]
        )

    best = [one for one in fits if full(one)]
    if any(one[0] > 0.0 for one in best):
        best = [one for one in best if one[0] > 0.0]
    best.sort(key=lambda one: (-sum(one), [-dose for dose in one]))
    return tuple(np.asarray(one, dtype=np.float64) for one in best)

"""Light over several seasons: what each piece gone gives while each state lasts.

As in one season (see `limbwright.cuts.lighting`), the light several cuts give together is no sum;
it is told piece by piece, exactly for the sequence it is told beside and for each cut more or less.
"""

from __future__ import annotations

import numpy as np

from limbwright.cuts.evaluate import cuts_of
from limbwright.cuts.lighting import Lighting, light_alone, light_beside, light_by_piece
from limbwright.model.skeleton import Bools, Floats
from limbwright.stages.years import Years

__all__ = ["YearsLight"]


class YearsLight:
    """The light of one tree's sequences; the crown as surveyed stands for that of later years."""

    def __init__(self, years: Years, light: Lighting) -> None:
        self.years = years
        self.light = light
        self.counts = light.hours > 0.0
        problem = years.seasons[0]
        self.alone_h = light_alone(problem, light) if self.counts else np.zeros(problem.nodes)
        self.lasts = years.weight * years.worth
        self._told: dict[bytes, tuple[Floats, float]] = {}
        self._gained: dict[bytes, float] = {}  # hours of each state asked for so far

    def at_first(self) -> Floats:
        """Return ``(Y, N)`` hours as if each cut were the only one."""
        piece = light_by_piece(self.years.seasons[0], self.alone_h)
        return np.asarray(self.lasts[:, None] * piece)

    def gained_h(self, gone: Bools) -> Floats:
        """Return ``(Y,)`` hours of light each state of a sequence ``(Y, N)`` gives."""
        keys = [state.tobytes() for state in gone]
        new = {key: y for y, key in enumerate(keys) if key not in self._gained}
        told = self.light.gained(gone[list(new.values())])
        self._gained.update(zip(new, told.tolist(), strict=True))
        return np.asarray(self.lasts * np.asarray([self._gained[key] for key in keys]))

    def beside(self, gone: Bools) -> tuple[Floats, float]:
        """Return ``(Y, N)`` hours beside a sequence, and its true light less their sum."""
        each = [self._state(gone[y]) for y in range(gone.shape[0])]
        told = self.lasts[:, None] * np.stack([piece for piece, _ in each])
        return told, float(self.lasts @ np.asarray([more for _, more in each]))

    def _state(self, gone: Bools) -> tuple[Floats, float]:
        """Return hours of each piece ``(N,)`` beside one state, and the rest of its light."""
        key = gone.tobytes()
        if key not in self._told:
            if not self.counts:
                self._told[key] = np.zeros(gone.size), 0.0
            else:
                problem = self.years.seasons[0]
                beside, whole, total = light_beside(problem, self.light, gone, self.alone_h)
                self._gained[key] = total
                more = total - float(beside[cuts_of(problem, gone)].sum())
                self._told[key] = light_by_piece(problem, whole), more
        return self._told[key]

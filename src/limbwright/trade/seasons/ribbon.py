"""The year as a ribbon: the two pruning windows, nesting and harvest, as plain spans."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from limbwright.model.site import Site
from limbwright.model.skeleton import Bools
from limbwright.trade.seasons.climate import Climate
from limbwright.trade.seasons.days import axis, inside
from limbwright.trade.seasons.job_windows import JobWindow, Span, windows_for
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.seasons.placed import place_of
from limbwright.trade.species import species

__all__ = ["Band", "Ribbon", "Stretch", "ribbon"]

Mark = Literal["open", "look first", "in doubt", "about"]
"""What a stretch of a band is: a window open, open after looking, on which sources differ; or
days in which something is about."""
WINDOWS = (("pome", "apple", "pome fruit, dormant"), ("stone", "plum", "stone fruit, in growth"))
"""Key, a species that stands for its group, and label of each window drawn."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Days in a row on a band, both ends counted."""

    first: date
    last: date
    mark: Mark
    label: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """One line of the ribbon: a window of pruning, or what meets it."""

    key: str
    label: str
    kind: Literal["window", "nesting", "harvest"]
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class Ribbon:
    """A calendar year with its bands, and the sentence that says what its days rest on."""

    year: int
    sentence: str
    bands: tuple[Band, ...]

    def to_dict(self) -> dict[str, object]:
        """Return the ribbon as plain values, days as ``2027-03-01``."""
        return {
            "year": self.year,
            "sentence": self.sentence,
            "bands": [
                {
                    "key": band.key,
                    "label": band.label,
                    "kind": band.kind,
                    "stretches": [
                        {
                            "first": one.first.isoformat(),
                            "last": one.last.isoformat(),
                            "mark": one.mark,
                            "label": one.label,
                        }
                        for one in band.stretches
                    ],
                }
                for band in self.bands
            ],
        }


def ribbon(
    year: int,
    site: Site,
    climate: Climate | None = None,
    local_rules: Sequence[LocalRule] = (),
    conditions: Collection[str] = (),
) -> Ribbon:
    """Return the year of an orchard as a ribbon, for reports and screens.

    Its windows are those of structural pruning of apple and of plum.

    Parameters
    ----------
    year
        The calendar year drawn.
    conditions
        Of the orchard, as for `windows_for`.

    Raises
    ------
    InputError
        A condition is not known, or the climate is of the other half of the world.
    """
    bands = []
    sentence = ""
    for key, kind, label in WINDOWS:
        window = windows_for(
            "structural", species(kind), site, year, climate, local_rules, conditions
        )
        bands.append(Band(key, label, "window", _window_stretches(window)))
        sentence = window.sentence
    first, codes = date(year, 1, 1), axis(date(year, 1, 1), date(year, 12, 31))
    nests: list[Stretch] = []
    fruit: list[Stretch] = []
    for one in place_of(site, climate).rules:
        if one.rule.key == "nesting":
            nests += _stretches(inside(one.first, one.last, codes), first, "")
        elif one.rule.key.startswith("harvest-"):
            label = one.rule.name.removesuffix(" harvest")
            fruit += _stretches(inside(one.first, one.last, codes), first, label)
    fruit.sort(key=lambda stretch: stretch.first)
    bands.append(Band("nesting", "birds nesting", "nesting", tuple(nests)))
    bands.append(Band("harvest", "harvest", "harvest", tuple(fruit)))
    return Ribbon(year, sentence, tuple(bands))


def _window_stretches(window: JobWindow) -> tuple[Stretch, ...]:
    found: list[Stretch] = []
    for span in window.spans:
        mark = _mark(span, window)
        if mark is None:
            continue
        if found and found[-1].mark == mark and found[-1].last + timedelta(days=1) == span.first:
            found[-1] = Stretch(found[-1].first, span.last, mark)
        else:
            found.append(Stretch(span.first, span.last, mark))
    return tuple(found)


def _mark(span: Span, window: JobWindow) -> Mark | None:
    if span.state == "closed":
        return None
    if span.state == "open":
        return "open"
    return "look first" if window.windows & set(span.rules) else "in doubt"


def _stretches(days: Bools, first: date, label: str) -> list[Stretch]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], days, [False]]).astype(np.int8)))
    return [
        Stretch(first + timedelta(days=begin), first + timedelta(days=end - 1), "about", label)
        for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    ]

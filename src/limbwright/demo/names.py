"""Invented names for the demo: no holding, person or orchard here exists.

The cultivars are old ones of the trade, as a survey would claim them (common practice);
a blank means that nobody knows, which in old orchards is the usual case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

__all__ = [
    "CULTIVARS",
    "FRUIT_NAMES",
    "MARK",
    "NAMELESS",
    "HoldingNames",
    "invent_names",
    "invent_people",
]

MARK = "invented example"
"""Every record of the demo bears these words."""

_FIRST = ("Wendle", "Quarlin", "Tarrow", "Ombrin", "Hessil", "Skellan", "Pembrin", "Aldrick")
_LAST = ("cote", "wick", "thorpe", "stow", "garth", "combe")
_GIVEN = ("Maud", "Edrin", "Tamsel", "Joss", "Corisa", "Wilm", "Hesper", "Aldo")
_FAMILY = ("Tarrowby", "Quennick", "Oldersby", "Fennamore", "Hask", "Brindlow", "Sallowen")
_ORCHARDS = (
    "Long Sallow",
    "Bell Acre",
    "Under Wick",
    "Tansy Piece",
    "Crook Ground",
    "Hive Bank",
    "Old Nursery",
    "Wether Close",
)

CULTIVARS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "apple": ("Blenheim Orange", "Bramley's Seedling", "Ribston Pippin", "", "", ""),
        "pear": ("Catillac", "Williams", ""),
        "perry pear": ("Blakeney Red", "Barland", ""),
        "plum": ("Victoria", "Pershore", ""),
        "damson": ("Shropshire Prune", ""),
        "cherry": ("Waterloo", "", ""),
        "gage": ("Old Green Gage", ""),
    }
)

FRUIT_NAMES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "apple": (
            *("Blenheim Orange", "Bramley's Seedling", "Newton Wonder", "Annie Elizabeth"),
            *("Ashmead's Kernel", "Court Pendu Plat", "", "", ""),
        ),
        "pear": ("Catillac", "Williams", "Hessle", "Jargonelle", "", ""),
        "perry pear": ("Blakeney Red", "Barland", "Moorcroft", "Thorn", "Oldfield", ""),
        "plum": ("Victoria", "Pershore", "Warwickshire Drooper", "Czar", ""),
        "damson": ("Shropshire Prune", "Farleigh", ""),
        "gage": ("Old Green Gage", "Cambridge Gage", ""),
        "cherry": ("Waterloo", "Early Rivers", "Governor Wood", "", ""),
    }
)
"""Cultivars of the stations that were only walked past; names of the trade (common practice)."""
NAMELESS = ("unknown", "unknown, of local name")


@dataclass(frozen=True, slots=True)
class HoldingNames:
    """What an invented holding, its owner and its three orchards are called."""

    holding: str
    owner: str
    orchards: tuple[str, str, str]


def invent_names(rng: np.random.Generator) -> HoldingNames:
    """Return invented names drawn with ``rng``; the three orchards are different."""
    first, last = _FIRST[rng.integers(len(_FIRST))], _LAST[rng.integers(len(_LAST))]
    given, family = _GIVEN[rng.integers(len(_GIVEN))], _FAMILY[rng.integers(len(_FAMILY))]
    drawn = rng.choice(len(_ORCHARDS), size=3, replace=False)
    a, b, c = (_ORCHARDS[int(i)] for i in drawn)
    return HoldingNames(first + last, f"{given} {family}", (a, b, c))


def invent_people(rng: np.random.Generator) -> tuple[str, ...]:
    """Return invented people: the one who walks and measures, then two crews."""
    given = [_GIVEN[int(i)] for i in rng.choice(len(_GIVEN), size=4, replace=False)]
    family = [_FAMILY[int(i)] for i in rng.choice(len(_FAMILY), size=4, replace=False)]
    a, b, c, d = (f"{one} {two}" for one, two in zip(given, family, strict=True))
    return a, f"{b} and {c}", d

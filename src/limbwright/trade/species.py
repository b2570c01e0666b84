"""The fruit species: their wood, the largest cut they bear, and when to prune them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from limbwright.errors import InputError
from limbwright.trade.parameters import Parameter, parameters
from limbwright.trade.windows import Group, Window, group_window

__all__ = ["Species", "all_species", "species", "window"]


@dataclass(frozen=True, slots=True)
class Species:
    """One kind of fruit tree.

    Strengths are those of clear green wood: mean in ``value``, the published range in ``low`` and
    ``high``, scatter between trees in ``cov``. ``largest_cut_mm`` holds the ordinary limit in
    ``value`` and the ceiling for danger in ``high``. Sources are in ``data/species.csv``.
    """

    key: str
    name: str
    latin: str
    group: Group
    aliases: tuple[str, ...]
    basic_density_kg_m3: Parameter
    green_density_kg_m3: Parameter
    bending_strength_mpa: Parameter
    shear_strength_mpa: Parameter
    tension_perp_mpa: Parameter
    stiffness_gpa: Parameter
    largest_cut_mm: Parameter


_KINDS: tuple[tuple[str, str, str, Group, tuple[str, ...]], ...] = (
    (
        "apple",
        "apple",
        "Malus domestica",
        "pome",
        (
            "apples",
            "cider apple",
            "cooking apple",
            "dessert apple",
            "crab apple",
            "crab",
            "malus",
            "malus pumila",
            "malus sylvestris",
        ),
    ),
    ("pear", "pear", "Pyrus communis", "pome", ("pears", "dessert pear", "pyrus")),
    ("perry-pear", "perry pear", "Pyrus communis (perry)", "pome", ("perry", "perry pears")),
    ("quince", "quince", "Cydonia oblonga", "pome", ("quinces", "cydonia")),
    ("medlar", "medlar", "Mespilus germanica", "pome", ("medlars", "mespilus")),
    (
        "plum",
        "plum",
        "Prunus domestica",
        "stone",
        ("plums", "prune", "european plum", "prunus domestica subsp. domestica"),
    ),
    (
        "damson",
        "damson",
        "Prunus domestica subsp. insititia",
        "stone",
        ("damsons", "bullace", "mirabelle", "prunus insititia"),
    ),
    (
        "gage",
        "gage",
        "Prunus domestica subsp. italica",
        "stone",
        ("gages", "greengage", "green gage", "prunus italica"),
    ),
    (
        "cherry",
        "sweet cherry",
        "Prunus avium",
        "stone",
        ("cherries", "wild cherry", "gean", "mazzard"),
    ),
    (
        "tart-cherry",
        "tart cherry",
        "Prunus cerasus",
        "stone",
        ("sour cherry", "acid cherry", "morello", "tart cherries"),
    ),
)
"""Names: common usage, from memory."""


@cache
def all_species() -> tuple[Species, ...]:
    """Return every species known, pome fruit first."""
    table = parameters("species")
    return tuple(
        Species(
            key=key,
            name=name,
            latin=latin,
            group=group,
            aliases=aliases,
            basic_density_kg_m3=table[f"{key}.basic_density"],
            green_density_kg_m3=table[f"{key}.green_density"],
            bending_strength_mpa=table[f"{key}.bending_strength"],
            shear_strength_mpa=table[f"{key}.shear_strength"],
            tension_perp_mpa=table[f"{key}.tension_perp"],
            stiffness_gpa=table[f"{key}.stiffness"],
            largest_cut_mm=table[f"{key}.largest_cut"],
        )
        for key, name, latin, group, aliases in _KINDS
    )


@cache
def _names() -> dict[str, Species]:
    return {
        _plain(name): one
        for one in all_species()
        for name in (one.key, one.name, one.latin, *one.aliases)
    }


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").replace("_", " ").split())


def species(name: str) -> Species:
    """Return a species by key, name, alias or Latin name, in any case.

    Raises
    ------
    InputError
        The name is not known; the message lists those that are.
    """
    found = _names().get(_plain(name))
    if found is None:
        known = ", ".join(one.key for one in all_species())
        if not name.strip():
            raise InputError("No species is given.", f"Give one of: {known}.")
        raise InputError(f"The species {name.strip()!r} is not known.", f"Give one of: {known}.")
    return found


def window(species: Species, southern: bool = False) -> Window:
    """Return when a species may be pruned, with the sentence for the card and the reason."""
    return group_window(species.group, southern)

"""How high the clear stem must be: what grazes beneath, the form, or a grant."""

from __future__ import annotations

import re
from dataclasses import dataclass

from limbwright.form.settings import FormSettings
from limbwright.form.words import listed
from limbwright.trade.parameters import Parameter
from limbwright.trade.species import Species

__all__ = ["ClearStem", "clear_stem", "grazers"]

# Words for what grazes, and the row of the table they mean; common usage, from memory.
_WORDS = {
    "sheep": ("sheep", "ewe", "ewes", "lamb", "lambs", "ram", "rams"),
    "cattle": ("cattle", "cow", "cows", "calves", "bullocks", "bullock", "heifers", "heifer"),
    "horses": ("horse", "horses", "pony", "ponies", "donkey", "donkeys", "mare", "mares"),
    "goats": ("goat", "goats"),
    "deer": ("deer",),
    "pigs": ("pig", "pigs", "sow", "sows"),
    "geese": ("goose", "geese"),
    "hens": ("hen", "hens", "chicken", "chickens", "poultry", "ducks"),
}
_NOTHING = ("", "none", "no", "nothing", "mown", "mowing", "hay", "ungrazed", "not grazed")
_FORMS = {
    "standard": "form_standard",
    "half-standard": "form_half_standard",
    "half standard": "form_half_standard",
    "bush": "form_bush",
}
UNKNOWN_AS = "cattle"
"""Judgement: an animal not in the table is taken to reach as high as cattle."""


@dataclass(frozen=True, slots=True)
class ClearStem:
    """The clear stem to be formed [m], the range its sources give, and why, in words.

    ``other`` tells what another rule would ask for, empty where they agree.
    """

    metres: float
    low_m: float
    high_m: float
    because: str
    other: str = ""
    cautions: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """Return the target as plain values."""
        return {
            "clear_stem_m": self.metres,
            "low_m": self.low_m,
            "high_m": self.high_m,
            "because": self.because,
            "other": self.other,
        }


def grazers(grazed_by: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the animals of the table that ``grazed_by`` names, and the words it does not know."""
    text = grazed_by.strip().lower()
    if text in _NOTHING:
        return (), ()
    known: list[str] = []
    strange: list[str] = []
    for word in re.findall(r"[^\W\d_][\w-]*", text):
        if word in ("and", "or", "sometimes", "also", "with", "a", "few", "some", "in", "then"):
            continue
        found = next((key for key, names in _WORDS.items() if word in names), None)
        if found is None:
            strange.append(word)
        elif found not in known:
            known.append(found)
    return tuple(known), tuple(strange)


def clear_stem(kind: Species, form: str, grazed_by: str, settings: FormSettings) -> ClearStem:
    """Return the clear stem to form a tree at.

    Parameters
    ----------
    kind
        The species; a grant asks for less of plums.
    form
        The form in the station's record, such as ``standard``; may be empty.
    grazed_by
        What grazes beneath, as in the orchard's record.
    settings
        ``clear_stem_m`` rules before ``clear_stem_rule``.

    Returns
    -------
    ClearStem
        The higher of what the animals and the form ask for, or what the grant asks for.
    """
    animals, strange = grazers(grazed_by)
    asked = [(settings.parameter(f"clear_stem.{a}"), a) for a in animals]
    if strange and not animals:
        asked.append((settings.parameter(f"clear_stem.{UNKNOWN_AS}"), " ".join(strange)))
    if not animals and not strange:
        asked.append((settings.parameter("clear_stem.none"), ""))
    key = _FORMS.get(form.strip().lower())
    if key is not None:
        asked.append((settings.parameter(f"clear_stem.{key}"), f"{form.strip().lower()} tree"))
    highest, what = max(asked, key=lambda one: settings[one[0].name])
    metres = settings[highest.name]
    because = f"for {what}" if what else "nothing grazes beneath"
    if what.endswith(" tree"):
        because = f"a {what}"
    plum = kind.key in ("plum", "damson", "gage")
    grant = settings.parameter("clear_stem.grant_stone" if plum else "clear_stem.grant_pome")
    cautions = _cautions(animals, strange, metres, settings)
    if settings.clear_stem_m is not None:
        own = settings.clear_stem_m
        other = f"{_told(highest, metres)} {because}"
        return ClearStem(own, own, own, "asked for", other, cautions)
    if settings.clear_stem_rule == "grant":
        asks = settings[grant.name]
        told = f"{_told(highest, metres)} {because}"
        return ClearStem(
            asks,
            grant.low,
            grant.high,
            f"as a planting grant asks for {kind.name}",
            told if abs(asks - metres) > 0.05 else "",
            cautions,
        )
    other = ""
    if abs(settings[grant.name] - metres) > 0.05:
        other = f"an English planting grant asks {settings[grant.name]:.1f} m for {kind.name}"
    low, high = min(highest.low, metres), max(highest.high, metres)
    return ClearStem(metres, low, high, because, other, cautions)


def _told(parameter: Parameter, metres: float) -> str:
    if parameter.low == parameter.high:
        return f"{metres:.1f} m"
    return f"{metres:.1f} m ({parameter.low:.1f} to {parameter.high:.1f})"


def _cautions(
    animals: tuple[str, ...], strange: tuple[str, ...], metres: float, settings: FormSettings
) -> tuple[str, ...]:
    found = []
    if "goats" in animals:
        found.append("Goats strip bark and stand up to branches: no height of stem keeps them off.")
    if strange:
        found.append(
            f"Not in the table of grazing animals: {listed(strange)}; "
            + ("left out." if animals else f"taken to reach as high as {UNKNOWN_AS}.")
        )
    reach = max((settings.parameter(f"clear_stem.{a}").high for a in animals), default=0.0)
    if animals and metres < reach - 0.05:
        found.append(
            f"Sources give up to {reach:.1f} m for {listed(animals)}: keep the guard until the "
            "limbs stand clear of the browse line."
        )
    return tuple(found)

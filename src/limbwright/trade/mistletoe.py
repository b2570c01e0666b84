"""Mistletoe by clumps: how many there are, how many to take this season, and how many to leave.

A little does small harm, much kills the tree and then itself, and birds and rare insects live on
it. So it is thinned by a share, the males first (they bear no berries), from the weakest limbs.
Numbers are in ``data/mistletoe.csv``; nobody has published how many to leave.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton
from limbwright.trade.parameters import Parameter, parameters
from limbwright.trade.phrases import NUMBERS, Phrasebook

__all__ = [
    "SEASON",
    "Mistletoe",
    "MistletoeAdvice",
    "mistletoe_advice",
    "mistletoe_in",
    "mistletoe_of",
]

SEASON = (
    "Berried clumps for sale in late November and December; the others from January until the buds "
    "move. Birds feed on the berries in between: leave some until spring."
)
"""Before Christmas, then from January: Orchard Origins (2013), mistletoediary.com (2016)."""

BANDS: tuple[tuple[str, str], ...] = (
    ("heavy|heavily|swamped|smothered|loaded|covered|full of|much|lots of", "heavy"),
    ("moderate|moderately|several|medium", "moderate"),
    ("few|little|light|some|one or two", "few"),
)
"""Words for how much, the most first; they count where they stand by the mistletoe itself."""

BAND = (
    r"\b(?:{words})(?:\s+(?:in|with|of|by|infested|clumps?))*\s+(?:mistletoe|clumps?)"
    r"|\b(?:mistletoe|clumps?)\s*[:,(]?\s*(?:is|are|a)?\s*(?:{words})\b"
)
WANTED = re.compile(r"\b(?:wants?|wanted|wishes)\b[^;.]*\bkept?\b|\bkeep (?:all|the) mistletoe\b")
_WORDS = "|".join(NUMBERS)
CLUMPS = re.compile(rf"\b(\d{{1,3}}|{_WORDS})\s+(?:[a-z-]+\s+){{0,2}}(?:clumps?|bunch(?:es)?)\b")
CLUMPS_AFTER = re.compile(r"\b(?:clumps?|mistletoe)\s*[:=x×(]\s*(\d{1,3})\b(?!\s*%)")
MALES = re.compile(rf"\b(\d{{1,3}}|{_WORDS})\s+males?\b")
FEMALES = re.compile(rf"\b(\d{{1,3}}|{_WORDS})\s+(?:females?|berried)\b")
SHARE = re.compile(r"\b(\d{1,3})\s*%\s*(?:of\s+)?(?:the\s+)?crown\b")
BOOK = Phrasebook({"mistletoe": ("mistletoe*",)})


@dataclass(frozen=True, slots=True)
class Mistletoe:
    """Mistletoe as surveyed: on one limb (``where``) or on a tree.

    ``clumps`` is None where neither a number nor a word says how much; ``low`` and ``high`` are
    its range where only a word does. ``males``, ``females`` and ``crown_share`` (of the crown it
    fills) are None where not noted. ``wanted``: the owner wants it kept.
    """

    clumps: int | None
    low: int
    high: int
    counted: bool
    males: int | None = None
    females: int | None = None
    crown_share: float | None = None
    wanted: bool = False
    where: str = ""


@dataclass(frozen=True, slots=True)
class MistletoeAdvice:
    """How many clumps to take this season.

    ``take`` lies between ``take_low`` and ``take_high`` as the sources differ. ``males`` of them,
    where the sexes were counted. ``later`` are for another season, ``leave`` stay for good.
    ``sail_m2`` is what the wind meets of all clumps, (low, value, high).
    """

    clumps: int | None
    counted: bool
    take: int
    take_low: int
    take_high: int
    males: int | None
    later: int
    leave: int
    sail_m2: tuple[float, float, float]
    season: str
    reasons: tuple[str, ...]


def mistletoe_in(text: str, *, where: str = "") -> Mistletoe | None:
    """Return the mistletoe a text tells of, None where it tells of none.

    Understood: ``9 clumps of mistletoe (4 male, 5 female)``, ``mistletoe: 9``, ``heavy
    mistletoe``, ``mistletoe 20 % of crown``.
    """
    heard = BOOK.heard(text)
    if not heard:
        return None
    # only the clauses that speak of it, or go on about it
    plain = "; ".join(
        part
        for part in re.split(r"[;\n]", text.lower())
        if re.search(r"mistletoe|clump|bunch|\bmales?\b|berried", part)
    )
    males, females = _number(MALES, plain), _number(FEMALES, plain)
    count = _number(CLUMPS, plain)
    if count is None and males is not None and females is not None:
        count = males + females
    if count is None:
        count = _number(CLUMPS_AFTER, plain)
    if count is None and heard[0].counted:
        count = heard[0].count
    if count == 0:
        return None
    share = SHARE.search(plain)
    many = _band(plain) if count is None else None
    return Mistletoe(
        clumps=count if many is None else round(many.value),
        low=(count or 1) if many is None else round(many.low),
        high=(count or 1) if many is None else round(many.high),
        counted=count is not None,
        males=males,
        females=females,
        crown_share=min(1.0, int(share.group(1)) / 100.0) if share else None,
        wanted=WANTED.search(plain) is not None,
        where=where,
    )


def _band(text: str) -> Parameter | None:
    """Return how many clumps a word means, with the range; None where no word says."""
    for words, name in BANDS:
        if re.search(BAND.format(words=words), text):
            return parameters("mistletoe")[name]
    return None


def _number(pattern: re.Pattern[str], text: str) -> int | None:
    found = pattern.search(text)
    if found is None:
        return None
    word = found.group(1)
    return NUMBERS[word] if word in NUMBERS else int(word)


def mistletoe_of(
    station: StationRecord | None, skeleton: Skeleton | None = None
) -> tuple[Mistletoe | None, Mapping[int, Mistletoe]]:
    """Return the mistletoe of a tree, and that of its limbs by their index.

    The tree's is what its record tells, or what its limbs add up to where that is more.
    """
    limbs: dict[int, Mistletoe] = {}
    for k, limb in enumerate(() if skeleton is None else skeleton.limbs):
        here = mistletoe_in(f"{limb.note}; {limb.keep}", where=limb.label)
        if here is not None:
            limbs[k] = here
    tree = None
    if station is not None:
        tree = mistletoe_in("; ".join((station.features, station.faults, station.note)))
    known = [m for m in limbs.values() if m.clumps is not None]
    total = sum(m.clumps or 0 for m in known)
    if limbs and (tree is None or (tree.clumps or 0) < total):
        tree = Mistletoe(
            total if known else None,
            sum(m.low for m in known) or 1,
            sum(m.high for m in known) or 1,
            bool(known) and all(m.counted for m in known),
            crown_share=None if tree is None else tree.crown_share,
            wanted=all(m.wanted for m in limbs.values()),
        )
    return tree, limbs


def mistletoe_advice(found: Mistletoe) -> MistletoeAdvice:
    """Return how many clumps to take this season, and how many to leave, with ranges.

    Up to three are left alone. Of more, a quarter to a third stay for good and at most about half
    go in one season. Where it fills more than a third of the crown, fewer stay.
    """
    table = parameters("mistletoe")
    sail = table["clump_sail"]
    n = found.clumps or 0
    if found.clumps is None or found.wanted:
        keep = 0 if found.clumps is None else n
        why = (
            "The owner wants it kept: it stays, unless a limb under it is weak."
            if found.wanted
            else "Nobody counted it: count the clumps, and which bear berries."
        )
        return _advice(found, sail, 0, 0, 0, keep, (why,))
    leave = _leave(found, n, table["keep_share"].value)
    take = _take(n, leave, table["season_share"].value, table["leave_up_to"].value)
    low = _take(
        found.low,
        _leave(found, found.low, table["keep_share"].high),
        table["season_share"].low,
        table["leave_up_to"].high,
    )
    high = _take(
        found.high,
        _leave(found, found.high, table["keep_share"].low),
        table["season_share"].high,
        table["leave_up_to"].low,
    )
    if not take:
        why = f"{n} {_clumps(n)} {'does' if n == 1 else 'do'} small harm: leave them, count again."
        return _advice(found, sail, 0, 0, high, n, (why,))
    many = f"{n}" if found.counted else f"about {n}"
    least, most = min(low, take), max(high, take)
    reasons = [
        f"Of {many} clumps take {take} ({least} to {most}) this season, males first, from the "
        f"weakest limbs; leave {leave} for good.",
        f"Cut at the bark it comes again: cut it again in {table['again_after'].low:.0f} to "
        f"{table['again_after'].high:.0f} years, or cut the shoot that bears it below the clump.",
    ]
    if found.crown_share is not None and found.crown_share > table["crown_share"].value:
        reasons.append(
            f"It fills {100 * found.crown_share:.0f} % of the crown; more than a third is too much."
        )
    return _advice(found, sail, take, least, most, leave, tuple(reasons))


def _leave(found: Mistletoe, n: int, keep_share: float) -> int:
    leave = max(1, math.ceil(keep_share * n - 1e-9))
    share = found.crown_share
    most = parameters("mistletoe")["crown_share"].value
    if share is not None and share > most:
        leave = max(1, min(leave, math.floor(n * most / share)))
    return leave


def _take(n: int, leave: int, season_share: float, leave_up_to: float) -> int:
    if n <= leave_up_to:
        return 0
    return max(0, min(n - leave, math.floor(season_share * n + 1e-9)))


def _advice(
    found: Mistletoe,
    sail: Parameter,
    take: int,
    low: int,
    high: int,
    leave: int,
    reasons: tuple[str, ...],
) -> MistletoeAdvice:
    n = found.clumps or 0
    males = None
    if found.males is not None:
        males = min(take, max(0, found.males - 1))  # one male stays, for the berries (judgement)
    return MistletoeAdvice(
        clumps=found.clumps,
        counted=found.counted,
        take=take,
        take_low=low,
        take_high=high,
        males=males,
        later=max(0, n - leave - take),
        leave=leave,
        sail_m2=(sail.low * found.low, sail.value * max(n, 1), sail.high * found.high),
        season=SEASON,
        reasons=reasons,
    )


def _clumps(count: int) -> str:
    return "clump" if count == 1 else "clumps"

"""What a surveyor's notes name: phrases with their counts, their doubt and their denial.

Notes are short and written in a hurry: ``2 rot holes; frass, no canker; silver leaf?``. A phrase
is heard where its words stand, as one word, two, or with a hyphen, and with a plural. It is not
heard where the same clause denies it. Where it is open whether a denial reaches a phrase it does
not: a false alarm costs a look, a disease missed costs a tree.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

__all__ = ["Heard", "Phrasebook"]

SEVERAL = 3  # judgement: what "several" or "some" counts as, at least
PLURAL = 2  # a plural without a number is two at least

# How many words may stand between a denial and what it denies (judgement).
DENIALS: tuple[tuple[str, int], ...] = (
    (r"\b(?:no|without|free (?:of|from)|clear of|lacks?|neither|nor)\b", 6),
    (r"\b(?:not|never|isn't|aren't|wasn't|hasn't)\b", 2),
)
NO_DENIAL = re.compile(
    r"\s*(?:much|many|bad|badly|severe|severely|serious|seriously|only|just|too|very|quite|all|"
    r"(?:more|fewer|less) than|end of)\b"
)
"""After a denial's word, these say how much and deny nothing: *not much canker*."""
DENIED_AFTER = re.compile(
    r"^\s*\??\s*[:=-]?\s*(?:none|no|nil|0|absent|not (?:seen|found|present|visible|there))"
    r"(?: (?:found|seen|here))?\s*$"
)
DENIED_NEXT = re.compile(r"^\s*(?:none|nothing|not)(?: (?:found|seen|there|here))?\s*$")
DENIAL_ENDS = re.compile(r"\b(?:and|with|has|have|but|only)\b")
DOUBT = re.compile(
    r"\?|\b(?:possibl[ey]|perhaps|maybe|may|might|could|suspect\w*|probabl[ey]|likely|"
    r"looks? like|unsure|not sure)\b|-like\b"
)
LISTED = re.compile(r"^[a-z' -]{1,40}$")
PLACED = re.compile(r"\b(?:on|in|at|from|above|below|limb|limbs|stem|tree)\b")
CHOICE = re.compile(r"\b(?:or|nor)\b(?!\s*\d)")
SENTENCE = re.compile(r"[;!\n]|\.(?!\d)|\bbut\b|\bthough\b|\bhowever\b|\bexcept\b")
NUMBERS: Mapping[str, int] = {
    **{w: k for k, w in enumerate(("one", "two", "three", "four", "five", "six"), 1)},
    **{w: k for k, w in enumerate(("seven", "eight", "nine", "ten", "eleven", "twelve"), 7)},
}
VAGUE = ("several", "some", "many", "few", "numerous", "lots of")
COUNT_BEFORE = re.compile(
    r"(?:^|(?<=\s)|(?<=\())(?P<n>\d{1,3}|" + "|".join((*NUMBERS, *VAGUE)) + r")"
    r"(?!\s*(?:m|cm|mm|kg|%|deg)\b)\s+(?:[a-z'-]+\s+){0,2}$"
)
LABEL_BEFORE = re.compile(r"\b(?:limbs?|number|no\.?|tree|station|row|about|of|and|to)\s*$")
COUNT_AFTER = re.compile(r"^\s*(?:[:=x×(]\s*)(?P<n>\d{1,3})\b(?!\s*(?:m|cm|mm|kg|%|deg)\b)")


@dataclass(frozen=True, slots=True)
class Heard:
    """One phrase heard in a note.

    ``said`` is the clause as written. ``count`` is how many, ``counted`` whether a number says
    so; else it is the least that the wording means. ``doubtful``: the surveyor was not sure.
    """

    key: str
    said: str
    count: int
    counted: bool
    doubtful: bool


class Phrasebook:
    """Phrases by what they name.

    Parameters
    ----------
    phrases
        The phrases of each key. A phrase is in small letters; a star at its end stands for any
        ending (``canker*`` hears *cankered*). Of two that begin at one word the longer is heard,
        and no word is heard twice.
    """

    def __init__(self, phrases: Mapping[str, Sequence[str]]) -> None:
        pairs = [(one, key) for key, many in phrases.items() for one in many]
        pairs.sort(key=lambda pair: (-len(pair[0]), pair[0]))
        self._keys = tuple(key for _, key in pairs)
        # One pattern for all, since a holding has thousands of notes. The empty group at the end
        # of each phrase tells which it was; at its start it would hide the first letter, by which
        # most phrases are passed over.
        self._pattern = re.compile(
            r"\b(?:" + "|".join(f"{_pattern(phrase)}()" for phrase, _ in pairs) + ")"
        )

    def heard(self, text: str) -> tuple[Heard, ...]:
        """Return what a text names, in the order written; denied phrases are left out."""
        return tuple(
            one
            for sentence in SENTENCE.split(text.lower().replace("\u2019", "'"))
            for one in self._sentence(sentence)
        )

    def _sentence(self, sentence: str) -> list[Heard]:
        pieces = [p.strip() for p in re.split(r",(?!\d)", sentence)]
        found: list[Heard] = []
        for at, piece in enumerate(pieces):
            if at + 1 < len(pieces) and DENIED_NEXT.match(pieces[at + 1]):
                continue
            if not _in_denied_list(pieces, at):
                found += self._piece(piece)
        return found

    def _piece(self, piece: str) -> list[Heard]:
        found: list[Heard] = []
        for match in self._pattern.finditer(piece):
            before, after = piece[: match.start()], piece[match.end() :]
            if _denied(before) or DENIED_AFTER.match(after):
                continue
            count, counted = _count(before, match.group(0), after)
            if count == 0:
                continue
            key = self._keys[(match.lastindex or 1) - 1]
            found.append(Heard(key, piece, count, counted, DOUBT.search(piece) is not None))
        return found


def _pattern(phrase: str) -> str:
    words = phrase.rstrip("*").split()
    body = r"[\s-]*".join(re.escape(word) for word in words)
    return rf"{body}\w*" if phrase.endswith("*") else rf"{body}(?:e?s)?\b"


def _denied(before: str) -> bool:
    for pattern, reach in DENIALS:
        for match in re.finditer(pattern, before):
            between = before[match.end() :]
            if DENIAL_ENDS.search(between) or NO_DENIAL.match(between):
                continue
            if len(between.split()) <= reach:
                return True
    return False


def _in_denied_list(pieces: Sequence[str], at: int) -> bool:
    """Whether a piece stands in a list such as "no canker, scab or rot", after its first."""
    first = at
    while first > 0 and LISTED.match(pieces[first]) and not PLACED.search(pieces[first]):
        first -= 1
    if first == at or not re.match(r"(?:no|without|free (?:of|from))\b", pieces[first]):
        return False
    last = at
    while last < len(pieces) and not CHOICE.search(pieces[last]):
        if not LISTED.match(pieces[last]) or PLACED.search(pieces[last]):
            return False
        last += 1
    return last < len(pieces) and not PLACED.search(pieces[last])


def _count(before: str, phrase: str, after: str) -> tuple[int, bool]:
    found = COUNT_AFTER.match(after)
    if found is not None:
        return int(found.group("n")), True
    found = COUNT_BEFORE.search(before)
    if found is not None and not LABEL_BEFORE.search(before[: found.start()]):
        word = found.group("n")
        if word in VAGUE:
            return SEVERAL, False
        return NUMBERS.get(word) or int(word), True
    plural = phrase.endswith("s") and not phrase.endswith(("ss", "us", "is"))
    return (PLURAL if plural else 1), False

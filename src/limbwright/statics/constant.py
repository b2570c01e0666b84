"""The load cases that are the constant part of others."""

from __future__ import annotations

from collections.abc import Sequence

from limbwright.statics.cases import chosen

__all__ = ["constant_cases"]


def constant_cases(only: Sequence[str]) -> list[str]:
    """Return the keys of the cases that those asked for are built on, but that were not asked for.

    A heavy crop comes on top of an ordinary one: without it, the median year would hold nothing.

    Raises
    ------
    InputError
        A name in ``only`` is not known.
    """
    missing: dict[str, None] = {}
    rules = chosen(only)
    while rules:
        have = {rule.case.key for rule in chosen([*only, *missing])}
        more = [rule.base for rule in rules if rule.base and rule.base not in have]
        missing.update(dict.fromkeys(more))
        rules = chosen(more) if more else ()
    return list(missing)

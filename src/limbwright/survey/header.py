"""Whether a table has the columns it needs, and which unknown ones may be slips of the pen."""

from __future__ import annotations

import re
from collections.abc import Collection
from difflib import SequenceMatcher

from limbwright.model import Fault, Faults
from limbwright.survey.tables import Table

__all__ = ["check_header"]

_ALIKE = 0.8
"""Share of letters two names have in common to be taken for one; judgement: one slip in five."""


_OTHER_NAMES = {
    **dict.fromkeys(("tree", "treeno", "treeid", "treenumber", "plot", "position"), "station"),
    **dict.fromkeys(("branch", "branchno", "scaffold", "limbid"), "limb"),
    **dict.fromkeys(("dia", "diam", "dbh", "basediameter"), "diameter_mm"),
    **dict.fromkeys(("azimuth", "compass", "direction", "aspect"), "bearing_deg"),
    **dict.fromkeys(("inclination", "declination", "slope", "elevation", "angle"), "rise_deg"),
    **dict.fromkeys(("circumference", "gbh"), "girth_cm"),
    **dict.fromkeys(("notes", "remark", "remarks", "comment", "comments"), "note"),
}
"""Names others give these columns; a hint alone; judgement."""


def check_header(
    table: Table, known: Collection[str], needed: Collection[str], faults: Faults
) -> None:
    """Add a fault for each column that is missing, a warning for each that seems misspelt.

    Parameters
    ----------
    table
        The table, a column mapping already applied.
    known
        All columns of such a table.
    needed
        Those it cannot do without.
    faults
        Gets the faults.
    """
    if not table.rows:
        remedy = "Write one row below the header for each."
        faults.add(Fault(table.file, 0, "", "", "there is no row below the header", remedy))
    unknown = [c for c in table.header if c not in known]
    meant = _meant(unknown, [c for c in known if c not in table.header])
    told = False
    for column in needed:
        if column not in table.header:
            has = ", ".join(table.header)
            fault = "there is no such column, and no row can be used without it"
            if column in meant:
                remedy = f"Is it {meant[column]}? Rename it {column}, or give a column mapping."
            else:
                remedy = f"Name a column {column}, or give a column mapping."
                if not told and len(table.header) == 1:
                    remedy = "Part the columns by commas, semicolons or tabs: only one was found."
                elif not told:
                    remedy += f" The table has: {_short(has)}."
                told = True
            faults.add(Fault(table.file, 0, column, "", fault, remedy))
    for column, given in meant.items():
        if column not in needed:
            fault = "not a column known here; kept as a note"
            remedy = f"If it is {column}, rename it, or give a column mapping."
            faults.add(Fault(table.file, 0, given, "", fault, remedy, "warning"))


def _short(text: str) -> str:
    return text if len(text) <= 120 else text[:117] + "..."


def _bare(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name)


def _meant(header: Collection[str], absent: Collection[str]) -> dict[str, str]:
    """Return, for each absent column, the given one that may be it; each given one once."""
    taken: dict[str, str] = {}
    scored = []
    for given in header:
        for column in absent:
            stem = column.rpartition("_")[0] or column
            bare = _bare(given)
            if _OTHER_NAMES.get(bare) == column:
                scored.append((0.9, given, column))
            if bare in (_bare(column), _bare(stem)) or (len(stem) > 4 and given.startswith(stem)):
                scored.append((1.0, given, column))
            elif len(bare) > 4:
                share = SequenceMatcher(None, bare, _bare(column)).ratio()
                if share >= _ALIKE:
                    scored.append((share, given, column))
    used: set[str] = set()
    for _, given, column in sorted(scored, key=lambda s: -s[0]):
        if column not in taken and given not in used:
            taken[column] = given
            used.add(given)
    return taken

"""Plans, settings and local rules in a project file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal, get_args

from limbwright.model import Faults
from limbwright.model.numbered import in_order
from limbwright.project.put import Counts
from limbwright.project.store import Project
from limbwright.project.values import to_json
from limbwright.survey.local_rules import RULE_COLUMNS, local_rules, rule_rows
from limbwright.survey.tables import Row, Table
from limbwright.trade.seasons.local import LocalRule

__all__ = [
    "PlanKind",
    "PlanStatus",
    "Setting",
    "StoredPlan",
    "is_plan",
    "plans",
    "rules",
    "save_plan",
    "save_rules",
    "save_setting",
    "set_plan_status",
    "settings",
]

PlanKind = Literal["season", "years", "form"]
PlanStatus = Literal["proposed", "agreed", "done"]


@dataclass(frozen=True, slots=True)
class StoredPlan:
    """One plan of a tree as it is kept: ``document`` is the whole of it as plain values.

    ``season`` is the first season it is for. ``edition`` counts from 1: a plan that was agreed
    or done is never overwritten, the next one is a new edition. ``version`` is that of Limbwright.
    """

    tree: str
    kind: str
    season: str
    edition: int
    status: str
    made_on: date | None
    version: str
    settings_sha256: str
    document: Mapping[str, object]
    note: str = ""


def plans(
    project: Project,
    *,
    tree: str | None = None,
    kind: PlanKind | None = None,
    season: str | None = None,
    status: PlanStatus | None = None,
    every: bool = False,
) -> tuple[StoredPlan, ...]:
    """Return plans by tree, kind and season.

    Parameters
    ----------
    tree, kind, season
        Only these.
    status
        Only plans of this status; the latest edition of each that has it.
    every
        All editions, oldest first, not the latest alone.
    """
    asked = {"tree": tree, "kind": kind, "season": season, "status": status}
    rows = project.rows("plans", **{k: v for k, v in asked.items() if v is not None})
    found: dict[tuple[str, str, str, int], StoredPlan] = {}
    for row in rows:  # in the order of editions, so that the latest one stays
        plan = _plan_of(row)
        found[plan.tree, plan.kind, plan.season, plan.edition if every else 0] = plan
    return tuple(sorted(found.values(), key=lambda p: in_order(p.tree)))


def _plan_of(row: Mapping[str, object]) -> StoredPlan:
    edition, day, document = row["edition"], row["made_on"], row["document"]
    return StoredPlan(
        tree=str(row["tree"]),
        kind=str(row["kind"]),
        season=str(row["season"]),
        edition=edition if isinstance(edition, int) else 1,
        status=str(row["status"]),
        made_on=date.fromisoformat(str(day)) if day else None,
        version=str(row["version"]),
        settings_sha256=str(row["settings_sha256"]),
        document=document if is_plan(document) else {},  # type: ignore[arg-type]
        note=str(row["note"]),
    )


def is_plan(document: object) -> bool:
    """Return whether plain values are a plan's document, which other programs may have spoilt."""
    if not isinstance(document, dict):
        return False
    seasons = document.get("seasons", [])
    return isinstance(seasons, list) and all(isinstance(s, dict) and "season" in s for s in seasons)


def save_plan(
    project: Project,
    tree: str,
    season: str,
    kind: PlanKind,
    document: Mapping[str, object],
    *,
    made_on: date,
    version: str,
    settings_sha256: str = "",
    note: str = "",
) -> StoredPlan:
    """Keep a proposed plan, and return it as it is kept.

    A plan that is proposed takes the place of the one proposed before; where that one is agreed
    or done, it becomes the next edition, unless it says the same: then nothing is written.

    Raises
    ------
    ValueError
        The document is not made of plain values, or the kind is not known.
    """
    if kind not in get_args(PlanKind):
        raise ValueError(f"no kind of plan: {kind}")
    with project.change(f"plan {tree} for {season}"):
        before = plans(project, tree=tree, kind=kind, season=season)
        edition = 1
        if before:
            held = before[0]
            same = to_json(held.document) == to_json(document)
            same = same and held.settings_sha256 == settings_sha256
            if held.status != "proposed" and same:
                return held
            edition = held.edition + (held.status != "proposed")
        row = {
            "tree": tree,
            "kind": kind,
            "season": season,
            "edition": edition,
            "status": "proposed",
            "made_on": made_on,
            "version": version,
            "settings_sha256": settings_sha256,
            "document": dict(document),
            "note": note,
        }
        project.put("plans", [row])
        return plans(project, tree=tree, kind=kind, season=season)[0]


def set_plan_status(project: Project, plan: StoredPlan, status: PlanStatus) -> StoredPlan:
    """Mark a plan as proposed, agreed or done, and return it as it is kept then.

    Raises
    ------
    ValueError
        There is no such status.
    KeyError
        The plan is not in the file.
    """
    if status not in get_args(PlanStatus):
        raise ValueError(f"no status of a plan: {status}")
    key = {n: getattr(plan, n) for n in ("tree", "kind", "season", "edition")}
    with project.change(f"mark the plan of {plan.tree} for {plan.season} as {status}"):
        if not project.rows("plans", **key):
            raise KeyError(f"no plan {key}")
        project.put("plans", [{**key, "status": status}])
        return _plan_of(project.rows("plans", **key)[0])


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of the holding that differs from the tables: its value, source and day."""

    name: str
    value: object
    source: str = ""
    since: date | None = None
    note: str = ""


def settings(project: Project) -> dict[str, Setting]:
    """Return the settings by name."""
    found = {}
    for row in project.rows("settings"):
        name, day = str(row["name"]), row["since"]
        since = date.fromisoformat(str(day)) if day else None
        texts = (str(row["source"]), since, str(row["note"]))
        found[name] = Setting(name, row["value"], *texts)
    return found


def save_setting(project: Project, new: Setting) -> Counts:
    """Keep a setting; its source says why it is what it is."""
    row = {n: getattr(new, n) for n in ("name", "value", "source", "since", "note")}
    with project.change(f"set {new.name}"):
        return project.put("settings", [row])


def rules(project: Project, faults: Faults | None = None) -> tuple[LocalRule, ...]:
    """Return the local rules; those that cannot be read are left out and told in ``faults``."""
    rows = project.rows("rules")
    cells = [{n: str(r[n]) for n in RULE_COLUMNS} for r in rows]
    numbered = tuple(Row(number, row) for number, row in enumerate(cells, 1))
    table = Table(f"{project.path.name}, rules", RULE_COLUMNS, numbered)
    return local_rules(table, Faults() if faults is None else faults) if rows else ()


def save_rules(project: Project, new: Iterable[LocalRule]) -> Counts:
    """Keep local rules, each with its scheme, place and date."""
    return project.put("rules", rule_rows(new))

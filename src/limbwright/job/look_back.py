"""Look back over a project: forecasts beside what was found, and what that teaches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from limbwright.job.project_settings import project_settings
from limbwright.learn.done import work_done
from limbwright.learn.lessons import LearntSetting, Lessons, learn
from limbwright.learn.look_back import LookBack, look_back
from limbwright.learn.season import Girth, Planned, TreeSeason, seasons_of
from limbwright.model import Response, StationRecord
from limbwright.project.plans import (
    Setting,
    StoredPlan,
    plans,
    save_setting,
    set_plan_status,
)
from limbwright.project.records import holding, responses, stations, visits
from limbwright.project.store import Project
from limbwright.project.surveys import surveys_taken, walk

__all__ = ["apply_lessons", "keep_worked_plans", "look_back_on", "past_doses", "tree_seasons"]


def look_back_on(project: Project) -> tuple[LookBack, Lessons]:
    """Return forecasts beside what was found in a project, and what would be learnt."""
    base, factors = project_settings(project)
    with project.reading():
        seasons = tree_seasons(project)
        southern = holding(project).site.southern
    found = look_back(seasons, settings=base, factors=factors, southern=southern)
    return found, learn(found.observations, found.watched, in_force=factors)


def apply_lessons(project: Project, lessons: Lessons, since: date) -> tuple[LearntSetting, ...]:
    """Write lessons into the settings in one change that can be undone; return what was written."""
    wanted = lessons.settings(since)
    if wanted:
        count = len(wanted)
        settings = "1 setting" if count == 1 else f"{count} settings"
        with project.change(f"learn {settings} from the records"):
            for one in wanted:
                save_setting(project, Setting(one.name, one.value, one.source, one.since))
    return wanted


def tree_seasons(project: Project) -> tuple[TreeSeason, ...]:
    """Return plans and records of a project, tree by tree and season by season."""
    past = _Past(project)
    answers = responses(project)
    past.add_girths(answers)
    kept = [p for p in _worked_to(plans(project, every=True)) if p.kind != "form"]
    return seasons_of(
        (Planned(p.tree, p.season, p.made_on, p.document) for p in kept),
        visits(project),
        answers,
        station_on=past.station,
        girth_on=past.girth,
    )


class _Past:
    """What was known of each tree before a day: its walks and its girths."""

    def __init__(self, project: Project) -> None:
        self._now = {s.tree: s for s in stations(project)}
        self._walks: dict[str, list[tuple[date, StationRecord]]] = {}
        self._girths: dict[str, list[tuple[date, float]]] = {}
        for survey in surveys_taken(project, "walk"):
            if survey.taken_on is None:
                continue
            for one in walk(project, survey.number):
                self._walks.setdefault(one.tree, []).append((survey.taken_on, one))
                if one.girth_cm:
                    self._girths.setdefault(one.tree, []).append((survey.taken_on, one.girth_cm))

    def add_girths(self, answers: Iterable[Response]) -> None:
        """Take in girths measured when a tree was looked at again."""
        for one in answers:
            if one.girth_cm:
                self._girths.setdefault(one.tree, []).append((one.seen_on, one.girth_cm))

    def station(self, tree: str, day: date) -> StationRecord | None:
        """Return the record of a tree as the last walk before a day found it.

        Where all walks are later, what changes from year to year is left out.
        """
        now = self._now.get(tree)
        walks = self._walks.get(tree, [])
        before = [one for taken_on, one in walks if taken_on <= day]
        if before:
            last = before[-1]
            if now is not None:
                last = replace(
                    last,
                    species=last.species or now.species,
                    planted=last.planted or now.planted,
                    girth_cm=last.girth_cm or now.girth_cm,
                )
            return last
        if now is None or not walks:
            return now
        return replace(now, extension_cm=None, condition="", dead_pct=None)

    def girth(self, tree: str, day: date) -> Girth | None:
        """Return the last girth taken before a day."""
        before = [one for one in self._girths.get(tree, ()) if one[0] <= day]
        if not before:
            return None
        taken_on, girth_cm = max(before)
        return Girth(girth_cm, taken_on)


def _worked_to(every: Sequence[StoredPlan]) -> list[StoredPlan]:
    """Return the edition of each plan that was worked to: agreed or done, else the last."""
    best: dict[tuple[str, str, str], StoredPlan] = {}
    for plan in every:  # in the order of editions
        key = plan.tree, plan.kind, plan.season
        held = best.get(key)
        if held is None or held.status == "proposed" or plan.status != "proposed":
            best[key] = plan
    return list(best.values())


def keep_worked_plans(project: Project) -> int:
    """Keep the plans that were worked to from being planned over, and count those newly kept.

    A plan of one season is done; one of several years is agreed, as its later seasons stand.
    """
    worked = {(v.tree, v.season) for v in visits(project)}
    kept = 0
    for plan in plans(project, status="proposed"):
        if plan.kind != "form" and (plan.tree, plan.season) in worked:
            set_plan_status(project, plan, "done" if plan.kind == "season" else "agreed")
            kept += 1
    return kept


def past_doses(project: Project, today: date) -> Mapping[str, tuple[float, ...]]:
    """Return by tree the doses taken in the seasons gone by, a year each, the last one last.

    A year without work counts as none taken; where a visit does not tell its dose, that planned
    stands for it. Work of the running year is not among them.
    """
    base, _ = project_settings(project)
    taken: dict[str, dict[int, float]] = {}
    for one in tree_seasons(project):
        day = one.worked_on
        if day is None:
            continue
        done = work_done(one, base)
        dose = done.dose_taken if done.dose_taken is not None else done.dose_planned
        years_ago = round((today - day).days / 365.25)
        if dose and years_ago >= 1:
            own = taken.setdefault(one.tree, {})
            own[years_ago] = own.get(years_ago, 0.0) + dose
    return {
        tree: tuple(own.get(ago, 0.0) for ago in range(max(own), 0, -1))
        for tree, own in taken.items()
    }

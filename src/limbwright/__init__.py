"""Limbwright: from a quick survey of an old fruit tree to the few best cuts, with reasons.

>>> import limbwright as lw
>>> survey = lw.read_limbs("limbs.csv", stations="stations.csv")
>>> tree = survey.trees[0]
>>> plan = lw.plan(lw.assess(lw.build(tree)), tree.station)
>>> 0 < plan.dose <= plan.dose_limit
True
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

_HOMES = {
    "Holding": "limbwright.model",
    "LimbwrightError": "limbwright.errors",
    "Orchard": "limbwright.model",
    "Project": "limbwright.project",
    "Site": "limbwright.model",
    "Skeleton": "limbwright.model",
    "Taped": "limbwright.survey.allometry",
    "Wishes": "limbwright.cuts.results",
    "YearlyReport": "limbwright.report.yearly_report",
    "add_to_project": "limbwright.project.add",
    "after_season": "limbwright.growth.season",
    "apply_lessons": "limbwright.job.look_back",
    "assess": "limbwright.statics.assess",
    "build": "limbwright.job.face",
    "carried_wood": "limbwright.survey.allometry",
    "export_project": "limbwright.project.export",
    "following_seasons": "limbwright.stages.seasons:following",
    "form_plan": "limbwright.form.plan",
    "gather_report": "limbwright.job.gather:gather",
    "growth_rates": "limbwright.growth.rates:rates",
    "light_air": "limbwright.light.tree",
    "look_back_on": "limbwright.job.look_back",
    "look_up_problems": "limbwright.trade.health:look_up",
    "needs_of": "limbwright.needs.need:needs",
    "pick_day": "limbwright.needs.day",
    "plan": "limbwright.cuts.plan",
    "plan_years": "limbwright.stages.plan_years",
    "read_limbs": "limbwright.job.face",
    "read_segments": "limbwright.survey",
    "read_weather": "limbwright.survey.weather",
    "read_young_trees": "limbwright.form.read",
    "scab_periods": "limbwright.light.infection",
    "species": "limbwright.trade.species",
    "tape_value": "limbwright.needs.tape",
    "tree_wood": "limbwright.survey.allometry",
    "windows_for": "limbwright.trade.seasons.job_windows",
    "write_cards": "limbwright.job.face",
    "write_form_cards": "limbwright.report.form_card:form_cards",
    "write_management_plan": "limbwright.report.book_plan:management_plan",
    "write_segments": "limbwright.survey",
    "write_task_list": "limbwright.report.task_list:task_list",
    "write_yearly_report": "limbwright.report.yearly_report:yearly_report",
}
"""Where each public name lives; after a colon its name there, where that is another."""

__all__ = [
    "Holding",
    "LimbwrightError",
    "Orchard",
    "Project",
    "Site",
    "Skeleton",
    "Taped",
    "Wishes",
    "YearlyReport",
    "__version__",
    "add_to_project",
    "after_season",
    "apply_lessons",
    "assess",
    "build",
    "carried_wood",
    "export_project",
    "following_seasons",
    "form_plan",
    "gather_report",
    "growth_rates",
    "light_air",
    "look_back_on",
    "look_up_problems",
    "needs_of",
    "pick_day",
    "plan",
    "plan_years",
    "read_limbs",
    "read_segments",
    "read_weather",
    "read_young_trees",
    "scab_periods",
    "species",
    "tape_value",
    "tree_wood",
    "windows_for",
    "write_cards",
    "write_form_cards",
    "write_management_plan",
    "write_segments",
    "write_task_list",
    "write_yearly_report",
]

if TYPE_CHECKING:
    from limbwright.cuts.plan import plan
    from limbwright.cuts.results import Wishes
    from limbwright.errors import LimbwrightError
    from limbwright.form.plan import form_plan
    from limbwright.form.read import read_young_trees
    from limbwright.growth.rates import rates as growth_rates
    from limbwright.growth.season import after_season
    from limbwright.job.face import build, read_limbs, write_cards
    from limbwright.job.gather import gather as gather_report
    from limbwright.job.look_back import apply_lessons, look_back_on
    from limbwright.light.infection import scab_periods
    from limbwright.light.tree import light_air
    from limbwright.model import Holding, Orchard, Site, Skeleton
    from limbwright.needs.day import pick_day
    from limbwright.needs.need import needs as needs_of
    from limbwright.needs.tape import tape_value
    from limbwright.project import Project
    from limbwright.project.add import add_to_project
    from limbwright.project.export import export_project
    from limbwright.report.book_plan import management_plan as write_management_plan
    from limbwright.report.form_card import form_cards as write_form_cards
    from limbwright.report.task_list import task_list as write_task_list
    from limbwright.report.yearly_report import YearlyReport
    from limbwright.report.yearly_report import yearly_report as write_yearly_report
    from limbwright.stages.plan_years import plan_years
    from limbwright.stages.seasons import following as following_seasons
    from limbwright.statics.assess import assess
    from limbwright.survey import read_segments, write_segments
    from limbwright.survey.allometry import Taped, carried_wood, tree_wood
    from limbwright.survey.weather import read_weather
    from limbwright.trade.health import look_up as look_up_problems
    from limbwright.trade.seasons.job_windows import windows_for
    from limbwright.trade.species import species


def __getattr__(name: str) -> object:
    """Load a public name on first use: importing limbwright alone stays quick."""
    if name in _HOMES:
        module, _, own = _HOMES[name].partition(":")
        return getattr(import_module(module), own or name)
    raise AttributeError(f"module 'limbwright' has no attribute {name!r}")

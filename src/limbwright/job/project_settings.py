"""What a project sets itself: its own weights and limits, and what its records taught."""

from __future__ import annotations

from limbwright.cuts.weights import Settings
from limbwright.learn.factors import Factors
from limbwright.model import Fault, Faults
from limbwright.project.plans import settings
from limbwright.project.store import Project

__all__ = ["project_settings"]


def project_settings(project: Project, faults: Faults | None = None) -> tuple[Settings, Factors]:
    """Return the settings of a project without what was learnt, and what was learnt.

    Settings that no table has, and values that are no numbers, are left aside and told in
    ``faults``.
    """
    told = Faults() if faults is None else faults
    given = {name: one.value for name, one in settings(project).items()}
    factors = Factors.of(given)
    usual, own = Settings(), {}
    for name, value in given.items():
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        try:
            usual.parameter(name)
        except KeyError:
            if name not in factors.by_name:
                told.add(_left(project, name, value, "not a setting this version knows"))
            continue
        if is_number:
            own[name] = float(value)  # type: ignore[arg-type]
        else:
            told.add(_left(project, name, value, "not a number"))
    return Settings(own), factors


def _left(project: Project, name: str, value: object, fault: str) -> Fault:
    remedy = "It is left aside; docs/method/cuts.md lists the settings and what they may be."
    return Fault(f"{project.path.name}, settings", 0, name, str(value), fault, remedy)

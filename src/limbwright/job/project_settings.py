"""What a project sets itself: its own weights and limits, and what its records taught."""

from __future__ import annotations

from contextlib import suppress

from limbwright.cuts.weights import Settings
from limbwright.learn.factors import Factors
from limbwright.project.plans import settings
from limbwright.project.store import Project

__all__ = ["project_settings"]


def project_settings(project: Project) -> tuple[Settings, Factors]:
    """Return the settings of a project without what was learnt, and what was learnt.

    Settings of other names than those of the tables are left aside.
    """
    given = {name: one.value for name, one in settings(project).items()}
    usual, own = Settings(), {}
    for name, value in given.items():
        if isinstance(value, int | float) and not isinstance(value, bool):
            with suppress(KeyError):
                usual.parameter(name)
                own[name] = float(value)
    return Settings(own), Factors.of(given)

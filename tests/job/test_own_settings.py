"""Settings of one's own: in a file, and in a project."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from tests.project.holdings import full

from limbwright.cuts.weights import read_settings
from limbwright.demo import fill_project, make_holding
from limbwright.errors import InputError
from limbwright.form.settings import read_form_settings
from limbwright.job.holding_plan import plan_forms
from limbwright.job.project_settings import project_settings
from limbwright.job.tree_years import YearsOrder
from limbwright.model import Faults
from limbwright.project.plans import Setting, plans, save_setting
from limbwright.project.store import Project


def test_a_project_s_settings_are_taken_and_those_nobody_knows_are_told(tmp_path: Path) -> None:
    project = full(tmp_path)
    save_setting(project, Setting("dose_routine", 0.2, "invented"))
    save_setting(project, Setting("dose_routin", 0.1, "a slip of the pen"))
    save_setting(project, Setting("work_climb", "much"))
    save_setting(project, Setting("hours_factor", 1.2, "learnt"))
    faults = Faults()
    own, factors = project_settings(project, faults)
    assert dict(own.overrides)["dose_routine"] == 0.2
    assert "dose_routin" not in own.overrides
    assert factors.by_name["hours_factor"] == 1.2
    told = {f.column: str(f) for f in faults}
    assert set(told) == {"dose_routin", "work_climb"}
    assert "not a setting this version knows" in told["dose_routin"]
    assert "'much'" in told["work_climb"]
    assert "not a number" in told["work_climb"]


@pytest.mark.parametrize("read", [read_settings, read_form_settings])
@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\x00\xff\xfe\x80", "is no text in UTF-8"),
        (b"dose_routine 0.2\n", "line 1"),
        (None, "cannot be read"),
    ],
)
def test_a_file_that_is_no_settings_says_what_would_be(
    tmp_path: Path, read: object, content: bytes | None, says: str
) -> None:
    path = tmp_path / "own.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as error:
        read(path)  # type: ignore[operator]
    assert says in str(error.value)
    assert "lines such as" in str(error.value)


def test_settings_saved_with_a_mark_of_their_encoding_are_read(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xef\xbb\xbfdose_routine = 0.2\n")
    assert read_settings(path)["dose_routine"] == 0.2


def test_forming_can_be_asked_for_one_orchard_alone(tmp_path: Path) -> None:
    holding = make_holding(1)
    with Project.create(tmp_path / "holding.gpkg", holding.place) as project:
        fill_project(project, holding)
        order = YearsOrder(site=holding.site, today=date(2026, 11, 20), years=1)
        every, _ = plan_forms(project, order)
        assert {p.tree for p in plans(project, kind="form")} == {p.tree for p in every}
        orchard = every[0].tree.rpartition("/")[0]
        some, _ = plan_forms(project, order, only=lambda s: s.orchard == orchard)
        assert 0 < len(some) < len(every)
        assert {p.tree.rpartition("/")[0] for p in some} == {orchard}
        none, _ = plan_forms(project, order, only=lambda s: False)
        assert none == ()

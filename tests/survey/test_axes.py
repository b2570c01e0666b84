"""Measured limbs as curved, tapering axes."""

from __future__ import annotations

import numpy as np
import pytest

from limbwright.model import LimbRecord, StationRecord, TreeSurvey
from limbwright.survey.axes import axes_of

STEM = LimbRecord("1", "stem", "", 300.0, 2.0, rise_deg=90.0)


def survey(*limbs: LimbRecord) -> TreeSurvey:
    return TreeSurvey(StationRecord("1", species="apple"), (STEM, *limbs))


def test_a_limb_is_as_long_as_taped_and_bends_from_base_to_end() -> None:
    taped = LimbRecord(
        "1", "A", "stem", 120.0, 4.0, at_m=1.5, bearing_deg=90.0, rise_deg=60.0, end_rise_deg=0.0
    )
    axis = axes_of(survey(taped))[0][1]
    step = np.diff(axis.point_m, axis=0)
    length = np.linalg.norm(step, axis=1)
    assert length.sum() == pytest.approx(4.0)
    assert axis.point_m[0] == pytest.approx([0.0, 0.0, 1.5])
    assert step[:, 1] == pytest.approx(0.0, abs=1e-12)  # it keeps its bearing: due east
    rise = np.degrees(np.arcsin(step[:, 2] / length))
    assert (np.diff(rise) < 0.0).all()
    # a circular arc from 60 to 0 degrees of length s reaches s (sin 60) / (pi / 3) out
    assert axis.point_m[-1, 0] == pytest.approx(4.0 * np.sin(np.pi / 3) / (np.pi / 3), rel=0.01)


def test_blank_bearings_go_into_the_widest_gap_and_are_told() -> None:
    def limb(name: str, bearing: float | None) -> LimbRecord:
        return LimbRecord("1", name, "stem", 90.0, 3.0, at_m=1.9, bearing_deg=bearing, rise_deg=40)

    axes, faults = axes_of(survey(limb("A", 0.0), limb("B", 120.0), limb("C", None)))
    assert axes[3].bearing_deg == pytest.approx(240.0)
    assert [f.column for f in faults] == ["bearing_deg"]


def test_an_axis_thins_where_a_measured_limb_took_its_section() -> None:
    main = LimbRecord("1", "A", "stem", 100.0, 4.0, at_m=1.9, bearing_deg=0.0, rise_deg=30.0)
    child = LimbRecord("1", "B", "A", 80.0, 2.0, at_m=1.0, bearing_deg=40.0, rise_deg=30.0)
    alone = axes_of(survey(main))[0][1]
    forked = axes_of(survey(main, child))[0][1]
    beyond = int(np.searchsorted(forked.at_m, 1.0 + 1e-6))
    assert forked.diameter_mm[beyond] == pytest.approx(60.0)  # 100^2 = 80^2 + 60^2
    assert np.interp(forked.at_m[beyond], alone.at_m, alone.diameter_mm) > 60.0

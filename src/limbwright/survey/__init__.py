"""From tables and files to skeletons: reading, checking, building the whole tree."""

from __future__ import annotations

from limbwright.survey.segments import SegmentsSurvey, read_segments
from limbwright.survey.survey import Survey, read_survey
from limbwright.survey.write import limb_extra, write_limbs, write_segments, write_stations

__all__ = [
    "SegmentsSurvey",
    "Survey",
    "limb_extra",
    "read_segments",
    "read_survey",
    "write_limbs",
    "write_segments",
    "write_stations",
]

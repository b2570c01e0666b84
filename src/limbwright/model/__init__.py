"""The immutable values every other layer speaks in: stations, limbs, skeletons, faults."""

from limbwright.model.faults import Fault, Faults
from limbwright.model.records import LimbRecord, StationRecord, TreeSurvey
from limbwright.model.site import Site
from limbwright.model.skeleton import (
    Limb,
    Provenance,
    Skeleton,
    State,
    Union,
    topology,
)

__all__ = [
    "Fault",
    "Faults",
    "Limb",
    "LimbRecord",
    "Provenance",
    "Site",
    "Skeleton",
    "State",
    "StationRecord",
    "TreeSurvey",
    "Union",
    "topology",
]

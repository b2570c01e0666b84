"""The immutable values every other layer speaks in: stations, limbs, skeletons, faults."""

from limbwright.model.faults import Fault, Faults
from limbwright.model.holding import Holding, Orchard
from limbwright.model.records import LimbRecord, StationRecord, TreeSurvey
from limbwright.model.shoots import ShootRecord, YoungTree
from limbwright.model.site import Site
from limbwright.model.skeleton import (
    Limb,
    Provenance,
    Skeleton,
    State,
    Union,
    topology,
)
from limbwright.model.work import CutDone, Photo, Response, Visit

__all__ = [
    "CutDone",
    "Fault",
    "Faults",
    "Holding",
    "Limb",
    "LimbRecord",
    "Orchard",
    "Photo",
    "Provenance",
    "Response",
    "ShootRecord",
    "Site",
    "Skeleton",
    "State",
    "StationRecord",
    "TreeSurvey",
    "Union",
    "Visit",
    "YoungTree",
    "topology",
]

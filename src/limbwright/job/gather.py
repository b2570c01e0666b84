"""Gather from a project file all that its reports are made from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path

from limbwright.errors import InputError, LimbwrightError
from limbwright.job.chances import known_chances
from limbwright.job.learnt_hours import hours_factors
from limbwright.job.look_back import look_back_on
from limbwright.job.open_project import trees_of
from limbwright.job.project_settings import project_settings
from limbwright.job.season import next_season
from limbwright.job.work import build, tree_of
from limbwright.model import Faults, Photo, Site, Skeleton, StationRecord
from limbwright.needs.need import needs
from limbwright.project.plans import plans, rules
from limbwright.project.records import holding, photos, picture, responses, stations, visits
from limbwright.project.store import Project
from limbwright.report.book_works import TreePlan, season_key
from limbwright.report.holding_report import HoldingReport
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.species import species

__all__ = ["Album", "gather"]

LARGEST_PHOTO = 60_000_000
"""Bytes; judgement: a file larger than this is no photo from a camera or a phone."""


class Album(Mapping[tuple[str, str], bytes]):
    """The pictures of a project by tree and file, each read only when it is asked for.

    A picture that was taken into the project comes from there, else from the file it names, which
    lies beside the project unless its whole path is given.
    """

    def __init__(self, path: Path, known: tuple[Photo, ...]) -> None:
        self._path = path
        self._known = {(photo.tree, photo.file): photo for photo in known}

    def __getitem__(self, key: tuple[str, str]) -> bytes:
        """Return a picture.

        Raises
        ------
        KeyError
            It is not at hand.
        """
        photo = self._known[key]
        with Project.open(self._path, write=False) as project:
            kept = picture(project, photo)
        if kept is not None:
            return kept
        try:
            file = self._path.parent / photo.file
            if file.is_file() and file.stat().st_size <= LARGEST_PHOTO:
                return file.read_bytes()
        except (OSError, ValueError):
            pass
        raise KeyError(key)

    def __iter__(self) -> Iterator[tuple[str, str]]:
        """Go through trees and files, whether their pictures are at hand or not."""
        return iter(self._known)

    def __len__(self) -> int:
        """Return the number of photos recorded."""
        return len(self._known)


def gather(
    path: Path,
    *,
    today: date,
    seasons: int = 5,
    who: str = "",
    rate: float | None = None,
    currency: str = "",
    scheme: str = "",
    scheme_dated: str = "",
) -> HoldingReport:
    """Read a project file into what its reports are made from.

    Parameters
    ----------
    path
        The project file.
    today
        The day of the report: the season that runs or comes next is the first told.
    seasons
        How many seasons of pome and of stone fruit are told.
    who
        Who answers for the report.
    rate, currency, scheme, scheme_dated
        What an hour costs and who pays, as the user says; passed on as they are.

    Raises
    ------
    InputError
        The file cannot be opened, or has no stations.
    """
    path = Path(path)
    with Project.open(path, write=False) as project, project.reading():
        faults = Faults()
        whole = holding(project)
        places = stations(project)
        if not places:
            raise InputError(
                f"{path.name} has no stations yet.", f"Add some: limbwright add {path} stations.csv"
            )
        stored = plans(project)
        skeletons, unbuilt = _skeletons(project, faults)
        base, factors = project_settings(project)
        pictures = photos(project)
        work, answers = visits(project), responses(project)
        local = rules(project, faults)
        looked, _ = look_back_on(project)
    found = needs(
        places,
        year=today.year,
        orchards={one.name: one for one in whole.orchards},
        site=whole.site,
        settings=base,
        chances=known_chances(stored),
        local_rules=local,
        hours_factors=hours_factors(factors),
    )
    return HoldingReport(
        holding=whole,
        stations=places,
        needs=found,
        first_season=_first_seasons(places, whole.site, today, local),
        made_on=today,
        plans=tuple(TreePlan(p.tree, p.kind, p.season, p.document, p.status) for p in stored),
        skeletons=skeletons,
        visits=work,
        responses=answers,
        photos=pictures,
        pictures=Album(path, pictures),
        looked_back=looked,
        seasons=seasons,
        who=who,
        rate=rate,
        currency=currency,
        scheme=scheme,
        scheme_dated=scheme_dated,
        rules=local,
        missing=tuple(dict.fromkeys([*(str(f) for f in faults), *unbuilt])),
    )


def _first_seasons(
    places: Iterable[StationRecord], site: Site, today: date, local: tuple[LocalRule, ...]
) -> dict[str, str]:
    """Return the first season of pome and of stone fruit: that of the species that may be first.

    A rule of the place may hold back one species alone; what is told of the others must not wait
    for it.
    """
    named: dict[str, set[str]] = {"pome": set(), "stone": set()}
    for name in {s.species for s in places if s.species}:
        try:
            kind = species(name)
        except InputError:
            continue
        named[kind.group].add(next_season(kind, site, today, local))
    for group, usual in (("pome", "apple"), ("stone", "plum")):
        if not named[group]:
            named[group].add(next_season(species(usual), site, today, local))
    return {group: min(seasons, key=season_key) for group, seasons in named.items()}


def _skeletons(project: Project, faults: Faults) -> tuple[dict[str, Skeleton], list[str]]:
    """Return the trees that can be built from their surveys, and why others cannot."""
    out: dict[str, Skeleton] = {}
    unbuilt = []
    for item in trees_of(project, faults):
        try:
            skeleton, _ = build(item)
        except LimbwrightError as error:
            unbuilt.append(f"{tree_of(item)}: {error}")
            continue
        out[skeleton.tree] = skeleton
    return out, unbuilt

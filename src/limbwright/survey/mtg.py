"""Read a digitised tree from the open multiscale tree graph text format."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from limbwright.errors import InputError
from limbwright.model import Skeleton
from limbwright.model.skeleton import Floats, Ints
from limbwright.survey.cells import as_number
from limbwright.survey.labels import fork_labels, limbs_of
from limbwright.survey.tables import MAX_FILE_BYTES
from limbwright.trade.species import species as find_species

__all__ = ["read_mtg"]


@dataclass(slots=True)
class _Node:
    """One line of the graph: where it ends, how thick, and the line it grows from."""

    parent: int
    branches: bool
    point_mm: tuple[float, float, float] | None
    diameter: float | None


def read_mtg(
    path: Path, *, species: str, tree: str = "", diameter_unit_mm: float = 0.1
) -> Skeleton:
    """Read the wood of one digitised tree.

    Parameters
    ----------
    path
        Text file (Latin-1) with the columns ``XX, YY, ZZ`` (mm, end of each part) and ``TopDia``.
    species
        Species of the tree.
    tree
        Its name; the file's name where empty.
    diameter_unit_mm
        Unit of ``TopDia`` [mm].

    Returns
    -------
    Skeleton
        One segment between each two digitised points, limbs by thickness at each fork, no leaf.

    Raises
    ------
    InputError
        The file cannot be read, or holds no points that form a tree.

    Notes
    -----
    Format: Godin & Caraglio 1998, J. theor. Biol. 191. A line one column to the right of another
    hangs on it; ``^`` goes on from the last line of its own column; ``+`` starts a branch.
    """
    path, kind = Path(path), find_species(species).key
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            raise InputError(f"{path.name} is larger than {MAX_FILE_BYTES // 2**20} MB.")
        lines = path.read_bytes().decode("latin-1").replace("\r\n", "\n").replace("\r", "\n")
    except OSError as error:
        raise InputError(f"{path.name} cannot be read: {error.strerror}.") from None
    nodes = _nodes(path.name, lines.split("\n"))
    parent, points, diameters = _segments(nodes, diameter_unit_mm)
    if not parent:
        raise InputError(f"{path.name} holds no two points that form a segment.")
    par: Ints = np.array(parent, dtype=np.int64)
    if int((par < 0).sum()) > 1:
        raise InputError(f"{path.name} holds several stems.", "Give one tree a file.")
    ends: Floats = np.array(points)
    wide: Floats = np.array(diameters)
    label = fork_labels(range(par.size), par, wide[:, 0])
    sound = [0] * par.size
    limb, limbs = limbs_of(
        label, par, ends, wide[:, 0], sound, sound, [(None, None, None)] * par.size, ()
    )
    return Skeleton.build(
        tree=tree or path.stem,
        species=kind,
        parent=par,
        start_m=ends[:, 0],
        end_m=ends[:, 1],
        start_diameter_mm=wide[:, 0],
        end_diameter_mm=wide[:, 1],
        limb=limb,
        limbs=limbs,
    )


def _nodes(file: str, lines: list[str]) -> list[_Node]:
    head = next((k for k, line in enumerate(lines) if line.startswith("ENTITY-CODE")), None)
    if head is None:
        raise InputError(f"{file} has no line ENTITY-CODE.", "Give a multiscale tree graph.")
    header = [h.strip() for h in lines[head].split("\t")]
    missing = [c for c in ("XX", "YY", "ZZ", "TopDia") if c not in header]
    if missing:
        raise InputError(f"{file} has no column {', '.join(missing)}.", "Points are in XX, YY, ZZ.")
    at = [header.index(c) for c in ("XX", "YY", "ZZ", "TopDia")]
    first_feature = next(k for k, h in enumerate(header[1:], 1) if h)
    nodes: list[_Node] = []
    last: dict[int, int] = {}
    for line in lines[head + 1 :]:
        cells = [c.strip() for c in line.split("\t")]
        depth = next((k for k, c in enumerate(cells[:first_feature]) if c), None)
        if depth is None or cells[depth].startswith("#"):  # blank, or a remark
            continue
        code = cells[depth]
        values = [as_number(cells[k])[0] if k < len(cells) else None for k in at]
        x, y, z, wide = values
        point = None if x is None or y is None or z is None else (x, y, z)
        above = last.get(depth if code.startswith("^") else depth - 1, -1)
        nodes.append(_Node(above, code.lstrip("^").startswith("+"), point, wide))
        last[depth] = len(nodes) - 1
    return nodes


def _segments(
    nodes: list[_Node], unit_mm: float
) -> tuple[list[int], list[list[list[float]]], list[list[float]]]:
    """Return parent, end points [m] and end diameters [mm] of the segments between points."""
    parent: list[int] = []
    points: list[list[list[float]]] = []
    diameters: list[list[float]] = []
    at: list[tuple[int, list[float] | None, float | None]] = []  # segment, point, width of a node
    for node in nodes:
        segment, start, before = at[node.parent] if node.parent >= 0 else (-1, None, None)
        wide = node.diameter * unit_mm if node.diameter else None
        if node.point_mm is None:
            at.append((segment, start, wide or before))
            continue
        end = [v / 1000.0 for v in node.point_mm]
        if start is None or max(abs(a - b) for a, b in zip(start, end, strict=True)) < 1e-6:
            at.append((segment, end if start is None else start, wide or before))
            continue
        tip = wide or before
        if tip is None:
            at.append((segment, start, before))
            continue
        # A branch starts as thick as it is at its first point, an axis as its parent ended.
        base = tip if node.branches or before is None else max(before, tip)
        parent.append(segment)
        points.append([start, end])
        diameters.append([base, tip])
        at.append((len(parent) - 1, end, tip))
    return parent, points, diameters

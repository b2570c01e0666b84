"""The choice of cuts as plain arrays: pieces of a tree, limits, gains and loads."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats, Ints

__all__ = ["LIMITS", "Problem"]

LIMITS = ("dose", "wound share", "balance", "deadwood", "number of cuts", "keep", "heir")
"""The limits by name, in the order they are told."""

UNLIMITED = ("dose_limit_m2", "wound_limit_cm2", "balance_limit_kg_m")
"""Limits that may be endless: then there is none."""


@dataclass(frozen=True)
class Problem:
    """One tree, one season. Nodes are the pieces between cut points, in preorder; 0 is never cut.

    ``parent``, ``end`` ``(N,)``: the subtree of node i is ``i:end[i]``. A cut at i takes all of
    it. ``leaf_m2`` live leaf of the node's own piece; ``cut_area_cm2`` and ``cut_cost_h`` of the
    cut at its base; ``gone_gain_h`` what is gained [h] when its own piece is gone.
    ``pairs`` ``(P, 2)`` cost ``pair_cost_h`` while both stand. ``heirs[i]``: one of these nodes
    must stay if the cut is made at i (none: no rule). Limits: leaf, wound, cuts, the crown's
    moment about the stem ``balance_kg_m`` ``(N, 2)``, dead wood to be left.
    ``force_n, moment_n_m`` ``(C, N, 3)`` load of each node's own piece, moment about the origin.
    Section s lies in the piece of ``section_node[s]``; nodes ``section_lo[s]:section_hi[s]`` hang
    beyond it, and ``own_force_n, own_moment_n_m`` ``(C, S, 3)`` is the part of its own piece
    beyond it. Its yearly risk costs ``section_cost_h * max_c phi(u)``, phi the greatest of the
    lines ``slope * u + intercept`` ``(S, C, K)``. Sections of one ``section_group`` ``(S,)`` count
    once, at the dearest of them: one failure comes first. None: each counts for itself.
    A section may also split: where ``split_per_n_m`` ``(C, S, 3)`` times the moment is more than
    the utilisation by breaking, it is the utilisation. None: nothing splits.
    """

    parent: Ints
    end: Ints
    leaf_m2: Floats
    cut_area_cm2: Floats
    cut_cost_h: Floats
    gone_gain_h: Floats
    pairs: Ints
    pair_cost_h: Floats
    forced: Bools
    forbidden: Bools
    heirs: tuple[tuple[int, ...], ...]
    dose_limit_m2: float
    wound_limit_cm2: float
    max_cuts: int | None
    balance_kg_m: Floats
    balance_limit_kg_m: float
    deadwood_kg: Floats
    deadwood_min_kg: float
    force_n: Floats
    moment_n_m: Floats
    section_node: Ints
    section_lo: Ints
    section_hi: Ints
    own_force_n: Floats
    own_moment_n_m: Floats
    point_m: Floats
    axis: Floats
    area_m2: Floats
    modulus_m3: Floats
    torsion_modulus_m3: Floats
    bending_strength_mpa: Floats
    shear_strength_mpa: Floats
    slope: Floats
    intercept: Floats
    section_cost_h: Floats
    section_group: Ints | None = None
    split_per_n_m: Floats | None = None

    @property
    def nodes(self) -> int:
        """Number of nodes N, the never-cut one included."""
        return int(self.parent.size)

    @property
    def sections(self) -> int:
        """Number of sections S whose risk is priced."""
        return int(self.section_node.size)

    @cached_property
    def generations(self) -> tuple[Ints, ...]:
        """Nodes by how many pieces carry them, those on node 0 first."""
        depth = np.zeros(self.nodes, dtype=np.int64)
        for i in range(1, self.nodes):
            depth[i] = depth[self.parent[i]] + 1
        return tuple(np.flatnonzero(depth == d) for d in range(1, int(depth.max()) + 1))

    @cached_property
    def gone_sums(self) -> Floats:
        """``(5, N)`` gain, leaf, dead wood and balance of each piece, to be summed when gone."""
        return np.stack([self.gone_gain_h, self.leaf_m2, self.deadwood_kg, *self.balance_kg_m.T])

    @cached_property
    def cut_sums(self) -> Floats:
        """``(2, N)`` work and wound of each cut."""
        return np.stack([self.cut_cost_h, self.cut_area_cm2])

    @cached_property
    def group_of(self) -> Ints:
        """``(S,)`` the group of each section, numbered 0 to G - 1 without gaps."""
        if self.section_group is None:
            return np.arange(self.sections)
        return np.unique(self.section_group, return_inverse=True)[1].astype(np.int64)

    @property
    def groups(self) -> int:
        """Number of groups G of sections whose risk counts once."""
        return int(self.group_of.max()) + 1 if self.sections else 0

    @cached_property
    def group_order(self) -> tuple[Ints, Ints]:
        """Sections ``(S,)`` ordered by group, and where each group begins ``(G,)``."""
        order = np.argsort(self.group_of, kind="stable")
        return order, np.searchsorted(self.group_of[order], np.arange(self.groups))

    @cached_property
    def kept_by_rule(self) -> Bools:
        """``(N,)`` True for nodes that may not go: forbidden ones and all that carry them."""
        out = self.forbidden.copy()
        for i in range(self.nodes - 1, 0, -1):
            if out[i]:
                out[self.parent[i]] = True
        out[0] = True
        return out

    @cached_property
    def heir_table(self) -> tuple[Ints, Ints]:
        """Nodes that have an heir rule ``(R,)`` and their heirs ``(R, H)``, -1 for none."""
        ruled = [i for i, h in enumerate(self.heirs) if h]
        width = max((len(self.heirs[i]) for i in ruled), default=0)
        table = np.full((len(ruled), width), -1, dtype=np.int64)
        for row, i in enumerate(ruled):
            table[row, : len(self.heirs[i])] = self.heirs[i]
        return np.asarray(ruled, dtype=np.int64), table

    def check(self) -> None:
        """Raise where the arrays do not make a problem.

        Raises
        ------
        ValueError
            Shapes, or the preorder, do not fit together.
        PlanError
            A number is none (NaN) or endless; the message names the array and the place.
        """
        n, s, c = self.nodes, self.sections, self.force_n.shape[0]
        if bool((self.parent[1:] >= np.arange(1, n)).any()) or self.parent[0] != -1:
            raise ValueError("nodes are not in preorder")
        shapes = {
            "end": (n,),
            "leaf_m2": (n,),
            "cut_area_cm2": (n,),
            "cut_cost_h": (n,),
            "gone_gain_h": (n,),
            "forced": (n,),
            "forbidden": (n,),
            "balance_kg_m": (n, 2),
            "deadwood_kg": (n,),
            "force_n": (c, n, 3),
            "moment_n_m": (c, n, 3),
            "own_force_n": (c, s, 3),
            "own_moment_n_m": (c, s, 3),
            "point_m": (s, 3),
            "axis": (s, 3),
            "bending_strength_mpa": (c, s),
            "shear_strength_mpa": (c, s),
            "section_cost_h": (s,),
        }
        if self.section_group is not None:
            shapes["section_group"] = (s,)
        if self.split_per_n_m is not None:
            shapes["split_per_n_m"] = (c, s, 3)
        for name, shape in shapes.items():
            if getattr(self, name).shape != shape:
                raise ValueError(f"{name} has shape {getattr(self, name).shape}, not {shape}")
        if len(self.heirs) != n or self.slope.shape[:2] != (s, c):
            raise ValueError("heirs or risk lines do not fit the nodes and sections")
        if bool((self.section_lo <= self.section_node).any()):
            raise ValueError("a section's own piece counts among those beyond it")
        for name, value in vars(self).items():
            known = np.asarray(value) if isinstance(value, (float, np.ndarray)) else np.zeros(1)
            if known.dtype != np.float64:
                continue
            # no limit at all is a limit; a load or a price without end is a mistake
            wrong = np.isnan(known) if name in UNLIMITED else ~np.isfinite(known)
            if bool(wrong.any()):
                place = ", ".join(str(int(k)) for k in np.argwhere(wrong)[0])
                raise PlanError(
                    f"The cuts cannot be weighed: {name} is not a number"
                    + (f" (place {place})." if place else "."),
                    "Look for an empty or impossible measure in the survey of this tree.",
                )

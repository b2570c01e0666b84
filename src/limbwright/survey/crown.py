"""The wood nobody measured: laterals, twigs, leaf and crop, by allometry and with a seed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.model import LimbRecord, State
from limbwright.model.skeleton import Floats, Ints
from limbwright.survey.allometry import (
    base_diameter_mm,
    carried_wood,
    crown_factor,
    section_cm2,
    section_share,
)
from limbwright.survey.axes import LEAST_TAPER, RUNS_OUT, Axis, taken_at_m
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

__all__ = ["Budget", "Laterals", "axis_wood_green_kg", "budgets", "laterals"]

TABLE = parameters("allometry")
FIRST_LATERAL = 0.25
"""Laterals sit beyond this share of a limb: its base is bare (judgement: old limbs are)."""
LEAST_OWN_LEAF = 0.15
"""Share of a limb's leaf that its own shoots carry even where measured laterals take the rest."""
LATERAL_EACH_M, FEWEST_LATERALS, MOST_LATERALS = 0.45, 3, 9
"""How many laterals a limb is given by its length (judgement: they stand for several each)."""
LAST_LATERAL = 0.98
"""And not on its very tip."""
LATERAL_SIZES = (0.6, 1.2)
"""Laterals differ in thickness, before their wood is met, between these shares (judgement)."""
LEAST_LATERAL_MM = 3.0
"""Judgement: the thinnest lateral drawn; thinner wood is twigs."""
LATERAL_TAPER = (1.0, 0.6, 0.15)
"""Thickness of a lateral at its base, middle and tip over its base (judgement)."""
MOST_AS_WOOD = 0.9
"""Judgement: never more of the side wood than this is laterals; the rest is twigs."""
ANGLE_SPREAD_DEG = 10.0
"""How far the angle of a lateral differs from the usual, up or down (judgement)."""
TURNS_UP, TURNS_UP_FURTHER = 0.15, 0.35
"""How much of straight up is in the direction of a lateral, and of its outer half (judgement)."""
STATES = {s.name.lower(): s for s in State}


@dataclass(frozen=True, slots=True)
class Budget:
    """What the rules give one limb beyond its axis: green side wood [kg], leaf [m2], fruit [kg]."""

    side_kg: float
    leaf_m2: float
    fruit_kg: float
    alive: bool


@dataclass(frozen=True, slots=True)
class Laterals:
    """Derived laterals of one limb, two segments each.

    ``node`` ``(m,)`` axis node each springs from; ``point_m`` ``(m, 3, 3)`` base, middle and tip;
    ``diameter_mm`` ``(m, 3)`` there; the shares say how twigs, leaf and fruit are spread over the
    laterals' outer segments, the rest staying on the outer axis.
    """

    node: Ints
    point_m: Floats
    diameter_mm: Floats
    twigs_kg: Floats
    weight: Floats


def axis_wood_green_kg(axis: Axis, species_key: str, beyond_m: float = 0.0) -> float:
    """Return the green mass [kg] of an axis, or of its part beyond a place, as frusta of cones."""
    d = axis.diameter_mm / 1000.0
    volume = np.diff(axis.at_m) * (d[:-1] ** 2 + d[:-1] * d[1:] + d[1:] ** 2) * np.pi / 12.0
    beyond = axis.at_m[:-1] >= beyond_m - 1e-9
    return float(volume[beyond].sum()) * species(species_key).green_density_kg_m3.value


def budgets(axes: list[Axis], species_key: str) -> list[Budget]:
    """Return what each limb carries beyond its axis, so that its total meets the allometry.

    A limb that bears no measured limb carries the fitted wood of its base; one that does, what
    `_forked_green_kg` says. Its axis and its measured limbs take their part, and the remainder,
    never less than the least share of side wood, is derived. A stem that ends in its crown break
    carries nothing of its own.
    """
    n = len(axes)
    below: list[list[int]] = [[] for _ in range(n)]
    for i, axis in enumerate(axes):
        if axis.parent >= 0:
            below[axis.parent].append(i)
    base_mm = [_base_mm(axis) for axis in axes]
    share = [1.0] * n
    alive = [True] * n
    for i, axis in enumerate(axes):
        own = STATES[axis.record.state] is not State.DEAD
        alive[i] = own and (axis.parent < 0 or alive[axis.parent])
        for child in below[i]:
            share[child] = section_share(base_mm[i], [base_mm[c] for c in below[i]])
    total, leaf, fruit = [0.0] * n, [0.0] * n, [0.0] * n
    found = [Budget(0.0, 0.0, 0.0, True)] * n
    least = TABLE["least_side_share"].value
    power = TABLE["base_wood_diameter_exponent"].value / 2.0
    for i in range(n - 1, -1, -1):
        record, axis = axes[i].record, axes[i]
        axis_kg = axis_wood_green_kg(axis, species_key)
        carried = sum(total[c] for c in below[i])
        side = 0.0
        runs_out = axis.diameter_mm[-1] < RUNS_OUT * record.diameter_mm
        if runs_out:
            fitted = share[i] ** power * _fitted_green_kg(species_key, base_mm[i], record.length_m)
            if below[i]:
                places = [axes[c].attached_m for c in below[i]]
                taken = [base_mm[c] for c in below[i]]
                forked = _forked_green_kg(axis, species_key, base_mm[i], places, taken, carried)
                fitted = float(np.sqrt(fitted * forked))
            side = max(fitted - axis_kg - carried, least * axis_kg)
            side *= _side_share(record, alive[i])
        total[i] = axis_kg + carried + side
        leaf[i], fruit[i] = _pipe(record, alive[i], runs_out)
        own_leaf = _own(leaf[i], [leaf[c] for c in below[i]], runs_out)
        own_fruit = _own(fruit[i], [fruit[c] for c in below[i]], runs_out)
        leaf[i] = own_leaf + sum(leaf[c] for c in below[i])
        fruit[i] = own_fruit + sum(fruit[c] for c in below[i])
        found[i] = Budget(side, own_leaf, own_fruit, alive[i])
    # The section rule comes from young trees; on a great stem it would outrun any known crop.
    crop = sum(one.fruit_kg for one in found)
    most = TABLE[f"crop_{species_key}"].value
    kept = min(1.0, most / crop) if crop > 0.0 else 1.0
    return [Budget(b.side_kg, b.leaf_m2, kept * b.fruit_kg, b.alive) for b in found]


def _fitted_green_kg(species_key: str, base_mm: float, length_m: float) -> float:
    return carried_wood(species_key, base_mm, length_m, taken_at_m=0.0).green_kg


def _base_mm(axis: Axis) -> float:
    record = axis.record
    return base_diameter_mm(record.diameter_mm, record.length_m, taken_at_m(record))


def _forked_green_kg(
    axis: Axis,
    species_key: str,
    base_mm: float,
    places_m: list[float],
    taken_mm: list[float],
    carried_kg: float,
) -> float:
    """Return the green wood [kg] of a limb as the sum of its parts.

    Its axis as far as the last measured limb, what the measured limbs carry, and beyond them what
    a limb carries that is as thick there as their sections leave it. The fit from the limb's own
    base looks at the same wood from below; the geometric mean of the two is nearer than either,
    since errors of the base diameter and of the limbs' are not the same errors.
    """
    last = min(max(places_m), float(axis.at_m[-1]))
    length = axis.record.length_m
    outer = axis_wood_green_kg(axis, species_key, last)
    inner = axis_wood_green_kg(axis, species_key) - outer
    if length - last < 1e-6:
        return inner + outer + carried_kg
    here = base_mm * (1.0 - last / length)
    surplus = TABLE["section_surplus"].value
    left = np.sqrt(max(surplus * base_mm**2 - sum(d**2 for d in taken_mm), 0.0))
    leader = float(max(min(here, left), LEAST_TAPER * here, TABLE["tip_diameter"].value))
    beyond = _fitted_green_kg(species_key, leader, length - last)
    return inner + carried_kg + max(beyond, outer)


def _side_share(record: LimbRecord, alive: bool) -> float:
    if not alive:
        return 0.0  # twigs of dead limbs are the first to fall
    broken = STATES[record.state] is State.BROKEN
    share = TABLE["broken_side_share"].value if broken else 1.0
    factor = crown_factor(record.crown)
    # half of the side wood goes with the crown mark (judgement): bare limbs keep old laterals
    return share * (0.5 + 0.5 * factor)


def _pipe(record: LimbRecord, alive: bool, runs_out: bool) -> tuple[float, float]:
    if not alive or not runs_out:
        return 0.0, 0.0
    section = section_cm2(record.diameter_mm) * crown_factor(record.crown)
    if STATES[record.state] is State.BROKEN:
        section *= TABLE["broken_side_share"].value
    return section * TABLE["leaf_area_per_section"].value, section * TABLE["crop_per_section"].value


def _own(total: float, parts: list[float], runs_out: bool) -> float:
    if not runs_out:
        return 0.0
    return max(total - sum(parts), LEAST_OWN_LEAF * total)


def laterals(axis: Axis, budget: Budget, species_key: str, rng: np.random.Generator) -> Laterals:
    """Return the derived laterals of one limb.

    They spring from its outer three quarters, turned about the axis by the golden angle and bent
    upwards; their wood is the part of the side wood that is not twigs, shared by diameter.
    """
    length = axis.record.length_m
    share = axis.at_m / length
    free = np.flatnonzero((share >= FIRST_LATERAL) & (share <= LAST_LATERAL))
    count = int(np.clip(round(length / LATERAL_EACH_M), FEWEST_LATERALS, MOST_LATERALS))
    count = min(count, free.size) if budget.side_kg > 0.0 else 0
    if count == 0:
        return _none()
    node = free[np.unique(np.linspace(0, free.size - 1, count).round().astype(np.int64))]
    count = node.size
    here_mm = axis.diameter_mm[node]
    wanted = here_mm * rng.uniform(*LATERAL_SIZES, count)
    density = species(species_key).green_density_kg_m3.value
    factor = TABLE["lateral_length_factor"].value
    power = TABLE["lateral_length_exponent"].value
    target = (1.0 - TABLE["twig_share_of_side"].value) * budget.side_kg
    # A lateral's wood goes with d^(2 + power), so one scale meets the target; then the cap.
    unit = density * np.pi / 12.0 * 1e-6 * factor * (wanted / 10.0) ** power * wanted**2
    scale = (target / max(float(unit.sum()), 1e-12)) ** (1.0 / (2.0 + power))
    base = np.minimum(wanted * scale, TABLE["lateral_widest"].value * here_mm)
    base = np.maximum(base, LEAST_LATERAL_MM)
    long = factor * (base / 10.0) ** power
    points = _shape(axis, node, long, rng)
    diameter = base[:, None] * np.array(LATERAL_TAPER)
    wood = (
        density
        * np.pi
        / 12.0
        * 1e-6
        * (long / 2.0)[:, None]
        * (diameter[:, :-1] ** 2 + diameter[:, :-1] * diameter[:, 1:] + diameter[:, 1:] ** 2)
    )
    over = float(wood.sum()) / max(budget.side_kg, 1e-9)
    if over > MOST_AS_WOOD:
        diameter *= np.sqrt(MOST_AS_WOOD / over)
        wood *= MOST_AS_WOOD / over
    weight = base**2 / float((base**2).sum())
    twigs = (budget.side_kg - float(wood.sum())) * weight
    return Laterals(node, points, diameter, twigs, weight)


def _none() -> Laterals:
    empty = np.zeros(0)
    return Laterals(
        np.zeros(0, dtype=np.int64), np.zeros((0, 3, 3)), np.zeros((0, 3)), empty, empty
    )


def _shape(axis: Axis, node: Ints, long: Floats, rng: np.random.Generator) -> Floats:
    before, after = np.maximum(node - 1, 0), np.minimum(node + 1, axis.at_m.size - 1)
    along = axis.point_m[after] - axis.point_m[before]
    along /= np.linalg.norm(along, axis=1)[:, None]
    up = np.array([0.0, 0.0, 1.0])
    side = np.cross(along, np.where(np.abs(along[:, 2:]) > 0.95, [1.0, 0.0, 0.0], up))
    side /= np.linalg.norm(side, axis=1)[:, None]
    over = np.cross(side, along)
    turn = np.radians(TABLE["golden_angle"].value) * np.arange(node.size) + rng.uniform(
        0, 2 * np.pi
    )
    out = np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * over
    spread = rng.uniform(-ANGLE_SPREAD_DEG, ANGLE_SPREAD_DEG, node.size)
    angle = np.radians(TABLE["lateral_angle"].value + spread)[:, None]
    first = np.cos(angle) * along + np.sin(angle) * out + TURNS_UP * up
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = first + TURNS_UP_FURTHER * up
    second /= np.linalg.norm(second, axis=1)[:, None]
    base = axis.point_m[node]
    middle = base + first * (long / 2.0)[:, None]
    return np.stack([base, middle, middle + second * (long / 2.0)[:, None]], axis=1)

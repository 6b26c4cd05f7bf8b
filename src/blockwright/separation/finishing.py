"""The last touches to a plan of overprints: less edge to carve, no solid blocks in a row, plain recipes."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import delta_e00, reflectance_to_lab
from blockwright.separation.asked import WITHIN, Asked, Plan
from blockwright.separation.coats import Coat, Paintbox
from blockwright.separation.fewest import choices, fewest
from blockwright.separation.pool import seen_over
from blockwright.separation.stacks import every_stack
from blockwright.separation.thinning import Bench

Values = NDArray[np.float64]

SOLID_SHARE = 0.4
"""A block that prints this part of the image or more is a solid one [CP]: the sheet gets wet all over."""

_LEAST_K = 0.002
"""A pigment that absorbs less than this in every band does nothing that is seen, and is left out."""

_EFFORT = 3.0
"""Solver's time for the shortest edge, in its own seconds."""

_AS_NEAR = 1.25
"""A plan that was chosen from the curve may miss the design by so many times more for a shorter edge."""

_ROOM = 0.97
"""Stacks are chosen for their edge within this part of the limits, so that the amounts can settle."""


def finished(
    plan: Plan,
    asked: Asked,
    box: Paintbox | None,
    *,
    edges_mm: Mapping[tuple[int, int], float],
    stacks_stay: bool = False,
    as_told: bool = False,
) -> Plan:
    """The plan with the least carved edge that its inks allow within the limits, and without idle pigments.

    ``edges_mm`` is the common edge of each pair of colours, -1 the paper. A plan beyond its limits keeps its
    stacks, as it is the nearest that there is; ``stacks_stay`` keeps them in any case. ``as_told`` keeps its
    number of blocks and about its difference from the design: it was chosen for these.
    """
    bench = Bench(asked, box or Paintbox((), 0.0))
    if not stacks_stay and bench.strain(plan) <= WITHIN:
        stacks = every_stack(plan.coats, asked.paper, asked.most_layers)
        most = min(1.0, _AS_NEAR * bench.strain(plan)) if as_told else 1.0
        allowed = choices(asked, stacks, within=_ROOM * most * asked.worst_delta_e00)
        solved = fewest(
            asked,
            stacks,
            len(plan.coats),
            allowed,
            aim="edges",
            effort=_EFFORT,
            edges_mm=edges_mm,
            hint=plan.stacks,
        )
        if solved.stacks is not None:
            shorter = bench.fitted(plan.coats, solved.stacks)
            longer = carved_mm(plan, edges_mm) - carved_mm(shorter, edges_mm)
            as_few = len(shorter.coats) <= len(plan.coats)
            as_many = shorter.blocks == plan.blocks or not as_told
            if bench.strain(shorter) <= most and longer > 0.0 and as_few and as_many:
                plan = shorter
    return plan if box is None else _plain(plan, bench, box)


def carved_mm(plan: Plan, edges_mm: Mapping[tuple[int, int], float]) -> float:
    """The edge that is carved on all blocks of a plan."""
    total = 0.0
    for coat in range(len(plan.coats)):
        for (one, other), length_mm in edges_mm.items():
            sides = [colour >= 0 and coat in plan.stacks[colour] for colour in (one, other)]
            total += length_mm if sides[0] != sides[1] else 0.0
    return total


def _plain(plan: Plan, bench: Bench, box: Paintbox) -> Plan:
    """The plan without pigments that do nothing, in the fewest passes that hold each film."""
    coats = []
    for coat in plan.coats:
        film_k = box.film(coat.passes)[0]
        strong = [
            (part, share)
            for part, share in zip(coat.parts, coat.shares, strict=True)
            if share * float(film_k[part].max()) > _LEAST_K
        ]
        plainer = coat
        if strong and len(strong) < len(coat.parts):
            plainer = box.coat([part for part, _ in strong], [share for _, share in strong], coat.passes)
        coats.append(box.fewest_passes(plainer))
    fitted = bench.fitted(coats, plan.stacks)
    return fitted if bench.strain(fitted) <= max(1.0, 1.02 * bench.strain(plan)) else plan


def printed_in(plan: Plan, asked: Asked, order: Sequence[int]) -> Plan:
    """The plan with its coats in another order: what each colour looks like then."""
    place = {coat: k for k, coat in enumerate(order)}
    coats = tuple(plan.coats[k] for k in order)
    stacks = tuple(tuple(sorted(place[coat] for coat in stack)) for stack in plan.stacks)
    lab = np.array([_seen(asked, coats, stack) for stack in stacks]).reshape(-1, 3)
    return replace(plan, coats=coats, stacks=stacks, lab=lab, delta_e00=delta_e00(lab, asked.targets))


def _seen(asked: Asked, coats: Sequence[Coat], stack: Sequence[int]) -> Values:
    seen = asked.paper
    for coat in stack:
        seen = seen_over(coats[coat], seen)
    return reflectance_to_lab(seen)


def solids_in_a_row(plan: Plan, share: Sequence[float]) -> list[int]:
    """The places of solid coats that follow a solid one; ``share`` is each colour's part of the image."""
    solid = _solid(plan, share)
    return [k for k in range(1, len(solid)) if solid[k] and solid[k - 1]]


def _solid(plan: Plan, share: Sequence[float]) -> list[bool]:
    return [sum(share[colour] for colour in pattern) >= SOLID_SHARE for pattern in plan.patterns]


def apart_if_can_be(plan: Plan, asked: Asked, share: Sequence[float]) -> Plan:
    """The plan with no two solid blocks in a row, where a change of order keeps it as near the design.

    Neighbours change places, one pair after the other, the first of the row that helps.
    """
    strain = asked.strain(plan.delta_e00)
    allowed = max(1.0, strain) + 1e-9
    while rows := solids_in_a_row(plan, share):
        better = None
        for k in rows:
            for first in (k - 2, k):
                order = list(range(len(plan.coats)))
                if first < 0 or first + 1 >= len(order):
                    continue
                order[first], order[first + 1] = order[first + 1], order[first]
                tried = printed_in(plan, asked, order)
                if (
                    len(solids_in_a_row(tried, share)) < len(rows)
                    and asked.strain(tried.delta_e00) <= allowed
                ):
                    better = better or tried
        if better is None:
            return plan
        plan = better
    return plan

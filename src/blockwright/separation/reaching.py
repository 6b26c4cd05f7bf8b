"""How near the inks at hand can come to each colour by itself, whatever the other colours need.

A colour that is nearer than the limit on the bare paper is within reach. For any other, coats are gathered
that could help it, every stack of them is looked at, and the amounts of the nearest are fitted to it alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import delta_e00, reflectance_to_lab
from blockwright.separation.asked import Asked
from blockwright.separation.coats import Coat, Paintbox, light_to_dark
from blockwright.separation.pool import coat_for, distinct, most_useful, seen_over
from blockwright.separation.stacks import every_stack, near_stacks
from blockwright.separation.thinning import Bench

Values = NDArray[np.float64]

_FAR_DELTA_E00 = 60.0
"""Coats are told apart by how near they bring a colour up to this difference (CIEDE2000)."""

_FARTHEST_DELTA_E00 = 1000.0
"""Said of a colour that nothing prints; no two colours differ by so much (CIEDE2000)."""

_FITTED = 8
"""Stacks, the nearest, whose amounts are fitted to the one colour."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How near a colour can be brought (CIEDE2000), and of how many inks every stack was looked at.

    ``tried`` is 0 where a single film was near enough; else ``coats`` are those that came nearest.
    """

    delta_e00: float
    tried: int
    coats: tuple[Coat, ...] = field(default=(), compare=False)


def reach_of(
    asked: Asked, box: Paintbox | None, start: Sequence[Coat], taken: Sequence[Coat]
) -> tuple[Reach, ...]:
    """The reach of every colour. ``start`` are coats that were mixed for them, ``taken`` those of the shelf.

    What is told is the nearest that was found; of the inks tried, as they are mixed, no stack comes nearer.
    """
    return tuple(reach_of_one(asked, box, colour, start, taken) for colour in range(len(asked.targets)))


def reach_of_one(
    asked: Asked, box: Paintbox | None, colour: int, start: Sequence[Coat], taken: Sequence[Coat]
) -> Reach:
    """The reach of one colour."""
    alone = replace(
        asked,
        targets=asked.targets[colour : colour + 1],
        area=np.ones(1),
        limit_delta_e00=_FAR_DELTA_E00,
        worst_delta_e00=_FAR_DELTA_E00,
        lies=(),
        only=tuple(replace(each, colour=0) for each in asked.only if each.colour == colour),
        reach=None,
    )
    own = alone.only_of(0)
    start, taken = ([c for c in coats if own is None or own.allows(c)] for coats in (start, taken))
    at_once = min((_apart(alone, coat) for coat in start), default=np.inf)
    enough = min(asked.limit_delta_e00, asked.worst_delta_e00)
    return Reach(at_once, 0) if at_once <= enough else _searched(alone, box, start, taken)


def _apart(alone: Asked, *coats: Coat) -> float:
    seen = alone.paper
    for coat in coats:
        seen = seen_over(coat, seen)
    return float(delta_e00(reflectance_to_lab(seen), alone.targets[0]))


def _searched(alone: Asked, box: Paintbox | None, start: Sequence[Coat], taken: Sequence[Coat]) -> Reach:
    """The nearest stack of all coats that could help one colour, its amounts then fitted."""
    grounds = [alone.paper, *(seen_over(coat, alone.paper) for coat in start)]
    mixed = [coat_for(alone, box, 0, ground) for ground in grounds] if box is not None else []
    given = distinct([*start, *(coat for coat in mixed if coat is not None), *taken], alone)
    pool = most_useful(alone, [], given, grounds)
    stacks = every_stack(pool, alone.paper, alone.most_layers)
    places, apart = near_stacks(stacks, alone.targets[0], np.inf, of=alone.may_print(0, stacks))
    if not len(places):
        return Reach(_FARTHEST_DELTA_E00, len(pool))
    if box is None:
        nearest = int(places[np.argmin(apart)])
        own = [pool[member] for member in stacks.members[nearest].tolist() if member >= 0]
        return Reach(float(apart.min()), len(pool), tuple(own))
    bench = Bench(alone, box)
    best: Reach | None = None
    for k in np.lexsort((places, np.round(apart, 6)))[:_FITTED].tolist():
        stack = tuple(int(member) for member in stacks.members[places[k]] if member >= 0)
        # What was fitted may be lighter or darker than before, and is printed in its place then.
        fitted = light_to_dark(bench.fitted(pool, [stack]).coats, alone.paper)
        for coats in ([pool[member] for member in stack], fitted):
            off = _apart(alone, *coats)
            if best is None or off < best.delta_e00 - 1e-6:
                best = Reach(off, len(pool), tuple(coats))
    assert best is not None
    return best

"""Stacks: what coats look like printed over one another, every choice of them that is thin enough."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.colour import delta_e00
from blockwright.colour.layers import layer_body
from blockwright.colour.slopes import lab_of
from blockwright.colour.spectra import weights
from blockwright.separation.coats import Coat

Values = NDArray[np.float64]

MOST_STACKS = 60_000
"""Stacks that are looked at in one go; more coats than give so many are thinned out before."""

_STEEPEST_L = 1.75
"""The weight of L* in CIEDE2000 is at most 1 + 0.015 * 50^2 / sqrt(20 + 50^2), so that colours within d lie
within 1.75 d in L* (Sharma et al. 2005, equation 19)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stacks:
    """Stacks of coats that are in printing order.

    ``members``, shape (stacks, most layers), are places among the coats, the lowest first, -1 for none; the
    first stack is the bare paper. ``lab``, shape (stacks, 3), is what each looks like.
    """

    coats: tuple[Coat, ...]
    members: NDArray[np.int16]
    lab: Values


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _walk(
    body: Any, through: Any, layers: Any, paper: Any, light: Any, most: int, labs: Any, members: Any
) -> int:
    """Every stack of at most so many layers, depth first, into ``labs`` and ``members``; how many."""
    coats, bands = body.shape
    depth_most = members.shape[1]
    seen = np.empty((depth_most + 1, bands))
    chosen = np.full(depth_most + 1, -1, np.int64)
    used = np.zeros(depth_most + 1, np.int64)
    white, xyz, slope = np.zeros(3), np.empty(3), np.empty(3)
    for axis in range(3):
        for band in range(bands):
            white[axis] += light[axis, band]
    seen[0] = paper
    count, depth, following = 0, 0, 0
    arrived = True
    while True:
        if arrived:
            for axis in range(3):
                total = 0.0
                for band in range(bands):
                    total += seen[depth, band] * light[axis, band]
                xyz[axis] = total
            lab_of(xyz, white, labs[count], slope)
            for place in range(depth_most):
                members[count, place] = chosen[place] if place < depth else -1
            count += 1
            arrived = False
        while following < coats and used[depth] + layers[following] > most:
            following += 1
        if depth < depth_most and following < coats:
            for band in range(bands):
                beneath, own, passed = seen[depth, band], body[following, band], through[following, band]
                seen[depth + 1, band] = own + passed * passed * beneath / (1.0 - own * beneath)
            chosen[depth] = following
            used[depth + 1] = used[depth] + layers[following]
            depth += 1
            following += 1
            arrived = True
        elif depth == 0:
            return count
        else:
            depth -= 1
            following = chosen[depth] + 1


def count_stacks(coats: int, most_layers: int) -> int:
    """How many stacks so many coats give, each a single layer.

    >>> count_stacks(4, 2)
    11
    """
    return sum(comb(coats, layers) for layers in range(most_layers + 1))


def every_stack(coats: Sequence[Coat], paper: Values, most_layers: int) -> Stacks:
    """Every stack of coats, given in printing order, of at most ``most_layers`` passes over one spot."""
    room = count_stacks(len(coats), most_layers)
    labs, members = np.empty((room, 3)), np.empty((room, most_layers), dtype=np.int16)
    if not coats:
        coats_k = coats_s = np.empty((0, len(paper)))
    else:
        coats_k, coats_s = np.array([c.k for c in coats]), np.array([c.s for c in coats])
    body, through = layer_body(coats_k, coats_s, 1.0)
    layers = np.array([c.passes for c in coats], dtype=np.int64)
    light = np.ascontiguousarray(weights("D65").T)
    count = _walk(body, through, layers, np.array(paper), light, most_layers, labs, members)
    return Stacks(tuple(coats), members[:count], labs[:count])


def near_stacks(
    stacks: Stacks, target: Values, within_delta_e00: float, *, of: NDArray[np.bool_] | None = None
) -> tuple[NDArray[np.int64], Values]:
    """The stacks that come within a difference of a colour, and how near (CIEDE2000); none is left out.

    With ``of``, (stacks,), only those that it marks. The bare paper is never one of them.
    """
    band = np.abs(stacks.lab[:, 0] - target[0]) <= _STEEPEST_L * within_delta_e00 + 1e-9
    band[0] = False
    if of is not None:
        band &= of
    places = np.flatnonzero(band)
    apart = delta_e00(stacks.lab[places], target)
    near = apart <= within_delta_e00
    return places[near], apart[near]

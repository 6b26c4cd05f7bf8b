"""Fewer faces by changing places: a search for what the exact one, cut short, has not come to.

All vertices are dealt out to a given number of faces, conflicts and all; then always the one change of place
that leaves the fewest conflicts is made, and not taken back for a while (Hertz & de Werra, "Using tabu search
techniques for graph coloring", Computing 39, 1987). It proves nothing.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from blockwright.blocks.colouring import Conflicts, Faces

MOVES = 15_000
"""Changes of place before a number of faces is given up: less than a second."""

KEPT_OUT = 0.6
"""For so many changes, as a part of the vertices in conflict, none goes back, and a few more [pub: Galinier &
Hao 1999]."""

_STEP, _MODULUS = 48271, 2**31 - 1
"""A multiplicative sequence breaks ties: the same on every machine [pub: Park & Miller 1988]."""

Face = tuple[int, int]


def fewer_faces(found: Faces, conflicts: Conflicts, *, moves: int = MOVES) -> Faces:
    """Spare faces, one at a time, where more were found than are proven to be needed.

    >>> free = Conflicts(straight=(0, 0), turned=(0, 0))
    >>> fewer_faces(Faces(((1, 0), (2, 0)), at_least=1), free)
    Faces(faces=((3, 0),), at_least=1)
    """
    while len(found.faces) > found.at_least:
        fewer = share_out(conflicts, len(found.faces) - 1, moves=moves)
        if fewer is None:
            break
        found = Faces(fewer, found.at_least)
    return found


def share_out(conflicts: Conflicts, faces: int, *, moves: int = MOVES) -> tuple[Face, ...] | None:
    """Share the vertices out over so many faces without a conflict, or give up and return None.

    >>> share_out(Conflicts(straight=(0b010, 0b101, 0b010), turned=(0, 0, 0)), 2)
    ((5, 0), (2, 0))
    >>> share_out(Conflicts(straight=(0b10, 0b01), turned=(0b10, 0b01), mixable=0b11), 1) is None
    True
    """
    against = _pairs(conflicts)
    count = len(conflicts.straight)
    seed = 1
    at = np.column_stack((np.arange(count) % faces, np.zeros(count, dtype=np.int64)))
    # What each vertex would meet on each face, straight and turned.
    meets = np.zeros((count, faces, 2), dtype=np.int64)
    for vertex, (face, turned) in enumerate(at.tolist()):
        meets[:, face, :] += against[:, :, vertex, turned]
    free_again = np.zeros((count, faces, 2), dtype=np.int64)
    everyone = np.arange(count)
    least = int(meets[everyone, at[:, 0], at[:, 1]].sum())
    for move in range(moves):
        now = meets[everyone, at[:, 0], at[:, 1]]
        wrong = int(now.sum())
        if wrong == 0:
            return _faces(at, faces)
        least = min(least, wrong)
        change = 2 * (meets - now[:, None, None])
        never = change.max() + 2 * wrong + 1
        change[now == 0] = never
        change[everyone, at[:, 0], at[:, 1]] = never
        change[(free_again > move) & (wrong + change >= least)] = never
        ties = np.flatnonzero(change.ravel() == change.min())
        seed = seed * _STEP % _MODULUS
        vertex, face, turned = np.unravel_index(ties[seed % len(ties)], change.shape)
        old_face, old_turned = at[vertex]
        meets[:, old_face, :] -= against[:, :, vertex, old_turned]
        meets[:, face, :] += against[:, :, vertex, turned]
        free_again[vertex, old_face, old_turned] = move + seed % 10 + int(KEPT_OUT * np.count_nonzero(now))
        at[vertex] = face, turned
    return None


def _pairs(conflicts: Conflicts) -> NDArray[Any]:
    """1 where a vertex, straight or turned, conflicts with another that stands so: (vertex, 2, other, 2)."""
    count = len(conflicts.straight)
    bits = np.arange(count)

    def matrix(masks: tuple[int, ...]) -> NDArray[Any]:
        return np.array([[mask >> int(bit) & 1 for bit in bits] for mask in masks], dtype=np.int64)

    alike, against = matrix(conflicts.straight), matrix(conflicts.turned)
    mixable = np.array([conflicts.mixable >> int(bit) & 1 for bit in bits], dtype=np.int64)
    against = np.maximum(against, 1 - np.outer(mixable, mixable))
    np.fill_diagonal(against, 0)
    pairs = np.empty((count, 2, count, 2), dtype=np.int64)
    for one in (0, 1):
        for other in (0, 1):
            pairs[:, one, :, other] = alike if one == other else against
    return pairs


def _faces(at: NDArray[Any], faces: int) -> tuple[Face, ...]:
    found = [[0, 0] for _ in range(faces)]
    for vertex, (face, turned) in enumerate(at.tolist()):
        found[face][turned] |= 1 << vertex
    return tuple((straight, turned) for straight, turned in found if straight or turned)

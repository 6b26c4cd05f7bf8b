"""Tables of colours over the share of gradated films, and how a pixel reads its own between their nodes.

A stack with one gradated film has a row for every 1/64 of the full film; with two or three films there are
fewer nodes along each, so that a table stays small. Between the nodes light is taken to run straight, which
is off by less than one step of an 8-bit picture for the inks there are.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.colour import layer_reflectance

MOST_RUNNING = 3
"""Gradated films that lie over one another in a table; one more lies evenly, as its mean."""

_NODES = (1, 65, 33, 17)
"""Nodes along each film of a table with so many."""

_FULL = 65535.0
"""What the share of a film is counted in, for every pixel."""


def table_rows(films: int) -> int:
    """Rows of the table of a stack with so many gradated films.

    >>> [table_rows(films) for films in range(4)]
    [1, 65, 1089, 4913]
    """
    return int(_NODES[films] ** films)


def laid_over(
    table: NDArray[np.float64],
    films: int,
    k: NDArray[np.float64],
    s: NDArray[np.float64],
    thickness: float,
    *,
    graded: bool,
) -> NDArray[np.float64]:
    """The table (rows, 36) of a stack with an ink over it; ``films`` is how many gradated ones it has so far.

    A ``graded`` ink adds a film: its own share runs fastest along the rows.
    """
    if not graded:
        return layer_reflectance(k, s, thickness, table)
    nodes, were = _NODES[films + 1], _NODES[films]
    bands = table.shape[1]
    fewer = table.reshape((were,) * films + (bands,))
    if films:
        every = (were - 1) // (nodes - 1)
        fewer = fewer[(slice(None, None, every),) * films]
    shares = np.linspace(0.0, 1.0, nodes)
    over = layer_reflectance(k, s, thickness * shares[:, None], fewer[..., None, :])
    return np.ascontiguousarray(over.reshape(-1, bands))


@njit(cache=True, nogil=True)
def read_table(linear, first, runs, stack, films, y, x, shown):  # type: ignore[no-untyped-def]
    """The light of one pixel, into ``shown`` (3,), from the table of a ``stack``.

    ``first`` (n,) is the row of ``linear`` where each table begins, ``runs`` (n, 3) tells which ``films``
    (m, height, width), uint16, it runs over; -1 ends them.
    """
    row, one = first[stack], runs[stack, 0]
    if one < 0:
        for band in range(3):
            shown[band] = linear[row, band]
        return
    if runs[stack, 1] < 0:
        place = films[one, y, x] * np.float32(64 / _FULL)
        node = min(int(place), 63)
        beyond = place - node
        for band in range(3):
            near = linear[row + node, band]
            shown[band] = near + beyond * (linear[row + node + 1, band] - near)
        return
    count = 2 if runs[stack, 2] < 0 else 3
    nodes = 33 if count == 2 else 17
    for band in range(3):
        shown[band] = 0.0
    for corner in range(1 << count):
        at, weight = 0, np.float32(1.0)
        for film in range(count):
            place = films[runs[stack, film], y, x] * np.float32((nodes - 1) / _FULL)
            node = min(int(place), nodes - 2)
            beyond = place - node
            if corner >> film & 1:
                at = at * nodes + node + 1
                weight *= beyond
            else:
                at = at * nodes + node
                weight *= np.float32(1.0) - beyond
        if weight > 0.0:
            for band in range(3):
                shown[band] += weight * linear[row + at, band]

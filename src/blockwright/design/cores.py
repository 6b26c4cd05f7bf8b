"""Compiled work on bands of rows, on all cores at once."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from os import cpu_count

_MOST = 8
"""Bands at most: more cores than this wait for memory."""


def in_bands(work: Callable[[int, int], object], height: int, *, whole: int = 1) -> None:
    """Call ``work(first, end)`` on bands of rows that are ``height`` together, on all cores.

    The work releases the interpreter's lock, and no band writes what another one reads or writes. Bands begin
    at multiples of ``whole`` rows.

    >>> seen = [0] * 10
    >>> def count(first, end):
    ...     for row in range(first, end):
    ...         seen[row] += 1
    >>> in_bands(count, 10, whole=4)
    >>> seen == [1] * 10
    True
    """
    steps = -(-height // whole)
    bands = max(1, min(cpu_count() or 1, _MOST, steps))
    edges = [min(steps * k // bands * whole, height) for k in range(bands + 1)]
    with ThreadPoolExecutor(bands) as pool:
        list(pool.map(work, edges[:-1], edges[1:]))

"""Outlines spelled as text: decimals to a thousandth, without idle zeros, as drawing files want them.

Spelling numbers one by one is most of the time that a drawing of a face takes; this does all at once.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

_NUMBER_BYTES = 24
"""Room for one number: a sign, all digits of a 64-bit integer, a point."""

_MOST = 1.0e12
"""Numbers are smaller than this; beyond it a double no longer holds thousandths exactly."""


@dataclass(frozen=True, slots=True)
class Spelling:
    """What stands before and after an outline's first point and every next one, and after a closed one."""

    before_first: str
    after_first: str
    before_next: str
    after_next: str
    closing: str


PDF = Spelling("", " m\n", "", " l\n", "h\n")
"""Path operators (ISO 32000-1, 8.5.2)."""

SVG = Spelling("M", "", " L", "", " Z\n")
"""Path data (SVG 1.1, 8.3)."""


def spell(
    points: NDArray[np.float64], starts: NDArray[np.int64], closed: NDArray[np.bool_], spelling: Spelling
) -> str:
    """Spell outlines: ``points`` (n, 2), where each outline begins (and n at the end), and which are closed.

    The last point of a closed outline, which repeats the first, is not spelled. Outlines of fewer than two
    points are left out. Raises ValueError when a number is not finite or is 1e12 or more.

    >>> ring = np.array([(0.0, 0.0), (12.5, -0.0001), (3.14159, 2.0), (0.0, 0.0)])
    >>> spell(ring, np.array([0, 4]), np.array([True]), SVG)
    'M0 0 L12.5 0 L3.142 2 Z\\n'
    """
    if not np.all(np.abs(points) < _MOST):
        raise ValueError("a drawing's numbers are finite and smaller than 1e12")
    words = [
        np.frombuffer(word.encode("ascii"), dtype=np.uint8)
        for word in (
            spelling.before_first,
            spelling.after_first,
            spelling.before_next,
            spelling.after_next,
            spelling.closing,
        )
    ]
    most = 2 * _NUMBER_BYTES + 1 + sum(len(word) for word in words)
    out = np.empty(len(points) * most + 1, dtype=np.uint8)
    length = _spell(
        np.ascontiguousarray(points, dtype=np.float64),
        np.ascontiguousarray(starts, dtype=np.int64),
        np.ascontiguousarray(closed, dtype=np.bool_),
        *words,
        out,
    )
    return out[:length].tobytes().decode("ascii")


@njit(cache=True, nogil=True)
def _put(out, at, word):  # type: ignore[no-untyped-def]
    for k in range(len(word)):
        out[at + k] = word[k]
    return at + len(word)


@njit(cache=True, nogil=True)
def _put_number(out, at, value):  # type: ignore[no-untyped-def]
    """Write a number, rounded to thousandths; returns where it ends."""
    thousandths = np.int64(np.rint(value * 1000.0))
    if thousandths < 0:
        out[at] = 45
        at += 1
        thousandths = -thousandths
    whole, rest = thousandths // 1000, thousandths % 1000
    digits = 1
    bound = np.int64(10)
    while whole >= bound:
        digits += 1
        bound *= 10
    for k in range(digits):
        out[at + digits - 1 - k] = 48 + whole % 10
        whole //= 10
    at += digits
    if rest:
        out[at] = 46
        at += 1
        part = np.int64(100)
        while rest:
            out[at] = 48 + rest // part
            rest %= part
            part //= 10
            at += 1
    return at


@njit(cache=True, nogil=True)
def _spell(points, starts, closed, before_first, after_first, before_next, after_next, closing, out):  # type: ignore[no-untyped-def]
    at = 0
    for k in range(len(closed)):
        first = starts[k]
        end = starts[k + 1] - 1 if closed[k] else starts[k + 1]
        if end - first < 2:
            continue
        for i in range(first, end):
            at = _put(out, at, before_first if i == first else before_next)
            at = _put_number(out, at, points[i, 0])
            out[at] = 32
            at = _put_number(out, at + 1, points[i, 1])
            at = _put(out, at, after_first if i == first else after_next)
        if closed[k]:
            at = _put(out, at, closing)
    return at


__all__ = ["PDF", "SVG", "Spelling", "spell"]

"""Outlines spelled as text: decimals to a thousandth, without idle zeros, as drawing files want them.

Spelling numbers one by one is most of the time that a drawing of a face takes; this does all at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_MOST = 1.0e12
"""Numbers are smaller than this; beyond it a double no longer holds thousandths exactly."""

_MINUS, _POINT, _ZERO = b"-.0"

_DIGITS = np.array([[_ZERO + k // part % 10 for part in (100, 10, 1)] for k in range(1000)], dtype=np.uint8)
"""The three digits of every number below 1000."""

_IDLE = np.array([[k % (10 * part) == 0 for part in (100, 10, 1)] for k in range(1000)], dtype=np.bool_)
"""Which of them are idle behind a point: those that are 0 with all that follow."""


@dataclass(frozen=True, slots=True)
class Spelling:
    """What stands before and after an outline's first point and every next one, after a closed one, and
    between the two numbers of a point.
    """

    before_first: str
    after_first: str
    before_next: str
    after_next: str
    closing: str
    between: str = " "


PDF = Spelling("", " m\n", "", " l\n", "h\n")
"""Path operators (ISO 32000-1, 8.5.2)."""

SVG = Spelling("M", "", " L", "", " Z\n")
"""Path data (SVG 1.1, 8.3)."""

DXF = Spelling(" 10\n", "\n", " 10\n", "\n", "", "\n 20\n")
"""Points of a polyline: group codes 10 and 20 (DXF Reference, release 2010)."""


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
    ends = np.where(closed, starts[1:] - 1, starts[1:])
    kept = ends - starts[:-1] >= 2
    first, end = starts[:-1][kept], ends[kept]
    # Every point is a row of signs; where there is none a row holds 0, and in the end these are left out.
    begins, closes = np.zeros(len(points), dtype=np.bool_), np.zeros(len(points), dtype=np.bool_)
    begins[first] = True
    closes[end[closed[kept]] - 1] = True
    depth = np.zeros(len(points) + 1, dtype=np.int64)
    np.add.at(depth, first, 1)
    np.add.at(depth, end, -1)
    inside = np.cumsum(depth[:-1]) > 0
    begins, closes = begins[inside], closes[inside]
    thousandths = np.rint(points[inside] * 1000.0).astype(np.int64)
    rows = np.concatenate(
        [
            _either(begins, spelling.before_first, spelling.before_next),
            decimal_signs(thousandths[:, 0]),
            _either(begins, spelling.between, spelling.between),
            decimal_signs(thousandths[:, 1]),
            _either(begins, spelling.after_first, spelling.after_next),
            _either(closes, spelling.closing, ""),
        ],
        axis=1,
    )
    signs: NDArray[np.uint8] = rows[rows != 0]
    return signs.tobytes().decode("ascii")


def _either(chosen: NDArray[np.bool_], one: str, other: str) -> NDArray[np.uint8]:
    """One word where chosen and another elsewhere, a row each, filled up with 0."""
    width = max(len(one), len(other))
    words = np.frombuffer((one.ljust(width, "\0") + other.ljust(width, "\0")).encode("ascii"), dtype=np.uint8)
    return words.reshape(2, width)[np.where(chosen, 0, 1)]


def decimal_signs(thousandths: NDArray[np.int64]) -> NDArray[np.uint8]:
    """Numbers of thousandths (n,) int64 as decimals: a row of ASCII signs each, 0 where there is none.

    >>> rows = decimal_signs(np.array([-1500, 12]))
    >>> [bytes(row[row != 0]).decode() for row in rows]
    ['-1.5', '0.012']
    """
    size = np.abs(thousandths)
    if size.max(initial=0) < 2**31:
        size = size.astype(np.int32)  # which divides several times as fast
    whole, rest = np.divmod(size, 1000)
    groups = [_DIGITS[rest]]
    groups[0][_IDLE[rest]] = 0
    while True:
        above, group = np.divmod(whole, 1000)
        digits = _DIGITS[group]
        # Leading zeros are idle, but for the last digit before the point.
        for k, part in enumerate((100, 10)):
            digits[whole < part, k] = 0
        if len(groups) > 1:
            digits[whole < 1, 2] = 0
        groups.insert(0, digits)
        if not above.any():
            break
        whole = above
    sign = np.where(thousandths < 0, _MINUS, 0).astype(np.uint8)[:, None]
    point = np.where(rest > 0, _POINT, 0).astype(np.uint8)[:, None]
    return np.concatenate([sign, *groups[:-1], point, groups[-1]], axis=1)


__all__ = ["DXF", "PDF", "SVG", "Spelling", "decimal_signs", "spell"]

"""How two impressions drift apart across a common edge, and how much paper their trap leaves to chance.

Each impression lies off by an amount that is normal along each axis and independent of the others; nineteen
in twenty lie within the drift. Across an edge the two sides then move apart by a normal amount with twice the
variance, whatever the edge's direction, and paper shows where that exceeds the trap.
"""

from math import ceil, exp, pi, sqrt
from statistics import NormalDist

_STANDARD = NormalDist()

_TWO_SIDED_95 = _STANDARD.inv_cdf(0.975)
"""Standard deviations within which nineteen of twenty lie: 1.96."""

_TRAP_STEP_MM = 0.05
"""Traps are proposed in steps of this, mm: finer than a knife."""


def apart_mm(drift_mm: float) -> float:
    """The standard deviation of the movement of two sides of an edge against each other, mm."""
    return sqrt(2.0) * drift_mm / _TWO_SIDED_95


def gape_probability(trap_mm: float, drift_mm: float) -> float:
    """The chance that an edge with a trap shows paper at one place on one sheet, 0 to 0.5.

    >>> round(gape_probability(0.0, 0.3), 3), round(gape_probability(0.5, 0.3), 3)
    (0.5, 0.01)
    """
    return _STANDARD.cdf(-trap_mm / apart_mm(drift_mm))


def expected_gap_mm(trap_mm: float, drift_mm: float) -> float:
    """The mean width of the bare paper at an edge, mm: the mean of what the movement exceeds the trap by.

    >>> round(expected_gap_mm(0.0, 0.3), 4), round(expected_gap_mm(0.5, 0.3), 4)
    (0.0864, 0.0008)
    """
    sigma = apart_mm(drift_mm)
    z = trap_mm / sigma
    return sigma * (exp(-0.5 * z * z) / sqrt(2.0 * pi) - z * _STANDARD.cdf(-z))


def trap_of_probability(probability: float, drift_mm: float) -> float:
    """The trap, mm, at which an edge gapes with this chance; 0 for a half and more.

    >>> round(trap_of_probability(0.05, 0.3), 3)
    0.356
    """
    return max(0.0, -apart_mm(drift_mm) * _STANDARD.inv_cdf(max(probability, 1e-12)))


def trap_for_probability(probability: float, drift_mm: float) -> float:
    """The least trap, mm, in steps of 0.05, at which an edge gapes with at most this chance.

    >>> trap_for_probability(0.05, 0.3)
    0.4
    """
    wanted = trap_of_probability(probability, drift_mm)
    return round(ceil(wanted / _TRAP_STEP_MM - 1e-9) * _TRAP_STEP_MM, 2)

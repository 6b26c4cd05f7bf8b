"""How much of the common edges will show bare paper when impressions drift against each other.

Each impression lies off by an amount that is normal along each axis and independent of the others. Across an
edge the two sides then move apart by a normal amount with twice the variance, whatever the edge's direction,
and paper shows where that exceeds the trap. The share is that chance, weighted by the edges' length.

It does not know lines narrower than the trap, corners, turned or stretched sheets, and it counts only edges
between two printed colours: at an edge with bare paper nothing can gape.
"""

from collections.abc import Iterable
from math import ceil, sqrt
from statistics import NormalDist

from blockwright.model.separation import Impression, Separation

_TWO_SIDED_95 = NormalDist().inv_cdf(0.975)
"""Standard deviations within which nineteen of twenty lie: 1.96."""

_TRAP_STEP_MM = 0.05
"""Traps are proposed in steps of this, mm: finer than a knife."""


def _apart(drift_mm: float) -> NormalDist:
    """How far the two sides of an edge move apart, mm; nineteen in twenty lie within the drift."""
    return NormalDist(0.0, sqrt(2.0) * drift_mm / _TWO_SIDED_95)


def gape_probability(trap_mm: float, drift_mm: float) -> float:
    """The chance that an edge with a trap shows paper at one place on one sheet, 0 to 0.5.

    >>> round(gape_probability(0.0, 0.3), 3), round(gape_probability(0.5, 0.3), 3)
    (0.5, 0.01)
    """
    return 1.0 - _apart(drift_mm).cdf(trap_mm)


def trap_for_probability(probability: float, drift_mm: float) -> float:
    """The least trap, mm, in steps of 0.05, at which an edge gapes with at most this chance.

    >>> trap_for_probability(0.05, 0.3)
    0.4
    """
    wanted = max(0.0, _apart(drift_mm).inv_cdf(1.0 - probability))
    return round(ceil(wanted / _TRAP_STEP_MM - 1e-9) * _TRAP_STEP_MM, 2)


def _lighter(one: Impression, other: Impression) -> Impression:
    """Of two impressions the one that runs under the other."""
    return min(one, other, key=lambda i: (-i.lab[0], i.srgb_hex.lower()))


def gaping_edges(
    separation: Separation, *, drift_mm: float, least_trap_mm: float = 0.0
) -> tuple[tuple[Impression, float], ...]:
    """For each pair of impressions that meet, the lighter one and the length expected to gape, mm.

    ``least_trap_mm`` asks what would be if no trap were smaller.
    """
    by_number = {impression.number: impression for impression in separation.impressions}
    found = []
    for a, b, length_mm in separation.edges_mm:
        lighter = _lighter(by_number[a], by_number[b])
        chance = gape_probability(max(lighter.trap_mm, least_trap_mm), drift_mm)
        found.append((lighter, length_mm * chance))
    return tuple(found)


def risk_percent(separation: Separation, gaping: Iterable[tuple[Impression, float]]) -> float:
    """The expected share of all common edges that gapes on one sheet, percent; 0 without edges."""
    total_mm = sum(length_mm for _, _, length_mm in separation.edges_mm)
    gaping_mm = sum(mm for _, mm in gaping)
    return 100.0 * gaping_mm / total_mm if total_mm > 0.0 else 0.0

"""How much of the common edges will show bare paper when impressions drift against each other.

The law is :mod:`blockwright.geometry.drift`: paper shows where the movement across an edge exceeds the trap.
The separation tells for each pair of impressions how far the lower one reaches, thin lines counted. The share
is the chance of a gap, weighted by the edges' length.

It does not know corners, turned or stretched sheets, and it counts only edges between two printed colours: at
an edge with bare paper nothing can gape.
"""

from collections.abc import Iterable

from blockwright.geometry.drift import gape_probability
from blockwright.model.separation import EdgeTrap, Impression, Separation

_THIN_MM = 0.05
"""Where this much of a trap is not reached, mm, the darker shapes are too thin for a wider one."""


def _reach_mm(edge: EdgeTrap, least_trap_mm: float) -> float:
    """How far the lower colour would reach with at least that trap: no farther where lines end it."""
    ends = edge.reason == "line" or edge.reach_mm < edge.trap_mm - _THIN_MM
    return edge.reach_mm if ends else max(edge.reach_mm, least_trap_mm)


def gaping_edges(
    separation: Separation, *, drift_mm: float, least_trap_mm: float = 0.0
) -> tuple[tuple[Impression, float], ...]:
    """For each pair of impressions that meet, the one below and the length expected to gape, mm.

    ``least_trap_mm`` asks what would be if no trap were smaller.
    """
    by_number = {impression.number: impression for impression in separation.impressions}
    return tuple(
        (
            by_number[edge.runs_under],
            edge.length_mm * gape_probability(_reach_mm(edge, least_trap_mm), drift_mm),
        )
        for edge in separation.edges
    )


def risk_percent(separation: Separation, gaping: Iterable[tuple[Impression, float]]) -> float:
    """The expected share of all common edges that gapes on one sheet, percent; 0 without edges."""
    total_mm = sum(edge.length_mm for edge in separation.edges)
    gaping_mm = sum(mm for _, mm in gaping)
    return 100.0 * gaping_mm / total_mm if total_mm > 0.0 else 0.0

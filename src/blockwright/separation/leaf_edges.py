"""The edges of leaf: how far colours run beneath it, or the leaf over them.

Leaf goes on last and hides what lies under it, so that the colour beside it may run under its edge as far as
is wanted, and no seam is seen. It needs as much as the register may be off, and as much more as the ground
stays inside the shape: else paper shows between colour and leaf. By hand an edge gets another trap
(``[[separation.edge_trap]]``); less than 0 makes the leaf run over its neighbour instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.geometry.drift import expected_gap_mm, gape_probability, trap_of_probability
from blockwright.model.findings import Finding
from blockwright.model.separation import EdgeTrap, Impression, TrapReason
from blockwright.model.settings import EdgeTrapAt, SeparationTable
from blockwright.separation.across import across_mm
from blockwright.separation.edges import SharedEdges
from blockwright.separation.finishes import Finishes
from blockwright.separation.middles import PAST_MIDDLE_MM
from blockwright.separation.plan import Coloured, Planned

NEAR_MM = 2.0
"""A place in print.toml means the nearest edge that is no farther than this, mm."""

_CURVE = 16
"""Segments to a quarter circle where leaf runs over."""

_UNDER: TrapReason = "leaf"
_OVER: TrapReason = "leaf over"
_BY_HAND: TrapReason = "edge"


@dataclass(frozen=True, slots=True)
class LeafEdges:
    """The segments between leaf and what is not leaf, one row each.

    ``row`` counts into the shared edges; ``leaf`` and ``beside`` are the shapes; ``under`` is the place of
    the last impression that prints the shape beside, -1 where that is paper; ``bare`` tells that no ink lies
    beneath the leaf. ``trap_mm`` is how far the colour runs under, less than 0 how far the leaf runs over;
    ``by_hand`` tells that the printmaker set it.
    """

    row: NDArray[np.int64]
    leaf: NDArray[np.int64]
    beside: NDArray[np.int64]
    under: NDArray[np.int64]
    bare: NDArray[np.bool_]
    trap_mm: NDArray[np.float64]
    by_hand: NDArray[np.bool_]


def find_leaf_edges(
    work: Coloured,
    planned: tuple[Planned, ...],
    covers: NDArray[np.bool_],
    edges: SharedEdges,
    *,
    finishes: Finishes,
    settings: SeparationTable,
) -> tuple[LeafEdges, tuple[EdgeTrapAt, ...], list[Finding]]:
    """The edges of leaf with their traps, the traps that are of other edges, and what is wrong with any."""
    shapes = np.zeros(len(work.regions), dtype=np.bool_)
    shapes[list(finishes.leaf)] = True
    row = np.flatnonzero(shapes[edges.first] != shapes[edges.second])
    leaf = np.where(shapes[edges.first], edges.first, edges.second)[row]
    beside = np.where(shapes[edges.first], edges.second, edges.first)[row]
    printed = np.any(covers, axis=0).reshape(-1)
    last = (
        len(covers) - 1 - np.argmax(covers[::-1], axis=0) if len(covers) else np.zeros(len(shapes), np.int64)
    )
    under = np.where(printed[beside], last[beside], -1)
    usual_mm = np.array([_usual_mm(each, settings) for each in planned] + [0.0])
    met = LeafEdges(
        row, leaf, beside, under, ~printed[leaf], usual_mm[under], np.zeros(len(row), dtype=np.bool_)
    )
    others = _other_edges(edges, printed) if settings.edge_trap else shapely.STRtree([])
    left, findings = [], list[Finding]()
    for wanted in settings.edge_trap:
        if _set_by_hand(work, met, edges, wanted, others):
            continue
        if wanted.mm < 0.0:
            findings.append(_no_leaf_there(work, wanted))
        else:
            left.append(wanted)
    return met, tuple(left), findings


def _usual_mm(printed: Planned, settings: SeparationTable) -> float:
    """How far an ink runs under leaf: by its own trap, and as far as register and ground ask for.

    What the printmaker set for the colour holds, and without traps there is none here either.
    """
    names = {choice.colour.strip().casefold() for choice in settings.trap}
    own = {printed.name.casefold(), printed.srgb_hex.lower(), (printed.split_from or printed.name).casefold()}
    if own & names or printed.trap_mm <= 0.0:
        return printed.trap_mm
    return max(printed.trap_mm, settings.register_mm + max(0.0, -settings.ground_beyond_mm))


def _other_edges(edges: SharedEdges, printed: NDArray[np.bool_]) -> shapely.STRtree:
    """The edges between two printed shapes, for which a place may be meant instead."""
    inked = printed[edges.first] & printed[edges.second]
    return shapely.STRtree(shapely.linestrings(edges.ends[inked]) if inked.any() else [])


def _set_by_hand(
    work: Coloured,
    met: LeafEdges,
    edges: SharedEdges,
    wanted: EdgeTrapAt,
    others: shapely.STRtree,
) -> bool:
    """Set the trap where an edge of leaf is meant, in place; whether one is.

    A colour can only run under leaf where it is printed, and there is a trap of its own where the leaf lies
    on a printed colour; leaf may run over anything.
    """
    able = np.ones(len(met.row), dtype=np.bool_) if wanted.mm < 0.0 else met.bare & (met.under >= 0)
    if not able.any():
        return False
    place = shapely.Point(wanted.at)
    near_mm = shapely.distance(shapely.linestrings(edges.ends[met.row]), place)
    nearest = int(np.argmin(np.where(able, near_mm, np.inf)))
    if near_mm[nearest] > NEAR_MM:
        return False
    found = others.query_nearest(place, max_distance=NEAR_MM, return_distance=True, all_matches=False)
    # At an edge of leaf on a printed colour both are the same segment: what is less than 0 is of the leaf.
    if len(found[1]) and found[1][0] < near_mm[nearest] and wanted.mm >= 0.0:
        return False
    if wanted.everywhere:
        one, other = work.colour[met.leaf[nearest]], work.colour[met.beside[nearest]]
        same = (work.colour[met.leaf] == one) & (work.colour[met.beside] == other)
    else:
        same = (met.leaf == met.leaf[nearest]) & (met.beside == met.beside[nearest])
    met.trap_mm[same & able], met.by_hand[same & able] = wanted.mm, True
    return True


def _no_leaf_there(work: Coloured, wanted: EdgeTrapAt) -> Finding:
    x, y = wanted.at
    inside = 0.0 <= x <= work.design.width_mm and 0.0 <= y <= work.design.height_mm
    message = (
        f"The trap of {wanted.mm:g} mm for the edge at {x:g}, {y:g} does nothing: less than 0 is for leaf, "
        f"which then runs over its neighbour, and no edge of leaf lies within {NEAR_MM:g} mm of it. "
        "Give 0 or more, a place on the edge of leaf, or take the entry out."
    )
    return Finding("edge-trap-misses", "warn", message, wanted.at if inside else None, (("at", f"{x},{y}"),))


def run_under_leaf(
    trap_mm: NDArray[np.float64], met: LeafEdges, planned: Sequence[Planned], settings: SeparationTable
) -> NDArray[np.float64]:
    """The traps of all impressions and segments with those at the edges of leaf."""
    traps = trap_mm.copy()
    usual = np.array([_usual_mm(each, settings) for each in planned], dtype=np.float64)
    free = met.row[met.bare & ~met.by_hand]
    traps[:, free] = usual[:, None]
    traps[:, met.row[met.by_hand & met.bare]] = np.maximum(met.trap_mm[met.by_hand & met.bare], 0.0)
    return traps


def run_over(
    impressions: Sequence[Impression], work: Coloured, met: LeafEdges, edges: SharedEdges
) -> tuple[Impression, ...]:
    """The impressions, those of leaf with what they run over; the ground follows their areas."""
    over = met.trap_mm < 0.0
    if not over.any():
        return tuple(impressions)
    return tuple(
        replace(each, area=_grown(each, work, met, edges, over & np.isin(met.leaf, each.shapes)))
        if each.kind == "leaf"
        else each
        for each in impressions
    )


def _grown(
    impression: Impression, work: Coloured, met: LeafEdges, edges: SharedEdges, own: NDArray[np.bool_]
) -> MultiPolygon:
    parts: list[shapely.Geometry] = [impression.area]
    for beside in np.unique(met.beside[own]).tolist():
        for mm in np.unique(met.trap_mm[own & (met.beside == beside)]).tolist():
            at = own & (met.beside == beside) & (met.trap_mm == mm)
            line = shapely.line_merge(shapely.multilinestrings(shapely.linestrings(edges.ends[met.row[at]])))
            band = shapely.buffer(line, -mm, quad_segs=_CURVE, cap_style="flat")
            parts.append(shapely.intersection(band, work.regions[beside]))
    union = shapely.union_all(parts)
    return MultiPolygon([each for each in shapely.get_parts(union) if each.geom_type == "Polygon"])


def report_leaf(
    work: Coloured,
    met: LeafEdges,
    edges: SharedEdges,
    impressions: Sequence[Impression],
    *,
    settings: SeparationTable,
) -> tuple[EdgeTrap, ...]:
    """The traps at the edges of leaf, told as those of other edges; no seam is seen under leaf."""
    carries = {shape: each.number for each in impressions if each.kind == "leaf" for shape in each.shapes}
    told = np.flatnonzero((met.under >= 0) & (met.bare | met.by_hand))
    if not len(told):
        return ()
    later = np.array([carries[shape] for shape in met.leaf[told].tolist()])
    farthest_mm = 2.0 * float(np.abs(met.trap_mm[told]).max()) + PAST_MIDDLE_MM
    within = np.where(met.trap_mm < 0.0, met.beside, met.leaf)[told]
    side = (edges.second[met.row[told]] == within).astype(np.int64)
    across = across_mm(work.regions, edges, farthest_mm=farthest_mm)[met.row[told], side]
    reach = np.minimum(np.abs(met.trap_mm[told]), across / 2.0 + PAST_MIDDLE_MM)
    groups = np.stack(
        [
            met.under[told] + 1,
            later,
            met.by_hand[told],
            np.round(met.trap_mm[told] * 1000.0).astype(np.int64),
        ],
        axis=1,
    )
    found = []
    each, group = np.unique(groups, axis=0, return_inverse=True)
    for k, (under, over, by_hand, _) in enumerate(each.tolist()):
        own = group.ravel() == k
        rows = told[own]
        found.append(
            _told(
                (under, over),
                edges.length_mm[met.row[rows]],
                reach[own],
                trap_mm=float(met.trap_mm[rows[0]]),
                by_hand=bool(by_hand),
                drift_mm=settings.register_mm,
                at=_middle(edges, met.row[rows]),
                bare=bool(met.bare[rows].any()),
            )
        )
    return tuple(found)


def _told(
    pair: tuple[int, int],
    length_mm: NDArray[np.float64],
    reach_mm: NDArray[np.float64],
    *,
    trap_mm: float,
    by_hand: bool,
    drift_mm: float,
    at: tuple[float, float],
    bare: bool,
) -> EdgeTrap:
    under, over = pair
    total = float(length_mm.sum())
    chance = np.array([gape_probability(mm, drift_mm) for mm in reach_mm.tolist()])
    gap_mm = np.array([expected_gap_mm(mm, drift_mm) for mm in reach_mm.tolist()])
    mean = float((chance * length_mm).sum()) / total
    return EdgeTrap(
        earlier=under,
        later=over,
        runs_under=under,
        length_mm=total,
        trap_mm=abs(trap_mm),
        reach_mm=min(float(reach_mm.max()), trap_of_probability(mean, drift_mm)),
        # Where the leaf lies on a printed colour, that is what shows.
        gap_mm2=float((gap_mm * length_mm).sum()) if bare else 0.0,
        seam_delta_e00=0.0,
        reason=_OVER if trap_mm < 0.0 else _BY_HAND if by_hand else _UNDER,
        at=at,
    )


def _middle(edges: SharedEdges, rows: NDArray[np.int64]) -> tuple[float, float]:
    """The middle of the segment half way along."""
    along = np.cumsum(edges.length_mm[rows])
    middle = edges.ends[rows[int(np.searchsorted(along, along[-1] / 2.0))]].mean(axis=0)
    return (float(middle[0]), float(middle[1]))

"""Who runs under whom at every edge, and how far: the least trap where it is seen, else the usual one.

Always the lighter runs under the darker: the overlap is the same two inks either way, and so no ink crosses
into a lighter shape, where it would show. The overlap is a seam in the colour of both inks. Where that colour
is near one of its neighbours the seam is hidden and the trap is the usual one. Where it is seen, the trap is
the least at which the edge gapes with no more than a chance, and the usual one at most. Where an ink is
brushed out, each stretch of an edge is judged by the film that lies there.
"""

from dataclasses import dataclass
from typing import cast, get_args

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import colour_reflectance, delta_e00, layer_reflectance, reflectance_to_lab
from blockwright.geometry.drift import (
    expected_gap_mm,
    gape_probability,
    trap_for_probability,
    trap_of_probability,
)
from blockwright.model.findings import Finding
from blockwright.model.separation import EdgeTrap, TrapReason
from blockwright.model.settings import EdgeTrapAt, SeparationTable
from blockwright.separation.across import across_mm
from blockwright.separation.edges import SharedEdges
from blockwright.separation.graded_edges import (
    LAP_MM,
    Stretches,
    first_is_lighter,
    flats_alone,
    graded_shapes,
    seams,
)
from blockwright.separation.middles import PAST_MIDDLE_MM
from blockwright.separation.plan import Coloured, Planned

_NEAR_MM = 2.0
"""A place in print.toml means the nearest edge that is no farther than this, mm."""

_REASONS = get_args(TrapReason)
_PLAIN, _HIDDEN, _SEEN, _COLOUR, _EDGE, _LINE = range(6)


@dataclass(frozen=True, slots=True)
class Meeting:
    """The segments at which two impressions can move apart, one row each, and their traps.

    ``row`` counts into the shared edges; ``under`` and ``over`` are places of impressions, the one that runs
    under the other first; ``dark`` is the shape that it runs under; ``trap_mm`` is asked for; ``seam`` is the
    overlap's CIEDE2000 to the nearer neighbour; ``reason`` counts into the reasons of :class:`EdgeTrap`.
    ``alone`` tells that the others of that side only lap over the edge, ``turned`` that the colour that runs
    under is the darker one on the whole.
    """

    row: NDArray[np.int64]
    under: NDArray[np.int64]
    over: NDArray[np.int64]
    dark: NDArray[np.int64]
    trap_mm: NDArray[np.float64]
    seam: NDArray[np.float64]
    reason: NDArray[np.int64]
    alone: NDArray[np.bool_]
    turned: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Sides:
    """For every shared segment the sets of impressions on its lighter and its darker side, and the shapes."""

    patterns: NDArray[np.bool_]
    light: NDArray[np.int64]
    dark: NDArray[np.int64]
    light_shape: NDArray[np.int64]
    dark_shape: NDArray[np.int64]


def _sides(covers: NDArray[np.bool_], lighter_first: NDArray[np.bool_], edges: SharedEdges) -> _Sides:
    patterns, which = np.unique(covers, axis=1, return_inverse=True)
    which = which.ravel()
    light = np.where(lighter_first, edges.first, edges.second)
    dark = np.where(lighter_first, edges.second, edges.first)
    return _Sides(patterns, which[light], which[dark], light, dark)


def _lighter_first(
    work: Coloured,
    planned: tuple[Planned, ...],
    covers: NDArray[np.bool_],
    edges: SharedEdges,
    key: int | None,
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether the first shape of every segment is the lighter, and where the film there tells so."""
    rank = work.rank
    one, other = rank[edges.first], rank[edges.second]
    graded = graded_shapes(planned, len(rank))
    by_film = (graded[edges.first] | graded[edges.second]) & (one >= 0) & (other >= 0) & (one != other)
    if key is not None:
        lines = work.printed_in([key])
        by_film &= ~lines[edges.first] & ~lines[edges.second]
    first = one <= other
    if by_film.any():
        first[by_film] = first_is_lighter(_stretches(work, planned, covers, edges, np.flatnonzero(by_film)))
    return first, by_film


def _stretches(
    work: Coloured,
    planned: tuple[Planned, ...],
    covers: NDArray[np.bool_],
    edges: SharedEdges,
    rows: NDArray[np.int64],
) -> Stretches:
    first, second = covers[:, edges.first[rows]], covers[:, edges.second[rows]]
    return Stretches(work, planned, first, second, edges.ends[rows].mean(axis=1))


def _seams(
    work: Coloured, planned: tuple[Planned, ...], patterns: NDArray[np.bool_], pairs: NDArray[np.int64]
) -> NDArray[np.float64]:
    """For pairs of sets of impressions the colour of both over each other, against the nearer of the two."""

    def lab(stacks: NDArray[np.bool_]) -> NDArray[np.float64]:
        seen = np.tile(colour_reflectance(work.design.paper_hex), (stacks.shape[1], 1))
        for row, each in zip(stacks, planned, strict=True):
            seen[row] = layer_reflectance(each.ink.k, each.ink.s, float(each.passes), seen[row])
        return reflectance_to_lab(seen)

    one, other = lab(patterns[:, pairs[:, 0]]), lab(patterns[:, pairs[:, 1]])
    both = lab(patterns[:, pairs[:, 0]] | patterns[:, pairs[:, 1]])
    return np.minimum(delta_e00(both, one), delta_e00(both, other))


def meet(
    work: Coloured,
    planned: tuple[Planned, ...],
    covers: NDArray[np.bool_],
    edges: SharedEdges,
    *,
    key: int | None,
    settings: SeparationTable,
) -> tuple[Meeting, list[Finding]]:
    """Where impressions meet, and the trap that each edge gets.

    At an edge those can move apart that print only one side: of them the last on either side are meant. Edges
    with the paper, and between shapes of one rank, have no trap and are left out. Long ``edges`` of graded
    shapes are best given :func:`~blockwright.separation.graded_edges.in_stretches`.
    """
    rank = work.rank
    lighter_first, by_film = _lighter_first(work, planned, covers, edges, key)
    sides = _sides(covers, lighter_first, edges)
    pairs, pair = np.unique(np.stack([sides.light, sides.dark], axis=1), axis=0, return_inverse=True)
    only_light = sides.patterns[:, pairs[:, 0]] & ~sides.patterns[:, pairs[:, 1]]
    only_dark = sides.patterns[:, pairs[:, 1]] & ~sides.patterns[:, pairs[:, 0]]
    apart = np.logical_and(np.any(only_light, axis=0), np.any(only_dark, axis=0))
    pair = pair.ravel()
    light, dark = rank[sides.light_shape], rank[sides.dark_shape]
    row = np.flatnonzero(apart[pair] & (light >= 0) & (dark >= 0) & (light != dark))
    if not len(row):
        none, nowhere = np.empty(0, dtype=np.int64), np.empty(0, dtype=np.bool_)
        empty = Meeting(none, none, none, none, np.empty(0), np.empty(0), none, nowhere, nowhere)
        return _with_edge_traps(work, empty, sides, edges, settings.edge_trap)
    last = len(planned) - 1
    under = (last - np.argmax(only_light[::-1], axis=0))[pair[row]]
    over = (last - np.argmax(only_dark[::-1], axis=0))[pair[row]]
    seam = _seams(work, planned, sides.patterns, pairs)[pair[row]]
    film = np.flatnonzero(by_film[row])
    at = _stretches(work, planned, covers, edges, row[film])
    seam[film] = seams(at)
    met = Meeting(
        row,
        under,
        over,
        sides.dark_shape[row],
        np.empty(len(row)),
        seam,
        np.empty(len(row), dtype=np.int64),
        np.zeros(len(row), dtype=np.bool_),
        light[row] > dark[row],
    )
    _choose(work, planned, met, key=key, settings=settings)
    met, findings = _with_edge_traps(work, met, sides, edges, settings.edge_trap)
    if settings.traps == "by edge":
        _let_flats_run_alone(planned, met, film, at, edges, rank, settings)
    return met, findings


def _let_flats_run_alone(
    planned: tuple[Planned, ...],
    met: Meeting,
    film: NDArray[np.int64],
    at: Stretches,
    edges: SharedEdges,
    rank: NDArray[np.int64],
    settings: SeparationTable,
) -> None:
    """Where it is seen less, only the flat beneath a gradation runs under; ``film`` are rows that ``at`` has.

    What the printmaker decided is left as it is.
    """
    decided = _decided(planned, settings)[:, None]
    free = (met.reason[film] == _HIDDEN) | (met.reason[film] == _SEEN)
    free &= ~((at.first ^ at.second) & decided).any(axis=0)
    film, at = film[free], at.of(free)
    own_mm = np.array([p.trap_mm for p in planned])
    best = met.seam[film] * met.trap_mm[film]
    row = met.row[film]
    for side, shape, beyond in zip(
        flats_alone(at, drift_mm=settings.register_mm),
        (edges.first[row], edges.second[row]),
        (edges.second[row], edges.first[row]),
        strict=True,
    ):
        trap_mm, reason = _by_seam(side.seam, own_mm[side.flat], settings)
        seen = side.seam * trap_mm + side.drifting
        less = (side.flat >= 0) & (seen < best)
        at_rows = film[less]
        met.under[at_rows], met.over[at_rows] = side.flat[less], side.over[less]
        met.dark[at_rows], met.trap_mm[at_rows] = beyond[less], trap_mm[less]
        met.seam[at_rows], met.reason[at_rows] = side.seam[less], reason[less]
        met.alone[at_rows] = True
        met.turned[at_rows] = (rank[shape] > rank[beyond])[less]
        best = np.where(less, seen, best)


def _by_seam(
    seam: NDArray[np.float64], own_mm: NDArray[np.float64], settings: SeparationTable
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The usual trap where a seam is hidden, the least that the register allows where it is seen; and why."""
    least_mm = trap_for_probability(settings.gap_percent / 100.0, settings.register_mm)
    seen = seam > settings.hidden_seam_delta_e00
    return np.where(seen, np.minimum(own_mm, least_mm), own_mm), np.where(seen, _SEEN, _HIDDEN)


def _choose(
    work: Coloured,
    planned: tuple[Planned, ...],
    met: Meeting,
    *,
    key: int | None,
    settings: SeparationTable,
) -> None:
    """Fill in every trap and its reason, but for the printmaker's traps of single edges."""
    decided = _decided(planned, settings)
    own_mm = np.array([p.trap_mm for p in planned])
    met.trap_mm[:], met.reason[:] = own_mm[met.under], _PLAIN
    if settings.traps == "by edge":
        met.trap_mm[:], met.reason[:] = _by_seam(met.seam, own_mm[met.under], settings)
    if key is not None and settings.widest_line_mm > 0.0:
        met.reason[work.printed_in([key])[met.dark] & (met.trap_mm > 0.0)] = _LINE
    by_colour = decided[met.under]
    met.trap_mm[by_colour] = own_mm[met.under[by_colour]]
    met.reason[by_colour] = _COLOUR


def _decided(planned: tuple[Planned, ...], settings: SeparationTable) -> NDArray[np.bool_]:
    """Which impressions have a trap that the printmaker gave to their colour."""
    names = {choice.colour.strip().casefold() for choice in settings.trap}
    own = [{p.name.casefold(), p.srgb_hex.lower(), (p.split_from or p.name).casefold()} for p in planned]
    return np.array([bool(each & names) for each in own], dtype=np.bool_)


def _with_edge_traps(
    work: Coloured,
    met: Meeting,
    sides: _Sides,
    edges: SharedEdges,
    wanted: tuple[EdgeTrapAt, ...],
) -> tuple[Meeting, list[Finding]]:
    """The printmaker's traps of single edges, the last of them first in right."""
    findings: list[Finding] = []
    if not wanted:
        return met, findings
    tree = shapely.STRtree(shapely.linestrings(edges.ends[met.row]) if len(met.row) else [])
    for each in wanted:
        nearest = tree.query_nearest(shapely.Point(each.at), max_distance=_NEAR_MM, all_matches=False)
        if not len(nearest):
            findings.append(_edge_misses(work, each))
            continue
        at = met.row[int(nearest[0])]
        # Along a graded shape either side may be the lighter.
        of = work.colour if each.everywhere else np.arange(len(work.colour))
        both = np.sort(np.stack([of[sides.light_shape], of[sides.dark_shape]], axis=1), axis=1)
        same = np.all(both == both[at], axis=1)
        met.trap_mm[same[met.row]], met.reason[same[met.row]] = each.mm, _EDGE
    return met, findings


def _edge_misses(work: Coloured, wanted: EdgeTrapAt) -> Finding:
    x, y = wanted.at
    inside = 0.0 <= x <= work.design.width_mm and 0.0 <= y <= work.design.height_mm
    size = f"{work.design.width_mm:.0f} x {work.design.height_mm:.0f} mm"
    why = (
        f"no edge between two printed colours lies within {_NEAR_MM:g} mm of it"
        if inside
        else f"it lies outside the picture ({size})"
    )
    message = (
        f"The trap for the edge at {x:g}, {y:g} does nothing: {why}. "
        "Give a place on the edge that is meant, or take the entry out."
    )
    return Finding("edge-trap-misses", "warn", message, wanted.at if inside else None, (("at", f"{x},{y}"),))


def as_asked(
    met: Meeting, edges: SharedEdges, planned: tuple[Planned, ...], settings: SeparationTable
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.bool_]]:
    """The traps as :func:`~blockwright.separation.traps.printing_areas` takes them, and what closes up, and
    where the darker runs under.

    Of several impressions that print only the lighter side all run under by what the edge gets, unless the
    printmaker gave one of them a trap of its own.
    """
    own_mm = np.array([p.trap_mm for p in planned], dtype=np.float64)
    trap_mm = np.repeat(own_mm[:, None], len(edges.first), axis=1)
    usual = np.flatnonzero(~_decided(planned, settings))
    by_edge, of_colour = met.reason == _EDGE, met.reason == _COLOUR
    plain = ~by_edge & ~of_colour
    trap_mm[np.ix_(usual, met.row[plain])] = met.trap_mm[plain]
    trap_mm[:, met.row[by_edge]] = met.trap_mm[by_edge]
    trap_mm[:, met.row[met.alone]] = LAP_MM
    trap_mm[met.under[met.alone], met.row[met.alone]] = met.trap_mm[met.alone]
    closes = np.zeros(trap_mm.shape, dtype=np.bool_)
    closes[np.ix_(usual, met.row[met.reason == _LINE])] = True
    turned = np.zeros(len(edges.first), dtype=np.bool_)
    turned[met.row[met.turned]] = True
    return trap_mm, closes, turned


def report(
    work: Coloured,
    met: Meeting,
    edges: SharedEdges,
    *,
    key: int | None,
    settings: SeparationTable,
) -> tuple[EdgeTrap, ...]:
    """The traps told by pair of impressions and reason, in the order of the numbers."""
    if not len(met.row):
        return ()
    widest_mm, drift_mm = settings.widest_line_mm, settings.register_mm
    length = edges.length_mm[met.row]
    farthest_mm = max(widest_mm, 2.0 * float(met.trap_mm.max())) + PAST_MIDDLE_MM
    second = (edges.second[met.row] == met.dark).astype(np.int64)
    across = across_mm(work.regions, edges, farthest_mm=farthest_mm)[met.row, second]
    half = across / 2.0 + PAST_MIDDLE_MM
    reach = np.minimum(met.trap_mm, half)
    if key is not None:
        line = (met.reason == _LINE) & (across <= widest_mm)
        reach[line] = half[line]
    reach = np.round(reach, 3)
    values, value = np.unique(reach, return_inverse=True)
    chance = np.array([gape_probability(mm, drift_mm) for mm in values.tolist()])[value]
    gap_mm = np.array([expected_gap_mm(mm, drift_mm) for mm in values.tolist()])[value]
    shown = np.where(met.reason == _LINE, 0.0, met.trap_mm)
    groups = np.stack([met.under, met.over, met.reason, np.round(shown * 1000.0).astype(np.int64)], axis=1)
    found = []
    each, group = np.unique(groups, axis=0, return_inverse=True)
    for k, (under, over, reason, _) in enumerate(each.tolist()):
        own = group.ravel() == k
        total = float(length[own].sum())
        mean_chance = float((chance[own] * length[own]).sum()) / total
        widest = float(reach[own].max())
        trap_mm = (
            float((reach[own] * length[own]).sum()) / total if reason == _LINE else float(met.trap_mm[own][0])
        )
        found.append(
            EdgeTrap(
                earlier=min(under, over) + 1,
                later=max(under, over) + 1,
                runs_under=under + 1,
                length_mm=total,
                trap_mm=trap_mm,
                reach_mm=min(widest, trap_of_probability(mean_chance, drift_mm)),
                gap_mm2=float((gap_mm[own] * length[own]).sum()),
                seam_delta_e00=float((met.seam[own] * length[own]).sum()) / total,
                reason=cast("TrapReason", _REASONS[reason]),
                at=_place(edges, met.row[own], length[own]),
            )
        )
    return tuple(sorted(found, key=lambda e: (e.earlier, e.later, e.runs_under, e.reason, e.trap_mm)))


def _place(
    edges: SharedEdges, rows: NDArray[np.int64], length_mm: NDArray[np.float64]
) -> tuple[float, float]:
    """The middle of the segment half way along the longest edge of two shapes."""
    shapes = np.sort(np.stack([edges.first[rows], edges.second[rows]], axis=1), axis=1)
    pairs, pair = np.unique(shapes, axis=0, return_inverse=True)
    longest = int(np.argmax(np.bincount(pair.ravel(), weights=length_mm, minlength=len(pairs))))
    chosen = pair.ravel() == longest
    along = np.cumsum(length_mm[chosen])
    middle = edges.ends[rows[chosen][int(np.searchsorted(along, along[-1] / 2.0))]].mean(axis=0)
    return (float(middle[0]), float(middle[1]))


def smaller_than_trap(work: Coloured, met: Meeting, edges: SharedEdges) -> list[Finding]:
    """Shapes that are thinner than their own trap, told once: drift moves them by more than they are wide."""
    light = np.where(edges.first[met.row] == met.dark, edges.second[met.row], edges.first[met.row])
    asked = np.zeros(len(work.regions))
    plain = met.reason != _LINE
    np.maximum.at(asked, light[plain], met.trap_mm[plain])
    wide = 2.0 * work.area_mm2 / shapely.length(work.regions)
    small = np.flatnonzero(wide < asked)
    if not len(small):
        return []
    worst = int(small[np.argmin(wide[small] / asked[small])])
    one = len(small) == 1
    message = (
        f"{'One shape is' if one else f'{len(small)} shapes are'} narrower than the trap that runs out from "
        f"{'it; it is' if one else 'them; the narrowest is'} of "
        f"{work.design.palette[work.colour[worst]].name}, {wide[worst]:.2f} mm wide, and runs "
        f"{asked[worst]:g} mm under its neighbours. Most of what it prints lies beneath others: "
        "drop it, or give its edge a smaller trap."
    )
    at = work.design.shapes[worst].at
    about = (("edge_at", f"{at[0]},{at[1]}"), ("trap_mm", round(float(wide[worst]) / 2.0, 2)))
    return [Finding("shape-smaller-than-trap", "note", message, at, about)]

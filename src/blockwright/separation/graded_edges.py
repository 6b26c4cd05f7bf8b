"""Edges of shapes whose ink runs: judged by the film where each stretch of them lies, not by its mean.

A sky may be darker than a cloud above and lighter than it below, so that who runs under whom changes along
the ramp. And where a gradation lies over a flat, the flat keeps the paper covered: it may run under the
neighbour by itself, and the gradation only lap over its edge. Then the overlap is the pale flat's and not the
dark film's; when the gradation drifts, the flat shows there and no paper. Which is seen less decides.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import colour_reflectance, delta_e00, layer_reflectance, reflectance_to_lab
from blockwright.geometry.drift import expected_gap_mm
from blockwright.geometry.running import film_share
from blockwright.separation.edges import SharedEdges
from blockwright.separation.plan import Coloured, Planned

_STRETCH_MM = 2.0
"""Common edges of graded shapes are judged in stretches no longer than this, mm: over it no ramp changes
by more than the eye tells."""

LAP_MM = 0.1
"""What a gradation laps over an edge that its flat runs under, mm [CP]: no knife meets an edge truly."""

_PLACES_AT_ONCE = 20_000
"""Places whose stacks are reckoned together: keeps the arrays of 36 bands small."""


@dataclass(frozen=True, slots=True)
class Stretches:
    """Stretches of common edges, one row each, beside graded films.

    ``first`` and ``second`` (impressions, n) are what prints either side, ``points`` (n, 2) the middles, mm.
    """

    work: Coloured
    planned: Sequence[Planned]
    first: NDArray[np.bool_]
    second: NDArray[np.bool_]
    points: NDArray[np.float64]

    def of(self, rows: NDArray[np.int64] | NDArray[np.bool_]) -> "Stretches":
        """Some of the rows."""
        return Stretches(
            self.work, self.planned, self.first[:, rows], self.second[:, rows], self.points[rows]
        )

    @property
    def graded(self) -> NDArray[np.bool_]:
        """Which impressions are brushed out."""
        return np.array([each.gradation is not None for each in self.planned], dtype=np.bool_)

    def lab(self, stacks: NDArray[np.bool_]) -> NDArray[np.float64]:
        """The colour (n, 3), CIELAB, of stacks of impressions (impressions, n) at the places."""
        parts = [
            self._lab(stacks[:, k : k + _PLACES_AT_ONCE], self.points[k : k + _PLACES_AT_ONCE])
            for k in range(0, stacks.shape[1], _PLACES_AT_ONCE)
        ]
        return np.concatenate(parts) if parts else np.empty((0, 3))

    def _lab(self, stacks: NDArray[np.bool_], points: NDArray[np.float64]) -> NDArray[np.float64]:
        seen = np.tile(colour_reflectance(self.work.design.paper_hex), (len(points), 1))
        for row, each in zip(stacks, self.planned, strict=True):
            if not row.any():
                continue
            film = np.full(int(row.sum()), float(each.passes))
            if each.gradation is not None:
                film *= film_share(each.gradation, points[row])
            seen[row] = layer_reflectance(each.ink.k, each.ink.s, film[:, None], seen[row])
        return reflectance_to_lab(seen)


@dataclass(frozen=True, slots=True)
class Flats:
    """What comes of it if of one side only the flat beneath a gradation runs under its neighbour: (n,) each.

    ``flat`` and ``over`` are places of impressions, ``flat`` -1 where there is none; ``seam`` is the
    overlap's CIEDE2000 to the nearer neighbour. ``drifting`` is what the gradation shows with its lap, as it
    drifts, CIEDE2000 times the mean width, mm.
    """

    flat: NDArray[np.int64]
    over: NDArray[np.int64]
    seam: NDArray[np.float64]
    drifting: NDArray[np.float64]


def in_stretches(edges: SharedEdges, graded: NDArray[np.bool_]) -> SharedEdges:
    """Common edges with the long segments of graded shapes, told by (shapes,), cut into short ones.

    >>> import shapely
    >>> from blockwright.separation.edges import shared_edges
    >>> pair = shared_edges(np.array([shapely.box(0, 0, 1, 5), shapely.box(1, 0, 3, 5)]))
    >>> in_stretches(pair, np.array([True, False])).length_mm.round(3).tolist()
    [1.667, 1.667, 1.667]
    """
    parts = np.ones(len(edges.first), dtype=np.int64)
    beside = graded[edges.first] | graded[edges.second]
    parts[beside] = np.maximum(1, np.ceil(edges.length_mm[beside] / _STRETCH_MM - 1e-9))
    if parts.max(initial=1) == 1:
        return edges
    of = np.repeat(np.arange(len(parts)), parts)
    place = np.arange(len(of)) - np.repeat(np.cumsum(parts) - parts, parts)
    start, along = edges.ends[of, 0], edges.ends[of, 1] - edges.ends[of, 0]
    begins = start + along * (place / parts[of])[:, None]
    ends = start + along * ((place + 1) / parts[of])[:, None]
    # What was one point stays one, to the last bit: segments are joined end to end by that.
    last = place + 1 == parts[of]
    ends[last] = edges.ends[of[last], 1]
    return SharedEdges(
        edges.first[of], edges.second[of], np.stack([begins, ends], axis=1), edges.outlines[of]
    )


def graded_shapes(planned: Sequence[Planned], shapes: int) -> NDArray[np.bool_]:
    """Which shapes (shapes,) a brushed-out ink lies on."""
    found = np.zeros(shapes, dtype=np.bool_)
    for each in planned:
        if each.gradation is not None:
            found[list(each.shapes)] = True
    return found


def seams(at: Stretches) -> NDArray[np.float64]:
    """How far both sides over each other are from the nearer of them (CIEDE2000), at the places."""
    one, other, both = at.lab(at.first), at.lab(at.second), at.lab(at.first | at.second)
    return np.minimum(delta_e00(both, one), delta_e00(both, other))


def first_is_lighter(at: Stretches) -> NDArray[np.bool_]:
    """Whether the first side is no darker than the second, at the places."""
    return np.asarray(at.lab(at.first)[:, 0] >= at.lab(at.second)[:, 0])


def flats_alone(at: Stretches, *, drift_mm: float) -> tuple[Flats, Flats]:
    """What comes of it if only the flat of the first side, or of the second, runs under the other."""
    one, other = at.lab(at.first), at.lab(at.second)
    both = at.lab(at.first | at.second)
    overlap = np.minimum(delta_e00(both, one), delta_e00(both, other))
    gap_mm = expected_gap_mm(LAP_MM, drift_mm)
    found = []
    for own, beyond in ((at.first, at.second), (at.second, at.first)):
        only, theirs = own & ~beyond, beyond & ~own
        flat = only & ~at.graded[:, None]
        may = flat.any(axis=0) & (only & at.graded[:, None]).any(axis=0) & theirs.any(axis=0)
        under, bare = at.lab(beyond | flat), at.lab((own & beyond) | flat)
        seam = np.minimum(delta_e00(under, one), delta_e00(under, other))
        gap = np.minimum(delta_e00(bare, one), delta_e00(bare, other))
        # What it overlaps is the lap, and as much more as it may gape.
        drifting = gap * gap_mm + overlap * (LAP_MM + gap_mm)
        found.append(Flats(np.where(may, _last(flat), -1), _last(theirs), seam, drifting))
    return found[0], found[1]


def _last(stacks: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The last impression of each stack; the last of all for an empty one."""
    last: NDArray[np.int64] = len(stacks) - 1 - np.argmax(stacks[::-1], axis=0)
    return last

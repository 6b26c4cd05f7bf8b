"""Lanes of a slender bit joined to tours, which are gone without a lift.

Open lanes whose ends lie near to each other become one, gone to and fro. Lanes that touch hang together:
rising ones with the wall at whose foot they begin, and with each other where they meet; and so do lanes
between which there is a short free way through the work. The shortest of such ways that hang all together
are taken (Kruskal 1956). A tour goes along one lane, turns aside where another hangs on it, goes along that
and all that hangs on it, and comes back, straight where that is shorter and free.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.cluster.hierarchy import DisjointSet
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from blockwright.cutting.lanes import Lane

_SAME_MM = 1e-6
"""Points of lanes this near to each other are one place."""

_APART_MM = 1.0
"""Places of a lane from which ways to others are looked for lie at least so far apart."""

_SHORTER_MM = 0.1
"""A straight way is taken where it spares more than this, mm."""

_MOST_WAYS = 6
"""Ways that are tried from one lane to another, the shortest first."""

Way = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64] | None]
"""The places (n, 3) between two on the way through the work; None where there is no such way."""


@dataclass(frozen=True, slots=True, eq=False)
class _Hold:
    """Where two lanes hang together: the lanes, the point of each, the places on the way from the first."""

    lanes: tuple[int, int]
    at: tuple[int, int]
    way: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """Places of a tour, and whether they lead along something that was not yet gone."""

    places: NDArray[np.float64]
    new: bool


@dataclass(slots=True)
class _Under:
    """A tour under way: its pieces, how many there are up to the last one that leads to something new, which
    lanes were begun, and what is to be gone next, the last first.
    """

    pieces: list[_Piece] = field(default_factory=list)
    new: int = 0
    begun: set[int] = field(default_factory=set)


@dataclass(frozen=True, slots=True, eq=False)
class _Ahead:
    """Something to be gone: places, or a lane from one of its points."""

    places: NDArray[np.float64] | None = None
    new: bool = False
    lane: int = -1
    begin: int = 0


def tours(lanes: Sequence[Lane], rising: Sequence[Lane], *, way: Way, link_mm: float) -> list[Lane]:
    """Join lanes, and rising lanes that begin at their foot, to as few as hang together.

    Each ``way`` through the work is ``link_mm`` long at most. A tour that goes round a closed lane is closed;
    another ends where it was last at something new.
    """
    chains = _chained(lanes, way, link_mm)
    every = [_parted(lane) for lane in (*chains, *rising)]
    if not every:
        return []
    holds = _ways(every, _touching(len(chains), every), way, link_mm)
    hanging: list[list[tuple[int, _Hold]]] = [[] for _ in every]
    for hold in holds:
        hanging[hold.lanes[0]].append((0, hold))
        hanging[hold.lanes[1]].append((1, hold))
    made = []
    under = _Under()
    for root in _roots(every, holds):
        under.pieces, under.new = [], 0
        _go(every, hanging, under, root)
        if every[root].closed:
            made.append(Lane(_needed(_straightened(under.pieces, way, link_mm))[:-1], closed=True))
        else:
            made.append(Lane(_needed(_straightened(under.pieces[: under.new], way, link_mm)), closed=False))
    return made


def _straightened(pieces: Sequence[_Piece], way: Way, link_mm: float) -> NDArray[np.float64]:
    """The places of a tour, straight from what is new to what is new next where that is shorter and free."""
    kept: list[NDArray[np.float64]] = []
    back: list[NDArray[np.float64]] = []
    for piece in pieces:
        if not piece.new:
            back.append(piece.places)
            continue
        if kept and back:
            kept += _shorter(kept[-1][-1], back, piece.places[0], way, link_mm)
        kept.append(piece.places)
        back = []
    return np.concatenate([*kept, *back])


def _shorter(
    here: NDArray[np.float64],
    back: list[NDArray[np.float64]],
    there: NDArray[np.float64],
    way: Way,
    link_mm: float,
) -> list[NDArray[np.float64]]:
    """The way back, or the straight one between two places."""
    if float(np.hypot(*(there - here)[:2])) > link_mm:
        return back
    length = _length(np.vstack([here, *back, there]))
    if length <= float(np.linalg.norm(there - here)) + _SHORTER_MM:
        return back
    between = way(here, there)
    if between is None or length <= _length(np.vstack([here, between, there])) + _SHORTER_MM:
        return back
    return [between]


def _length(places: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum())


def _chained(lanes: Sequence[Lane], way: Way, link_mm: float) -> list[Lane]:
    """Closed lanes as they are, and open ones hung together from end to end, the nearest first."""
    loose = [lane.points for lane in lanes if not lane.closed]
    chains = [Lane(lane.points, closed=True) for lane in lanes if lane.closed]
    if not loose:
        return chains
    ends = np.array([points[end] for points in loose for end in (0, -1)])
    pairs = cKDTree(ends[:, :2]).query_pairs(link_mm, output_type="ndarray").reshape(-1, 2)
    length = np.linalg.norm(ends[pairs[:, 0], :2] - ends[pairs[:, 1], :2], axis=1)
    order = np.lexsort((pairs[:, 1], pairs[:, 0], length))
    groups = DisjointSet(range(len(loose)))
    held: dict[int, tuple[int, NDArray[np.float64]]] = {}
    for a, b in pairs[order].tolist():
        if a in held or b in held or groups.connected(a // 2, b // 2):
            continue
        between = way(ends[a], ends[b])
        if between is not None:
            groups.merge(a // 2, b // 2)
            held[a], held[b] = (b, between), (a, between[::-1])
    begun: set[int] = set()
    for end in range(len(ends)):
        if end in held or end // 2 in begun:
            continue
        pieces, at = [], end
        while True:
            begun.add(at // 2)
            pieces.append(loose[at // 2][:: 1 if at % 2 == 0 else -1])
            if at ^ 1 not in held:
                break
            at, between = held[at ^ 1]
            pieces.append(between)
        chains.append(Lane(np.concatenate(pieces), closed=False))
    return chains


def _touching(walls: int, lanes: Sequence[Lane]) -> list[_Hold]:
    """Rising lanes, those from number ``walls`` on, held to a wall's foot or to where another one ends."""
    rising = range(walls, len(lanes))
    if not rising:
        return []
    holds = []
    last = np.array([len(lanes[k].points) - 1 for k in rising])
    ends = np.array([lanes[k].points[[0, -1]] for k in rising])
    flat = ends[:, :, :2].reshape(-1, 2)
    if walls:
        at, owner, index, _ = _places(lanes[:walls], 0.0)
        near, place = cKDTree(at[:, :2]).query(flat)
        for k in np.flatnonzero(near <= _SAME_MM).tolist():
            lane, end = divmod(k, 2)
            pair = (int(owner[place[k]]), walls + lane)
            holds.append(_Hold(pair, (int(index[place[k]]), int(last[lane]) * end), np.empty((0, 3))))
    for a, b in cKDTree(flat).query_pairs(_SAME_MM, output_type="ndarray").tolist():
        (one, first), (other, second) = divmod(a, 2), divmod(b, 2)
        if one != other:
            at_ends = (int(last[one]) * first, int(last[other]) * second)
            holds.append(_Hold((walls + one, walls + other), at_ends, np.empty((0, 3))))
    return holds


def _places(
    lanes: Sequence[Lane], apart_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Points of lanes at least so far apart along each, which lane they are of, which point of it, and how
    far from the nearer end of an open one, mm.
    """
    points, owner, index, inward = [], [], [], []
    for k, lane in enumerate(lanes):
        along = np.concatenate(
            [[0.0], np.cumsum(np.linalg.norm(np.diff(lane.points[:, :2], axis=0), axis=1))]
        )
        # The first point in every stretch of that length.
        stretch = np.floor(along / apart_mm) if apart_mm > 0.0 else np.arange(len(along))
        which = np.flatnonzero(np.diff(stretch, prepend=-1.0) > 0.0)
        if not lane.closed and which[-1] != len(along) - 1:
            which = np.append(which, len(along) - 1)
        points.append(lane.points[which])
        owner.append(np.full(len(which), k))
        index.append(which)
        inward.append(np.where(lane.closed, 0.0, np.minimum(along, along[-1] - along))[which])
    return np.concatenate(points), np.concatenate(owner), np.concatenate(index), np.concatenate(inward)


def _ways(lanes: Sequence[Lane], touching: Sequence[_Hold], way: Way, link_mm: float) -> list[_Hold]:
    """The shortest free ways that hang together what does not touch, and what touches, each once."""
    groups = DisjointSet(range(len(lanes)))
    holds = [hold for hold in touching if groups.merge(*hold.lanes)]
    at, owner, index, inward = _places(lanes, _APART_MM)
    pairs = cKDTree(at[:, :2]).query_pairs(link_mm, output_type="ndarray").reshape(-1, 2)
    group = np.array([groups[k] for k in range(len(lanes))], dtype=np.int64)[owner]
    pairs = pairs[group[pairs[:, 0]] != group[pairs[:, 1]]]
    length = np.linalg.norm(at[pairs[:, 0], :2] - at[pairs[:, 1], :2], axis=1) + inward[pairs].sum(axis=1)
    order = np.lexsort((pairs[:, 1], pairs[:, 0], length))
    tried: dict[tuple[int, int], int] = {}
    for k in order.tolist():
        a, b = int(pairs[k, 0]), int(pairs[k, 1])
        both = (int(owner[a]), int(owner[b]))
        if tried.get(both, 0) >= _MOST_WAYS or groups.connected(*both):
            continue
        between = way(at[a], at[b])
        if between is not None:
            groups.merge(*both)
            holds.append(_Hold(both, (int(index[a]), int(index[b])), between))
        else:
            tried[both] = tried.get(both, 0) + 1
    return holds


def _roots(lanes: Sequence[Lane], holds: Sequence[_Hold]) -> list[int]:
    """The lane with which each tour begins: its longest closed one, or else its longest."""
    ends = np.array([hold.lanes for hold in holds], dtype=np.int64).reshape(-1, 2)
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(lanes),) * 2)
    groups, group = connected_components(graph, directed=False)
    best: list[tuple[bool, float, int]] = [(False, -1.0, 0)] * groups
    for k, lane in enumerate(lanes):
        best[group[k]] = max(best[group[k]], (lane.closed, lane.length_mm, -k))
    return [-k for _, _, k in best]


def _go(lanes: Sequence[Lane], hanging: list[list[tuple[int, _Hold]]], under: _Under, root: int) -> None:
    """Go along a lane and all that hangs on it."""
    ahead = [_Ahead(lane=root)]
    while ahead:
        step = ahead.pop()
        if step.places is not None:
            under.pieces.append(_Piece(step.places, step.new))
            if step.new:
                under.new = len(under.pieces)
            continue
        under.begun.add(step.lane)
        lane = lanes[step.lane]
        # Where others hang on it that were not come from.
        leaving: dict[int, list[_Ahead]] = {}
        for end, hold in hanging[step.lane]:
            other = hold.lanes[1 - end]
            if other in under.begun:
                continue
            way = hold.way if end == 0 else hold.way[::-1]
            here = lane.points[[hold.at[end]]]
            leaving.setdefault(hold.at[end], []).extend(
                [_Ahead(way), _Ahead(lane=other, begin=hold.at[1 - end]), _Ahead(way[::-1]), _Ahead(here)]
            )
        ahead += reversed(_along(lane, step.begin, leaving))


def _along(lane: Lane, begin: int, leaving: dict[int, list[_Ahead]]) -> list[_Ahead]:
    """All along a lane from one of its points, aside where others hang on it, and back to the point."""
    points, last = lane.points, len(lane.points) - 1
    if lane.closed:
        turned = np.roll(points, -begin, axis=0)
        places = {(place - begin) % len(points): steps for place, steps in leaving.items()}
        return _with_asides(np.vstack([turned, turned[:1]]), places)
    if begin in (0, last):
        way = points if begin == 0 else points[::-1]
        places = {abs(place - begin): steps for place, steps in leaving.items()}
        return [*_with_asides(way, places), _Ahead(way[::-1])]
    # From within an open lane: to its first end and back, then to its last.
    before = {begin - place: steps for place, steps in leaving.items() if place < begin}
    after = {place - begin: steps for place, steps in leaving.items() if place >= begin}
    there, on = points[begin::-1], points[begin:]
    return [
        *_with_asides(there, before),
        _Ahead(there[::-1]),
        *_with_asides(on, after),
        _Ahead(on[::-1]),
    ]


def _with_asides(points: NDArray[np.float64], leaving: dict[int, list[_Ahead]]) -> list[_Ahead]:
    steps, done = [], 0
    for place in sorted(leaving):
        steps += [_Ahead(points[done : place + 1], new=True), *leaving[place]]
        done = place
    return [*steps, _Ahead(points[done:], new=True)]


def _parted(lane: Lane) -> Lane:
    """A lane with points so close that others can hang on it everywhere."""
    points = np.vstack([lane.points, lane.points[:1]]) if lane.closed else lane.points
    parted = shapely.segmentize(shapely.linestrings(points), _APART_MM)
    places = shapely.get_coordinates(parted, include_z=True)
    return Lane(places[:-1] if lane.closed else places, lane.closed)


def _needed(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points of which none is the same as the one before it, nor on a straight way past it."""
    moved = np.ones(len(points), dtype=np.bool_)
    moved[1:] = (np.abs(np.diff(points, axis=0)) > 0.0).any(axis=1)
    points = points[moved]
    step = np.diff(points, axis=0)
    before, after = step[:-1], step[1:]
    aside = np.linalg.norm(np.cross(before, after), axis=1)
    straight = (aside <= _SAME_MM * np.linalg.norm(before + after, axis=1)) & (
        (before * after).sum(axis=1) > 0
    )
    kept: NDArray[np.float64] = points[np.concatenate([[True], ~straight, [True]])]
    return kept

"""The fewest squares on a grid that hold every cell of an area: a set cover, solved with ever more cells."""

from collections.abc import Sequence
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from blockwright.geometry.square_bounds import far_apart, fewer, in_rank_and_file, moved_to_hold, one_by_one
from blockwright.geometry.square_cells import Cells, all_places, held_by, holders

SEARCH_LIMIT = 2.5
"""Counted seconds of all rounds for one group: about as many on one core."""

MOST_HELD = 20_000_000
"""Squares times cells that they hold, at most, for one group: what fits into memory easily."""

_PRODUCTS_A_SECOND = 3.0e8
"""Pairs of squares that share a cell, compared in a counted second."""

_MOST_PRODUCTS = 4.0e8
"""Beyond so many pairs it takes longer to compare squares than to leave them to the solver."""

_MOST_PAIRED = 60
"""Squares at most for which the longer look for cells that are far apart pays."""

_FEW_MISSING = 0.02
"""Share of the cells that may be missing for the gaps to be worth filling."""

_ROUNDS = 60

Places = list[tuple[int, int]]


def fewest_places(cells: Cells) -> tuple[Places, int]:
    """Upper left cells (row, column) of the fewest squares that hold every filled cell, and a lower bound.

    The bound is the number itself unless the search came to its limit.
    """
    wanted = far_apart(cells)
    bound = len(wanted)
    best = min(in_rank_and_file(cells), one_by_one(cells, cells.filled), key=len)
    if bound < len(best) <= _MOST_PAIRED:
        wanted = max(far_apart(cells, laps=True), wanted, key=len)
        bound = len(wanted)
    places, effort = all_places(cells), SEARCH_LIMIT
    asked: list[NDArray[np.int64]] = []
    for _ in range(_ROUNDS):
        if bound >= len(best) or effort <= 0.0 or sum(map(len, asked)) > MOST_HELD:
            break
        asked += holders(cells, wanted)
        kept, holding, counted = _undominated(asked, cells.places)
        chosen, bound_now, spent = _cover_of(holding, most_effort=max(effort - counted, 1e-3))
        bound, effort = max(bound, bound_now), effort - counted - spent
        if not chosen:
            break
        laid = _as_places(places[kept[chosen]])
        missing = cells.filled & ~held_by(cells, laid)
        wanted = _ends_of_each(missing) if missing.any() else wanted[:0]
        # Moved a little they may hold all, and what the gaps take besides is a cover too.
        if missing.sum() < _FEW_MISSING * cells.filled.sum():
            laid, missing = moved_to_hold(cells, laid)
            if missing.any():
                wanted = np.unique(np.concatenate([wanted, _ends_of_each(missing)]), axis=0)
            best = min(best, [*laid, *one_by_one(cells, missing)], key=len)
    if bound < len(best):
        best = fewer(cells, best, at_least=bound)
    return best, min(bound, len(best))


def _as_places(rows: NDArray[np.int64]) -> Places:
    return [(int(row), int(column)) for row, column in rows]


def _ends_of_each(missing: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Of every connected part of the cells that are missing those that lie at its four ends."""
    import cv2

    count, part = cv2.connectedComponents(missing.astype(np.uint8), connectivity=8)
    found = []
    for each in range(1, count):
        points = np.argwhere(part == each)
        found += [points[0], points[-1], points[np.argmin(points[:, 1])], points[np.argmax(points[:, 1])]]
    return np.unique(np.array(found, dtype=np.int64), axis=0)


def _undominated(
    asked: Sequence[NDArray[np.int64]], places: tuple[int, int]
) -> tuple[NDArray[np.int64], sparse.csr_array, float]:
    """The squares worth trying, which cells each holds, (squares, cells), and counted seconds.

    Of those that hold the same cells the middle one is kept, and none that holds less than another.
    """
    cell = np.repeat(np.arange(len(asked)), [len(each) for each in asked])
    one = np.ones(len(cell), dtype=np.int32)
    whole = (places[0] * places[1], len(asked))
    holding = sparse.csr_array((one, (np.concatenate(asked), cell)), shape=whole)
    kept, alike = _different(holding)
    holding = holding[kept]
    # Most are beaten by a square beside them; that is soon seen, and leaves few to compare with all others.
    free = ~_beaten_beside(holding, alike.reshape(places))
    kept, holding = kept[free], holding[free]
    products = float((np.asarray(holding.sum(axis=0), dtype=np.float64) ** 2).sum())
    if products > _MOST_PRODUCTS:
        return kept, holding, 0.0
    size = np.asarray(holding.sum(axis=1)).ravel()
    shared = (holding @ holding.T).tocoo()
    beaten = shared.row[(shared.data == size[shared.row]) & (shared.row != shared.col)]
    free = np.ones(len(kept), dtype=np.bool_)
    free[beaten] = False
    return kept[free], holding[free], products / _PRODUCTS_A_SECOND


def _different(holding: sparse.csr_array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The squares that hold any of the wanted cells, of those that hold the same ones the middle one.

    And for every square which of them holds the same cells, -1 where it holds none.
    """
    some = np.flatnonzero(np.diff(holding.indptr))
    # Sets of cells are told apart by two sums of random 64-bit numbers: that two agree by chance is out of
    # the question (2^-128).
    marks = np.random.default_rng(0).integers(0, 2**64, size=(2, holding.shape[1]), dtype=np.uint64)
    sums = [np.add.reduceat(mark[holding.indices], holding.indptr[some]) for mark in marks]
    order = np.lexsort((some, *sums))
    changes = np.any([np.diff(each[order]) != 0 for each in sums], axis=0)
    starts = np.concatenate([[0], np.flatnonzero(changes) + 1])
    ends = np.append(starts[1:], len(order))
    middle = some[order[(starts + ends - 1) // 2]]
    rank = np.argsort(middle)
    place_of = np.empty(len(middle), dtype=np.int64)
    place_of[rank] = np.arange(len(middle))
    alike = np.full(holding.shape[0], -1, dtype=np.int64)
    alike[some[order]] = np.repeat(place_of, ends - starts)
    return middle[rank], alike


def _beaten_beside(holding: sparse.csr_array, alike: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which squares hold less than one that lies a cell farther, or than one that is like that one."""
    met = []
    for a, b in ((alike[:, :-1], alike[:, 1:]), (alike[:-1], alike[1:])):
        both = (a >= 0) & (b >= 0) & (a != b)
        met.append(a[both] * len(alike.flat) + b[both])
    one, other = np.divmod(np.unique(np.concatenate(met)), len(alike.flat))
    size = np.asarray(holding.sum(axis=1)).ravel()
    shared = np.asarray(holding[one].multiply(holding[other]).sum(axis=1)).ravel()
    beaten = np.zeros(holding.shape[0], dtype=np.bool_)
    beaten[one[shared == size[one]]] = True
    beaten[other[shared == size[other]]] = True
    return beaten


def _cover_of(holding: sparse.csr_array, *, most_effort: float) -> tuple[list[int], int, float]:
    """The fewest squares that hold all the cells that are asked for, a lower bound, and counted seconds.

    No squares when the effort did not do.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    taken = [model.new_bool_var("") for _ in range(holding.shape[0])]
    columns = holding.tocsc()
    for start, end in zip(columns.indptr[:-1], columns.indptr[1:], strict=True):
        model.add_bool_or([taken[k] for k in columns.indices[start:end]])
    model.minimize(sum(taken))
    solver = cp_model.CpSolver()
    # One worker and a limit in counted steps: the same squares on every machine.
    solver.parameters.catch_sigint_signal = False  # Ctrl-C stays with who runs the job, during and after
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.linearization_level = 2  # linear bounds prove covers soonest
    solver.parameters.max_deterministic_time = most_effort
    status = solver.solve(model)
    spent = solver.response_proto.deterministic_time
    bound = ceil(solver.best_objective_bound - 1e-6)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return [], bound, spent
    return [k for k, each in enumerate(taken) if solver.value(each)], bound, spent

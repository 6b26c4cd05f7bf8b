"""Choosing stock boards for unequal pieces: full blocks, part blocks, the registration board and its pads."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Literal

from blockwright.blocks.nesting import Counts, Fronts, Held, Size, find_fronts, pieces_in, rests_in, splits_of
from blockwright.blocks.sawing import LEAST_OFFCUT_MM
from blockwright.model.blocks import Grain, Piece, SawnBoard
from blockwright.model.settings import Stock

SPLIT_LIMIT = 100_000
"""Ways to part pieces in two beyond which small ones are joined beforehand: a second or so."""

EFFORT = 4.0
"""The solver's own measure of time, a few seconds at most; the same on every machine."""

_PER_MM = 1000

Runs = Literal["width", "height"]
"""The way in which the grain runs on the pieces as they are seen on the print."""

Importance = Literal[3, 2, 1]
"""What is gone without first where wood is short: 1 before 2 before 3."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A piece to be sawn, its size (mm) as it is seen on the print, and how ill it can be gone without."""

    name: str
    width_mm: float
    height_mm: float
    importance: Importance = 3


@dataclass(frozen=True, slots=True)
class Nested:
    """How the pieces are sawn: the stock boards in the order of their kinds, and which pieces are missing.

    All are of one wood and thickness with the grain running one way. ``area_mm2`` is of the stock boards that
    are sawn up; no less is possible where ``proven``, and ``at_least_mm2`` in any case.
    """

    kinds: tuple[Stock, ...]
    runs: Runs
    sawn: tuple[SawnBoard, ...]
    missing: tuple[str, ...]
    area_mm2: int
    at_least_mm2: int
    proven: bool


def nest_pieces(
    pieces: Sequence[Wanted], stock: Sequence[Stock], *, kerf_mm: float, runs: Sequence[Runs]
) -> Nested | None:
    """Saw the pieces from the least wood by area, with the grain running in one of the ways ``runs``.

    The fewest and least important pieces are missing, then the least area is used, then the fewest kinds;
    of equal ones the first of ``runs`` is taken and the boards that come first by size and name. None without
    any stock.

    >>> plank = Stock(name="p", wood="cherry", width_mm=300, height_mm=200, thickness_mm=20)
    >>> two = [Wanted("A", 150, 200), Wanted("B", 140, 60)]
    >>> nested = nest_pieces(two, [plank], kerf_mm=3.0, runs=("width",))
    >>> [(each.name, each.x_mm, each.y_mm) for each in nested.sawn[0].blocks]
    [('A', 0.0, 0.0), ('B', 153.0, 0.0)]
    """
    alike: dict[tuple[str, float], list[Stock]] = {}
    for kind in sorted(stock, key=lambda each: (each.width_mm * each.height_mm, each.name)):
        alike.setdefault((kind.wood, kind.thickness_mm), []).append(kind)
    options = [
        (_weight(nested, pieces), nested.area_mm2, way, kinds[0].name, kinds[0].wood, nested)
        for kinds in alike.values()
        for way, run in enumerate(runs)
        for nested in (_nest(pieces, kinds, kerf_mm, run),)
    ]
    return min(options, key=lambda option: option[:5])[5] if options else None


def _weight(nested: Nested, pieces: Sequence[Wanted]) -> tuple[int, ...]:
    """How many of each importance are missing, the most important first."""
    gone = set(nested.missing)
    return tuple(sum(p.name in gone and p.importance == each for p in pieces) for each in (3, 2, 1))


def _whole(length_mm: float) -> int:
    return round(length_mm * _PER_MM)


def _as_it_lies(piece: Wanted, runs: Runs) -> Size:
    """A piece's size along its grain and across."""
    sides = _whole(piece.width_mm), _whole(piece.height_mm)
    return sides if runs == "width" else (sides[1], sides[0])


def _along_width(kind: Stock) -> bool:
    """Whether the grain of a stock board runs along its width; ``grain`` is told of its longer side."""
    return (kind.width_mm >= kind.height_mm) == (kind.grain == "along")


def _board(kind: Stock) -> Size:
    """A stock board's size along its grain and across."""
    sides = _whole(kind.width_mm), _whole(kind.height_mm)
    return sides if _along_width(kind) else (sides[1], sides[0])


@dataclass(frozen=True, slots=True)
class _Lot:
    """Pieces that lie in a rectangle of their own, mostly one: their names, and where they lie in it."""

    size: Size
    importance: int
    names: tuple[str, ...]
    held: Held

    @property
    def area(self) -> int:
        return self.size[0] * self.size[1]


def _nest(pieces: Sequence[Wanted], kinds: Sequence[Stock], kerf_mm: float, runs: Runs) -> Nested:
    kerf = _whole(kerf_mm)
    boards = [_board(kind) for kind in kinds]
    lots = [
        _Lot(size, piece.importance, (piece.name,), Held(*size, kind=0))
        for piece in pieces
        for size in (_as_it_lies(piece, runs),)
    ]
    whole = len(lots)
    while splits_of(_numbers(lots, boards)[1]) > SPLIT_LIMIT and (closer := _join_two(lots, boards, kerf)):
        lots = closer
    classes, counts = _numbers(lots, boards)
    fronts = find_fronts([each[0].size for each in classes], counts, boards, kerf=kerf)
    choice = _choose(classes, counts, fronts, kinds, boards)
    left = [list(each) for each in classes]
    sawn = []
    for number, (k, taken) in enumerate(choice.patterns):
        here = tuple(min(count, len(rest)) for count, rest in zip(taken, left, strict=True))
        if not any(here):
            continue
        own = [[rest.pop(0) for _ in range(count)] for rest, count in zip(left, here, strict=True)]
        nth = 1 + sum(other == k for other, _ in choice.patterns[:number])
        sawn.append(_saw(kinds[k], f"{kinds[k].name} {nth}", own, fronts[here], kerf))
    area = sum(round(board.width_mm * board.height_mm) for board in sawn)
    at_least = choice.at_least_mm2
    if len(lots) < whole:
        there = {piece.name for board in sawn for piece in board.blocks}
        wood = sum(piece.width_mm * piece.height_mm for piece in pieces if piece.name in there)
        at_least = max(int(wood), _bound(lots, kinds, boards, kerf))
    return Nested(
        kinds=tuple(kinds),
        runs=runs,
        sawn=tuple(sawn),
        missing=tuple(name for rest in left for lot in rest for name in lot.names),
        area_mm2=area,
        at_least_mm2=min(area, at_least),
        proven=at_least >= area,
    )


def _bound(lots: Sequence[_Lot], kinds: Sequence[Stock], boards: Sequence[Size], kerf: int) -> int:
    """The area that the pieces need which were not joined: all together cannot have less."""
    classes, counts = _numbers([lot for lot in lots if len(lot.names) == 1], boards)
    fronts = find_fronts([each[0].size for each in classes], counts, boards, kerf=kerf)
    return _choose(classes, counts, fronts, kinds, boards).at_least_mm2


def _numbers(lots: Sequence[_Lot], boards: Sequence[Size]) -> tuple[list[list[_Lot]], Counts]:
    """Lots of one size together, the most important first, and how many of them one board may hold."""
    classes: dict[Size, list[_Lot]] = {}
    for lot in sorted(lots, key=lambda each: -each.importance):
        classes.setdefault(lot.size, []).append(lot)
    most = [max((board[0] // width) * (board[1] // height) for board in boards) for width, height in classes]
    counts = tuple(min(len(each), fit) for each, fit in zip(classes.values(), most, strict=True))
    return list(classes.values()), counts


def _join_two(lots: Sequence[_Lot], boards: Sequence[Size], kerf: int) -> list[_Lot] | None:
    """The lots with two small ones joined to one, of few pieces and with little waste; None if none fit."""
    best: tuple[tuple[int, int, int, int, bool], _Lot] | None = None
    for i, j in combinations(range(len(lots)), 2):
        one, other = lots[i], lots[j]
        if one.importance != other.importance or one.importance == 3:
            continue
        for held in _both(one, other, kerf):
            if not any(held.width <= board[0] and held.height <= board[1] for board in boards):
                continue
            waste = held.width * held.height - one.area - other.area
            key = len(one.names) + len(other.names), waste, i, j, held.beside
            if best is None or key < best[0]:
                names = (*one.names, *other.names)
                best = key, _Lot((held.width, held.height), one.importance, names, held)
    if best is None:
        return None
    (_, _, i, j, _), joined = best
    return [*(lot for k, lot in enumerate(lots) if k not in (i, j)), joined]


def _both(one: _Lot, other: _Lot, kerf: int) -> Iterator[Held]:
    second = _renumbered(other.held, len(one.names))
    (w0, h0), (w1, h1) = one.size, other.size
    yield Held(w0 + kerf + w1, max(h0, h1), first=one.held, second=second)
    yield Held(max(w0, w1), h0 + kerf + h1, first=one.held, second=second, beside=False)


def _renumbered(held: Held, by: int) -> Held:
    """The same rectangle with the numbers of its pieces raised."""
    if held.first is None or held.second is None:
        return Held(held.width, held.height, kind=held.kind + by)
    first, second = _renumbered(held.first, by), _renumbered(held.second, by)
    return Held(held.width, held.height, first=first, second=second, beside=held.beside)


@dataclass(frozen=True, slots=True)
class _Choice:
    """For each stock board that is taken its kind and what it gives; and how little area is possible."""

    patterns: tuple[tuple[int, Counts], ...]
    at_least_mm2: int


def _choose(
    classes: Sequence[Sequence[_Lot]],
    counts: Counts,
    fronts: Fronts,
    kinds: Sequence[Stock],
    boards: Sequence[Size],
) -> _Choice:
    """Cover what is wanted by what boards can give, with the least area.

    A program in whole numbers, solved by CP-SAT.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    wanted = [len(each) for each in classes]
    taken: list[tuple[int, Counts, Any]] = []
    for k, (kind, board) in enumerate(zip(kinds, boards, strict=True)):
        most = sum(wanted) if kind.count is None else min(kind.count, sum(wanted))
        mine = [(k, pattern, model.new_int_var(0, most, "")) for pattern in _most_on(board, fronts, counts)]
        model.add(sum(var for _, _, var in mine) <= most)
        taken += mine
    gone = []
    for c, lots in enumerate(classes):
        numbers = [(each, sum(lot.importance == each for lot in lots)) for each in (1, 2, 3)]
        lacking = [(each, model.new_int_var(0, number, "")) for each, number in numbers if number]
        model.add(
            sum(pattern[c] * var for _, pattern, var in taken) + sum(var for _, var in lacking) >= len(lots)
        )
        gone += lacking
    used = [model.new_bool_var("") for _ in kinds]
    for k, _, var in taken:
        model.add(var <= sum(wanted) * used[k])
    area = sum(round(kinds[k].width_mm * kinds[k].height_mm) * var for k, _, var in taken)
    # First what is missing, one importance after the other; then area; then kinds.
    most_area = 1 + sum(wanted) * max(round(kind.width_mm * kind.height_mm) for kind in kinds)
    several = len(kinds) + 1
    weights = {each: most_area * several * (1 + sum(wanted)) ** (each - 1) for each in (1, 2, 3)}
    loss = sum(weights[each] * var for each, var in gone)
    model.minimize(loss + several * area + sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False
    solver.parameters.random_seed = 0
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = EFFORT
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return _Choice((), 0)
    patterns = tuple((k, pattern) for k, pattern, var in taken for _ in range(solver.value(var)))
    lost = sum(weights[each] * solver.value(var) for each, var in gone)
    bound = -(-(round(solver.best_objective_bound) - lost - sum(map(solver.value, used))) // several)
    return _Choice(patterns, max(0, bound))


def _most_on(board: Size, fronts: Fronts, counts: Counts) -> list[Counts]:
    """What a board can give, without what leaves out a piece that it has room for."""
    fit = {
        pattern
        for pattern, least in fronts.items()
        if any(held.width <= board[0] and held.height <= board[1] for held in least)
    }

    def one_more(pattern: Counts) -> Iterator[Counts]:
        for c, count in enumerate(pattern):
            if count < counts[c]:
                yield (*pattern[:c], count + 1, *pattern[c + 1 :])

    return sorted(pattern for pattern in fit if not any(more in fit for more in one_more(pattern)))


def _saw(
    kind: Stock, name: str, own: Sequence[Sequence[_Lot]], fronts: Sequence[Held], kerf: int
) -> SawnBoard:
    """A board with its pieces and the offcuts that are worth keeping, the way that leaves the largest."""
    width, height = _board(kind)
    plans = [
        (held, sorted(_worth(rests_in(held, 0, 0, width, height, kerf)), key=lambda r: (-r[2] * r[3], r)))
        for held in fronts
        if held.width <= width and held.height <= height
    ]
    held, rests = min(
        plans, key=lambda plan: (-plan[1][0][2] * plan[1][0][3] if plan[1] else 0, len(plan[1]))
    )
    waiting = [list(each) for each in own]
    blocks = [
        piece
        for c, x, y in pieces_in(held)
        for piece in _pieces(waiting[c].pop(0), x, y, along_width=_along_width(kind))
    ]
    offcuts = [
        _piece(f"offcut {number} of {name}", rest, along_width=_along_width(kind))
        for number, rest in enumerate(rests, start=1)
    ]
    return SawnBoard(
        name=name,
        stock=kind.name,
        width_mm=kind.width_mm,
        height_mm=kind.height_mm,
        blocks=tuple(sorted(blocks, key=lambda piece: (len(piece.name), piece.name))),
        offcuts=tuple(offcuts),
    )


def _worth(rests: Iterator[tuple[int, int, int, int]]) -> list[tuple[int, int, int, int]]:
    return [rest for rest in rests if min(rest[2:]) >= LEAST_OFFCUT_MM * _PER_MM]


def _pieces(lot: _Lot, x: int, y: int, *, along_width: bool) -> Iterator[Piece]:
    sizes = {held.kind: (held.width, held.height) for held in _single(lot.held)}
    for k, at_x, at_y in pieces_in(lot.held, x, y):
        yield _piece(lot.names[k], (at_x, at_y, *sizes[k]), along_width=along_width)


def _single(held: Held) -> Iterator[Held]:
    """The rectangles that are pieces."""
    if held.first is None or held.second is None:
        yield held
        return
    yield from _single(held.first)
    yield from _single(held.second)


def _piece(name: str, rest: tuple[int, int, int, int], *, along_width: bool) -> Piece:
    x, y, width, height = (each / _PER_MM for each in rest)
    return Piece(name, x, y, width, height) if along_width else Piece(name, y, x, height, width)


def grain_of(width_mm: float, height_mm: float, runs: Runs) -> Grain:
    """How the grain runs on a block of a size: along its longer side, or across.

    >>> grain_of(300, 200, "width"), grain_of(40, 60, "width")
    ('along', 'across')
    """
    if width_mm == height_mm:
        return "along"
    return "along" if (width_mm > height_mm) == (runs == "width") else "across"

"""Choosing the boards that the blocks are cut from: the least wood, as far as there is enough of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from blockwright.blocks.sawing import FIT_MM, Grid, grid_on_board
from blockwright.model.blocks import Grain
from blockwright.model.findings import Finding
from blockwright.model.settings import Stock


@dataclass(frozen=True, slots=True)
class StockChoice:
    """The boards that are taken, how the grain runs on the blocks, and findings.

    ``taken`` has each kind with the number of its boards that are sawn up, the smallest first; all are of one
    wood and thickness. ``grids`` tells for each kind by name how blocks lie on it. ``stock`` is the kind that
    most blocks come from. When none is big enough, ``holds`` is False and ``stock`` the largest known, or
    None when none is named.
    """

    stock: Stock | None
    holds: bool
    grain: Grain
    findings: tuple[Finding, ...] = ()
    taken: tuple[tuple[Stock, int], ...] = ()
    grids: Mapping[str, Grid] = field(default_factory=dict)


def grain_on_block(stock: Stock, *, width_mm: float, height_mm: float) -> Grain | None:
    """Return how the grain would run on a block of this size (mm), or None when the block does not fit.

    ``along`` means along the longer side, of the stock board and of the block alike. The block is laid on
    the board either way round, with the grain along its longer side if that fits.

    >>> board = Stock(name="p", wood="cherry", width_mm=400, height_mm=300, thickness_mm=20, grain="across")
    >>> grain_on_block(board, width_mm=350, height_mm=280), grain_on_block(board, width_mm=200, height_mm=280)
    ('across', 'along')
    """
    long, short = max(width_mm, height_mm), min(width_mm, height_mm)
    board_long, board_short = max(stock.width_mm, stock.height_mm), min(stock.width_mm, stock.height_mm)
    straight = long <= board_long + FIT_MM and short <= board_short + FIT_MM
    turned = long <= board_short + FIT_MM and short <= board_long + FIT_MM
    if straight and (stock.grain == "along" or long - short <= FIT_MM):
        return "along"
    if turned and stock.grain == "across":
        return "along"
    return "across" if straight or turned else None


def choose_stock(
    stock: Sequence[Stock],
    *,
    width_mm: float,
    height_mm: float,
    boards_needed: int,
    kerf_mm: float = 3.0,
    grain: Literal["any", "along"] = "any",
) -> StockChoice:
    """Choose the boards that blocks of a size (mm) are sawn from.

    All blocks of a print come from one wood of one thickness, with the grain running one way on all of them,
    so that they move and print alike. Of such boards those are taken that are on hand for the most blocks,
    then the least wood by area; of equal ones those whose grain runs along the blocks, the fewest kinds, and
    boards that are sawn the least. With ``grain`` "along" no others count. When the boards do not suffice, or
    none is big enough, a finding stops the work.
    """
    by_size = sorted(stock, key=lambda kind: (kind.width_mm * kind.height_mm, kind.name))
    size = {"width_mm": width_mm, "height_mm": height_mm}
    grains = {
        kind: runs
        for kind in by_size
        if (runs := grain_on_block(kind, **size)) and (grain == "any" or runs == "along")
    }
    if not grains:
        largest = by_size[-1] if by_size else None
        along = any(grain_on_block(kind, **size) for kind in by_size)
        finding = none_big_enough(largest, width_mm, height_mm, only_across=along)
        return StockChoice(largest, False, "along", (finding,))
    options = [
        _option(alike, runs, size, boards_needed, kerf_mm) for (_, _, runs), alike in _alike(grains).items()
    ]
    best = min(options, key=lambda option: option.rank)
    smallest = next(iter(grains))
    per_board = _grid(smallest, size, grains[smallest], kerf_mm).blocks
    findings = []
    if best.missing:
        findings.append(_too_few(smallest, boards_needed, best.missing, -(-boards_needed // per_board)))
    elif smallest.count is not None and smallest.count * per_board < boards_needed:
        findings.append(_larger_taken(smallest, boards_needed, best, per_board))
    main = max(best.taken, key=lambda each: best.grids[each[0].name].blocks * each[1], default=(smallest, 0))[
        0
    ]
    if best.grain == "across":
        findings.append(grain_across(main))
    return StockChoice(main, True, best.grain, tuple(findings), best.taken, best.grids)


@dataclass(frozen=True, slots=True)
class _Option:
    """The boards that would be taken of one wood, thickness and grain; ``rank`` is less for better ones."""

    taken: tuple[tuple[Stock, int], ...]
    missing: int
    grain: Grain
    grids: Mapping[str, Grid]
    rank: tuple[int, int, bool, str, str]


def _alike(grains: Mapping[Stock, Grain]) -> dict[tuple[str, float, Grain], list[Stock]]:
    """The kinds of one wood and thickness on which the grain runs the same way, by size."""
    alike: dict[tuple[str, float, Grain], list[Stock]] = {}
    for kind, runs in grains.items():
        alike.setdefault((kind.wood, kind.thickness_mm, runs), []).append(kind)
    return alike


def _grid(kind: Stock, size: Mapping[str, float], grain: Grain, kerf_mm: float) -> Grid:
    grid = grid_on_board(
        kind, width_mm=size["width_mm"], height_mm=size["height_mm"], grain=grain, kerf_mm=kerf_mm
    )
    assert grid is not None, "a board that holds a block has room for one"
    return grid


def _option(
    kinds: Sequence[Stock], grain: Grain, size: Mapping[str, float], needed: int, kerf_mm: float
) -> _Option:
    grids = {kind.name: _grid(kind, size, grain, kerf_mm) for kind in kinds}
    counts, missing = least_wood(
        [(round(kind.width_mm * kind.height_mm), grids[kind.name].blocks, kind.count) for kind in kinds],
        needed,
    )
    taken = tuple((kind, count) for kind, count in zip(kinds, counts, strict=True) if count)
    area = sum(round(kind.width_mm * kind.height_mm) * count for kind, count in taken)
    return _Option(
        taken, missing, grain, grids, (missing, area, grain == "across", kinds[0].name, kinds[0].wood)
    )


_Way = tuple[int, int, int, tuple[int, ...]]
"""Area, kinds, and below none the boards, together and of each kind: less is better."""


def least_wood(kinds: Sequence[tuple[int, int, int | None]], needed: int) -> tuple[tuple[int, ...], int]:
    """Return how many boards of each kind to take for so many blocks, and how many blocks are missing.

    A kind is its area (mm2), the blocks that one board of it gives (at least 1), and how many are on hand
    (None for as many as one likes). The least are missing, then the least area is used, the fewest kinds,
    and of equal ones the most boards and the first kinds. Worked out over the number of blocks still to be
    found, so it is exact.

    >>> least_wood([(10, 1, 2), (18, 2, None)], needed=5)
    ((1, 2), 0)
    """
    ways: dict[int, _Way] = {needed: (0, 0, 0, ())}
    for area, blocks, count in kinds:
        further: dict[int, _Way] = {}
        for left, (used, kinds_used, fewer, counts) in ways.items():
            most = -(-left // blocks)
            for boards in range((most if count is None else min(count, most)) + 1):
                still = max(0, left - boards * blocks)
                way = (used + boards * area, kinds_used + (boards > 0), fewer - boards, (*counts, -boards))
                if still not in further or way < further[still]:
                    further[still] = way
        ways = further
    missing = min(ways)
    return tuple(-boards for boards in ways[missing][3]), missing


def none_big_enough(
    largest: Stock | None, width_mm: float, height_mm: float, *, only_across: bool
) -> Finding:
    """The finding that no board holds a block of a size (mm), or none with the grain as it is wanted."""
    block = f"The blocks are {width_mm:.0f} x {height_mm:.0f} mm"
    if only_across:
        known = "no board holds one with the grain along its longer side"
    elif largest:
        known = (
            f"the largest board known is {largest.name}, {largest.width_mm:.0f} x {largest.height_mm:.0f} mm"
        )
    else:
        known = "no board is named"
    return Finding(
        code="no-board-big-enough",
        severity="stop",
        message=f"{block}, and {known}; name a larger board under [[blocks.stock]], "
        "or make the print or block_over_mm smaller.",
        about=(("width_mm", width_mm), ("height_mm", height_mm)),
    )


def grain_across(taken: Stock) -> Finding:
    """The finding that the grain crosses the longer side of the blocks."""
    return Finding(
        code="grain-across",
        severity="note",
        message=f"The grain of {taken.name} runs across the block's longer side; "
        "wood moves across the grain, so the longer side will swell and shrink. "
        "Take boards with the grain along it, if they are to be had.",
    )


def _larger_taken(smallest: Stock, needed: int, best: _Option, per_board: int) -> Finding:
    others = [kind.name for kind, _ in best.taken if kind != smallest]
    on_hand = f"only {smallest.count} of {smallest.name} {'is' if smallest.count == 1 else 'are'} on hand"
    return Finding(
        code="larger-board-taken",
        severity="note",
        message=f"{_blocks(needed)} needed and {on_hand}, so others are cut from "
        f"{' and '.join(others)}. Get more of the smaller boards to save wood.",
        about=(("board", smallest.name), ("count", -(-needed // per_board))),
    )


def _too_few(smallest: Stock, needed: int, missing: int, boards: int) -> Finding:
    return Finding(
        code="boards-short",
        severity="stop",
        message=f"{_blocks(needed)} needed, and the boards on hand give {needed - missing}: {missing} short. "
        f"Get more of {smallest.name}, or name other boards under [[blocks.stock]].",
        about=(("board", smallest.name), ("count", boards)),
    )


def _blocks(number: int) -> str:
    return f"{number} block{'s are' if number != 1 else ' is'}"

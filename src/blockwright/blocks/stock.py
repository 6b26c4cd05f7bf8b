"""Choosing the board that the blocks are cut from."""

from collections.abc import Sequence
from dataclasses import dataclass

from blockwright.model.blocks import Grain
from blockwright.model.findings import Finding
from blockwright.model.settings import Stock

FIT_MM = 1e-6
"""A block this much larger than its board still fits, mm: sums of settings carry rounding errors."""


@dataclass(frozen=True, slots=True)
class StockChoice:
    """The kind of board, how its grain runs on the block, and findings.

    When none is big enough, ``holds`` is False and ``stock`` the largest known, or None when none is named.
    """

    stock: Stock | None
    holds: bool
    grain: Grain
    findings: tuple[Finding, ...] = ()


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
    stock: Sequence[Stock], *, width_mm: float, height_mm: float, boards_needed: int
) -> StockChoice:
    """Choose the smallest kind of board that holds a block of this size (mm) and is on hand often enough.

    Smallest by area, then by name. When no kind is on hand often enough, the smallest that holds the block
    is taken and a finding says how many boards are short. When none is big enough, a finding stops the work.
    """
    by_size = sorted(stock, key=lambda kind: (kind.width_mm * kind.height_mm, kind.name))
    grains = {
        kind: grain
        for kind in by_size
        if (grain := grain_on_block(kind, width_mm=width_mm, height_mm=height_mm))
    }
    if not grains:
        largest = by_size[-1] if by_size else None
        return StockChoice(largest, False, "along", (_none_big_enough(largest, width_mm, height_mm),))
    smallest = next(iter(grains))
    chosen = next((kind for kind in grains if kind.count is None or kind.count >= boards_needed), smallest)
    findings = []
    if smallest.count is not None and smallest.count < boards_needed:
        findings.append(_too_few(smallest, boards_needed, chosen))
    if grains[chosen] == "across":
        findings.append(
            Finding(
                code="grain-across",
                severity="note",
                message=f"The grain of {chosen.name} runs across the block's longer side; "
                "wood moves across the grain, so the longer side will swell and shrink. "
                "Take boards with the grain along it, if they are to be had.",
            )
        )
    return StockChoice(chosen, True, grains[chosen], tuple(findings))


def _none_big_enough(largest: Stock | None, width_mm: float, height_mm: float) -> Finding:
    block = f"The blocks are {width_mm:.0f} x {height_mm:.0f} mm"
    if largest:
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


def _too_few(smallest: Stock, needed: int, chosen: Stock) -> Finding:
    boards = f"{needed} board{'s are' if needed > 1 else ' is'} needed"
    about = (("board", smallest.name), ("count", needed))
    on_hand = f"{smallest.count} of {smallest.name} {'is' if smallest.count == 1 else 'are'} on hand"
    if chosen is not smallest:
        return Finding(
            code="larger-board-taken",
            severity="note",
            message=f"{boards} and only {on_hand}, so the blocks are cut from {chosen.name}. "
            "Get more of the smaller boards to save wood.",
            about=about,
        )
    return Finding(
        code="boards-short",
        severity="warn",
        message=f"{boards} and only {on_hand}: {needed - (smallest.count or 0)} short. "
        "Get more, or name other boards under [[blocks.stock]].",
        about=about,
    )

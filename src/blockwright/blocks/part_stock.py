"""The wood of a print with part blocks: these, full blocks, the registration board, from boards on hand."""

from collections.abc import Sequence
from dataclasses import dataclass

from blockwright.blocks.lettering import letter_board
from blockwright.blocks.piece_stock import Nested, Runs, Wanted, grain_of, nest_pieces
from blockwright.blocks.stock import choose_stock, grain_across, none_big_enough
from blockwright.model.blocks import Board, Face, SawnBoard
from blockwright.model.findings import Finding
from blockwright.model.registration import RegistrationBoard
from blockwright.model.settings import BlocksTable, Stock
from blockwright.model.units import Region

BOARD, KAGI_PAD, HIKITSUKE_PAD = "registration board", "kagi pad", "hikitsuke pad"
"""What the pieces of the registration board are called where boards are sawn."""


@dataclass(frozen=True, slots=True)
class Pieced:
    """The boards with their faces, the part blocks last; the stock boards that they come from; findings."""

    boards: tuple[Board, ...]
    sawn: tuple[SawnBoard, ...]
    findings: tuple[Finding, ...]


def cut_pieces(
    paired: Sequence[tuple[Face, ...]],
    parts: Sequence[Face],
    registration: RegistrationBoard,
    *,
    block: Region,
    settings: BlocksTable,
) -> Pieced:
    """Saw full blocks, part blocks and what the registration board needs from the boards on hand.

    All are of one wood and thickness, with the grain running one way on the print, so that they move alike;
    where it can, along the longer side of a full block.
    """
    width, height = _size(block)
    full = [(letter_board(k), width, height, faces) for k, faces in enumerate(paired)]
    small = [
        (letter_board(len(full) + k), *_size(face.part or block), (face,)) for k, face in enumerate(parts)
    ]
    pieces = [Wanted(name, wide, high, 3) for name, wide, high, _ in full]
    pieces += [Wanted(name, wide, high, 2) for name, wide, high, _ in small]
    if registration.sawn:
        for name, region in (
            (BOARD, registration.outline),
            (KAGI_PAD, registration.kagi_pad),
            (HIKITSUKE_PAD, registration.hikitsuke_pad),
        ):
            pieces.append(Wanted(name, *_size(region), 1))
    first: Runs = "width" if width >= height else "height"
    second: Runs = "height" if first == "width" else "width"
    ways = (first,) if settings.grain == "along" else (first, second)
    nested = nest_pieces(pieces, settings.stock, kerf_mm=settings.kerf_mm, runs=ways)
    runs = nested.runs if nested else first
    cut_from = {piece.name: board.stock for board in nested.sawn for piece in board.blocks} if nested else {}
    main = _main(nested, settings.stock)
    boards = tuple(
        Board(
            name=name,
            stock=cut_from.get(name, ""),
            wood=main.wood if main else "",
            width_mm=wide,
            height_mm=high,
            thickness_mm=main.thickness_mm if main else 0.0,
            grain=grain_of(wide, high, runs),
            faces=faces,
        )
        for name, wide, high, faces in (*full, *small)
    )
    findings = _check(nested, pieces, settings)
    if nested and not nested.missing and not nested.proven:
        findings.append(_not_proven(nested))
    if nested and nested.sawn and runs != first and main:
        findings.append(grain_across(main))
    return Pieced(boards, nested.sawn if nested else (), tuple(findings))


def check_saving(
    sawn: Sequence[SawnBoard], full_blocks: int, *, block: Region, settings: BlocksTable
) -> list[Finding]:
    """Note that part blocks take as much wood as ``full_blocks`` full ones, without them, would."""
    width, height = _size(block)
    without = choose_stock(
        settings.stock,
        width_mm=width,
        height_mm=height,
        boards_needed=full_blocks,
        kerf_mm=settings.kerf_mm,
        grain=settings.grain,
    )
    there = sum(board.width_mm * board.height_mm for board in sawn)
    otherwise = sum(kind.width_mm * kind.height_mm * count for kind, count in without.taken)
    if not sawn or not without.holds or any(each.code == "boards-short" for each in without.findings):
        return []
    if there < otherwise:
        return []
    own = settings.registration_board == "saw"
    because = (
        " The registration board takes its share, and serves other prints of this size; say when you have it."
        if own
        else ""
    )
    return [
        Finding(
            code="part-blocks-spare-none",
            severity="note",
            message=f"With part blocks {there / 100:.0f} cm2 of boards are sawn up, and without "
            f"{otherwise / 100:.0f} cm2: they spare no wood.{because}",
        )
    ]


def check_least_wood(*, least: bool) -> list[Finding]:
    """Note where it was not seen that part blocks need no less wood."""
    if least:
        return []
    return [
        Finding(
            code="part-wood-not-proven",
            severity="note",
            message="The part blocks take the least wood that was found; the search ended before it was "
            "clear whether less would do.",
        )
    ]


def _not_proven(nested: Nested) -> Finding:
    return Finding(
        code="part-wood-not-proven",
        severity="note",
        message=f"{nested.area_mm2 / 100:.0f} cm2 of boards are sawn up for blocks of so many sizes; that "
        f"{nested.at_least_mm2 / 100:.0f} cm2 are needed is proven, and between the two it is not known.",
    )


def _size(region: Region) -> tuple[float, float]:
    left, top, right, bottom = region.bounds
    return right - left, bottom - top


def _main(nested: Nested | None, stock: Sequence[Stock]) -> Stock | None:
    """The kind that most pieces come from; where none are sawn the largest that is known."""
    if nested is None or not nested.sawn:
        return max(stock, key=lambda kind: kind.width_mm * kind.height_mm, default=None)
    given = {kind.name: 0 for kind in nested.kinds}
    for board in nested.sawn:
        given[board.stock] += len(board.blocks)
    return max(nested.kinds, key=lambda kind: given[kind.name])


def _check(nested: Nested | None, pieces: Sequence[Wanted], settings: BlocksTable) -> list[Finding]:
    """What the boards on hand do not give, the most important alone."""
    missing = [piece for piece in pieces if nested is None or piece.name in nested.missing]
    if not missing:
        return []
    largest = max(settings.stock, key=lambda kind: kind.width_mm * kind.height_mm, default=None)
    gone = max(missing, key=lambda piece: (piece.importance, piece.width_mm * piece.height_mm))
    holding = [kind for kind in (nested.kinds if nested else ()) if _holds(kind, gone)]
    if gone.importance == 1:
        names = [piece.name for piece in missing]
        return [_board_missing(names, gone, holding)]
    if not holding:
        return [none_big_enough(largest, gone.width_mm, gone.height_mm, only_across=False)]
    blocks = [piece for piece in missing if piece.importance > 1]
    return [_too_few(blocks, holding[0])]


def _holds(kind: Stock, piece: Wanted) -> bool:
    long, short = max(kind.width_mm, kind.height_mm), min(kind.width_mm, kind.height_mm)
    return max(piece.width_mm, piece.height_mm) <= long and min(piece.width_mm, piece.height_mm) <= short


def _too_few(missing: Sequence[Wanted], kind: Stock) -> Finding:
    names = [piece.name for piece in missing]
    one = len(names) == 1
    return Finding(
        code="boards-short",
        severity="stop",
        message=f"The boards on hand do not give block{'' if one else 's'} {_listed(names)}. Get more of "
        f"{kind.name}, or name other boards under [[blocks.stock]].",
        about=(("board", kind.name), ("count", (kind.count or 0) + len(names))),
    )


def _board_missing(names: Sequence[str], gone: Wanted, holding: Sequence[Stock]) -> Finding:
    more = f"get one more of {holding[0].name}, or " if holding else ""
    about = (("board", holding[0].name), ("count", (holding[0].count or 0) + 1)) if holding else ()
    return Finding(
        code="registration-board-short",
        severity="warn",
        message=f"The boards on hand do not give the {_listed(names)}, of which the largest is "
        f"{gone.width_mm:.0f} x {gone.height_mm:.0f} mm: {more}take any flat piece and set "
        'registration_board = "on hand" in [blocks].',
        about=about,
    )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"

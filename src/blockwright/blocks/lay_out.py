"""From a separation to the set of blocks: boards and faces, mirrored, with the kento on every face."""

from collections.abc import Sequence
from dataclasses import replace

from blockwright.blocks.allotting import Shared, allot_faces
from blockwright.blocks.allowing import Place, predict_movement, scale_faces
from blockwright.blocks.carried import all_that_prints
from blockwright.blocks.checks import (
    check_margins,
    check_marks_clear,
    check_marks_fit,
    check_marks_on_wood,
    check_printing_on_block,
)
from blockwright.blocks.kento import place_block, place_sheet, set_kento, turn_kento
from blockwright.blocks.mirror import from_the_back, mirror_area, turn_area, turn_over
from blockwright.blocks.movement_checks import check_movement
from blockwright.blocks.sawing import saw_board
from blockwright.blocks.stock import StockChoice, choose_stock
from blockwright.model.blocks import BlockSet, Board, Face, FaceSide, SawnBoard
from blockwright.model.separation import Separation
from blockwright.model.settings import BlocksTable
from blockwright.model.units import Region


def lay_out_blocks(
    separation: Separation, *, width_mm: float, height_mm: float, settings: BlocksTable
) -> BlockSet:
    """Lay the impressions out on the fewest faces of boards, and the blocks on the boards that are on hand.

    ``width_mm`` and ``height_mm`` are the image's. The faces follow the printing order, each at the place of
    its first impression: the front of board A, its back (when ``both_faces`` is set), the front of board B,
    and so on. The result is in face coordinates; the places of its findings are in the print's,
    right-reading. A separation without impressions gives no boards, and leaf takes none. Karazuri from the
    back gets a face that is not mirrored, with marks for a sheet that lies face up. With ``compensate`` each
    drawing is scaled about the kagi for what wood and sheet will do.

    When no board is big enough the blocks are laid out all the same, so that they can be drawn: their
    boards have the stock "", with the wood and thickness of the largest board known (the wood "" and 0 mm
    when none is named).
    """
    sheet = place_sheet(width_mm=width_mm, height_mm=height_mm, settings=settings)
    block = place_block(width_mm=width_mm, height_mm=height_mm, settings=settings)
    kento = set_kento(sheet, settings)
    turned_kento = turn_kento(kento, block)
    # All faces are laid out, scaled and checked as for the sheet's front; those for its back are turned over
    # last, marks and all, which changes no distance.
    allotment = allot_faces(
        separation.from_blocks,
        [mirror_area(impression.area, width_mm=width_mm) for impression in separation.from_blocks],
        block=block,
        kento=kento,
        turned_kento=turned_kento,
        settings=settings,
    )
    faces = _carve_faces(allotment.faces, both_faces=settings.both_faces)
    paired = _pair(faces)
    left, top, right, bottom = block.bounds
    choice = choose_stock(
        settings.stock,
        width_mm=right - left,
        height_mm=bottom - top,
        boards_needed=len(paired),
        kerf_mm=settings.kerf_mm,
        grain=settings.grain,
    )
    sawn = _saw(choice, len(paired), kerf_mm=settings.kerf_mm)
    boards = _name_boards(paired, choice, sawn, width_mm=right - left, height_mm=bottom - top)
    place = Place(width_mm, height_mm, block, kento.kagi)
    movement = predict_movement(boards, separation, settings, place=place)
    boards = scale_faces(boards, movement, kagi=kento.kagi, turned_kagi=turned_kento.kagi)
    faces = tuple(face for board in boards for face in board.faces)
    upright = [_upright(face, block) for face in faces]
    findings = [
        *check_margins(settings),
        *check_marks_fit(sheet, settings),
        *check_marks_on_wood(block, sheet, kento, settings, width_mm=width_mm),
        *check_marks_clear(sheet, kento, upright, settings, width_mm=width_mm),
        *check_printing_on_block(block, sheet, upright, settings, width_mm=width_mm),
        *choice.findings,
        *allotment.findings,
        *check_movement(boards, movement, settings),
    ]
    from_back = {each.number for each in separation.from_blocks if each.side == "back"}
    blocks = BlockSet(
        image_width_mm=width_mm,
        image_height_mm=height_mm,
        block=block,
        sheet=sheet,
        kento=kento,
        boards=_turn_over(boards, from_back, width_mm=width_mm),
        faces_lower_bound=allotment.at_least,
        proven_fewest=allotment.at_least == len(faces),
        findings=tuple(findings),
        turned_kento=turned_kento if any(face.turned for face in faces) else None,
        sawn=sawn,
        movement=movement,
    )
    return replace(blocks, from_the_back=from_the_back(blocks)) if from_back else blocks


def letter_board(index: int) -> str:
    """Name the board at a place in the order, counted from 0: A to Z, then AA, AB and so on.

    >>> [letter_board(index) for index in (0, 25, 26, 52)]
    ['A', 'Z', 'AA', 'BA']
    """
    letters = ""
    index += 1
    while index:
        index, letter = divmod(index - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return letters


def _carve_faces(shared: Sequence[Shared], *, both_faces: bool) -> tuple[Face, ...]:
    sides: tuple[FaceSide, ...] = ("front", "back") if both_faces else ("front",)
    faces = []
    for index, carried in enumerate(shared):
        board, side = divmod(index, len(sides))
        faces.append(
            Face(
                name=f"{letter_board(board)} {sides[side]}",
                side=sides[side],
                impressions=tuple(part.impression for part in carried.parts),
                printing=all_that_prints(carried.parts),
                parts=carried.parts if len(carried.parts) > 1 else (),
                why=carried.why,
            )
        )
    return tuple(faces)


def _upright(face: Face, block: Region) -> Face:
    """The face with all it prints as it lies to the marks of the first kind, for the checks of those."""
    if not face.turned:
        return face
    parts = [
        replace(part, printing=turn_area(part.printing, block)) if part.turned else part
        for part in face.parts
    ]
    return replace(face, printing=all_that_prints(parts), parts=tuple(parts))


def _turn_over(boards: Sequence[Board], from_back: set[int], *, width_mm: float) -> tuple[Board, ...]:
    """The boards with the faces that press the sheet's back as they must be for it."""
    return tuple(
        replace(
            board,
            faces=tuple(
                turn_over(face, width_mm=width_mm) if from_back.issuperset(face.impressions) else face
                for face in board.faces
            ),
        )
        for board in boards
    )


def _pair(faces: Sequence[Face]) -> list[tuple[Face, ...]]:
    """Put the faces of one board together: a back goes with the front before it."""
    boards: list[tuple[Face, ...]] = []
    for face in faces:
        if face.side == "back":
            boards[-1] = (*boards[-1], face)
        else:
            boards.append((face,))
    return boards


def _saw(choice: StockChoice, blocks: int, *, kerf_mm: float) -> tuple[SawnBoard, ...]:
    """Saw the stock boards up, one after the other, in the order of the blocks."""
    sawn: list[SawnBoard] = []
    names = [letter_board(index) for index in range(blocks)]
    for stock, count in choice.taken:
        grid = choice.grids[stock.name]
        for number in range(1, count + 1):
            here, names = names[: grid.blocks], names[grid.blocks :]
            sawn.append(saw_board(stock, grid, here, name=f"{stock.name} {number}", kerf_mm=kerf_mm))
    return tuple(sawn)


def _name_boards(
    paired: Sequence[tuple[Face, ...]],
    choice: StockChoice,
    sawn: Sequence[SawnBoard],
    *,
    width_mm: float,
    height_mm: float,
) -> tuple[Board, ...]:
    """The boards with their faces; those that are short are named after the stock that most come from."""
    stock = choice.stock
    cut_from = {piece.name: board.stock for board in sawn for piece in board.blocks}
    otherwise = stock.name if stock and choice.holds else ""
    return tuple(
        Board(
            name=letter_board(index),
            stock=cut_from.get(letter_board(index), otherwise),
            wood=stock.wood if stock else "",
            width_mm=width_mm,
            height_mm=height_mm,
            thickness_mm=stock.thickness_mm if stock else 0.0,
            grain=choice.grain,
            faces=faces,
        )
        for index, faces in enumerate(paired)
    )

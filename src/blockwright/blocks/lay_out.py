"""From a separation to the set of blocks: boards and faces, mirrored, with the kento on every face."""

from collections.abc import Sequence
from dataclasses import replace

from blockwright.blocks.allotting import Allotment, Shared, allot_faces
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
from blockwright.blocks.lettering import letter_board
from blockwright.blocks.mirror import from_the_back, mirror_area, turn_area, turn_over
from blockwright.blocks.movement_checks import check_movement
from blockwright.blocks.part_blocks import lay_on_board
from blockwright.blocks.part_checks import check_parts
from blockwright.blocks.part_stock import Pieced, check_least_wood, check_saving, cut_pieces
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
    drawing is scaled about the kagi for what wood and sheet will do. Part blocks, where there are any, are
    the last boards, and a registration board holds them.

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
    paired = _pair(_carve_faces(allotment.full, both_faces=settings.both_faces))
    parts = _carve_parts(allotment, first=len(paired))
    registration = lay_on_board(parts, block=block, kento=kento, settings=settings) if parts else None
    if registration is None:
        wood = _from_stock(paired, block, settings)
    else:
        only = [face for _, face in parts]
        wood = cut_pieces(paired, only, registration, block=block, settings=settings)
        alone = allotment.full_faces_without_parts
        wood = replace(
            wood,
            findings=(
                *wood.findings,
                *check_least_wood(least=allotment.least_part_wood),
                *check_saving(wood.sawn, _boards_for(alone, settings), block=block, settings=settings),
            ),
        )
    place = Place(width_mm, height_mm, block, kento.kagi)
    movement = predict_movement(wood.boards, separation, settings, place=place)
    boards = scale_faces(wood.boards, movement, kagi=kento.kagi, turned_kagi=turned_kento.kagi)
    faces = tuple(face for board in boards for face in board.faces)
    upright = [_upright(face, block) for face in faces]
    findings = [
        *check_margins(settings),
        *check_marks_fit(sheet, settings),
        *check_marks_on_wood(block, sheet, kento, settings, width_mm=width_mm),
        *check_marks_clear(sheet, kento, upright, settings, width_mm=width_mm),
        *check_printing_on_block(
            block, sheet, [face for face in upright if face.part is None], settings, width_mm=width_mm
        ),
        *check_parts(
            boards,
            {each.number: each.name for each in separation.impressions},
            settings,
            width_mm=width_mm,
        ),
        *wood.findings,
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
        proven_fewest=allotment.at_least == len(allotment.full),
        findings=tuple(findings),
        turned_kento=turned_kento if any(face.turned for face in faces) else None,
        sawn=wood.sawn,
        movement=movement,
        registration=registration,
    )
    return replace(blocks, from_the_back=from_the_back(blocks)) if from_back else blocks


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


def _carve_parts(allotment: Allotment, *, first: int) -> list[tuple[str, Face]]:
    """The faces of the part blocks with the names of these, which follow those of the full ones."""
    found = []
    on_parts = [each for each in allotment.faces if each.on_part is not None]
    for index, carried in enumerate(on_parts, start=first):
        board = letter_board(index)
        face = Face(
            name=f"{board} part",
            side="front",
            impressions=tuple(part.impression for part in carried.parts),
            printing=all_that_prints(carried.parts),
            parts=carried.parts if len(carried.parts) > 1 else (),
            why=carried.why,
            part=carried.on_part,
        )
        found.append((board, face))
    return found


def _boards_for(faces: int, settings: BlocksTable) -> int:
    return -(-faces // (2 if settings.both_faces else 1))


def _from_stock(paired: Sequence[tuple[Face, ...]], block: Region, settings: BlocksTable) -> Pieced:
    """The boards where all blocks are of one size."""
    left, top, right, bottom = block.bounds
    width_mm, height_mm = right - left, bottom - top
    choice = choose_stock(
        settings.stock,
        width_mm=width_mm,
        height_mm=height_mm,
        boards_needed=len(paired),
        kerf_mm=settings.kerf_mm,
        grain=settings.grain,
    )
    sawn = _saw(choice, len(paired), kerf_mm=settings.kerf_mm)
    boards = _name_boards(paired, choice, sawn, width_mm=width_mm, height_mm=height_mm)
    return Pieced(boards, sawn, choice.findings)


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

"""From a separation to the set of blocks: boards and faces, mirrored, with the kento on every face."""

from collections.abc import Sequence
from dataclasses import replace

from blockwright.blocks.checks import (
    check_margins,
    check_marks_clear,
    check_marks_fit,
    check_marks_on_wood,
    check_printing_on_block,
)
from blockwright.blocks.kento import place_block, place_sheet, set_kento
from blockwright.blocks.mirror import from_the_back, mirror_area, turn_over
from blockwright.blocks.sharing import find_conflicts, largest_clique
from blockwright.blocks.stock import StockChoice, choose_stock
from blockwright.model.blocks import BlockSet, Board, Face, FaceSide
from blockwright.model.findings import Finding
from blockwright.model.separation import Separation
from blockwright.model.settings import BlocksTable


def lay_out_blocks(
    separation: Separation, *, width_mm: float, height_mm: float, settings: BlocksTable
) -> BlockSet:
    """Lay the impressions out on the faces of boards, each impression that takes a block on its own face.

    ``width_mm`` and ``height_mm`` are the image's. The faces follow the printing order: the front of board A,
    its back (when ``both_faces`` is set), the front of board B, and so on. The result is in face coordinates;
    the places of its findings are in the print's, right-reading. A separation without impressions gives no
    boards. Karazuri from the back gets a face that is not mirrored, with marks for a sheet that lies face up.

    When no board is big enough the blocks are laid out all the same, so that they can be drawn: their
    boards have the stock "", with the wood and thickness of the largest board known (the wood "" and 0 mm
    when none is named).
    """
    sheet = place_sheet(width_mm=width_mm, height_mm=height_mm, settings=settings)
    block = place_block(width_mm=width_mm, height_mm=height_mm, settings=settings)
    kento = set_kento(sheet, settings)
    # All faces are laid out and checked as for the sheet's front; those for its back are turned over last,
    # marks and all, which changes no distance.
    faces = _carve_faces(separation, width_mm=width_mm, both_faces=settings.both_faces)
    from_back = {each.number for each in separation.from_blocks if each.side == "back"}
    paired = _pair(
        [
            turn_over(face, width_mm=width_mm) if from_back.issuperset(face.impressions) else face
            for face in faces
        ]
    )
    left, top, right, bottom = block.bounds
    choice = choose_stock(
        settings.stock, width_mm=right - left, height_mm=bottom - top, boards_needed=len(paired)
    )
    conflicts = find_conflicts(
        [impression.area for impression in separation.from_blocks],
        nearer_than_mm=settings.sharing_distance_mm,
    )
    fewest = len(largest_clique(conflicts))
    findings = [
        *check_margins(settings),
        *check_marks_fit(sheet, settings),
        *check_marks_on_wood(block, sheet, kento, settings, width_mm=width_mm),
        *check_marks_clear(sheet, kento, faces, settings, width_mm=width_mm),
        *check_printing_on_block(block, sheet, faces, settings, width_mm=width_mm),
        *choice.findings,
        *_check_sharing(len(faces), fewest, settings.sharing_distance_mm),
    ]
    blocks = BlockSet(
        image_width_mm=width_mm,
        image_height_mm=height_mm,
        block=block,
        sheet=sheet,
        kento=kento,
        boards=_name_boards(paired, choice, width_mm=right - left, height_mm=bottom - top),
        faces_lower_bound=fewest,
        proven_fewest=fewest == len(faces),
        findings=tuple(findings),
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


def _carve_faces(separation: Separation, *, width_mm: float, both_faces: bool) -> tuple[Face, ...]:
    sides: tuple[FaceSide, ...] = ("front", "back") if both_faces else ("front",)
    faces = []
    for index, impression in enumerate(separation.from_blocks):
        board, side = divmod(index, len(sides))
        faces.append(
            Face(
                name=f"{letter_board(board)} {sides[side]}",
                side=sides[side],
                impressions=(impression.number,),
                printing=mirror_area(impression.area, width_mm=width_mm),
            )
        )
    return tuple(faces)


def _pair(faces: Sequence[Face]) -> list[tuple[Face, ...]]:
    """Put the faces of one board together: a back goes with the front before it."""
    boards: list[tuple[Face, ...]] = []
    for face in faces:
        if face.side == "back":
            boards[-1] = (*boards[-1], face)
        else:
            boards.append((face,))
    return boards


def _name_boards(
    paired: Sequence[tuple[Face, ...]], choice: StockChoice, *, width_mm: float, height_mm: float
) -> tuple[Board, ...]:
    stock = choice.stock
    return tuple(
        Board(
            name=letter_board(index),
            stock=stock.name if stock and choice.holds else "",
            wood=stock.wood if stock else "",
            width_mm=width_mm,
            height_mm=height_mm,
            thickness_mm=stock.thickness_mm if stock else 0.0,
            grain=choice.grain,
            faces=faces,
        )
        for index, faces in enumerate(paired)
    )


def _check_sharing(faces: int, fewest: int, distance_mm: float) -> list[Finding]:
    if fewest >= faces:
        return []
    spared = faces - fewest
    return [
        Finding(
            code="faces-could-share",
            severity="note",
            message=f"{faces} impressions stand on {faces} faces. With {distance_mm:g} mm between different "
            f"inks on one face, sharing could spare at most {spared} of them: "
            f"at least {fewest} {'are' if fewest > 1 else 'is'} needed.",
        )
    ]

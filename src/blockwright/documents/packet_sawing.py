"""The packet's page on sawing: each stock board with the blocks that come from it and what is left."""

from collections.abc import Sequence
from functools import partial

from blockwright.documents.packet_content import Packet, mm_words
from blockwright.documents.packet_frame import BODY, NOTE, Frame, Page, dealt, text_height
from blockwright.documents.sheet import Pen, Sheet
from blockwright.documents.type import INK, Rich, Style, bound, strong
from blockwright.model.blocks import Piece, SawnBoard

DRAWING_MM = (72.0, 50.0)
"""Room for the drawing of a board."""

GAP_MM = 8.0
MOST_NAMED = 12
"""Blocks that a line names."""

_WOOD, _OFFCUT, _BLOCK = "#d8c39c", "#f4ead4", "#fbf7ec"
_EDGE, _CUT = Pen(0.25, INK), Pen(0.15, INK, (1.6, 1.0))
_NAME = Style("semibold", 10.0, 12.0, INK)
_SIZE = Style("regular", 8.0, 9.6, INK)


def sawing_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the pages on sawing; none when no board is sawn. Boards that are sawn alike are shown once."""
    groups = _alike(packet.blocks.sawn)
    if not groups:
        return []
    lead = text_height(_lead(packet), NOTE, frame.measure)
    heights = [DRAWING_MM[1] + GAP_MM] * len(groups)
    room = frame.foot - frame.top - 18.0
    return [
        partial(_draw_page, packet, frame, [groups[k] for k in part], first=part.start == 0)
        for part in dealt(heights, room, first_room=room - lead - 3.0)
    ]


def _alike(sawn: Sequence[SawnBoard]) -> list[list[SawnBoard]]:
    groups: dict[object, list[SawnBoard]] = {}
    for board in sawn:
        places = [
            tuple((p.x_mm, p.y_mm, p.width_mm, p.height_mm) for p in pieces)
            for pieces in (board.blocks, board.offcuts)
        ]
        groups.setdefault((board.stock, *places), []).append(board)
    return list(groups.values())


def _lead(packet: Packet) -> Rich:
    kerf = mm_words(packet.settings.blocks.kerf_mm)
    return (f"Every cut goes from edge to edge; {kerf} mm are reckoned for the saw.",)


def _draw_page(
    packet: Packet, frame: Frame, groups: Sequence[Sequence[SawnBoard]], sheet: Sheet, *, first: bool
) -> None:
    blocks = packet.blocks.boards
    y = frame.heading(sheet, "Boards to saw", blocks[0].wood if blocks else "")
    if first:
        y = sheet.write(_lead(packet), NOTE, frame.left, y - 2.5, frame.measure) + 3.0
    for boards in groups:
        drawn = _draw_board(sheet, boards[0], frame.left, y)
        left = frame.left + DRAWING_MM[0] + GAP_MM
        sheet.write(_words(boards), BODY, left, y - 1.0, frame.right - left)
        y += max(drawn, DRAWING_MM[1] * 0.5) + GAP_MM


def _words(boards: Sequence[SawnBoard]) -> Rich:
    first = boards[0]
    names = [piece.name for board in boards for piece in board.blocks]
    times = f"{len(boards)} × " if len(boards) > 1 else ""
    size = bound(f"{mm_words(first.width_mm)} × {mm_words(first.height_mm)} mm")
    left = [bound(f"{mm_words(p.width_mm)} × {mm_words(p.height_mm)} mm") for p in first.offcuts]
    each = " of each" if len(boards) > 1 else ""
    rest = f"left over{each}: {_listed(left)}." if left else "nothing of use is left over."
    return (
        strong(f"{times}{first.stock}"),
        f", {size}: {_pieces(names)}; {rest}",
    )


def _pieces(names: Sequence[str]) -> str:
    """Blocks by their letters, and what else is sawn by its name."""
    lettered = [name for name in names if name.isupper()]
    said = []
    if lettered:
        named = _listed(lettered[:MOST_NAMED], more=len(lettered) - MOST_NAMED)
        said.append(f"block{'s' if len(lettered) > 1 else ''} {named}")
    return ", ".join([*said, *(name for name in names if not name.isupper())])


def _listed(words: Sequence[str], *, more: int = 0) -> str:
    if more > 0:
        return f"{', '.join(words)} and {more} more"
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _draw_board(sheet: Sheet, board: SawnBoard, x: float, y: float) -> float:
    """Draw a board with its pieces, each with its size; return how high it stands."""
    scale = min(DRAWING_MM[0] / board.width_mm, DRAWING_MM[1] / board.height_mm)
    sheet.box(x, y, board.width_mm * scale, board.height_mm * scale, pen=_EDGE, fill=_WOOD)
    for piece in board.offcuts:
        _draw_piece(sheet, piece, (x, y, scale), "", _CUT, _OFFCUT)
    sizes = {(piece.width_mm, piece.height_mm) for piece in board.blocks}
    for piece in board.blocks:
        name = f"block {piece.name}" if piece.name.isupper() and len(sizes) > 1 else "block"
        name = name if piece.name.isupper() else piece.name
        _draw_piece(sheet, piece, (x, y, scale), name, _EDGE, _BLOCK)
    return board.height_mm * scale


def _draw_piece(
    sheet: Sheet, piece: Piece, at: tuple[float, float, float], name: str, pen: Pen, fill: str
) -> None:
    x, y, scale = at[0] + piece.x_mm * at[2], at[1] + piece.y_mm * at[2], at[2]
    width, height = piece.width_mm * scale, piece.height_mm * scale
    sheet.box(x, y, width, height, pen=pen, fill=fill)
    size = f"{mm_words(piece.width_mm)} × {mm_words(piece.height_mm)}"
    room = sheet.text_width(size, _SIZE) + 2.0
    middle_x, middle_y = x + width / 2, y + height / 2
    if width >= room and height > 4.5:
        sheet.label(size, _SIZE, middle_x, middle_y + (5.0 if name and height > 12 else 1.0), align="centre")
    elif height >= room and width > 4.5:
        sheet.label(size, _SIZE, middle_x + 1.0, middle_y, align="centre", turn_deg=90.0)
    if name and height > 12:
        sheet.label(name, _NAME, middle_x, middle_y, align="centre")

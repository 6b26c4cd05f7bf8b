"""What the packet says of wood and paper that move: a line on a face's page, and one among the checks."""

from shapely.geometry import box

from blockwright.documents.packet_content import Packet
from blockwright.documents.type import Rich, strong
from blockwright.model.blocks import Face
from blockwright.model.movement import BoardMovement, ImpressionMovement
from blockwright.model.registration import common_rectangle

SHOWN_MM = 0.005
"""Less than this, mm, is told as nothing: no rule shows it."""


def movement_words(packet: Packet, face: Face) -> list[Rich]:
    """Return a sentence on how the wood moves and what the drawing allows for; none if neither does."""
    moved = packet.blocks.movement
    drawn = moved.face(face.name)
    wood = moved.board(drawn.board) if drawn else None
    if drawn is None or wood is None:
        return []
    grown, scaled = _grown(wood), _scaled(packet, face, drawn)
    if not grown and not scaled:
        return []
    over = "the image" if face.part is None else "its part of the image"
    said = f"over {over} this block {grown} by the time it is printed" if grown else "the wood stays as it is"
    so = (
        f"; it is drawn {scaled} for wood and sheet, from the kagi."
        if scaled
        else "; it is drawn as designed."
    )
    return [(strong("Movement: "), said, so)]


def moisture_check(packet: Packet) -> list[str]:
    """Return what to look at before the first pull, so that the blocks are as they are reckoned to be."""
    moved = packet.blocks.movement
    if not moved.boards:
        return []
    carved, printed = moved.carving_moisture_percent, moved.printing_moisture_percent
    if abs(carved - printed) < 0.05:
        return [
            f"The blocks hold {printed:.1f} % moisture, as when they were carved: they lie in a room "
            "of the same humidity, for days if need be."
        ]
    return [
        f"The blocks hold {printed:.1f} % moisture, {carved:.1f} % when they were carved: they have lain "
        "where they are printed, for days if need be."
    ]


def _grown(wood: BoardMovement) -> str:
    """How the wood moves each way, in words; empty when it does not."""
    ways = {
        "width": ("across its width", wood.width_mm),
        "height": ("across its height", wood.height_mm),
    }
    return " and ".join(
        f"{'grows' if mm > 0 else 'shrinks'} {abs(mm):.2f} mm {way}"
        for way, mm in ways.values()
        if abs(mm) >= SHOWN_MM
    )


def _scaled(packet: Packet, face: Face, drawn: ImpressionMovement) -> str:
    """How the drawing differs from the design, in words; empty when it does not."""
    blocks = packet.blocks
    image = box(0.0, 0.0, blocks.image_width_mm, blocks.image_height_mm)
    left, top, right, foot = (common_rectangle(image, face.part) if face.part else image).bounds
    ways = (
        ((drawn.scale_width - 1.0) * (right - left), "wider", "narrower"),
        ((drawn.scale_height - 1.0) * (foot - top), "taller", "shorter"),
    )
    return " and ".join(
        f"{abs(mm):.2f} mm {more if mm > 0 else less}" for mm, more, less in ways if abs(mm) >= SHOWN_MM
    )

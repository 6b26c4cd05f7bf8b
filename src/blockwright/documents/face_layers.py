"""What is drawn of a face, purpose by purpose, for every writer that exchanges outlines."""

from dataclasses import dataclass
from typing import Literal

from shapely.geometry import MultiPolygon

from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut
from blockwright.model.units import Area

Purpose = Literal["BLOCK", "ISLAND", "CLEAR", "SHEET", "MARKS", "PRINTING", "BORDER", "WEED"]

MEANINGS: dict[Purpose, str] = {
    "BLOCK": "the block's edge",
    "ISLAND": "waste that may stay standing with rounded shoulders",
    "CLEAR": "waste that is taken down",
    "SHEET": "where the sheet lies, its corner in the kagi",
    "MARKS": "kagi and hikitsuke, one sheet's thickness deep",
    "PRINTING": "stays at full height and prints",
    "BORDER": "the stencil's outer edge",
    "WEED": "lift the stencil off here",
}
"""The layers' names, in drawing order, and what each means."""


@dataclass(frozen=True, slots=True)
class Layer:
    """The outlines of one purpose, in face coordinates, mm."""

    purpose: Purpose
    area: Area


def gather_layers(blocks: BlockSet, face: Face, cut: FaceCut) -> tuple[Layer, ...]:
    """Return the areas of a face, in drawing order, without those that are empty.

    The weeding points of a stencil are not among them, since they have no area. Raises ValueError when
    ``cut`` is another face's.
    """
    if cut.face != face.name:
        raise ValueError(f"the cut of {cut.face} does not belong to {face.name}")
    areas: dict[Purpose, Area] = {
        "BLOCK": MultiPolygon([blocks.block]),
        "ISLAND": cut.island,
        "CLEAR": cut.clear,
        "SHEET": MultiPolygon([blocks.sheet]),
        "MARKS": MultiPolygon(
            [
                recess
                for kento in blocks.marks_of(face)
                for recess in (kento.kagi_recess, kento.hikitsuke_recess)
            ]
        ),
        "PRINTING": cut.printing,
        "BORDER": MultiPolygon() if cut.border is None else MultiPolygon([cut.border]),
    }
    return tuple(Layer(purpose, area) for purpose, area in areas.items() if not area.is_empty)

"""A small print with one face by hand and one through a stencil, whose outlines the writers exchange."""

from shapely.geometry import MultiPolygon, Polygon, box

from blockwright.blocks import lay_out_blocks
from blockwright.cutting import plan_cuts
from blockwright.model.blocks import BlockSet
from blockwright.model.cut import Cut
from blockwright.model.separation import Impression, Ink, Separation
from blockwright.model.settings import BlocksTable, CuttingTable
from blockwright.model.units import Area

WIDTH_MM, HEIGHT_MM = 180.0, 120.0

F_SHAPE = Polygon(
    [(20, 20), (60, 20), (60, 32), (34, 32), (34, 48), (52, 48), (52, 60), (34, 60), (34, 100), (20, 100)]
)
"""A letter F as on the print: its arms point right."""

F_ON_BLOCK = Polygon([(180 - x + 19, y + 19) for x, y in F_SHAPE.exterior.coords])
"""The same on the face, from the block's upper left corner, worked out by hand: the block reaches 19 mm
past the image (half of the 38 mm of Platt, *Colour Woodcuts*, 1938)."""

RING = box(100, 30, 160, 90).difference(box(115, 45, 145, 75))


def impression(number: int, area: Area) -> Impression:
    return Impression(
        number=number,
        name=f"colour {number}",
        kind="colour",
        ink=Ink(name="ink", k=(0.1, 0.2, 0.3), s=(0.0, 0.0, 0.0)),
        passes=1,
        shapes=(),
        area=area,
        trap_mm=0.5,
        srgb_hex="#808080",
        lab=(50.0, 0.0, 0.0),
    )


def two_faces() -> tuple[BlockSet, Cut]:
    """Return "A front", by hand, with the F and the ring, and "A back", through a stencil, with the F."""
    separation = Separation(
        impressions=(
            impression(1, MultiPolygon([F_SHAPE, RING])),
            impression(2, MultiPolygon([F_SHAPE])),
        ),
        paper_shapes=(),
        edges_mm=(),
        median_delta_e00=0.0,
        max_delta_e00=0.0,
    )
    blocks = lay_out_blocks(
        separation, width_mm=WIDTH_MM, height_mm=HEIGHT_MM, settings=BlocksTable.model_validate({})
    )
    cutting = {"face": ({"face": "A back", "method": "stencil"},), "clear_reach_mm": 8.0}
    return blocks, plan_cuts(blocks, CuttingTable.model_validate(cutting))

"""A small face that is routed, and its surface as three bits leave it, worked out plainly for the tests."""

from dataclasses import dataclass, replace
from functools import cache
from math import ceil

import numpy as np
import shapely
from numpy.typing import NDArray
from outlined_faces import impression
from shapely.geometry import MultiPolygon, Point, Polygon, box

from blockwright.blocks import lay_out_blocks
from blockwright.cutting import plan_cuts
from blockwright.cutting.feeds import Speeds, Steps
from blockwright.cutting.ground import Manner, Tool
from blockwright.cutting.routing import Routed, route_face
from blockwright.cutting.wanted import Floor
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import BitChoice, BitWork, FaceCut, Narrow, Routing
from blockwright.model.router import Bit
from blockwright.model.separation import Separation
from blockwright.model.settings import BlocksTable, CuttingTable

STEP_MM = 0.1
WIDTH_MM, HEIGHT_MM = 64.0, 40.0

BITS = (
    Bit(1, "6 mm flat", "flat", 6.0, 2, 22.0),
    Bit(2, "1.5 mm flat", "flat", 1.5, 2, 6.0, shank_mm=3.0),
    Bit(3, "60 degree V", "V", 6.0, 2, 5.0, angle_deg=60.0, tip_mm=0.1),
)
TOOLS = (
    Tool(BITS[0], Speeds(16000, 2400, 600, 0.075), Steps(3.0, 2.4)),
    Tool(BITS[1], Speeds(18000, 900, 300, 0.025), Steps(0.75, 0.6)),
    Tool(BITS[2], Speeds(18000, 1200, 400, 0.033), Steps(2.4, 0.4)),
)
MANNER = Manner(Floor(60.0, 1.5, 0.1, 4.5), 0.2, 3.0, 5.0, 2.0, 0.2, 2.0)


@dataclass(frozen=True)
class RoutedFace:
    blocks: BlockSet
    face: Face
    cut: FaceCut
    routed: Routed
    heights: NDArray[np.float32]


def printing() -> MultiPolygon:
    """A letter F as on the print, a ring, and a line that is too thin to stand."""
    letter = Polygon(
        [(4, 4), (22, 4), (22, 10), (11, 10), (11, 17), (18, 17), (18, 23), (11, 23), (11, 36), (4, 36)]
    )
    ring = Point(44, 20).buffer(14).difference(Point(44, 20).buffer(9)).union(Point(44, 20).buffer(2.0))
    thin = shapely.LineString([(26, 34), (31, 37), (58, 37.5)]).buffer(0.15)
    return MultiPolygon([letter, *ring.geoms, thin])


def stamp(bit: Bit) -> NDArray[np.float32]:
    """How high a bit's edge is above its tip, over the places of a grid."""
    reach = ceil(bit.radius_mm / STEP_MM) + 1
    places = np.arange(-reach, reach + 1) * STEP_MM
    away = np.hypot(*np.meshgrid(places, places))
    return np.array([[bit.rise_mm(each) for each in row] for row in away.tolist()], np.float32)


def surface(routed: Routed, width_mm: float, height_mm: float) -> NDArray[np.float32]:
    """The surface after straight moves, by the bit's shape at samples of its way (no arcs are asked for)."""
    pad = 80
    size = (round(height_mm / STEP_MM), round(width_mm / STEP_MM))
    heights = np.zeros((size[0] + 2 * pad, size[1] + 2 * pad), np.float32)
    for run in routed.runs:
        shape = stamp(run.bit)
        reach = shape.shape[0] // 2
        at = np.array(run.moves.start)
        for end in run.moves.end:
            if min(at[2], end[2]) < 0.0:
                count = max(1, ceil(np.linalg.norm(end - at) / (2 * STEP_MM)))
                for x, y, z in at + (end - at) * (np.arange(1, count + 1)[:, None] / count):
                    row, column = round(y / STEP_MM - 0.5) + pad, round(x / STEP_MM - 0.5) + pad
                    if not (
                        reach <= row < len(heights) - reach and reach <= column < heights.shape[1] - reach
                    ):
                        continue
                    part = heights[row - reach : row + reach + 1, column - reach : column + reach + 1]
                    np.minimum(part, shape + np.float32(z), out=part)
            at = end
    return heights[pad:-pad, pad:-pad].copy()


def routing(hand: MultiPolygon) -> Routing:
    """What is told of the face; the figures of time are invented."""
    return Routing(
        machine="bench router",
        work=(
            BitWork("6 mm flat", "clearing", 16000, 2400, 600, 4120, 11.4, ("A front 1 6 mm flat.ngc",)),
            BitWork("1.5 mm flat", "clearing", 18000, 900, 300, 2210, 6.2, ("A front 2 1.5 mm flat.ngc",)),
            BitWork("60 degree V", "walls", 18000, 1200, 400, 8630, 5.1, ("A front 3 60 degree V.ngc",)),
        ),
        router_min=24.7,
        lower_bound_min=19.9,
        gouge_mm2=0.0,
        shallow_mm2=3.4,
        deep_percent=99.6,
        deepest_mm=3.1,
        marks_off_mm=0.03,
        hand=hand,
        hand_places=len(hand.geoms),
        hand_min=12.0,
        narrow=(Narrow((23.0, 37.3), 0.3), Narrow((35.0, 35.5), 0.3)),
        choices=(
            BitChoice(("6 mm flat",), 14.0, 95.0, 610.0),
            BitChoice(("6 mm flat", "60 degree V"), 19.0, 31.0, 160.0),
            BitChoice(("6 mm flat", "1.5 mm flat", "60 degree V"), 24.7, 12.0, float(hand.area)),
        ),
    )


@cache
def routed_face() -> RoutedFace:
    """The face "A front" with its cut, its surface, and a few places left to the hand."""
    separation = Separation((impression(1, printing()),), (), (), 0.0, 0.0)
    table = BlocksTable.model_validate({})
    blocks = lay_out_blocks(separation, width_mm=WIDTH_MM, height_mm=HEIGHT_MM, settings=table)
    cut = plan_cuts(blocks, CuttingTable.model_validate({"clear_reach_mm": 12.0})).faces[0]
    face = blocks.faces[0]
    routed = route_face(blocks, face, cut.clear, TOOLS, MANNER)
    x0, y0, x1, y1 = blocks.block.bounds
    hand = MultiPolygon([box(44.2, 9.4, 46.8, 10.2), box(48.6, 22.4, 49.4, 23.6), Point(20, 20).buffer(0.35)])
    whole = replace(cut, method="router", routing=routing(hand))
    return RoutedFace(blocks, face, whole, routed, surface(routed, x1 - x0, y1 - y0))

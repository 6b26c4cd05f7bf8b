"""Two small faces with hollows of every width, as tests of bits that clear them want."""

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from blockwright.cutting import plan_cuts
from blockwright.cutting.feeds import speeds_for, steps_for
from blockwright.cutting.ground import Manner, Tool, floor_of
from blockwright.cutting.proving import FaceWanted, Proof, check_program
from blockwright.cutting.routing import Routed, relief_of, route_face
from blockwright.cutting.wanted import Floor
from blockwright.documents.program import write_program
from blockwright.model.blocks import BlockSet, Board, Face, Kento
from blockwright.model.router import Bit
from blockwright.model.settings import CuttingTable
from blockwright.model.settings_router import RouterTable
from blockwright.model.units import Area
from routed import FACTS, ROUTER

MARK_MM = 0.2
MANNER = Manner(
    Floor(60.0, 1.5, 0.1, 4.5),
    stock_mm=0.2,
    ramp_deg=4.0,
    safe_mm=5.0,
    least_left_mm2=4.0,
    mark_depth_mm=MARK_MM,
    chamfer_mm=0.0,
)

GAPS_MM = (0.8, 1.6, 2.6, 3.4, 4.4, 5.6, 9.0)
"""Between the teeth of the comb, from left to right."""


def comb() -> Area:
    """Upright bars with gaps of every width between them, on a foot that joins them."""
    x, bars = 4.0, [box(4.0, 30.0, 58.0, 33.0)]
    for gap in (*GAPS_MM, 0.0):
        bars.append(box(x, 6.0, x + 2.0, 31.0))
        x += 2.0 + gap
    return MultiPolygon([shapely.union_all(bars)])


def rounds() -> Area:
    """Discs that nearly touch, a ring with a hollow in it, and a star with sharp inside corners."""
    turn = np.linspace(0.0, 2.0 * np.pi, 11)[:-1]
    reach = np.where(np.arange(10) % 2, 3.0, 9.0)
    star = Polygon(np.column_stack([48.0 + reach * np.cos(turn), 13.0 + reach * np.sin(turn)]))
    ring = Point(14.0, 26.0).buffer(9.0, quad_segs=32).difference(Point(14.0, 26.0).buffer(6.0, quad_segs=32))
    discs = [Point(x, y).buffer(r, quad_segs=32) for x, y, r in ((30, 28, 5.0), (42, 30, 5.5), (17, 8, 6.0))]
    return MultiPolygon([star, ring, *discs])


def face_of(printing: Area) -> BlockSet:
    """A block of 84 x 66 mm for an image of 60 x 40 mm, whose marks stand below it."""
    kento = Kento(
        kagi=(70.0, 50.0),
        hikitsuke=(20.0, 50.0),
        kagi_wall=((46.0, 50.0), (70.0, 50.0), (70.0, 26.0)),
        hikitsuke_wall=((26.0, 50.0), (12.0, 50.0)),
        kagi_recess=Polygon([(70, 50), (46, 50), (46, 43), (63, 43), (63, 26), (70, 26)]),
        hikitsuke_recess=box(12.0, 43.0, 26.0, 50.0),
        depth_mm=MARK_MM,
    )
    face = Face(name="A front", side="front", impressions=(1,), printing=printing)
    board = Board("A", "s", "cherry", 84.0, 66.0, 20.0, "along", (face,))
    return BlockSet(
        image_width_mm=60.0,
        image_height_mm=40.0,
        block=box(-8.0, -8.0, 76.0, 58.0),
        sheet=box(-4.0, -4.0, 70.0, 50.0),
        kento=kento,
        boards=(board,),
        faces_lower_bound=1,
        proven_fewest=True,
    )


def tools_of(*bits: Bit, settings: RouterTable | None = None) -> tuple[Tool, ...]:
    """Bits with speeds and steps in cherry."""
    table = settings or RouterTable()
    steps = [steps_for(bit, "hardwood", table) for bit in bits]
    return tuple(
        Tool(bit, speeds_for(bit, "hardwood", ROUTER, step.down_mm, table), step)
        for bit, step in zip(bits, steps, strict=True)
    )


def routed_by(printing: Area, *bits: Bit, manner: Manner = MANNER) -> tuple[Routed, Proof]:
    """What bits do on a face, and the proof of their programs."""
    blocks, tools = face_of(printing), tools_of(*bits)
    (face,) = blocks.faces
    (cut,) = plan_cuts(blocks, CuttingTable.model_validate({"method": "router"})).faces
    routed = route_face(blocks, face, cut.clear, tools, manner)
    wanted = FaceWanted(
        name=face.name,
        block=blocks.block,
        thickness_mm=20.0,
        printing=printing,
        clear=cut.clear,
        floor=floor_of(tools, manner),
        marks=blocks.marks_of(face),
        mark_depth_mm=MARK_MM,
        relief=relief_of(blocks, face, tools, manner),
        image_width_mm=60.0,
    )
    texts = [program.text for program in write_program(routed.runs, ROUTER, FACTS)]
    return routed, check_program(texts, wanted, bits, ROUTER)

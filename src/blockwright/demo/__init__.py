"""The demonstration picture: drawn from vector shapes, so that its true edges, colours and runs are known."""

from blockwright.demo.composition import tide_mill
from blockwright.demo.finish import KARAZURI, LEAF
from blockwright.demo.naming import colour_names, run_names
from blockwright.demo.painting import paint, write_picture
from blockwright.demo.scene import PaintedShape, Scene, colour_at, visible_shapes

__all__ = [
    "KARAZURI",
    "LEAF",
    "PaintedShape",
    "Scene",
    "colour_at",
    "colour_names",
    "paint",
    "run_names",
    "tide_mill",
    "visible_shapes",
    "write_picture",
]

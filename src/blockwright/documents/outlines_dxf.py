"""Outlines of a face as DXF (AutoCAD release 2010, AC1024), in millimetres."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.documents.face_layers import MEANINGS, Layer, Purpose, gather_layers
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut
from blockwright.model.errors import FolderError
from blockwright.model.units import PointMm

if TYPE_CHECKING:
    import ezdxf

COLOURS: dict[Purpose, int] = {
    "BLOCK": 7,
    "SHEET": 8,
    "ISLAND": 9,
    "CLEAR": 30,
    "MARKS": 1,
    "PRINTING": 150,
    "BORDER": 3,
    "WEED": 6,
}
"""AutoCAD colour index of each layer; 7 is black on a white ground and white on a black one."""

STENCIL_ONLY: tuple[Purpose, ...] = ("BORDER", "WEED")

DECIMALS = 3
"""Coordinates are written to 0.001 mm, a hundredth of what a carver or a cutter can follow."""

CROSS_POINT_STYLE = 3
"""$PDMODE 3 shows points as crosses."""

WEED_MM = 3.0
"""Size of those crosses ($PDSIZE), mm."""

_fixed_dates = threading.Lock()


def write_face_dxf(path: Path, blocks: BlockSet, face: Face, cut: FaceCut) -> None:
    """Write the outlines of one face as the carver sees it, mirrored, at 1:1 in mm.

    The block's lower left corner is (0, 0), x right, y up. Each purpose is a layer of closed polylines
    (LWPOLYLINE); holes are polylines of their own. A stencil has the layers BORDER and WEED too, the latter
    with a point in every part to lift off; a stencil cutter needs only CLEAR and BORDER, whose outlines
    hold every line to cut. The same face gives the same bytes. Raises FolderError when the file cannot be
    written, ValueError when ``cut`` is another face's.
    """
    import ezdxf  # takes a second to load: only those who draw need wait for it

    from blockwright.documents.dxf_points import OutlinePoints

    blocks = blocks.as_on(face)
    layers = gather_layers(blocks, face, cut)
    left, _, _, bottom = blocks.block.bounds
    corner = (left, bottom)
    with same_bytes():
        drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
        # Left to itself the library writes its classes in the order of a set, which changes from run to run.
        drawing.classes.add_required_classes(drawing.dxfversion)
        drawing.classes.classes = dict(sorted(drawing.classes.classes.items()))
        drawing.header["$PDMODE"] = CROSS_POINT_STYLE
        drawing.header["$PDSIZE"] = WEED_MM
        for purpose, meaning in MEANINGS.items():
            if cut.method == "stencil" or purpose not in STENCIL_ONLY:
                drawing.layers.add(purpose, color=COLOURS[purpose]).description = meaning
        space = drawing.modelspace()
        for layer in layers:
            for points in _outlines(layer, corner):
                outline = space.add_lwpolyline([], close=True, dxfattribs={"layer": layer.purpose})
                outline.lwpoints = OutlinePoints()
                outline.lwpoints.set(points)
        for x, y in cut.weed:
            space.add_point(
                (round(x - left, DECIMALS), round(bottom - y, DECIMALS)), dxfattribs={"layer": "WEED"}
            )
        _frame(drawing, layers, corner)
        text = StringIO()
        drawing.write(text)
    try:
        path.write_bytes(drawing.encode(text.getvalue()))
    except OSError as problem:
        raise FolderError(f"{path.name} cannot be written: {problem.strerror}.") from problem


def _outlines(layer: Layer, corner: PointMm) -> Iterator[NDArray[np.float64]]:
    """Yield each ring as the library keeps it: x, y, two widths and a bulge, one row a point.

    Set as a whole, because the library's own way of adding points takes time with their square.
    """
    for region in layer.area.geoms:
        for ring in (region.exterior, *region.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            rows = np.zeros((len(points), 5))
            rows[:, 0] = np.round(points[:, 0] - corner[0], DECIMALS)
            rows[:, 1] = np.round(corner[1] - points[:, 1], DECIMALS)
            rows[rows == 0] = 0.0  # a turned zero would be written as -0.0
            yield rows


def _frame(drawing: "ezdxf.document.Drawing", layers: tuple[Layer, ...], corner: PointMm) -> None:
    """Record the drawing's extents, and open it with all of it in view."""
    left, top, right, bottom = shapely.total_bounds([layer.area for layer in layers]).tolist()
    lower, upper = (left - corner[0], corner[1] - bottom), (right - corner[0], corner[1] - top)
    space = drawing.modelspace()
    space.dxf.extmin, space.dxf.extmax = (*lower, 0.0), (*upper, 0.0)
    # The library takes the extents over from the space unless a corner is the origin, as it mostly is here.
    drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = (*lower, 0.0), (*upper, 0.0)
    space.dxf.limmin, space.dxf.limmax = lower, upper
    drawing.set_modelspace_vport(
        height=(upper[1] - lower[1]) * 1.1, center=((lower[0] + upper[0]) / 2, (lower[1] + upper[1]) / 2)
    )


@contextmanager
def same_bytes() -> Iterator[None]:
    """Have the library write fixed dates and identifiers; its switch is global, so one drawing at a time."""
    import ezdxf

    with _fixed_dates:
        before = ezdxf.options.write_fixed_meta_data_for_testing
        ezdxf.options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            ezdxf.options.write_fixed_meta_data_for_testing = before

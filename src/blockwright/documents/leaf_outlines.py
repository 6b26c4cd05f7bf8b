"""The ground for leaf and the places of the leaves as outlines in mm: SVG 1.1 and DXF, right-reading."""

from io import StringIO
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import shapely

from blockwright.documents.decimals import SVG, spell
from blockwright.documents.outlines_dxf import DECIMALS, same_bytes
from blockwright.model.errors import FolderError
from blockwright.model.leaf import Laying
from blockwright.model.units import Region

_TEXT_SHARE = 0.12
"""Height of a leaf's number, as a part of its side."""

_LAYERS = {
    "SHEET": (8, "the sheet's edge"),
    "IMAGE": (9, "the image's edge"),
    "GROUND": (30, "takes the ground"),
    "LEAVES": (2, "whole leaves, one over the other by the lap"),
}
"""Layers of the DXF: AutoCAD colour index, and what they hold."""


def write_leaf_svg(path: Path, laying: Laying, *, image: Region, paper_sheet: Region) -> None:
    """Write ground and numbered leaves, right-reading; (0, 0) is the image's upper left corner, y down.

    ``image`` and ``paper_sheet`` are rectangles in the print's coordinates, mm. Raises FolderError.
    """
    shown = [paper_sheet, *laying.leaves]
    left, top, right, bottom = shapely.total_bounds(shown).tolist()
    pad = 1.0
    view = f"{left - pad:.3f} {top - pad:.3f} {right - left + 2 * pad:.3f} {bottom - top + 2 * pad:.3f}"
    size = f'width="{right - left + 2 * pad:.3f}mm" height="{bottom - top + 2 * pad:.3f}mm"'
    text_mm = laying.metal.side_mm * _TEXT_SHARE
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" {size} viewBox="{view}">',
        f"<title>{escape(laying.metal.name)} leaf: ground, and where the leaves are laid</title>",
        "<desc>Right-reading, as the print is seen. One unit is one millimetre; 0 0 is the image's upper "
        "left corner.</desc>",
        f'<g id="sheet" fill="none" stroke="#655d4f" stroke-width="0.25" stroke-dasharray="4 2">'
        f"{_path(paper_sheet)}</g>",
        f'<g id="image" fill="none" stroke="#8b8272" stroke-width="0.2">{_path(image)}</g>',
        f'<g id="ground" fill="{laying.metal.srgb_hex}" fill-rule="evenodd" stroke="none">',
        *(_path(part) for part in laying.ground.geoms),
        "</g>",
        '<g id="leaves" fill="none" stroke="#221e19" stroke-width="0.35">',
        *(_path(each) for each in laying.leaves),
        "</g>",
        f'<g id="numbers" fill="#221e19" font-family="serif" font-size="{text_mm:.2f}" text-anchor="middle">',
        *(
            f'<text x="{each.centroid.x:.2f}" y="{each.centroid.y + text_mm * 0.35:.2f}">{number}</text>'
            for number, each in enumerate(laying.leaves, start=1)
        ),
        "</g>",
        "</svg>",
        "",
    ]
    try:
        path.write_text("\n".join(lines), encoding="utf-8", newline="\n")
    except OSError as problem:
        raise FolderError(f"{path.name} cannot be written: {problem.strerror}.") from problem


def _path(region: Region) -> str:
    rings = shapely.get_rings(region)
    starts = np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(rings))])
    closed = np.ones(len(rings), dtype=np.bool_)
    return f'<path d="{spell(shapely.get_coordinates(rings), starts, closed, SVG).strip()}"/>'


def write_leaf_dxf(path: Path, laying: Laying, *, image: Region, paper_sheet: Region) -> None:
    """Write ground and leaves as closed polylines, for a stencil cutter; (0, 0) is the image's lower left
    corner, y up. The same laying gives the same bytes. Raises FolderError.
    """
    import ezdxf  # takes a second to load: only those who draw need wait for it

    foot = float(image.bounds[3])
    areas = {
        "SHEET": [paper_sheet],
        "IMAGE": [image],
        "GROUND": list(laying.ground.geoms),
        "LEAVES": list(laying.leaves),
    }
    with same_bytes():
        drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
        drawing.classes.add_required_classes(drawing.dxfversion)
        drawing.classes.classes = dict(sorted(drawing.classes.classes.items()))
        space = drawing.modelspace()
        for layer, (colour, meaning) in _LAYERS.items():
            drawing.layers.add(layer, color=colour).description = meaning
            for ring in shapely.get_rings(np.array(areas[layer], dtype=object)):
                points = np.round(shapely.get_coordinates(ring)[:-1] * (1, -1) + (0, foot), DECIMALS) + 0.0
                space.add_lwpolyline(points.tolist(), close=True, dxfattribs={"layer": layer})
        left, top, right, bottom = shapely.total_bounds([*areas["SHEET"], *areas["LEAVES"]]).tolist()
        drawing.set_modelspace_vport(
            height=(bottom - top) * 1.1, center=((left + right) / 2, foot - (top + bottom) / 2)
        )
        text = StringIO()
        drawing.write(text)
    try:
        path.write_bytes(drawing.encode(text.getvalue()))
    except OSError as problem:
        raise FolderError(f"{path.name} cannot be written: {problem.strerror}.") from problem

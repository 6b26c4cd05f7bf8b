"""Outlines of a face as plain SVG 1.1 (W3C Recommendation, 2011), in millimetres."""

from collections.abc import Iterator
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import shapely

from blockwright.documents.decimals import SVG, spell
from blockwright.documents.face_layers import MEANINGS, Purpose, gather_layers
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut
from blockwright.model.errors import FolderError
from blockwright.model.units import Area, PointMm

DECIMALS = 3
"""Coordinates are written to 0.001 mm, a hundredth of what a carver or a cutter can follow."""

WEED_MM = 0.8
"""Radius of the dot that marks where the stencil is lifted, mm."""

MARGIN_MM = 1.0
"""Bare ground round the drawing, mm, so that the line of its outer edge is drawn whole."""

# Pale is wood that stands, tinted is wood that goes, dark prints; where standing meets standing is no line.
STYLES: dict[Purpose, str] = {
    "BLOCK": 'fill="#fbf7ec" stroke="#221e19" stroke-width="0.35"',
    "SHEET": 'fill="none" stroke="#655d4f" stroke-width="0.25" stroke-dasharray="4 2"',
    "ISLAND": 'fill="#fbf7ec" stroke="none"',
    "CLEAR": 'fill="#e4d9c3" stroke="none"',
    "MARKS": 'fill="#ffffff" stroke="#9c2f24" stroke-width="0.35"',
    "PRINTING": 'fill="#221e19" stroke="none"',
    "BORDER": 'fill="none" stroke="#221e19" stroke-width="0.35" stroke-dasharray="1.5 1.5"',
    "WEED": 'fill="#9c2f24" stroke="none"',
}


_WAY_ROUND = {True: "mirrored", False: "not mirrored, to press the sheet's back"}


def write_face_svg(path: Path, blocks: BlockSet, face: Face, cut: FaceCut) -> None:
    """Write the outlines of one face as the carver sees it, mirrored, at 1:1 in mm.

    One user unit is one millimetre; (0, 0) is the block's upper left corner, y down. Each purpose is a group
    whose ``id`` is its name in lower case, each connected area one path with its holes (even-odd). What
    several impressions print from one face is grouped once more, by impression. A stencil has its border and
    its weeding marks too. Raises FolderError when the file cannot be written, ValueError when ``cut`` is
    another face's.
    """
    blocks = blocks.as_on(face)
    layers = gather_layers(blocks, face, cut)
    origin = (blocks.block.bounds[0], blocks.block.bounds[1])
    frame = shapely.union_all(
        [layer.area for layer in layers if layer.purpose in ("BLOCK", "SHEET", "BORDER")]
    )
    left, top, right, bottom = frame.bounds
    width, height = right - left + 2 * MARGIN_MM, bottom - top + 2 * MARGIN_MM
    numbers = ", ".join(str(number) for number in face.impressions)
    several = "s" if len(face.impressions) > 1 else ""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_number(width)}mm" '
        f'height="{_number(height)}mm" viewBox="{_number(left - origin[0] - MARGIN_MM)} '
        f'{_number(top - origin[1] - MARGIN_MM)} {_number(width)} {_number(height)}">',
        f"<title>{escape(face.name)}: impression{several} {numbers}</title>",
        f"<desc>Seen from the carved face: {_WAY_ROUND[face.mirrored]}. One unit is one millimetre; "
        "0 0 is the block's upper left corner.</desc>",
    ]
    for layer in layers:
        by_ink = layer.purpose == "PRINTING" and len(face.parts) > 1
        lines.extend(_group(layer.purpose, _inks(face, origin) if by_ink else _paths(layer.area, origin)))
    if cut.weed:
        lines.extend(_group("WEED", _dots(cut.weed, origin)))
    try:
        path.write_text("\n".join([*lines, "</svg>", ""]), encoding="utf-8", newline="\n")
    except OSError as problem:
        raise FolderError(f"{path.name} cannot be written: {problem.strerror}.") from problem


def _group(purpose: Purpose, elements: Iterator[str]) -> Iterator[str]:
    yield f'<g id="{purpose.lower()}" {STYLES[purpose]}>'
    yield f"<title>{escape(MEANINGS[purpose])}</title>"
    yield from elements
    yield "</g>"


def _inks(face: Face, origin: PointMm) -> Iterator[str]:
    """What each impression of a shared face prints, in a group of its own."""
    for part in face.parts:
        turned = ", for which the block is turned by half" if part.turned else ""
        yield f'<g id="impression-{part.impression}">'
        yield f"<title>impression {part.impression}{turned}</title>"
        yield from _paths(part.printing, origin)
        yield "</g>"


def _paths(area: Area, origin: PointMm) -> Iterator[str]:
    for region in area.geoms:
        rings = shapely.get_rings(region)
        starts = np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(rings))])
        points = shapely.get_coordinates(rings) - np.asarray(origin)
        outlines = spell(points, starts, np.ones(len(rings), dtype=np.bool_), SVG).rstrip("\n")
        yield f'<path fill-rule="evenodd" d="{outlines}"/>'


def _dots(points: tuple[PointMm, ...], origin: PointMm) -> Iterator[str]:
    for x, y in points:
        yield f'<circle cx="{_number(x - origin[0])}" cy="{_number(y - origin[1])}" r="{WEED_MM}"/>'


def _number(value: float) -> str:
    """Write a length in mm without idle zeros.

    >>> _number(12.50), _number(-0.0001), _number(3.14159)
    ('12.5', '0', '3.142')
    """
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text

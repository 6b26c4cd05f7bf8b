"""Pictures of the design's shapes, and pictures for the screen."""

from pathlib import Path
from xml.sax.saxutils import escape

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image

from blockwright.documents.decimals import SVG, spell
from blockwright.geometry.painting import paint_area
from blockwright.geometry.running import pixel_places, run_levels
from blockwright.model.design import Design, Run
from blockwright.model.errors import FolderError
from blockwright.model.units import MM_PER_INCH, Region

_ROWS = 256
"""Rows of a picture for which a run is worked out together."""


def paint_design(design: Design, *, dpi: float) -> NDArray[np.uint8]:
    """The design's shapes, (H, W, 3) uint8 sRGB, antialiased; mixed in sRGB's coded values."""
    pixels_per_mm = dpi / MM_PER_INCH
    width = max(1, round(design.width_mm * pixels_per_mm))
    height = max(1, round(design.height_mm * pixels_per_mm))
    picture = np.zeros((height, width, 3), np.float32)
    for k, colour in enumerate(design.palette):
        shapes = [shape for shape in design.shapes if shape.colour == k]
        area = shapely.multipolygons([shape.region for shape in shapes])
        share = paint_area(area, pixels_per_mm=pixels_per_mm, width_px=width, height_px=height)
        if shapes and (run := shapes[0].run) is not None:
            _add_run(picture, share, run, pixels_per_mm)
            continue
        levels = [int(colour.srgb_hex[i : i + 2], 16) for i in (1, 3, 5)]
        for channel, level in enumerate(levels):
            picture[:, :, channel] += share * np.float32(level)
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def _add_run(
    picture: NDArray[np.float32], share: NDArray[np.float32], run: Run, pixels_per_mm: float
) -> None:
    """Add a colour that runs to a picture, some rows at a time."""
    height, width = share.shape
    for top in range(0, height, _ROWS):
        some = share[top : top + _ROWS]
        if some.any():
            places = pixel_places(
                origin_mm=(0.0, top / pixels_per_mm),
                pixels_per_mm=pixels_per_mm,
                width_px=width,
                height_px=len(some),
            )
            levels = run_levels(run, places).reshape(*some.shape, 3)
            picture[top : top + _ROWS] += some[:, :, None] * levels.astype(np.float32)


def shrink(picture: NDArray[np.uint8], *, most_px: int) -> NDArray[np.uint8]:
    """The picture with its longer side at most ``most_px``, averaged over whole pixels; never enlarged."""
    scale = most_px / max(picture.shape[:2])
    if scale >= 1.0:
        return picture
    size = (max(1, round(picture.shape[1] * scale)), max(1, round(picture.shape[0] * scale)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def write_jpeg(path: Path, picture: NDArray[np.uint8]) -> None:
    """Write an (H, W, 3) uint8 picture for the screen. Raises FolderError."""
    try:
        Image.fromarray(picture).save(path, "JPEG", quality=90, subsampling=0)
    except OSError as error:
        raise FolderError(f"{path.name} cannot be written ({error.strerror}).") from error


def _path(region: Region) -> str:
    rings = shapely.get_rings(region)
    starts = np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(rings))])
    return spell(shapely.get_coordinates(rings), starts, np.ones(len(rings), dtype=np.bool_), SVG).rstrip()


def _svg_gradient(k: int, run: Run) -> str:
    """A colour that runs along a straight axis, as a gradient of SVG 1.1."""
    (x1, y1), (x2, y2) = run.axis.start, run.axis.end
    last = len(run.srgb_hex) - 1
    stops = "".join(
        f'<stop offset="{n / last:.4f}" stop-color="{each}"/>' for n, each in enumerate(run.srgb_hex)
    )
    return (
        f'<linearGradient id="run-{k + 1}" gradientUnits="userSpaceOnUse" '
        f'x1="{x1:.3f}" y1="{y1:.3f}" x2="{x2:.3f}" y2="{y2:.3f}">{stops}</linearGradient>'
    )


def write_shapes_svg(path: Path, design: Design) -> None:
    """Write all shapes as plain SVG 1.1 in mm, right-reading, a group for each colour. Raises FolderError."""
    size = f'width="{design.width_mm:.3f}mm" height="{design.height_mm:.3f}mm"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" {size} '
        f'viewBox="0 0 {design.width_mm:.3f} {design.height_mm:.3f}">',
        f"<title>{escape(design.title)}</title>",
        "<desc>Shapes of the design, right-reading. One unit is one millimetre.</desc>",
    ]
    runs = {shape.colour: shape.run for shape in design.shapes if shape.run is not None}
    lines += [_svg_gradient(k, run) for k, run in sorted(runs.items()) if not run.axis.edge]
    for k, colour in enumerate(design.palette):
        # SVG has no gradient away from a curved edge: that is shown as its mean colour.
        straight = k in runs and not runs[k].axis.edge
        fill = f"url(#run-{k + 1})" if straight else colour.srgb_hex
        lines.append(f'<g id="colour-{k + 1}" fill="{fill}" fill-rule="evenodd">')
        lines.append(f"<title>{escape(colour.name)}</title>")
        lines += [f'<path d="{_path(shape.region)}"/>' for shape in design.shapes if shape.colour == k]
        lines.append("</g>")
    try:
        path.write_text("\n".join([*lines, "</svg>", ""]), encoding="utf-8", newline="\n")
    except OSError as error:
        raise FolderError(f"{path.name} cannot be written ({error.strerror}).") from error

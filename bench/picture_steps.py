"""Steps of the report on pictures: measure a finished design from outside, and lay it beside its picture."""

from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from pydantic import TypeAdapter

from bench.edge_error import EdgeError, edge_error
from bench.tiling import measure_tiling
from bench.truth import area_errors, truth_of
from blockwright.colour import delta_e00, srgb_to_lab
from blockwright.demo import tide_mill
from blockwright.design import read_picture
from blockwright.documents.pictures import paint_design
from blockwright.model.design import Design
from blockwright.model.units import MM_PER_INCH

_COMPARED = 1_000_000
"""Pixels whose colour is compared, on a regular grid."""

_VISIBLE_DE00 = 5.0
"""A difference that nobody misses (CIEDE2000)."""

_BETWEEN_PX = 24
_GROUND = (233, 226, 211)
"""Width and colour of the strip between picture and shapes."""

_MOST_SIDE_PX = 30_000
"""Longer pictures are not drawn side by side: no viewer opens them."""


def _design(path: str) -> Design:
    return TypeAdapter(Design).validate_json(Path(path).read_bytes())


def picture_size(*, picture: str, paper_hex: str) -> dict[str, Any]:
    """Width and height in pixels and the stored resolution, as the program reads the file."""
    read = read_picture(Path(picture), paper_hex=paper_hex)
    height, width = read.pixels.shape[:2]
    return {"width_px": width, "height_px": height, "pixels_per_mm": read.pixels_per_mm}


def examine(*, picture: str, design: str, paper_hex: str, side_by_side: str | None = None) -> dict[str, Any]:
    """Measure a design against its picture; ``side_by_side`` names a PNG for looking."""
    made = _design(design)
    read = read_picture(Path(picture), paper_hex=paper_hex, width_mm=made.width_mm)
    regions = [shape.region for shape in made.shapes]
    tiling = measure_tiling(regions, width_mm=made.width_mm, height_mm=made.height_mm)
    frame_mm2 = made.width_mm * made.height_mm
    shapes = paint_design(made, dpi=made.pixels_per_mm * MM_PER_INCH)
    difference = _differences(read.pixels, shapes)
    if side_by_side is not None:
        _lay_side_by_side(read.pixels, shapes, Path(side_by_side))
    return {
        "colours": len(made.palette),
        "shapes": len(regions),
        "width_mm": made.width_mm,
        "height_mm": made.height_mm,
        "pixels_per_mm": made.pixels_per_mm,
        "coverage_valid": bool(shapely.coverage_is_valid(regions)),
        "invalid_polygons": tiling.invalid,
        "gap_mm2": tiling.gap_mm2,
        "overlap_mm2": tiling.overlap_mm2,
        "outside_mm2": tiling.outside_mm2,
        "area_error_percent": 100.0 * (tiling.area_mm2 / frame_mm2 - 1.0),
        "median_delta_e00": float(np.median(difference)),
        "p95_delta_e00": float(np.quantile(difference, 0.95)),
        "lost_percent": 100.0 * float(np.mean(difference > _VISIBLE_DE00)),
        "told_median_delta_e00": made.median_delta_e00,
        "findings": [asdict(finding) for finding in made.findings],
    }


def _differences(picture: NDArray[np.uint8], shapes: NDArray[np.uint8]) -> NDArray[np.float64]:
    """CIEDE2000 between picture and painted shapes on a grid of pixels."""
    rows, columns = (min(a, b) for a, b in zip(picture.shape[:2], shapes.shape[:2], strict=True))
    step = max(1, int(np.sqrt(rows * columns / _COMPARED)))
    one, other = picture[:rows:step, :columns:step], shapes[:rows:step, :columns:step]
    return delta_e00(srgb_to_lab(one / 255.0), srgb_to_lab(other / 255.0)).reshape(-1)


def _lay_side_by_side(picture: NDArray[np.uint8], shapes: NDArray[np.uint8], path: Path) -> None:
    height, width = picture.shape[:2]
    if 2 * width + _BETWEEN_PX > _MOST_SIDE_PX:
        return
    sheet = Image.new("RGB", (2 * width + _BETWEEN_PX, height), _GROUND)
    sheet.paste(Image.fromarray(picture), (0, 0))
    sheet.paste(Image.fromarray(shapes), (width + _BETWEEN_PX, 0))
    sheet.save(path, compress_level=4)


def examine_demo(*, designs: list[str]) -> dict[str, Any]:
    """Edge and area errors of designs of the demonstration picture, against its own shapes."""
    truth = truth_of(tide_mill())
    told = []
    for path in designs:
        made = _design(path)
        error = edge_error(made, truth)
        areas = area_errors(made, truth)
        told.append({**_error_told(error), "areas": [{**asdict(a), "percent": a.percent} for a in areas]})
    return {
        "designs": told,
        "true_edge_mm": float(shapely.length(truth.edges.lines).sum()),
        "junctions": len(truth.edges.junctions),
    }


def _error_told(error: EdgeError) -> dict[str, Any]:
    told = asdict(error)
    told["worst"] = [{"at": [x, y], "px": px} for x, y, px in error.worst]
    return told

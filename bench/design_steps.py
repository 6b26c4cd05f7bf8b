"""Steps that turn a picture into shapes: this program's and vtracer's, from the same file."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from functools import wraps
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pydantic import TypeAdapter
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from bench.child import peak_bytes
from bench.tiling import measure_tiling
from blockwright.design import make_design, making, read_picture
from blockwright.model.design import Design
from blockwright.model.settings import DesignTable

PAPER_HEX = "#f6efdf"

_ROOMS = ("blockwright.design.", "blockwright.geometry.")
"""Functions of these rooms that the design stage calls are timed one by one."""

_LAST_STEP = "check_coverage"
"""Pixels to coverage ends when the coverage has been checked."""

_CURVE_POINTS = 12
"""Points on each curve of an SVG path when its area is measured."""


@dataclass
class _Watch:
    """Name, begin and end of each timed call, in seconds of the performance counter."""

    calls: list[tuple[str, float, float]] = field(default_factory=list)

    def watching(self, name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def timed(*arguments: Any, **options: Any) -> Any:
            began = time.perf_counter()
            try:
                return function(*arguments, **options)
            finally:
                self.calls.append((name, began, time.perf_counter()))

        return timed

    def seconds(self) -> dict[str, float]:
        told: dict[str, float] = {}
        for name, began, ended in self.calls:
            told[name] = told.get(name, 0.0) + ended - began
        return told

    def ended(self, name: str) -> float:
        ends = [ended for called, _, ended in self.calls if called == name]
        if not ends:
            raise RuntimeError(f"the design stage no longer calls {name}; bench/design_steps.py must follow")
        return ends[-1]


@contextmanager
def _watched() -> Iterator[_Watch]:
    """Time the functions that the design stage's module takes from the design and geometry rooms."""
    watch = _Watch()
    before = {}
    for name, value in vars(making).items():
        of = getattr(value, "__module__", "") or ""
        if (
            of.startswith(_ROOMS)
            and of != making.__name__
            and callable(value)
            and not isinstance(value, type)
        ):
            before[name] = value
    for name, function in before.items():
        setattr(making, name, watch.watching(name, function))
    try:
        yield watch
    finally:
        for name, function in before.items():
            setattr(making, name, function)


def _make(pixels: NDArray[np.uint8], width_mm: float) -> tuple[Design, dict[str, Any]]:
    """Make a design and tell its times in seconds: of the wall, of all cores, and step by step."""
    with _watched() as watch:
        began, began_all = time.perf_counter(), time.process_time()
        design = make_design(
            pixels, title="bench", width_mm=width_mm, paper_hex=PAPER_HEX, settings=DesignTable()
        )
        whole_s, all_cores_s = time.perf_counter() - began, time.process_time() - began_all
    return design, {
        "whole_s": whole_s,
        "all_cores_s": all_cores_s,
        "to_coverage_s": watch.ended(_LAST_STEP) - began,
        "steps_s": watch.seconds(),
    }


def design_picture(*, picture: str, width_mm: float, keep: str | None = None) -> dict[str, Any]:
    """Read a picture and make its design once; times in seconds and the peak in bytes.

    ``keep`` names a JSON file for the design.
    """
    began = time.perf_counter()
    read = read_picture(Path(picture), paper_hex=PAPER_HEX, width_mm=width_mm)
    read_s = time.perf_counter() - began
    design, times = _make(read.pixels, width_mm)
    told = {"read_s": read_s, **times, "peak_bytes": peak_bytes(), **_design_told(design)}
    if keep is not None:
        Path(keep).write_bytes(TypeAdapter(Design).dump_json(design))
    return told | {"pixels": int(read.pixels.shape[0] * read.pixels.shape[1])}


def _design_told(design: Design) -> dict[str, Any]:
    regions = [shape.region for shape in design.shapes]
    return {
        "colours": len(design.palette),
        "shapes": len(regions),
        "vertices": int(shapely.get_num_coordinates(regions).sum()),
        "coverage_valid": bool(shapely.coverage_is_valid(regions)),
    }


def beside_vtracer(*, picture: str, width_mm: float, svg: str, ours: int, theirs: int) -> dict[str, Any]:
    """Make a design and let vtracer trace the same file, in turns; times in seconds.

    The first design is left out, for it is not warm. vtracer runs in mode spline, all else as it comes.
    """
    import vtracer

    told: dict[str, Any] = {"runs": [], "vtracer_s": []}
    for turn in range(ours + 1):
        began = time.perf_counter()
        read = read_picture(Path(picture), paper_hex=PAPER_HEX, width_mm=width_mm)
        read_s = time.perf_counter() - began
        times = _make(read.pixels, width_mm)[1]
        if turn > 0:
            told["runs"].append({"read_s": read_s, **times})
        if turn < theirs:
            began = time.perf_counter()
            vtracer.convert_image_to_svg_py(picture, svg, mode="spline")
            told["vtracer_s"].append(time.perf_counter() - began)
    return told


def tile_picture(*, picture: str, width_mm: float) -> dict[str, Any]:
    """How well the design of a picture tiles it, in shares of its area."""
    design = _make(read_picture(Path(picture), paper_hex=PAPER_HEX).pixels, width_mm)[0]
    regions = [shape.region for shape in design.shapes]
    return _tiling_told(regions, design.width_mm, design.height_mm)


def _tiling_told(polygons: list[BaseGeometry], width: float, height: float) -> dict[str, Any]:
    tiling = measure_tiling(polygons, width_mm=width, height_mm=height)
    whole = width * height
    return {
        **asdict(tiling),
        "shapes": len(polygons),
        "gap_percent": 100.0 * tiling.gap_mm2 / whole,
        "overlap_percent": 100.0 * tiling.overlap_mm2 / whole,
        "coverage_valid": bool(shapely.coverage_is_valid(np.asarray(polygons, dtype=object))),
    }


def vtracer_picture(*, picture: str, svg: str) -> dict[str, Any]:
    """Let vtracer trace a file once, for its peak of memory."""
    import vtracer

    vtracer.convert_image_to_svg_py(picture, svg, mode="spline")
    return {"paths": Path(svg).read_text(encoding="utf-8").count("<path")}


def vtracer_tile(*, picture: str, svg: str, hierarchical: str) -> dict[str, Any]:
    """How well vtracer's shapes tile a picture: its paths as polygons, in pixels."""
    import vtracer
    from PIL import Image

    vtracer.convert_image_to_svg_py(picture, svg, mode="spline", hierarchical=hierarchical)
    with Image.open(picture) as opened:
        width, height = opened.size
    return _tiling_told(svg_polygons(Path(svg)), float(width), float(height))


def svg_polygons(svg: Path) -> list[BaseGeometry]:
    """The filled paths of an SVG file as areas, curves as short straight pieces, filled even-odd."""
    import svgelements

    areas: list[BaseGeometry] = []
    for element in svgelements.SVG.parse(str(svg)).elements():
        if isinstance(element, svgelements.Path):
            rings = [_ring(subpath) for subpath in element.as_subpaths()]
            area: BaseGeometry = Polygon()
            for ring in rings:
                if len(ring) >= 4:
                    area = area.symmetric_difference(shapely.make_valid(Polygon(ring)))
            if not area.is_empty:
                areas.append(area)
    return areas


def _ring(subpath: Any) -> list[tuple[float, float]]:
    import svgelements

    points: list[tuple[float, float]] = []
    for segment in subpath:
        if isinstance(segment, svgelements.Move):
            points.append((segment.end.x, segment.end.y))
        elif isinstance(segment, svgelements.CubicBezier | svgelements.QuadraticBezier):
            places = [segment.point(k / _CURVE_POINTS) for k in range(1, _CURVE_POINTS + 1)]
            points += [(place.x, place.y) for place in places]
        elif segment.end is not None:
            points.append((segment.end.x, segment.end.y))
    return points

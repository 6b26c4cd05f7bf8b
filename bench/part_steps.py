"""Steps that measure single parts of the program, most beside general libraries that do the same."""

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image

from blockwright import project
from blockwright.colour import delta_e00
from blockwright.demo import tide_mill, visible_shapes
from blockwright.design import read_picture
from blockwright.geometry.painting import paint_area
from blockwright.proof.shape_facts import shape_facts
from blockwright.tiles import Tiles

_FINE = 4
"""Fine pixels along each side of a pixel where a general library samples an area."""

_SHIFT = 8
"""Bits of a fine pixel's fraction that cv2 takes."""


def in_turns(rivals: dict[str, Callable[[], Any]], *, repeats: int) -> dict[str, float]:
    """Median seconds of each rival, run in turns so that a busy moment hits all of them alike."""
    times: dict[str, list[float]] = {name: [] for name in rivals}
    for _ in range(repeats):
        for name, run in rivals.items():
            began = time.perf_counter()
            run()
            times[name].append(time.perf_counter() - began)
    return {name: median(each) for name, each in times.items()}


def read_beside(*, picture: str, repeats: int) -> dict[str, Any]:
    """Reading one file to pixels, beside cv2 and Pillow."""

    def with_pillow() -> NDArray[np.uint8]:
        with Image.open(picture) as opened:
            return np.asarray(opened.convert("RGB"))

    ours = read_picture(Path(picture), paper_hex="#ffffff").pixels
    apart = int(np.abs(ours.astype(np.int16) - with_pillow()).max())
    seconds = in_turns(
        {
            "blockwright": lambda: read_picture(Path(picture), paper_hex="#ffffff"),
            "cv2": lambda: cv2.imread(picture, cv2.IMREAD_COLOR),
            "Pillow": with_pillow,
        },
        repeats=repeats,
    )
    return {"seconds": seconds, "pixels": int(ours.shape[0] * ours.shape[1]), "levels_apart": apart}


def paint_beside(*, dpi: float, repeats: int) -> dict[str, Any]:
    """The demonstration picture's line work as covered shares, beside polygons filled on a finer grid."""
    scene = tide_mill()
    parts: list[Any] = []
    darkest = min((s.colour for s in visible_shapes(scene)), key=lambda c: sum(bytes.fromhex(c[1:])))
    for shape in visible_shapes(scene):
        if shape.colour == darkest:
            parts += shape.area.geoms
    area = shapely.multipolygons(parts)
    pixels_per_mm = dpi / 25.4
    size = (round(scene.height_mm * pixels_per_mm), round(scene.width_mm * pixels_per_mm))

    def ours() -> NDArray[np.float32]:
        return paint_area(area, pixels_per_mm=pixels_per_mm, width_px=size[1], height_px=size[0])

    def with_cv2() -> NDArray[np.float32]:
        return _fill_finely(area, pixels_per_mm=pixels_per_mm, size=size)

    ours()
    true_px = area.area * pixels_per_mm**2
    return {
        "seconds": in_turns({"blockwright": ours, "cv2": with_cv2}, repeats=repeats),
        "area_error_percent": {
            "blockwright": 100.0 * (float(ours().sum(dtype=np.float64)) / true_px - 1.0),
            "cv2": 100.0 * (float(with_cv2().sum(dtype=np.float64)) / true_px - 1.0),
        },
        "pixels": size[0] * size[1],
        "vertices": int(shapely.get_num_coordinates(area)),
    }


def _fill_finely(area: Any, *, pixels_per_mm: float, size: tuple[int, int]) -> NDArray[np.float32]:
    fine = np.zeros((size[0] * _FINE, size[1] * _FINE), np.uint8)
    scale = pixels_per_mm * _FINE
    rings = [
        # cv2 takes a whole number for the middle of a pixel
        np.rint((shapely.get_coordinates(ring) * scale - 0.5) * (1 << _SHIFT)).astype(np.int32)
        for ring in shapely.get_rings(shapely.get_parts(area))
    ]
    cv2.fillPoly(fine, rings, 255, shift=_SHIFT)
    shares = cv2.resize(fine, (size[1], size[0]), interpolation=cv2.INTER_AREA).astype(np.float32)
    return np.asarray(shares / np.float32(255.0), dtype=np.float32)


def difference_beside(*, pairs: int, repeats: int) -> dict[str, Any]:
    """CIEDE2000 of random pairs of colours, beside colour-science."""
    import warnings

    with warnings.catch_warnings():
        # It warns about optional packages that have nothing to do with colour difference.
        warnings.simplefilter("ignore")
        from colour.difference import delta_E_CIE2000
    random = np.random.default_rng(2005)
    one, other = (random.uniform((0, -100, -100), (100, 100, 100), (pairs, 3)) for _ in range(2))
    apart = float(np.abs(delta_e00(one, other) - delta_E_CIE2000(one, other)).max())
    seconds = in_turns(
        {
            "blockwright": lambda: delta_e00(one, other),
            "colour-science": lambda: delta_E_CIE2000(one, other),
        },
        repeats=repeats,
    )
    return {"seconds": seconds, "pairs": pairs, "largest_difference": apart}


def look_closely(*, folder: str) -> dict[str, Any]:
    """Every deep-zoom tile of some sheets of the demo, and every shape asked about; the print is made first.

    Seconds of the tiles by view, of the shapes, and the number of impressions.
    """
    place = Path(folder)
    project.create_demo(place)
    project.make(place, upto="separation")
    tiles = Tiles()
    tiles.warm()
    count = len(list((place / "out" / "separation").glob("impression-*.png")))
    views = ("shapes", f"after-{count:02d}", f"alone-{count // 2:02d}", f"under-{count // 2:02d}")
    index = tiles.design(place)
    shapes = [_seconds(partial(shape_facts, index, number)) for number in range(len(index.regions))]
    return {
        "impressions": count,
        "shapes": shapes,
        "tiles": {view: _tile_seconds(tiles, place, view) for view in views},
    }


def _tile_seconds(tiles: Tiles, folder: Path, view: str) -> list[float]:
    source = tiles.describe(folder, view)
    seconds = []
    for level in range(source.levels):
        span = source.tile_px << (source.levels - 1 - level)
        for row in range(-(-source.height_px // span)):
            for column in range(-(-source.width_px // span)):
                paint = partial(tiles.tile, folder, view, level, column, row, source.version)
                seconds.append(_seconds(paint))
    return seconds


def _seconds(run: Callable[[], Any]) -> float:
    began = time.perf_counter()
    run()
    return time.perf_counter() - began

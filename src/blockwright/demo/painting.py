"""From a scene to a picture file: what a painter's tablet would have made of the shapes."""

import math
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import MultiPolygon, Polygon

from blockwright.demo.scene import PaintedShape, Scene, colour_at, rgb_of, visible_shapes
from blockwright.geometry.painting import paint_area
from blockwright.model.errors import PictureError
from blockwright.model.units import MM_PER_INCH

BAND_ROWS = 512
"""Rows painted at a time: the work on a 4000-pixel band then stays within about a hundred megabytes."""
FINE_LEVELS = 1.5
"""Brush grain, standard deviation in sRGB levels; about what a textured brush leaves. [CP]"""
BROAD_LEVELS = 1.0
"""Uneven pressure, standard deviation in sRGB levels. [CP]"""
GRAIN_MM = 0.07
"""Gaussian radius over which neighbouring grain is alike. [CP]"""
PRESSURE_MM = 1.2
"""Grid on which the uneven pressure is drawn before it is spread smoothly. [CP]"""
SPECKS = 46
"""Specks on the whole picture at roughness 1."""
SPECK_RADIUS_MM = (0.06, 0.17)
"""Their least and greatest radius: a speck is at most 0.11 mm2."""


def paint(scene: Scene, *, dpi: float = 300, seed: int = 7, roughness: float = 1.0) -> NDArray[np.uint8]:
    """Paint a scene as an array (height, width, 3) of sRGB values from 0 to 255.

    Edges are antialiased with the exact share of each pixel that each colour covers, mixed in encoded
    values as painting programs do. ``roughness`` scales brush noise and the number of specks; 0 gives the
    clean picture. The same arguments always give the same array. Raises PictureError for a resolution
    below 10 or above 2400 dpi or a roughness outside 0 to 10.
    """
    if not 10 <= dpi <= 2400:
        raise PictureError(f"The resolution is {dpi} dpi; between 10 and 2400 is allowed.")
    if not 0 <= roughness <= 10:
        raise PictureError(f"The roughness is {roughness}; between 0 and 10 is allowed.")
    pixels_per_mm = dpi / MM_PER_INCH
    size = (round(scene.height_mm * pixels_per_mm), round(scene.width_mm * pixels_per_mm))
    if roughness == 0:
        return _paint_shapes(scene, size, pixels_per_mm, None)
    random = np.random.default_rng(seed)
    specks = _specks(scene, random, count=round(SPECKS * roughness))
    noise = _brush_noise(size, pixels_per_mm, random)
    noise *= roughness
    picture = _paint_shapes(scene, size, pixels_per_mm, noise)
    for speck in specks:
        _paint_over(picture, speck, pixels_per_mm)
    return picture


def write_picture(path: Path, scene: Scene, *, dpi: float = 300) -> None:
    """Write the painted scene as a PNG with its resolution stored; the same scene gives the same bytes.

    Raises PictureError when the file cannot be written.
    """
    picture = Image.fromarray(paint(scene, dpi=dpi))
    try:
        picture.save(path, format="PNG", dpi=(dpi, dpi), compress_level=4)
    except OSError as error:
        raise PictureError(f"{path} cannot be written: {error.strerror or error}.") from error


def _paint_shapes(
    scene: Scene, size: tuple[int, int], pixels_per_mm: float, noise: NDArray[np.float32] | None
) -> NDArray[np.uint8]:
    height, width = size
    shapes = _by_colour(visible_shapes(scene))
    picture = np.empty((height, width, 3), dtype=np.uint8)
    for first in range(0, height, BAND_ROWS):
        rows = min(BAND_ROWS, height - first)
        middles_mm = (np.arange(first, first + rows, dtype=np.float64) + 0.5) / pixels_per_mm
        band = np.zeros((rows, width, 3), dtype=np.float32)
        for shape in shapes:
            _add_shape(band, shape, colour_at(shape, middles_mm), first / pixels_per_mm, pixels_per_mm)
        _fill_border(band, scene, pixels_per_mm, first)
        if noise is not None:
            band += noise[first : first + rows, :, None]
        picture[first : first + rows] = np.clip(np.rint(band), 0, 255)
    return picture


def _fill_border(band: NDArray[np.float32], scene: Scene, pixels_per_mm: float, first_row: int) -> None:
    """Let the paint fill the last row and column whole where the sheet ends within them."""
    rows, width, _ = band.shape
    down = np.clip(scene.height_mm * pixels_per_mm - np.arange(first_row, first_row + rows), 0.01, 1.0)
    across = np.clip(scene.width_mm * pixels_per_mm - np.arange(width), 0.01, 1.0)
    band /= (down[:, None] * across[None, :])[:, :, None].astype(np.float32)


def _by_colour(shapes: tuple[PaintedShape, ...]) -> list[PaintedShape]:
    flats: dict[str, list[Polygon]] = {}
    for shape in shapes:
        if shape.fade_to is None:
            flats.setdefault(shape.colour, []).extend(shape.area.geoms)
    joined = [PaintedShape(colour, MultiPolygon(parts), colour) for colour, parts in flats.items()]
    return joined + [shape for shape in shapes if shape.fade_to is not None]


def _add_shape(
    band: NDArray[np.float32],
    shape: PaintedShape,
    rgb: NDArray[np.float64],
    top_mm: float,
    pixels_per_mm: float,
) -> None:
    """Add a shape's colour, one for each row of the band, by the share of each pixel that it covers."""
    rows, width, _ = band.shape
    _, first, _, last = shape.area.bounds
    if last <= top_mm or first >= top_mm + rows / pixels_per_mm:
        return
    share = paint_area(
        shape.area, pixels_per_mm=pixels_per_mm, width_px=width, height_px=rows, origin_mm=(0.0, top_mm)
    )
    for channel, levels in enumerate(rgb.astype(np.float32).T):
        band[:, :, channel] += share * levels[:, None]


def _paint_over(picture: NDArray[np.uint8], speck: PaintedShape, pixels_per_mm: float) -> None:
    left, top, right, bottom = (value * pixels_per_mm for value in speck.area.bounds)
    first_column, first_row = math.floor(left), math.floor(top)
    rows, columns = math.ceil(bottom) - first_row, math.ceil(right) - first_column
    share = paint_area(
        speck.area,
        pixels_per_mm=pixels_per_mm,
        width_px=columns,
        height_px=rows,
        origin_mm=(first_column / pixels_per_mm, first_row / pixels_per_mm),
    )[..., None]
    under = picture[first_row : first_row + rows, first_column : first_column + columns]
    under[:] = np.rint(under * (1 - share) + np.array(rgb_of(speck.colour)) * share)


def _brush_noise(
    size: tuple[int, int], pixels_per_mm: float, random: np.random.Generator
) -> NDArray[np.float32]:
    height, width = size
    grain = random.standard_normal(size, dtype=np.float32)
    cv2.GaussianBlur(grain, (0, 0), max(GRAIN_MM * pixels_per_mm, 0.3), dst=grain)
    grain *= FINE_LEVELS / float(grain.std())
    cells = [math.ceil(pixels / pixels_per_mm / PRESSURE_MM) + 3 for pixels in size]
    # spread over the grid first, so that its lines do not show
    coarse = cv2.GaussianBlur(random.standard_normal(cells, dtype=np.float32), (0, 0), 1.2)
    coarse *= BROAD_LEVELS / float(coarse.std())
    grain += cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    return grain


def _specks(scene: Scene, random: np.random.Generator, *, count: int) -> tuple[PaintedShape, ...]:
    colours = sorted({shape.colour for shape in scene.shapes if shape.fade_to is None} | {scene.paper_hex})
    specks = []
    for number in range(count):
        x_mm, y_mm = random.uniform((1.0, 1.0), (scene.width_mm - 1.0, scene.height_mm - 1.0))
        radius_mm = random.uniform(*SPECK_RADIUS_MM)
        angles = np.arange(9) * (math.tau / 9)
        radii = radius_mm * random.uniform(0.7, 1.15, size=9)
        outline = np.stack([x_mm + radii * np.cos(angles), y_mm + radii * np.sin(angles)], axis=1)
        colour = colours[int(random.integers(len(colours)))]
        specks.append(PaintedShape(f"speck {number + 1}", MultiPolygon([Polygon(outline)]), colour))
    return tuple(specks)

"""Steps that paint and write the pictures which the other steps measure."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from PIL import Image
from shapely import affinity
from shapely.geometry import MultiPolygon

from blockwright.demo import Scene, paint, tide_mill


def stretched(scene: Scene, *, width_mm: float, height_mm: float) -> Scene:
    """The scene on a sheet of another size."""
    across, down = width_mm / scene.width_mm, height_mm / scene.height_mm
    shapes = []
    for shape in scene.shapes:
        area = affinity.scale(shape.area, across, down, origin=(0.0, 0.0))
        shapes.append(replace(shape, area=area if isinstance(area, MultiPolygon) else MultiPolygon([area])))
    return replace(scene, width_mm=width_mm, height_mm=height_mm, shapes=tuple(shapes))


def write_painted(
    *,
    png: str,
    dpi: float,
    roughness: float = 1.0,
    sheet_mm: tuple[float, float] | None = None,
    jpeg: str | None = None,
    crop: dict[str, Any] | None = None,
    compress_level: int = 4,
) -> dict[str, Any]:
    """Paint the demonstration picture into a PNG, and if wanted a JPEG, and a piece of it.

    ``sheet_mm`` stretches it to a sheet of another size. ``crop`` names a ``png`` and the ``box`` (left,
    top, right, bottom in pixels) that goes there.
    """
    scene = tide_mill()
    if sheet_mm is not None:
        scene = stretched(scene, width_mm=sheet_mm[0], height_mm=sheet_mm[1])
    picture = Image.fromarray(paint(scene, dpi=dpi, roughness=roughness))
    picture.save(png, dpi=(dpi, dpi), compress_level=compress_level)
    if jpeg is not None:
        picture.save(jpeg, dpi=(dpi, dpi), quality=92)
    if crop is not None:
        picture.crop(crop["box"]).save(crop["png"], dpi=(dpi, dpi))
    return {
        "width_px": picture.width,
        "height_px": picture.height,
        "width_mm": scene.width_mm,
        "png_bytes": Path(png).stat().st_size,
    }


def write_demo_pictures(*, folder: str, wanted: list[tuple[int, float]]) -> dict[str, Any]:
    """Paint the demonstration picture at several resolutions (dpi) and roughnesses, each into a PNG."""
    scene = tide_mill()
    files = []
    for dpi, roughness in wanted:
        path = Path(folder) / f"demo-{dpi}-{roughness:g}.png"
        Image.fromarray(paint(scene, dpi=dpi, roughness=roughness)).save(
            path, dpi=(dpi, dpi), compress_level=1
        )
        files.append(str(path))
    return {"files": files, "paper_hex": scene.paper_hex}

"""Where the sheet lies on the face, and the marks that hold it there: kagi and hikitsuke.

All coordinates are the face's, as the printer sees it: mm, the upper left corner of the mirrored image
at (0, 0), x right, y down.
"""

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from blockwright.blocks.mirror import turn_points
from blockwright.model.blocks import Kento
from blockwright.model.settings import BlocksTable
from blockwright.model.units import PointMm, Region

BAND_MM = 8.0
"""How far the recess of a mark reaches inwards from its wall, mm [CP]: a thumb guides the sheet there."""


def place_sheet(*, width_mm: float, height_mm: float, settings: BlocksTable) -> Region:
    """Return the sheet's rectangle on the face (mm): the image and its margins, mirrored.

    The margin left of the print is right of the image on the face.

    >>> place_sheet(width_mm=100, height_mm=50, settings=BlocksTable(margin_left_mm=20)).bounds
    (-15.0, -15.0, 120.0, 65.0)
    """
    return box(
        -settings.margin_right_mm,
        -settings.margin_top_mm,
        width_mm + settings.margin_left_mm,
        height_mm + settings.margin_bottom_mm,
    )


def place_block(*, width_mm: float, height_mm: float, settings: BlocksTable) -> Region:
    """Return the block's rectangle on the face (mm), the same for every face.

    The image grown by half of ``block_over_mm`` on every side; on the two sides at the kagi's corner, which
    carry the marks, at least as far as the sheet's edge and the rim.

    >>> place_block(width_mm=360, height_mm=240, settings=BlocksTable()).bounds
    (-19.0, -19.0, 383.0, 263.0)
    """
    over = settings.block_over_mm / 2
    left, top, right, bottom = -over, -over, width_mm + over, height_mm + over
    sheet = place_sheet(width_mm=width_mm, height_mm=height_mm, settings=settings).bounds
    rim = settings.rim_mm
    if settings.kagi_corner.endswith("right"):
        right = max(right, sheet[2] + rim)
    else:
        left = min(left, sheet[0] - rim)
    if settings.kagi_corner.startswith("lower"):
        bottom = max(bottom, sheet[3] + rim)
    else:
        top = min(top, sheet[1] - rim)
    return box(left, top, right, bottom)


def hikitsuke_along(sheet: Region, settings: BlocksTable) -> tuple[PointMm, float]:
    """Return the direction from the kagi to the hikitsuke (a unit step) and that side's length in mm.

    Of a square sheet the horizontal side counts as the long one.
    """
    left, top, right, bottom = sheet.bounds
    width, height = right - left, bottom - top
    if (width >= height) == (settings.hikitsuke_side == "long"):
        return ((-1.0 if settings.kagi_corner.endswith("right") else 1.0), 0.0), width
    return (0.0, (-1.0 if settings.kagi_corner.startswith("lower") else 1.0)), height


def set_kento(sheet: Region, settings: BlocksTable) -> Kento:
    """Set the marks at the sheet's edge; ``sheet`` is its rectangle on the face, mm.

    The kagi takes the corner named in the settings, as the printer sees the block [pub: Fletcher 1916]. The
    middle of the hikitsuke stands at ``hikitsuke_at`` of the sheet's side from the kagi [pub: art-university
    printmaking glossary]. The recesses are let into the wood inside their walls, where the paper lies.

    >>> kento = set_kento(box(-15, -15, 375, 255), BlocksTable(hikitsuke_at=0.5))
    >>> kento.kagi, kento.hikitsuke
    ((375.0, 255.0), (180.0, 255.0))
    """
    left, top, right, bottom = sheet.bounds
    on_right, on_bottom = settings.kagi_corner.endswith("right"), settings.kagi_corner.startswith("lower")
    x, y = (right if on_right else left), (bottom if on_bottom else top)
    in_x, in_y = (-1.0 if on_right else 1.0), (-1.0 if on_bottom else 1.0)
    arm, band = settings.arm_mm, min(BAND_MM, settings.arm_mm)
    kagi_recess = Polygon(
        [
            (x, y),
            (x + in_x * arm, y),
            (x + in_x * arm, y + in_y * band),
            (x + in_x * band, y + in_y * band),
            (x + in_x * band, y + in_y * arm),
            (x, y + in_y * arm),
        ]
    )
    (step_x, step_y), side_mm = hikitsuke_along(sheet, settings)
    middle = settings.hikitsuke_at * side_mm
    near, far = middle - arm / 2, middle + arm / 2
    wall = ((x + step_x * near, y + step_y * near), (x + step_x * far, y + step_y * far))
    inwards_x, inwards_y = (0.0, in_y * BAND_MM) if step_x else (in_x * BAND_MM, 0.0)
    hikitsuke_recess = Polygon([*wall, *((px + inwards_x, py + inwards_y) for px, py in reversed(wall))])
    return Kento(
        kagi=(x, y),
        hikitsuke=(x + step_x * middle, y + step_y * middle),
        kagi_wall=((x + in_x * arm, y), (x, y), (x, y + in_y * arm)),
        hikitsuke_wall=wall,
        kagi_recess=kagi_recess,
        hikitsuke_recess=hikitsuke_recess,
        depth_mm=settings.recess_mm,
    )


def turn_kento(kento: Kento, block: Region) -> Kento:
    """Return the marks that serve a block laid down turned by half, as they lie on its face.

    Whoever turns the block, and the sheet with it, finds them where the others were.
    """

    def turned(*points: PointMm) -> tuple[PointMm, ...]:
        return tuple((float(x), float(y)) for x, y in turn_points(np.array(points), block))

    kagi, hikitsuke, *walls = turned(kento.kagi, kento.hikitsuke, *kento.kagi_wall, *kento.hikitsuke_wall)
    return Kento(
        kagi=kagi,
        hikitsuke=hikitsuke,
        kagi_wall=(walls[0], walls[1], walls[2]),
        hikitsuke_wall=(walls[3], walls[4]),
        kagi_recess=shapely.transform(kento.kagi_recess, lambda points: turn_points(points, block)),
        hikitsuke_recess=shapely.transform(kento.hikitsuke_recess, lambda points: turn_points(points, block)),
        depth_mm=kento.depth_mm,
    )

"""What a careful colleague checks before the blocks are cut to size: findings on marks, margins and area."""

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import box

from blockwright.blocks.kento import BAND_MM, hikitsuke_along
from blockwright.blocks.mirror import mirror_point
from blockwright.model.blocks import Face, Kento
from blockwright.model.findings import Facts, Finding
from blockwright.model.settings import BlocksTable
from blockwright.model.units import PointMm, Region

USUAL_MARGIN_MM = (10.0, 20.0)
"""Kagi from the image's edge, mm [pub: Edo woodblock craft specification]."""

WALL_MM = 3.0
"""Wood that must stand behind the walls of a mark, mm [CP]: a thinner wall breaks off under the sheets."""

ROUNDING_MM = 1e-6
"""Sums of settings carry rounding errors, mm."""

CLEAR_MM = 0.5
"""Wood left between a recess and what prints, mm [CP]: a line that touches the recess does not stand."""

Bounds = tuple[float, float, float, float]

_SIDES = ("left", "top", "right", "bottom")
_UPRIGHT = {"lower": "bottom", "upper": "top"}


def check_margins(settings: BlocksTable) -> list[Finding]:
    """Note margins at the kagi's corner that are outside the usual 10 to 20 mm."""
    beside = "left" if settings.kagi_corner.endswith("right") else "right"
    along = "bottom" if settings.kagi_corner.startswith("lower") else "top"
    margins = {side: float(getattr(settings, f"margin_{side}_mm")) for side in (beside, along)}
    least, most = USUAL_MARGIN_MM
    return [
        Finding(
            code="margin-at-marks",
            severity="note",
            message=f"The {side} margin, where the marks stand, is {margin:g} mm; "
            f"{least:g} to {most:g} mm is usual. Set it so, or try the marks before you cut them all.",
            about=((f"margin_{side}_mm", float(BlocksTable.model_fields[f"margin_{side}_mm"].default)),),
        )
        for side, margin in margins.items()
        if not least <= margin <= most
    ]


def check_marks_fit(sheet: Region, settings: BlocksTable) -> list[Finding]:
    """Stop when the marks are too long for the sheet's sides: beside each other, or past its end."""
    left, top, right, bottom = sheet.bounds
    _, side_mm = hikitsuke_along(sheet, settings)
    arm = settings.arm_mm
    middle = settings.hikitsuke_at * side_mm
    # The kagi's arm, and half the hikitsuke, go between the corner and its middle; half goes past that.
    most = min(right - left, bottom - top, middle * 2 / 3, 2 * (side_mm - middle))
    if arm <= most + ROUNDING_MM:
        return []
    shorter = math.floor(most * 10) / 10
    fits = _allowed("arm_mm", shorter)
    would: Facts = (("arm_mm", shorter),) if fits else ()
    do = f"{_said(would, 'or')} would do" if would else "change hikitsuke_at or the margins"
    return [
        Finding(
            code="marks-do-not-fit",
            severity="stop",
            message=f"Marks with arms of {arm:g} mm do not fit on a sheet of {right - left:g} x "
            f"{bottom - top:g} mm with the hikitsuke at {settings.hikitsuke_at:g} of a side of "
            f"{side_mm:g} mm; {do}.",
            about=would,
        )
    ]


def check_marks_on_wood(
    block: Region, sheet: Region, kento: Kento, settings: BlocksTable, *, width_mm: float
) -> list[Finding]:
    """Stop when a mark, with the wood that must stand behind its walls, does not lie on the block."""
    findings = []
    for name, recess, place in _marks(kento):
        lack = _lack(recess.bounds, block.bounds, by_mm=WALL_MM)
        if max(lack.values()) > ROUNDING_MM:
            would = _wood_that_would_do(name, recess.bounds, lack, sheet, settings)
            do = f"{_said(would, 'or')} would do" if would else "make the margins smaller"
            findings.append(
                Finding(
                    code="marks-off-wood",
                    severity="stop",
                    message=f"The {name} does not lie on the wood with {WALL_MM:g} mm behind its wall; {do}.",
                    at=mirror_point(place, width_mm=width_mm),
                    about=would,
                )
            )
    return findings


def _lack(inner: Bounds, outer: Bounds, *, by_mm: float = 0.0) -> dict[str, float]:
    """How far one rectangle, grown all round, reaches past the sides of another, mm; none is negative."""
    past = (outer[0] - inner[0], outer[1] - inner[1], inner[2] - outer[2], inner[3] - outer[3])
    return {side: max(0.0, each + by_mm) for side, each in zip(_SIDES, past, strict=True)}


def _image(sheet: Region, settings: BlocksTable) -> Bounds:
    """The image's rectangle on the face."""
    _, _, right, bottom = sheet.bounds
    return 0.0, 0.0, right - settings.margin_left_mm, bottom - settings.margin_bottom_mm


def _wood_that_would_do(
    name: str, recess: Bounds, lack: dict[str, float], sheet: Region, settings: BlocksTable
) -> Facts:
    """Each single setting that would give a mark the wood that it lacks."""
    lacking = {side for side, each in lack.items() if each > ROUNDING_MM}
    most = max(lack.values())
    at_kagi = {settings.kagi_corner.split()[1], _UPRIGHT[settings.kagi_corner.split()[0]]}
    over = _lack(recess, _image(sheet, settings), by_mm=WALL_MM)
    rim = _lack(recess, sheet.bounds, by_mm=WALL_MM)
    would: list[tuple[str, str | int | float]] = []
    if _allowed("block_over_mm", larger := _up(2 * max(over[side] for side in lacking))):
        would.append(("block_over_mm", larger))
    if lacking <= at_kagi:
        would.append(("rim_mm", _up(max(rim[side] for side in lacking))))
    (along_x, _), side_mm = hikitsuke_along(sheet, settings)
    far = ({"left", "right"} if along_x else {"top", "bottom"}) - at_kagi
    nearer = math.floor((settings.hikitsuke_at - most / side_mm) * 1000) / 1000
    beside_kagi = nearer * side_mm - settings.arm_mm / 2 >= settings.arm_mm
    if name == "hikitsuke" and lacking <= far and beside_kagi and _allowed("hikitsuke_at", nearer):
        would.append(("hikitsuke_at", nearer))
    return tuple(would)


def _said(would: Facts, joined: str) -> str:
    """Settings with the values that would do, in a sentence."""
    return f" {joined} ".join(
        f"{'an' if key[0] in 'aeiou' else 'a'} {key} of {value:g}" for key, value in would
    )


def _allowed(key: str, value: float) -> bool:
    """Whether a setting may have a value."""
    bounds = BlocksTable.model_fields[key].metadata
    least, most = (next(getattr(b, end) for b in bounds if hasattr(b, end)) for end in ("ge", "le"))
    return bool(least <= value <= most)


def _up(length_mm: float) -> int:
    """A length in whole mm, never less, as one would set it."""
    return math.ceil(length_mm - ROUNDING_MM)


def check_marks_clear(
    sheet: Region, kento: Kento, faces: Sequence[Face], settings: BlocksTable, *, width_mm: float
) -> list[Finding]:
    """Stop when the recess of a mark touches what a face prints; the place is where it first does."""
    findings = []
    for name, recess, _ in _marks(kento):
        touched = [face for face in faces if shapely.intersects(face.printing, recess)]
        if touched:
            common = shapely.intersection(touched[0].printing, recess)
            place = shapely.point_on_surface(common)
            would = _margins_that_would_do(recess, sheet, touched, settings)
            do = f"{_said(would, 'and')} would bring it clear" if would else "make the arms shorter"
            findings.append(
                Finding(
                    code="marks-in-image",
                    severity="stop",
                    message=f"The {name} is cut into what {_listed(touched)}; {do}.",
                    at=mirror_point((float(place.x), float(place.y)), width_mm=width_mm),
                    about=would,
                )
            )
    return findings


def _margins_that_would_do(
    recess: Region, sheet: Region, touched: Sequence[Face], settings: BlocksTable
) -> Facts:
    """The margins, as the print is seen, that would bring a mark's arms clear of all that is printed."""
    left, top, right, bottom = sheet.bounds
    on_right, low = settings.kagi_corner.endswith("right"), settings.kagi_corner.startswith("lower")
    upright = (right - BAND_MM, top, right, bottom) if on_right else (left, top, left + BAND_MM, bottom)
    level = (left, bottom - BAND_MM, right, bottom) if low else (left, top, right, top + BAND_MM)
    # The face is mirrored: its right edge is the print's left.
    edges = {
        "left" if on_right else "right": (upright, "right" if on_right else "left"),
        "bottom" if low else "top": (level, "bottom" if low else "top"),
    }
    printed = shapely.union_all([face.printing for face in touched])
    would: list[tuple[str, str | int | float]] = []
    for margin, (strip, edge) in edges.items():
        if not shapely.intersects(shapely.intersection(recess, box(*strip)), printed):
            continue
        # Measured over the whole edge, as the marks move along it when the other margin grows.
        sheet_side, printed_side = (
            dict(zip(_SIDES, each.bounds, strict=True))[edge] for each in (sheet, printed)
        )
        now = float(getattr(settings, f"margin_{margin}_mm"))
        clear = BAND_MM - abs(sheet_side - printed_side)
        would.append((f"margin_{margin}_mm", _up(now + clear + CLEAR_MM)))
    return tuple(would)


def check_printing_on_block(
    block: Region, sheet: Region, faces: Sequence[Face], settings: BlocksTable, *, width_mm: float
) -> list[Finding]:
    """Stop when a face would have to print outside the block."""
    left, top, right, bottom = block.bounds
    wood = box(left - ROUNDING_MM, top - ROUNDING_MM, right + ROUNDING_MM, bottom + ROUNDING_MM)
    findings = []
    for face in faces:
        if shapely.covers(wood, face.printing):
            continue
        outside = shapely.point_on_surface(shapely.difference(face.printing, wood))
        past = _lack(face.printing.bounds, block.bounds)
        over = _lack(face.printing.bounds, _image(sheet, settings))
        would: Facts = (("block_over_mm", _up(2 * max(over[side] for side in _SIDES if past[side] > 0))),)
        findings.append(
            Finding(
                code="printing-off-block",
                severity="stop",
                message=f"Part of what face {face.name} prints lies outside the block; "
                f"{_said(would, 'or')} would do.",
                at=mirror_point((float(outside.x), float(outside.y)), width_mm=width_mm),
                about=would,
            )
        )
    return findings


def _marks(kento: Kento) -> tuple[tuple[str, Region, PointMm], ...]:
    return (
        ("kagi", kento.kagi_recess, kento.kagi),
        ("hikitsuke", kento.hikitsuke_recess, kento.hikitsuke),
    )


def _listed(faces: Sequence[Face]) -> str:
    if len(faces) == 1:
        return f"face {faces[0].name} prints"
    return f"face {faces[0].name} and {len(faces) - 1} more print"

"""What a careful colleague checks before the blocks are cut to size: findings on marks, margins and area."""

from collections.abc import Sequence

import shapely
from shapely.geometry import box

from blockwright.blocks.kento import hikitsuke_along
from blockwright.blocks.mirror import mirror_point
from blockwright.model.blocks import Face, Kento
from blockwright.model.findings import Finding
from blockwright.model.settings import BlocksTable
from blockwright.model.units import PointMm, Region

USUAL_MARGIN_MM = (10.0, 20.0)
"""Kagi from the image's edge, mm [pub: Edo woodblock craft specification]."""

WALL_MM = 3.0
"""Wood that must stand behind the walls of a mark, mm [CP]: a thinner wall breaks off under the sheets."""

ROUNDING_MM = 1e-6
"""Sums of settings carry rounding errors, mm."""


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
    fits = (
        min(right - left, bottom - top) >= arm - ROUNDING_MM
        and middle - arm / 2 >= arm - ROUNDING_MM
        and middle + arm / 2 <= side_mm + ROUNDING_MM
    )
    if fits:
        return []
    return [
        Finding(
            code="marks-do-not-fit",
            severity="stop",
            message=f"Marks with arms of {arm:g} mm do not fit on a sheet of {right - left:g} x "
            f"{bottom - top:g} mm with the hikitsuke at {settings.hikitsuke_at:g} of a side of "
            f"{side_mm:g} mm; change arm_mm, hikitsuke_at or the margins.",
        )
    ]


def check_marks_on_wood(block: Region, kento: Kento, *, width_mm: float) -> list[Finding]:
    """Stop when a mark, with the wood that must stand behind its walls, does not lie on the block."""
    wood = shapely.buffer(block, ROUNDING_MM, join_style="mitre")
    findings = []
    for name, recess, place in _marks(kento):
        if not shapely.covers(wood, shapely.buffer(recess, WALL_MM, join_style="mitre")):
            findings.append(
                Finding(
                    code="marks-off-wood",
                    severity="stop",
                    message=f"The {name} does not lie on the wood with {WALL_MM:g} mm behind its wall; "
                    "make rim_mm or block_over_mm larger, or set hikitsuke_at nearer to the kagi.",
                    at=mirror_point(place, width_mm=width_mm),
                )
            )
    return findings


def check_marks_clear(kento: Kento, faces: Sequence[Face], *, width_mm: float) -> list[Finding]:
    """Stop when the recess of a mark touches what a face prints; the place is where it first does."""
    findings = []
    for name, recess, _ in _marks(kento):
        touched = [face for face in faces if shapely.intersects(face.printing, recess)]
        if touched:
            common = shapely.intersection(touched[0].printing, recess)
            place = shapely.point_on_surface(common)
            findings.append(
                Finding(
                    code="marks-in-image",
                    severity="stop",
                    message=f"The {name} is cut into what {_listed(touched)}; "
                    "give the margins at the marks more room.",
                    at=mirror_point((float(place.x), float(place.y)), width_mm=width_mm),
                )
            )
    return findings


def check_printing_on_block(block: Region, faces: Sequence[Face], *, width_mm: float) -> list[Finding]:
    """Stop when a face would have to print outside the block."""
    left, top, right, bottom = block.bounds
    wood = box(left - ROUNDING_MM, top - ROUNDING_MM, right + ROUNDING_MM, bottom + ROUNDING_MM)
    findings = []
    for face in faces:
        if shapely.covers(wood, face.printing):
            continue
        outside = shapely.point_on_surface(shapely.difference(face.printing, wood))
        findings.append(
            Finding(
                code="printing-off-block",
                severity="stop",
                message=f"Part of what face {face.name} prints lies outside the block; "
                "make block_over_mm larger.",
                at=mirror_point((float(outside.x), float(outside.y)), width_mm=width_mm),
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

"""``sheet.json``: what a calibration sheet holds, kept beside its PDF; the layout is made from it again."""

import json
from collections.abc import Sequence
from dataclasses import asdict

from pydantic import TypeAdapter, ValidationError

from blockwright.inks.sheet import LAYOUT_VERSION, lay_out_sheet, plan_sheet
from blockwright.model.errors import BlockwrightError, InkError
from blockwright.model.swatches import SwatchPage, SwatchPlan

_KIND = "calibration sheet"
_PLAN: TypeAdapter[SwatchPlan] = TypeAdapter(SwatchPlan)


def compose_sheet(pages: Sequence[SwatchPage]) -> str:
    """Describe a sheet as JSON that :func:`parse_sheet` reads back."""
    told = {
        "kind": _KIND,
        "layout": LAYOUT_VERSION,
        "sheets": [page.number for page in pages],
        "plan": asdict(pages[0].plan),
    }
    return json.dumps(told, indent=1) + "\n"


def parse_sheet(text: str, *, file: str) -> tuple[SwatchPage, ...]:
    """Lay out again the sheet that a file describes; ``file`` is what an error calls it.

    Raises InkError when it is no such description, was made by another version of the layout, or was changed
    after the sheet was drawn.
    """
    try:
        told = json.loads(text)
    except ValueError as error:
        raise InkError(f"{file} is no description of a calibration sheet: it is not JSON.") from error
    if not isinstance(told, dict) or told.get("kind") != _KIND:
        raise InkError(
            f"{file} is no description of a calibration sheet; give the file beside the sheet's PDF."
        )
    if told.get("layout") != LAYOUT_VERSION:
        raise InkError(
            f"{file} describes layout {told.get('layout')!r} of the calibration sheet; "
            f"this version of blockwright reads layout {LAYOUT_VERSION}. Draw the sheet anew."
        )
    try:
        plan = _PLAN.validate_python(told.get("plan"))
        pages = lay_out_sheet(_checked(plan))
    except (ValidationError, BlockwrightError) as error:
        raise InkError(
            f"{file} describes no sheet that can be drawn; it was changed or is damaged."
        ) from error
    if [page.number for page in pages] != told.get("sheets"):
        raise InkError(f"{file} was changed after its sheet was drawn; draw the sheet anew.")
    return pages


def _checked(plan: SwatchPlan) -> SwatchPlan:
    """The plan, held to the same rules as when it was made."""
    inks = [row.parts[0][0] for row in plan.rows if len(row.parts) == 1]
    mixes = [row.parts for row in plan.rows if len(row.parts) != 1]
    return plan_sheet(
        inks,
        mixes,
        size_mm=(plan.width_mm, plan.height_mm),
        passes=plan.passes,
        over_black=plan.over_black,
        black_drawn=plan.black_drawn,
    )

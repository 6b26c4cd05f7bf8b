"""Single parts beside general libraries: reading files, painting areas, colour difference."""

from typing import Any

from bench.figures import Row, Section
from bench.workshop import MEGA, Workshop

_DPI = 300


def parts_section(workshop: Workshop) -> Section:
    """Each part of the program that has a general rival."""
    painted = workshop.painted
    repeats = 3 if workshop.quick else 5
    rows: list[Row] = []
    for kind in ("png", "jpeg"):
        told = workshop.step("part_steps.read_beside", picture=painted[kind], repeats=repeats).told
        rows += _rival_rows(
            f"reading {kind.upper()}, {told['pixels'] / MEGA:.0f} megapixels", told["seconds"]
        )
    paint = workshop.step("part_steps.paint_beside", dpi=_DPI, repeats=repeats).told
    what = (
        f"painting line work of {paint['vertices']} vertices into {paint['pixels'] / MEGA:.0f} megapixels, "
        f"area off by {paint['area_error_percent']['blockwright']:+.4f} %"
    )
    off = f" at 4 x 4 fine pixels, area off by {paint['area_error_percent']['cv2']:+.2f} %"
    rows += _rival_rows(what, paint["seconds"], told_of={"cv2": off})
    apart = workshop.step("part_steps.difference_beside", pairs=1_000_000, repeats=repeats).told
    rows += _rival_rows(
        f"CIEDE2000 of a million pairs, at most {apart['largest_difference']:.0e} apart", apart["seconds"]
    )
    return Section(
        "parts",
        "Single parts beside general libraries",
        (
            "Run in turns in one process, the middle of several. Reading includes what a general reader "
            "leaves out: size limits before decoding, colour profile, orientation, transparency over paper.",
        ),
        tuple(rows),
    )


def _rival_rows(what: str, seconds: dict[str, Any], *, told_of: dict[str, str] | None = None) -> list[Row]:
    ours = seconds["blockwright"]
    rivals = [name for name in seconds if name != "blockwright"]
    rows = []
    for number, name in enumerate(rivals):
        rows.append(
            Row(
                what if number == 0 else "",
                f"{ours:.3f} s" if number == 0 else "",
                beside=f"{name}{(told_of or {}).get(name, '')}: {seconds[name]:.3f} s",
                ratio=f"{seconds[name] / ours:.2f} times as fast",
            )
        )
    return rows

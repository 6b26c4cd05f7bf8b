"""Single parts beside general libraries: reading, painting areas, colour difference; deep-zoom tiles."""

from typing import Any

import numpy as np

from bench.figures import Row, Section, at_most
from bench.workshop import MEGA, Workshop

_DPI = 300

_TILE_MS = 50.0
"""A tile of the deep zoom, at the 95th percentile of all tiles of a view."""

_SHAPE_MS = 50.0
"""What is told of a shape when it is chosen, its narrowest width included: the slowest shape."""


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
    rows += _close_rows(workshop)
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


def _close_rows(workshop: Workshop) -> list[Row]:
    """Looking closely at the demo: tiles of all levels, one after the other, JPEG included."""
    told = workshop.step("part_steps.look_closely", folder=str(workshop.folder / "close")).told
    rows = []
    for view, seconds in told["tiles"].items():
        most_ms = 1000.0 * max(seconds)
        rows.append(
            at_most(
                f"deep-zoom tiles of {view}, 95th percentile",
                1000.0 * float(np.percentile(seconds, 95)),
                most=_TILE_MS,
                unit="ms",
                digits=0,
                beside=f"the target; {len(seconds)} tiles, the slowest {most_ms:.0f} ms",
            )
        )
    shapes = told["shapes"]
    slowest_ms, middle_ms = (1000.0 * float(value) for value in (max(shapes), np.median(shapes)))
    told_of = f"the target; {len(shapes)} shapes, the middle one {middle_ms:.0f} ms"
    what = "what is told of a shape, the slowest"
    rows.append(at_most(what, slowest_ms, most=_SHAPE_MS, unit="ms", digits=0, beside=told_of))
    return rows

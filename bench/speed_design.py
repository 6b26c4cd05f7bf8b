"""From a painted picture to shapes: seconds, memory, vtracer beside it; and the largest picture."""

from statistics import median
from typing import Any

from bench.figures import Row, Section, at_most, spread, table
from bench.workshop import GIGA, MEGA, Workshop

COVERAGE_S = 4.0
"""Pixels of a 24-megapixel picture to coverage, warm, on two cores."""
COVERAGE_GB = 2.5
FASTER_THAN_VTRACER = 2.0
LARGE_GB = 24.0
"""The largest picture must finish within this."""

_A2_MM = (594.0, 420.0)
_A2_DPI = 600


def shapes_section(workshop: Workshop) -> Section:
    """The painted picture to coverage, in parts, beside vtracer."""
    painted = workshop.painted
    repeats = 3 if workshop.quick else 6
    ours = workshop.step(
        "design_steps.design_picture", png=painted["png"], width_mm=painted["width_mm"], repeats=repeats
    ).told
    theirs = workshop.step(
        "design_steps.vtracer_picture",
        png=painted["png"],
        svg=str(workshop.folder / "vtracer.svg"),
        repeats=1 if workshop.quick else 3,
    )
    megapixels = painted["pixels"] / MEGA
    return Section(
        "shapes",
        f"A painted picture of {megapixels:.0f} megapixels to shapes",
        (
            "The demonstration picture with brush noise and specks. *To coverage* is everything from pixels "
            "to polygons that share their edges, their validity checked: choosing the palette, giving each "
            "pixel a colour, taking out fringes, slivers and specks, tracing; the loss of colour is measured "
            "in between, and that counts too. The *whole design* adds hand edits, names and findings. "
            "vtracer reads the same file (mode spline, all else as it comes) and writes an SVG, which is in "
            "its time.",
            f"It has {ours['colours']} colours, {ours['shapes']} shapes and {ours['vertices']} vertices; "
            f"GEOS calls the coverage {'valid' if ours['coverage_valid'] else 'NOT VALID'}.",
        ),
        _shape_rows(ours, theirs.told, theirs.peak_bytes, pixels=painted["pixels"]),
        (_steps_table(ours["runs"][1:]), _tiling_table(workshop)),
    )


def _shape_rows(
    ours: dict[str, Any], theirs: dict[str, Any], their_peak: int, *, pixels: int
) -> tuple[Row, ...]:
    first, warm = ours["runs"][0], ours["runs"][1:]
    covered = [run["to_coverage_s"] for run in warm]
    warm_s, vtracer_s = median(covered), median(theirs["times_s"])
    # The target is for 24 megapixels; the quick set's smaller picture gets its part of it.
    part = pixels / (24 * MEGA)
    file_s = ours["read_s"] + warm_s
    times_as_fast = vtracer_s / file_s
    return (
        at_most("to coverage, warm", warm_s, most=COVERAGE_S * part, unit="s"),
        Row("", spread(covered)),
        Row("to coverage, cold", f"{first['to_coverage_s']:.2f} s", beside="warm", ratio=_per(first, warm)),
        Row(
            "whole design, warm",
            f"{median(run['whole_s'] for run in warm):.2f} s",
            beside="to coverage",
            ratio=f"{median(run['whole_s'] for run in warm) / warm_s:.2f} of it",
        ),
        Row("whole design, cold", f"{first['whole_s']:.2f} s"),
        at_most("peak memory", ours["peak_bytes"] / GIGA, most=COVERAGE_GB, unit="GB"),
        Row(
            "peak memory",
            f"{ours['peak_bytes'] / GIGA:.2f} GB",
            beside=f"the picture's {3 * pixels / MEGA:.0f} MB",
            ratio=f"{ours['peak_bytes'] / (3 * pixels):.1f} of it",
        ),
        Row(
            "file to coverage, warm",
            f"{file_s:.2f} s",
            f"{FASTER_THAN_VTRACER:g} times as fast as vtracer, or more",
            times_as_fast >= FASTER_THAN_VTRACER,
            f"vtracer, file to SVG: {vtracer_s:.2f} s, {theirs['paths']} paths, {their_peak / GIGA:.2f} GB",
            f"{times_as_fast:.2f} times as fast",
        ),
        Row("vtracer", spread(theirs["times_s"])),
    )


def _per(first: dict[str, Any], warm: list[dict[str, Any]]) -> str:
    return f"{first['to_coverage_s'] / median(run['to_coverage_s'] for run in warm):.2f} of it"


def _steps_table(warm: list[dict[str, Any]]) -> str:
    """Where the time goes: the middle of the warm runs for every step."""
    names = list(warm[0]["steps_s"])
    whole = median(run["whole_s"] for run in warm)
    steps = [(name, median(run["steps_s"][name] for run in warm)) for name in names]
    rest = whole - sum(seconds for _, seconds in steps)
    rows = [[name, f"{seconds:.2f}", f"{100 * seconds / whole:.0f} %"] for name, seconds in steps]
    rows.append(["all else", f"{rest:.2f}", f"{100 * rest / whole:.0f} %"])
    return table(["step of the design, warm", "s", "share"], rows)


def _tiling_table(workshop: Workshop) -> str:
    """Whether the shapes tile the picture, ours and vtracer's, by one and the same measure."""
    painted = workshop.painted
    told = {
        "blockwright": workshop.step(
            "design_steps.tile_picture", png=painted["crop"], width_mm=painted["crop_mm"]
        ).told
    }
    for way in ("stacked", "cutout"):
        told[f"vtracer, {way}"] = workshop.step(
            "design_steps.vtracer_tile",
            png=painted["crop"],
            svg=str(workshop.folder / "crop.svg"),
            hierarchical=way,
        ).told
    rows = [
        [
            name,
            str(each["shapes"]),
            f"{each['gap_percent']:.4f} %",
            f"{each['overlap_percent']:.4f} %",
            "yes" if each["coverage_valid"] else "no",
        ]
        for name, each in told.items()
    ]
    return table(
        ["shapes of a piece of the picture (one sixteenth)", "number", "gap", "overlap", "valid coverage"],
        rows,
    )


def large_section(workshop: Workshop) -> Section:
    """A2 at 600 dpi: does it finish, in what time, with how much memory."""
    png = str(workshop.folder / "a2.png")
    painted = workshop.step(
        "painted.write_painted", png=png, dpi=_A2_DPI, sheet_mm=list(_A2_MM), compress_level=1
    ).told
    pixels = painted["width_px"] * painted["height_px"]
    ran = workshop.step("design_steps.design_picture", png=png, width_mm=_A2_MM[0], repeats=1)
    ours = ran.told
    run = ours["runs"][0]
    rows = (
        Row("reading", f"{ours['read_s']:.1f} s"),
        Row("to coverage, cold", f"{run['to_coverage_s']:.1f} s"),
        Row("whole design, cold", f"{run['whole_s']:.1f} s"),
        Row("whole process", f"{ran.wall_s:.1f} s"),
        at_most("peak memory", ran.peak_bytes / GIGA, most=LARGE_GB, unit="GB", digits=1),
        Row(
            "peak memory",
            f"{ran.peak_bytes / GIGA:.1f} GB",
            beside=f"the picture's {3 * pixels / MEGA:.0f} MB",
            ratio=f"{ran.peak_bytes / (3 * pixels):.1f} of it",
        ),
    )
    steps = [[name, f"{seconds:.1f}"] for name, seconds in run["steps_s"].items()]
    return Section(
        "large",
        f"A2 at 600 dpi: {pixels / MEGA:.0f} megapixels",
        (
            f"The demonstration picture painted on a sheet of {_A2_MM[0]:g} x {_A2_MM[1]:g} mm, "
            f"{painted['width_px']} x {painted['height_px']} pixels, "
            f"{painted['png_bytes'] / MEGA:.0f} MB as PNG; {ours['colours']} colours, "
            f"{ours['shapes']} shapes, the coverage {'valid' if ours['coverage_valid'] else 'NOT VALID'}.",
        ),
        rows,
        (table(["step of the design", "s"], steps),),
    )

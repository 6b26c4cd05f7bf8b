"""From a painted picture to shapes: seconds, memory, vtracer beside it; and the largest picture."""

from statistics import median
from typing import Any

from bench.figures import Row, Section, at_most, spread, table
from bench.workshop import GIGA, MEGA, Workshop

TARGET_PIXELS = 24e6
COVERAGE_S = 4.0
"""Pixels of a picture of 24 megapixels to coverage, warm, on two cores."""
COVERAGE_GB = 2.5
FASTER_THAN_VTRACER = 2.0
LARGE_GB = 24.0
"""The largest picture must finish within this."""

_A2_MM = (594.0, 420.0)
_A2_DPI = 600


def shapes_section(workshop: Workshop) -> Section:
    """The painted picture to coverage, in parts, beside vtracer."""
    painted = workshop.painted
    source = {"picture": painted["png"], "width_mm": painted["width_mm"]}
    svg = str(workshop.folder / "vtracer.svg")
    once = workshop.step("design_steps.design_picture", **source).told
    runs, turns = (2, 1) if workshop.quick else (5, 3)
    both = workshop.step("design_steps.beside_vtracer", **source, svg=svg, ours=runs, theirs=turns).told
    rival = workshop.step("design_steps.vtracer_picture", picture=painted["png"], svg=svg)
    told_of_rival = f"{rival.told['paths']} paths, peak {rival.peak_bytes / GIGA:.2f} GB"
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
            "its time; the two ran in turns in one process, and their peaks were taken in processes of "
            "their own.",
            f"It has {once['colours']} colours, {once['shapes']} shapes and {once['vertices']} vertices; "
            f"GEOS calls the coverage {'valid' if once['coverage_valid'] else 'NOT VALID'}.",
        ),
        _shape_rows(once, both, told_of_rival, pixels=painted["pixels"]),
        (_steps_table(both["runs"]), _tiling_table(workshop)),
    )


def _shape_rows(
    once: dict[str, Any], both: dict[str, Any], told_of_rival: str, *, pixels: int
) -> tuple[Row, ...]:
    warm = both["runs"]
    covered = [run["to_coverage_s"] for run in warm]
    covered_s, whole_s = median(covered), median(run["whole_s"] for run in warm)
    all_cores_s = median(run["all_cores_s"] for run in warm)
    vtracer_s = median(both["vtracer_s"])
    file_s = median(run["read_s"] + run["to_coverage_s"] for run in warm)
    times_as_fast = vtracer_s / file_s
    warm_row = Row("to coverage, warm", f"{covered_s:.2f} s")
    if pixels >= TARGET_PIXELS:
        warm_row = at_most("to coverage, warm", covered_s, most=COVERAGE_S, unit="s")
    return (
        warm_row,
        Row("", spread(covered)),
        Row(
            "to coverage, cold",
            f"{once['to_coverage_s']:.2f} s",
            beside="warm",
            ratio=f"{once['to_coverage_s'] / covered_s:.2f} of it",
        ),
        Row("whole design, warm", f"{whole_s:.2f} s", beside=f"{all_cores_s:.2f} s of all cores"),
        Row("whole design, cold", f"{once['whole_s']:.2f} s"),
        at_most("peak memory", once["peak_bytes"] / GIGA, most=COVERAGE_GB, unit="GB"),
        Row(
            "",
            beside=f"the picture's {3 * pixels / MEGA:.0f} MB",
            ratio=f"{once['peak_bytes'] / (3 * pixels):.1f} of it",
        ),
        Row(
            "file to coverage, warm",
            f"{file_s:.2f} s",
            f"{FASTER_THAN_VTRACER:g} times as fast as vtracer, or more",
            times_as_fast >= FASTER_THAN_VTRACER,
            f"vtracer, file to SVG: {vtracer_s:.2f} s; {told_of_rival}",
            f"{times_as_fast:.2f} times as fast",
        ),
        Row("vtracer", spread(both["vtracer_s"])),
    )


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
            "design_steps.tile_picture", picture=painted["crop"], width_mm=painted["crop_mm"]
        ).told
    }
    for way in ("stacked", "cutout"):
        told[f"vtracer, {way}"] = workshop.step(
            "design_steps.vtracer_tile",
            picture=painted["crop"],
            svg=str(workshop.folder / "crop.svg"),
            hierarchical=way,
        ).told
    rows = [
        [
            name,
            str(each["shapes"]),
            _percent(each["gap_percent"]),
            _percent(each["overlap_percent"]),
            "yes" if each["coverage_valid"] else "no",
        ]
        for name, each in told.items()
    ]
    return table(
        ["shapes of a piece of the picture (one sixteenth)", "number", "gap", "overlap", "valid coverage"],
        rows,
    )


def _percent(share: float) -> str:
    """A share with four places; what is less than the rounding of the overlay itself is nothing."""
    return "0" if abs(share) < 1e-6 else f"{share:.4f} %"


def large_section(workshop: Workshop) -> Section:
    """A2 at 600 dpi: does it finish, in what time, with how much memory."""
    png = str(workshop.folder / "a2.png")
    painted = workshop.step(
        "painted.write_painted", png=png, dpi=_A2_DPI, sheet_mm=list(_A2_MM), compress_level=1
    ).told
    pixels = painted["width_px"] * painted["height_px"]
    ran = workshop.step("design_steps.design_picture", picture=png, width_mm=_A2_MM[0])
    ours = ran.told
    rows = (
        Row("reading", f"{ours['read_s']:.1f} s"),
        Row("to coverage, cold", f"{ours['to_coverage_s']:.1f} s"),
        Row("whole design, cold", f"{ours['whole_s']:.1f} s"),
        Row("whole process", f"{ran.wall_s:.1f} s"),
        at_most("peak memory", ran.peak_bytes / GIGA, most=LARGE_GB, unit="GB", digits=1),
        Row(
            "",
            beside=f"the picture's {3 * pixels / MEGA:.0f} MB",
            ratio=f"{ran.peak_bytes / (3 * pixels):.1f} of it",
        ),
    )
    steps = [[name, f"{seconds:.1f}"] for name, seconds in ours["steps_s"].items()]
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

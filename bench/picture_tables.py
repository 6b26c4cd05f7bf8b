"""The report's figures as Markdown tables."""

from typing import Any

from bench.figures import table
from bench.workshop import GIGA, MEGA

EDGE_RMS_PX = 0.35
"""Root-mean-square distance that edges between flat colours may have, away from junctions, in pixels."""

_DIRECTIONS = (
    ("found_to_true", "found to true"),
    ("true_to_found", "true to found"),
    ("runs_to_found", "true against runs to found"),
    ("junctions_to_found", "true junctions to found"),
)

_TINY_MM2 = 1e-6
"""Below this an area is the rounding of the overlay itself."""


def _mm2(area: float) -> str:
    return "0" if abs(area) < _TINY_MM2 else f"{area:.6f}"


def pictures_table(rows: list[dict[str, Any]]) -> str:
    """A row a picture."""
    head = [
        "picture",
        "Mpx",
        "colours",
        "shapes",
        "coverage valid",
        "gap mm2",
        "overlap mm2",
        "area error %",
        "median dE00",
        "95 % dE00",
        "over 5 dE00 %",
        "seconds",
        "peak GB",
    ]
    cells = [
        [
            row["name"],
            f"{row['pixels'] / MEGA:.1f}",
            str(row["colours"]),
            str(row["shapes"]),
            "yes" if row["coverage_valid"] and not row["invalid_polygons"] else "NO",
            _mm2(row["gap_mm2"]),
            _mm2(row["overlap_mm2"]),
            f"{row['area_error_percent']:.6f}",
            f"{row['median_delta_e00']:.2f}",
            f"{row['p95_delta_e00']:.1f}",
            f"{row['lost_percent']:.1f}",
            f"{row['seconds']:.1f}",
            f"{row['peak_bytes'] / GIGA:.2f}",
        ]
        for row in rows
    ]
    return table(head, cells)


def edges_table(designs: list[dict[str, Any]]) -> str:
    """Rows for every resolution, roughness and direction."""
    rows = []
    for design in designs:
        for key, words in _DIRECTIONS:
            spread = design[key]
            judged = key in {"found_to_true", "true_to_found"}
            rows.append(
                [
                    f"{design['dpi']} dpi, {'rough' if design['roughness'] else 'clean'}",
                    words,
                    str(spread["points"]),
                    f"{spread['median_px']:.3f}",
                    f"{spread['rms_px']:.3f}"
                    + (" MISSED" if judged and spread["rms_px"] > EDGE_RMS_PX else ""),
                    f"{spread['p95_px']:.3f}",
                    f"{spread['max_px']:.2f}",
                    f"{spread['far_percent']:.3f}",
                    f"{spread['other_colours_percent']:.2f}",
                ]
            )
    head = [
        "picture",
        "direction",
        "points",
        "median",
        "rms",
        "95 %",
        "max",
        "over 1 px %",
        "other colours %",
    ]
    return table(head, rows) + f"\n\nThe target is a root-mean-square distance of {EDGE_RMS_PX} px or less."


def worst_table(places: list[dict[str, Any]]) -> str:
    """Where edges are farthest off."""
    return table(
        ["x mm", "y mm", "off by px"],
        [[f"{p['at'][0]:.1f}", f"{p['at'][1]:.1f}", f"{p['px']:.2f}"] for p in places],
    )


def areas_table(areas: list[dict[str, Any]]) -> str:
    """A row for each flat colour, and all of them together."""
    rows = [
        [
            a["true_hex"],
            a["found_hex"],
            f"{a['true_mm2']:.1f}",
            f"{a['found_mm2']:.1f}",
            f"{a['percent']:+.2f}",
            f"{a['in_runs_mm2']:.1f}",
        ]
        for a in areas
    ]
    true = sum(a["true_mm2"] for a in areas)
    off = sum(abs(a["found_mm2"] - a["true_mm2"]) for a in areas)
    in_runs = sum(a["in_runs_mm2"] for a in areas)
    whole = ["all, without regard to sign", "", f"{true:.1f}", f"{off:.1f} off", f"{100 * off / true:.2f}"]
    return table(
        ["painted", "found", "true mm2", "found mm2", "error %", "more of it in runs mm2"],
        [*rows, [*whole, f"{in_runs:.1f}"]],
    )

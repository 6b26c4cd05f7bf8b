"""Whole leaves laid on the demo's sun and on pages hard to cover, beside HiGHS (scipy's ``milp``)."""

import sys
import time

import numpy as np
import shapely
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely.geometry import MultiPolygon, Point, box

from bench.figures import Row, Section, at_most, rows_table, verdict
from blockwright.geometry.square_cells import all_places, holders
from blockwright.geometry.square_cover import Cover, cover_with_squares, held_safely, on_grid

WIDTH_MM, HEIGHT_MM = 390.0, 265.0
"""An oban sheet lying down."""

SIDE_MM, LAP_MM = 80.0, 3.0
"""Gold leaf, and the usual lap."""

MOST_S = 5.0
"""What the leaves of one print may take."""

RIVAL_S = 15.0
"""When HiGHS is told to stop; it does so between its own steps."""

MOST_ENTRIES = 25_000_000
"""Squares times cells that HiGHS is given at once: beyond it takes gigabytes of memory."""


def page_of_discs(number: int, *, seed: int) -> MultiPolygon:
    """Discs of 4 to 20 mm all over the page."""
    random = np.random.default_rng(seed)
    radius = random.uniform(2.0, 10.0, number)
    x = random.uniform(radius, WIDTH_MM - radius)
    y = random.uniform(radius, HEIGHT_MM - radius)
    return _area(shapely.union_all(shapely.buffer(shapely.points(x, y), radius)))


def _area(shape: shapely.Geometry) -> MultiPolygon:
    return MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])


def _ring() -> MultiPolygon:
    middle = Point(WIDTH_MM / 2, HEIGHT_MM / 2)
    return _area(middle.buffer(130.0).difference(middle.buffer(90.0)))


def _demo_sun() -> MultiPolygon:
    """The demo's sun, as it is drawn."""
    from blockwright.demo.composition import tide_mill
    from blockwright.demo.palette import GOLD
    from blockwright.demo.scene import visible_shapes

    parts = [shape.area for shape in visible_shapes(tide_mill()) if shape.colour == GOLD]
    return _area(shapely.union_all(parts))


def cases(*, quick: bool) -> dict[str, list[MultiPolygon]]:
    """What is covered, by name: more than one area where chance has a part in it."""
    seeds = range(1 if quick else 5)
    pages = {
        f"a page of {number} discs": [page_of_discs(number, seed=seed) for seed in seeds]
        for number in (30, 60, 120)
    }
    corner = shapely.union(box(0, 0, 90, HEIGHT_MM), box(0, 180, WIDTH_MM, HEIGHT_MM))
    return {
        "the demo's sun": [_demo_sun()],
        "a sun of 116 mm": [_area(Point(180, 120).buffer(58.0))],
        **pages,
        "the whole page": [_area(box(0, 0, WIDTH_MM, HEIGHT_MM))],
        "a ring of 260 mm, 40 mm wide": [_ring()],
        "an L along two edges": [_area(corner)],
    }


def laid(area: MultiPolygon) -> tuple[Cover, float]:
    """The leaves of an area, and the seconds that they took."""
    began = time.perf_counter()
    cover = cover_with_squares(area, side_mm=SIDE_MM, lap_mm=LAP_MM)
    return cover, time.perf_counter() - began


def by_highs(area: MultiPolygon, *, most_s: float) -> tuple[int | None, bool, float]:
    """The same cover with all squares and all cells at once: the number, if it is proven, seconds.

    No number where HiGHS finds none in time; no time either where the table is too large.
    """
    began = time.perf_counter()
    number, proven = 0, True
    for _, cells in on_grid(area, side_mm=SIDE_MM, lap_mm=LAP_MM)[0]:
        places = len(all_places(cells))
        if int(cells.filled.sum()) * min(places, cells.side**2) > MOST_ENTRIES:
            return None, False, 0.0
        asked = holders(cells, np.argwhere(cells.filled))
        row = np.repeat(np.arange(len(asked)), [len(squares) for squares in asked])
        table = sparse.csr_array((np.ones(len(row)), (row, np.concatenate(asked))), (len(asked), places))
        found = milp(
            np.ones(places),
            constraints=LinearConstraint(table, lb=1.0),
            integrality=np.ones(places),
            bounds=Bounds(0, 1),
            options={"time_limit": max(0.1, most_s - (time.perf_counter() - began))},
        )
        if found.x is None:
            return None, False, time.perf_counter() - began
        number, proven = number + round(found.fun), proven and found.status == 0
    return number, proven, time.perf_counter() - began


def _beside(area: MultiPolygon, cover: Cover, seconds: float, *, most_s: float) -> tuple[str, str]:
    """What HiGHS makes of the same cover, and the ratio of the times."""
    number, proven, rival_s = by_highs(area, most_s=most_s)
    if not rival_s:
        return "too large for HiGHS with all at once", ""
    ratio = f"{rival_s / seconds:.1f} times as fast"
    if not proven:
        found = "none" if number is None else f"{number}, not proven,"
        return f"HiGHS: {found} when stopped after {rival_s:.1f} s", f"more than {ratio}"
    agreed = "too" if number == len(cover.squares) else "WHICH IS ANOTHER NUMBER"
    return f"HiGHS: {number} {agreed}, proven, {rival_s:.2f} s", ratio


def leaf_section(*, quick: bool = False) -> Section:
    """All figures."""
    rows = []
    most_s = RIVAL_S / 3 if quick else RIVAL_S
    for name, areas in cases(quick=quick).items():
        found = [laid(area) for area in areas]
        numbers = sorted(len(cover.squares) for cover, _ in found)
        gaps = [len(cover.squares) - cover.fewest_known for cover, _ in found]
        beside, ratio = _beside(areas[0], *found[0], most_s=most_s)
        leaves = f"{numbers[0]}" if numbers[0] == numbers[-1] else f"{numbers[0]} to {numbers[-1]}"
        slowest_s = max(seconds for _, seconds in found)
        of = f", the slowest of {len(areas)}" if len(areas) > 1 else ""
        rows += [
            at_most(f"{name}{of}", slowest_s, most=MOST_S, unit="s", beside=beside, ratio=ratio),
            Row(
                f"{name}: leaves, proven fewest",
                f"{leaves}, {sum(not gap for gap in gaps)} of {len(gaps)}",
                f"{len(gaps)} of {len(gaps)}",
                not any(gaps),
                f"the largest gap stated is {max(gaps)}" if any(gaps) else "the bound",
            ),
            _held_row(name, areas, [cover for cover, _ in found]),
        ]
    lead = (
        f"Gold leaf of {SIDE_MM:.0f} mm with a lap of {LAP_MM:.0f} mm, on a page of {WIDTH_MM:.0f} x "
        f"{HEIGHT_MM:.0f} mm; from the outlines to the places of the leaves. HiGHS (scipy's milp) gets the "
        f"first area of a line with all squares and all cells of the same grid at once, on one core, and "
        f"is told to stop after {most_s:.0f} s.",
    )
    return Section("leaf", "Leaf laid on the fewest places", lead, tuple(rows))


def _held_row(name: str, areas: list[MultiPolygon], covers: list[Cover]) -> Row:
    """What the leaves leave open, from the outlines (shapely)."""
    open_mm2 = max(
        area.difference(held_safely(area, cover.squares, lap_mm=LAP_MM).buffer(1e-4)).area
        for area, cover in zip(areas, covers, strict=True)
    )
    return Row(
        f"{name}: ground without leaf or lap",
        f"{open_mm2:.3f} mm²",
        "0",
        open_mm2 < 1e-3,
        "exact outlines (shapely)",
    )


def main() -> None:
    section = leaf_section(quick="--quick" in sys.argv)
    print(f"## {section.title}\n\n{section.lead[0]}\n\n{rows_table(section.rows)}\n\n{verdict([section])}")


if __name__ == "__main__":
    main()

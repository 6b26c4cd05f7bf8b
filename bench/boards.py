"""How few faces, and how soon: ``python -m bench.boards`` prints the figures, in some seconds.

Prints are made up: every ink has regions with a rough edge round a few places of its own, so that some inks
meet, some keep apart and some only do so when a block is turned.
"""

import hashlib
import time

import numpy as np
import shapely
from pydantic import TypeAdapter
from shapely.geometry import MultiPolygon, Polygon, box

from bench.figures import Row, Section, at_most, rows_table, verdict
from blockwright.blocks import lay_out_blocks
from blockwright.blocks.stock import least_wood
from blockwright.model.blocks import BlockSet
from blockwright.model.separation import Impression, Ink, Separation
from blockwright.model.settings import BlocksTable

WIDTH_MM, HEIGHT_MM = 390.0, 265.0
"""An oban sheet lying down."""

MOST_S = 10.0
"""What 40 inks of 300 regions may take."""

POINTS = 90
"""Corners of a region's edge, as many as a traced shape of its size has."""


def made_up(inks: int, regions: int, *, spread_mm: float, seed: int) -> Separation:
    """A print of so many inks; the regions of one lie within ``spread_mm`` of its one or two places."""
    random = np.random.default_rng(seed)
    each = np.full(inks, regions // inks) + (np.arange(inks) < regions % inks)
    image = box(0.0, 0.0, WIDTH_MM, HEIGHT_MM)
    areas = []
    for count in each.tolist():
        places = random.uniform((0, 0), (WIDTH_MM, HEIGHT_MM), size=(random.integers(1, 3), 2))
        middles = places[random.integers(0, len(places), count)]
        middles += random.uniform(-spread_mm, spread_mm, size=(count, 2))
        grown = [_region(random, middle) for middle in np.clip(middles, 0.0, (WIDTH_MM, HEIGHT_MM))]
        parts = shapely.get_parts(shapely.intersection(shapely.union_all(grown), image))
        areas.append(MultiPolygon([part for part in parts if isinstance(part, Polygon)]))
    ink = Ink("ink", (0.1,), (0.1,))
    return Separation(
        tuple(
            Impression(k, f"ink {k}", "colour", ink, 1, (), area, 0.5, "#808080", (50.0, 0.0, 0.0))
            for k, area in enumerate(areas, start=1)
        ),
        (),
        (),
        0.0,
        0.0,
    )


def _region(random: np.random.Generator, middle: np.ndarray) -> Polygon:
    turn = np.linspace(0.0, 2.0 * np.pi, POINTS, endpoint=False)
    radius = random.uniform(3.0, 11.0) * (1.0 + 0.06 * random.standard_normal(POINTS))
    edge = middle + radius[:, None] * np.column_stack((np.cos(turn), 0.7 * np.sin(turn)))
    return Polygon(edge).buffer(0)


def laid_out(separation: Separation) -> tuple[BlockSet, float]:
    """The blocks of a made-up print, and the seconds that they took."""
    began = time.perf_counter()
    blocks = lay_out_blocks(
        separation, width_mm=WIDTH_MM, height_mm=HEIGHT_MM, settings=BlocksTable(share_faces=True)
    )
    return blocks, time.perf_counter() - began


def _bytes_of(blocks: BlockSet) -> str:
    return hashlib.sha256(TypeAdapter(BlockSet).dump_json(blocks)).hexdigest()


def boards_section(*, quick: bool = False) -> Section:
    """All figures."""
    rows = []
    cases = [(40, 300, spread) for spread in (10.0, 25.0, 45.0, 80.0, 400.0)] + [(64, 500, 45.0)]
    for inks, regions, spread_mm in cases:
        what = f"{inks} inks of {regions} regions within {spread_mm:.0f} mm of their places"
        found = [
            laid_out(made_up(inks, regions, spread_mm=spread_mm, seed=seed))
            for seed in range(1 if quick else 5)
        ]
        proven = sum(blocks.proven_fewest for blocks, _ in found)
        gaps = [len(blocks.faces) - blocks.faces_lower_bound for blocks, _ in found]
        turned = sum(bool(face.turned) for blocks, _ in found for face in blocks.faces)
        faces = f"{min(len(b.faces) for b, _ in found)} to {max(len(b.faces) for b, _ in found)} faces"
        told = f"{faces}, {turned} in all with a turned block; the largest gap stated is {max(gaps)}"
        rows += [
            at_most(f"{what}: the slowest", max(s for _, s in found), most=MOST_S, unit="s"),
            Row(f"{what}: proven fewest", f"{proven} of {len(found)}", beside=told),
        ]
    first, again = (_bytes_of(laid_out(made_up(40, 300, spread_mm=45.0, seed=0))[0]) for _ in range(2))
    rows.append(
        Row(
            "the same print laid out again",
            "the same bytes" if first == again else "other bytes",
            "the same",
            first == again,
        )
    )
    kinds = [(135_000, 1, 7), (270_000, 2, 3), (540_000, 5, None), (150_000, 1, None)]
    began = time.perf_counter()
    least_wood(kinds, 64)
    rows.append(
        Row("the least wood for 64 blocks from four kinds of board", f"{time.perf_counter() - began:.4f} s")
    )
    lead = (
        "Made-up prints of 390 x 265 mm, every region with 90 corners, 30 mm between different inks on a "
        "face, half turns allowed; five prints a line. From areas to boards, everything.",
    )
    return Section("boards", "Faces and boards", lead, tuple(rows))


def main() -> None:
    section = boards_section()
    print(f"## {section.title}\n\n{section.lead[0]}\n\n{rows_table(section.rows)}\n\n{verdict([section])}")


if __name__ == "__main__":
    main()

"""How few blocks the search of overprints finds: ``python -m bench.overprints`` prints the figures.

Fifty designs of 8 to 14 colours that known inks print over one another (:mod:`bench.known_inks`), half of
them with pots of just these inks on the shelf among others, half to be mixed freely; and the demonstration
picture.
``python -m bench.overprints 10`` takes so many designs only.
"""

import sys
import time
from dataclasses import dataclass

import numpy as np

from bench.figures import Row, Section, at_most, rows_table, table, verdict
from bench.known_inks import BOX, asked_for, known, some_inks
from blockwright.colour.pigments import starter_pigments
from blockwright.demo import colour_names, paint, tide_mill
from blockwright.design import make_design
from blockwright.model.inks import MixedInk, Optics, Shelf
from blockwright.model.separation import Overprints
from blockwright.model.settings import DesignTable, InksTable, NameColour, SeparationTable
from blockwright.separation import separate
from blockwright.separation.coats import shelf_coats
from blockwright.separation.searching import Found, search

DESIGNS, OTHER_POTS = 50, 8
WANTED_PERCENT, MOST_S, DEMO_MOST_S = 95.0, 30.0, 20.0
DEMO_DPI = 150


@dataclass(frozen=True, slots=True)
class Tried:
    """One design: how many inks printed it, how many were found, whether proven, and the seconds it took."""

    colours: int
    truth: int
    found: int
    proven: bool
    time_s: float


def _found(found: Found) -> int:
    return len(found.points[found.fewest].plan.coats) if found.fewest is not None else 99


def tried(seed: int) -> Tried:
    """One design of random size; with an odd seed the inks stand on the shelf, else they are mixed freely."""
    rng = np.random.default_rng(1000 + seed)
    colours = int(rng.integers(8, 15))
    inks = int(rng.integers(max(4, colours // 2 - 1), colours - 2))
    truth = known(seed, inks=inks, colours=colours)
    asked = asked_for(truth.labs)
    coats = [*truth.coats, *some_inks(rng, OTHER_POTS)]
    pots = [
        MixedInk(n, f"pot {n}", (), 0.5, Optics(tuple(c.k.tolist()), tuple(c.s.tolist())), "measured")
        for n, c in enumerate(coats, start=1)
    ]
    start = time.perf_counter()
    found = search(asked, None, shelf_coats(pots, (1, 2))) if seed % 2 else search(asked, BOX)
    each = Tried(colours, inks, _found(found), found.proven, time.perf_counter() - start)
    print(f"design {seed}: {each}", file=sys.stderr, flush=True)
    return each


def demo() -> tuple[Overprints, float]:
    """The demonstration picture separated with the fewest blocks, and the seconds it took."""
    scene = tide_mill()
    names = tuple(NameColour(at=at, name=name) for at, name in colour_names(scene))
    pixels = paint(scene, dpi=DEMO_DPI)
    design = make_design(
        pixels,
        title=scene.title,
        width_mm=scene.width_mm,
        paper_hex=scene.paper_hex,
        settings=DesignTable(name=names),
    )
    shelf = Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))
    start = time.perf_counter()
    made = separate(design, SeparationTable(blocks="fewest"), inks=InksTable(), shelf=shelf)
    time_s = time.perf_counter() - start
    assert made.overprints is not None
    return made.overprints, time_s


def overprint_section(designs: int = DESIGNS) -> Section:
    """All figures."""
    search(asked_for(known(0, inks=3, colours=5).labs), BOX)  # compiled beforehand
    all_tried = [tried(seed) for seed in range(designs)]
    good = sum(each.found <= each.truth for each in all_tried)
    saved = sum(each.colours - each.found for each in all_tried)
    overprints, demo_s = demo()
    percent = 100.0 * good / designs
    fewest = next(point for point in overprints.curve if point.blocks == overprints.blocks)
    rows = (
        Row(
            f"designs of {designs} with no more blocks than were printed with",
            f"{good} ({percent:.0f} %)",
            f"{WANTED_PERCENT:g} % or more",
            percent >= WANTED_PERCENT,
            f"{sum(each.found < each.truth for each in all_tried)} with fewer",
            f"{saved / designs:.1f} blocks saved a design",
        ),
        at_most("the slowest design", max(each.time_s for each in all_tried), most=MOST_S, unit="s"),
        Row("a design, middle", f"{np.median([each.time_s for each in all_tried]):.1f} s"),
        Row("proven for the inks tried", f"{sum(each.proven for each in all_tried)} of {designs}"),
        Row(
            "blocks of the demonstration picture",
            f"{overprints.blocks} for {overprints.colours} colours",
            "fewer than colours",
            overprints.blocks < overprints.colours,
            "proven for the inks tried" if overprints.proven else f"at least {overprints.tried_bound}",
        ),
        at_most("its worst colour", fewest.max_delta_e00, most=3.0, unit="dE00"),
        at_most("its separation", demo_s, most=DEMO_MOST_S, unit="s"),
    )
    curve = table(
        ["blocks", "median dE00", "worst dE00", "edge m"],
        [
            [
                str(p.blocks),
                f"{p.median_delta_e00:.2f}",
                f"{p.max_delta_e00:.2f}",
                f"{p.edge_mm / 1000:.1f}",
            ]
            for p in overprints.curve
        ],
    )
    lead = (
        "Designs of 8 to 14 colours, at least 6 (CIEDE2000) apart, that known inks print, up to three over "
        "one another; half with those inks in pots among others, half mixed freely from the starter set. "
        "Allowed is 3 at the worst colour. The table is the demonstration picture's curve.",
    )
    return Section("overprints", "Overprints", lead, rows, (curve,))


def main() -> None:
    """Measure and print."""
    section = overprint_section(int(sys.argv[1]) if len(sys.argv) > 1 else DESIGNS)
    print(f"## {section.title}\n\n{section.lead[0]}\n\n{rows_table(section.rows)}\n")
    print(f"{section.tables[0]}\n\n{verdict([section])}")


if __name__ == "__main__":
    main()

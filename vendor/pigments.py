"""Rebuild the K and S in 36 bands of the pigments that come with the program, from the published sources.

Run from the top of the checkout::

    python vendor/pigments.py

Watercolours (Curtis et al. 1997) are spread from three bands to 36. Each measured oil paint (Geldof et al.
2018) is fitted, over white and over black, together with zinc white and every mixture of the two that was
measured, because an opaque paint alone shows no strength; bone black was measured in mixtures only. The gloss
of the oil film is taken off first: K and S are those of the body. Interference lilac is left out, for mica is
outside the model, and so are paints that differ from another in their oil or wax only.

The same sources give the same numbers. ``--check`` compares with the committed file.
"""

import argparse
import csv
import io
import sys
from collections.abc import Collection, Iterator
from pathlib import Path

import numpy as np

from blockwright.colour.bands import BANDS_NM
from blockwright.colour.fitting import InkFit, Patch, fit_inks
from blockwright.colour.pigments import MeasuredPaint, measured_paints, watercolour_optics, watercolours
from blockwright.colour.surface import BINDER_INDEX, surface_of_index

OPTICS = Path(__file__).resolve().parent.parent / "src/blockwright/data/pigments/optics.csv"

OUTSIDE_THE_MODEL = ("interference lilac",)

OIL_PAINTS = (
    "eosin",
    "cochineal",
    "minium",
    "vermilion",
    "chrome yellow",
    "chrome yellow (Otero)",
    "viridian",
    "emerald green",
    "ultramarine blue",
    "cobalt blue",
    "Prussian blue",
    "bone black",
    "lead white",
    "barium sulphate",
    "calcium carbonate",
)
WHITE = "zinc white"

OIL_FILM = surface_of_index(BINDER_INDEX, gloss_share=0.5)
"""The surface of the oil paints; half of its gloss is seen, the most at which the darkest is possible."""

OIL_S, OIL_FILM_VARIATION = 2.0, 0.1
"""What is known of a drawn-down oil paint beforehand: it hides, and films differ by a tenth."""

DIGITS = 5
"""Significant digits that are kept: far more than the sources have."""

SAME = 1e-3
"""Numbers count as the same within this part: processors round differently."""


def patches_of(paint: MeasuredPaint, names: tuple[str, ...]) -> list[Patch]:
    """A paint over white and over black, as amounts of the named pigments by weight."""
    percent = {pigment.name: part for pigment, part in paint.parts}
    amounts = tuple(percent.get(name, 0.0) / 100.0 for name in names)
    return [
        Patch(film, ground, amounts, film_variation=OIL_FILM_VARIATION, name=paint.code)
        for film, ground in ((paint.over_white, paint.white), (paint.over_black, paint.black))
    ]


def oil_fit(name: str) -> InkFit:
    """A paint and, if it is not that itself, zinc white, from all that was measured of the two alone."""
    names = (name,) if name == WHITE else (name, WHITE)
    patches = [
        patch
        for paint in measured_paints()
        if {pigment.name for pigment, _ in paint.parts} <= set(names)
        for patch in patches_of(paint, names)
    ]
    return fit_inks(names, patches, surface=OIL_FILM, usual_s=OIL_S)


WATERCOLOURS = tuple(
    each.pigment.name for each in watercolours() if each.pigment.name not in OUTSIDE_THE_MODEL
)
EVERY = (*WATERCOLOURS, WHITE, *OIL_PAINTS)


def found(names: Collection[str]) -> Iterator[tuple[str, np.ndarray, np.ndarray]]:
    """The named pigments in the order of the file: name, K and S, shape (36,)."""
    for watercolour in watercolours():
        if watercolour.pigment.name in set(WATERCOLOURS) & set(names):
            inks = watercolour_optics(watercolour)
            yield watercolour.pigment.name, inks.k[0], inks.s[0]
    for name in (WHITE, *OIL_PAINTS):
        if name in names:
            fit = oil_fit(name)
            yield name, fit.inks.k[0], fit.inks.s[0]


def as_table(names: Collection[str] = EVERY) -> str:
    """The file, or the named pigments of it: a line of K and a line of S for each."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["pigment", "what", *(f"{band:.0f}" for band in BANDS_NM)])
    for name, k, s in found(names):
        for what, values in (("K", k), ("S", s)):
            rows.writerow([name, what, *(f"{value:.{DIGITS}g}" for value in values)])
    return text.getvalue()


def same(one: str, two: str) -> bool:
    """Whether two such files say the same."""
    tables = [list(csv.reader(io.StringIO(text))) for text in (one, two)]
    names = [[row[:2] for row in table] for table in tables]
    if names[0] != names[1]:
        return False
    values = [np.array([row[2:] for row in table], dtype=np.float64) for table in tables]
    return bool(np.allclose(*values, rtol=SAME, atol=1e-6))


def main(words: list[str]) -> int:
    """Write or check."""
    parser = argparse.ArgumentParser(prog="python vendor/pigments.py")
    parser.add_argument("--check", action="store_true", help="compare with the committed file")
    table = as_table()
    if parser.parse_args(words).check:
        alike = same(table, OPTICS.read_text("utf-8"))
        print("as committed" if alike else "DIFFERENT from what is committed", file=sys.stderr)
        return 0 if alike else 1
    OPTICS.write_text(table, encoding="utf-8")
    print(f"wrote {OPTICS.name}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

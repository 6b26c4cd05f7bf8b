"""Rebuild the weights by which 36 bands of reflectance become CIE XYZ.

Run from the top of the checkout, with the test dependency group installed::

    python vendor/spectra.py

For each light the weight of a band is the sum, over the wavelengths at which the light is tabulated, of the
light's power times the observer times the share that the band has in the interpolated reflectance there: the
weights of ASTM E308 as ASTM E2022 computes them. The 2 degree observer (1 nm) and the lights come from
colour-science's copies of the CIE tables. Daylight and lamp A are taken to 1 nm linearly, as the CIE allows;
the fluorescent FL11 has lines, so its table is used at its own 5 nm and not interpolated. The tails below
380 and above 730 nm are folded into the first and the last band. Last, the three columns of each light are
scaled (by less than 0.1 %) so that a perfect white has the published white point to its last digit.

The same tables give the same bytes. ``--check`` compares with the committed file.
"""

import argparse
import sys
import warnings
from pathlib import Path

import numpy as np

from blockwright.colour.bands import BANDS_NM, FIRST_NM, LAST_NM, STEP_NM, lagrange_matrix

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it warns that its plotting extras are not there
    import colour

WEIGHTS = Path(__file__).resolve().parent.parent / "src/blockwright/data/colour/weights.csv"

WHITE_POINTS = {
    "D65": (95.047, 100.0, 108.883),
    "D50": (96.422, 100.0, 82.521),
    "A": (109.850, 100.0, 35.585),
    "FL11": (100.962, 100.0, 64.350),
}
"""White points of ASTM E308 for the 2 degree observer, Y = 100."""

TABULATED_STEP_NM = {"D65": 1, "D50": 1, "A": 1, "FL11": 5}
MOST_SCALED = 1e-3
"""The sums may miss the published white points by no more than this; else the tables have changed."""

GRID_NM = (360, 780)
"""The bands before their tails are folded in: where both the observer and the lights are tabulated."""


def weights_of(light: str) -> np.ndarray:
    """Return the weights of one light, shape (36, 3); the columns sum to its white point."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    power = colour.SDS_ILLUMINANTS[light]
    fine_nm = np.arange(max(GRID_NM[0], power.wavelengths[0]), GRID_NM[1] + 1.0, TABULATED_STEP_NM[light])
    grid_nm = np.arange(GRID_NM[0], GRID_NM[1] + 1.0, STEP_NM)
    seen = np.interp(fine_nm, power.wavelengths, power.values)[:, None] * np.stack(
        [np.interp(fine_nm, observer.wavelengths, column) for column in observer.values.T], axis=1
    )
    wide = lagrange_matrix(grid_nm, fine_nm).T @ seen
    first = int((FIRST_NM - GRID_NM[0]) / STEP_NM)
    last = int((LAST_NM - GRID_NM[0]) / STEP_NM)
    weights = wide[first : last + 1].copy()
    weights[0] += wide[:first].sum(axis=0)
    weights[-1] += wide[last + 1 :].sum(axis=0)
    weights *= 100.0 / weights[:, 1].sum()
    scale = np.array(WHITE_POINTS[light]) / weights.sum(axis=0)
    if np.abs(scale - 1.0).max() > MOST_SCALED:
        sys.exit(f"{light}: the white point is {weights.sum(axis=0)}, not {WHITE_POINTS[light]}.")
    return weights * scale


def text() -> str:
    """Return the whole file."""
    lights = list(WHITE_POINTS)
    columns = [f"{light}_{axis}" for light in lights for axis in "XYZ"]
    table = np.hstack([weights_of(light) for light in lights])
    rows = [
        ",".join([f"{wave:.0f}", *(f"{value:.9f}" for value in row)])
        for wave, row in zip(BANDS_NM, table, strict=True)
    ]
    return "\n".join([",".join(["nm", *columns]), *rows]) + "\n"


def main() -> None:
    """Rebuild, or check that a rebuild gives the committed bytes."""
    parser = argparse.ArgumentParser(description="Rebuild the weights of the lights.")
    parser.add_argument("--check", action="store_true", help="compare with the committed file")
    if not parser.parse_args().check:
        WEIGHTS.parent.mkdir(parents=True, exist_ok=True)
        WEIGHTS.write_text(text(), encoding="utf-8", newline="\n")
    elif text() != WEIGHTS.read_text(encoding="utf-8"):
        sys.exit("The committed weights are not what this script makes.")


if __name__ == "__main__":
    main()

"""How true the ink optics are: ``python -m bench.inks`` prints the figures, in about half a minute.

Measured oil paints (Geldof et al. 2018): the half-and-half mixtures with zinc white are predicted from paints
that were fitted without them. Synthetic swatches: inks that are known exactly are printed with noise and
uneven films, fitted, and their overprints compared with the truth. Smooth reflectances: colours there and
back. CIEDE2000: the time for a million pairs beside colour-science's.
"""

import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from bench.figures import Row, Section, at_most, rows_table, verdict
from blockwright.colour import delta_e00, layer_reflectance, linear_to_lab, srgb_to_linear
from blockwright.colour.bands import BAND_COUNT
from blockwright.colour.films import mixed
from blockwright.colour.fitting import InkFit, Patch, fit_inks
from blockwright.colour.optics import (
    Prediction,
    predicted,
    together,
    uncertainty_delta_e00,
    with_film_variation,
)
from blockwright.colour.pigments import MeasuredPaint, measured_paints
from blockwright.colour.smooth import smooth_reflectance_of_linear
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.surface import BINDER_INDEX, body_reflectance, seen_reflectance, surface_of_index

OIL_FILM = surface_of_index(BINDER_INDEX, gloss_share=0.5)
"""The surface of the oil paints; half of its gloss is seen, the most at which the darkest is possible."""

OIL_S, OIL_FILM_VARIATION = 2.0, 0.1
"""What is known of a drawn-down oil paint beforehand: it hides, and films differ by a tenth."""

NOISE, FILM_VARIATION = 0.003, 0.03
"""Of the synthetic swatches: three in a thousand of white, three in a hundred of the film."""

WHITE, BLACK = 0.85, 0.05
HALF = (40.0, 60.0)
TENTH = (5.0, 12.0)


@dataclass(frozen=True, slots=True)
class Errors:
    """CIEDE2000 of predictions, and what was said beforehand to be their uncertainty."""

    delta_e00: NDArray[np.float64]
    told: NDArray[np.float64]

    def within(self) -> float:
        """The part of the predictions that lie within what was told."""
        return float(np.mean(self.delta_e00 <= self.told))


def percent_of(paint: MeasuredPaint, name: str) -> float:
    return sum(percent for pigment, percent in paint.parts if pigment.name == name)


def oil_patches(paint: MeasuredPaint, names: Sequence[str]) -> list[Patch]:
    """The paint over white and over black, as a mixture of the named pigments by weight."""
    amounts = tuple(percent_of(paint, name) / 100.0 for name in names)
    return [
        Patch(film, ground, amounts, film_variation=OIL_FILM_VARIATION, name=paint.code)
        for film, ground in ((paint.over_white, paint.white), (paint.over_black, paint.black))
    ]


def half_mixtures() -> Iterator[tuple[str, MeasuredPaint, MeasuredPaint, MeasuredPaint]]:
    """Each pigment mixed half and half with zinc white: its name, itself pure, a tenth of it, the half."""
    paints = measured_paints()
    for half in paints:
        names = [pigment.name for pigment, _ in half.parts]
        if len(names) != 2 or names[1] != "zinc white" or not HALF[0] < half.parts[0][1] < HALF[1]:
            continue
        series = [paint for paint in paints if paint.code[:2] == half.code[:2]]
        pure = next(paint for paint in series if percent_of(paint, names[0]) == 100.0)
        tenth = next(
            paint
            for paint in series
            if TENTH[0] < percent_of(paint, names[0]) < TENTH[1] and percent_of(paint, names[1]) > 80.0
        )
        yield names[0], pure, tenth, half


def mixture_errors(*, test_mix: bool, most: int | None = None) -> Errors:
    """The half-and-half mixtures over white and black, from pure paints, with or without the tenth.

    Of all mixtures, or of the first ``most``.
    """
    white = next(paint for paint in measured_paints() if paint.parts[0] == (_zinc_white(), 100.0))
    errors, told = [], []
    for name, pure, tenth, half in islice(half_mixtures(), most):
        names = [name, "zinc white"]
        known = [pure, white, *([tenth] if test_mix else [])]
        patches = [patch for paint in known for patch in oil_patches(paint, names)]
        fit = fit_inks(names, patches, surface=OIL_FILM, usual_s=OIL_S)
        inks = with_film_variation(fit.inks, OIL_FILM_VARIATION)
        for patch in oil_patches(half, names):
            rule = _oil_film(patch)
            told.append(uncertainty_delta_e00(inks, rule))
            seen = reflectance_to_lab(patch.reflectance)
            errors.append(float(delta_e00(reflectance_to_lab(predicted(inks, rule)), seen)))
    return Errors(np.array(errors), np.array(told))


def _zinc_white() -> object:
    return next(
        pigment for paint in measured_paints() for pigment, _ in paint.parts if pigment.name == "zinc white"
    )


def _oil_film(patch: Patch) -> Prediction:
    ground = body_reflectance(patch.ground, OIL_FILM)

    def film(k: NDArray[np.float64], s: NDArray[np.float64]) -> NDArray[np.float64]:
        amounts = np.broadcast_to(np.array(patch.amounts), k.shape[:-1])
        return seen_reflectance(layer_reflectance(*mixed(k, s, amounts), 1.0, ground), OIL_FILM)

    return film


def synthetic_inks(count: int, *, seed: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """K and S, shape (count, 36), of inks as printmakers use them: one or two soft bands of absorption."""
    rng = np.random.default_rng(seed)
    bands = np.arange(BAND_COUNT)
    k = np.full((count, BAND_COUNT), 0.02)
    for _ in range(2):
        middle, width = rng.uniform(-4.0, 39.0, (count, 1)), rng.uniform(3.0, 9.0, (count, 1))
        k += rng.uniform(0.05, 1.2, (count, 1)) * np.exp(-(((bands - middle) / width) ** 2))
    s = np.exp(rng.normal(np.log(0.05), 0.7, (count, 1)) + rng.normal(0.0, 0.02, (count, 1)) * (bands - 18))
    return k, s


def swatches(
    k: NDArray[np.float64], s: NDArray[np.float64], *, passes: Sequence[int], rng: np.random.Generator
) -> list[Patch]:
    """An ink over white and over black at each number of passes, as a press and an instrument give it."""
    found = []
    for count in passes:
        for ground in (WHITE, BLACK):
            film = count * np.exp(rng.normal(0.0, FILM_VARIATION))
            seen = layer_reflectance(k, s, film, ground) + rng.normal(0.0, NOISE, BAND_COUNT)
            found.append(Patch(np.clip(seen, 0.0, 1.0), np.full(BAND_COUNT, ground), thickness=float(count)))
    return found


def one_over_another(k: NDArray[np.float64], s: NDArray[np.float64]) -> NDArray[np.float64]:
    """The second ink over the first over white."""
    lower = layer_reflectance(k[..., 0, :], s[..., 0, :], 1.0, WHITE)
    return layer_reflectance(k[..., 1, :], s[..., 1, :], 1.0, lower)


def overprint_errors(*, passes: Sequence[int], inks: int = 12, seed: int = 4) -> Errors:
    """Overprints of every pair of synthetic inks, from inks fitted to their swatches."""
    k, s = synthetic_inks(inks, seed=seed)
    rng = np.random.default_rng(seed + 1)
    fits: list[InkFit] = [
        fit_inks([str(i)], swatches(k[i], s[i], passes=passes, rng=rng), noise=NOISE) for i in range(inks)
    ]
    errors, told = [], []
    for lower in range(inks):
        for upper in range(inks):
            if lower == upper:
                continue
            pair = together(fits[lower].inks, fits[upper].inks)
            truth = reflectance_to_lab(one_over_another(k[[lower, upper]], s[[lower, upper]]))
            errors.append(float(delta_e00(reflectance_to_lab(predicted(pair, one_over_another)), truth)))
            told.append(uncertainty_delta_e00(pair, one_over_another))
    return Errors(np.array(errors), np.array(told))


def smooth_round_trip(*, count: int = 1000, seed: int = 8) -> tuple[float, float]:
    """The worst CIEDE2000 of colours there and back, and the milliseconds of processor time for each."""
    linear = srgb_to_linear(np.random.default_rng(seed).random((count, 3)))
    began = time.process_time()
    found = smooth_reflectance_of_linear(linear)
    each_ms = 1000.0 * (time.process_time() - began) / count
    return float(delta_e00(reflectance_to_lab(found), linear_to_lab(linear)).max()), each_ms


def difference_times_s(*, pairs: int = 1_000_000, rounds: int = 3) -> tuple[float, float]:
    """Processor seconds of ours and of colour-science's CIEDE2000 for the same pairs, in turns, the least."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that its plotting extras are not there
        import colour
    rng = np.random.default_rng(5)
    one, two = (rng.uniform((0, -100, -100), (100, 100, 100), (pairs, 3)) for _ in range(2))

    def took(work: Callable[[], object]) -> float:
        began = time.process_time()
        work()
        return time.process_time() - began

    ours, theirs = [], []
    for _ in range(rounds):
        ours.append(took(lambda: delta_e00(one, two)))
        theirs.append(took(lambda: colour.delta_E(one, two, method="CIE 2000")))
    return min(ours), min(theirs)


def _accuracy(what: str, errors: Errors, *, median: float | None, high: float | None) -> list[Row]:
    middle, tail = (float(np.quantile(errors.delta_e00, part)) for part in (0.5, 0.95))
    rows = [
        Row(f"{what}, median", f"{middle:.2f} dE00"),
        Row(f"{what}, 95 %", f"{tail:.2f} dE00"),
        Row(
            f"{what}, uncertainty told",
            f"{float(np.median(errors.told)):.2f} dE00",
            beside=f"{len(errors.told)} predictions",
            ratio=f"{100.0 * errors.within():.0f} % lie within",
        ),
    ]
    if median is not None:
        rows[0] = at_most(rows[0].what, middle, most=median, unit="dE00")
    if high is not None:
        rows[1] = at_most(rows[1].what, tail, most=high, unit="dE00")
    return rows


def ink_section() -> Section:
    """All figures."""
    rows = [
        *_accuracy(
            "oil paints, half with white, one test mix", mixture_errors(test_mix=True), median=2.5, high=None
        ),
        *_accuracy(
            "oil paints, half with white, no test mix", mixture_errors(test_mix=False), median=None, high=None
        ),
        *_accuracy(
            "overprints, swatches of one to three passes",
            overprint_errors(passes=(1, 2, 3)),
            median=0.5,
            high=1.0,
        ),
        *_accuracy("overprints, swatches of one pass", overprint_errors(passes=(1,)), median=None, high=None),
    ]
    worst, each_ms = smooth_round_trip()
    rows.append(at_most("a colour to a smooth reflectance and back", worst, most=1e-3, unit="dE00", digits=7))
    rows.append(at_most("a smooth reflectance", each_ms, most=1.0, unit="ms"))
    ours, theirs = difference_times_s()
    rows.append(
        Row(
            "CIEDE2000 of a million pairs",
            f"{ours:.3f} s",
            "3 times as fast as colour-science, or more",
            theirs >= 3.0 * ours,
            f"colour-science: {theirs:.3f} s",
            f"{theirs / ours:.1f} times as fast",
        )
    )
    lead = (
        "Differences are CIEDE2000 under D65. *Uncertainty told* is the root mean square that is said "
        "beforehand from what is uncertain of the inks; it knows nothing of where the theory is wrong.",
    )
    return Section("inks", "Ink optics", lead, tuple(rows))


def main() -> None:
    section = ink_section()
    print(f"## {section.title}\n\n{section.lead[0]}\n\n{rows_table(section.rows)}\n\n{verdict([section])}")


if __name__ == "__main__":
    main()

"""How fast and how near recipes are: ``python -m bench.recipes`` prints the figures, in about half a minute.

Twelve pigments of the starter set over a paper, fifty colours that two or three of them are known to make,
one pass. The same colours are given to scipy's differential evolution, which chooses three pigments and their
amounts at once (six numbers, whole populations computed together), and polishes its best.
"""

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import differential_evolution

from bench.figures import Row, Section, at_most, rows_table, verdict
from blockwright.colour import delta_e00, layer_reflectance, srgb_to_lab
from blockwright.colour.mixtures import film_parts
from blockwright.colour.pigments import shipped_pigments, starter_pigments
from blockwright.colour.recipes import LEAST_PASTE_SHARE, find_recipes
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.wanted import Wanted, wanted_colour
from blockwright.model.inks import Pigment

TARGETS, OUT_OF_REACH, PIGMENTS, MANY = 50, 20, 12, 25
SEED = 11
PAPER = np.full(36, 0.85)
MOST = 1.0 - LEAST_PASTE_SHARE

WORSE = 0.02
"""A recipe is worse than the rival's from this much on, CIEDE2000."""


@dataclass(frozen=True, slots=True)
class Found:
    """What was found for each target: how far off it is, and the milliseconds it took."""

    delta_e00: NDArray[np.float64]
    each_ms: NDArray[np.float64]


def palette(count: int) -> tuple[Pigment, ...]:
    """So many pigments, those of the starter set first."""
    starter = starter_pigments()
    others = tuple(pigment for pigment in shipped_pigments() if pigment not in starter)
    return (starter + others)[:count]


def reachable_targets(
    pigments: tuple[Pigment, ...], *, count: int = TARGETS, seed: int = SEED
) -> list[Wanted]:
    """Colours that two or three of the pigments make in one pass, known as colours only."""
    rng = np.random.default_rng(seed)
    k, s, _ = film_parts(pigments, 1)
    found: list[Wanted] = []
    while len(found) < count:
        chosen = rng.choice(len(pigments), rng.integers(2, 4), replace=False)
        # What a mixture has of each is told by how it darkens: strong pigments get little.
        amounts = np.exp(rng.uniform(np.log(0.1), np.log(1.5), len(chosen))) / np.maximum(
            k[chosen].max(axis=1), 1.0
        )
        amounts *= min(1.0, 0.95 * MOST / amounts.sum())
        seen = layer_reflectance(amounts @ k[chosen], amounts @ s[chosen], 1.0, PAPER)
        lightness, a, b = reflectance_to_lab(seen).tolist()
        found.append(wanted_colour((lightness, a, b)))
    return found


def targets_out_of_reach(pigments: tuple[Pigment, ...], *, count: int, seed: int = SEED) -> list[Wanted]:
    """Strong colours of a screen that the pigments do not come near."""
    rng = np.random.default_rng(seed)
    found: list[Wanted] = []
    while len(found) < count:
        lightness, a, b = srgb_to_lab(rng.choice((0.02, 0.5, 0.97), 3)).tolist()
        wanted = wanted_colour((lightness, a, b))
        if not find_recipes(pigments, wanted, PAPER, passes=1).reachable:
            found.append(wanted)
    return found


def ours(pigments: tuple[Pigment, ...], targets: list[Wanted]) -> Found:
    """The best recipe for each target."""
    find_recipes(pigments, targets[0], PAPER, passes=1)
    apart, times = [], []
    for target in targets:
        began = time.perf_counter()
        found = find_recipes(pigments, target, PAPER, passes=1)
        times.append(1000.0 * (time.perf_counter() - began))
        apart.append(found.recipes[0].delta_e00)
    return Found(np.array(apart), np.array(times))


def theirs(pigments: tuple[Pigment, ...], targets: list[Wanted]) -> Found:
    """The best mixture that differential evolution finds for each target."""
    k, s, _ = film_parts(pigments, 1)
    apart, times = [], []
    for target in targets:
        lab = np.array(target.lab)

        def missed(x: NDArray[np.float64], lab: NDArray[np.float64] = lab) -> NDArray[np.float64]:
            # One point or a population, shape (6,) or (6, n): three places in the list, three logarithms.
            points = x.reshape(6, -1)
            chosen = np.minimum(points[:3].astype(np.intp), len(pigments) - 1)
            amounts = np.exp(points[3:])
            amounts *= np.minimum(1.0, MOST / amounts.sum(axis=0))
            mix_k = (amounts[:, :, None] * k[chosen]).sum(axis=0)
            mix_s = (amounts[:, :, None] * s[chosen]).sum(axis=0)
            seen = reflectance_to_lab(layer_reflectance(mix_k, mix_s, 1.0, PAPER))
            difference = delta_e00(seen, lab)
            return difference if x.ndim > 1 else difference[0]

        began = time.perf_counter()
        best = differential_evolution(
            missed,
            [(0.0, len(pigments) - 1e-9)] * 3 + [(np.log(1e-5), np.log(MOST))] * 3,
            maxiter=250,
            tol=1e-8,
            seed=SEED,
            updating="deferred",
            vectorized=True,
        )
        times.append(1000.0 * (time.perf_counter() - began))
        apart.append(float(best.fun))
    return Found(np.array(apart), np.array(times))


def recipe_section() -> Section:
    """All figures."""
    pigments = palette(PIGMENTS)
    targets = reachable_targets(pigments)
    mine, rival = ours(pigments, targets), theirs(pigments, targets)
    many = palette(MANY)
    crowd = ours(many, targets[:20])
    worse = mine.delta_e00 - rival.delta_e00
    strong = targets_out_of_reach(pigments, count=OUT_OF_REACH)
    far, rival_far = ours(pigments, strong), theirs(pigments, strong)
    behind = far.delta_e00 - rival_far.delta_e00
    rows = [
        at_most(
            f"a recipe from {PIGMENTS} pigments, median",
            float(np.median(mine.each_ms)),
            most=20.0,
            unit="ms",
            beside=f"differential evolution: {np.median(rival.each_ms):.0f} ms",
            ratio=f"{np.median(rival.each_ms) / np.median(mine.each_ms):.0f} times as fast",
        ),
        Row(f"a recipe from {PIGMENTS} pigments, 95 %", f"{np.quantile(mine.each_ms, 0.95):.2f} ms"),
        at_most(
            f"a recipe from {MANY} pigments, median", float(np.median(crowd.each_ms)), most=150.0, unit="ms"
        ),
        at_most(
            "how far off, reachable colours, median",
            float(np.median(mine.delta_e00)),
            most=0.5,
            unit="dE00",
            digits=4,
            beside=f"differential evolution: {np.median(rival.delta_e00):.4f}",
            ratio="",
        ),
        Row(
            "how far off, reachable colours, the worst",
            f"{mine.delta_e00.max():.4f} dE00",
            beside=f"differential evolution: {rival.delta_e00.max():.4f}",
        ),
        Row(
            f"colours of {TARGETS} where differential evolution is nearer by {WORSE:g} or more",
            f"{int((worse > WORSE).sum())}",
            "0",
            bool((worse <= WORSE).all()),
            f"at most {max(0.0, float(worse.max())):.4f} nearer",
            f"we are nearer by {WORSE:g} or more at {int((worse < -WORSE).sum())}",
        ),
        Row(
            f"colours of {OUT_OF_REACH} out of reach where it is nearer by {WORSE:g} or more",
            f"{int((behind > WORSE).sum())}",
            beside=f"at most {max(0.0, float(behind.max())):.4f} nearer",
            ratio=f"we are nearer by {WORSE:g} or more at {int((behind < -WORSE).sum())}",
        ),
        Row("a recipe for a colour out of reach, median", f"{np.median(far.each_ms):.1f} ms"),
    ]
    lead = (
        "Colours that the pigments are known to make, known as colours only; one pass over paper, at most "
        "three pigments, a fifth of the film or more is paste. *Out of reach* are strong colours that they "
        "do not make. Differences are CIEDE2000 under D65. One thread; the search is compiled beforehand.",
    )
    return Section("recipes", "Recipes", lead, tuple(rows))


def main() -> None:
    section = recipe_section()
    print(f"## {section.title}\n\n{section.lead[0]}\n\n{rows_table(section.rows)}\n\n{verdict([section])}")


if __name__ == "__main__":
    main()

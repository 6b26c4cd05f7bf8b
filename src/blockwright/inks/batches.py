"""How much of every ink an edition takes, and what is weighed for it."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.rounding import PASTE_DENSITY_G_PER_ML, stock_volume_ml, weighed_batch
from blockwright.geometry.running import mean_share
from blockwright.inks.choosing import Chosen
from blockwright.inks.quantities import GLYCERIN_DENSITY_G_PER_ML, Need, ink_needed_g, pot_warning
from blockwright.model.findings import Facts, Finding
from blockwright.model.inks import GLYCERIN, MOST_ROUNDING_DELTA_E00, PASTE, Batch, Measure
from blockwright.model.separation import Impression
from blockwright.model.settings import InksTable

FINER_SCALES_G = (0.1, 0.05, 0.01, 0.001)
"""What scales show: kitchen, letter, jeweller's, laboratory, grams [CP]."""

LARGER_BATCHES_G = (10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 150.0, 200.0)
"""Batches that are tried in the place of one that is too small; more is seldom used up [CP]."""

Planned = tuple[Impression, Chosen]
"""An impression and what it is printed with."""
_LEAST_COVERAGE = 0.05
"""A gradation takes at least this part of what a flat would: the brush is wet all over. [CP]"""


def batch_of(
    impression: Impression, choice: Chosen, paper: NDArray[np.float64], settings: InksTable
) -> Batch:
    """How much of its ink an impression takes, reserve included, and how it is weighed.

    ``paper`` is the ground over which rounding to the scale is judged, a reflectance of shape (36,).
    """
    total_g = max(_needed_g(impression, settings), settings.least_batch_g)
    if choice.recipe is None:
        density = 1.0 if choice.taken is None else choice.taken.density_g_per_ml
        pot_g = None if choice.taken is None else choice.taken.pot_g
        return Batch(total_g, total_g / density, pot_g=pot_g)
    glycerin_g = _rounded(total_g * settings.glycerin_percent / 100.0, settings.scale_g)
    glycerin_ml = glycerin_g / GLYCERIN_DENSITY_G_PER_ML
    weighed = weighed_batch(
        choice.recipe,
        choice.pigments,
        paper,
        batch_g=total_g - glycerin_g,
        step_g=settings.scale_g,
        clear_ml=glycerin_ml,
    )
    densities = {each.name: each.density_g_per_ml for each in choice.pigments}
    measures = [
        Measure(
            each.name,
            each.mass_g,
            stock_volume_ml(each.mass_g, thinned=each.thinned, density_g_per_ml=densities[each.name]),
            each.thinned,
        )
        for each in weighed.components
    ]
    measures.append(Measure(PASTE, weighed.paste_g, weighed.paste_g / PASTE_DENSITY_G_PER_ML))
    if glycerin_g > 0.0:
        measures.append(Measure(GLYCERIN, glycerin_g, glycerin_ml))
    return Batch(
        needed_g=round(sum(each.mass_g for each in measures), 6),
        needed_ml=round(sum(each.volume_ml for each in measures), 6),
        measures=tuple(measures),
        rounding_delta_e00=weighed.delta_e00,
        too_small=weighed.too_small,
    )


def weighing_findings(
    planned: Sequence[Planned],
    batches: Sequence[Batch | None],
    paper: NDArray[np.float64],
    settings: InksTable,
) -> list[Finding]:
    """What the scale does to the recipes: colours that rounding moves visibly, pigments too little to weigh.

    Each says which scale, and which batch at least, would do; ``about`` has their values.
    """
    told = [(each, batch) for each, batch in zip(planned, batches, strict=True) if batch is not None]
    moved = [(each, batch) for each, batch in told if _moved(batch)]
    small = [(each, batch) for each, batch in told if batch.too_small]
    findings = []
    if moved:
        names = ", ".join(f"{each[0].name} by {batch.rounding_delta_e00:.1f}" for each, batch in moved)
        said = f"Rounding to the scale's {settings.scale_g:g} g moves {names} (CIEDE2000), which may be seen"
        advice, about = _what_would_do(moved, _moved, paper, settings)
        findings.append(Finding("rounding-moves-colour", "note", f"{said}. {advice}", about=about))
    if small:
        names = "; ".join(f"{_listed(batch.too_small)} in {each[0].name}" for each, batch in small)
        said = f"Too little to be weighed surely, in steps of {settings.scale_g:g} g: {names}"
        advice, about = _what_would_do(small, _too_small, paper, settings)
        findings.append(Finding("batch-too-small", "note", f"{said}. {advice}", about=about))
    return findings


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _moved(batch: Batch) -> bool:
    return batch.rounding_delta_e00 > MOST_ROUNDING_DELTA_E00


def _too_small(batch: Batch) -> bool:
    return bool(batch.too_small)


def _what_would_do(
    worse: Sequence[tuple[Planned, Batch]],
    wrong: Callable[[Batch], bool],
    paper: NDArray[np.float64],
    settings: InksTable,
) -> tuple[str, Facts]:
    """The coarsest scale and the smallest batch with which none of these inks is ``wrong``, as advice."""

    def would_do(key: str, value: float) -> bool:
        other = settings.model_copy(update={key: value})
        return not any(wrong(batch_of(*planned, paper, other)) for planned, _ in worse)

    least_g = min(batch.needed_g for _, batch in worse)
    scales = (each for each in FINER_SCALES_G if each < settings.scale_g)
    batches = (each for each in LARGER_BATCHES_G if each > max(settings.least_batch_g, least_g))
    scale_g = next((each for each in scales if would_do("scale_g", each)), None)
    batch_g = next((each for each in batches if would_do("least_batch_g", each)), None)
    ways = []
    about: list[tuple[str, float]] = []
    if scale_g is not None:
        ways.append(f"a scale that shows {scale_g:g} g")
        about.append(("scale_g", scale_g))
    if batch_g is not None:
        ways.append(f"{batch_g:g} g of each at least")
        about.append(("least_batch_g", batch_g))
    advice = f"Take {', or mix '.join(ways)}." if scale_g else f"Mix {ways[0]}." if ways else ""
    if not advice:
        advice = "Mix from a weaker pigment, or keep a stock of it thinned with paste."
    return advice, tuple(about)


def pot_findings(impression: Impression, choice: Chosen, settings: InksTable) -> list[Finding]:
    """What to say when the pot that is to print an impression is too small, or was never weighed."""
    if choice.taken is None or not impression.area.area:
        return []
    need = _need(impression, settings)
    said = pot_warning(
        choice.taken,
        need,
        laydown=settings.laydown_g_per_m2,
        reserve_share=settings.reserve_percent / 100.0,
    )
    if said is None:
        return []
    about: Facts = (("colour", impression.name), ("ink", choice.taken.number))
    if choice.taken.pot_g is None:
        return [Finding("pot-not-weighed", "note", said, about=about)]
    return [Finding("pot-too-small", "warn", said, about=about)]


def _needed_g(impression: Impression, settings: InksTable) -> float:
    area_mm2 = float(impression.area.area)
    if area_mm2 <= 0.0:
        return 0.0
    printed = ink_needed_g(_need(impression, settings), laydown=settings.laydown_g_per_m2)
    return printed * (1.0 + settings.reserve_percent / 100.0)


def _need(impression: Impression, settings: InksTable) -> Need:
    """What an impression takes: a gradation less than a flat, by the mean share of its film."""
    graded, area = impression.gradation, impression.area
    coverage = 1.0 if graded is None else max(mean_share(graded, area), _LEAST_COVERAGE)
    return Need(float(area.area), impression.passes, settings.sheets, coverage)


def _rounded(mass_g: float, step_g: float) -> float:
    return round(round(mass_g / step_g) * step_g, 6)

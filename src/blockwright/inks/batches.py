"""How much of every ink an edition takes, and what is weighed for it."""

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.rounding import PASTE_DENSITY_G_PER_ML, stock_volume_ml, weighed_batch
from blockwright.geometry.running import mean_share
from blockwright.inks.choosing import Chosen
from blockwright.inks.quantities import GLYCERIN_DENSITY_G_PER_ML, Need, ink_needed_g, pot_warning
from blockwright.model.findings import Facts, Finding
from blockwright.model.inks import GLYCERIN, PASTE, Batch, Measure
from blockwright.model.separation import Impression
from blockwright.model.settings import InksTable

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
    )


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

"""What to mix for a colour, as command and app tell it: target, ground, pigments, recipes, correction."""

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import colour_name, lab_to_hex
from blockwright.colour.correction import Correction, Pot, correction
from blockwright.colour.films import overprinted
from blockwright.colour.mixtures import pigments_of
from blockwright.colour.nearby import NearMiss, near_on_shelf
from blockwright.colour.pigments import shipped_pigments
from blockwright.colour.recipes import MOST_PIGMENTS, Matches, find_recipes
from blockwright.colour.rounding import (
    BATCH_G,
    PASTE_DENSITY_G_PER_ML,
    SCALE_STEP_G,
    Batch,
    stock_volume_ml,
    weighed_batch,
    whole_parts,
)
from blockwright.colour.wanted import Wanted, read_colour, wanted_colour
from blockwright.inks.quantities import LAYDOWN_G_PER_M2, RESERVE_SHARE, Need, ink_needed_g
from blockwright.model.errors import InkError, SettingsError
from blockwright.model.inks import PASTE, MixedInk, Part, Pigment, Recipe
from blockwright.model.units import Lab
from blockwright.shelf import at_hand

PAPER = "#f6efdf"
"""The colour of a paper where none is named; the same as in a new print.toml."""

LEAST_BATCH_G = 5.0
"""Less than this is never mixed: a small bowl [CP]."""

MOST_RESERVE_SHARE = 3.0
"""More than this beyond what is printed is a slip of the hand [CP]."""

_NUMBER = r"\s*([+-]?\d+(?:\.\d+)?)\s*"
_PLACE = re.compile(rf"{_NUMBER},{_NUMBER}")


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """A colour that is wanted, how it was named, and the paper of the print it comes from, if of one."""

    wanted: Wanted
    name: str
    paper_hex: str | None = None


@dataclass(frozen=True, slots=True)
class Edition:
    """What is to be printed with the ink: an area, on so many sheets.

    ``coverage`` is the part of the area that takes ink, above 0 to 1; ``laydown`` the wet ink of one pass in
    g/m2; ``reserve_share`` what is mixed beyond what is printed, as a part of it.
    """

    area_mm2: float
    sheets: int
    coverage: float = 1.0
    laydown: float = LAYDOWN_G_PER_M2
    reserve_share: float = RESERVE_SHARE

    def printed_g(self, passes: int) -> float:
        """Grams that go onto the sheets in so many passes. Raises InkError for a number out of range.

        >>> Edition(area_mm2=40_000, sheets=60).printed_g(2)
        57.6
        """
        return ink_needed_g(
            Need(self.area_mm2, passes, self.sheets, coverage=self.coverage), laydown=self.laydown
        )

    def needed_g(self, passes: int) -> float:
        """The same with the reserve. Raises InkError for a number out of range."""
        if not 0.0 <= self.reserve_share <= MOST_RESERVE_SHARE:
            raise InkError(
                f"The reserve is {100 * self.reserve_share:g} %; it is 0 to {100 * MOST_RESERVE_SHARE:.0f} %."
            )
        return self.printed_g(passes) * (1.0 + self.reserve_share)


def _pigments_at_hand() -> tuple[Pigment, ...]:
    """The pigments to mix from where none are named: those on the studio's shelf."""
    return at_hand().pigments


def _inks_at_hand() -> tuple[MixedInk, ...]:
    """The mixed inks among which near-misses are looked for."""
    return at_hand().inks


def read_swatch(text: str) -> Lab:
    """CIELAB of a swatch's colour as written. Raises SettingsError."""
    return read_colour(text, name="--swatch")


def read_target(text: str) -> Target:
    """A target as written: ``#rrggbb``, ``lab(L, a, b)``, or ``FOLDER:`` and a colour's name or place in mm.

    Raises BlockwrightError, one plain sentence, when it is none of these, the folder has no such colour, or
    no surface can have the colour.
    """
    folder, colon, where = text.rpartition(":")
    if not colon:
        lab = read_colour(text, name="--target")
        return Target(wanted_colour(lab), colour_name(lab))
    from blockwright import project

    made = project.make(Path(folder), upto="design")
    design = made.stages[0].value
    if place := _PLACE.fullmatch(where):
        x_mm, y_mm = (float(group) for group in place.groups())
        label = _colour_at(design, x_mm, y_mm, folder)
    else:
        names = [colour.name for colour in design.palette]
        label = names.index(_spelled(where, names, f"{folder} has no colour"))
    colour = design.palette[label]
    return Target(wanted_colour(colour.lab), colour.name, design.paper_hex)


def read_pot(text: str) -> Pot:
    """A pot as written: ``rose=4.2, blue=1, paste=30``, grams of each.

    Raises SettingsError when it is written otherwise.

    >>> read_pot("quinacridone rose=4.2, paste=30")
    Pot(pigments_g=(('quinacridone rose', 4.2),), paste_g=30.0)
    """
    masses: dict[str, float] = {}
    for piece in text.split(","):
        name, _, number = piece.partition("=")
        try:
            mass_g = float(number)
        except ValueError:
            raise SettingsError(
                f"--correct has {piece.strip()!r}; write what the pot holds as NAME=GRAMS, commas between."
            ) from None
        masses[name.strip()] = masses.get(name.strip(), 0.0) + mass_g
    paste_g = masses.pop(PASTE, 0.0) + masses.pop("paste", 0.0)
    return Pot(tuple(masses.items()), paste_g)


def chosen_pigments(names: Sequence[str]) -> tuple[Pigment, ...]:
    """The pigments that are named, by name or Colour Index name; without names those at hand.

    Raises InkError when one is not known: with the nearest spelling, or with what there is.

    >>> [pigment.name for pigment in chosen_pigments(["pv19", "Burnt Umber"])]
    ['quinacridone rose', 'burnt umber']
    """
    present = _pigments_at_hand()
    if not names:
        return present
    known = {pigment.name: pigment for pigment in (*shipped_pigments(), *present)}
    wanted = [piece for name in names for piece in ([name] if name in known else name.split(","))]
    found: dict[str, Pigment] = {}
    for name in wanted:
        pigment = (
            _by_index(name.strip(), present, known)
            or known[_spelled(name.strip(), list(known), "There is no pigment")]
        )
        found[pigment.name] = pigment
    return tuple(found.values())


def ground_of(paper: str, over: str | None) -> NDArray[np.float64]:
    """Reflectance, shape (36,), of what is printed on: the paper, a colour, or a mixed ink over the paper.

    Raises BlockwrightError when a colour is written wrongly or there is no such ink.
    """
    bare = wanted_colour(read_colour(paper, name="--paper"), name="The paper").reflectance
    if over is None:
        return bare
    if over.strip().startswith(("#", "lab(")):
        return wanted_colour(read_colour(over, name="--over"), name="The colour beneath").reflectance
    inks = {ink.name: ink for ink in _inks_at_hand()}
    if not inks:
        raise SettingsError(
            f"--over is {over!r}; no ink is on the shelf, so write the colour beneath as #rrggbb."
        )
    optics = inks[_spelled(over, list(inks), "There is no mixed ink")].optics
    return overprinted(optics.k, optics.s, bare)


def mix(
    target: Target,
    pigments: Sequence[Pigment],
    ground: NDArray[np.float64],
    *,
    passes: int | None = None,
    most_pigments: int = MOST_PIGMENTS,
    batch_g: float | None = None,
    step_g: float = SCALE_STEP_G,
    edition: Edition | None = None,
) -> dict[str, Any]:
    """All there is to say about mixing for a target, plain values: near-misses, recipes by weight, cautions.

    A recipe is weighed for ``batch_g``, 40 g if not given, or, given an ``edition``, for what that takes in
    the recipe's passes, but LEAST_BATCH_G at least. Raises InkError when something is missing or outside its
    range.
    """
    matches = find_recipes(pigments, target.wanted, ground, passes=passes, most_pigments=most_pigments)
    near = near_on_shelf(_inks_at_hand(), target.wanted, ground, passes=passes)
    if edition is not None:
        edition.needed_g(1)  # that it is wrong is said even where no recipe is found
    recipes = [
        _recipe_told(
            recipe,
            pigments,
            ground,
            _batch_of(edition, recipe, BATCH_G if batch_g is None else batch_g, step_g),
            step_g,
        )
        | {"edition": edition and _edition_told(edition, recipe, pigments)}
        for recipe in matches.recipes
    ]
    used = {part.pigment for recipe in matches.recipes for part in recipe.parts}
    return {
        "target": _target_told(target),
        "reachable": matches.reachable,
        "nearest": _nearest_told(matches),
        "bare_delta_e00": round(matches.bare_delta_e00, 3),
        "recipes": recipes,
        "shelf": [_near_told(each) for each in near],
        "cautions": [
            {"name": pigment.name, "hazard": pigment.hazard}
            for pigment in pigments
            if pigment.name in used and pigment.hazard
        ],
        "from_literature": [p.name for p in pigments if p.name in used and p.origin == "literature"],
        "other_lights_guessed": not matches.spectrum_known,
    }


def correct(
    target: Target,
    pot: Pot,
    swatch: Lab,
    pigments: Sequence[Pigment],
    ground: NDArray[np.float64],
    *,
    passes: int,
    step_g: float = SCALE_STEP_G,
) -> dict[str, Any]:
    """What to add to a pot whose swatch came out as ``swatch``, plain values.

    Raises InkError when something is missing or outside its range.
    """
    known = {pigment.name: pigment for pigment in (*shipped_pigments(), *_pigments_at_hand(), *pigments)}
    named = [(_spelled(name, list(known), "There is no pigment"), mass_g) for name, mass_g in pot.pigments_g]
    own = pigments_of([Part(name, 1.0) for name, _ in named], list(known.values()))
    may_add = list({pigment.name: pigment for pigment in (*own, *pigments)}.values())
    measured = wanted_colour(swatch, name="The swatch")
    found = correction(
        Pot(tuple(named), pot.paste_g), may_add, measured, target.wanted, ground, passes=passes, step_g=step_g
    )
    return {
        "target": _target_told(target),
        "correction": _correction_told(found, Pot(tuple(named), pot.paste_g), list(known.values())),
        "cautions": [
            {"name": name, "hazard": known[name].hazard} for name, _ in found.pigments_g if known[name].hazard
        ],
    }


def _colour_at(design: Any, x_mm: float, y_mm: float, folder: str) -> int:
    from shapely import Point

    point = Point(x_mm, y_mm)
    for shape in design.shapes:
        if shape.region.covers(point):
            return int(shape.colour)
    raise SettingsError(
        f"{folder} has nothing at {x_mm:g}, {y_mm:g} mm; the image is {design.width_mm:g} mm wide "
        f"and {design.height_mm:g} mm high."
    )


def _by_index(name: str, present: Sequence[Pigment], known: dict[str, Pigment]) -> Pigment | None:
    """The pigment of a Colour Index name: one at hand before one of the literature."""
    for pigment in (*present, *known.values()):
        if pigment.colour_index and pigment.colour_index.lower() == name.lower():
            return pigment
    return None


def _spelled(name: str, names: Sequence[str], lacking: str) -> str:
    """The name as it is spelled, whatever its capitals; an error says the nearest."""
    lower = {each.lower(): each for each in names}
    if name.lower() in lower:
        return lower[name.lower()]
    near = difflib.get_close_matches(name.lower(), list(lower), n=1, cutoff=0.6)
    hint = f"perhaps {lower[near[0]]}" if near else f"there are {', '.join(names)}"
    raise InkError(f"{lacking} {name!r}; {hint}.")


def _target_told(target: Target) -> dict[str, Any]:
    lab = target.wanted.lab
    return {"name": target.name, "hex": lab_to_hex(lab), "lab": [round(value, 2) for value in lab]}


def _nearest_told(matches: Matches) -> dict[str, Any]:
    return {
        "lab": [round(value, 2) for value in matches.nearest_lab],
        "hex": matches.nearest_hex,
        "delta_e00": round(matches.nearest_delta_e00, 3),
    }


def _batch_of(edition: Edition | None, recipe: Recipe, batch_g: float, step_g: float) -> float:
    """Grams to weigh: what was asked for, or the edition's need, up to the next step of the scale."""
    if edition is None:
        return batch_g
    needed_g = max(edition.needed_g(recipe.passes), LEAST_BATCH_G)
    return round(ceil(needed_g / step_g - 1e-9) * step_g, 6) if step_g > 0.0 else needed_g


def _edition_told(edition: Edition, recipe: Recipe, pigments: Sequence[Pigment]) -> dict[str, Any]:
    """What an edition takes of a recipe, by weight and by volume."""
    chosen = pigments_of(recipe.parts, pigments)
    density = recipe.paste_share * PASTE_DENSITY_G_PER_ML + sum(
        part.share * pigment.density_g_per_ml for part, pigment in zip(recipe.parts, chosen, strict=True)
    )
    printed_g, needed_g = edition.printed_g(recipe.passes), edition.needed_g(recipe.passes)
    return {
        "printed_g": round(printed_g, 3),
        "printed_ml": round(printed_g / density, 3),
        "needed_g": round(needed_g, 3),
        "needed_ml": round(needed_g / density, 3),
        "least_g": LEAST_BATCH_G,
    }


def _measures_told(batch: Batch, pigments: Sequence[Pigment]) -> list[dict[str, Any]]:
    """What is weighed of each component, paste last, and the millilitres that it is."""
    densities = {pigment.name: pigment.density_g_per_ml for pigment in pigments}
    measures = [
        (
            each.name,
            each.mass_g,
            stock_volume_ml(each.mass_g, thinned=each.thinned, density_g_per_ml=densities[each.name]),
            each.thinned,
        )
        for each in batch.components
    ]
    measures.append((PASTE, batch.paste_g, batch.paste_g / PASTE_DENSITY_G_PER_ML, 1))
    return [
        {"name": name, "mass_g": mass_g, "volume_ml": round(volume_ml, 4), "thinned": thinned}
        for name, mass_g, volume_ml, thinned in measures
    ]


def _recipe_told(
    recipe: Recipe, pigments: Sequence[Pigment], ground: NDArray[np.float64], batch_g: float, step_g: float
) -> dict[str, Any]:
    batch = weighed_batch(recipe, pigments, ground, batch_g=batch_g, step_g=step_g)
    whole = whole_parts(recipe, pigments, ground)
    by_volume = [*((part.pigment, part.share) for part in recipe.parts), (PASTE, recipe.paste_share)]
    measures = _measures_told(batch, pigments)
    return {
        "components": [{"name": name, "parts": round(100.0 * share, 4)} for name, share in by_volume],
        "passes": recipe.passes,
        "predicted_lab": [round(value, 2) for value in recipe.predicted_lab],
        "predicted_hex": recipe.predicted_hex,
        "delta_e00": round(recipe.delta_e00, 3),
        "worst_light_delta_e00": round(recipe.worst_light_delta_e00, 3),
        "uncertainty_delta_e00": round(recipe.uncertainty_delta_e00, 2),
        "batch": {
            "components": measures,
            "total_g": round(batch.total_g, 6),
            "total_ml": round(sum(each["volume_ml"] for each in measures), 3),
            "rounding_delta_e00": round(batch.delta_e00, 3),
            "too_small": list(batch.too_small),
        },
        "whole_parts": whole
        and {
            "parts": [*whole.parts, whole.paste],
            "rounding_delta_e00": round(whole.delta_e00, 3),
        },
    }


def _near_told(near: NearMiss) -> dict[str, Any]:
    return {
        "number": near.ink.number,
        "name": near.ink.name,
        "known_by": near.ink.known_by,
        "passes": near.passes,
        "pot_g": near.ink.pot_g,
        "predicted_lab": [round(value, 2) for value in near.predicted_lab],
        "predicted_hex": near.predicted_hex,
        "delta_e00": round(near.delta_e00, 3),
        "worst_light_delta_e00": round(near.worst_light_delta_e00, 3),
        "uncertainty_delta_e00": round(near.uncertainty_delta_e00, 2),
    }


def _correction_told(found: Correction, pot: Pot, pigments: Sequence[Pigment]) -> dict[str, Any]:
    densities = {pigment.name: pigment.density_g_per_ml for pigment in pigments}
    densities[PASTE] = PASTE_DENSITY_G_PER_ML
    added = [*found.pigments_g, *([(PASTE, found.paste_g)] if found.paste_g else [])]
    held = [*pot.pigments_g, (PASTE, pot.paste_g), *added]
    return {
        "add": [
            {"name": name, "mass_g": mass_g, "volume_ml": round(mass_g / densities[name], 4)}
            for name, mass_g in added
        ],
        "total_ml": round(sum(mass_g / densities[name] for name, mass_g in held), 3),
        "before_delta_e00": round(found.before_delta_e00, 3),
        "predicted_lab": [round(value, 2) for value in found.predicted_lab],
        "predicted_hex": found.predicted_hex,
        "delta_e00": round(found.delta_e00, 3),
        "total_g": round(found.total_g, 6),
        "strengths": [{"name": name, "factor": round(factor, 3)} for name, factor in found.strengths],
        "near_enough": found.near_enough,
    }

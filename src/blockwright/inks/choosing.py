"""What every impression is printed with: an ink of the shelf, a recipe, or one that is mixed to match."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from blockwright.colour import colour_reflectance, delta_e00, layer_reflectance, reflectance_to_lab
from blockwright.colour.mixed_optics import mixed_film
from blockwright.colour.mixtures import as_hex, as_lab, mixture_uncertainty, recipe_reflectance
from blockwright.colour.nearby import is_mixture, nearest_inks
from blockwright.colour.recipes import OTHER_LIGHT_DELTA_E00, Matches, find_recipes
from blockwright.colour.wanted import Wanted, wanted_colour, wanted_reflectance
from blockwright.inks.along_gradation import recipe_along
from blockwright.model.design import Design
from blockwright.model.findings import Facts, Finding
from blockwright.model.inks import KnownBy, MixedInk, Optics, Origin, Pigment, Recipe, Shelf
from blockwright.model.separation import Impression, Separation, SetInk
from blockwright.model.settings import InksTable

OUT_OF_REACH_DELTA_E00 = 5.0
"""A colour that the best transparent ink on this paper misses by more (CIEDE2000) is pointed out [CP]."""

MISSED_DELTA_E00 = 2.0
"""A recipe that misses the wanted colour by more than this (CIEDE2000) is pointed out [CP]: it is seen where
print and design lie side by side."""

MISSED_ALONG_DELTA_E00 = 4.0
"""A gradation that its recipe follows worse than this, on average, is pointed out [CP]: nobody compares it
place by place."""

_MATCHED_DELTA_E00 = 0.5
"""A recipe this near (CIEDE2000) is said to match."""

_ORIGINS: tuple[Origin, ...] = ("measured", "scanned", "literature", "matched")
"""From the surest to the least sure."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """What an impression is printed with. ``pigments`` are those of its recipe, in its order."""

    name: str
    origin: Origin
    optics: Optics
    transfer: tuple[float, ...] = (1.0,)
    mixture: bool = False
    recipe: Recipe | None = None
    taken: MixedInk | None = None
    pigments: tuple[Pigment, ...] = ()

    @property
    def known_by(self) -> KnownBy | None:
        """What makes it known; None for an ink that is mixed to match, or of which neither is known."""
        if self.taken is not None and (self.taken.parts or self.taken.known_by == "own swatch"):
            return self.taken.known_by
        return None if self.recipe is None else "recipe"


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the printmaker decided for one impression."""

    taken: MixedInk | None
    pigments: tuple[Pigment, ...]
    shelf: Shelf
    mixed_from: bool = False


def choose_inks(
    design: Design, separation: Separation, shelf: Shelf, settings: InksTable
) -> tuple[list[Chosen], list[Finding]]:
    """Choose the ink of every impression, and point out what cannot be done or will show."""
    findings: list[Finding] = []
    usual = _known(settings.pigments, shelf, "[inks] pigments", findings) or shelf.pigments
    asked = {each.number: _Asked(None, usual, shelf) for each in separation.inked}
    for take in settings.take:
        impression = _impression(take.colour, "take", design, separation, findings)
        ink = next((each for each in shelf.inks if each.number == take.shelf), None)
        if ink is None:
            findings.append(_no_such_ink(take.shelf, take.colour, shelf))
        elif impression is not None:
            asked[impression.number] = replace(asked[impression.number], taken=ink)
    for mix in settings.mix_from:
        impression = _impression(mix.colour, "mix_from", design, separation, findings)
        own = _known(mix.pigments, shelf, f"[[inks.mix_from]] for {mix.colour}", findings)
        if impression is not None and own:
            asked[impression.number] = replace(asked[impression.number], pigments=own, mixed_from=True)
    _as_split(separation, asked)
    chosen = []
    for impression in separation.inked:
        choice, told = _choose(design, separation, impression, asked[impression.number], settings)
        chosen.append(choice)
        findings += told
    return chosen, findings


def _as_split(separation: Separation, asked: dict[int, _Asked]) -> None:
    """What is split off an impression is printed with that one's ink, unless its own is decided."""
    numbers = {each.name: each.number for each in separation.impressions}
    for each in separation.inked:
        source, own = numbers.get(each.split_from or ""), asked[each.number]
        if source is not None and own.taken is None and not own.mixed_from:
            asked[each.number] = asked[source]


def wanted_of(design: Design, impression: Impression) -> Wanted:
    """The colour that an impression is to have: with the spectrum of a transparent ink where one has it.

    A colour that only an ink with body can have on this paper comes with its calmest reflectance.
    """
    paper = colour_reflectance(design.paper_hex)
    ink = impression.printed_ink
    seen = layer_reflectance(ink.k, ink.s, float(impression.passes), paper)
    if delta_e00(reflectance_to_lab(seen), impression.lab) < _MATCHED_DELTA_E00:
        return wanted_reflectance(seen)
    return wanted_colour(impression.lab, name=impression.name)


def surest_of(origins: Sequence[Origin]) -> Origin:
    """The origin of what is known least surely."""
    return max(origins, key=_ORIGINS.index)


def _choose(
    design: Design, separation: Separation, impression: Impression, asked: _Asked, settings: InksTable
) -> tuple[Chosen, list[Finding]]:
    if asked.taken is not None:
        ink = asked.taken
        choice = Chosen(ink.name, ink.origin, ink.optics, ink.transfer, is_mixture(ink), taken=ink)
        return choice, _taken_findings(design, impression, ink)
    if impression.set_ink is not None and (given := _as_set(design, impression, impression.set_ink, asked)):
        return given, []
    if settings.mix == "to match" or not asked.pigments:
        optics = Optics(impression.printed_ink.k, impression.printed_ink.s)
        return Chosen(impression.printed_ink.name, "matched", optics), _match_findings(design, impression)
    if impression.gradation is not None:
        recipe = recipe_along(design, separation, impression, asked.pigments, settings)
    else:
        recipe = _search(design, impression, asked.pigments, settings, passes=impression.passes).recipes[0]
    named = {each.name: each for each in asked.pigments}
    own = tuple(named[part.pigment] for part in recipe.parts)
    optics, transfer = mixed_film(own, [part.share for part in recipe.parts], passes=impression.passes)
    choice = Chosen(
        impression.printed_ink.name,
        surest_of([each.origin for each in own]),
        optics,
        transfer=transfer,
        mixture=len(own) > 1,
        recipe=recipe,
        pigments=own,
    )
    return choice, _recipe_findings(design, impression, recipe, asked.pigments, settings)


def _as_set(design: Design, impression: Impression, ink: SetInk, asked: _Asked) -> Chosen | None:
    """The ink that the overprints of an impression were reckoned with, as far as the shelf has it.

    None where the printmaker mixes it from other pigments, or where some of it is not there.
    """
    own_names = {each.name for each in asked.pigments}
    if asked.mixed_from and not (ink.parts and {part.pigment for part in ink.parts} <= own_names):
        return None
    if ink.shelf_number is not None:
        pot = next((each for each in asked.shelf.inks if each.number == ink.shelf_number), None)
        if pot is None:
            return None
        return Chosen(pot.name, pot.origin, pot.optics, pot.transfer, is_mixture(pot), taken=pot)
    named = {each.name: each for each in asked.shelf.pigments}
    if not ink.parts or any(part.pigment not in named for part in ink.parts):
        return None
    own = tuple(named[part.pigment] for part in ink.parts)
    passes, paper = impression.passes, colour_reflectance(design.paper_hex)
    seen = recipe_reflectance(ink.parts, passes, own, paper)
    lab = as_lab(reflectance_to_lab(seen))
    recipe = Recipe(
        parts=ink.parts,
        paste_share=ink.paste_share,
        passes=passes,
        predicted_lab=lab,
        predicted_hex=as_hex(lab),
        delta_e00=float(delta_e00(lab, impression.lab)),
        # The wanted spectrum is this ink's own, which is the same under any light.
        worst_light_delta_e00=0.0,
        uncertainty_delta_e00=mixture_uncertainty(ink.parts, passes, own, paper),
    )
    optics, transfer = mixed_film(own, [part.share for part in ink.parts], passes=passes)
    origin = surest_of([each.origin for each in own])
    return Chosen(impression.printed_ink.name, origin, optics, transfer, len(own) > 1, recipe, pigments=own)


def _search(
    design: Design,
    impression: Impression,
    pigments: Sequence[Pigment],
    settings: InksTable,
    *,
    passes: int | None,
) -> Matches:
    return find_recipes(
        pigments,
        wanted_of(design, impression),
        colour_reflectance(design.paper_hex),
        passes=passes,
        most_pigments=settings.most_pigments,
        least_paste_share=settings.least_paste_percent / 100.0,
        most_recipes=1,
    )


def _taken_findings(design: Design, impression: Impression, ink: MixedInk) -> list[Finding]:
    """What to say when an ink of the shelf misses the colour that it is taken for."""
    paper = colour_reflectance(design.paper_hex)
    (planned,) = nearest_inks([ink], impression.lab, paper, passes=impression.passes)
    if planned.delta_e00 <= MISSED_DELTA_E00:
        return []
    message = f"{impression.name[:1].upper()}{impression.name[1:]} ({impression.srgb_hex}) is missed by "
    message += f"{planned.delta_e00:.1f} (CIEDE2000) by {ink.name}, ink {ink.number} of the shelf. "
    about: Facts = (("colour", impression.name),)
    (best,) = nearest_inks([ink], impression.lab, paper)
    if best.passes != impression.passes and best.delta_e00 < planned.delta_e00 - 1.0:
        times = "1 pass" if best.passes == 1 else f"{best.passes} passes"
        message += f"In {times} it comes within {best.delta_e00:.1f}."
        about = (*about, ("passes", best.passes))
    else:
        message += "Take another ink, have one mixed by recipe, or recolour it."
    place = design.shapes[impression.shapes[0]].at if impression.shapes else None
    return [Finding("recipe-misses", "warn", message, place, about)]


def _match_findings(design: Design, impression: Impression) -> list[Finding]:
    """What to say when no transparent ink on this paper has the colour."""
    paper = colour_reflectance(design.paper_hex)
    ink = impression.printed_ink
    seen = layer_reflectance(ink.k, ink.s, float(impression.passes), paper)
    off = float(delta_e00(reflectance_to_lab(seen), impression.lab))
    if off <= OUT_OF_REACH_DELTA_E00:
        return []
    message = (
        f"{impression.name[:1].upper()}{impression.name[1:]} ({impression.srgb_hex}) cannot be reached on "
    )
    message += f"this paper by a transparent ink: the nearest print differs by {off:.1f} (CIEDE2000). "
    message += "Take a lighter paper or recolour it."
    place = design.shapes[impression.shapes[0]].at if impression.shapes else None
    return [Finding("colour-out-of-reach", "warn", message, place, (("colour", impression.name),))]


def _recipe_findings(
    design: Design,
    impression: Impression,
    recipe: Recipe,
    pigments: Sequence[Pigment],
    settings: InksTable,
) -> list[Finding]:
    place = design.shapes[impression.shapes[0]].at if impression.shapes else None
    name = impression.name[:1].upper() + impression.name[1:]
    about: Facts = (("colour", impression.name),)
    if impression.gradation is not None:
        if recipe.delta_e00 <= MISSED_ALONG_DELTA_E00:
            return []
        message = f"{name} is missed by {recipe.delta_e00:.1f} (CIEDE2000), on average along its gradation, "
        message += "by the nearest recipe from the pigments at hand. Add a pigment of its hue to the shelf, "
        message += "give the gradation another colour, or accept it."
        return [Finding("recipe-misses", "warn", message, place, about)]
    if recipe.delta_e00 > MISSED_DELTA_E00:
        message = f"{name} ({impression.srgb_hex}) is missed by {recipe.delta_e00:.1f} (CIEDE2000) by the "
        message += "nearest recipe from the pigments at hand. "
        better = _search(design, impression, pigments, settings, passes=None).recipes[0]
        if better.passes > impression.passes and better.delta_e00 < recipe.delta_e00 - 1.0:
            near = better.delta_e00
            reached = "matches it" if near < _MATCHED_DELTA_E00 else f"comes within {near:.1f}"
            message += f"In {better.passes} passes a recipe {reached}."
            about = (*about, ("passes", better.passes))
        else:
            message += "Add a stronger pigment to the shelf, allow less paste, or recolour it."
        return [Finding("recipe-misses", "warn", message, place, about)]
    apart = recipe.worst_light_delta_e00
    if apart - recipe.delta_e00 > OTHER_LIGHT_DELTA_E00:
        message = f"{name} matches by day, but under lamp or shop light its recipe may differ by {apart:.1f} "
        message += "(CIEDE2000) from a calm colour like it. Look at a swatch there."
        return [Finding("other-light", "note", message, place, about)]
    return []


def _known(names: Sequence[str], shelf: Shelf, where: str, findings: list[Finding]) -> tuple[Pigment, ...]:
    """The pigments of these names that are at hand; a finding for each that is not."""
    by_name = {each.name.casefold(): each for each in shelf.pigments}
    known = []
    for name in names:
        pigment = by_name.get(name.strip().casefold())
        if pigment is not None:
            if pigment not in known:
                known.append(pigment)
            continue
        near = get_close_matches(name.casefold(), by_name, n=1)
        at_hand = ", ".join(each.name for each in shelf.pigments) or "none"
        meant = f" Is {by_name[near[0]].name} meant?" if near else ""
        message = f"{where} names {name}, which is not at hand on the shelf.{meant} At hand: {at_hand}."
        findings.append(Finding("unknown-pigment", "warn", message, about=(("pigment", name),)))
    return tuple(known)


def _impression(
    colour: str, setting: str, design: Design, separation: Separation, findings: list[Finding]
) -> Impression | None:
    """The impression of a name; None, without a finding, for a colour that several give over one another.

    Those were searched with what is decided for the colour.
    """
    wanted = colour.strip().casefold()
    for impression in separation.inked:
        if wanted in (impression.name.casefold(), impression.srgb_hex.lower()):
            return impression
    if separation.overprints is not None:
        name = next((each.name for each in design.palette if each.srgb_hex.lower() == wanted), wanted)
        for impression in separation.inked:
            if impression.name.casefold() == name.casefold():
                return impression
        if any(each.colour.casefold() == name.casefold() for each in separation.overprints.lies_over):
            return None
    printed = ", ".join(f"{each.name} ({each.srgb_hex})" for each in separation.inked) or "none"
    message = f"No printed colour is called {colour}, so that line of [inks] {setting} does nothing. "
    message += f"Printed colours: {printed}."
    findings.append(Finding("inks-unknown-colour", "warn", message, about=(("colour", colour),)))
    return None


def _no_such_ink(number: int, colour: str, shelf: Shelf) -> Finding:
    there = ", ".join(f"{each.number} ({each.name})" for each in shelf.inks) or "none"
    message = (
        f"{colour} is to be printed with ink {number} of the shelf, but there is none of that number, or it "
    )
    message += f"is retired; a recipe was found instead. On the shelf: {there}."
    return Finding("unknown-shelf-ink", "warn", message, about=(("colour", colour),))

"""The inks of a print: recipes, inks of the shelf, and what is pointed out about them."""

from dataclasses import replace

import pytest
import shapely

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.colour.films import film_thickness
from blockwright.colour.mixtures import recipe_reflectance
from blockwright.colour.optics import MIXTURE_DELTA_E00
from blockwright.colour.pigments import starter_pigments
from blockwright.inks import ink_print
from blockwright.inks.choosing import MISSED_DELTA_E00
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.inks import MixedInk, Optics, Part, PrintInks, Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.separation import separate

PAPER, OCHRE, RUST, INK = "#f6efdf", "#d9b26a", "#a4502f", "#221e19"
NAMES = {OCHRE: "ochre", RUST: "rust", INK: "ink"}
SHELF = Shelf(starter_pigments())
WEAK = ("Indian red", "French ultramarine", "Hansa yellow")
"""Pigments that need more than one pass for a dark colour where much paste is mixed in."""


def print_of(*hexes: str, paper: str = PAPER, trap_mm: float = 0.0) -> tuple[Design, Separation]:
    palette = tuple(PaletteColour(NAMES.get(h, "colour"), h, hex_to_lab(h)) for h in hexes)
    shapes = tuple(
        Shape(i, shapely.box(100 * i, 0, 100 * (i + 1), 100), (100 * i + 50.0, 50.0))
        for i in range(len(hexes))
    )
    width = 100.0 * len(hexes)
    design = Design("test", width, 100.0, 10.0, paper, palette, shapes, True, 0.0, 0.0, 0.0, 0.0)
    return design, separate(design, SeparationTable(trap_mm=trap_mm))


DESIGN, SEPARATION = print_of(OCHRE, RUST, INK)


def inked(shelf: Shelf = SHELF, **settings: object) -> PrintInks:
    return ink_print(DESIGN, SEPARATION, shelf, InksTable.model_validate(settings))


def test_a_recipe_the_swatches_and_the_film_agree_where_pigments_carry_over_differently() -> None:
    """Each pigment has its own transfer factors; what the recipe predicts is what the ink then prints."""
    factors = ((0.6, 0.4), (1.0,), (0.8,))
    chosen = [each for each in SHELF.pigments if each.name in WEAK]
    shelf = Shelf(tuple(replace(each, transfer=own) for each, own in zip(chosen, factors, strict=True)))
    more = tuple(replace(each, passes=3) for each in SEPARATION.impressions)
    made = ink_print(DESIGN, replace(SEPARATION, impressions=more), shelf, InksTable()).inks
    assert any(ink.mixture for ink in made)
    for ink in made:
        assert ink.recipe is not None
        film = film_thickness(3, transfer=ink.transfer)
        seen = layer_reflectance(ink.optics.k, ink.optics.s, film, colour_reflectance(PAPER))
        assert delta_e00(reflectance_to_lab(seen), ink.recipe.predicted_lab) < 1e-3
        assert ink.delta_e00 == pytest.approx(ink.recipe.delta_e00, abs=1e-6)


def codes(inks: PrintInks) -> list[str]:
    return [each.code for each in inks.findings]


def small_print(**settings: object) -> PrintInks:
    """The same colours, on shapes of a centimetre or two: little ink of each."""
    tiny = tuple(replace(each, area=shapely.box(0, 0, 10, 10)) for each in SEPARATION.impressions)
    separation = replace(SEPARATION, impressions=tiny)
    told = {"sheets": 20, "glycerin_percent": 0.0, **settings}
    return ink_print(DESIGN, separation, SHELF, InksTable.model_validate(told))


def test_rounding_that_is_seen_is_pointed_out_with_what_would_do() -> None:
    inks = small_print(scale_g=0.5)
    (found,) = [each for each in inks.findings if each.code == "rounding-moves-colour"]
    moved = [ink for ink in inks.inks if ink.batch and ink.batch.rounding_delta_e00 > 0.5]
    assert moved
    for ink in moved:
        assert f"{ink.name} by {ink.batch.rounding_delta_e00:.1f}" in found.message  # type: ignore[union-attr]
    assert found.severity == "note"
    about = dict(found.about)
    assert set(about) == {"scale_g", "least_batch_g"}
    for key, value in about.items():
        assert "rounding-moves-colour" not in codes(small_print(**{"scale_g": 0.5, key: value}))
    assert "rounding-moves-colour" not in codes(inked())


def test_too_little_to_weigh_is_pointed_out_with_what_would_do() -> None:
    inks = small_print(scale_g=0.5)
    (found,) = [each for each in inks.findings if each.code == "batch-too-small"]
    small = [ink for ink in inks.inks if ink.batch and ink.batch.too_small]
    assert small
    for ink in small:
        assert f"{ink.batch.too_small[-1]} in {ink.name}" in found.message  # type: ignore[union-attr]
    for key, value in found.about:
        assert "batch-too-small" not in codes(small_print(**{"scale_g": 0.5, key: value}))
    assert found.about
    assert "batch-too-small" not in codes(inked(scale_g=0.01))


def kept(number: int = 12, *, pot_g: float | None = 500.0, spread: float = 0.0) -> MixedInk:
    """An ink of the shelf that is just what ochre wants."""
    wanted = SEPARATION.impressions[0].printed_ink
    directions = ((spread,) * 36,) if spread else ()
    optics = Optics(wanted.k, wanted.s, directions, directions)
    return MixedInk(number, "old ochre", (), 0.5, optics, "measured", pot_g=pot_g)


def test_every_impression_gets_a_recipe_in_its_order() -> None:
    inks = inked()
    assert [ink.impression for ink in inks.inks] == [each.number for each in SEPARATION.impressions]
    for ink, impression in zip(inks.inks, SEPARATION.impressions, strict=True):
        assert ink.recipe is not None
        assert (ink.origin, ink.mixture, ink.recipe.passes) == ("literature", True, impression.passes)
        assert ink.recipe.paste_share >= 0.2 - 1e-9
        assert 1 <= len(ink.recipe.parts) <= 3


def test_what_is_printed_is_what_the_recipe_says() -> None:
    for ink, impression in zip(inked().inks, SEPARATION.impressions, strict=True):
        assert ink.recipe is not None
        paper = colour_reflectance(PAPER)
        seen = recipe_reflectance(ink.recipe.parts, impression.passes, SHELF.pigments, paper)
        told = ink.swatches[0].lab[impression.passes - 1]
        assert float(delta_e00(told, reflectance_to_lab(seen))) < 1e-6
        assert float(delta_e00(told, ink.recipe.predicted_lab)) < 1e-3
        assert ink.delta_e00 == pytest.approx(float(delta_e00(told, impression.lab)))


def test_swatches_deepen_from_pass_to_pass_and_say_how_sure() -> None:
    for ink in inked().inks:
        (over_paper,) = ink.swatches
        lightness = [lab[0] for lab in over_paper.lab]
        assert lightness == sorted(lightness, reverse=True)
        assert len(over_paper.srgb_hex) == len(over_paper.uncertainty_delta_e00) == 4
        assert min(over_paper.uncertainty_delta_e00) > 3.0


def test_an_ink_is_shown_over_what_it_meets_in_the_trap() -> None:
    """Ochre runs under rust, and rust under the key: each is shown over the one before it."""
    design, separation = print_of(OCHRE, RUST, INK, trap_mm=0.5)
    first, *later = ink_print(design, separation, SHELF, InksTable()).inks
    assert [each.ground for each in first.swatches] == ["paper"]
    paper = colour_reflectance(PAPER)
    for ink, below in zip(later, [first, later[0]], strict=True):
        over_paper, over_ink = ink.swatches
        assert (over_paper.ground, over_ink.ground) == ("paper", below.name)
        printed = layer_reflectance(below.optics.k, below.optics.s, 1.0, paper)
        seen = layer_reflectance(ink.optics.k, ink.optics.s, 1.0, printed)
        assert float(delta_e00(over_ink.lab[0], reflectance_to_lab(seen))) < 1e-6


def test_what_is_unsure_of_the_ink_beneath_is_unsure_of_the_overprint() -> None:
    """A clear ink over an unsure one is as unsure as the one beneath; over a sure one it is sure."""
    design, separation = print_of(OCHRE, RUST, trap_mm=0.5)
    clear = MixedInk(13, "clear", (), 0.5, Optics((0.0,) * 36, (0.0,) * 36), "measured", pot_g=500.0)
    take = ({"colour": "ochre", "shelf": 12}, {"colour": "rust", "shelf": 13})
    told = []
    for spread in (0.0, 0.5):
        shelf = Shelf(SHELF.pigments, (kept(spread=spread), clear))
        settings = InksTable.model_validate({"take": take})
        lower, upper = ink_print(design, separation, shelf, settings).inks
        assert upper.swatches[1].uncertainty_delta_e00[0] == pytest.approx(lower.uncertainty_delta_e00)
        assert upper.swatches[0].uncertainty_delta_e00 == (0.0,) * 4
        told.append(upper.swatches[1].uncertainty_delta_e00[0])
    assert told[1] > 5.0 * told[0] > 0.0


def test_inks_taken_as_mixed_to_match_are_those_wanted() -> None:
    for shelf, settings in ((SHELF, {"mix": "to match"}), (Shelf(), {})):
        inks = inked(shelf, **settings)
        assert {ink.origin for ink in inks.inks} == {"matched"}
        assert max(ink.delta_e00 for ink in inks.inks) < 0.01
        assert codes(inks) == []


def test_a_colour_that_no_transparent_ink_has_is_told_when_it_is_mixed_to_match() -> None:
    design, separation = print_of(OCHRE, "#7fb2ff", paper="#d9cfb8")
    inks = ink_print(design, separation, SHELF, InksTable(mix="to match"))
    assert codes(inks) == ["colour-out-of-reach"]
    assert inks.findings[0].at == design.shapes[1].at
    assert inks.findings[0].about == (("colour", "colour"),)


def test_an_ink_of_the_shelf_is_offered_and_can_be_taken() -> None:
    shelf = Shelf(SHELF.pigments, (kept(),))
    offered = inked(shelf).inks[0]
    assert [(near.number, near.passes) for near in offered.near] == [(12, 1)]
    assert offered.near[0].delta_e00 < 0.01
    taken = inked(shelf, take=({"colour": "OCHRE", "shelf": 12},)).inks[0]
    assert (taken.shelf_number, taken.recipe, taken.name, taken.origin) == (12, None, "old ochre", "measured")
    assert taken.near == ()
    assert taken.batch is not None
    assert taken.batch.pot_g == 500.0
    assert taken.delta_e00 < 0.01


@pytest.mark.parametrize(
    ("pot_g", "code"), [(None, ["pot-not-weighed"]), (2.0, ["pot-too-small"]), (500.0, [])]
)
def test_a_pot_that_will_not_last_is_told(pot_g: float | None, code: list[str]) -> None:
    shelf = Shelf(SHELF.pigments, (kept(pot_g=pot_g),))
    inks = inked(shelf, take=({"colour": "ochre", "shelf": 12},), sheets=100)
    assert [each for each in codes(inks) if each.startswith("pot")] == code


def test_settings_that_name_nothing_are_told_and_do_nothing() -> None:
    inks = inked(
        take=({"colour": "ochre", "shelf": 99}, {"colour": "nobody", "shelf": 1}),
        mix_from=({"colour": "rust", "pigments": ("Indian red", "indigoo")},),
        pigments=("burnt umbre", "Indian red", "burnt umber"),
    )
    told = codes(inks)
    assert told.count("unknown-pigment") == 2
    assert {"unknown-shelf-ink", "inks-unknown-colour"} <= set(told)
    assert any("Is burnt umber meant?" in each.message for each in inks.findings)
    rust = next(ink for ink in inks.inks if ink.name == "rust")
    assert rust.recipe is not None
    assert [part.pigment for part in rust.recipe.parts] == ["Indian red"]


def test_a_colour_missed_is_told_with_the_passes_that_reach_it() -> None:
    inks = inked(pigments=WEAK, least_paste_percent=80)
    missed = [each for each in inks.findings if each.code == "recipe-misses"]
    assert missed
    assert all(each.at is not None for each in missed)
    dark = next(each for each in missed if dict(each.about)["colour"] == "ink")
    assert "passes a recipe" in dark.message
    passes = int(dict(dark.about)["passes"])
    more = tuple(
        replace(each, passes=passes) if each.name == "ink" else each for each in SEPARATION.impressions
    )
    settings = InksTable(pigments=WEAK, least_paste_percent=80.0)
    better = ink_print(DESIGN, replace(SEPARATION, impressions=more), SHELF, settings)
    before, after = (next(ink.delta_e00 for ink in each.inks if ink.name == "ink") for each in (inks, better))
    assert before > MISSED_DELTA_E00
    assert after < before - 1.0


def test_literature_is_said_to_be_unsure_and_measured_inks_are_not() -> None:
    assert codes(inked()).count("inks-unsure") == 1
    exact = tuple(
        replace(each, origin="measured", optics=Optics(each.optics.k, each.optics.s))
        for each in SHELF.pigments
    )
    assert "inks-unsure" not in codes(inked(Shelf(exact)))


def test_an_unsure_ink_is_not_called_one_of_the_literature_when_it_is_from_a_swatch() -> None:
    shelf = Shelf(SHELF.pigments, (kept(spread=0.8),))
    take = ({"colour": "ochre", "shelf": 12},)
    guessed, seen = inked(), inked(shelf, take=take, mix="to match")
    told = [
        next(each.message for each in inks.findings if each.code == "inks-unsure") for inks in (guessed, seen)
    ]
    assert "literature" in told[0]
    assert told[1].startswith("1 of 3 inks may well come out ")
    assert "literature" not in told[1]
    assert "calibration sheet" in told[1]


def test_an_ink_of_the_shelf_that_misses_its_colour_is_told() -> None:
    take = ({"colour": "rust", "shelf": 12},)
    finding = next(each for each in inked(Shelf(SHELF.pigments, (kept(),)), take=take).findings)
    assert (finding.code, finding.severity, finding.about[0]) == ("recipe-misses", "warn", ("colour", "rust"))
    assert "(#a4502f) is missed by " in finding.message
    assert "by old ochre, ink 12 of the shelf" in finding.message
    impression = SEPARATION.impressions[1]
    paper, own = colour_reflectance(PAPER), kept().optics
    apart = [
        float(delta_e00(reflectance_to_lab(layer_reflectance(own.k, own.s, n, paper)), impression.lab))
        for n in (1, 2, 3, 4)
    ]
    assert f"by {apart[impression.passes - 1]:.1f} (CIEDE2000)" in finding.message
    best = apart.index(min(apart)) + 1
    assert best != impression.passes
    assert f"In {best} passes it comes within {min(apart):.1f}." in finding.message
    assert finding.about[1] == ("passes", best)
    right = inked(Shelf(SHELF.pigments, (kept(),)), take=({"colour": "ochre", "shelf": 12},))
    assert not [each for each in right.findings if each.about[:1] == (("colour", "ochre"),)]


def test_only_an_ink_that_is_reckoned_from_pigments_has_the_error_of_a_mixture() -> None:
    take = ({"colour": "ochre", "shelf": 12},)
    two = (Part("Indian red", 0.3), Part("Hansa yellow", 0.2))
    lost, reckoned = kept(), replace(kept(), parts=two, transfer=(0.5,))
    own = replace(reckoned, known_by="own swatch")
    first = [inked(Shelf(SHELF.pigments, (ink,)), take=take).inks[0] for ink in (lost, reckoned, own)]
    assert [ink.mixture for ink in first] == [False, True, False]
    assert [ink.known_by for ink in first] == [None, "recipe", "own swatch"]
    assert [ink.transfer for ink in first] == [(1.0,), (0.5,), (0.5,)]
    unsure = [ink.uncertainty_delta_e00 for ink in first]
    assert unsure[1] > 3.0 > unsure[2]
    assert unsure[1] ** 2 == pytest.approx(unsure[2] ** 2 + MIXTURE_DELTA_E00**2)
    assert [ink.known_by for ink in inked().inks] == ["recipe"] * 3
    assert [ink.known_by for ink in inked(mix="to match").inks] == [None] * 3


def test_a_pigment_that_fades_is_told_once_with_its_colours() -> None:
    fading = tuple(
        replace(each, lightfastness="Blue Wool 3") if each.name == "Indian red" else each
        for each in SHELF.pigments
    )
    inks = inked(Shelf(fading), pigments=("Indian red",))
    (finding,) = [each for each in inks.findings if each.code == "fugitive-pigment"]
    assert finding.message.startswith("Indian red (Blue Wool 3) fades")
    assert "ochre" in finding.message
    assert "rust" in finding.message


def test_cautions_are_those_of_the_pigments_that_are_used() -> None:
    hazardous = {each.name: each.hazard for each in SHELF.pigments if each.hazard}
    for ink in inked().inks:
        assert ink.recipe is not None
        used = [part.pigment for part in ink.recipe.parts if part.pigment in hazardous]
        assert [caution.split(":")[0] for caution in ink.cautions] == used


def test_a_batch_with_its_glycerin_and_stocks_is_the_recipe_by_volume() -> None:
    """Reckoned anew from what stands on the card: 12 bowls of it, so that rounding is small."""
    density = {each.name: each.density_g_per_ml for each in SHELF.pigments} | {"glycerin": 1.26}
    for ink in inked(sheets=700, scale_g=0.01).inks:
        assert ink.batch is not None
        assert ink.recipe is not None
        pure = {each.name: each.mass_g / each.thinned for each in ink.batch.measures}
        pure["rice paste"] += sum(each.mass_g - each.mass_g / each.thinned for each in ink.batch.measures)
        volumes = {name: mass / density.get(name, 1.0) for name, mass in pure.items()}
        film = sum(volumes.values())
        for part in ink.recipe.parts:
            assert volumes[part.pigment] / film == pytest.approx(part.share, rel=0.02)
        assert ink.batch.needed_ml == pytest.approx(film)


def test_a_batch_weighs_what_the_edition_takes() -> None:
    """12 g for a square metre and pass [from memory]: 100 sheets of 1 dm2 take 12 g, and a fifth more."""
    for ink in inked(sheets=100).inks:
        assert ink.batch is not None
        assert ink.batch.needed_g == pytest.approx(12.0 * 1.2, abs=0.3)
        names = [measure.name for measure in ink.batch.measures]
        assert names[-2:] == ["rice paste", "glycerin"]
        assert ink.batch.measures[-1].mass_g == pytest.approx(0.03 * 12.0 * 1.2, abs=0.05)
        steps = [measure.mass_g / 0.1 for measure in ink.batch.measures]
        assert steps == pytest.approx([round(step) for step in steps], abs=1e-6)
        assert ink.batch.rounding_delta_e00 < 1.5


def test_little_ink_is_mixed_as_a_small_bowl() -> None:
    for ink in inked(sheets=1, least_batch_g=8.0).inks:
        assert ink.batch is not None
        assert ink.batch.needed_g == pytest.approx(8.0, abs=0.15)

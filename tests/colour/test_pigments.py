"""The pigments that come with the program, against what was published of them."""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from blockwright.colour import delta_e00, layer_reflectance, linear_to_lab
from blockwright.colour.inks import to_arrays
from blockwright.colour.pigments import (
    LITERATURE_SPREAD,
    Watercolour,
    measured_paints,
    shipped_pigments,
    starter_pigments,
    watercolour_optics,
    watercolours,
)
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.surface import body_reflectance, seen_reflectance

ROOT = Path(__file__).resolve().parents[2]


def test_every_measured_paint_is_there() -> None:
    paints = measured_paints()
    assert len({paint.code for paint in paints}) == 84
    for paint in paints:
        # Two of the published mixtures miss 100 percent by rounding.
        assert sum(percent for _, percent in paint.parts) == pytest.approx(100.0, abs=0.5)
        assert paint.held_nm == (380.0, 390.0, 710.0, 720.0, 730.0)
        assert float(np.median(paint.white)) > 0.8
        assert 0.03 < float(np.median(paint.black)) < 0.07


def test_a_value_of_the_published_table() -> None:
    # Geldof et al. 2018, sample 01A at 400 and at 600 nm, percent.
    paint = measured_paints()[0]
    assert [pigment.name for pigment, _ in paint.parts] == ["eosin 1 with wax"]
    assert paint.over_white[2] == pytest.approx(0.0673)
    assert paint.over_white[22] == pytest.approx(0.7598)
    assert paint.over_black[2] == pytest.approx(0.0444)
    assert paint.over_white[0] == paint.over_white[2]
    with pytest.raises(ValueError, match="read-only"):
        paint.over_white[0] = 0.5


def test_names_are_those_of_the_colour_index() -> None:
    pigments = {pigment for paint in measured_paints() for pigment, _ in paint.parts}
    pigments |= {watercolour.pigment for watercolour in watercolours()}
    for pigment in pigments:
        assert pigment.colour_index is None or re.fullmatch(
            r"[PN][RYOGBVW](Br|k)?\d+|P(Br|Bk)\d+", pigment.colour_index
        )
    names = {pigment.name: pigment.colour_index for pigment in pigments}
    assert names["ultramarine blue"] == "PB29"
    assert names["Hooker's green"] is None


def test_the_watercolours_are_those_of_the_published_table() -> None:
    # Curtis et al., SIGGRAPH 1997, figure 5.
    assert len(watercolours()) == 12
    by_name = {watercolour.pigment.name: watercolour for watercolour in watercolours()}
    assert by_name["French ultramarine"].k == (0.86, 0.86, 0.06)
    assert by_name["cadmium yellow"].s == (0.97, 0.65, 0.007)
    rose = by_name["quinacridone rose"]
    np.testing.assert_allclose(
        layer_reflectance(rose.k, rose.s, 1.0, 1.0), [0.6461, 0.0536, 0.3242], atol=5e-5
    )


@pytest.mark.parametrize("watercolour", watercolours(), ids=lambda one: one.pigment.name)
def test_watercolours_in_36_bands_keep_their_colours(watercolour: Watercolour) -> None:
    inks = watercolour_optics(watercolour)
    for ground in (1.0, 0.0):
        three = linear_to_lab(layer_reflectance(watercolour.k, watercolour.s, 1.0, ground))
        many = reflectance_to_lab(layer_reflectance(inks.k[0], inks.s[0], 1.0, ground))
        assert float(delta_e00(three, many)) < 1.0
    assert float(inks.k_uncertainty().min()) > 0.1


@pytest.fixture(scope="module")
def vendor() -> ModuleType:
    """The script that makes the optics of the shipped pigments."""
    spec = importlib.util.spec_from_file_location("vendor_pigments", ROOT / "vendor" / "pigments.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_script_makes_the_optics_that_are_shipped(vendor: ModuleType) -> None:
    # All of them take seconds; these are one of each kind: by eye, alone, with mixtures, in mixtures only.
    names = ("quinacridone rose", "zinc white", "cobalt blue", "bone black")
    committed = vendor.OPTICS.read_text("utf-8").splitlines(keepends=True)
    chosen = committed[:1] + [line for line in committed if line.startswith(names)]
    assert len(chosen) == 1 + 2 * len(names)
    assert vendor.same(vendor.as_table(names), "".join(chosen))


def test_the_script_sees_a_number_that_was_changed(vendor: ModuleType) -> None:
    table = vendor.OPTICS.read_text("utf-8")
    changed = table.replace("quinacridone rose,K,", "quinacridone rose,K,9", 1)
    assert not vendor.same(table, changed)
    assert not vendor.same(table, table.replace("Indian red", "Indian blue"))


def test_every_source_pigment_is_shipped_but_mica() -> None:
    names = [pigment.name for pigment in shipped_pigments()]
    assert len(set(names)) == len(names)
    by_eye = {watercolour.pigment.name for watercolour in watercolours()}
    assert by_eye - set(names) == {"interference lilac"}
    for pigment in shipped_pigments():
        assert pigment.origin == "literature"
        assert ("Curtis" if pigment.name in by_eye else "Geldof") in pigment.source
        spread = to_arrays([pigment.name], [pigment.optics]).k_uncertainty()
        np.testing.assert_allclose(spread, LITERATURE_SPREAD)


@pytest.mark.parametrize("name", ["minium", "viridian", "emerald green", "cobalt blue"])
def test_an_oil_paint_as_drawn_down_has_the_measured_colour(name: str, vendor: ModuleType) -> None:
    # Geldof et al. 2018: the paint over white and over black, with the gloss of its film put back.
    (pigment,) = (each for each in shipped_pigments() if each.name == name)
    (paint,) = (each for each in measured_paints() if len(each.parts) == 1 and each.parts[0][0].name == name)
    k, s = np.array(pigment.optics.k), np.array(pigment.optics.s)
    for ground, seen in ((paint.white, paint.over_white), (paint.black, paint.over_black)):
        film = layer_reflectance(k, s, 1.0, body_reflectance(ground, vendor.OIL_FILM))
        predicted = reflectance_to_lab(seen_reflectance(film, vendor.OIL_FILM))
        assert float(delta_e00(predicted, reflectance_to_lab(seen))) < 4.0


def test_the_starter_set_is_a_shelf_without_poisons() -> None:
    starter = starter_pigments()
    assert 12 <= len(starter) <= 16
    names = {pigment.name for pigment in starter}
    assert {"bone black", "Indian red", "burnt umber"} <= names
    for pigment in starter:
        for poison in ("lead", "arsenic", "mercury", "chromate", "cadmium"):
            assert poison not in (pigment.hazard or "")


def test_poisonous_pigments_say_so_and_point_to_the_maker() -> None:
    by_name = {pigment.name: pigment for pigment in shipped_pigments()}
    for name, word in [
        ("lead white", "lead"),
        ("minium", "lead"),
        ("chrome yellow", "chromate"),
        ("cadmium red", "cadmium"),
        ("emerald green", "arsenic"),
        ("vermilion", "mercury"),
        ("cobalt blue", "cobalt"),
    ]:
        hazard = by_name[name].hazard or ""
        assert word in hazard
        assert "safety data sheet" in hazard


def test_lightfastness_is_a_class_or_not_known() -> None:
    for pigment in shipped_pigments():
        assert pigment.lightfastness is None or re.fullmatch(
            r"ASTM (I|II|III|IV|V)|Blue Wool [1-8]", pigment.lightfastness
        )

"""The pigments that come with the program, against what was published of them."""

import re

import numpy as np
import pytest

from blockwright.colour import delta_e00, layer_reflectance, linear_to_lab
from blockwright.colour.pigments import Watercolour, measured_paints, watercolour_optics, watercolours
from blockwright.colour.spectra import reflectance_to_lab


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

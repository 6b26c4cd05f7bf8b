"""Predicted colours and findings of small designs."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    lab_to_hex,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.colour.optics import FILM_VARIATION, MIXTURE_DELTA_E00
from blockwright.model.axis import Axis
from blockwright.model.design import Design, PaletteColour, Run, Shape
from blockwright.model.findings import Finding
from blockwright.model.proof import Proof
from blockwright.model.separation import EdgeTrap, Gradation, Impression, Ink, Separation
from blockwright.model.settings import ProofTable
from blockwright.proof import prove
from spectral_inks import as_wanted, ink

PAPER, OCHRE, RUST, INK = "#f6efdf", "#d9b26a", "#a4502f", "#221e19"


def striped(*hexes: str, widths_mm: tuple[float, ...]) -> Design:
    edges = np.concatenate([[0.0], np.cumsum(widths_mm)]).tolist()
    palette = tuple(PaletteColour(f"colour {i}", h, hex_to_lab(h)) for i, h in enumerate(hexes))
    shapes = tuple(
        Shape(i, shapely.box(a, 0, b, 20), ((a + b) / 2, 10.0)) for i, (a, b) in enumerate(pairwise(edges))
    )
    return Design("test", edges[-1], 20.0, 10.0, PAPER, palette, shapes, True, 0.0, 0.0, 0.0, 0.0)


def impression(
    design: Design, number: int, shapes: tuple[int, ...], ink: Ink, *, area: shapely.Polygon | None = None
) -> Impression:
    regions = [area] if area is not None else [design.shapes[i].region for i in shapes]
    colour = design.palette[design.shapes[shapes[0]].colour]
    return Impression(
        number,
        colour.name,
        "colour",
        ink,
        2,
        shapes,
        shapely.MultiPolygon(regions),
        0.5,
        colour.srgb_hex,
        colour.lab,
    )


def proved(design: Design, separation: Separation, settings: ProofTable | None = None) -> Proof:
    """The proof with every ink as wanted."""
    return prove(design, separation, as_wanted(separation), settings or CALM)


CALM, LOOSE = (ProofTable.model_validate({"drift_mm": mm}) for mm in (0.3, 1.0))
YELLOW = ink("yellow", (0.05, 0.1, 0.6), (0.03, 0.03, 0.03))
BLUE = ink("blue", (0.5, 0.2, 0.05), (0.02, 0.02, 0.05))


def test_stacks_are_layers_over_the_paper_in_printing_order() -> None:
    design = striped(PAPER, OCHRE, RUST, widths_mm=(10, 10, 10))
    separation = Separation(
        (impression(design, 1, (1, 2), YELLOW), impression(design, 2, (2,), BLUE)),
        (0,),
        ((1, 2, 20.0),),
        0,
        0,
    )
    proof = proved(design, separation)
    paper = colour_reflectance(PAPER)
    once = layer_reflectance(YELLOW.k, YELLOW.s, 2, paper)
    both = layer_reflectance(BLUE.k, BLUE.s, 2, once)
    for shape, expected in zip(proof.shapes, (paper, once, both), strict=True):
        np.testing.assert_allclose(shape.predicted_lab, reflectance_to_lab(expected), atol=1e-9)
        assert shape.delta_e00 == pytest.approx(float(delta_e00(shape.predicted_lab, shape.target_lab)))
        assert shape.area_mm2 == 200.0
    assert proof.shapes[0].uncertainty == 0.0
    assert 0.0 < proof.shapes[1].uncertainty < proof.shapes[2].uncertainty


def test_uncertainty_is_what_a_film_that_varies_does() -> None:
    design = striped(OCHRE, widths_mm=(10,))
    separation = Separation((impression(design, 1, (0,), YELLOW),), (), (), 0, 0)
    proof = proved(design, separation)
    paper = colour_reflectance(PAPER)
    parts = (1.0, 1.0 + FILM_VARIATION, 1.0 - FILM_VARIATION)
    labs = [reflectance_to_lab(layer_reflectance(YELLOW.k, YELLOW.s, 2 * part, paper)) for part in parts]
    moves = [float(delta_e00(labs[0], labs[i])) for i in (1, 2)]
    assert proof.shapes[0].uncertainty == pytest.approx(np.mean(moves), rel=0.05)


def test_what_is_not_known_of_an_ink_and_of_mixtures_is_added() -> None:
    design = striped(OCHRE, widths_mm=(10,))
    separation = Separation((impression(design, 1, (0,), YELLOW),), (), (), 0, 0)
    (sure,) = as_wanted(separation)
    spread = ((0.1,) * 36,)
    vague = replace(sure, optics=replace(sure.optics, log_k_spread=spread, log_s_spread=spread))
    off = [
        prove(design, separation, (each,), CALM).shapes[0].uncertainty
        for each in (sure, replace(sure, mixture=True), vague)
    ]
    assert off[1] == pytest.approx(np.hypot(off[0], MIXTURE_DELTA_E00))
    # A tenth of strength and three hundredths of film move the same way, independently.
    assert off[2] == pytest.approx(off[0] * np.hypot(0.1, FILM_VARIATION) / FILM_VARIATION, rel=0.1)


def test_colours_that_a_screen_lacks_are_told() -> None:
    design = striped(OCHRE, widths_mm=(10,))
    pure = ink("pure", (0.0, 6.0, 6.0), (0.0, 0.0, 0.0))
    separation = Separation((impression(design, 1, (0,), pure),), (), (), 0, 0)
    findings = {each.code: each for each in proved(design, separation).findings}
    assert findings["beyond-screen"].severity == "note"
    assert findings["beyond-screen"].at == design.shapes[0].at


def test_inks_of_other_impressions_are_refused() -> None:
    design = striped(OCHRE, widths_mm=(10,))
    separation = Separation((impression(design, 1, (0,), YELLOW),), (), (), 0, 0)
    with pytest.raises(ValueError, match="other impressions"):
        prove(design, separation, (), CALM)


def test_a_shape_that_is_listed_but_not_covered_is_not_printed_and_traps_do_not_count() -> None:
    design = striped(OCHRE, RUST, widths_mm=(10, 10))
    only_left = impression(design, 1, (0, 1), YELLOW, area=shapely.box(0, 0, 10, 20))
    trap = impression(design, 2, (0,), BLUE, area=shapely.box(0, 0, 20, 20))
    proof = proved(design, Separation((only_left, trap), (), (), 0, 0))
    np.testing.assert_allclose(proof.shapes[1].predicted_lab, hex_to_lab(PAPER), atol=1e-9)


def test_percentiles_are_by_area_and_the_worst_is_pointed_out_first() -> None:
    design = striped(PAPER, OCHRE, INK, widths_mm=(60, 36, 4))
    proof = proved(design, Separation((), (0, 1, 2), (), 0, 0))
    assert proof.median_delta_e00 == pytest.approx(0.0, abs=1e-6)
    assert proof.p95_delta_e00 == pytest.approx(proof.shapes[1].delta_e00)
    assert proof.median_uncertainty_delta_e00 == proof.shapes[0].uncertainty
    assert [f.code for f in proof.findings] == ["colour-far-off", "colour-far-off"]
    assert [f.at for f in proof.findings] == [design.shapes[2].at, design.shapes[1].at]
    assert all(f.severity == "warn" for f in proof.findings)


def test_what_the_separation_told_is_not_told_again() -> None:
    design = striped(PAPER, OCHRE, INK, widths_mm=(60, 36, 4))
    told = Finding("lighter-than-paper", "note", "It is left.", design.shapes[1].at)
    proof = proved(design, Separation((), (0, 1, 2), (), 0, 0, (told,)))
    assert [f.at for f in proof.findings] == [design.shapes[2].at]


def test_high_register_risk_names_a_better_trap() -> None:
    design = striped(OCHRE, RUST, widths_mm=(10, 10))
    inks = (impression(design, 1, (0,), YELLOW), impression(design, 2, (1,), BLUE))
    edge = EdgeTrap(1, 2, 1, 20.0, 0.5, 0.5, 0.0, 9.0, "seen", (10.0, 10.0))
    separation = Separation(inks, (), ((1, 2, 20.0),), 0, 0, edges=(edge,))
    calm = proved(design, separation)
    assert calm.register_risk_percent == pytest.approx(1.0, abs=0.1)
    assert "register-risk" not in [f.code for f in calm.findings]
    loose = proved(design, separation, LOOSE)
    assert loose.register_risk_percent > 20.0
    finding = next(f for f in loose.findings if f.code == "register-risk")
    assert finding.at == design.shapes[0].at
    assert "1.2 mm" in finding.message
    about = dict(finding.about)
    assert f"at least {about['trap_mm']:g} mm" in finding.message
    assert about["colour"] in {each.name for each in separation.impressions}


def test_a_gradation_is_compared_along_its_run() -> None:
    design = striped(PAPER, OCHRE, widths_mm=(10, 40))
    axis = Axis((10.0, 10.0), (50.0, 10.0))
    ends = np.array([hex_to_lab(OCHRE), hex_to_lab(PAPER)])
    lab = tuple((float(a), float(b), float(c)) for a, b, c in np.linspace(ends[0], ends[1], 9))
    run = Run(axis, lab, tuple(lab_to_hex(each) for each in lab))
    design = replace(design, shapes=(design.shapes[0], replace(design.shapes[1], run=run)))
    flat = replace(impression(design, 1, (1,), YELLOW), passes=1)
    graded = replace(flat, gradation=Gradation("atenashi", axis, (1.0, 0.5, 0.0)))
    ends_proof, even_proof = (
        proved(design, Separation((each,), (0,), (), 0, 0)).shapes[1] for each in (graded, flat)
    )
    # Worked out at the ends and the middle by hand: the film's share there, over the paper.
    share = np.linspace(1.0, 0.0, 401)
    seen = layer_reflectance(YELLOW.k, YELLOW.s, share[:, None], colour_reflectance(PAPER))
    wanted = np.stack(
        [np.interp(1.0 - share, np.linspace(0, 1, 9), band) for band in np.array(lab).T], axis=1
    )
    off = delta_e00(reflectance_to_lab(seen), wanted)
    assert ends_proof.delta_e00 == pytest.approx(off.mean(), abs=0.1)
    assert ends_proof.worst_delta_e00 == pytest.approx(off.max(), abs=0.3)
    assert ends_proof.predicted_lab == pytest.approx(tuple(reflectance_to_lab(seen).mean(axis=0)), abs=0.2)
    assert even_proof.worst_delta_e00 > ends_proof.worst_delta_e00 + 3.0
    assert 0.0 < ends_proof.uncertainty <= even_proof.uncertainty

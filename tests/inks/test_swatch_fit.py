"""From patches to inks: synthetic inks are found again with their transfer; what is missing is said."""

import numpy as np
import pytest
from bench.inks import synthetic_inks
from bench.sheets import STRONG_SEEDS, ink_errors
from numpy.typing import NDArray

from blockwright.colour import delta_e00
from blockwright.colour.films import film_thickness
from blockwright.colour.inks import to_arrays
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.spectra import reflectance_to_lab, reflectance_to_linear
from blockwright.inks.sheet import lay_out_sheet, plan_sheet
from blockwright.inks.swatch_fit import FoundInks, find_inks, spectrum_of_colour
from blockwright.model.errors import InkError
from blockwright.model.swatches import SwatchPage

Spectra = dict[str, NDArray[np.float64]]

NAMES = ["rose", "blue", "sienna"]
A4 = (210.0, 297.0)
(PAGE,) = lay_out_sheet(plan_sheet(NAMES, [[("rose", 0.5), ("blue", 0.5)]], size_mm=A4))
K, S = (each[[0, 1, 3]] for each in synthetic_inks(4, seed=9))
WHITE, BLACK = np.linspace(0.70, 0.82, 36), np.full(36, 0.03)
TRANSFER = (0.85, 0.7)


def spectra(
    pages: tuple[SwatchPage, ...] = (PAGE,), *, noise: float = 0.002, film: float = 0.02, seed: int = 3
) -> Spectra:
    """What an instrument would measure of the pages, printed with inks that are known."""
    rng = np.random.default_rng(seed)
    found = {}
    for page in pages:
        for patch in page.patches:
            seen = WHITE if patch.ground == "paper" else BLACK
            if patch.row is not None:
                parts = dict(page.plan.rows[patch.row].parts)
                amounts = np.array([parts.get(name, 0.0) for name in NAMES])
                thick = film_thickness(patch.passes, transfer=TRANSFER) * np.exp(rng.normal(0.0, film))
                seen = layer_reflectance(amounts @ K, amounts @ S, thick, seen)
            found[patch.code] = np.clip(seen + rng.normal(0.0, noise, 36), 0.0, 1.0)
    return found


def errors(found: FoundInks) -> list[float]:
    """How far each ink's swatches of one to three passes are from the truth."""
    apart = []
    for ink in found.inks:
        k, s = (each[NAMES.index(ink.name)] for each in (K, S))
        for swatch in ink.swatches[:3]:
            true = layer_reflectance(k, s, film_thickness(swatch.passes, transfer=TRANSFER), WHITE)
            apart.append(float(delta_e00(reflectance_to_lab(true), swatch.lab)))
    return apart


@pytest.fixture(scope="module")
def measured() -> FoundInks:
    return find_inks([PAGE], spectra(), origin="measured")


def test_measured_inks_are_found_again(measured: FoundInks) -> None:
    assert [ink.name for ink in measured.inks] == NAMES
    assert max(errors(measured)) < 1.2
    assert np.median(errors(measured)) < 0.5
    assert measured.notes == ()
    for ink in measured.inks:
        assert ink.origin == "measured"
        assert ink.over_black
        assert ink.residual_delta_e00 < 2.5
        assert 0.0 < ink.uncertainty_delta_e00 < 1.5
        assert ink.transfer == pytest.approx(TRANSFER, abs=0.15)
    # Rose and blue are in their own rows and in the mixture, sienna in none.
    assert [ink.patches for ink in measured.inks] == [12, 12, 6]


def test_mixtures_are_explained(measured: FoundInks) -> None:
    assert [mixture.parts for mixture in measured.mixtures] == [row.parts for row in PAGE.plan.rows[3:]]
    assert all(mixture.patches == 6 and mixture.residual_delta_e00 < 2.5 for mixture in measured.mixtures)


def test_what_is_kept_computes_the_same(measured: FoundInks) -> None:
    """Optics as they are stored, with their uncertainty in fewer directions, go back to arrays."""
    inks = to_arrays(NAMES, [ink.optics for ink in measured.inks])
    assert inks.k.shape == (3, 36)
    assert len(inks.log_k_spread) <= 3 * 72
    seen = reflectance_to_lab(layer_reflectance(inks.k, inks.s, 1.0, WHITE))
    for ink, lab in zip(measured.inks, seen, strict=True):
        assert float(delta_e00(lab, ink.swatches[0].lab)) < 0.2


def test_scanned_inks_are_found_more_roughly_and_say_so() -> None:
    """Only the colour of each patch is known; its spectrum is the calmest one."""
    colours = {
        code: spectrum_of_colour(reflectance_to_linear(each).tolist()) for code, each in spectra().items()
    }
    found = find_inks([PAGE], colours, origin="scanned")
    assert np.median(errors(found)) < 1.0
    assert max(errors(found)) < 4.0
    assert all(ink.origin == "scanned" for ink in found.inks)


def test_a_colour_that_a_scan_cuts_off_is_told_as_unsure_as_it_is() -> None:
    """Inks stronger than sRGB holds: two of three predictions lie within what is told."""
    found = [ink_errors("scanned", seed=seed) for seed in STRONG_SEEDS]
    off = np.concatenate([each.delta_e00[~each.in_srgb] for each in found])
    told = np.concatenate([each.told[~each.in_srgb] for each in found])
    assert len(off) >= 12
    assert np.mean(off <= told) >= 0.6
    assert np.median(told) > 4.0
    held = np.concatenate([each.told[each.in_srgb] for each in found])
    assert np.median(held) < 1.5, "the others are told as surely as before"


def test_inks_over_several_pages_are_fitted_together() -> None:
    pages = lay_out_sheet(
        plan_sheet(
            [*NAMES, *(f"other {k}" for k in range(7))],
            [[(NAMES[0], 0.5), (NAMES[1], 0.5)]],
            size_mm=A4,
        )
    )
    assert len(pages) == 2
    some = {
        c: v
        for c, v in spectra(pages).items()
        if not c.startswith(tuple("456789")) and not c.startswith("10")
    }
    found = find_inks(pages, some, origin="measured")
    assert [ink.name for ink in found.inks] == NAMES
    assert found.inks[0].patches == 12
    assert found.notes == (
        "No patch tells of: other 0, other 1, other 2, other 3, other 4, other 5, other 6.",
    )


def test_without_black_scattering_is_a_guess() -> None:
    some = {code: each for code, each in spectra().items() if "k" not in code and code[0] != "4"}
    found = find_inks([PAGE], some, origin="measured")
    assert not any(ink.over_black for ink in found.inks)
    assert np.median(errors(found)) < 1.0


def test_patches_over_black_need_the_bare_black() -> None:
    some = {code: each for code, each in spectra().items() if code.startswith(("w", "3"))}
    found = find_inks([PAGE], some, origin="measured")
    assert found.notes[0] == "The bare black of page 1 is missing, so patches over black are left out."
    assert not any(ink.over_black for ink in found.inks)


def test_one_pass_only_has_no_transfer_factor() -> None:
    (page,) = lay_out_sheet(plan_sheet(NAMES[:1], size_mm=A4, passes=1))
    (ink,) = find_inks([page], spectra((page,)), origin="measured").inks
    assert ink.transfer == (1.0,)


def test_without_bare_paper_or_without_ink_nothing_is_found() -> None:
    whole = spectra()
    with pytest.raises(InkError, match=r"The bare paper of page 1 is missing; one of w1, w2, "):
        find_inks([PAGE], {c: v for c, v in whole.items() if not c.startswith("w")}, origin="measured")
    with pytest.raises(InkError, match="No patch of ink of the calibration sheet is there"):
        find_inks([PAGE], {c: v for c, v in whole.items() if c.startswith("w")}, origin="measured")


def test_patches_that_do_not_go_together_are_told_of() -> None:
    whole = spectra()
    mixed_up = {
        code: whole[code.replace("4", "3", 1)] if code[0] == "4" else each for code, each in whole.items()
    }
    notes = find_inks([PAGE], mixed_up, origin="measured").notes
    assert len(notes) == 1
    assert "The row rose + blue is not what its inks make together" in notes[0]
    swapped = {**whole, "3w1": whole["1w3"], "3k1": whole["1k3"]}
    notes = find_inks(
        [PAGE], {c: v for c, v in swapped.items() if c[0] not in "124"}, origin="measured"
    ).notes
    assert "The patches of sienna do not go together" in notes[0]


def test_a_colour_that_no_surface_has_is_made_greyer() -> None:
    for colour in ((0.9, 0.0, 0.0), (0.0, 0.0, 0.0), (1.4, 1.2, 1.1), (-0.1, 0.9, 0.0), (0.98, 0.98, 0.0)):
        spectrum = spectrum_of_colour(colour)
        assert spectrum.shape == (36,)
        assert spectrum.min() >= 0.0
        assert spectrum.max() <= 1.0

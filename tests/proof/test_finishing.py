"""Karazuri and leaf in the proof: hinted at in pictures, and in no figure."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from blockwright.colour import hex_to_lab
from blockwright.geometry.prepared import Window
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.finishes import Karazuri, LeafOn
from blockwright.model.separation import Separation
from blockwright.model.settings import ProofTable, SeparationTable
from blockwright.proof import impression_alone, progress_pictures, prove
from blockwright.proof.windows import index_design, index_print, paint_after, paint_alone, paint_under
from blockwright.separation import separate
from spectral_inks import as_wanted

PAPER, SAND, BLUE = "#f6efdf", "#d9b98a", "#5a7d99"
DPI = 254.0  # ten pixels to the mm


def design() -> Design:
    """Paper, sand, blue, paper: upright strips 5 mm wide."""
    palette = tuple(PaletteColour(f"colour {k}", h, hex_to_lab(h)) for k, h in enumerate((PAPER, SAND, BLUE)))
    shapes = tuple(
        Shape(colour, shapely.box(5 * k, 0, 5 * k + 5, 15), (5 * k + 2.5, 7.5))
        for k, colour in enumerate((0, 1, 2, 0))
    )
    return Design("test", 20.0, 15.0, 10.0, PAPER, palette, shapes, True, 0.0, 0.0, 0.0, 0.0)


def finished(**table: object) -> tuple[Design, Separation]:
    return design(), separate(design(), SeparationTable(**table))  # type: ignore[arg-type]


GILT = {"leaf": (LeafOn(colour="colour 2", metal="gold"),)}
PRESSED = {"karazuri": (Karazuri(at=(2.5, 7.5)), Karazuri(at=(7.5, 7.5), side="back"))}


def pictures(found: Design, separation: Separation) -> dict[int, np.ndarray]:
    return dict(progress_pictures(found, separation, as_wanted(separation), dpi=DPI))


def test_leaf_is_its_flat_colour_and_comes_last() -> None:
    found, separation = finished(**GILT)
    after = pictures(found, separation)
    assert sorted(after) == [0, 1, 2]
    assert after[2][75, 125].tolist() == [0xD3, 0xA9, 0x3C]
    assert (after[2][:, :100] == after[1][:, :100]).all()
    alone = impression_alone(found, separation.impressions[-1], dpi=DPI)
    assert alone[75, 125].tolist() == [0xD3, 0xA9, 0x3C]
    assert (alone[:, :100] == after[0][:, :100]).all()


def test_karazuri_shades_its_edges_as_by_a_light_from_the_upper_left() -> None:
    """Pressed from the front a shape is sunk: dark at its left edge. From the back it is raised."""
    found, separation = finished(karazuri=(Karazuri(colour="colour 1"),))
    before, sunk = (pictures(found, separation)[n].astype(int) for n in (2, 3))
    change = (sunk - before)[75, :, 1]
    assert change[51] < -3
    assert change[98] > 3 or sunk[75, 98, 1] == 255
    raised = pictures(*finished(karazuri=(Karazuri(colour="colour 1", side="back"),)))[3].astype(int)
    assert (raised - before)[75, 51, 1] > 3
    assert (raised - before)[75, 98, 1] < -3
    # Away from the edges nothing is shaded, and nowhere much.
    assert not change[20:30].any()
    assert not change[70:80].any()
    assert np.abs(sunk - before).max() <= 18


@pytest.mark.parametrize("table", [GILT, PRESSED, {**GILT, **PRESSED}])
def test_windows_show_what_the_whole_pictures_show(table: dict[str, object]) -> None:
    found, separation = finished(**table)
    index = index_print(index_design(found), separation)
    whole = pictures(found, separation)
    assert index.whole
    for number, picture in whole.items():
        for left, top in ((0, 0), (64, 32), (101, 70)):
            window = Window(left / 10.0, top / 10.0, 64, 64, 10.0)
            assert (paint_after(index, number, window) == picture[top : top + 64, left : left + 64]).all()
    for each in separation.impressions:
        alone = impression_alone(found, each, dpi=DPI)
        window = Window(3.0, 2.0, 64, 64, 10.0)
        assert (paint_alone(index, each.number, window) == alone[20:84, 30:94]).all()
        if each.ink is None:
            seen = paint_under(index, each.number, window)
            assert (seen == paint_after(index, each.number, window)).all()


def test_no_figure_counts_leaf() -> None:
    found, separation = finished(**GILT)
    proof = prove(found, separation, as_wanted(separation), ProofTable())
    gold = proof.shapes[2]
    assert gold.delta_e00 == 0.0
    assert gold.predicted_lab == gold.target_lab == hex_to_lab("#d3a93c")
    (note,) = [each for each in proof.findings if each.code == "leaf-outside-model"]
    assert note.severity == "note"
    # The sand's ink is spoilt: the median is that of sand and paper, which are counted.
    wrong = tuple(
        replace(each, optics=replace(each.optics, k=tuple(9 * k for k in each.optics.k)))
        for each in as_wanted(separation)
    )
    spoilt = prove(found, separation, wrong, ProofTable())
    assert spoilt.p95_delta_e00 == spoilt.shapes[1].delta_e00 > 10
    assert spoilt.median_delta_e00 == spoilt.shapes[0].delta_e00


def test_a_print_of_leaf_and_karazuri_alone_has_a_proof() -> None:
    found, separation = finished(
        leaf=(LeafOn(colour="colour 1", metal="gold"), LeafOn(colour="colour 2", metal="copper")),
        karazuri=(Karazuri(colour="colour 0"),),
    )
    assert separation.inked == ()
    assert [each.code for each in separation.findings] == []
    proof = prove(found, separation, (), ProofTable())
    assert proof.register_risk_percent == 0.0
    assert sorted(pictures(found, separation)) == [0, 1, 2, 3]

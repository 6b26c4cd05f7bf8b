"""Karazuri and leaf in the proof: hinted at in pictures, and in no figure."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from blockwright.colour import hex_to_lab
from blockwright.geometry.prepared import Window
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.finishes import Karazuri, LeafOn
from blockwright.model.separation import Separation
from blockwright.model.settings import ProofTable, SeparationTable
from blockwright.proof import impression_alone, progress_pictures, prove
from blockwright.proof.finishing import SHADE
from blockwright.proof.gilt import gild
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


def test_leaf_has_the_metals_colour_and_comes_last() -> None:
    found, separation = finished(**GILT)
    after = pictures(found, separation)
    assert sorted(after) == [0, 1, 2]
    metal = np.array([0xD3, 0xA9, 0x3C])
    for picture, beside in (
        (after[2], after[1]),
        (impression_alone(found, separation.impressions[-1], dpi=DPI, leaves=separation.leaves[2]), after[0]),
    ):
        gilt = picture[:, 101:149].reshape(-1, 3).astype(float)
        assert np.abs(gilt.mean(axis=0) - metal).max() < 40, "the sheen is of the metal"
        assert gilt.std() > 3, "it is not flat"
        assert (picture[:, :100] == beside[:, :100]).all()


def laid_over(leaves: tuple[shapely.Polygon, ...]) -> np.ndarray:
    """Gold on 60 x 40 mm at five pixels to the mm."""
    picture = np.zeros((200, 300, 3), dtype=np.uint8)
    share = np.ones((200, 300), dtype=np.float32)
    gild(picture, share, srgb_hex="#d3a93c", leaves=leaves, origin_mm=(0.0, 0.0), pixels_per_mm=5.0)
    mean: np.ndarray = picture.astype(float).mean(axis=2)
    return mean


def test_seams_and_laps_are_seen_where_one_leaf_lies_over_another() -> None:
    first, second = shapely.box(0, 0, 40, 40), shapely.box(36, 0, 76, 40)
    alone, both = laid_over((first,)), laid_over((first, second))
    assert (both[:, :175] == alone[:, :175]).all(), "the upper leaf does nothing beyond its edge"
    seam = both[5:-5, 179:182].min(axis=1)
    assert (seam < both[5:-5, 172:176].mean(axis=1) - 5).all(), "its edge is a dark line"
    lap, single = both[5:-5, 184:198], laid_over((shapely.box(0, 0, 4, 4), second))[5:-5, 184:198]
    assert (lap > single + 3).all(), "two leaves are lighter than one"


def test_turned_leaves_have_turned_seams(monkeypatch: pytest.MonkeyPatch) -> None:
    square = affinity.rotate(shapely.box(15, 5, 45, 35), 30.0)
    under = shapely.box(-20, -20, 100, 100)
    with_seams = laid_over((under, square))
    monkeypatch.setattr("blockwright.proof.gilt.SEAM", 0.0)
    darker = with_seams - laid_over((under, square))
    rows, columns = np.nonzero(darker < -12)
    assert len(rows) > 200
    for row, column in zip(rows.tolist(), columns.tolist(), strict=True):
        place = shapely.Point((column + 0.5) / 5.0, (row + 0.5) / 5.0)
        assert square.exterior.distance(place) < 0.4


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
    assert np.abs(sunk - before).max() <= SHADE


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
        leaves = separation.leaves.get(each.number, ())
        alone = impression_alone(found, each, dpi=DPI, leaves=leaves)
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

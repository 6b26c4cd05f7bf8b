"""The key: found by its lines, named, or none; what is lifted into it; a drawing with known line work."""

import cv2
import numpy as np
import pytest
import shapely
from drawn import PAPER, design_of, strips
from numpy.typing import NDArray

from blockwright.colour import hex_to_srgb
from blockwright.design.making import make_design
from blockwright.geometry.painting import paint_area
from blockwright.model.design import Design
from blockwright.model.settings import DesignTable, SeparationTable
from blockwright.separation import separate
from blockwright.separation.key_line import line_length_mm

OCHRE, SLATE, INK, NEAR_INK, BROWN = "#d9b26a", "#5a6b78", "#16120f", "#2a231d", "#4a2a18"


def decided(**decisions: object) -> SeparationTable:
    return SeparationTable.model_validate(decisions)


def kinds(design: Design, **decisions: object) -> dict[str, str]:
    return {i.srgb_hex: i.kind for i in separate(design, decided(**decisions)).impressions}


def lined() -> Design:
    """Two fields, a line of 1 mm between them, the field again, a line of ink that dries to near-ink."""
    upper, lower = shapely.box(40, 0, 41, 12), shapely.box(40, 12, 41, 20)
    regions = [*strips(20, 1, 19), upper, lower, shapely.box(41, 0, 60, 20)]
    return design_of(regions, [0, 1, 2, 1, 3, 0], [OCHRE, INK, SLATE, NEAR_INK])


def test_the_darkest_colour_is_the_key_when_it_is_line_work() -> None:
    assert kinds(lined())[INK] == "key"
    assert "key" not in kinds(design_of(strips(20, 20), [0, 1], [OCHRE, INK])).values()
    # Dots are as thin as lines, but no lines.
    dots = [shapely.Point(4 + 6 * k, 10).buffer(1.0) for k in range(5)]
    ground = shapely.box(0, 0, 40, 20).difference(shapely.union_all(dots))
    assert "key" not in kinds(design_of([ground, *dots], [0, 1, 1, 1, 1, 1], [OCHRE, INK])).values()


def test_solid_black_is_printed_from_the_key_too() -> None:
    regions = [*strips(20, 1, 20, 1, 20, 1, 20), shapely.box(83, 0, 89, 20)]
    separation = separate(design_of(regions, [0, 1, 0, 1, 0, 1, 0, 1], [OCHRE, INK]), decided())
    assert separation.key is not None
    key = separation.impressions[separation.key.impression - 1]
    assert key.kind == "key"
    assert key.area.area == pytest.approx(20 * (3 + 6))
    assert separation.key.line_mm == pytest.approx(60.0, abs=0.5)


def test_the_printmaker_names_the_key_or_says_there_is_none() -> None:
    assert kinds(lined(), key="none") == dict.fromkeys(kinds(lined(), key="none"), "colour")
    assert separate(lined(), decided(key="none")).key is None
    assert kinds(lined(), key="Colour 2")[SLATE] == "key"
    assert kinds(lined(), key=SLATE.upper())[SLATE] == "key"
    assert kinds(lined(), key_at=(30.0, 5.0))[SLATE] == "key"


@pytest.mark.parametrize(
    ("decisions", "code", "said"),
    [
        ({"key": "soot"}, "key-unknown-colour", "no colour called soot"),
        ({"key_at": (900.0, 5.0)}, "key-misses", "outside the picture"),
    ],
)
def test_a_key_that_means_nothing_is_pointed_out(decisions: dict[str, object], code: str, said: str) -> None:
    separation = separate(lined(), decided(**decisions))
    finding = next(f for f in separation.findings if f.code == code)
    assert said in finding.message
    assert separation.key is not None, "the key is looked for all the same"


def test_a_key_on_the_paper_is_pointed_out() -> None:
    design = design_of(strips(20, 20, 1), [1, 0, 2], [OCHRE, PAPER, INK])
    finding = next(f for f in separate(design, decided(key_at=(5.0, 5.0))).findings if f.code == "key-misses")
    assert "left as bare paper" in finding.message


def test_what_carries_a_line_on_is_lifted_into_it() -> None:
    separation = separate(lined(), decided())
    assert separation.key is not None
    assert separation.key.lifted_shapes == 1
    assert NEAR_INK not in [i.srgb_hex for i in separation.impressions]
    assert separation.impressions[-1].area.area == pytest.approx(20.0 + 20.0)
    # Its own colour is what it is measured against.
    assert separation.max_delta_e00 > 2.0
    apart = separate(lined(), decided(lift_within_delta_e00=0.0))
    assert NEAR_INK in [i.srgb_hex for i in apart.impressions]


def test_thin_shapes_of_a_colour_that_fills_areas_stay_with_it() -> None:
    upper, lower = shapely.box(20, 0, 21, 12), shapely.box(20, 12, 21, 20)
    regions = [
        shapely.box(0, 0, 20, 20),
        upper,
        lower,
        shapely.box(21, 0, 60, 20),
        shapely.box(60, 0, 90, 20),
    ]
    separation = separate(design_of(regions, [0, 1, 2, 0, 2], [OCHRE, INK, NEAR_INK]), decided())
    assert NEAR_INK in [i.srgb_hex for i in separation.impressions]


def test_a_shadow_along_a_line_is_not_lifted_but_a_fringe_is() -> None:
    def lifted(width_mm: float) -> int:
        regions = strips(20, 1, width_mm, 20)
        key = separate(design_of(regions, [0, 1, 2, 0], [OCHRE, INK, NEAR_INK]), decided()).key
        assert key is not None
        return key.lifted_shapes

    assert lifted(1.2) == 0
    assert lifted(0.2) == 1


def test_length_of_lines_against_a_circle() -> None:
    ring = (
        shapely.Point(0, 0)
        .buffer(20.5, quad_segs=64)
        .difference(shapely.Point(0, 0).buffer(19.5, quad_segs=64))
    )
    assert line_length_mm(np.array([ring]), 3.0) == pytest.approx(2 * np.pi * 20.0, rel=0.01)
    assert line_length_mm(np.array([shapely.box(0, 0, 30, 30)]), 3.0) == 0.0


PX_MM = 10.0


def drawing() -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """A drawing of 60 x 50 mm, antialiased, and its line work: ovals, a swelling stroke, a fork."""
    scale = 4
    height, width = int(50 * PX_MM), int(60 * PX_MM)
    line = np.zeros((height * scale, width * scale), np.uint8)
    fill = np.zeros_like(line)

    def at(x: float, y: float) -> tuple[int, int]:
        return round(x * PX_MM * scale), round(y * PX_MM * scale)

    def mm(length: float) -> int:
        return round(length * PX_MM * scale)

    cv2.ellipse(fill, at(20, 25), (mm(14), mm(18)), 20, 0, 360, 1, -1)
    cv2.ellipse(fill, at(42, 25), (mm(12), mm(9)), -30, 0, 360, 2, -1)
    cv2.ellipse(line, at(20, 25), (mm(14), mm(18)), 20, 0, 360, 255, mm(1.0))
    cv2.ellipse(line, at(42, 25), (mm(12), mm(9)), -30, 0, 360, 255, mm(0.6))
    for k in range(40):
        t = k / 39
        cv2.circle(line, at(6 + 48 * t, 45 - 6 * np.sin(3 * t)), mm(0.2 + 0.8 * np.sin(np.pi * t)), 255, -1)
    cv2.line(line, at(20, 12), at(15, 30), 255, mm(0.5))
    cv2.line(line, at(20, 12), at(26, 32), 255, mm(0.4))
    share = cv2.resize(line.astype(np.float32) / 255.0, (width, height), interpolation=cv2.INTER_AREA)[
        ..., None
    ]
    colours = np.array([hex_to_srgb(h) for h in (PAPER, "#d8453a", "#e8b04a")]) * 255.0
    ground = colours[fill[scale // 2 :: scale, scale // 2 :: scale]]
    shade = np.linspace(1.0, 0.75, height)[:, None, None]
    ground = np.where(fill[scale // 2 :: scale, scale // 2 :: scale, None] > 0, ground * shade, ground)
    picture = ground * (1.0 - share) + share * hex_to_srgb(INK) * 255.0
    return np.rint(picture).astype(np.uint8), share[..., 0] >= 0.5


def test_line_work_of_a_drawing_is_found() -> None:
    """Precision and recall of line area, the drawing's own line work being the truth."""
    picture, truth = drawing()
    design = make_design(picture, title="t", width_mm=60.0, paper_hex=PAPER, settings=DesignTable())
    separation = separate(design, decided())
    assert separation.key is not None
    key = separation.impressions[separation.key.impression - 1]
    height, width = truth.shape
    found = paint_area(key.area, pixels_per_mm=PX_MM, width_px=width, height_px=height) >= 0.5
    both = np.count_nonzero(found & truth)
    assert both / np.count_nonzero(found) > 0.97
    assert both / np.count_nonzero(truth) > 0.97

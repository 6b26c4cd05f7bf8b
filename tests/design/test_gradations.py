"""Gradations are found where there are any, where they are, and nowhere else."""

import cv2
import numpy as np
import pytest
import shapely
from bench import gradations
from paintings import dusk, flat_painting, no_flat_colours

from blockwright.design.making import finish_design, make_design
from blockwright.geometry.running import run_lab
from blockwright.model.design import Design
from blockwright.model.settings import DesignTable, GradationAt

PAPER = "#f6efdf"


@pytest.mark.parametrize("seed", [0, 1, 2, 5, 23])
def test_the_axis_and_the_ends_of_a_straight_run_are_found(seed: int) -> None:
    painted = gradations.straight(seed)
    (run,) = gradations.runs_of(gradations.traced(painted.pixels))
    turned_deg, off_percent = gradations.misses(painted, run.axis)
    assert turned_deg < 3.0
    assert off_percent < 3.0
    assert run.lab[0][0] < run.lab[-1][0]


# The ramp of 11 sets in so steeply that its first two millimetres are a band of their own; the calm paint
# beyond 51 is just as long as two pieces of the ramp.
@pytest.mark.parametrize("seed", [0, 1, 11, 51])
def test_a_run_away_from_a_curved_edge_is_found(seed: int) -> None:
    painted = gradations.along_edge(seed)
    (run,) = gradations.runs_of(gradations.traced(painted.pixels))
    assert len(run.axis.edge) > 2
    assert gradations.misses(painted, run.axis)[1] < 3.0


# A hill lies over the foot of 3, a bar over 4; 5 is whole, so that its rim is an edge, too.
@pytest.mark.parametrize("seed", [3, 4, 5])
def test_a_run_round_a_point_is_found(seed: int) -> None:
    painted = gradations.round_a_point(seed)
    (run,) = gradations.runs_of(gradations.traced(painted.pixels))
    assert run.axis.middle is not None
    assert painted.middle is not None
    assert np.hypot(*np.subtract(run.axis.middle, painted.middle)) < 0.5
    assert gradations.misses(painted, run.axis)[1] < 3.0
    for place, mm in ((run.axis.start, run.axis.near_mm), (run.axis.end, run.axis.far_mm)):
        assert np.hypot(*np.subtract(place, run.axis.middle)) == pytest.approx(mm, abs=0.01)


def test_a_dark_line_along_a_run_is_no_part_of_it() -> None:
    pixels = gradations.along_edge(0).pixels.copy()
    land = np.abs(pixels.astype(int) - gradations.GROUND).max(axis=2) < 14
    land = cv2.morphologyEx(land.astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    away_px = cv2.distanceTransform(1 - land, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    line = (away_px > 0.0) & (away_px < 6.0)
    noise = np.random.default_rng(0).normal(0.0, 1.5, (np.count_nonzero(line), 1))
    pixels[line] = np.rint(np.array([42.0, 55.0, 105.0]) + noise)
    tracing = gradations.traced(pixels)
    row, column = np.argwhere((away_px > 2.0) & (away_px < 4.0))[200]
    place = shapely.Point((column + 0.5) / 3.0, (row + 0.5) / 3.0)
    (on_line,) = (shape for shape in tracing.shapes if shape.region.contains(place))
    assert on_line.run is None
    assert len(gradations.runs_of(tracing)) == 1


def test_flat_pictures_have_no_gradation() -> None:
    pictures = [
        *gradations.flats(4),
        flat_painting(),
        flat_painting(noise=6.0),
        flat_painting(soft=2.5),
        no_flat_colours(),
    ]
    for picture in pictures:
        assert gradations.runs_of(gradations.traced(picture)) == []


def _dusk(**settings: object) -> Design:
    table = DesignTable.model_validate(settings, strict=False)
    return make_design(dusk(), title="", width_mm=120.0, paper_hex=PAPER, settings=table)


def test_a_banded_sky_is_one_shape_and_the_land_stays_flat() -> None:
    bands, design = _dusk(gradations=False), _dusk()
    graded = [shape for shape in design.shapes if shape.run is not None]
    assert len(bands.palette) - len(design.palette) >= 2
    assert len(graded) == 1
    assert design.coverage_valid
    assert design.gap_mm2 == design.overlap_mm2 == 0.0
    assert all(shape.run is None for shape in bands.shapes)
    assert design.median_delta_e00 < bands.median_delta_e00
    assert sum(s.region.area for s in design.shapes) == pytest.approx(design.width_mm * design.height_mm)


def test_the_colour_of_a_run_is_that_of_the_picture() -> None:
    (graded,) = (shape for shape in _dusk().shapes if shape.run is not None)
    assert graded.run is not None
    top, lower = run_lab(graded.run, np.array([[60.0, 1.0], [60.0, 40.0]]))
    # The sky runs from #2e3c6e to #f6c4a0 over the whole height of 80 mm; CIELAB by the sRGB standard.
    assert np.linalg.norm(top - (26.6, 10.6, -30.6)) < 2.0
    assert np.linalg.norm(lower - (54.8, 9.6, -1.0)) < 3.0


def test_islands_lie_over_one_run() -> None:
    picture = dusk(size=(600, 400))
    picture[:, 280:300] = (40, 30, 30)
    design = make_design(picture, title="", width_mm=150.0, paper_hex=PAPER, settings=DesignTable())
    graded = [shape for shape in design.shapes if shape.run is not None]
    assert len(graded) == 2
    assert graded[0].run == graded[1].run
    assert graded[0].colour == graded[1].colour


def test_a_hand_edit_makes_it_flat_or_turns_it() -> None:
    at = (60.0, 5.0)
    flat = _dusk(gradation=[{"at": at, "flat": True}])
    assert all(shape.run is None for shape in flat.shapes)
    assert len(flat.shapes) == len(_dusk().shapes)
    turned = _dusk(gradation=[{"at": at, "start": (0.0, 0.0), "end": (0.0, 30.0), "ramp": (0.0, 0.2, 1.0)}])
    (shape,) = (s for s in turned.shapes if s.run is not None)
    assert shape.run is not None
    assert shape.run.axis.end == (0.0, 30.0)
    assert len(shape.run.lab) == 3


def test_a_flat_shape_can_be_graded_by_hand() -> None:
    bottom = (60.0, 75.0)
    design = _dusk(gradation=[{"at": bottom, "start": (0.0, 80.0), "end": (0.0, 64.0)}])
    (shape,) = (s for s in design.shapes if s.region.contains(shapely.Point(bottom)))
    assert shape.run is not None
    assert shape.run.lab[-1][0] > 90.0
    assert not [f for f in design.findings if f.code.startswith("edit")]


def test_how_it_is_printed_goes_with_the_run() -> None:
    at = (60.0, 5.0)
    design = _dusk(gradation=[{"at": at, "printed": "futa-iro"}])
    (shape,) = (s for s in design.shapes if s.run is not None)
    (found,) = (s for s in _dusk().shapes if s.run is not None)
    assert shape.run is not None
    assert found.run is not None
    assert (shape.run.printed, shape.run.lab) == ("futa-iro", found.run.lab)
    turned = {"at": (60.0, 6.0), "start": (0.0, 0.0), "end": (0.0, 30.0)}
    (shape,) = (s for s in _dusk(gradation=[{"at": at, "printed": "futa-iro"}, turned]).shapes if s.run)
    assert shape.run is not None
    assert shape.run.printed == "futa-iro"
    back = _dusk(gradation=[{"at": at, "printed": "futa-iro"}, {"at": at, "printed": "as fits"}])
    assert [s.run for s in back.shapes] == [s.run for s in _dusk().shapes]


@pytest.mark.parametrize(
    ("edit", "code"),
    [
        ({"at": (500.0, 5.0), "flat": True}, "edit-misses"),
        ({"at": (60.0, 75.0), "flat": True}, "edit-does-nothing"),
        ({"at": (60.0, 75.0), "ramp": (0.0, 1.0)}, "edit-does-nothing"),
        ({"at": (60.0, 75.0), "printed": "one ink"}, "edit-does-nothing"),
    ],
)
def test_an_edit_that_cannot_be_done_is_told(edit: dict[str, object], code: str) -> None:
    findings = [f for f in _dusk(gradation=[edit]).findings if f.code.startswith("edit")]
    assert [f.code for f in findings] == [code]
    assert "gradation" in findings[0].message


@pytest.mark.parametrize(
    "bad",
    [
        {"at": (1.0, 1.0)},
        {"at": (1.0, 1.0), "flat": True, "ramp": (0.0, 1.0)},
        {"at": (1.0, 1.0), "start": (1.0, 1.0)},
        {"at": (1.0, 1.0), "start": (1.0, 1.0), "end": (1.0, 1.0)},
        {"at": (1.0, 1.0), "ramp": (0.0, 1.5)},
    ],
)
def test_contradictions_are_refused(bad: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"gradation|start|flat|ramp|less"):
        GradationAt.model_validate(bad, strict=False)


def test_recolouring_a_gradation_makes_it_flat() -> None:
    design = _dusk(recolour=[{"at": (60.0, 5.0), "to": "#8090a0"}])
    assert all(shape.run is None for shape in design.shapes)
    assert "#8090a0" in [colour.srgb_hex for colour in design.palette]


def test_finishing_a_tracing_needs_no_picture() -> None:
    tracing = gradations.traced(dusk())
    design = finish_design(tracing, title="", paper_hex=PAPER, settings=DesignTable())
    assert [s.run for s in design.shapes] == [s.run for s in tracing.shapes]
    assert len(tracing.found) > len(tracing.palette)

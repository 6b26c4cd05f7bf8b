"""The composition: what shows of each shape, the colours, the runs and the named places."""

import itertools
import warnings

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, box

from blockwright.demo import PaintedShape, Scene, colour_at, colour_names, tide_mill, visible_shapes
from blockwright.demo.palette import GOLD, HERON, NAMES, PAPER, SILVER
from blockwright.demo.scene import as_area, hex_of, rgb_of
from blockwright.model.errors import PictureError

with warnings.catch_warnings():
    # colour-science warns that its plotting, which is not wanted here, has no matplotlib
    warnings.simplefilter("ignore")
    import colour

LEAST_PIECE_MM2 = 1.0
D65 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]


@pytest.fixture(scope="module")
def scene() -> Scene:
    return tide_mill()


@pytest.fixture(scope="module")
def visible(scene: Scene) -> tuple[PaintedShape, ...]:
    return visible_shapes(scene)


def lab_of(rgb: np.ndarray) -> np.ndarray:
    """CIELAB of encoded sRGB by colour-science (IEC 61966-2-1)."""
    return np.asarray(colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.asarray(rgb) / 255.0), D65))


def delta_e00(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.asarray(colour.delta_E(one, other, method="CIE 2000"))


def flat_areas(visible: tuple[PaintedShape, ...]) -> dict[str, MultiPolygon]:
    by_colour: dict[str, list[MultiPolygon]] = {}
    for shape in visible:
        if shape.fade_to is None:
            by_colour.setdefault(shape.colour, []).append(shape.area)
    return {key: as_area(*areas) for key, areas in by_colour.items()}


def test_sheet_and_paper(scene: Scene) -> None:
    assert (scene.width_mm, scene.height_mm, scene.paper_hex) == (360.0, 240.0, "#f6efdf")
    bounds = shapely.total_bounds([shape.area for shape in scene.shapes])
    np.testing.assert_allclose(bounds, (0, 0, 360, 240))


def test_visible_shapes_tile_the_sheet(scene: Scene, visible: tuple[PaintedShape, ...]) -> None:
    areas = [shape.area for shape in visible]
    assert all(area.is_valid for area in areas)
    assert sum(area.area for area in areas) == pytest.approx(scene.width_mm * scene.height_mm, abs=1e-5)
    tree = shapely.STRtree(areas)
    one, other = tree.query(areas, predicate="intersects")
    pairs = one < other
    shared = shapely.intersection(np.array(areas)[one[pairs]], np.array(areas)[other[pairs]])
    assert shapely.area(shared).sum() < 1e-6


def test_no_piece_of_a_flat_colour_is_a_sliver(visible: tuple[PaintedShape, ...]) -> None:
    for key, area in flat_areas(visible).items():
        small = [piece for piece in area.geoms if piece.area < LEAST_PIECE_MM2]
        assert not small, (key, [piece.representative_point().wkt for piece in small])


def test_number_of_colours(visible: tuple[PaintedShape, ...]) -> None:
    flats = {shape.colour for shape in visible if shape.fade_to is None}
    assert flats == set(NAMES)
    assert 12 <= len(flats) <= 14
    assert [shape.name for shape in visible if shape.fade_to is not None] == ["dusk sky", "water"]


def test_leaf_silver_and_heron_have_their_own_shapes(visible: tuple[PaintedShape, ...]) -> None:
    names = {key: {s.name for s in visible if s.colour == key} for key in (GOLD, SILVER, HERON)}
    assert names == {GOLD: {"sun"}, SILVER: {"silver streak", "ripples"}, HERON: {"heron"}}
    assert flat_areas(visible)[PAPER].area > 1000


def test_flat_colours_differ_from_each_other() -> None:
    labs = {key: lab_of(np.array(rgb_of(key))) for key in NAMES}
    for one, other in itertools.combinations(NAMES, 2):
        assert delta_e00(labs[one], labs[other]) >= 8, (NAMES[one], NAMES[other])


def test_flat_colours_differ_from_the_runs_where_they_touch(visible: tuple[PaintedShape, ...]) -> None:
    flats = flat_areas(visible)
    touching = 0
    for run in (shape for shape in visible if shape.fade_to is not None):
        rim = run.area.buffer(0.01)
        for key, area in flats.items():
            shared = shapely.intersection(rim, area)
            if shared.area < 0.005:
                continue
            touching += 1
            heights = np.unique(np.round(shapely.get_coordinates(shared)[:, 1], 1))
            difference = delta_e00(lab_of(colour_at(run, heights)), lab_of(np.array(rgb_of(key))))
            assert difference.min() >= 8, (run.name, NAMES[key])
    assert touching > 8


def test_runs_go_one_way_and_reach_their_ends(visible: tuple[PaintedShape, ...]) -> None:
    for run in (shape for shape in visible if shape.fade_to is not None):
        _, top, _, bottom = run.area.bounds
        steps = np.diff(colour_at(run, np.linspace(top - 5, bottom + 5, 400)), axis=0)
        assert (np.all(steps >= 0, axis=0) | np.all(steps <= 0, axis=0)).all()
        assert run.fade_to is not None
        ends = colour_at(run, np.array([top, bottom]))
        assert [hex_of(end) for end in ends] == [run.colour, run.fade_to]


def test_a_run_that_is_cut_short_keeps_its_colours() -> None:
    run = PaintedShape("run", as_area(box(0, 0, 10, 10)), "#000000", "#c86432")
    cover = PaintedShape("cover", as_area(box(0, 0, 10, 4)), "#ffffff")
    seen = visible_shapes(Scene("test", 10.0, 10.0, "#ffffff", (run, cover)))[0]
    heights = np.linspace(4, 10, 7)
    assert seen.area.area == pytest.approx(60)
    np.testing.assert_allclose(colour_at(seen, heights), colour_at(run, heights), atol=0.5)


def test_hidden_shapes_go_and_bare_paper_stays() -> None:
    under = PaintedShape("under", as_area(box(1, 1, 2, 2)), "#102030")
    over = PaintedShape("over", as_area(box(0, 0, 5, 5)), "#405060")
    seen = visible_shapes(Scene("test", 10.0, 10.0, "#f6efdf", (under, over)))
    assert [(shape.name, shape.colour, shape.area.area) for shape in seen] == [
        ("bare paper", "#f6efdf", 75.0),
        ("over", "#405060", 25.0),
    ]


def test_named_places_lie_well_inside_their_colours(scene: Scene, visible: tuple[PaintedShape, ...]) -> None:
    places = colour_names(scene)
    flats = flat_areas(visible)
    colour_of = {name: key for key, name in NAMES.items()}
    assert sorted(name for _, name in places) == sorted(NAMES.values())
    for place, name in places:
        area = flats[colour_of[name]]
        assert area.contains(Point(place)), name
        assert area.boundary.distance(Point(place)) > 0.8, name


def test_unknown_colours_are_named_after_their_shape() -> None:
    shape = PaintedShape("blue door", as_area(box(0, 0, 10, 10)), "#123456")
    assert colour_names(Scene("test", 10.0, 10.0, "#ffffff", (shape,)))[0][1] == "blue door"


def test_a_colour_that_is_none_is_refused() -> None:
    with pytest.raises(PictureError, match="#rrggbb"):
        rgb_of("#12345g")
    with pytest.raises(PictureError, match="#rrggbb"):
        rgb_of("#1234")

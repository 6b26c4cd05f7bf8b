"""Shapes whose colour runs: which inks print them, how they are brushed out, and how near that comes."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from drawn import PAPER, design_of

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    lab_to_hex,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.geometry.running import film_share, run_lab
from blockwright.model.axis import Axis, Way
from blockwright.model.design import Design, Run
from blockwright.model.gradation_words import gradation_sentence
from blockwright.model.separation import Gradation, Separation
from blockwright.model.settings import SeparationTable
from blockwright.separation import separate
from blockwright.separation.gradations import bokashi_kind

DOWN = Axis((50.0, 0.0), (50.0, 60.0))


def _graded(first: str, last: str, axis: Axis = DOWN, *, nodes: int = 5) -> Design:
    """A sky that runs over flat land."""
    regions = [shapely.box(0, 0, 100, 60), shapely.box(0, 60, 100, 80)]
    ends = np.array([hex_to_lab(first), hex_to_lab(last)])
    steps = ends[0] + np.linspace(0.0, 1.0, nodes)[:, None] * (ends[1] - ends[0])
    lab = tuple((float(a), float(b), float(c)) for a, b, c in steps)
    run = Run(axis, lab, tuple(lab_to_hex(each) for each in lab))
    design = design_of(regions, [0, 1], ["#9090a0", "#503020"])
    sky, land = design.shapes
    return replace(design, shapes=(replace(sky, run=run), land))


def _separate(design: Design, **settings: object) -> Separation:
    return separate(design, SeparationTable.model_validate(settings, strict=False))


def _seen(separation: Separation, places: np.ndarray) -> np.ndarray:
    """What the print looks like at places of the sky."""
    seen = np.tile(colour_reflectance(PAPER), (len(places), 1))
    for each in separation.impressions:
        if 0 in each.shapes:
            share = np.ones(len(places)) if each.gradation is None else film_share(each.gradation, places)
            seen = layer_reflectance(
                each.printed_ink.k, each.printed_ink.s, each.passes * share[:, None], seen
            )
    return reflectance_to_lab(seen)


def test_a_run_to_the_paper_is_one_ink_that_thins_to_nothing() -> None:
    separation = _separate(_graded("#2f5f96", PAPER))
    (sky,) = (each for each in separation.impressions if 0 in each.shapes)
    assert sky.gradation is not None
    assert sky.gradation.kind == "fukisage"
    assert sky.gradation.ramp[0] == 1.0
    assert sky.gradation.ramp[-1] == pytest.approx(0.0, abs=0.02)
    assert all(np.diff(sky.gradation.ramp) <= 0.0)
    assert float(delta_e00(sky.lab, hex_to_lab("#2f5f96"))) < 0.5


@pytest.mark.parametrize(
    ("first", "last"), [("#324072", "#f9bd9e"), ("#2f5f96", PAPER), ("#b03030", "#3060a0")]
)
def test_the_print_follows_the_run_within_what_is_told(first: str, last: str) -> None:
    design = _graded(first, last)
    separation = _separate(design)
    places = np.stack([np.full(40, 50.0), np.linspace(0.5, 59.5, 40)], axis=1)
    run = design.shapes[0].run
    assert run is not None
    off = delta_e00(_seen(separation, places), run_lab(run, places))
    (told,) = {each.gradation.worst_delta_e00 for each in separation.impressions if each.gradation}
    assert off.max() <= told + 0.4
    assert separation.max_delta_e00 <= told + 0.4


def test_a_run_to_a_lighter_colour_is_bokashi_over_a_flat() -> None:
    separation = _separate(_graded("#324072", "#f9bd9e"))
    flat, bokashi = (each for each in separation.impressions if 0 in each.shapes)
    assert flat.gradation is None
    assert float(delta_e00(flat.lab, hex_to_lab("#f9bd9e"))) < 0.5
    assert bokashi.gradation is not None
    assert bokashi.gradation.kind == "fukisage"
    assert flat.number < bokashi.number
    assert flat.name.endswith(", flat")


def test_two_colours_that_do_not_hide_each_other_are_brushed_on_one_block() -> None:
    separation = _separate(_graded("#b03030", "#3060a0"))
    inks = [each for each in separation.impressions if 0 in each.shapes]
    assert [each.gradation.kind for each in inks if each.gradation] == ["futa-iro", "futa-iro"]
    one, other = (each.gradation for each in inks)
    assert one is not None
    assert other is not None
    assert one.axis == other.axis.turned()
    assert one.ramp[0] == other.ramp[0] == 1.0


def test_passes_and_order_may_name_either_impression() -> None:
    design = _graded("#324072", "#f9bd9e")
    separation = _separate(design, passes=[{"colour": "colour 0, bokashi", "times": 2}])
    times = {each.name: each.passes for each in separation.impressions}
    assert times == {"colour 0, flat": 1, "colour 0, bokashi": 2, "colour 1": 1}
    last = _separate(design, order=["colour 1", "colour 0, bokashi"])
    assert [each.name for each in last.impressions] == ["colour 1", "colour 0, flat", "colour 0, bokashi"]
    assert not [f for f in (*separation.findings, *last.findings) if "unknown" in f.code]


def test_a_pale_fade_is_printed_though_its_mean_is_the_paper_s() -> None:
    design = _graded("#e4d4c0", PAPER)
    separation = _separate(
        replace(design, palette=(replace(design.palette[0], srgb_hex=PAPER), design.palette[1]))
    )
    assert any(0 in each.shapes for each in separation.impressions)


def test_what_no_ink_follows_is_told() -> None:
    hollow = _graded("#703030", "#fff8a0", nodes=3)
    run = hollow.shapes[0].run
    assert run is not None
    bent = replace(run, lab=(run.lab[0], (90.0, -40.0, 0.0), run.lab[-1]))
    design = replace(hollow, shapes=(replace(hollow.shapes[0], run=bent), hollow.shapes[1]))
    assert "gradation-off" in [finding.code for finding in _separate(design).findings]
    assert "gradation-off" not in [finding.code for finding in _separate(hollow).findings]


@pytest.mark.parametrize(
    ("axis", "kind"),
    [
        (Axis((50, 0), (50, 60)), "fukisage"),
        (Axis((50, 78), (55, 20)), "fukiage"),
        (Axis((50, 0), (50, 12)), "ichimonji"),
        (Axis((50, 80), (50, 70)), "ichimonji"),
        (Axis((50, 30), (50, 40)), "fukisage"),
        (Axis((10, 10), (60, 50)), "atenashi"),
        (Axis((10, 0), (10, 60), ((0.0, 0.0), (9.0, 2.0)), 0.0, 60.0), "atenashi"),
    ],
)
def test_gradations_go_by_the_trade_s_names(axis: Axis, kind: str) -> None:
    assert bokashi_kind(axis, width_mm=100.0, height_mm=80.0) == kind


def test_the_sentence_says_where_it_is_full_and_where_it_is_gone() -> None:
    def told(axis: Axis, ramp: tuple[float, ...] = (1.0, 0.0)) -> str:
        return gradation_sentence(Gradation("atenashi", axis, ramp), width_mm=100.0, height_mm=80.0)

    assert told(Axis((0, 80), (0, 20)), (1.0, 1.0, 0.0)).endswith(
        "full up to 31 mm from the lower edge, gone 28 mm above"
    )
    assert "full at the left edge" in told(Axis((0, 0), (40, 0)))
    assert "thinned to 30 %" in told(Axis((0, 0), (0, 40)), (1.0, 0.3))
    assert "full along the edge, gone 39 mm off it" in told(
        Axis((0, 0), (0, 40), ((0, 0), (9, 0)), 0.0, 40.0)
    )
    assert "gone at the edge" in told(Axis((0, 40), (0, 0), ((0, 0), (9, 0)), 40.0, 0.0))


@pytest.mark.parametrize(
    ("way", "words", "kinds"),
    [
        ("one ink", [""], ["fukisage"]),
        ("over a flat", [", flat", ", bokashi"], [None, "fukisage"]),
        ("futa-iro", [", lighter ink", ", darker ink"], ["futa-iro", "futa-iro"]),
    ],
)
def test_the_printmakers_way_is_taken(way: Way, words: list[str], kinds: list[str | None]) -> None:
    design = _asked(_graded("#324072", "#f9bd9e"), way)
    films = [each for each in _separate(design).impressions if 0 in each.shapes]
    assert [each.name.removeprefix("colour 0") for each in films] == words
    assert [each.gradation and each.gradation.kind for each in films] == kinds


def _asked(design: Design, way: Way) -> Design:
    sky, land = design.shapes
    assert sky.run is not None
    return replace(design, shapes=(replace(sky, run=replace(sky.run, printed=way)), land))


@pytest.mark.parametrize(
    ("way", "said"), [("over a flat", "leaves no flat"), ("futa-iro", "leaves no second ink")]
)
def test_a_run_to_the_paper_leaves_nothing_for_a_second_ink(way: Way, said: str) -> None:
    separation = _separate(_asked(_graded("#2f5f96", PAPER), way))
    assert sum(0 in each.shapes for each in separation.impressions) == 1
    (finding,) = (f for f in separation.findings if f.code == "gradation-way")
    assert said in finding.message
    assert "gradation-way" not in [f.code for f in _separate(_graded("#2f5f96", PAPER)).findings]


def test_a_way_that_cannot_follow_is_named() -> None:
    separation = _separate(_asked(_graded("#b03030", "#3060a0"), "one ink"))
    (finding,) = (f for f in separation.findings if f.code == "gradation-off")
    assert "one ink, as asked for" in finding.message

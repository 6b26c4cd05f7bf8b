"""Every point of the curve of overprints tells the blocks and impressions of the whole print."""

from dataclasses import replace
from functools import cache

from bench.known_inks import known
from drawn import PAPER, design_of, strips

from blockwright.colour.pigments import starter_pigments
from blockwright.model.axis import Axis
from blockwright.model.design import Design, Run
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.separation import separate

SHELF = Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))
COLOURS, INKS = 5, 3


@cache
def whole() -> Design:
    """Colours that three inks print, each twice; then paper, a gradation, a line, and a place for leaf."""
    truth = known(1, inks=INKS, colours=COLOURS)
    hexes = [*truth.hexes, PAPER, "#d9b26a", "#0a0908", "#e8e0a0"]
    regions = strips(*[10.0 + k for k in range(2 * COLOURS + 1)], 30.0, 1.0, 40.0)
    colours = [*range(COLOURS), *range(COLOURS), *range(COLOURS, COLOURS + 4)]
    design = design_of(regions, colours, hexes)
    graded = 2 * COLOURS + 1
    ochre = design.palette[COLOURS + 1]
    left, _, right, _ = regions[graded].bounds
    run = Run(Axis((left, 10.0), (right, 10.0)), (ochre.lab, (90.0, 0.0, 10.0)), (ochre.srgb_hex, "#eee2cf"))
    shapes = [replace(s, run=run) if k == graded else s for k, s in enumerate(design.shapes)]
    return replace(design, shapes=tuple(shapes))


def separated(**decisions: object) -> Separation:
    shapes = whole().shapes
    settings = SeparationTable.model_validate(
        {
            "blocks": "fewest",
            "key": "colour 7",
            "split": [{"at": shapes[1].at, "name": "boat"}, {"at": shapes[7].at}],
            "karazuri": [{"at": shapes[0].at}, {"at": shapes[10].at, "side": "back"}],
            "leaf": [{"at": shapes[13].at, "metal": "gold"}],
            **decisions,
        },
        strict=False,
    )
    return separate(whole(), settings, inks=InksTable(), shelf=SHELF)


def test_each_point_has_as_many_blocks_as_the_print_that_is_made_of_it() -> None:
    found = separated().overprints
    assert found is not None
    assert len(found.curve) > 1
    for point in found.curve:
        separation = separated(block_count=point.blocks)
        made = separation.overprints
        assert made is not None
        assert made.blocks == point.blocks
        assert {each.kind for each in separation.impressions} == {"key", "colour", "karazuri", "leaf"}
        assert any(each.gradation is not None for each in separation.impressions)
        own = next(each for each in made.curve if each.blocks == point.blocks)
        assert (own.all_blocks, own.all_impressions) == (separation.blocks, len(separation.impressions))
        assert (point.all_blocks, point.all_impressions) == (own.all_blocks, own.all_impressions)
        # A gradation, the key, two splits and two karazuri at the least; leaf takes no block.
        assert own.all_blocks >= point.blocks + 6
        assert own.all_impressions >= point.impressions + 7


def test_flat_colours_alone_are_the_whole_print() -> None:
    truth = known(1, inks=INKS, colours=COLOURS)
    design = design_of(strips(*[10.0] * COLOURS), list(range(COLOURS)), truth.hexes)
    settings = SeparationTable(blocks="fewest", key="none")
    found = separate(design, settings, inks=InksTable(), shelf=SHELF).overprints
    assert found is not None
    for point in found.curve:
        assert (point.all_blocks, point.all_impressions) == (point.blocks, point.impressions)

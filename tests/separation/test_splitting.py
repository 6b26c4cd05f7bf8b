"""Shapes that are printed by an impression of their own: order, passes, traps, inks, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from bench.known_inks import known
from drawn import PAPER, design_of, strips

from blockwright.blocks import lay_out_blocks
from blockwright.colour import colour_reflectance, delta_e00, reflectance_to_lab, stack_reflectance
from blockwright.colour.pigments import starter_pigments
from blockwright.inks import ink_print
from blockwright.model.axis import Axis
from blockwright.model.design import Design, Run
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import BlocksTable, Group, InksTable, MixFrom, SeparationTable
from blockwright.separation import separate

OCHRE, BLUE, INK = "#d9b26a", "#5a6b78", "#221e19"
SHELF = Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))


def water() -> Design:
    """Ochre, blue, ochre, ink, blue, paper, blue: colours 0, 1 and 2 of the palette, and the paper 3."""
    colours = [0, 1, 0, 2, 1, 3, 1]
    return design_of(strips(10, 11, 12, 13, 14, 15, 16), colours, [OCHRE, BLUE, INK, PAPER])


def split(shape: int, name: str | None = None, design: Design | None = None) -> dict[str, object]:
    at = (design or water()).shapes[shape].at
    return {"at": at} if name is None else {"at": at, "name": name}


def decided(**decisions: object) -> SeparationTable:
    return SeparationTable.model_validate({"key": "none", **decisions}, strict=False)


def separated(*splits: dict[str, object], **decisions: object) -> Separation:
    return separate(water(), decided(split=splits, **decisions))


def shapes(separation: Separation) -> dict[str, tuple[int, ...]]:
    return {each.name: each.shapes for each in separation.impressions}


def codes(separation: Separation) -> list[str]:
    return [each.code for each in separation.findings]


def test_a_shape_is_split_off_directly_after_its_colour() -> None:
    separation = separated(split(4, "boat blue"))
    assert list(shapes(separation).items()) == [
        ("colour 0", (0, 2)),
        ("colour 1", (1, 6)),
        ("boat blue", (4,)),
        ("colour 2", (3,)),
    ]
    assert [each.number for each in separation.impressions] == [1, 2, 3, 4]
    whole, own = separation.impressions[1:3]
    assert (own.split_from, whole.split_from) == ("colour 1", None)
    assert (own.colours, own.kind, own.srgb_hex, own.lab) == (("colour 1",), "colour", BLUE, whole.lab)
    assert (own.printed_ink.k, own.printed_ink.s, own.passes, own.trap_mm) == (
        whole.printed_ink.k,
        whole.printed_ink.s,
        whole.passes,
        whole.trap_mm,
    )
    assert own.printed_ink.name == "boat blue"
    assert codes(separation) == []
    assert separation.blocks == 4


def test_colours_and_areas_stay_those_of_one_impression() -> None:
    one, two = separated(), separated(split(4), split(1, "the far water"))
    assert two.max_delta_e00 == pytest.approx(one.max_delta_e00, abs=1e-9)
    assert two.median_delta_e00 == pytest.approx(one.median_delta_e00, abs=1e-9)
    assert two.paper_shapes == one.paper_shapes
    whole = one.impressions[1].area
    parts = [each.area for each in two.impressions if each.colours == ("colour 1",)]
    assert len(parts) == 3
    assert shapely.symmetric_difference(shapely.union_all(parts), whole).area < 1e-6
    assert sum(each.area for each in parts) == pytest.approx(whole.area)
    assert sum(mm for _, _, mm in two.edges_mm) == pytest.approx(sum(mm for _, _, mm in one.edges_mm))


def test_entries_of_one_name_share_an_impression_and_names_are_made() -> None:
    both = separated(split(4, "boat blue"), split(6, " Boat Blue"))
    assert shapes(both)["boat blue"] == (4, 6)
    made = separated(split(4), split(6))
    assert shapes(made) == {
        "colour 0": (0, 2),
        "colour 1": (1,),
        "colour 1, second": (4,),
        "colour 1, third": (6,),
        "colour 2": (3,),
    }
    # A name that an entry gives is not made for another.
    kept = separated(split(4), split(6, "Colour 1, second"))
    assert shapes(kept)["colour 1, third"] == (4,)
    assert codes(kept) == []


def test_order_passes_and_trap_know_its_name() -> None:
    passes = ({"colour": "Boat blue", "times": 3}, {"colour": "colour 1", "times": 2})
    trap = ({"colour": "boat BLUE", "mm": 0.2},)
    separation = separated(
        split(4, "boat blue"), order=("colour 2", "boat blue"), passes=passes, trap=trap, traps="one for all"
    )
    assert list(shapes(separation)) == ["colour 2", "boat blue", "colour 0", "colour 1"]
    by_name = {each.name: each for each in separation.impressions}
    assert (by_name["boat blue"].passes, by_name["colour 1"].passes) == (3, 2)
    assert (by_name["boat blue"].trap_mm, by_name["colour 1"].trap_mm) == (0.2, 0.5)
    assert codes(separation) == []
    for name in ("boat blue", "colour 1"):
        each = by_name[name]
        layer = (each.printed_ink.k, each.printed_ink.s, float(each.passes))
        seen = reflectance_to_lab(stack_reflectance(colour_reflectance(PAPER), [layer]))
        assert delta_e00(seen, each.lab) < 0.5
    reasons = {each.reason for each in separation.edges if each.runs_under == by_name["boat blue"].number}
    assert reasons == {"colour"}


def test_it_goes_with_its_colour_where_it_is_not_named() -> None:
    passes, trap = ({"colour": "colour 1", "times": 2},), ({"colour": "colour 1", "mm": 0.9},)
    separation = separated(split(4), order=("colour 1",), passes=passes, trap=trap)
    assert list(shapes(separation))[:2] == ["colour 1", "colour 1, second"]
    assert {each.passes for each in separation.impressions[:2]} == {2}
    assert {each.trap_mm for each in separation.impressions[:2]} == {0.9}
    own = {each.reason for each in separation.edges if each.runs_under == 2}
    assert own == {"colour"}
    first = separated(split(4), order=("colour 1, second",))
    assert list(shapes(first)) == ["colour 1, second", "colour 0", "colour 1", "colour 2"]


def test_what_is_split_off_the_key_is_no_key() -> None:
    regions = strips(10, 1, 10, 1, 10)
    design = design_of(regions, [0, 1, 0, 1, 0], [OCHRE, INK])
    whole = separate(design, decided(key="colour 1"))
    entry = split(3, "far mast", design)
    separation = separate(design, decided(key="colour 1", split=(entry,)))
    assert [each.kind for each in separation.impressions] == ["colour", "key", "colour"]
    assert whole.key is not None
    assert separation.key is not None
    assert separation.key.line_mm == pytest.approx(whole.key.line_mm / 2)
    # The colour beneath closes up to the middle of both lines as before.
    assert shapely.equals(separation.impressions[0].area, whole.impressions[0].area)


def test_line_work_that_was_lifted_goes_with_its_line() -> None:
    ground = [shapely.box(x, 0, x + 10, 40) for x in (0, 11, 22)]
    lines = [shapely.box(10, 0, 11, 20), shapely.box(10, 20, 11, 40), shapely.box(21, 0, 22, 40)]
    design = design_of([*ground, *lines], [0, 0, 0, 1, 2, 1], [OCHRE, INK, "#352f28"])
    assert shapes(separate(design, decided(key="colour 1")))["colour 1"] == (3, 4, 5)
    for shape in (3, 4):
        entry = split(shape, "mast", design)
        separation = separate(design, decided(key="colour 1", split=(entry,)))
        assert shapes(separation) == {"colour 0": (0, 1, 2), "colour 1": (5,), "mast": (3, 4)}


def _runs(design: Design, colour: int) -> Design:
    palette = design.palette[colour]
    run = Run(Axis((0.0, 0.0), (0.0, 20.0)), (palette.lab, (90.0, 0.0, 10.0)), (palette.srgb_hex, "#eee2cf"))
    graded = tuple(replace(each, run=run) if each.colour == colour else each for each in design.shapes)
    return replace(design, shapes=graded)


@pytest.mark.parametrize(
    ("entry", "why"),
    [
        ({"at": (500.0, 5.0)}, "outside the picture, which is 91 x 20 mm"),
        (split(5), "that is bare paper"),
        (split(3), "that is the only shape of colour 2"),
        (split(0), "the colour there, colour 0, runs"),
    ],
)
def test_an_entry_that_means_nothing_is_told_and_left_out(entry: dict[str, object], why: str) -> None:
    design = _runs(water(), 0)
    separation = separate(design, decided(split=(entry,)))
    assert separation.impressions == separate(design, decided()).impressions
    (finding,) = [each for each in separation.findings if each.code == "split-misses"]
    assert why in finding.message
    assert finding.message.endswith("The line does nothing.")
    assert (finding.severity, finding.at, finding.about) == ("warn", entry["at"], (("edit", "split"),))


def test_a_gradation_beside_a_split_keeps_its_two_impressions() -> None:
    separation = separate(_runs(water(), 0), decided(split=(split(4),), order=("colour 1, second",)))
    assert next(iter(shapes(separation))) == "colour 1, second"
    assert {each.colours for each in separation.impressions if each.gradation} == {("colour 0",)}


def test_the_last_shape_of_a_colour_and_one_that_is_split_off_stay() -> None:
    separation = separated(split(1), split(4), split(4, "again"), split(6))
    assert shapes(separation)["colour 1"] == (6,)
    again, last = [each.message for each in separation.findings]
    assert "printed by colour 1, third already" in again
    assert "the last shape of colour 1" in last


@pytest.mark.parametrize("name", ["Colour 0", "colour 3", "#5A6B78"])
def test_a_name_of_the_design_is_not_given_again(name: str) -> None:
    separation = separated(split(4, name))
    assert codes(separation) == ["split-name-taken"]
    assert "a colour of the design already" in separation.findings[0].message
    assert len(separation.impressions) == 3


def test_the_names_of_a_gradation_s_impressions_are_not_given_again() -> None:
    separation = separate(_runs(water(), 0), decided(split=(split(4, "Colour 0, bokashi"),)))
    assert "split-name-taken" in codes(separation)


def test_shapes_of_two_colours_do_not_share_a_name() -> None:
    separation = separated(split(4, "boat"), split(0, "Boat"))
    assert codes(separation) == ["split-name-taken"]
    assert "split off colour 1 already" in separation.findings[0].message
    assert shapes(separation)["boat"] == (4,)


def test_inks_and_blocks_know_it_by_its_name() -> None:
    separation = separated(split(4, "boat blue"))
    first, second = SHELF.pigments[0].name, SHELF.pigments[-1].name

    def pigments(*mixes: tuple[str, str]) -> dict[str, set[str]]:
        chosen = tuple(MixFrom(colour=colour, pigments=(pigment,)) for colour, pigment in mixes)
        inks = ink_print(water(), separation, SHELF, InksTable(mix_from=chosen))
        assert "inks-unknown-colour" not in [each.code for each in inks.findings]
        return {
            impression.name: {part.pigment for part in ink.recipe.parts} if ink.recipe else set()
            for impression, ink in zip(separation.impressions, inks.inks, strict=True)
        }

    # Like the impression that it was split off, unless it has its own.
    alike = pigments(("colour 1", first))
    assert alike["boat blue"] == alike["colour 1"] == {first}
    apart = pigments(("colour 1", first), ("boat blue", second))
    assert (apart["boat blue"], apart["colour 1"]) == ({second}, {first})

    together = BlocksTable(together=(Group(inks=("boat blue", "colour 0")),))
    blocks = lay_out_blocks(separation, width_mm=91.0, height_mm=20.0, settings=together)
    assert not {"sharing-unknown-colour", "cannot-share"} & {each.code for each in blocks.findings}
    faces = [set(face.impressions) for board in blocks.boards for face in board.faces]
    assert sum({1, 3} <= face for face in faces) == 1


# --- with the fewest blocks --------------------------------------------------------------------------------

_COLOURS, _INKS = 7, 4


def overlaid() -> Design:
    """Strips of colours that four inks print, each colour twice."""
    truth = known(1, inks=_INKS, colours=_COLOURS)
    regions = strips(*[10.0 + k for k in range(2 * _COLOURS + 1)])
    return design_of(regions, [*range(_COLOURS), *range(_COLOURS), _COLOURS], [*truth.hexes, PAPER])


def fewest(**decisions: object) -> Separation:
    return separate(overlaid(), decided(blocks="fewest", **decisions), inks=InksTable(), shelf=SHELF)


def stack(separation: Separation, shape: int) -> list[str]:
    return [each.name for each in separation.impressions if shape in each.shapes]


def test_of_a_stack_the_topmost_impression_is_split() -> None:
    whole = fewest()
    assert whole.overprints is not None
    lies = whole.overprints.lies_over[0]
    colour = [each.name for each in overlaid().palette].index(lies.colour)
    separation = fewest(split=(split(colour, "by itself", overlaid()),))
    assert codes(separation) == codes(whole)
    assert len(separation.impressions) == len(whole.impressions) + 1
    assert stack(separation, colour) == [*lies.inks[:-1], "by itself"]
    assert stack(separation, colour + _COLOURS) == list(lies.inks)
    names = [each.name for each in separation.impressions]
    assert names.index("by itself") == names.index(lies.inks[-1]) + 1
    own = next(each for each in separation.impressions if each.name == "by itself")
    assert (own.split_from, own.colours, own.shapes) == (lies.inks[-1], (lies.colour,), (colour,))
    assert separation.max_delta_e00 == pytest.approx(whole.max_delta_e00, abs=1e-9)
    inks = ink_print(overlaid(), separation, SHELF, InksTable())
    recipes = {each.name: ink.recipe for each, ink in zip(separation.impressions, inks.inks, strict=True)}
    ours, theirs = recipes["by itself"], recipes[lies.inks[-1]]
    assert ours is not None
    assert theirs is not None
    assert ours.parts == theirs.parts
    # Every shape is printed whole, the paper not at all.
    for number, shape in enumerate(overlaid().shapes):
        for each in separation.impressions:
            if number in each.shapes:
                assert shape.region.difference(each.area).area < 1e-6
    union = shapely.union_all([each.area for each in separation.impressions])
    assert shapely.intersection(union, overlaid().shapes[-1].region).area < 1e-6


def test_with_the_fewest_blocks_it_has_passes_and_a_place_of_its_own() -> None:
    plain = fewest(split=(split(0, "by itself", overlaid()),))
    separation = fewest(
        split=(split(0, "by itself", overlaid()),),
        order=("by itself",),
        passes=({"colour": "by itself", "times": 3},),
    )
    assert codes(separation) == codes(plain)
    first = separation.impressions[0]
    assert (first.name, first.passes, first.set_ink) == ("by itself", 3, None)
    before = next(each for each in plain.impressions if each.name == "by itself")
    film = np.array(first.printed_ink.k) * 3
    assert np.allclose(film, np.array(before.printed_ink.k) * before.passes)


def test_a_made_up_name_of_an_impression_is_kept_free() -> None:
    names = {each.name for each in overlaid().palette}
    made_up = [each.name for each in fewest().impressions if each.name not in names]
    wanted = made_up[0] if made_up else "grey"
    separation = fewest(split=(split(0, wanted, overlaid()),))
    assert codes(separation) == codes(fewest())
    assert shapes(separation)[wanted] == (0,)
    assert len(shapes(separation)) == len(separation.impressions)

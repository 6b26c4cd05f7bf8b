"""Inks that the printmaker decides for a colour steer the search of overprints."""

from dataclasses import replace
from itertools import combinations, product
from typing import Any

import numpy as np
import pytest
import shapely
from bench.known_inks import PAPER as PAPER_SPECTRUM
from bench.known_inks import Known, asked_for, known, seen, some_inks
from drawn import PAPER, design_of, strips

from blockwright.colour import delta_e00
from blockwright.colour.pigments import starter_pigments
from blockwright.inks import ink_print
from blockwright.model.design import Design
from blockwright.model.findings import Finding
from blockwright.model.inks import MixedInk, Optics, Part, Shelf
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import InksTable, Overprint, SeparationTable
from blockwright.separation import Sketchbook, separate
from blockwright.separation.asked import Asked, Only
from blockwright.separation.coats import Coat, light_to_dark, shelf_coats
from blockwright.separation.fewest import choices, fewest
from blockwright.separation.order import by_lightness
from blockwright.separation.plan import Coloured
from blockwright.separation.question import ask
from blockwright.separation.stacks import every_stack

COLOURS, INKS = 5, 3
TRUTH: Known = known(3, inks=INKS, colours=COLOURS)
PIGMENTS = tuple(sorted(starter_pigments(), key=lambda each: each.name))


def _pot(number: int, coat: int, scale: float = 1.0) -> MixedInk:
    """A mixed ink on the shelf: one of those that printed the design, weaker or stronger."""
    own = TRUTH.coats[coat]
    parts = tuple(Part(f"unknown {k}", share) for k, share in zip(own.parts, own.shares, strict=True))
    optics = Optics(tuple((scale * own.k).tolist()), tuple((scale * own.s).tolist()))
    return MixedInk(number, f"pot {number}", parts, 0.5, optics, "measured")


def _alone() -> tuple[int, int]:
    """A colour of the design that a single one of its inks gives, and that ink."""
    return next((c, stack[0]) for c, stack in enumerate(TRUTH.stacks) if len(stack) == 1)


def _deep() -> int:
    """A colour that several of its inks give."""
    return next(c for c, stack in enumerate(TRUTH.stacks) if len(stack) > 1)


def flats() -> Design:
    regions = strips(*[10.0 + i for i in range(COLOURS + 1)])
    return design_of(regions, list(range(COLOURS + 1)), [*TRUTH.hexes, PAPER])


def table(inks: dict[str, Any]) -> InksTable:
    """The table of the inks, its lists as tuples."""

    def plainly(value: Any) -> Any:
        if isinstance(value, list):
            return tuple(plainly(each) for each in value)
        return {k: plainly(v) for k, v in value.items()} if isinstance(value, dict) else value

    return InksTable.model_validate(plainly(inks))


def separated(
    inks: dict[str, Any], *, pots: tuple[MixedInk, ...] = (), book: Sketchbook | None = None, **decisions: Any
) -> Separation:
    settings = SeparationTable.model_validate({"blocks": "fewest", **decisions})
    return separate(flats(), settings, inks=table(inks), shelf=Shelf(PIGMENTS, pots), book=book)


def printing(separation: Separation, shape: int) -> list[Impression]:
    return [each for each in separation.impressions if shape in each.shapes]


def codes(separation: Separation) -> list[str]:
    return [each.code for each in separation.findings]


@pytest.mark.parametrize("overprint_inks", ["both", "mixes", "mixed inks"])
def test_a_colour_is_printed_with_the_ink_that_is_taken_for_it(overprint_inks: str) -> None:
    colour, coat = _alone()
    pots = (_pot(7, coat), *(_pot(10 + k, k) for k in range(INKS) if overprint_inks == "mixed inks"))
    take = {"take": [{"colour": f"colour {colour}", "shelf": 7}]}
    separation = separated(take, pots=pots, overprint_inks=overprint_inks)
    (own,) = printing(separation, colour)
    assert own.set_ink is not None
    assert own.set_ink.shelf_number == 7
    assert own.name == f"colour {colour}"
    assert separation.max_delta_e00 <= 3.0
    assert "overprint-ink-contradicts" not in codes(separation)
    inks = ink_print(flats(), separation, Shelf(PIGMENTS, pots), table(take))
    assert inks.inks[own.number - 1].shelf_number == 7
    assert "inks-unknown-colour" not in [each.code for each in inks.findings]


def test_an_ink_that_misses_its_colour_does_not_loosen_the_others() -> None:
    colour = _deep()
    separation = separated({"take": [{"colour": TRUTH.hexes[colour], "shelf": 7}]}, pots=(_pot(7, 0),))
    (own,) = printing(separation, colour)
    assert own.set_ink is not None
    assert own.set_ink.shelf_number == 7
    found = separation.overprints
    assert found is not None
    assert [each.colour for each in found.out_of_reach] == [f"colour {colour}"]
    assert next(p for p in found.curve if p.blocks == found.blocks).reached_max_delta_e00 <= 3.0
    assert "overprints-out-of-reach" in codes(separation)


def test_a_colour_is_mixed_from_the_paints_that_are_named_for_it() -> None:
    colour, _ = _alone()
    free = separated({})
    used = {part.pigment for each in printing(free, colour) for part in each.set_ink.parts}  # type: ignore[union-attr]
    others = [each.name for each in PIGMENTS if each.name not in used][:4]
    mix = {"mix_from": [{"colour": f"colour {colour}", "pigments": others}]}
    separation = separated(mix)
    own = printing(separation, colour)
    assert own
    for each in own:
        assert each.set_ink is not None
        assert {part.pigment for part in each.set_ink.parts} <= set(others)
    held = {part.pigment for each in separation.impressions for part in each.set_ink.parts}  # type: ignore[union-attr]
    assert held - set(others)
    inks = ink_print(flats(), separation, Shelf(PIGMENTS), table(mix))
    # What was reckoned with is what is mixed.
    for impression, ink in zip(separation.impressions, inks.inks, strict=True):
        assert impression.set_ink is not None
        assert ink.recipe is not None
        assert ink.recipe.parts == impression.set_ink.parts
    assert "inks-unknown-colour" not in [each.code for each in inks.findings]


def test_a_paint_that_is_named_for_one_colour_alone_is_mixed_into_no_other() -> None:
    colour, _ = _alone()
    usual = [each.name for each in PIGMENTS[:-3]]
    named = [each.name for each in PIGMENTS[-3:]]
    separation = separated(
        {"pigments": usual, "mix_from": [{"colour": f"colour {colour}", "pigments": named}]}
    )
    for each in separation.impressions:
        assert each.set_ink is not None
        parts = {part.pigment for part in each.set_ink.parts}
        assert parts <= set(named) or parts <= set(usual)
        if colour in each.shapes:
            assert parts <= set(named)


def refused(inks: dict[str, Any], *, pots: tuple[MixedInk, ...] = (), **decisions: Any) -> Finding:
    """The one finding on decisions that cannot be kept beside one another, without a search."""
    design = flats()
    regions = np.array([each.region for each in design.shapes], dtype=object)
    colour = np.arange(COLOURS + 1)
    printed = tuple(by_lightness(design, range(COLOURS)))
    work = Coloured(design, regions, colour, shapely.area(regions), printed)
    settings = SeparationTable.model_validate({"blocks": "fewest", **decisions})
    _, findings = ask(work, settings, table(inks), Shelf(PIGMENTS, pots))
    (finding,) = findings
    assert finding.code == "overprint-ink-contradicts"
    return finding


def test_what_cannot_be_beside_one_another_is_one_sentence_that_names_both() -> None:
    colour, coat = _alone()
    name, other = f"colour {colour}", next(c for c in range(COLOURS) if c != colour)
    design = flats()
    over = Overprint(at=design.shapes[colour].at, over=design.shapes[other].at)
    take, mix = {"colour": name, "shelf": 7}, {"colour": name, "pigments": ["bone black"]}
    pots = (_pot(7, coat), _pot(8, coat, 0.5))
    finding = refused({"take": [take]}, pots=pots, overprint=(over,))
    assert finding.message == (
        f"[[inks.take]] prints {name} with ink 7 of the shelf by itself, and [[separation.overprint]] puts "
        f"it over colour {other}; both cannot be, and the line of [[separation.overprint]] does nothing."
    )
    assert finding.at == over.at
    said = refused({"take": [take], "mix_from": [mix]}, pots=pots).message
    assert f"[[inks.mix_from]] mixes {name} from bone black, and [[inks.take]] prints it with ink 7" in said
    said = refused({"take": [take, {"colour": name, "shelf": 8}]}, pots=pots).message
    assert f"[[inks.take]] prints {name} with ink 7 of the shelf" in said
    assert "another [[inks.take]] with ink 8; the later line holds" in said
    beneath = {"colour": f"colour {other}", "pigments": ["Hansa yellow"]}
    said = refused({"mix_from": [mix, beneath]}, overprint=(over,)).message
    assert f"mixes {name} from bone black" in said
    assert f"over colour {other}, which is mixed from Hansa yellow" in said
    said = refused({"mix_from": [mix]}, pots=pots, overprint_inks="mixed inks").message
    assert "[separation] overprint_inks takes mixed inks of the shelf alone" in said
    alike = [{"colour": f"colour {c}", "shelf": 7} for c in (colour, other)]
    said = refused({"take": alike}, pots=pots, most_layers=1).message
    assert f"[[inks.take]] prints {name} with it too" in said


def test_an_overprint_that_goes_against_an_ink_that_is_taken_does_nothing() -> None:
    colour, coat = _alone()
    shapes, other = flats().shapes, next(c for c in range(COLOURS) if c != colour)
    over = {"at": shapes[colour].at, "over": shapes[other].at}
    take = {"take": [{"colour": f"colour {colour}", "shelf": 7}]}
    separation = separated(take, pots=(_pot(7, coat),), overprint=(over,))
    assert "overprint-ink-contradicts" in codes(separation)
    assert len(printing(separation, colour)) == 1


def test_two_colours_in_one_ink_differ_in_their_passes() -> None:
    colour, coat = _alone()
    other = next(c for c in range(COLOURS) if c != colour)
    take = [{"colour": f"colour {c}", "shelf": 7} for c in (colour, other)]
    separation = separated({"take": take}, pots=(_pot(7, coat),))
    (one,), (two,) = printing(separation, colour), printing(separation, other)
    assert one.passes != two.passes
    assert one.set_ink == two.set_ink


def test_a_sketch_keeps_to_the_ink_that_is_taken() -> None:
    colour, coat = _alone()
    take, pots = {"take": [{"colour": f"colour {colour}", "shelf": 7}]}, (_pot(7, coat),)
    book = Sketchbook()
    whole = separated(take, pots=pots, book=book)
    assert book.kept is not None
    sketched = separated(take, pots=pots, book=Sketchbook(book.kept))
    (own,) = printing(sketched, colour)
    assert own.set_ink is not None
    assert own.set_ink.shelf_number == 7
    assert [each.shapes for each in sketched.impressions] == [each.shapes for each in whole.impressions]
    looks = np.array([each.lab for each in sketched.impressions])
    assert float(delta_e00(looks, np.array([each.lab for each in whole.impressions])).max()) < 1.0


def _every_plan(asked: Asked, coats: list[Coat], within: float) -> int | None:
    """The fewest coats of all choices of them that print every colour as decided, each plan looked at."""

    def prints(colour: int, stack: tuple[int, ...]) -> bool:
        own = [coats[coat] for coat in stack]
        for only in asked.only:
            if only.colour != colour:
                continue
            if only.shelf_number is not None:
                if len(own) != 1 or own[0].taken is None or own[0].taken.number != only.shelf_number:
                    return False
            elif any(coat.taken is not None or not set(coat.parts) <= set(only.parts) for coat in own):
                return False
        return float(delta_e00(seen(coats, stack), asked.targets[colour])) <= within

    for size in range(1, len(coats) + 1):
        for chosen in combinations(range(len(coats)), size):
            stacks = [s for n in range(1, asked.most_layers + 1) for s in combinations(chosen, n)]
            near = [[s for s in stacks if prints(c, s)] for c in range(len(asked.targets))]
            for plan in product(*near):
                if len(set(plan)) == len(plan) and len({coat for s in plan for coat in s}) == size:
                    return size
    return None


@pytest.mark.parametrize("seed", range(4))
def test_the_solver_equals_every_plan_there_is_with_inks_decided(seed: int) -> None:
    """Outside truth: all plans of every choice of 6 inks, two of them pots."""
    truth = known(seed, inks=3, colours=4, layers=2)
    mixed = [*truth.coats, *some_inks(np.random.default_rng(seed + 50), 1)]
    pots = [
        MixedInk(n, f"pot {n}", (), 0.5, Optics(tuple(c.k.tolist()), tuple(c.s.tolist())), "measured")
        for n, c in enumerate(truth.coats[:2], start=1)
    ]
    coats = light_to_dark([*mixed, *shelf_coats(pots, (1,))], PAPER_SPECTRUM)
    alone = next(c for c, stack in enumerate(truth.stacks) if len(stack) == 1)
    other = next(c for c in range(4) if c != alone)
    parts = tuple(sorted({p for coat in truth.stacks[other] for p in truth.coats[coat].parts}))
    only = (Only(alone, shelf_number=1 + seed % 2), Only(other, pigments=("named",), parts=parts))
    asked = replace(asked_for(truth.labs, limit=12.0, layers=2), only=only)
    stacks = every_stack(coats, PAPER_SPECTRUM, 2)
    solved = fewest(asked, stacks, len(coats), choices(asked, stacks, within=12.0))
    expected = _every_plan(asked, coats, 12.0)
    if solved.stacks is None:
        assert solved.impossible
        assert expected is None
        return
    assert solved.proven
    assert len({coat for stack in solved.stacks for coat in stack}) == expected
    assert asked.keeps(solved.stacks, coats)

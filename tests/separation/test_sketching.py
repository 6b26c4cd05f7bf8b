"""A sketch's overprints: plans of an earlier search in new colours, and when they do not serve."""

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import pytest
from bench.known_inks import known
from drawn import PAPER, design_of, strips

from blockwright.colour import lab_to_hex
from blockwright.colour.pigments import starter_pigments
from blockwright.model.design import Design
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.separation import KnownPlans, Sketchbook, question, searching, separate
from blockwright.separation.asked import Asked

SHELF = Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))
COLOURS, INKS = 6, 4
HEXES = known(1, inks=INKS, colours=COLOURS).hexes


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One entry for every search that is made, but for the first."""
    made: list[int] = []
    searched()
    search = searching.search

    def counted(asked: Asked, *args: object) -> object:
        made.append(len(asked.targets))
        return search(asked, *args)  # type: ignore[arg-type]

    question.answered.cache_clear()
    monkeypatch.setattr(question, "search", counted)
    return made


def flats(*hexes: str) -> Design:
    regions = strips(*[10.0 + i for i in range(len(hexes) + 1)])
    return design_of(regions, list(range(len(hexes) + 1)), [*hexes, PAPER])


def separated(design: Design, book: Sketchbook, *, shelf: Shelf = SHELF, **decisions: Any) -> Separation:
    settings = SeparationTable.model_validate({"blocks": "fewest", **decisions})
    return separate(design, settings, inks=InksTable(), shelf=shelf, book=book)


def stacks(separation: Separation) -> list[list[int]]:
    """For every shape the impressions that print it."""
    return [
        [each.number for each in separation.impressions if shape in each.shapes] for shape in range(COLOURS)
    ]


def nudged(place: int, darker: float) -> list[str]:
    """The colours, one of them darker by some L*."""
    lightness, a, b = flats(*HEXES).palette[place].lab
    return [lab_to_hex((lightness - darker, a, b)) if k == place else each for k, each in enumerate(HEXES)]


@cache
def searched() -> tuple[Separation, KnownPlans]:
    book = Sketchbook()
    separation = separated(flats(*HEXES), book)
    assert book.kept is not None
    return separation, book.kept


def test_a_search_keeps_its_plans_and_gives_the_same_with_and_without_a_book() -> None:
    separation, plans = searched()
    assert separation == separate(
        flats(*HEXES), SeparationTable(blocks="fewest"), inks=InksTable(), shelf=SHELF
    )
    assert separation.overprints is not None
    assert len(plans.plans) >= len(separation.overprints.curve)
    assert plans.targets == tuple(sorted((c.lab for c in flats(*HEXES).palette[:COLOURS]), reverse=True))


def test_the_same_colours_are_sketched_as_they_were_found(searches: list[int]) -> None:
    separation, plans = searched()
    sketched = separated(flats(*HEXES), Sketchbook(plans))
    assert searches == []
    assert stacks(sketched) == stacks(separation)
    assert sketched.max_delta_e00 <= 3.0


@pytest.mark.parametrize("place", range(COLOURS))
def test_a_colour_that_moves_a_little_keeps_its_stack(searches: list[int], place: int) -> None:
    separation, plans = searched()
    book = Sketchbook(plans)
    sketched = separated(flats(*nudged(place, 1.0)), book)
    assert searches == []
    assert stacks(sketched) == stacks(separation)
    assert sketched.max_delta_e00 <= 3.0
    assert book.kept == plans
    (said,) = [each for each in sketched.findings if each.code == "blocks-saved"]
    assert "a sketch from the overprints that were found for other colours" in said.message
    assert "Proven" not in said.message
    assert sketched.overprints is not None
    assert not any(each.proven for each in sketched.overprints.curve)


def test_colours_that_change_places_from_light_to_dark_keep_their_stacks(searches: list[int]) -> None:
    design = flats(*HEXES)
    order = sorted(range(COLOURS), key=lambda k: -design.palette[k].lab[0])
    gaps = [design.palette[a].lab[0] - design.palette[b].lab[0] for a, b in pairwise(order)]
    least = gaps.index(min(gaps))
    _, plans = searched()
    sketched = separated(flats(*nudged(order[least], gaps[least] + 0.5)), Sketchbook(plans))
    assert searches == []
    assert sketched.max_delta_e00 <= 3.0


@pytest.mark.parametrize("colour", ["#c02020", "#20a040", "#3030a0"])
def test_a_colour_that_goes_far_is_still_near_in_the_sketch(searches: list[int], colour: str) -> None:
    _, plans = searched()
    sketched = separated(flats(*HEXES[:-1], colour), Sketchbook(plans))
    assert searches == []
    assert sketched.max_delta_e00 <= 3.0
    assert len({tuple(each) for each in stacks(sketched)}) == COLOURS


def test_a_sketch_may_miss_the_limits_and_says_so(searches: list[int]) -> None:
    _, plans = searched()
    sketched = separated(flats(*HEXES[:-1], "#20a040"), Sketchbook(plans), block_count=2)
    assert searches == []
    (said,) = [each for each in sketched.findings if each.code == "overprints-miss"]
    assert "the whole run searches anew" in said.message


def test_a_sketch_knows_a_colour_that_cannot_be_reached(searches: list[int]) -> None:
    book = Sketchbook(searched()[1])
    sketched = separated(flats(*HEXES[:-1], "#00ff20"), book)
    assert searches == []
    (said,) = [each for each in sketched.findings if each.code == "overprints-out-of-reach"]
    found = sketched.overprints
    assert found is not None
    (far,) = found.out_of_reach
    assert said.message.startswith(f"Out of reach of the inks at hand: {far.colour}")
    taken = next(each for each in found.curve if each.blocks == found.blocks)
    assert taken.reached_max_delta_e00 <= 3.0 < far.best_delta_e00


def test_another_number_of_colours_is_searched_anew(searches: list[int]) -> None:
    _, plans = searched()
    book = Sketchbook(plans)
    separated(flats(*HEXES[:-1]), book)
    assert searches == [COLOURS - 1]
    assert book.kept is not None
    assert len(book.kept.targets) == COLOURS - 1


@pytest.mark.parametrize(
    "decisions",
    [
        {"most_layers": 3},
        {"worst_delta_e00": 4.0},
        {"overprint": ({"at": (5.0, 5.0), "over": (15.0, 5.0), "lies": False},)},
    ],
)
def test_other_decisions_are_searched_anew(searches: list[int], decisions: dict[str, Any]) -> None:
    _, plans = searched()
    separated(flats(*HEXES), Sketchbook(plans), **decisions)
    assert searches == [COLOURS]


def test_other_pigments_are_searched_anew(searches: list[int]) -> None:
    _, plans = searched()
    separated(flats(*HEXES), Sketchbook(plans), shelf=Shelf(SHELF.pigments[1:]))
    assert searches == [COLOURS]


def test_plans_that_were_spoilt_are_searched_anew(searches: list[int]) -> None:
    separation, plans = searched()
    first = plans.plans[0]
    coat = first.coats[0]
    spoilt = [
        replace(first, stacks=first.stacks[1:]),
        replace(first, stacks=((99,), *first.stacks[1:])),
        replace(first, stacks=((), *first.stacks[1:])),
        replace(first, coats=(replace(coat, parts=(999,), shares=(0.5,)), *first.coats[1:])),
        replace(first, coats=(replace(coat, passes=0), *first.coats[1:])),
        replace(first, coats=(replace(coat, shares=(float("nan"),) * len(coat.shares)), *first.coats[1:])),
        replace(first, coats=(replace(coat, shelf_number=7), *first.coats[1:])),
    ]
    for plan in spoilt:
        book = Sketchbook(replace(plans, plans=(plan, *plans.plans[1:])))
        assert separated(flats(*HEXES), book) == separation
        assert book.kept == plans
    assert searches == [COLOURS]

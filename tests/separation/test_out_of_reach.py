"""A colour that the inks at hand cannot print does not loosen the limits of the others."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from bench.known_inks import BOX, PAPER, asked_for, known, seen, some_inks
from drawn import PAPER as PAPER_HEX
from drawn import design_of, strips

from blockwright.colour import delta_e00, hex_to_lab, lab_to_hex
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.separation import separate
from blockwright.separation.asked import Asked, beyond_best
from blockwright.separation.coats import Coat, Paintbox, light_to_dark
from blockwright.separation.fewest import choices, fewest
from blockwright.separation.reaching import reach_of
from blockwright.separation.searching import search
from blockwright.separation.stacks import every_stack

GREEN = "#1fae3c"
"""Green beside paints that are all but reds, yellows and blacks: nothing of theirs comes near it."""

WARM = tuple(
    each
    for each in BOX.pigments
    if not any(word in each.name.casefold() for word in ("blue", "green", "indigo", "cyan", "viridian"))
)


def _warm(colours: int) -> list[str]:
    """Colours that three warm inks print alone and over one another."""
    box = Paintbox(WARM, 0.8)
    rng = np.random.default_rng(4)
    k, _, _ = box.film(1)
    coats = [box.coat([p], [0.5 / float(k[p].max())], 1) for p in rng.permutation(len(WARM))[:3].tolist()]
    stacks = [stack for size in (1, 2, 3) for stack in combinations(range(3), size)]
    return [lab_to_hex(seen(coats, stack)) for stack in stacks][:colours]


def flats(**decisions: object) -> Separation:
    hexes = [*_warm(5), GREEN]
    design = design_of(strips(*[12.0] * 7), list(range(7)), [*hexes, PAPER_HEX])
    table = {"blocks": "fewest", "paper_within_delta_e00": 1.0, **decisions}
    settings = SeparationTable.model_validate(table)
    return separate(design, settings, inks=InksTable(), shelf=Shelf(WARM))


def test_the_others_keep_the_limit_beside_a_colour_that_cannot_be_reached() -> None:
    targets = np.array([hex_to_lab(each) for each in [*_warm(5), GREEN]])
    asked = asked_for(targets, limit=3.0)
    found = search(asked, Paintbox(WARM, 0.8))
    held = found.held(asked)
    assert held.out_of_reach.tolist() == [False] * 5 + [True]
    assert found.fewest is not None
    plan = found.points[found.fewest].plan
    assert plan.delta_e00[:5].max() <= 3.0
    best = found.reach[5].delta_e00
    assert best > 10.0
    assert best - 0.05 <= plan.delta_e00[5] <= float(beyond_best(np.array(best)))
    # What the mean is asked of is the colours that can be reached.
    assert held.counted.tolist() == pytest.approx([0.2] * 5 + [0.0])
    for point in found.points:
        assert (point.strain <= 1.0 + 1e-9) == (held.strain(point.plan.delta_e00) <= 1.0 + 1e-9)


def test_nothing_changes_where_every_colour_can_be_reached() -> None:
    truth = known(1, inks=3, colours=5)
    asked = asked_for(truth.labs)
    found = search(asked, BOX)
    held = found.held(asked)
    assert not held.out_of_reach.any()
    assert held.limits.tolist() == [3.0] * 5
    assert held.mean_limit == 3.0
    assert held.counted is held.area


def _far_target(rng: np.random.Generator, coats: list[Coat]) -> np.ndarray:
    """A colour that is farther than 4 from every stack of some coats."""
    looks = [seen(coats, stack) for n in (1, 2, 3) for stack in combinations(range(len(coats)), n)]
    while True:
        lab = np.array([rng.uniform(30, 80), rng.uniform(-60, 60), rng.uniform(-60, 60)])
        if 6.0 < min(float(delta_e00(lab, look)) for look in looks) < 30.0:
            return lab


def _fewest_of_all(asked: Asked, coats: list[Coat], limits: list[float]) -> int | None:
    """The fewest coats of every choice of them, all plans of each looked at, each colour with its limit."""

    def can(subset: tuple[int, ...]) -> bool:
        stacks = [s for size in range(1, asked.most_layers + 1) for s in combinations(subset, size)]
        near = [
            [s for s in stacks if delta_e00(seen(coats, s), target) <= limit]
            for target, limit in zip(asked.targets, limits, strict=True)
        ]

        def matched(taken: list[tuple[int, ...]]) -> bool:
            if len(taken) == len(near):
                return True
            return any(matched([*taken, s]) for s in near[len(taken)] if s not in taken)

        return matched([])

    sizes = range(1, len(coats) + 1)
    return next((n for n in sizes if any(can(s) for s in combinations(range(len(coats)), n))), None)


@pytest.mark.parametrize("seed", range(4))
def test_the_solver_equals_every_plan_there_is_where_one_colour_is_out_of_reach(seed: int) -> None:
    """Outside truth: all stacks by their own sums, and every plan of every choice of 6 inks."""
    truth = known(seed, inks=3, colours=4, layers=3)
    rng = np.random.default_rng(seed + 50)
    coats = light_to_dark([*truth.coats, *some_inks(rng, 3)], PAPER)
    targets = np.array([*truth.labs, _far_target(rng, coats)])
    area = np.array([0.1, 0.1, 0.1, 0.1, 0.6])
    asked = Asked(PAPER, targets, area, 4.0, 4.0, 3)
    reach = reach_of(asked, None, [], coats)
    every = [s for size in (1, 2, 3) for s in combinations(range(len(coats)), size)]
    for colour, target in enumerate(targets):
        # Coats that look alike are tried once, so that a hair may lie between.
        best = min(float(delta_e00(seen(coats, stack), target)) for stack in every)
        assert reach[colour].delta_e00 == pytest.approx(best, abs=0.7)
    held = replace(asked, reach=np.array([each.delta_e00 for each in reach]))
    assert held.out_of_reach.tolist() == [False] * 4 + [True]
    stacks = every_stack(coats, PAPER, 3)
    solved = fewest(held, stacks, len(coats), choices(held, stacks, within=4.0))
    limits = [4.0] * 4 + [float(beyond_best(np.array(reach[4].delta_e00)))]
    expected = _fewest_of_all(held, coats, limits)
    assert solved.proven
    assert solved.stacks is not None
    assert len({coat for stack in solved.stacks for coat in stack}) == solved.lower_bound == expected
    for stack, target, limit in zip(solved.stacks, targets, limits, strict=True):
        assert delta_e00(seen(coats, stack), target) <= limit


def test_a_mean_that_cannot_be_reached_gets_a_limit_of_its_own() -> None:
    targets = np.array([hex_to_lab(each) for each in [*_warm(3), GREEN]])
    asked = replace(asked_for(targets, limit=0.5), worst_delta_e00=60.0)
    found = search(asked, Paintbox(WARM, 0.8))
    held = found.held(asked)
    assert not held.out_of_reach.any()
    best = float(held.area @ np.array([each.delta_e00 for each in found.reach]))
    assert held.mean_limit == pytest.approx(float(beyond_best(np.array(best))))
    assert found.fewest is not None


def test_the_finding_names_the_colour_and_the_best_that_there_is() -> None:
    separation = flats()
    saved, finding = separation.findings[:2]
    assert (saved.code, finding.code) == ("blocks-saved", "overprints-out-of-reach")
    found = separation.overprints
    assert found is not None
    (far,) = found.out_of_reach
    assert finding.severity == "warn"
    said = f"{far.colour}, to which the {far.tried} inks tried come no nearer than {far.best_delta_e00:.1f}"
    assert said in finding.message
    assert "All other colours are held to the limit and keep it." in finding.message
    assert dict(finding.about)["colour"] == far.colour
    assert finding.at is not None
    taken = next(each for each in found.curve if each.blocks == found.blocks)
    assert taken.within
    assert taken.reached_max_delta_e00 <= 3.0 < taken.max_delta_e00
    assert "the worst that can be reached within" in saved.message
    assert far.best_delta_e00 <= far.delta_e00 == pytest.approx(separation.max_delta_e00, abs=0.05)


def test_too_few_blocks_are_told_by_the_colours_that_can_be_reached() -> None:
    found = flats().overprints
    assert found is not None
    least = found.curve[0]
    assert not least.within
    told = {each.code: each for each in flats(block_count=least.blocks).findings}
    missed = told["overprints-miss"]
    assert "without what is out of reach" in missed.message
    assert dict(missed.about)["worst_delta_e00"] == pytest.approx(least.reached_max_delta_e00, abs=0.11)
    assert "but not all keep it with so few blocks" in told["overprints-out-of-reach"].message

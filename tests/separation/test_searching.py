"""The search of overprints: against every plan there is on small cases, and designs of known inks."""

import signal
from itertools import combinations

import numpy as np
import pytest
from bench.known_inks import BOX, PAPER, asked_for, known, seen, some_inks

from blockwright.colour import delta_e00, reflectance_to_lab, stack_reflectance
from blockwright.model.inks import MixedInk, Optics
from blockwright.separation.amounts import fit_amounts
from blockwright.separation.asked import Asked, Lies
from blockwright.separation.coats import Coat, ideal_pigments, shelf_coats
from blockwright.separation.fewest import choices, fewest
from blockwright.separation.searching import Found, fewest_possible, search
from blockwright.separation.stacks import count_stacks, every_stack, near_stacks


def found_plan(found: Found) -> int:
    assert found.fewest is not None
    return len(found.points[found.fewest].plan.coats)


def test_every_stack_is_there_once_and_looks_as_the_engine_says() -> None:
    coats = some_inks(np.random.default_rng(1), 6)
    stacks = every_stack(coats, PAPER, 3)
    members = [tuple(int(j) for j in row if j >= 0) for row in stacks.members]
    assert sorted(members) == sorted(c for n in range(4) for c in combinations(range(6), n))
    assert len(members) == count_stacks(6, 3)
    for stack, lab in zip(members, stacks.lab, strict=True):
        assert delta_e00(lab, seen(coats, stack)) < 1e-6


def test_passes_are_layers() -> None:
    coats = some_inks(np.random.default_rng(1), 4)
    twice = [BOX.in_passes(coats[0], 2), *coats[1:]]
    members = every_stack(twice, PAPER, 2).members
    assert [row.tolist() for row in members if 0 in row.tolist()] == [[0, -1]]


def test_no_near_stack_is_left_out() -> None:
    coats = some_inks(np.random.default_rng(5), 9)
    stacks = every_stack(coats, PAPER, 4)
    for target in known(5, inks=4, colours=8).labs:
        places, apart = near_stacks(stacks, target, 3.0)
        every = delta_e00(stacks.lab, target)
        every[0] = np.inf
        assert set(places.tolist()) == set(np.flatnonzero(every <= 3.0).tolist())
        assert apart == pytest.approx(every[places])


def _fewest_of_all(asked: Asked, coats: list[Coat], most: int) -> int | None:
    """The fewest coats of every choice of them, every plan of each choice being looked at."""

    def can(subset: tuple[int, ...]) -> bool:
        allowed = []
        for target in asked.targets:
            near = [
                stack
                for size in range(1, asked.most_layers + 1)
                for stack in combinations(subset, size)
                if delta_e00(seen(coats, stack), target) <= asked.worst_delta_e00
            ]
            allowed.append(near)
        return _matched(allowed, [])

    def _matched(allowed: list[list[tuple[int, ...]]], taken: list[tuple[int, ...]]) -> bool:
        if len(taken) == len(allowed):
            return True
        return any(
            _matched(allowed, [*taken, stack])
            for stack in allowed[len(taken)]
            if stack not in taken and _as_decided(asked, [*taken, stack])
        )

    for size in range(1, most + 1):
        if any(can(subset) for subset in combinations(range(len(coats)), size)):
            return size
    return None


def _as_decided(asked: Asked, stacks: list[tuple[int, ...]]) -> bool:
    """Whether the stacks that are chosen so far are as decided."""
    held = [set(stack) for stack in stacks]
    return all(
        (held[each.over] >= held[each.under]) == each.yes
        for each in asked.lies
        if max(each.over, each.under) < len(held)
    )


@pytest.mark.parametrize("seed", range(8))
def test_the_solver_finds_what_looking_at_every_plan_finds(seed: int) -> None:
    """Outside truth: every choice of up to 5 of 7 inks, and every plan of each."""
    truth = known(seed, inks=4, colours=5, layers=3)
    rng = np.random.default_rng(seed)
    coats = [*truth.coats, *some_inks(rng, 3)]
    lies = ((), (Lies(0, 1, seed % 2 == 0),), (Lies(2, 3, False), Lies(4, 2, True)))[seed % 3]
    asked = asked_for(truth.labs, limit=4.0, layers=3, lies=lies)
    stacks = every_stack(coats, PAPER, 3)
    solved = fewest(asked, stacks, len(coats), choices(asked, stacks, within=4.0))
    expected = _fewest_of_all(asked, coats, 5)
    assert solved.proven or solved.impossible
    if solved.stacks is None:
        assert expected is None
        return
    used = {coat for stack in solved.stacks for coat in stack}
    assert len(used) == solved.lower_bound
    assert expected == (len(used) if len(used) <= 5 else None)
    assert asked.keeps(solved.stacks)
    for stack, target in zip(solved.stacks, truth.labs, strict=True):
        assert delta_e00(seen(coats, stack), target) <= 4.0


def test_the_amounts_that_printed_a_design_are_found_again() -> None:
    truth = known(3, inks=5, colours=9)
    rng = np.random.default_rng(3)
    off = [
        BOX.coat(c.parts, [share * float(np.exp(rng.normal(0.0, 0.3))) for share in c.shares], 1)
        for c in truth.coats
    ]
    before = [delta_e00(seen(off, s), lab) for s, lab in zip(truth.stacks, truth.labs, strict=True)]
    fitted = fit_amounts(off, truth.stacks, BOX, PAPER, truth.labs)
    assert max(before) > 3.0
    # Colours in 8 bits are themselves off by up to about half.
    assert fitted.delta_e00.max() < 0.6
    for coat in fitted.coats:
        assert sum(coat.shares) <= BOX.most_share + 1e-9
    again = np.array([seen(list(fitted.coats), stack) for stack in truth.stacks])
    assert np.abs(again - fitted.lab).max() < 1e-6


@pytest.mark.parametrize(("seed", "inks", "colours"), [(1, 4, 8), (2, 5, 9)])
def test_no_more_inks_than_a_design_was_printed_with(seed: int, inks: int, colours: int) -> None:
    truth = known(seed, inks=inks, colours=colours)
    asked = asked_for(truth.labs)
    found = search(asked, BOX)
    assert fewest_possible(colours, 4) <= found.tried_bound <= found_plan(found) <= inks
    strains = [point.strain for point in found.points]
    assert strains == sorted(strains, reverse=True)
    for point in found.points:
        plan = point.plan
        assert asked.keeps(plan.stacks)
        assert all(sum(plan.coats[j].passes for j in stack) <= 4 for stack in plan.stacks)
        for stack, lab in zip(plan.stacks, plan.lab, strict=True):
            assert delta_e00(seen(plan.coats, stack), lab) < 1e-6
        assert plan.delta_e00 == pytest.approx(delta_e00(plan.lab, truth.labs))
    again = search(asked, BOX)
    assert [p.plan.stacks for p in again.points] == [p.plan.stacks for p in found.points]
    assert [c.shares for c in again.points[0].plan.coats] == [c.shares for c in found.points[0].plan.coats]


def test_mixed_inks_of_the_shelf_are_taken_as_they_are() -> None:
    truth = known(4, inks=4, colours=7)
    pots = [
        MixedInk(n, f"pot {n}", (), 0.5, Optics(tuple(c.k.tolist()), tuple(c.s.tolist())), "measured")
        for n, c in enumerate([*truth.coats, *some_inks(np.random.default_rng(9), 6)], start=1)
    ]
    found = search(asked_for(truth.labs, limit=1.0), None, shelf_coats(pots, (1, 2)))
    assert found_plan(found) <= 4
    assert found.proven
    assert found.fewest is not None
    assert all(coat.taken in pots for coat in found.points[found.fewest].plan.coats)


def test_so_few_inks_have_not_enough_stacks_whatever_they_are() -> None:
    # 3 inks: 7 stacks; with 2 layers at most 6.
    assert [fewest_possible(7, 4), fewest_possible(8, 4), fewest_possible(7, 2)] == [3, 4, 4]


def test_ideal_pigments_are_a_neutral_grey_together() -> None:
    k = np.array([each.optics.k for each in ideal_pigments()]).sum(axis=0) * 0.1
    lab = reflectance_to_lab(stack_reflectance([0.9] * 36, [(k, 0.01, 1.0)]))
    assert abs(lab[1:]).max() < 0.5


def test_ctrl_c_is_still_ours_after_a_search() -> None:
    """The solver may not keep the signal, nor leave it as it ends the process without a word."""
    assert search(asked_for(known(5, inks=3, colours=4).labs, limit=1.0), BOX).points
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)

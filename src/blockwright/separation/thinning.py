"""Plans with fewer and fewer inks: one is taken out, the colours find other stacks, the amounts are fitted.

From a plan with one ink a colour down to two inks. At every number the ink is taken out without which the
others come nearest; what the colours lie in and how strong the inks are settle in turns, as in k-means.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from blockwright.colour import delta_e00
from blockwright.colour.passes import MOST_PASSES
from blockwright.colour.slopes import quadratic_form
from blockwright.separation.amounts import fit_amounts
from blockwright.separation.asked import Asked, Plan
from blockwright.separation.coats import Coat, Paintbox, light_to_dark
from blockwright.separation.fewest import Choices, fewest
from blockwright.separation.stacks import Stacks, every_stack, near_stacks

Values = NDArray[np.float64]

_LOOKED_AT = 32
"""Stacks of each colour, the nearest, that are weighed against those of others."""

_NEVER_DELTA_E00 = 1e6
"""Said of a stack that may not print a colour."""

_TURNS = 6
"""How often stacks and amounts are settled in turns, at most."""

_KEPT = 4
"""Plans with one number of inks that are followed on: the best is not always the one to go on from."""

_FULL = 0.98
"""A film with so much of the pigment that it may hold counts as full."""

_GAIN = 0.995
"""Turns end when the plan strains its limits by no less than this part of before."""


def assign(asked: Asked, coats: Sequence[Coat]) -> tuple[tuple[int, ...], ...] | None:
    """For each colour its stack of coats, which are in printing order, no two the same; None where none is.

    The sum of the fourth powers of the differences is least, so that the worst counts most.
    """
    stacks = every_stack(coats, asked.paper, asked.most_layers)
    if len(stacks.lab) <= len(asked.targets):
        return None
    places, apart = _nearest(asked, stacks)
    pool = np.unique(np.concatenate(places))
    cost = np.full((len(places), len(pool)), 1e9)
    for row, mine, off, leeway in zip(cost, places, apart, asked.leeway.tolist(), strict=True):
        row[np.searchsorted(pool, mine)] = np.where(
            off < _NEVER_DELTA_E00, np.minimum(off / leeway, 150.0) ** 4, 1e9
        )
    if len(pool) < len(places):
        return None
    colours, columns = linear_sum_assignment(cost)
    if cost[colours, columns].max() >= 1e9:
        return None
    found = tuple(_members(stacks, int(pool[column])) for column in columns)
    return found if asked.keeps(found) else _assign_as_decided(asked, coats, stacks)


def _nearest(asked: Asked, stacks: Stacks) -> tuple[list[NDArray[np.int64]], list[Values]]:
    most = min(max(_LOOKED_AT, len(asked.targets)), len(stacks.lab) - 1)
    printed = stacks.lab[1:]
    picked = np.empty((len(asked.targets), min(2 * most, len(printed))), dtype=np.int64)
    barred: list[tuple[int, NDArray[np.bool_]]] = []
    forms = _forms(asked.targets.tobytes())
    for colour, (row, target, form) in enumerate(zip(picked, asked.targets, forms, strict=True)):
        # The quadratic form of CIEDE2000 at the colour itself tells which are worth the formula.
        rough = (((printed - target) @ form.T) ** 2).sum(axis=1)
        if (may := asked.may_print(colour, stacks)) is not None:
            rough[~may[1:]] = np.inf
            barred.append((colour, ~may[1:]))
        first = (
            np.argpartition(rough, len(row))[: len(row)] if len(rough) > len(row) else np.arange(len(rough))
        )
        row[:] = np.sort(first)
    off = delta_e00(printed[picked], asked.targets[:, None, :])
    for colour, no in barred:
        off[colour, no[picked[colour]]] = _NEVER_DELTA_E00
    order = np.argsort(np.round(off, 6), axis=1, kind="stable")[:, :most]
    places = 1 + np.take_along_axis(picked, order, axis=1)
    return list(places), list(np.take_along_axis(off, order, axis=1))


@lru_cache(maxsize=8)
def _forms(targets: bytes) -> tuple[Values, ...]:
    return tuple(quadratic_form(target) for target in np.frombuffer(targets).reshape(-1, 3))


def _assign_as_decided(
    asked: Asked, coats: Sequence[Coat], stacks: Stacks
) -> tuple[tuple[int, ...], ...] | None:
    """The same where the printmaker decided what lies over what."""
    places, apart = [], []
    decided = {colour for each in asked.lies for colour in (each.over, each.under)}
    for colour, target in enumerate(asked.targets):
        found, off = near_stacks(stacks, target, 1000.0, of=asked.may_print(colour, stacks))
        most = 400 if colour in decided else _LOOKED_AT
        order = np.lexsort((found, np.round(off, 6)))[:most]
        places.append(found[order])
        apart.append(off[order])
    solved = fewest(
        asked,
        stacks,
        len(coats),
        Choices(tuple(places), tuple(apart), False),
        aim="error",
        effort=0.5,
        in_the_mean=False,
    )
    return solved.stacks


def _members(stacks: Stacks, place: int) -> tuple[int, ...]:
    return tuple(int(m) for m in stacks.members[place] if m >= 0)


@dataclass(frozen=True, slots=True)
class Bench:
    """What plans are made with: the question, and what is mixed from."""

    asked: Asked
    box: Paintbox

    def fitted(self, coats: Sequence[Coat], stacks: Sequence[tuple[int, ...]], *, rounds: int = 3) -> Plan:
        """The plan with its amounts fitted; coats that print nothing are left out."""
        used = sorted({coat for stack in stacks for coat in stack})
        place = {coat: k for k, coat in enumerate(used)}
        own = tuple(tuple(place[coat] for coat in stack) for stack in stacks)
        asked = self.asked
        leeway = asked.leeway if asked.out_of_reach.any() else None
        found = fit_amounts(
            [coats[k] for k in used],
            own,
            self.box,
            asked.paper,
            asked.targets,
            leeway=leeway,
            rounds=rounds,
        )
        return Plan(found.coats, own, found.lab, found.delta_e00)

    def strain(self, plan: Plan) -> float:
        """How far a plan goes to its limits."""
        return self.asked.strain(plan.delta_e00)

    def settled(self, coats: Sequence[Coat], *, turns: int = _TURNS, rounds: int = 3) -> Plan | None:
        """The best plan with these coats or fewer: stacks and amounts in turns, until nothing is gained."""
        best: Plan | None = None
        for _ in range(turns):
            ordered = light_to_dark(coats, self.asked.paper)
            stacks = assign(self.asked, ordered)
            if stacks is None:
                return best
            plan = self.fitted(ordered, stacks, rounds=rounds)
            if best is not None and self.strain(plan) > _GAIN * self.strain(best):
                return min(best, plan, key=self.strain)
            best, coats = plan, [self._in_fitting_passes(coat) for coat in plan.coats]
        return best

    def _in_fitting_passes(self, coat: Coat) -> Coat:
        """A film that is full gets another pass, one that is not gets as few as hold it."""
        if sum(coat.shares) > _FULL * self.box.most_share and coat.passes < MOST_PASSES:
            return self.box.in_passes(coat, coat.passes + 1)
        return self.box.fewest_passes(coat)

    def one_less(self, plans: Sequence[Plan], *, keep: int) -> list[Plan]:
        """The best plans that were found with one coat fewer than these, the best first, no two alike."""
        tried: list[Plan] = []
        for plan in plans:
            for k in range(len(plan.coats)):
                rest = [coat for i, coat in enumerate(plan.coats) if i != k]
                quick = self.settled(rest, turns=1, rounds=1)
                if quick is not None:
                    tried.append(quick)
        promising = self.best_of(tried, keep=2 * keep)
        ends = [self.settled(quick.coats) or quick for quick in promising]
        return self.best_of([*ends, *promising], keep=keep)

    def best_of(self, plans: Sequence[Plan], *, keep: int) -> list[Plan]:
        """The plans that strain their limits least, no two of them with the same stacks and strain."""
        kept: dict[tuple[object, ...], Plan] = {}
        for plan in sorted(plans, key=lambda each: round(self.strain(each), 9)):
            kept.setdefault((len(plan.coats), round(self.strain(plan), 4)), plan)
        return list(kept.values())[:keep]

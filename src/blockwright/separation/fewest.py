"""The fewest inks: which of many coats are printed, and which of them lie over which colour.

One stack is chosen for every colour from all that come near enough, so that the coats in use are least; a
constraint program, solved by CP-SAT (Perron and Didier, OR-tools). What it proves holds for the coats and the
stacks it is given. Its time is counted in its own units, so that the answer does not depend on how busy the
machine is.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from blockwright.separation.asked import Asked
from blockwright.separation.stacks import Stacks, near_stacks

Values = NDArray[np.float64]

_SCALE = 1000
"""CIEDE2000 and mm are counted in thousandths: the solver has whole numbers only."""

_SEED = 20
"""Any; the same always."""

_WORKERS = 1
"""One, so that the answer is the same always. Several that take turns in a fixed order would be too, but took
twenty times as long on these programs, and several that race give whichever is first."""

Aim = Literal["coats", "error", "edges"]


@dataclass(frozen=True, slots=True, eq=False)
class Choices:
    """For every colour the stacks that may print it and how far off each is, the nearest first.

    ``whole`` tells that none was left out.
    """

    places: tuple[NDArray[np.int64], ...]
    apart: tuple[Values, ...]
    whole: bool


@dataclass(frozen=True, slots=True)
class Solved:
    """One stack a colour (its members), the fewest coats that may be possible, and whether that is proven.

    ``stacks`` is None where nothing was found; ``impossible`` tells that there is nothing.
    """

    stacks: tuple[tuple[int, ...], ...] | None
    lower_bound: int
    proven: bool
    impossible: bool = False


def choices(asked: Asked, stacks: Stacks, *, within: float, most_each: int = 100_000) -> Choices:
    """What may print each colour, of all stacks that come within a difference of it.

    A colour out of reach may be off by as many times more as its own limit is wider.
    """
    places, apart, whole = [], [], True
    for colour, (target, leeway) in enumerate(zip(asked.targets, asked.leeway.tolist(), strict=True)):
        found, off = near_stacks(stacks, target, within * leeway, of=asked.may_print(colour, stacks))
        order = np.lexsort((found, np.round(off, 6)))
        whole = whole and len(order) <= most_each
        order = order[:most_each]
        places.append(found[order])
        apart.append(off[order])
    return Choices(tuple(places), tuple(apart), whole)


def fewest(
    asked: Asked,
    stacks: Stacks,
    coats: int,
    allowed: Choices,
    *,
    aim: Aim = "coats",
    most_coats: int | None = None,
    effort: float = 4.0,
    edges_mm: Mapping[tuple[int, int], float] | None = None,
    hint: Sequence[Sequence[int]] | None = None,
    in_the_mean: bool = True,
) -> Solved:
    """Choose one stack for every colour, no two the same.

    ``aim`` is what is least: the coats in use, the difference (its square by area, the worst weighing most),
    or the carved edge, for which ``edges_mm`` gives the common edge of each pair of colours, -1 the paper.
    ``effort`` is the solver's own measure of time; a second or so each. ``hint`` are stacks to start from.
    """
    from ortools.sat.python import cp_model

    if any(not len(each) for each in allowed.places):
        return Solved(None, len(asked.targets), allowed.whole, impossible=True)
    model = cp_model.CpModel()
    used = [model.new_bool_var(f"coat {j}") for j in range(coats)]
    chosen: list[list[Any]] = []
    lies: list[list[Any]] = []
    same: defaultdict[int, list[Any]] = defaultdict(list)
    for colour, places in enumerate(allowed.places):
        mine = [model.new_bool_var(f"{colour} by {place}") for place in places.tolist()]
        model.add_exactly_one(mine)
        holding: defaultdict[int, list[Any]] = defaultdict(list)
        for place, var in zip(places.tolist(), mine, strict=True):
            same[place].append(var)
            for coat in stacks.members[place].tolist():
                if coat >= 0:
                    holding[coat].append(var)
        for coat, vars_ in holding.items():
            model.add(sum(vars_) <= used[coat])
        chosen.append(mine)
        lies.append([sum(holding[coat]) if coat in holding else 0 for coat in range(coats)])
    for vars_ in same.values():
        if len(vars_) > 1:
            model.add_at_most_one(vars_)
    _decided(model, asked, stacks, allowed, chosen, lies)
    if in_the_mean and asked.mean_limit < asked.worst_delta_e00:
        model.add(
            sum(
                round(_SCALE * share * off * 100) * var
                for share, apart, mine in zip(asked.counted.tolist(), allowed.apart, chosen, strict=True)
                for off, var in zip(apart.tolist(), mine, strict=True)
            )
            <= int(_SCALE * asked.mean_limit * 100)
        )
    if most_coats is not None:
        model.add(sum(used) <= most_coats)
    if aim == "coats":
        model.minimize(sum(used))
    elif aim == "error":
        model.minimize(
            sum(
                round(10 * min(off / leeway, 100.0) ** 4) * var
                for apart, mine, leeway in zip(allowed.apart, chosen, asked.leeway.tolist(), strict=True)
                for off, var in zip(apart.tolist(), mine, strict=True)
            )
        )
    else:
        model.minimize(_edges(model, lies, coats, edges_mm or {}))
    if hint is not None:
        _start_from(model, stacks, allowed, chosen, hint)
    return _solved(model, stacks, allowed, chosen, effort, len(asked.targets))


def _solved(
    model: Any, stacks: Stacks, allowed: Choices, chosen: list[list[Any]], effort: float, colours: int
) -> Solved:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False  # Ctrl-C stays with who runs the job, during and after
    solver.parameters.random_seed = _SEED
    solver.parameters.num_workers = _WORKERS
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return Solved(None, colours, allowed.whole, impossible=True)
    bound = int(np.ceil(solver.best_objective_bound - 1e-6)) if status != cp_model.UNKNOWN else 0
    if status == cp_model.UNKNOWN:
        return Solved(None, bound, False)
    found = []
    for places, mine in zip(allowed.places, chosen, strict=True):
        place = next(int(p) for p, var in zip(places, mine, strict=True) if solver.value(var))
        found.append(tuple(int(m) for m in stacks.members[place] if m >= 0))
    return Solved(tuple(found), bound, status == cp_model.OPTIMAL and allowed.whole)


def _decided(
    model: Any, asked: Asked, stacks: Stacks, allowed: Choices, chosen: list[list[Any]], lies: list[list[Any]]
) -> None:
    """Hold the program to what the printmaker decided."""
    for each in asked.lies:
        if each.yes:
            for over, under in zip(lies[each.over], lies[each.under], strict=True):
                if not isinstance(under, int):
                    model.add(over >= under)
            continue
        above = [
            (frozenset(stacks.members[p].tolist()), var)
            for p, var in zip(allowed.places[each.over].tolist(), chosen[each.over], strict=True)
        ]
        for place, var in zip(allowed.places[each.under].tolist(), chosen[each.under], strict=True):
            held = frozenset(stacks.members[place].tolist()) - {-1}
            clash = [other for members, other in above if members >= held]
            if clash:
                model.add(sum(clash) + var <= 1)


def _edges(model: Any, lies: list[list[Any]], coats: int, edges_mm: Mapping[tuple[int, int], float]) -> Any:
    """The carved edge of all coats: where one prints one side of an edge and not the other."""
    total: Any = 0
    for (one, other), length_mm in edges_mm.items():
        for coat in range(coats):
            first = lies[one][coat] if one >= 0 else 0
            second = lies[other][coat] if other >= 0 else 0
            if isinstance(first, int) and isinstance(second, int):
                continue
            carved = model.new_bool_var("")
            model.add(carved >= first - second)
            model.add(carved >= second - first)
            total += round(length_mm) * carved
    return total


def _start_from(
    model: Any, stacks: Stacks, allowed: Choices, chosen: list[list[Any]], hint: Sequence[Sequence[int]]
) -> None:
    for places, mine, stack in zip(allowed.places, chosen, hint, strict=True):
        wanted = tuple(stack)
        for place, var in zip(places.tolist(), mine, strict=True):
            members = tuple(int(m) for m in stacks.members[place] if m >= 0)
            model.add_hint(var, members == wanted)

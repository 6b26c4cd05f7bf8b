"""The search of overprints: from one ink a colour to the fewest, and what every number in between costs.

Plans are thinned out from one ink a colour (:mod:`blockwright.separation.thinning`); from their inks, and
from those that would give one colour of the design over another, CP-SAT chooses the fewest
(:mod:`blockwright.separation.fewest`), which are fitted and thinned out in turn. In the end it proves how
few of all these inks, as they are mixed then, can do.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from math import comb

import numpy as np
from numpy.typing import NDArray

from blockwright.separation.asked import WITHIN, Asked, Plan
from blockwright.separation.coats import Coat, Paintbox, light_to_dark
from blockwright.separation.fewest import choices, fewest
from blockwright.separation.pool import (
    coat_for,
    coats_between,
    decided_coats,
    distinct,
    first_coats,
    most_useful,
    seen_over,
    useful_first,
)
from blockwright.separation.reaching import Reach, reach_of
from blockwright.separation.stacks import every_stack
from blockwright.separation.thinning import Bench

Values = NDArray[np.float64]

_GIVE_UP_STRAIN = 2.5
"""Thinning ends where the best plan goes so many times beyond the limits."""

_EASY_STRAIN, _KEPT = 0.6, 4
"""Below this strain one plan is followed on, beyond it so many: the best may not be the one to go on from."""

_SLACK = (1.0, 2.0, 1.5, 2.5)
"""How many times the limit stacks may miss while the amounts are not fitted yet."""

_EACH = 150
"""Stacks of each colour, the nearest, that are chosen from while the amounts are not fitted yet."""

_PROOF_EACH = 4000
"""Stacks of each colour that the proof chooses from; with more it holds for the nearest of them only."""

_EFFORT, _PROOF_EFFORT = 1.5, 4.0
"""Solver's time for one choice and for the proof, in its own seconds."""

_GONE_ON_FROM = 10
"""Mixtures that by themselves are taken for grounds of others, the most useful."""

_WORST_GROWN = 3
"""Colours, the worst, that are given an ink of their own to better a plan."""


@dataclass(frozen=True, slots=True)
class Point:
    """One point of the curve: the best plan that was found with so many coats."""

    plan: Plan
    strain: float


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What a search found.

    ``points`` are plans from few coats to many, each nearer the design than all with fewer. ``fewest`` is the
    place of the first that keeps within the limits, None when there is none. ``lower_bound`` is what no plan
    can go below whatever its inks; ``tried_bound`` is how few of the ``tried`` inks, as they are mixed, could
    do, and ``proven`` whether the fewest found are proven to be the fewest of those. ``sketched`` plans are
    those of an earlier search, fitted to other colours; no inks were tried for them. ``reach`` tells of every
    colour how near it can be brought, and with it what the limits are.
    """

    points: tuple[Point, ...]
    fewest: int | None
    lower_bound: int
    tried_bound: int
    tried: int
    proven: bool
    sketched: bool = False
    reach: tuple[Reach, ...] = ()

    def held(self, asked: Asked) -> Asked:
        """The question with the limits that the plans were held to."""
        return within_reach(asked, self.reach)


def within_reach(asked: Asked, reach: Sequence[Reach]) -> Asked:
    """A question that holds colours out of reach to limits of their own."""
    return replace(asked, reach=np.array([each.delta_e00 for each in reach])) if reach else asked


@dataclass(slots=True)
class _Notebook:
    """The best plans for every number of coats, as they are found."""

    bench: Bench
    plans: dict[int, list[Plan]] = field(default_factory=dict)

    def note(self, plans: Iterable[Plan | None]) -> None:
        """Write plans down where they are among the best of their number."""
        for plan in plans:
            if plan is not None and self.bench.asked.keeps(plan.stacks, plan.coats):
                of_this = [*self.plans.get(len(plan.coats), []), plan]
                self.plans[len(plan.coats)] = self.bench.best_of(of_this, keep=_KEPT)

    def thin_out(self, plans: Sequence[Plan | None]) -> None:
        """Note plans and all that come of thinning them out."""
        going = [plan for plan in plans if plan is not None]
        self.note(going)
        while going and len(going[0].coats) > 1 and self._strain(going[0]) <= _GIVE_UP_STRAIN:
            easy = self._strain(going[0]) < _EASY_STRAIN
            going = self.bench.one_less(going, keep=1 if easy else _KEPT)
            self.note(going)

    def _strain(self, plan: Plan) -> float:
        return self.bench.strain(plan)

    def best(self, coats: int) -> Plan | None:
        """The best plan with so many coats."""
        return self.plans[coats][0] if self.plans.get(coats) else None

    def fewest(self) -> Plan | None:
        """The plan with the fewest coats that keeps within the limits."""
        for coats in sorted(self.plans):
            plan = self.best(coats)
            if plan is not None and self._strain(plan) <= WITHIN:
                return plan
        return None

    def nearest(self) -> Plan:
        """The plan that strains the limits least."""
        return min((plans[0] for plans in self.plans.values() if plans), key=self._strain)


def fewest_possible(colours: int, most_layers: int) -> int:
    """Inks below which no plan can go, whatever they are: so few have not enough stacks, one for each colour.

    >>> fewest_possible(14, 4), fewest_possible(15, 4), fewest_possible(15, 1)
    (4, 4, 15)
    """
    coats = 0
    while sum(comb(coats, layers) for layers in range(1, most_layers + 1)) < colours:
        coats += 1
    return coats


def search(asked: Asked, box: Paintbox | None, taken: Sequence[Coat] = ()) -> Found:
    """Search plans for all numbers of coats. ``box`` is None where only coats that are ``taken`` may be used.

    The same question gives the same answer, however busy the machine is.
    """
    start = _first(asked, box, taken)
    reach = reach_of(asked, box, start, taken)
    asked = within_reach(asked, reach)
    bench = Bench(asked, box or Paintbox((), 0.0))
    book = _Notebook(bench)
    literal = bench.settled(start)
    if literal is None:
        least = fewest_possible(len(asked.targets), asked.most_layers)
        return Found((), None, least, 0, len(start), False, reach=reach)
    far = [coat for each, out in zip(reach, asked.out_of_reach, strict=True) if out for coat in each.coats]
    book.thin_out([literal, bench.settled(distinct([*start, *far], asked)) if far else None])
    grounds = _grounds(asked, literal)
    others = distinct([*far, *taken, *_between(asked, box, grounds)], asked)
    for slack in _SLACK:
        best = book.fewest() or book.nearest()
        pool = most_useful(
            asked, light_to_dark(distinct([*best.coats, *start], asked), asked.paper), others, grounds
        )
        book.thin_out([_chosen(bench, pool, slack)])
    _grow(book, box)
    bound, proven, tried = _prove(book, start, others, grounds)
    return replace(_told(book, bound, proven, tried), reach=reach)


def _first(asked: Asked, box: Paintbox | None, taken: Sequence[Coat]) -> list[Coat]:
    """Coats to start from: one for every colour, and those that put one over another as decided."""
    decided = decided_coats(asked, taken)
    if box is None:
        return most_useful(asked, light_to_dark(decided, asked.paper), taken, [asked.paper])
    coats = [*first_coats(asked, box), *decided]
    for each in asked.lies:
        under = coat_for(asked, box, each.under, asked.paper) if each.yes else None
        over = under and coat_for(asked, box, each.over, seen_over(under, asked.paper))
        if over is not None:
            coats.append(over)
    return coats


def _between(asked: Asked, box: Paintbox | None, grounds: Sequence[Values]) -> list[Coat]:
    """Mixtures that give a colour over another, and over the most useful of these by themselves.

    The second find inks that no colour shows, neither alone nor as what one colour has over another.
    """
    if box is None:
        return []
    first = distinct(coats_between(asked, box, grounds[1:]), asked)
    alone = useful_first(asked, first, grounds)[:_GONE_ON_FROM]
    return [*first, *coats_between(asked, box, [seen_over(coat, asked.paper) for coat in alone])]


def _grounds(asked: Asked, plan: Plan) -> list[Values]:
    """The bare paper, and what each colour of a plan reflects."""
    grounds = [asked.paper]
    for stack in plan.stacks:
        seen = asked.paper
        for coat in stack:
            seen = seen_over(plan.coats[coat], seen)
        grounds.append(seen)
    return grounds


def _chosen(bench: Bench, pool: Sequence[Coat], slack: float) -> Plan | None:
    """The plan that CP-SAT chooses of a pool, its amounts then fitted."""
    asked = bench.asked
    stacks = every_stack(pool, asked.paper, asked.most_layers)
    allowed = choices(asked, stacks, within=slack * asked.worst_delta_e00, most_each=_EACH)
    solved = fewest(asked, stacks, len(pool), allowed, effort=_EFFORT, in_the_mean=slack <= 1.0)
    if solved.stacks is None:
        return None
    used = sorted({coat for stack in solved.stacks for coat in stack})
    at_once = bench.fitted(pool, solved.stacks)
    settled = bench.settled([pool[coat] for coat in used])
    return at_once if settled is None or bench.strain(at_once) <= bench.strain(settled) else settled


def _grow(book: _Notebook, box: Paintbox | None) -> None:
    """Better the plans with more coats: the worst colours of a plan get an ink of their own."""
    if box is None:
        return
    asked, bench = book.bench.asked, book.bench
    for coats in range(min(book.plans), len(asked.targets)):
        plan = book.best(coats)
        if plan is None:
            continue
        for colour in np.argsort(-plan.delta_e00 / asked.leeway, kind="stable")[:_WORST_GROWN].tolist():
            own = coat_for(asked, box, colour, asked.paper)
            if own is not None:
                book.note([bench.settled([*plan.coats, own])])


def _prove(
    book: _Notebook, start: Sequence[Coat], others: Sequence[Coat], grounds: Sequence[Values]
) -> tuple[int, bool, int]:
    """How few of the inks tried, as they are mixed now, can do; whether that is proven; how many were tried.

    Where fewer do than were found, they are fitted, thinned out, and the proof is made again, once.
    """
    bench, asked = book.bench, book.bench.asked
    for last in (False, True):
        best = book.fewest() or book.nearest()
        pool = most_useful(asked, best.coats, distinct([*start, *others], asked), grounds)
        stacks = every_stack(pool, asked.paper, asked.most_layers)
        within = asked.worst_delta_e00 + 1e-6
        allowed = choices(asked, stacks, within=within, most_each=_PROOF_EACH)
        solved = fewest(asked, stacks, len(pool), allowed, effort=_PROOF_EFFORT)
        if solved.stacks is None:
            break
        used = {coat for stack in solved.stacks for coat in stack}
        if len(used) >= len(best.coats) or last:
            break
        book.thin_out([bench.fitted(pool, solved.stacks), bench.settled([pool[coat] for coat in used])])
    found = book.fewest()
    proven = found is not None and solved.proven and solved.lower_bound >= len(found.coats)
    return solved.lower_bound, proven, len(pool)


def _told(book: _Notebook, bound: int, proven: bool, tried: int) -> Found:
    asked, bench = book.bench.asked, book.bench
    points: list[Point] = []
    for coats in sorted(book.plans):
        plan = book.best(coats)
        if plan is None:
            continue
        strain = bench.strain(plan)
        if not points or strain < points[-1].strain - 1e-6:
            points.append(Point(plan, strain))
    place = next((k for k, point in enumerate(points) if point.strain <= WITHIN), None)
    least = fewest_possible(len(asked.targets), asked.most_layers)
    return Found(tuple(points), place, least, bound, tried, proven)

"""Overprints of a sketch: the plans of an earlier search, fitted to other colours, until the next is done.

A search takes seconds, fitting the amounts of plans that are known milliseconds. Where nothing was asked
otherwise but for the colours, a sketch keeps their stacks and moves the amounts. Where a colour has gone so
far that the plan misses the limits, its colours find other stacks, or it gets an ink of its own.
"""

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import linear_sum_assignment

from blockwright.colour import delta_e00
from blockwright.colour.passes import MOST_PASSES
from blockwright.model.units import Lab
from blockwright.separation.asked import WITHIN, Lies, Only, Plan
from blockwright.separation.coats import Coat, Paintbox, shelf_coats
from blockwright.separation.pool import coat_for
from blockwright.separation.question import Question, answered
from blockwright.separation.reaching import Reach, reach_of_one
from blockwright.separation.searching import Found, Point, fewest_possible, within_reach
from blockwright.separation.thinning import Bench


@dataclass(frozen=True, slots=True)
class KnownCoat:
    """A coat in plain values: its mixture, or the number of the mixed ink of the shelf that it is."""

    parts: tuple[int, ...]
    shares: tuple[float, ...]
    passes: int
    shelf_number: int | None


@dataclass(frozen=True, slots=True)
class KnownPlan:
    """A plan in plain values: its coats in printing order, and for each colour its stack of them."""

    coats: tuple[KnownCoat, ...]
    stacks: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class KnownPlans:
    """What a search found, in plain values that can be kept.

    ``question`` is a digest of all that was asked but the colours, what lies over what and what is decided to
    print them, which follow. ``fewest`` is the place of the plan with the fewest blocks within the limits;
    ``reach`` tells how near each colour can be brought, and of how many inks that is known.
    """

    question: str
    targets: tuple[Lab, ...]
    lies: tuple[Lies, ...]
    only: tuple[Only, ...]
    plans: tuple[KnownPlan, ...]
    fewest: int | None
    reach: tuple[tuple[float, int], ...] = ()


@dataclass(slots=True)
class Sketchbook:
    """Plans from one separation to the next: those that are known, to sketch from, and those to keep.

    Without any that are known every separation is searched. ``kept`` are the plans of the last search.
    """

    known: KnownPlans | None = None
    kept: KnownPlans | None = None

    def answer(self, question: Question) -> Found:
        """What is found by the plans that are known where they serve, or else by a search."""
        sketched = sketch_from(self.known, question) if self.known is not None else None
        return sketched or answered(question)

    def keep(self, question: Question, found: Found, taken: Point, plan: Plan) -> None:
        """Keep what a search found; ``plan`` is what became of the one that was ``taken``."""
        if found.sketched:
            self.kept = self.known
            return
        plans = [plan if point is taken else point.plan for point in found.points]
        self.kept = KnownPlans(
            _digest(question),
            question.targets,
            question.lies,
            question.only,
            tuple(KnownPlan(tuple(_plainly(coat) for coat in each.coats), each.stacks) for each in plans),
            found.fewest,
            tuple((each.delta_e00, each.tried) for each in found.reach),
        )


def _plainly(coat: Coat) -> KnownCoat:
    return KnownCoat(coat.parts, coat.shares, coat.passes, None if coat.taken is None else coat.taken.number)


def _digest(question: Question) -> str:
    rest = replace(question, targets=(), area=(), lies=(), only=())
    return hashlib.sha256(repr(rest).encode()).hexdigest()


def sketch_from(known: KnownPlans, question: Question) -> Found | None:
    """Plans that are known with their amounts fitted to other colours; None where they do not serve.

    They serve where as many colours were asked for, and all else was asked alike. A plan keeps its stacks
    where the fewest blocks so stay within the limits; otherwise the plans beyond them are bettered.
    """
    if known.question != _digest(question) or len(known.targets) != len(question.targets):
        return None
    before = _same_colours(known.targets, question.targets)
    now = {old: new for new, old in enumerate(before)}
    lies = {Lies(now.get(each.over, -1), now.get(each.under, -1), each.yes) for each in known.lies}
    plans = [_made(each, question, before) for each in known.plans]
    only = {replace(each, colour=now.get(each.colour, -1)) for each in known.only}
    if lies != set(question.lies) or only != set(question.only) or not plans or None in plans:
        return None
    changed = [new for new, old in enumerate(before) if question.targets[new] != known.targets[old]]
    reach = _reach(known, question, before, [coats for coats, _ in (each for each in plans if each)])
    asked = within_reach(question.asked, reach)
    bench = Bench(asked, question.box or Paintbox((), 0.0))
    same = [bench.fitted(coats, stacks) for coats, stacks in (each for each in plans if each)]
    place = known.fewest
    if place is None or not 0 <= place < len(same) or bench.strain(same[place]) > WITHIN:
        same = [*same, *_bettered(bench, question, same, changed)]
    found = _told(bench, [plan for plan in same if asked.keeps(plan.stacks, plan.coats)])
    return found and replace(found, reach=reach)


def _reach(
    known: KnownPlans, question: Question, before: Sequence[int], plans: Sequence[Sequence[Coat]]
) -> tuple[Reach, ...]:
    """How near each colour can be brought: as known where it stayed, else with the inks there are."""
    if len(known.reach) != len(before):
        return ()
    asked, box, found = question.asked, question.box, []
    for new, old in enumerate(before):
        if question.targets[new] == known.targets[old]:
            found.append(Reach(*known.reach[old]))
            continue
        own = coat_for(asked, box, new, asked.paper) if box is not None else None
        start = [*([own] if own is not None else []), *max(plans, key=len)]
        found.append(reach_of_one(asked, box, new, start, shelf_coats(question.pots, range(1, MOST_PASSES))))
    return tuple(found)


def _same_colours(before: Sequence[Lab], now: Sequence[Lab]) -> list[int]:
    """For each colour now its place before: those that stay are themselves, the others the nearest."""
    apart = delta_e00(np.array(now).reshape(-1, 1, 3), np.array(before).reshape(1, -1, 3))
    alike = np.array([[one == other for other in before] for one in now], dtype=np.bool_)
    order: list[int] = linear_sum_assignment(np.where(alike, -1e6, apart))[1].tolist()
    return order


def _made(
    known: KnownPlan, question: Question, before: Sequence[int]
) -> tuple[list[Coat], list[tuple[int, ...]]] | None:
    """Coats and stacks of a plan for the colours in their present order; None where it is none for them."""
    if len(known.stacks) != len(before) or not all(known.stacks):
        return None
    if any(not 0 <= coat < len(known.coats) for stack in known.stacks for coat in stack):
        return None
    coats = [_coat(each, question) for each in known.coats]
    made = [coat for coat in coats if coat is not None]
    return (made, [known.stacks[old] for old in before]) if len(made) == len(coats) else None


def _coat(known: KnownCoat, question: Question) -> Coat | None:
    box = question.box
    if not 1 <= known.passes <= MOST_PASSES or len(known.parts) != len(known.shares):
        return None
    if known.shelf_number is not None:
        pots = [pot for pot in question.pots if pot.number == known.shelf_number]
        return shelf_coats(pots, [known.passes])[0] if pots else None
    if box is None or not all(0 <= part < len(box.pigments) for part in known.parts):
        return None
    if not all(math.isfinite(share) and 0.0 < share <= 1.0 for share in known.shares):
        return None
    return box.coat(known.parts, known.shares, known.passes)


def _bettered(bench: Bench, question: Question, plans: Sequence[Plan], changed: Sequence[int]) -> list[Plan]:
    """Plans beyond the limits with other stacks, and with an ink of its own for each changed colour."""
    asked, box = question.asked, question.box
    own = [coat_for(asked, box, colour, asked.paper) for colour in changed] if box else []
    better: list[Plan | None] = []
    for plan in plans:
        if bench.strain(plan) > WITHIN:
            better.append(bench.settled(plan.coats))
            if own:
                better.append(bench.settled([*plan.coats, *(coat for coat in own if coat is not None)]))
    return [plan for plan in better if plan is not None]


def _told(bench: Bench, plans: Sequence[Plan]) -> Found | None:
    """The best plan of every number of coats, each nearer the design than all with fewer."""
    points: list[Point] = []
    for coats in sorted({len(plan.coats) for plan in plans}):
        best = min((plan for plan in plans if len(plan.coats) == coats), key=bench.strain)
        if not points or bench.strain(best) < points[-1].strain - 1e-6:
            points.append(Point(best, bench.strain(best)))
    if not points:
        return None
    place = next((k for k, point in enumerate(points) if point.strain <= WITHIN), None)
    least = fewest_possible(len(bench.asked.targets), bench.asked.most_layers)
    return Found(tuple(points), place, least, 0, 0, False, sketched=True)

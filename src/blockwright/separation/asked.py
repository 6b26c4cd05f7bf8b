"""What a search of overprints is asked: colours over a paper, how near they are to come, and decisions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.separation.coats import Coat
from blockwright.separation.stacks import Stacks

Values = NDArray[np.float64]

_BEYOND_BEST_DELTA_E00, _BEYOND_BEST_TIMES = 0.5, 1.05
"""What cannot be reached may miss by so much more than the nearest that the inks can [CP]: hardly seen, and
without it a plan would have to spend inks on the last hair of a colour that is missed anyway."""

WITHIN = 1.0 + 1e-9
"""A strain up to this keeps within the limits."""


def beyond_best(best_delta_e00: Values) -> Values:
    """The limit of what can come no nearer than this (CIEDE2000).

    >>> float(beyond_best(np.array(10.0)))
    11.0
    """
    limit: Values = _BEYOND_BEST_TIMES * best_delta_e00 + _BEYOND_BEST_DELTA_E00
    return limit


@dataclass(frozen=True, slots=True)
class Lies:
    """A decision of the printmaker's: one colour is printed over another, or is not; both count colours.

    It lies over it when all that prints the other prints it too.
    """

    over: int
    under: int
    yes: bool


@dataclass(frozen=True, slots=True)
class Only:
    """A decision of the printmaker's on what prints one colour; colours are counted.

    With ``shelf_number`` it is that mixed ink of the shelf, by itself. Otherwise all that prints it is mixed
    from ``pigments`` alone, whose places in the paintbox are ``parts``.
    """

    colour: int
    shelf_number: int | None = None
    pigments: tuple[str, ...] = ()
    parts: tuple[int, ...] = ()

    def allows(self, coat: Coat) -> bool:
        """Whether a coat may print the colour."""
        if self.shelf_number is not None:
            return coat.taken is not None and coat.taken.number == self.shelf_number
        if coat.taken is not None:
            known = [part.pigment for part in coat.taken.parts]
            return bool(known) and set(known) <= set(self.pigments)
        return set(coat.parts) <= set(self.parts)


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """The question.

    ``paper`` is its reflectance, (36,); ``targets`` are the colours as CIELAB, (colours, 3), and ``area``
    their part of all that is printed. ``limit_delta_e00`` holds for the mean over the area,
    ``worst_delta_e00`` for every colour; ``most_layers`` is how many passes may lie over one spot.
    ``reach`` is how near the inks at hand can come to each colour, (colours,), None where all are taken to be
    within reach. A colour out of reach has a limit of its own, a little beyond its reach, and is left out of
    the mean, so that the others are held to what is asked.
    """

    paper: Values
    targets: Values
    area: Values
    limit_delta_e00: float
    worst_delta_e00: float
    most_layers: int
    lies: tuple[Lies, ...] = ()
    only: tuple[Only, ...] = ()
    reach: Values | None = None

    @property
    def out_of_reach(self) -> NDArray[np.bool_]:
        """Which colours no inks at hand bring within the limit of the worst, (colours,)."""
        if self.reach is None:
            return np.zeros(len(self.targets), dtype=np.bool_)
        beyond: NDArray[np.bool_] = self.reach > self.worst_delta_e00
        return beyond

    @property
    def limits(self) -> Values:
        """How far each colour may be missed, (colours,)."""
        usual = np.full(len(self.targets), self.worst_delta_e00)
        if self.reach is None:
            return usual
        own: Values = np.where(self.out_of_reach, beyond_best(self.reach), usual)
        return own

    @property
    def leeway(self) -> Values:
        """How many times the limit of the worst each colour may be missed, (colours,); 1 within reach."""
        return self.limits / self.worst_delta_e00

    @property
    def counted(self) -> Values:
        """The part that each colour has in the mean, (colours,): none where it is out of reach."""
        if not self.out_of_reach.any():
            return self.area
        kept = np.where(self.out_of_reach, 0.0, self.area)
        shares: Values = kept / kept.sum() if kept.any() else kept
        return shares

    @property
    def mean_limit(self) -> float:
        """How far the mean of the colours within reach may miss: as asked, or as near as it can come."""
        if self.reach is None or float(self.counted @ self.reach) <= self.limit_delta_e00:
            return self.limit_delta_e00
        return float(beyond_best(self.counted @ self.reach))

    def strain(self, apart: Values) -> float:
        """How far a plan goes to its limits: 1 is just within both."""
        if not len(apart):
            return 0.0
        mean = float(self.counted @ apart)
        return max(mean / self.mean_limit, float((apart / self.limits).max()))

    def only_of(self, colour: int) -> Only | None:
        """What is decided to print a colour."""
        return next((each for each in self.only if each.colour == colour), None)

    def may_print(self, colour: int, stacks: Stacks) -> NDArray[np.bool_] | None:
        """Which stacks may print a colour, (stacks,); None where nothing is decided."""
        only = self.only_of(colour)
        if only is None:
            return None
        allowed = np.array([*(only.allows(coat) for coat in stacks.coats), True])  # the last is no coat
        whole: NDArray[np.bool_] = np.asarray(allowed[stacks.members].all(axis=1))
        if only.shelf_number is not None:
            whole &= np.count_nonzero(stacks.members >= 0, axis=1) == 1
        return whole

    def keeps(self, stacks: Sequence[tuple[int, ...]], coats: Sequence[Coat] = ()) -> bool:
        """Whether stacks of coats, one a colour, are as the printmaker decided and no two are the same."""
        held = [frozenset(stack) for stack in stacks]
        if len(set(held)) < len(held):
            return False
        for only in self.only if coats else ():
            stack = stacks[only.colour]
            if not all(only.allows(coats[coat]) for coat in stack):
                return False
            if only.shelf_number is not None and len(stack) > 1:
                return False
        return all((held[each.over] >= held[each.under]) == each.yes for each in self.lies)


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Coats in printing order, and for each colour the places of those that print it, the lowest first."""

    coats: tuple[Coat, ...]
    stacks: tuple[tuple[int, ...], ...]
    lab: Values
    delta_e00: Values

    @property
    def blocks(self) -> int:
        """Different faces that are carved: coats that print the very same colours share one."""
        return len(set(self.patterns))

    @property
    def patterns(self) -> tuple[tuple[int, ...], ...]:
        """The colours that each coat prints."""
        return tuple(
            tuple(colour for colour, stack in enumerate(self.stacks) if coat in stack)
            for coat in range(len(self.coats))
        )

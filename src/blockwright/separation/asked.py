"""What a search of overprints is asked: colours over a paper, how near they are to come, and decisions."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.separation.coats import Coat

Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lies:
    """A decision of the printmaker's: one colour is printed over another, or is not; both count colours.

    It lies over it when all that prints the other prints it too.
    """

    over: int
    under: int
    yes: bool


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """The question.

    ``paper`` is its reflectance, (36,); ``targets`` are the colours as CIELAB, (colours, 3), and ``area``
    their part of all that is printed. ``limit_delta_e00`` holds for the mean over the area,
    ``worst_delta_e00`` for every colour; ``most_layers`` is how many passes may lie over one spot.
    """

    paper: Values
    targets: Values
    area: Values
    limit_delta_e00: float
    worst_delta_e00: float
    most_layers: int
    lies: tuple[Lies, ...] = ()

    def strain(self, apart: Values) -> float:
        """How far a plan goes to its limits: 1 is just within both."""
        if not len(apart):
            return 0.0
        mean = float(self.area @ apart)
        return max(mean / self.limit_delta_e00, float(apart.max()) / self.worst_delta_e00)

    def keeps(self, stacks: tuple[tuple[int, ...], ...]) -> bool:
        """Whether stacks, one a colour, are as the printmaker decided and no two are the same."""
        held = [frozenset(stack) for stack in stacks]
        if len(set(held)) < len(held):
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

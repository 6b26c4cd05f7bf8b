"""How a block lies on the machine: as its carver sees it, or turned by a quarter; and whether it fits."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from blockwright.cutting.reading_program import ProgramMoves
from blockwright.model.findings import Facts, Finding
from blockwright.model.router import RAPID, Machine, Run
from blockwright.model.units import Region

_WITHIN_MM = 1e-6
"""What a sum of thousandths may be off."""

_LEAST_SAFE_MM = 2.0
"""Lower than this above the face no bit should travel [CP]."""


@dataclass(frozen=True, slots=True)
class Lying:
    """A block of a width and a height (mm) on the machine, as its carver sees it or turned by a quarter.

    Moves are planned and looked at for the block as its carver sees it: from its lower left corner, x to the
    right, y away. Turned by a quarter to the left, seen from above, the block has its upper edge at the
    machine's left and its upper left corner where the program has its zero. It is turned and never mirrored:
    arcs go round the same way, and what was climb cutting still is.

    >>> Lying(400.0, 300.0, quarter_turn=True).size_mm
    (300.0, 400.0)
    """

    width_mm: float
    height_mm: float
    quarter_turn: bool = False

    @classmethod
    def of(cls, block: Region, *, quarter_turn: bool) -> "Lying":
        """How a block of this outline lies."""
        left, top, right, bottom = block.bounds
        return cls(right - left, bottom - top, quarter_turn)

    @property
    def size_mm(self) -> tuple[float, float]:
        """How far the block reaches along the machine's x and y."""
        return (self.height_mm, self.width_mm) if self.quarter_turn else (self.width_mm, self.height_mm)

    def on_machine(self, run: Run) -> Run:
        """A run that was planned for the block as its carver sees it, as the machine is to make it."""
        if not self.quarter_turn:
            return run
        moves = run.moves
        x, y, z = moves.start
        # Above the work a run begins where it did, at the zero, and not at the corner that was the zero.
        from_above = len(moves) and moves.kind[0] == RAPID and z > 0.0
        turned = replace(
            moves,
            start=moves.start if from_above else (self.height_mm - y, x, z),
            end=self._turned(moves.end),
            centre=self._turned(moves.centre),
        )
        return replace(run, moves=turned)

    def off_machine(self, moves: ProgramMoves) -> ProgramMoves:
        """The moves of a program as they are on the block that its carver sees: :meth:`on_machine` back."""
        if not self.quarter_turn:
            return moves
        return replace(
            moves, start=self._back(moves.start), end=self._back(moves.end), centre=self._back(moves.centre)
        )

    def _turned(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places (n, 2 or 3) turned to the left; heights stay."""
        along = places.copy()
        along[:, 0], along[:, 1] = self.height_mm - places[:, 1], places[:, 0]
        return along

    def _back(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        along = places.copy()
        along[:, 0], along[:, 1] = places[:, 1], self.height_mm - places[:, 0]
        return along


def beyond_the_machine(
    programs: Sequence[ProgramMoves], face: str, lying: Lying, machine: Machine
) -> list[Finding]:
    """Say where programs move farther than a machine reaches, and whether turning the block would do.

    ``programs``, none without a move, are as on the block that its carver sees. The findings are about how
    far they move on the machine, ``x_mm``, ``y_mm`` and ``z_mm``, and what would do: ``quarter_turn`` 1 to
    turn the block, 0 to lay it as it is carved; ``safe_mm`` to travel at.
    """
    low = np.min([np.minimum(each.start.min(axis=0), each.end.min(axis=0)) for each in programs], axis=0)
    high = np.max([np.maximum(each.start.max(axis=0), each.end.max(axis=0)) for each in programs], axis=0)
    across, away, height = (high - low).tolist()
    spans = (away, across) if lying.quarter_turn else (across, away)
    told: list[tuple[str, Facts]] = []
    if not _fits(spans, machine):
        told.append(_too_far(face, spans, lying, machine))
    if height > machine.reach_mm[2] + _WITHIN_MM:
        words = (
            f"On the face {face} the program moves {height:.1f} mm up and down; the machine {machine.name} "
            f"reaches {machine.reach_mm[2]:g} mm along z. Clear less deep, travel lower above the face, or "
            "take another machine."
        )
        lower_mm = math.floor(10.0 * (machine.reach_mm[2] + float(low[2]))) / 10.0
        told.append((words, (("safe_mm", lower_mm),) if lower_mm >= _LEAST_SAFE_MM else ()))
    return [
        Finding(
            code="program-beyond-the-machine",
            severity="stop",
            message=words,
            about=(
                ("face", face),
                ("machine", machine.name),
                *zip(("x_mm", "y_mm", "z_mm"), (round(span, 3) for span in (*spans, height)), strict=True),
                *would_do,
            ),
        )
        for words, would_do in told
    ]


def _fits(spans: tuple[float, float], machine: Machine) -> bool:
    return all(span <= reach + _WITHIN_MM for span, reach in zip(spans, machine.reach_mm, strict=False))


def _too_far(face: str, spans: tuple[float, float], lying: Lying, machine: Machine) -> tuple[str, Facts]:
    """What is said of a block that does not fit as it lies, and the setting that would do."""
    x, y, _ = machine.reach_mm
    moves = f"On the face {face} the program moves {spans[0]:.1f} mm along x and {spans[1]:.1f} mm along y"
    reaches = f"the machine {machine.name} reaches {x:g} and {y:g} mm"
    if not _fits(spans[::-1], machine):
        short, long = sorted(spans)
        too_much = [
            f"{span:.1f} mm"
            for span, most in ((long, max(x, y)), (short, min(x, y)))
            if span > most + _WITHIN_MM
        ]
        words = f"{' and '.join(too_much)} {'is' if len(too_much) == 1 else 'are'} too much"
        return f"{moves}; {reaches}, so {words}, turned or not. Take another machine.", ()
    turn = not lying.quarter_turn
    fits = "Turned by a quarter it fits" if turn else "Laid down as it is carved, not turned, it fits"
    value = f"quarter_turn = {str(turn).lower()}"
    return (
        f"{moves}; {reaches}. {fits}: in print.toml write {value} under [[cutting.face]] with "
        f'face = "{face}", or under [cutting.router] for all faces, and run blockwright make.',
        (("quarter_turn", int(turn)),),
    )

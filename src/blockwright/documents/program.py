"""Programs for a router in RS274/NGC words (ISO 6983): what the bits do, as text that a machine reads.

Millimetres (G21), absolute (G90), in the level plane (G17). Zero is the lower left corner of the block as it
lies on the machine, on the top face. Words that stay as they were are left out. The same moves give the same
bytes.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from textwrap import wrap

import numpy as np
from numpy.typing import NDArray

from blockwright.documents.decimals import decimal_signs
from blockwright.geometry.arc_fitting import fit_arcs, split_arcs
from blockwright.geometry.ways_back import leads_back
from blockwright.model.errors import ProgramError
from blockwright.model.router import CLOCKWISE, CUT, RAPID, Bit, Machine, Moves, Run

COMMENT_WIDTH = 70
"""Letters in a line of comment: controllers take lines of 80 [CP]."""

RAMP_FEED_STEP = 10.0
"""Feeds of ramps are rounded down to such steps, mm a minute, so that not every line names its own [CP]."""

AIR_CUT_MM = 10.0
"""How high above the face the lowest move of an air cut passes, mm [CP]."""

CAUTIONS = (
    "Wear eye and ear protection. Hold the work down firmly, keep everybody out of reach, and cut in the "
    "air first.",
    "Collect wood dust where it arises and do not breathe it: OSHA 15 mg/m3 in all and 5 respirable, "
    "NIOSH 1; a carcinogen, IARC Group 1, from memory.",
    "Local codes, the makers' data sheets and trained practice come before anything that stands here.",
    "This program was checked only for what the job sheet names. Nobody has said that it is safe: that is "
    "for the person at the machine to judge.",
)
"""What every program carries."""


_SIGNS = {
    ord(sign): plain
    for sign, plain in (("(", "["), (")", "]"), ("·", "."), ("×", "x"), ("–", "-"), ("—", "-"), ("°", " deg"))
}
"""Signs that a comment cannot hold, or that not every machine shows, and what stands for them."""


@dataclass(frozen=True, slots=True)
class ProgramFacts:
    """What the header of a program says: the print's title, the face, the wood and the block's size.

    Width and height are as the block lies on the machine; ``quarter_turn``: turned to the left.
    """

    title: str
    face: str
    wood: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    quarter_turn: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Program:
    """A program as text, and the bits that it uses, in their order."""

    bits: tuple[Bit, ...]
    text: str


def write_program(
    runs: Sequence[Run], machine: Machine, facts: ProgramFacts, *, air_cut_mm: float | None = None
) -> tuple[Program, ...]:
    """Write what runs do, as one program, or one for each bit where the machine cannot change bits.

    Where the machine takes arcs, they are put in the place of straight moves that lie on one within 0.005 mm;
    where not, arcs become straight moves. ``air_cut_mm`` writes the same moves so high above the face that
    the lowest passes at that height, with the spindle standing still.

    Raises ProgramError where a feed or speed is not above zero or a move is no number.
    """
    for run in runs:
        _check_run(run)
    if not runs:
        return ()
    lowest = min(min(float(run.moves.end[:, 2].min(initial=0.0)), run.moves.start[2]) for run in runs)
    raised = 0.0 if air_cut_mm is None else round(air_cut_mm - min(lowest, 0.0), 3)
    parts = [list(runs)]
    if not machine.tool_change:
        parts = [list(part) for _, part in groupby(runs, key=lambda run: run.bit.number)]
    written = []
    for number, part in enumerate(parts, start=1):
        bits = tuple(dict.fromkeys(run.bit for run in part))
        which = f"{number} of {len(parts)}" if len(parts) > 1 else ""
        lines = _Lines(machine, raised, spindle=air_cut_mm is None)
        lines.header(facts, bits, which, air_cut_mm)
        for run in part:
            lines.run(run)
        lines.finish()
        written.append(Program(bits=bits, text="\n".join(lines.lines) + "\n"))
    return tuple(written)


def _check_run(run: Run) -> None:
    if not (run.feed_mm_min >= 1.0 and run.plunge_mm_min >= 1.0 and run.rpm >= 1.0):
        raise ProgramError(
            f'The run "{run.what}" with the bit {run.bit.name} has a feed of {run.feed_mm_min:g} and '
            f"{run.plunge_mm_min:g} mm a minute at {run.rpm:g} turns; all three must be 1 or more."
        )
    if not (np.isfinite(run.moves.end).all() and np.isfinite(run.moves.start).all()):
        raise ProgramError(f'The run "{run.what}" with the bit {run.bit.name} has a move that is no number.')


class _Lines:
    """A program as it grows, with what the machine already knows: where it is, its feed, speed and bit."""

    def __init__(self, machine: Machine, raised_mm: float, *, spindle: bool) -> None:
        self.lines: list[str] = []
        self._machine, self._raised, self._spindle = machine, raised_mm, spindle
        self._safe = _thousandths(machine.safe_mm + raised_mm)
        self._at: tuple[int, int, int] | None = None
        self._high = False
        self._motion = self._feed = self._rpm = -1
        self._bit: int | None = None

    def header(self, facts: ProgramFacts, bits: Sequence[Bit], which: str, air_cut_mm: float | None) -> None:
        """What a person at the machine has to know before it moves."""
        said = [f"Blockwright: {facts.title}", f"Face: {facts.face}"]
        if which:
            said.append(f"Program {which} for this face, one for each bit, in this order")
        if air_cut_mm is not None:
            said.append(
                f"AIR CUT: the spindle is not started. All moves are raised by {self._raised:g} mm; the "
                f"lowest passes {air_cut_mm:g} mm above the face."
            )
        said += [f"Bit T{bit.number}: {_bit_words(bit)}" for bit in bits]
        if facts.quarter_turn:
            said.append(
                "TURNED: lay the block down turned by a quarter to the left, seen from above: the upper edge "
                "of the face lies at the left of the machine."
            )
        zero = "block's lower left corner"
        if facts.quarter_turn:
            zero = "lower left corner of the block as it lies there, the face's upper left one,"
        said += [
            f"Zero: the {zero} on the top face. X to the right, Y away from you, Z up. Millimetres.",
            f"Stock: {facts.wood}, {facts.width_mm:g} x {facts.height_mm:g} x {facts.thickness_mm:g} mm",
            f"Machine: {self._machine.name}. Safe height: {self._machine.safe_mm + self._raised:g} mm above "
            "the face",
            *facts.notes,
            *CAUTIONS,
        ]
        for words in said:
            self.lines += [f"({line})" for line in wrap(_plain(words), COMMENT_WIDTH)]
        self.lines += [*self._machine.begin, "G17 G21 G90"]

    def run(self, run: Run) -> None:
        """One run: its bit and speed, the way to where it begins, and its moves."""
        self.lines.append(f"({_plain(run.bit.name)}: {_plain(run.what)})")
        self._take(run.bit)
        if self._at is None and not self._high:
            self._up()  # first of all: the bit may still stand on the wood
        if self._spindle and round(run.rpm) != self._rpm:
            self._rpm = round(run.rpm)
            self.lines.append(f"S{self._rpm} M3")
        moves = fit_arcs(run.moves) if self._machine.arcs else split_arcs(run.moves)
        self._go_to(moves.start, run)
        self._moves(moves, run)

    def finish(self) -> None:
        """Up, spindle off, the user's own end, end of the program."""
        self._up()
        self.lines += ["M5", *self._machine.end]
        ends = [word for line in self._machine.end for word in line.upper().split()]
        if not {"M2", "M02", "M30"} & set(ends):
            self.lines.append("M30")

    def _take(self, bit: Bit) -> None:
        if bit.number == self._bit:
            return
        if self._machine.tool_change:
            if self._bit is not None:
                self._up()
                self.lines.append("M5")
            self.lines.append(f"T{bit.number} M6")
            # A changer moves as it likes: nothing is taken for granted after it.
            self._at, self._high, self._motion, self._rpm = None, False, -1, -1
        else:
            self.lines.append(f"T{bit.number}")
        self._bit = bit.number

    def _up(self) -> None:
        """To the safe height, unless the bit is there or higher."""
        if self._high or (self._at is not None and self._at[2] >= self._safe):
            return
        self._line(RAPID, z=self._safe)
        if self._at is None:
            self._high = True
        else:
            self._at = (self._at[0], self._at[1], self._safe)

    def _go_to(self, start: tuple[float, float, float], run: Run) -> None:
        x, y, z = (_thousandths(start[0]), _thousandths(start[1]), _thousandths(start[2] + self._raised))
        if self._at == (x, y, z):
            return
        self._up()
        height = self._safe if self._at is None else self._at[2]
        self._line(RAPID, x=x, y=y)
        if z < height:
            self._line(CUT, z=z, feed=round(run.plunge_mm_min))
        elif z > height:
            self._line(RAPID, z=z)
        self._at, self._high = (x, y, z), False

    def _line(
        self, motion: int, *, x: int | None = None, y: int | None = None, z: int | None = None, feed: int = 0
    ) -> None:
        """A straight move, its axes in thousandths."""
        words = f"G{motion}" if motion != self._motion else ""
        axes = (("X", x), ("Y", y), ("Z", z))
        words += "".join(f"{axis}{_decimal(to)}" for axis, to in axes if to is not None)
        if feed and feed != self._feed:
            words, self._feed = words + f"F{feed}", feed
        self._motion = motion
        self.lines.append(words)

    def _moves(self, moves: Moves, run: Run) -> None:
        """All moves of a run; those that thousandths do not tell apart are left out."""
        assert self._at is not None
        end = np.rint(moves.end * 1000.0).astype(np.int64).reshape(-1, 3)
        end[:, 2] += _thousandths(self._raised)
        begin = np.concatenate([np.array([self._at], dtype=np.int64), end[:-1]])
        centre = np.rint(moves.centre * 1000.0).astype(np.int64).reshape(-1, 2)
        goes = (end != begin).any(axis=1)
        if not goes.any():
            return
        kind, begin, end, centre = moves.kind[goes].astype(np.int64), begin[goes], end[goes], centre[goes]
        feed = _feeds(run, kind, begin, end)
        # A move above the work leaves the feed as it was.
        cuts = np.flatnonzero(kind != RAPID)
        named = np.zeros(len(kind), dtype=np.bool_)
        named[cuts] = feed[cuts] != np.concatenate([[self._feed], feed[cuts][:-1]])[: len(cuts)]
        turns = kind >= CLOCKWISE
        columns = [_word("G", kind * 1000, kind != np.concatenate([[self._motion], kind[:-1]]))]
        columns += [_word(axis, end[:, k], end[:, k] != begin[:, k]) for k, axis in enumerate("XYZ")]
        columns += [_word(axis, centre[:, k] - begin[:, k], turns) for k, axis in enumerate("IJ")]
        columns += [_word("F", feed * 1000, named), np.full((len(kind), 1), ord("\n"), dtype=np.uint8)]
        rows = np.concatenate(columns, axis=1)
        self.lines.append(rows[rows != 0].tobytes().decode("ascii").removesuffix("\n"))
        x, y, z = (int(value) for value in end[-1])
        self._at, self._motion = (x, y, z), int(kind[-1])
        self._feed = int(feed[cuts[-1]]) if len(cuts) else self._feed


def _word(letter: str, thousandths: NDArray[np.int64], said: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """A word for every line that says it: rows of signs, 0 where there is none."""
    if not said.any():
        return np.zeros((len(said), 0), dtype=np.uint8)
    numbers = decimal_signs(np.where(said, thousandths, 0))
    rows = np.concatenate([np.full((len(said), 1), ord(letter), dtype=np.uint8), numbers], axis=1)
    rows[~said] = 0
    return rows


def _feeds(
    run: Run, kind: NDArray[np.int64], begin: NDArray[np.int64], end: NDArray[np.int64]
) -> NDArray[np.int64]:
    """The feed of each move (n, 3): on a way down into wood no faster than the plunge allows along z.

    A way down that the bit came up by before is open.
    """
    way = (end - begin).astype(np.float64)
    down = np.maximum(-way[:, 2], 0.0)
    steep = run.plunge_mm_min * np.linalg.norm(way, axis=1) / np.maximum(down, 1e-9)
    steps = np.maximum(steep // RAMP_FEED_STEP * RAMP_FEED_STEP, np.minimum(steep, RAMP_FEED_STEP))
    upright = (way[:, :2] == 0).all(axis=1)
    slow = (down > 0) & (kind == CUT)
    slow &= ~leads_back(begin, end, kind == CUT, slow)
    feed = np.where(slow, np.where(upright, steep, steps), np.inf)
    return np.maximum(np.rint(np.minimum(feed, run.feed_mm_min)), 1.0).astype(np.int64)


def _thousandths(value: float) -> int:
    return round(value * 1000.0)


def _decimal(thousandths: int) -> str:
    """Thousandths as a decimal without idle zeros.

    >>> _decimal(-1500), _decimal(12), _decimal(3000), _decimal(0)
    ('-1.5', '0.012', '3', '0')
    """
    whole, rest = divmod(abs(thousandths), 1000)
    sign = "-" if thousandths < 0 else ""
    return f"{sign}{whole}.{rest:03d}".rstrip("0") if rest else f"{sign}{whole}"


def _bit_words(bit: Bit) -> str:
    angle = f", {bit.angle_deg:g} degrees" if bit.angle_deg else ""
    tip = f", tip {bit.tip_mm:g} mm" if bit.tip_mm else ""
    return (
        f"{bit.name}: {bit.kind}, {bit.diameter_mm:g} mm{angle}{tip}, {bit.flutes} flutes, cuts "
        f"{bit.cutting_mm:g} mm deep"
    )


def _plain(words: str) -> str:
    """Words as a comment may hold them: no brackets of its own, and letters that every machine shows.

    >>> _plain("Tide (mill) · Grün")
    'Tide [mill] . Grun'
    """
    swapped = words.translate(_SIGNS)
    letters = unicodedata.normalize("NFKD", swapped)
    kept = "".join(
        each if 32 <= ord(each) < 127 else "?" for each in letters if not unicodedata.combining(each)
    )
    return " ".join(kept.split())

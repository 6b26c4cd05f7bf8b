"""Reads a router program back from its text, strictly, without knowing how it was written.

The words are the part of RS274/NGC (NIST 2000; ISO 6983) that a program for a block needs: millimetres,
absolute, in the level plane, straight moves, and arcs by their centres. Whatever else stands in a program is
refused with its line, for what is not understood cannot be checked. Words that do not move the bit (coolant,
pauses, the work's offset) may stand in the user's own text.
"""

from dataclasses import dataclass
from math import hypot

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.model.errors import ProgramError
from blockwright.model.router import CLOCKWISE, RAPID

RADII_DIFFER_MM = 0.002
"""How far the two radii of an arc may differ, mm [pub: NIST RS274/NGC 2000]."""

_IDLE_G = (17.0, 21.0, 40.0, 49.0, 54.0, 61.0, 64.0, 80.0, 90.0, 91.1, 94.0, 4.0, 43.0)
_IDLE_M = (0.0, 1.0, 2.0, 3.0, 5.0, 6.0, 7.0, 8.0, 9.0, 30.0)

_UNKNOWN, _TWICE, _NUMBER, _OPEN, _INCHES, _PLANE, _RELATIVE, _COMPUTES = 1, 2, 3, 4, 5, 6, 7, 8
_NO_MOTION, _CENTRE, _NO_CENTRE, _HELIX, _RADII, _FEED, _NO_UNIT, _NO_ABSOLUTE = 9, 10, 11, 12, 13, 14, 15, 16
_SPINDLE, _NOWHERE, _TOOL, _NO_END, _BY_RADIUS, _BACKWARDS, _TWO_MOTIONS = 17, 18, 19, 20, 21, 22, 23

_MOTION, _UNIT, _ABSOLUTE, _TURNING, _ENDED, _SELECTED, _BIT, _CHANGES = range(8)
"""What stays from line to line."""

_MOTIONS, _G4, _G43, _G64, _CHANGE, _STOP = range(6)
"""What holds for one line."""

_SAID = {
    _UNKNOWN: "the word {word} is none of those that are read here: G0 to G4, G17, G21, G40, G43, G49, G54, "
    "G61, G64, G80, G90, G91.1, G94, M0 to M3, M5 to M9, M30, and X Y Z I J F S T, each where it belongs",
    _TWICE: "the word {letter} stands there twice",
    _NUMBER: "{letter} is not followed by a number",
    _OPEN: "a comment is not closed",
    _INCHES: "G20 asks for inches; only millimetres (G21) are read",
    _PLANE: "{word} chooses an upright plane; only the level one (G17) is read",
    _RELATIVE: "{word} asks for relative places; only absolute ones (G90, and centres as G91.1) are read",
    _COMPUTES: "a number is computed there; only plain numbers are read",
    _NO_MOTION: "it names a place and no way to get there (G0, G1, G2 or G3)",
    _CENTRE: "I and J belong to arcs (G2, G3) only",
    _NO_CENTRE: "an arc needs its end (X or Y) and its centre (I or J)",
    _HELIX: "an arc changes its height; only level arcs are read",
    _RADII: "the arc's two radii differ by {value:.4f} mm; 0.002 mm is allowed",
    _FEED: "it cuts with a feed of {value:g}; a feed is above zero",
    _NO_UNIT: "it moves before the unit is named (G21)",
    _NO_ABSOLUTE: "it moves before places are called absolute (G90)",
    _SPINDLE: "it cuts while the spindle stands still (S above zero, and M3)",
    _NOWHERE: "it cuts before the program has said where X, Y and Z are",
    _TOOL: "it moves, or changes the bit, before a bit is named (T)",
    _NO_END: "the program has no end (M30 or M2)",
    _BY_RADIUS: "it names an arc by its radius (R); only arcs by their centre (I, J) are read",
    _BACKWARDS: "M4 turns the bit backwards",
    _TWO_MOTIONS: "two ways of moving stand in one line",
}


@dataclass(frozen=True, slots=True, eq=False)
class ProgramMoves:
    """The moves of a program, one a row, as far as they move: n moves in the order of the text.

    ``line`` (n,) counts from 1; ``tool`` (n,) the bit's number; ``kind`` (n,) as in
    :mod:`blockwright.model.router`; ``start`` and ``end`` (n, 3), ``centre`` (n, 2) mm; ``feed`` (n,)
    mm a minute; ``rpm`` (n,), 0 where the spindle stands. ``changes`` counts the bits put in.
    """

    line: NDArray[np.int32]
    tool: NDArray[np.int32]
    kind: NDArray[np.uint8]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    centre: NDArray[np.float64]
    feed: NDArray[np.float64]
    rpm: NDArray[np.float64]
    changes: int

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def tools(self) -> tuple[int, ...]:
        """The bits' numbers, in the order in which they first move."""
        return tuple(dict.fromkeys(self.tool.tolist()))


def read_program(text: str, *, air_cut: bool = False) -> ProgramMoves:
    """Read a program; ``air_cut``: the spindle may stand still.

    Where no bit is ever changed (M6), the one that T names is in the spindle. Moves before X, Y and Z have
    all been named are left out, for nobody knows where they begin. Raises ProgramError, which names the
    line, at the first word that is not understood and the first move that cannot be made.

    >>> moves = read_program("G21 G90 T1 S9000 M3\\nG0 X0 Y0 Z5\\nG1 Z-1.5 F300\\nX10\\nG0 Z5\\nM30")
    >>> moves.kind.tolist(), moves.end[2].tolist(), moves.feed.tolist()
    ([1, 1, 0], [10.0, 0.0, 5.0], [300.0, 300.0, 300.0])
    >>> read_program("G21 G90 T1 S9000 M3\\nG0 X0 Y0 Z5\\nG1 Z-1 F0\\nM30")
    Traceback (most recent call last):
    ...
    blockwright.model.errors.ProgramError: Line 3 of the program: it cuts with a feed of 0; a feed is above
    zero ("G1 Z-1 F0").
    """
    letters = np.frombuffer(text.encode("utf-8"), dtype=np.uint8)
    room = 1 + int(np.count_nonzero(letters == 10))
    whole = np.zeros((room, 4), dtype=np.int32)
    kind = np.zeros(room, dtype=np.uint8)
    real = np.zeros((room, 10), dtype=np.float64)
    idle_g, idle_m = np.array(_IDLE_G), np.array(_IDLE_M)
    count, wrong, line, letter, value, changes = _read(letters, air_cut, idle_g, idle_m, whole, kind, real)
    if wrong:
        raise ProgramError(_sentence(text, wrong, line, letter, value))
    whole, real = whole[:count], real[:count]
    # Without a change of bits the number that T names is the bit in the spindle.
    tool = whole[:, 1] if changes else whole[:, 2]
    if count and tool.min() <= 0:
        raise ProgramError(_sentence(text, _TOOL, int(whole[int(np.argmin(tool)), 0]), 0, 0.0))
    return ProgramMoves(
        line=whole[:, 0].copy(),
        tool=tool.copy(),
        kind=kind[:count].copy(),
        start=real[:, 0:3].copy(),
        end=real[:, 3:6].copy(),
        centre=real[:, 6:8].copy(),
        feed=real[:, 8].copy(),
        rpm=real[:, 9].copy(),
        changes=int(changes) if changes else int(count > 0),
    )


def _sentence(text: str, wrong: int, line: int, letter: int, value: float) -> str:
    name = chr(letter) if letter else ""
    words = _SAID[wrong].format(word=f"{name}{value:g}", letter=name, value=value)
    if wrong == _NO_END:
        return f"After line {line} of the program: {words}."
    told = text.split("\n")[line - 1].strip()
    told = told if len(told) <= 60 else told[:57] + "..."
    return f'Line {line} of the program: {words} ("{told}").'


@njit(cache=True, nogil=True)
def _number(letters, at):  # type: ignore[no-untyped-def]
    """The plain number that begins at a place, where it ends, and whether there is one."""
    size, sign, digits, value = len(letters), 1.0, 0, 0.0
    while at < size and (letters[at] == 32 or letters[at] == 9):
        at += 1
    if at < size and (letters[at] == 43 or letters[at] == 45):
        sign = -1.0 if letters[at] == 45 else 1.0
        at += 1
    while at < size and 48 <= letters[at] <= 57:
        value = value * 10.0 + (letters[at] - 48)
        at += 1
        digits += 1
    if at < size and letters[at] == 46:
        at += 1
        part, scale = 0.0, 1.0
        while at < size and 48 <= letters[at] <= 57:
            part, scale = part * 10.0 + (letters[at] - 48), scale * 10.0
            at += 1
            digits += 1
        value += part / scale
    return sign * value, at, digits > 0


@njit(cache=True, nogil=True)
def _words(letters, at, word, named, codes):  # type: ignore[no-untyped-def]
    """Read one line's words; return where the next line begins, how many codes, and what is wrong where.

    ``word`` holds the value of every letter but G and M, ``named`` whether it stands there; ``codes`` the G
    and M words as (letter, value).
    """
    named[:] = False
    count, size = 0, len(letters)
    while at < size:
        letter = letters[at]
        if letter == 10:
            return at + 1, count, 0, 0, 0.0
        if letter in {32, 9, 13, 37}:
            at += 1
            continue
        if letter == 59:
            while at < size and letters[at] != 10:
                at += 1
            continue
        if letter == 40:
            while at < size and letters[at] not in {41, 10}:
                at += 1
            if at >= size or letters[at] == 10:
                return at, count, _OPEN, 0, 0.0
            at += 1
            continue
        if letter in {91, 35}:
            return at, count, _COMPUTES, 0, 0.0
        if 97 <= letter <= 122:
            letter -= 32
        if letter < 65 or letter > 90:
            return at, count, _NUMBER, letter if letter < 127 else 63, 0.0
        after = at + 1
        while after < size and letters[after] == 32:
            after += 1
        if after < size and letters[after] in {91, 35}:
            return at, count, _COMPUTES, 0, 0.0
        value, at, is_number = _number(letters, after)
        if not is_number:
            return at, count, _NUMBER, letter, 0.0
        if letter in {71, 77}:
            if count < len(codes):
                codes[count, 0], codes[count, 1] = letter, value
                count += 1
        else:
            if named[letter - 65]:
                return at, count, _TWICE, letter, value
            named[letter - 65], word[letter - 65] = True, value
    return at, count, 0, 0, 0.0


@njit(cache=True, nogil=True)
def _code(letter, value, idle_g, idle_m):  # type: ignore[no-untyped-def]
    """What is wrong with a G or M word by itself."""
    if letter == 71:
        if value == 20.0:
            return _INCHES
        if value in {18.0, 19.0}:
            return _PLANE
        if value in {91.0, 90.1}:
            return _RELATIVE
        if value in {0.0, 1.0, 2.0, 3.0}:
            return 0
        return 0 if (np.abs(idle_g - value) < 1e-6).any() else _UNKNOWN
    if value == 4.0:
        return _BACKWARDS
    return 0 if (np.abs(idle_m - value) < 1e-6).any() else _UNKNOWN


@njit(cache=True, nogil=True)
def _stray(named, word, g4, g43, g64, arc):  # type: ignore[no-untyped-def]
    """The first letter that does not belong in its line, and its kind of wrong."""
    for k in range(26):
        if not named[k]:
            continue
        letter = k + 65
        if letter in {88, 89, 90, 70, 83, 84, 78}:  # X Y Z F S T N
            continue
        if letter in {73, 74}:  # I J
            if not arc:
                return _CENTRE, letter, word[k]
            continue
        if (letter == 80 and (g4 or g64)) or (letter == 81 and g64) or (letter == 72 and g43):
            continue
        return (_BY_RADIUS if letter == 82 else _UNKNOWN), letter, word[k]
    return 0, 0, 0.0


@njit(cache=True, nogil=True)
def _set(codes, said, idle_g, idle_m, state, now):  # type: ignore[no-untyped-def]
    """Take over a line's G and M words: what stays in ``state``, what holds for this line in ``now``."""
    now[:] = 0
    for k in range(said):
        letter, value = int(codes[k, 0]), codes[k, 1]
        wrong = _code(letter, value, idle_g, idle_m)
        if wrong:
            return wrong, letter, value
        if letter == 71:
            if value <= 3.0:
                state[_MOTION] = int(value)
                now[_MOTIONS] += 1
            elif value == 80.0:
                state[_MOTION] = -1
            elif value == 21.0:
                state[_UNIT] = 1
            elif value == 90.0:
                state[_ABSOLUTE] = 1
            now[_G4] |= value == 4.0
            now[_G43] |= value == 43.0
            now[_G64] |= value == 64.0
        else:
            now[_CHANGE] |= value == 6.0
            now[_STOP] |= value == 5.0
            if value == 3.0:
                state[_TURNING] = 1
            elif value in {2.0, 30.0}:
                state[_ENDED] = 1
    return (_TWO_MOTIONS if now[_MOTIONS] > 1 else 0), 0, 0.0


@njit(cache=True, nogil=True)
def _change(state, now, named, word):  # type: ignore[no-untyped-def]
    """Take over T, and what changes bits and stops the spindle."""
    if named[19]:
        state[_SELECTED] = int(word[19])
    if now[_CHANGE]:
        if state[_SELECTED] <= 0:
            return _TOOL
        state[_BIT] = state[_SELECTED]
        state[_CHANGES] += 1
    if now[_CHANGE] or now[_STOP]:
        state[_TURNING] = 0
    return 0


@njit(cache=True, nogil=True)
def _may_move(state, now, known, feed, turning, air_cut):  # type: ignore[no-untyped-def]
    """What forbids a move, if anything."""
    if state[_MOTION] < 0 or now[_G4]:
        return _NO_MOTION
    if not state[_UNIT]:
        return _NO_UNIT
    if not state[_ABSOLUTE]:
        return _NO_ABSOLUTE
    if state[_MOTION] > RAPID:
        if not known:
            return _NOWHERE
        if not feed > 0.0:
            return _FEED
        if not (air_cut or turning):
            return _SPINDLE
    return 0


@njit(cache=True, nogil=True)
def _centre(named, word, row):  # type: ignore[no-untyped-def]
    """Put an arc's centre into the row of its move; return what is wrong with the arc, and by how much."""
    if not (named[23] or named[24]) or not (named[8] or named[9]):
        return _NO_CENTRE, 0.0
    if abs(row[5] - row[2]) > 1e-9:
        return _HELIX, 0.0
    row[6] = row[0] + (word[8] if named[8] else 0.0)
    row[7] = row[1] + (word[9] if named[9] else 0.0)
    r0, r1 = hypot(row[0] - row[6], row[1] - row[7]), hypot(row[3] - row[6], row[4] - row[7])
    differ = abs(r0 - r1)
    return (_RADII if differ > RADII_DIFFER_MM or r0 < 1e-6 else 0), differ


@njit(cache=True, nogil=True)
def _read(letters, air_cut, idle_g, idle_m, whole, kind, real):  # type: ignore[no-untyped-def]
    """Read all lines, in each one first what sets, then what moves (the order of NIST RS274/NGC, 3.8)."""
    word, named, codes = np.zeros(26), np.zeros(26, dtype=np.bool_), np.zeros((16, 2))
    state, now = np.zeros(8, dtype=np.int64), np.zeros(6, dtype=np.int64)
    state[_MOTION] = -1
    at, feed, rpm = np.full(3, np.nan), 0.0, 0.0
    count, place, line, size = 0, 0, 0, len(letters)
    while place < size and not state[_ENDED]:
        line += 1
        place, said, wrong, letter, value = _words(letters, place, word, named, codes)
        if not wrong:
            wrong, letter, value = _set(codes, said, idle_g, idle_m, state, now)
        if not wrong:
            arc = state[_MOTION] >= CLOCKWISE
            wrong, letter, value = _stray(named, word, now[_G4], now[_G43], now[_G64], arc)
        if not wrong:
            feed, rpm = (word[5] if named[5] else feed), (word[18] if named[18] else rpm)
            wrong = _FEED if named[5] and not feed > 0.0 else _change(state, now, named, word)
            value = feed
        moves = named[23] or named[24] or named[25]
        if not wrong and not moves and (named[8] or named[9]):
            wrong = _NO_CENTRE
        known, turning = at[0] + at[1] + at[2] < np.inf, state[_TURNING] and rpm > 0.0
        if not wrong and moves:
            wrong = _may_move(state, now, known, feed, turning, air_cut)
        if wrong:
            return count, wrong, line, letter, value, state[_CHANGES]
        if not moves:
            continue
        row = real[count]
        row[0:3] = at
        for axis in range(3):
            if named[23 + axis]:
                at[axis] = word[23 + axis]
        row[3:6] = at
        # Nobody knows where the first moves come from; and what goes nowhere is none, but for a whole turn.
        goes = abs(row[3] - row[0]) + abs(row[4] - row[1]) + abs(row[5] - row[2]) > 1e-9
        if not known or not (goes or state[_MOTION] >= CLOCKWISE):
            continue
        if state[_MOTION] >= CLOCKWISE:
            wrong, value = _centre(named, word, row)
            if wrong:
                return count, wrong, line, 0, value, state[_CHANGES]
        row[8], row[9] = feed, (rpm if turning else 0.0)
        whole[count, 0], whole[count, 1], whole[count, 2] = line, state[_BIT], state[_SELECTED]
        kind[count] = state[_MOTION]
        count += 1
    return count, (0 if state[_ENDED] else _NO_END), line, 0, 0.0, state[_CHANGES]

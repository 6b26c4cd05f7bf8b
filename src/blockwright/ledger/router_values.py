"""What a router bit and a machine can be: checked before they are kept."""

import math
from typing import get_args

from blockwright.ledger.values import check_name
from blockwright.model.errors import BitError
from blockwright.model.router import Bit, BitKind
from blockwright.model.shelf import ShelfBit, ShelfMachine

BIT_KINDS: tuple[BitKind, ...] = get_args(BitKind)

HIGHEST_BIT_NUMBER = 9999
"""Controllers' tool tables go no higher [CP]."""

MOST_FLUTES = 12

MOST_BIT_MM = 100.0
"""No router bit is thicker, nor its shank [CP]."""

MOST_CUTTING_MM = 200.0

MOST_DIAMETERS = 20.0
"""A bit whose edges are longer than so many diameters would break: it is a slip of the hand [CP]."""

CONE_SLACK = 1.1
"""Makers round angle and lengths: a tapered bit's cone may seem shorter than its edges by so much."""

LONGEST_LINE = 255
"""Characters of a line of a program, at most (RS274/NGC, NISTIR 6556, 3.3.1: 256 with its end)."""

MOST_LINES = 100


def check_bit(kept: ShelfBit) -> None:
    """See that a bit can be kept. Raises BitError, one sentence.

    >>> check_bit(ShelfBit(Bit(1, "graver", "V", 6.0, 2, 12.0)))
    Traceback (most recent call last):
    ...
    blockwright.model.errors.BitError: The whole angle at the tip of graver is 0 degrees; it is 5 to 170.
    """
    bit = kept.bit
    name = bit.name
    check_name(name, "a bit", error=BitError)
    if bit.kind not in BIT_KINDS:
        raise BitError(f"{name} is of the kind {bit.kind!r}; it is one of {', '.join(BIT_KINDS)}.")
    _check_whole(bit.number, f"The number of {name} in the tool table", HIGHEST_BIT_NUMBER)
    _check_whole(bit.flutes, f"The number of flutes of {name}", MOST_FLUTES)
    _check(bit.diameter_mm, f"The diameter of {name}", "mm", most=MOST_BIT_MM)
    _check(bit.shank_mm, f"The shank of {name}", "mm", most=MOST_BIT_MM)
    _check(bit.cutting_mm, f"The cutting length of {name}", "mm", most=MOST_CUTTING_MM)
    if bit.cutting_mm > MOST_DIAMETERS * bit.diameter_mm:
        raise BitError(
            f"The cutting length of {name} is {bit.cutting_mm:g} mm, more than {MOST_DIAMETERS:g} times its "
            f"diameter of {bit.diameter_mm:g} mm; such a bit would break: mend one of the two."
        )
    _check_tip(bit)


def _check_tip(bit: Bit) -> None:
    name = bit.name
    if bit.kind in ("flat", "ball"):
        if bit.angle_deg or bit.tip_mm:
            raise BitError(f"{name} is a {bit.kind} bit, which has neither angle nor tip; let both be 0.")
        return
    least, most = (5.0, 170.0) if bit.kind == "V" else (1.0, 90.0)
    if not least <= bit.angle_deg <= most:
        raise BitError(
            f"The whole angle at the tip of {name} is {bit.angle_deg:g} degrees; it is {least:g} to {most:g}."
        )
    lowest = "0 or more" if bit.kind == "V" else "above 0, the diameter of its round tip,"
    if not 0.0 <= bit.tip_mm < bit.diameter_mm or (bit.kind == "tapered" and bit.tip_mm == 0.0):
        told = f"The tip of {name} is {bit.tip_mm:g} mm wide; it is {lowest} and less than its diameter"
        raise BitError(f"{told} of {bit.diameter_mm:g} mm.")
    cone_mm = bit.rise_mm(bit.radius_mm)
    if bit.kind == "tapered" and bit.cutting_mm > CONE_SLACK * cone_mm:
        raise BitError(
            f"The cutting length of {name} is {bit.cutting_mm:g} mm, but from its tip it has reached its "
            f"diameter of {bit.diameter_mm:g} mm after {cone_mm:.1f} mm; mend one of these."
        )


def check_machine(kept: ShelfMachine) -> None:
    """See that a machine can be kept. Raises BitError, one sentence."""
    machine = kept.machine
    name = machine.name
    check_name(name, "a machine", error=BitError)
    for axis, reach_mm in zip("xyz", machine.reach_mm, strict=True):
        _check(reach_mm, f"The travel of {name} along {axis}", "mm", most=20_000.0)
    for told, speed in (
        ("feed", machine.feed_mm_min),
        ("plunging feed", machine.plunge_mm_min),
        ("speed above the work", machine.rapid_mm_min),
    ):
        _check(speed, f"The {told} of {name}", "mm a minute", most=200_000.0)
    _check(machine.acceleration_mm_s2, f"The acceleration of {name}", "mm/s2", most=100_000.0)
    least, most = machine.rpm
    for told, rpm in (("slowest", least), ("fastest", most)):
        _check(rpm, f"The {told} spindle speed of {name}", "turns a minute", most=200_000.0)
    if least > most:
        raise BitError(f"The spindle of {name} turns from {least:g} to {most:g}; the slowest stands first.")
    _check(machine.safe_mm, f"The safe height of {name}", "mm above the work", most=machine.reach_mm[2])
    _check(machine.junction_mm, f"How far {name} may cut a corner", "mm", most=1.0)
    if not 0.0 <= machine.change_s <= 3600.0:
        raise BitError(f"A change of bits at {name} takes {machine.change_s:g} s; it is 0 s to 3600 s.")
    _check_lines(machine.begin, f"The lines that begin a program for {name}")
    _check_lines(machine.end, f"The lines that end a program for {name}")


def _check_lines(lines: tuple[str, ...], what: str) -> None:
    if len(lines) > MOST_LINES:
        raise BitError(f"{what} are {len(lines)}; {MOST_LINES} are the most.")
    for line in lines:
        if len(line) > LONGEST_LINE or not (line.isascii() and line.isprintable()):
            told = f"{what} have {line[:40]!r}"
            raise BitError(
                f"{told}; a machine reads plain letters without accents, {LONGEST_LINE} to a line."
            )
        if "%" in line:
            raise BitError(f"{what} have a %, at which a machine takes the program to be over; leave it out.")


def _check(number: float, what: str, unit: str, *, most: float) -> None:
    if not (math.isfinite(number) and 0.0 < number <= most):
        raise BitError(f"{what} is {number:g}; it is a number of {unit} above 0, {most:g} at most.")


def _check_whole(number: int, what: str, most: int) -> None:
    if not (isinstance(number, int) and 1 <= number <= most):
        raise BitError(f"{what} is {number}; it is a whole number from 1 to {most}.")

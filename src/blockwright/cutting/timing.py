"""How long a router takes for a program: every move with its acceleration, and corners as a controller goes.

Each move begins and ends at the speed that its corners allow. At a corner a controller goes as fast as an
arc that leaves the corner by ``junction_mm`` can be taken at the machine's acceleration [der: the arc touches
both moves; r = d sin(a/2) / (1 - sin(a/2)) with the corner's inner angle a, v^2 = acceleration x r]. A sweep
back and one forward then make every speed one that can be reached and braked from, and each move is a
trapezoid.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import hypot, inf, sqrt

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.cutting.reading_program import ProgramMoves
from blockwright.model.router import CLOCKWISE, CUT, RAPID, Machine


@dataclass(frozen=True, slots=True)
class RouterTime:
    """Seconds that a program takes: cutting, plunging, above the work, and for changing bits."""

    cutting_s: float
    plunging_s: float
    rapid_s: float
    changes_s: float

    @property
    def total_s(self) -> float:
        """All of it.

        >>> RouterTime(60.0, 5.0, 10.0, 45.0).total_s
        120.0
        """
        return self.cutting_s + self.plunging_s + self.rapid_s + self.changes_s


@dataclass(frozen=True, slots=True)
class BitShare:
    """What the largest bit that reaches some area has to clear there, and how wide and fast it cuts."""

    area_mm2: float
    step_over_mm: float
    feed_mm_min: float


def router_time(moves: ProgramMoves, machine: Machine) -> RouterTime:
    """How long a machine takes for a program's moves; the first bit is in place and counts as no change.

    Moves straight down count as plunging. Feeds are held to the machine's fastest.
    """
    seconds = move_seconds(moves, machine)
    upright = (moves.start[:, :2] == moves.end[:, :2]).all(axis=1) & (moves.kind == CUT)
    rapid = moves.kind == RAPID
    return RouterTime(
        cutting_s=float(seconds[~rapid & ~upright].sum()),
        plunging_s=float(seconds[upright].sum()),
        rapid_s=float(seconds[rapid].sum()),
        changes_s=max(moves.changes - 1, 0) * machine.change_s,
    )


def move_seconds(moves: ProgramMoves, machine: Machine) -> NDArray[np.float64]:
    """Seconds of each move, (n,)."""
    fastest = np.where(moves.kind == RAPID, machine.rapid_mm_min, np.minimum(moves.feed, machine.feed_mm_min))
    halts = np.concatenate([[True], moves.tool[1:] != moves.tool[:-1]])[: len(moves)]
    seconds: NDArray[np.float64] = _seconds(
        moves.kind,
        moves.start,
        moves.end,
        moves.centre,
        _angles(moves),
        fastest / 60.0,
        halts,
        machine.acceleration_mm_s2,
        machine.junction_mm,
    )
    return seconds


def lower_bound_s(shares: Iterable[BitShare]) -> float:
    """The least time for clearing: every area by the largest bit that reaches it, without a single detour.

    >>> lower_bound_s([BitShare(1200.0, 2.0, 600.0)])
    60.0
    """
    return sum(60.0 * each.area_mm2 / (each.step_over_mm * each.feed_mm_min) for each in shares)


def _angles(moves: ProgramMoves) -> NDArray[np.float64]:
    """The angle of every arc, (n,) radians: above 0, and a whole turn where its ends meet."""
    a, b = moves.start[:, :2] - moves.centre, moves.end[:, :2] - moves.centre
    turned = np.arctan2(b[:, 1], b[:, 0]) - np.arctan2(a[:, 1], a[:, 0])
    turned = np.where(moves.kind == CLOCKWISE, -turned, turned) % (2.0 * np.pi)
    angles: NDArray[np.float64] = np.where(turned < 1e-9, 2.0 * np.pi, turned)
    return angles


@njit(cache=True, nogil=True)
def _measure(kind, start, end, centre, angle, length, begins, ends, radius):  # type: ignore[no-untyped-def]
    """Length, directions at both ends and radius (inf for straight moves) of every move."""
    for k in range(len(kind)):
        a, b, c = start[k], end[k], centre[k]
        radius[k] = inf
        if kind[k] > CUT:
            clockwise = kind[k] == CLOCKWISE
            r = hypot(a[0] - c[0], a[1] - c[1])
            length[k] = r * angle[k]
            way = -1.0 if clockwise else 1.0
            begins[k, 0], begins[k, 1] = -way * (a[1] - c[1]) / r, way * (a[0] - c[0]) / r
            ends[k, 0], ends[k, 1] = -way * (b[1] - c[1]) / r, way * (b[0] - c[0]) / r
            radius[k] = r
            continue
        dx, dy, dz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
        length[k] = sqrt(dx * dx + dy * dy + dz * dz)
        if length[k] > 0.0:
            begins[k, 0], begins[k, 1], begins[k, 2] = dx / length[k], dy / length[k], dz / length[k]
        ends[k] = begins[k]


@njit(cache=True, nogil=True)
def _corner(out, into, acceleration, junction):  # type: ignore[no-untyped-def]
    """The speed at a corner between two directions, mm/s."""
    cosine = -(out[0] * into[0] + out[1] * into[1] + out[2] * into[2])
    if cosine > 0.999999:
        return 0.0
    half = sqrt(max((1.0 - cosine) / 2.0, 0.0))
    if half > 0.9999999:
        return inf
    return sqrt(acceleration * junction * half / (1.0 - half))


@njit(cache=True, nogil=True)
def _seconds(kind, start, end, centre, angle, fastest, halts, acceleration, junction):  # type: ignore[no-untyped-def]
    count = len(kind)
    length, radius = np.zeros(count), np.zeros(count)
    begins, ends = np.zeros((count, 3)), np.zeros((count, 3))
    _measure(kind, start, end, centre, angle, length, begins, ends, radius)
    most, speed = np.zeros(count), np.zeros(count + 1)
    for k in range(count):
        most[k] = min(fastest[k], sqrt(acceleration * radius[k]))
        if k > 0 and not halts[k]:
            corner = _corner(ends[k - 1], begins[k], acceleration, junction)
            speed[k] = min(most[k - 1], most[k], corner)
    for k in range(count - 1, -1, -1):
        speed[k] = min(speed[k], sqrt(speed[k + 1] ** 2 + 2.0 * acceleration * length[k]))
    seconds = np.zeros(count)
    for k in range(count):
        speed[k + 1] = min(speed[k + 1], sqrt(speed[k] ** 2 + 2.0 * acceleration * length[k]))
        a, b, top = speed[k], speed[k + 1], most[k]
        ramps = (2.0 * top * top - a * a - b * b) / (2.0 * acceleration)
        if ramps <= length[k]:
            seconds[k] = (2.0 * top - a - b) / acceleration + (length[k] - ramps) / top
        else:
            peak = sqrt(acceleration * length[k] + (a * a + b * b) / 2.0)
            seconds[k] = (2.0 * peak - a - b) / acceleration
    return seconds

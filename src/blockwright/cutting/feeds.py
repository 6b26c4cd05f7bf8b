"""Feeds and speeds from the chip load, and how deep and how far apart a bit's passes are.

Feed = turns a minute x flutes x chip load (Machinery's Handbook). Chip loads by diameter and wood, with tags
and sources, are ``data/router/chip-load.csv``; what remains of them in a deep pass ``deep-cuts.csv``; the
usual steps ``steps.csv``.
"""

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from math import ceil, cos, floor, radians, sin, sqrt, tan
from typing import Literal

import numpy as np

from blockwright.model.router import Bit, BitKind, Machine
from blockwright.model.settings_router import RouterTable

WoodClass = Literal["hardwood", "softwood", "MDF"]
"""What chip loads are known for; plywood stands with softwood."""

CAREFUL_CLASS: WoodClass = "hardwood"
"""What a wood is reckoned as that is not known: the smallest chip."""

FINEST_RIDGE_MM = 0.02
"""Lanes of a ball bit lie no nearer than the ridges between them ask for that are no higher than this, mm."""

_PLYWOOD = "plywood"


@dataclass(frozen=True, slots=True)
class Speeds:
    """How fast a bit turns and moves. ``chip_mm`` is what each tooth takes at that.

    ``clamped`` is a sentence where the machine does not do what the chip load asks for, else None;
    ``rubs`` says that the chip is then thinner than the least of the table, so that the bit rubs and burns.
    """

    rpm: float
    feed_mm_min: float
    plunge_mm_min: float
    chip_mm: float
    clamped: str | None = None
    rubs: bool = False


@dataclass(frozen=True, slots=True)
class Steps:
    """How deep one pass goes and how far from the next it lies, mm."""

    down_mm: float
    over_mm: float


def wood_class_of(wood: str) -> WoodClass:
    """What a board's wood is reckoned as. Plywood goes by its name, whatever its plies; a wood that is not
    known is taken for hardwood, the smallest chip.

    >>> [wood_class_of(name) for name in ("Cherry", "linden", "birch plywood", "MDF board", "pear")]
    ['hardwood', 'softwood', 'softwood', 'MDF', 'hardwood']
    """
    words = f" {_words(wood)} "
    found = {name: of for name, of in _wood_names().items() if f" {name} " in words}
    if _PLYWOOD in words.split() or "ply" in words.split():
        return _wood_names()[_PLYWOOD]
    return found[max(found, key=len)] if found else CAREFUL_CLASS


def chip_load_mm(diameter_mm: float, wood_class: WoodClass, *, depth_mm: float) -> tuple[float, float]:
    """The least and the most that a tooth should take, mm, of a bit of this diameter in a pass this deep.

    Between the diameters of the table it is interpolated, below the first it shrinks with the diameter, above
    the last it stays. A quarter less is taken at a depth of two diameters, half at three and beyond.

    >>> [round(each, 4) for each in chip_load_mm(6.35, "hardwood", depth_mm=12.7)]
    [0.0975, 0.135]
    """
    diameters, least, most = _chip_rows()[wood_class]
    within = min(max(diameter_mm, diameters[0]), diameters[-1])
    smaller = min(diameter_mm / diameters[0], 1.0)
    deep = float(np.interp(depth_mm / diameter_mm, *_deep_rows()))
    both = (float(np.interp(within, diameters, each)) * smaller * deep for each in (least, most))
    return next(both), next(both)


def cutting_diameter_mm(bit: Bit, depth_mm: float) -> float:
    """How thick a bit is where it cuts in a pass this deep: a V and a tapered bit are slender at the tip.

    >>> cutting_diameter_mm(Bit(1, "V", "V", 6.0, 2, 5.0, angle_deg=90.0, tip_mm=0.2), 1.0)
    2.2
    """
    if bit.kind in ("flat", "ball"):
        return bit.diameter_mm
    lean = radians(bit.angle_deg / 2.0)
    if bit.kind == "V":
        wide_mm = bit.tip_mm + 2.0 * depth_mm * tan(lean)
    else:
        round_mm = bit.tip_mm / 2.0
        cone_mm = max(depth_mm - round_mm * (1.0 - sin(lean)), 0.0)
        wide_mm = max(2.0 * (round_mm * cos(lean) + cone_mm * tan(lean)), bit.tip_mm)
    return min(round(wide_mm, 9), bit.diameter_mm)


def steps_for(bit: Bit, wood_class: WoodClass, settings: RouterTable) -> Steps:
    """How deep a bit's passes go in a wood, and how far apart they lie; what the settings say holds.

    Both are parts of the bit's diameter, of a tapered bit's tip. No pass is deeper than the bit's edges are
    long, and those of a ball bit lie so near that even where the last of them ends, a whole step from the
    next place, what is left is no higher than the depth's slack.
    """
    of_mm = bit.tip_mm if bit.kind == "tapered" else bit.diameter_mm
    down, over_percent = _step_rows()[bit.kind, wood_class]
    asked: Mapping[BitKind, float | None] = {
        "flat": settings.flat_step_over_percent,
        "ball": settings.ball_step_over_percent,
        "V": settings.v_step_over_percent,
        "tapered": settings.tapered_step_over_percent,
    }
    own = asked[bit.kind]
    if settings.step_down_diameters is not None:
        down = settings.step_down_diameters
    over_mm = (over_percent if own is None else own) / 100.0 * of_mm
    if bit.kind == "ball":
        over_mm = min(over_mm, half_chord_mm(bit, max(settings.depth_slack_mm, FINEST_RIDGE_MM)))
    return Steps(min(down * of_mm, bit.cutting_mm), over_mm)


def ridge_mm(bit: Bit, step_over_mm: float) -> float:
    """How high the ridges between a ball bit's lanes are, these so far apart [Machinery's Handbook].

    >>> ridge_mm(Bit(1, "ball", "ball", 10.0, 2, 20.0), 6.0)
    1.0
    """
    half_mm = min(step_over_mm / 2.0, bit.radius_mm)
    return bit.radius_mm - sqrt(bit.radius_mm**2 - half_mm**2)


def half_chord_mm(bit: Bit, high_mm: float) -> float:
    """How far from its axis a ball bit's edge is no higher than this above its tip; 0 for no height.

    >>> half_chord_mm(Bit(1, "ball", "ball", 10.0, 2, 20.0), 1.0)
    3.0
    """
    high_mm = min(max(high_mm, 0.0), bit.radius_mm)
    return sqrt(high_mm * (2.0 * bit.radius_mm - high_mm))


def speeds_for(
    bit: Bit, wood_class: WoodClass, machine: Machine, step_down_mm: float, settings: RouterTable
) -> Speeds:
    """How fast a bit turns and moves in passes ``step_down_mm`` deep (above 0) on a machine.

    The middle of the chip loads is aimed at. Where the machine cannot feed so fast the spindle is slowed, so
    that the chip stays; where it cannot turn so slowly the chip gets thinner. Speeds are whole numbers.
    Raises ValueError for a depth that is none.
    """
    if not step_down_mm > 0.0:
        raise ValueError(f"a pass is deeper than 0, not {step_down_mm:g} mm")
    thick_mm = cutting_diameter_mm(bit, step_down_mm)
    least_mm, most_mm = chip_load_mm(thick_mm, wood_class, depth_mm=step_down_mm)
    aimed_mm = (least_mm + most_mm) / 2.0
    slowest, fastest = machine.rpm
    rpm = min(max(settings.spindle_rpm, slowest), fastest)
    asked_mm_min = rpm * bit.flutes * aimed_mm
    feed_mm_min = min(asked_mm_min, machine.feed_mm_min)
    if feed_mm_min < asked_mm_min:
        # Rounded up, so that no tooth takes more than it should.
        rpm = min(max(ceil(feed_mm_min / (bit.flutes * aimed_mm)), slowest), rpm)
    # Down to a whole number, but never to nothing on a machine that crawls.
    feed_mm_min = floor(feed_mm_min) if feed_mm_min >= 1.0 else feed_mm_min
    chip_mm = feed_mm_min / (rpm * bit.flutes)
    rubs = chip_mm < least_mm * (1.0 - 1e-9)
    return Speeds(
        rpm=float(rpm),
        feed_mm_min=float(feed_mm_min),
        plunge_mm_min=min(machine.plunge_mm_min, feed_mm_min * settings.plunge_percent / 100.0),
        chip_mm=chip_mm,
        clamped=_told(bit, machine, asked_mm_min, rpm, chip_mm, least_mm if rubs else None),
        rubs=rubs,
    )


def _told(
    bit: Bit, machine: Machine, asked_mm_min: float, rpm: float, chip_mm: float, least_mm: float | None
) -> str | None:
    """The sentence for a machine that does not reach what the chip load asks for."""
    if asked_mm_min <= machine.feed_mm_min and least_mm is None:
        return None
    begins = f"{bit.name} could be fed {asked_mm_min:.0f} mm a minute, {machine.name} does "
    begins += f"{machine.feed_mm_min:.0f} at most; the spindle turns {rpm:.0f} times a minute"
    if least_mm is None:
        return f"{begins}, so that each tooth still takes {chip_mm:.2f} mm."
    return (
        f"{begins}, and each tooth takes {chip_mm:.3f} mm, less than the {least_mm:.3f} mm below which a bit "
        "rubs and burns: take one with fewer flutes, or a thinner one."
    )


def _words(name: str) -> str:
    return " ".join(re.findall(r"\w+", name.casefold()))


@cache
def _wood_names() -> Mapping[str, WoodClass]:
    """Every name of a wood and what it is reckoned as; other names of the woods that move are theirs too."""
    found: dict[str, WoodClass] = {}
    classes = {row["wood"]: row for row in _rows("router", "wood-classes.csv")}
    also = {row["wood"]: row["also"] for row in _rows("woods", "woods.csv")}
    for wood, row in classes.items():
        for name in (wood, *row["also"].split(";"), *also.get(wood, "").split(";")):
            if name:
                found[_words(name)] = row["wood_class"]  # type: ignore[assignment]
    return found


@cache
def _chip_rows() -> Mapping[str, tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]]:
    """Diameters, least and most chip loads of each kind of wood, the thinnest bit first."""
    rows = sorted(_rows("router", "chip-load.csv"), key=lambda row: float(row["diameter_mm"]))
    found = {}
    for wood_class in dict.fromkeys(row["wood_class"] for row in rows):
        own = [row for row in rows if row["wood_class"] == wood_class]
        columns = ("diameter_mm", "least_mm", "most_mm")
        first, second, third = (tuple(float(row[column]) for row in own) for column in columns)
        found[wood_class] = (first, second, third)
    return found


@cache
def _deep_rows() -> tuple[tuple[float, ...], tuple[float, ...]]:
    rows = _rows("router", "deep-cuts.csv")
    return (
        tuple(float(row["depth_diameters"]) for row in rows),
        tuple(float(row["of_the_chip"]) for row in rows),
    )


@cache
def _step_rows() -> Mapping[tuple[str, str], tuple[float, float]]:
    return {
        (row["kind"], row["wood_class"]): (
            float(row["step_down_diameters"]),
            float(row["step_over_percent"]),
        )
        for row in _rows("router", "steps.csv")
    }


def _rows(folder: str, name: str) -> list[dict[str, str]]:
    text = (resources.files("blockwright") / "data" / folder / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))

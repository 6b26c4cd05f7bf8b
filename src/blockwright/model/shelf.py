"""The shelf: pigments as they stand on it, swatches, weighings, and where an ink was used; and what routs:
bits and machines.
"""

from dataclasses import dataclass
from datetime import datetime

from blockwright.model.inks import Bands, Origin, Pigment
from blockwright.model.router import Bit, Machine
from blockwright.model.units import Lab


@dataclass(frozen=True, slots=True)
class ShelfPigment:
    """A pigment and what the studio says of it. ``on_shelf`` is False for one that is known but not at hand;
    one that is ``retired`` is kept for the recipes that name it, and never proposed again.
    """

    pigment: Pigment
    on_shelf: bool = True
    notes: str = ""
    retired: bool = False


@dataclass(frozen=True, slots=True)
class Swatch:
    """A printed patch that was read. ``of`` is a pigment's name or a mixed ink's number.

    Its colour is ``reflectance`` (36 bands, 0 to 1) or, where only a scan knows it, ``lab``.
    ``ground`` says what lay beneath, such as "white" or "black"; ``ground_reflectance`` how that reflects, if
    it was measured. ``made_on`` is a date, YYYY-MM-DD. ``file_name`` and ``file_sha256`` name the file that
    it was read from. ``number`` is the database's own; 0 before it is kept.
    """

    of: str | int
    passes: int
    ground: str
    origin: Origin
    reflectance: Bands | None = None
    lab: Lab | None = None
    ground_reflectance: Bands | None = None
    made_on: str | None = None
    file_name: str | None = None
    file_sha256: str | None = None
    notes: str = ""
    number: int = 0


@dataclass(frozen=True, slots=True)
class Weighing:
    """What the pot of a mixed ink held, in grams without the pot, at a time in UTC."""

    ink: int
    weight_g: float
    at: datetime


@dataclass(frozen=True, slots=True)
class Use:
    """An impression that a mixed ink printed: the print's folder and title, and when that was noted (UTC)."""

    ink: int
    folder: str
    title: str
    impression: str
    at: datetime


@dataclass(frozen=True, slots=True)
class ShelfBit:
    """A router bit, found by its name, and what the studio says of it.

    One that is ``retired``, worn or broken, is kept and never proposed again.
    """

    bit: Bit
    notes: str = ""
    retired: bool = False


@dataclass(frozen=True, slots=True)
class ShelfMachine:
    """A router, found by its name, and what the studio says of it; ``retired`` as for a bit."""

    machine: Machine
    notes: str = ""
    retired: bool = False


@dataclass(frozen=True, slots=True)
class RouterShelf:
    """All that blocks can be routed with: bits by their numbers, machines by name; none retired."""

    bits: tuple[Bit, ...] = ()
    machines: tuple[Machine, ...] = ()

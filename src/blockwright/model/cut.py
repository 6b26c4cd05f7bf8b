"""Cut: for each face and method what is to be cut, and what it costs in time."""

from dataclasses import dataclass
from math import ceil
from typing import Literal

from blockwright.model.findings import Finding
from blockwright.model.units import Area, PointMm, Region

Method = Literal["hand", "stencil", "router"]


@dataclass(frozen=True, slots=True)
class BitWork:
    """What one bit does on a face; ``files`` are the programs that it is in.

    ``held`` is a sentence where the machine does not do what the bit could, else empty.
    """

    bit: str
    what: str
    rpm: float
    feed_mm_min: float
    plunge_mm_min: float
    moves: int
    minutes: float
    files: tuple[str, ...] = ()
    held: str = ""


@dataclass(frozen=True, slots=True)
class BitChoice:
    """One set of bits for a face: how long the router runs with it, and the hand afterwards."""

    bits: tuple[str, ...]
    router_min: float
    hand_min: float
    hand_mm2: float


@dataclass(frozen=True, slots=True)
class Narrow:
    """A place of what prints that is narrower than the wood stands when it is routed."""

    at: PointMm
    width_mm: float


@dataclass(frozen=True, slots=True)
class Routing:
    """What the router does on one face, as simulated from its programs. Areas as on the face: mirrored.

    ``gouge_mm2`` is what its programs would cut of the wood that stays; with any, none is handed over and
    ``held_back`` is True. ``shallow_mm2`` is what is less deep than it should be where the bits reach.
    ``hand`` is what the bits do not reach, ``hand_min`` the minutes for it at the rates in the settings.
    ``deep_percent`` is the share of the reachable area that has its depth. ``lower_bound_min`` is what
    clearing every spot with the largest bit that reaches it takes at full feed. ``idle`` are bits of the set
    that have nothing to do on the face. ``quarter_turn``: the block lies on the machine turned by a quarter
    to the left, its upper left corner at the programs' zero. ``changes_min`` are those of ``router_min`` in
    which bits are changed.
    """

    machine: str
    work: tuple[BitWork, ...]
    router_min: float
    lower_bound_min: float
    gouge_mm2: float
    shallow_mm2: float
    deep_percent: float
    deepest_mm: float
    marks_off_mm: float
    hand: Area
    hand_places: int
    hand_min: float
    narrow: tuple[Narrow, ...]
    choices: tuple[BitChoice, ...]
    held_back: bool = False
    idle: tuple[str, ...] = ()
    quarter_turn: bool = False
    changes_min: float = 0.0

    @property
    def marks_within_mm(self) -> float:
        """Within how many hundredths of a mm the marks lie at their places, rounded up, one at least."""
        return max(ceil(self.marks_off_mm * 100.0 - 1e-6), 1) / 100.0

    @property
    def times_the_least(self) -> float:
        """How many times the least that clearing takes the router runs, changes of bits left out."""
        return (self.router_min - self.changes_min) / self.lower_bound_min if self.lower_bound_min else 0.0

    @property
    def moves(self) -> int:
        """The moves of all bits."""
        return sum(each.moves for each in self.work)


@dataclass(frozen=True, slots=True)
class FaceCut:
    """What is cut on one face. Coordinates as on the face: mirrored.

    ``printing`` stays at full height. ``clear`` is taken down near the printing edges; ``island`` is
    waste far from any edge that may stay standing with rounded shoulders. ``weed`` are points inside the
    parts of a stencil that are lifted off before blasting; ``border`` is the stencil's outer edge, larger
    than the block (both empty or None by hand). ``minutes`` rests on the carving rates in the settings;
    for a routed face they are those of the handwork that is left, and ``routing`` tells the rest.
    """

    face: str
    method: Method
    impressions: tuple[int, ...]
    printing: Area
    clear: Area
    island: Area
    weed: tuple[PointMm, ...]
    border: Region | None
    edge_mm: float
    clear_mm2: float
    minutes: float
    routing: Routing | None = None


@dataclass(frozen=True, slots=True)
class Cut:
    """Every face's cut, in the order of the faces."""

    faces: tuple[FaceCut, ...]
    findings: tuple[Finding, ...] = ()

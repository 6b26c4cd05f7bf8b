"""Separation: the impressions in printing order."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from blockwright.model.axis import Axis
from blockwright.model.findings import Finding
from blockwright.model.inks import Bands, Part
from blockwright.model.leaf import Laying
from blockwright.model.units import Area, Lab, PointMm, Region

Kind = Literal["key", "colour", "karazuri", "leaf"]

SheetSide = Literal["front", "back"]
"""The side of the sheet that lies on the block."""

Bokashi = Literal["ichimonji", "fukisage", "fukiage", "atenashi", "futa-iro"]
"""The trade's kinds of gradation: a narrow straight band at the image's edge, from the top down, from the
bottom up, free-form, and two colours on one block."""


FULL_SHARE, GONE_SHARE = 0.97, 0.03
"""Of the full film, this much or more counts as full colour, and this much or less as gone: what the eye
hardly tells from the whole film and from none [CP]."""


@dataclass(frozen=True, slots=True)
class Gradation:
    """How an ink is brushed out on its block: ``ramp`` is the film's share, 0 to 1, at equal steps.

    The axis runs from full colour to where the ink ends, right-reading. ``worst_delta_e00`` is the largest
    difference (CIEDE2000) along the run between the colour wanted and what all its inks together print.
    """

    kind: Bokashi
    axis: Axis
    ramp: tuple[float, ...]
    worst_delta_e00: float = 0.0

    @property
    def full_mm(self) -> float:
        """How far from the axis's start full colour goes, mm."""
        return self._first_below(FULL_SHARE) * self.axis.length_mm

    @property
    def gone_mm(self) -> float | None:
        """How far from the axis's start the ink is gone, mm; None where it is not gone at its end."""
        return None if self.ramp[-1] > GONE_SHARE else self._first_below(GONE_SHARE) * self.axis.length_mm

    def _first_below(self, share: float) -> float:
        """Where the film first falls to a share, as a part of the axis."""
        steps = len(self.ramp) - 1
        for k, (one, other) in enumerate(pairwise(self.ramp)):
            if other < share <= one:
                return (k + (one - share) / (one - other)) / steps
        return 0.0 if self.ramp[0] < share else 1.0


@dataclass(frozen=True, slots=True)
class Ink:
    """The ink that is wanted, as a layer: absorption ``k`` and scattering ``s`` of one pass, in 36 bands.

    It is taken as mixed to match; what it is mixed from is :class:`blockwright.model.inks.PrintInk`. One pass
    has thickness 1, so that ``n`` passes are a layer of thickness ``n``.
    """

    name: str
    k: Bands
    s: Bands


@dataclass(frozen=True, slots=True)
class SetInk:
    """What an impression is to be printed with, where its overprints were reckoned with just this ink.

    Either ``parts`` with ``paste_share``, which make up the film, or the mixed ink of the shelf of a number.
    """

    parts: tuple[Part, ...] = ()
    paste_share: float = 0.0
    shelf_number: int | None = None


@dataclass(frozen=True, slots=True)
class Impression:
    """One inking and rubbing of one set of shapes, in one ink; or what comes after the inks.

    ``area`` is what the block prints, right-reading, in mm, traps included; ``shapes`` counts into the
    design's shapes; ``srgb_hex`` and ``lab`` are the colour wanted on the paper; ``trap_mm`` is how far
    the area runs under its darker neighbours; ``gradation`` is None for a flat impression;
    with one, ``ink``, ``srgb_hex`` and ``lab`` are those of full colour. ``colours`` are
    the names of the design's colours that it prints, alone or with others; ``set_ink`` is None where the ink
    may be chosen for its colour alone. ``split_from`` names the impression that it was split off, None for
    all others.

    Karazuri and leaf have no ink (``ink`` is None), no ``colours`` and no trap; ``srgb_hex`` and ``lab`` then
    are the paper's, or stand for the leaf. Karazuri from the back has the ``side`` "back". Leaf takes no
    block.
    """

    number: int
    name: str
    kind: Kind
    ink: Ink | None
    passes: int
    shapes: tuple[int, ...]
    area: Area
    trap_mm: float
    srgb_hex: str
    lab: Lab
    gradation: Gradation | None = None
    colours: tuple[str, ...] = ()
    set_ink: SetInk | None = None
    side: SheetSide = "front"
    split_from: str | None = None

    @property
    def printed_ink(self) -> Ink:
        """The ink of an impression that has one. Raises ValueError for karazuri and leaf."""
        if self.ink is None:
            raise ValueError(f"impression {self.number} has no ink")
        return self.ink


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What so many blocks come to: the median by area and the largest difference from the design (CIEDE2000).

    ``blocks`` and ``impressions`` are those of the flat colours, ``all_blocks`` and ``all_impressions`` those
    of the whole print, with its gradations, key, splits, karazuri and leaf.
    ``reached_max_delta_e00`` is the largest of the colours that the inks at hand can reach. ``edge_mm`` is
    the edge to carve on all of them. ``within`` tells whether the plan keeps within the limits, ``proven``
    whether it is proven, for the inks tried, that fewer cannot.
    """

    blocks: int
    impressions: int
    all_blocks: int
    all_impressions: int
    median_delta_e00: float
    max_delta_e00: float
    reached_max_delta_e00: float
    edge_mm: float
    within: bool
    proven: bool


@dataclass(frozen=True, slots=True)
class OtherLight:
    """How far a print is from its design under a light other than day's: ``light`` by its standard's name."""

    light: str
    delta_e00: float


@dataclass(frozen=True, slots=True)
class LiesOver:
    """A colour of the design that several inks give: ``inks`` are impressions by name, the lowest first.

    ``over`` is the colour that all but its last ink give by themselves, None when they give none.
    ``delta_e00`` is how far it is from the design by day (CIEDE2000); ``other_lights`` tell how far it may be
    under others, none where the inks' spectra are not known.
    """

    colour: str
    inks: tuple[str, ...]
    over: str | None
    delta_e00: float = 0.0
    other_lights: tuple[OtherLight, ...] = ()

    @property
    def worst_light(self) -> OtherLight | None:
        """The light under which it is farthest from the design."""
        return max(self.other_lights, key=lambda each: each.delta_e00, default=None)


@dataclass(frozen=True, slots=True)
class OutOfReach:
    """A colour that the inks at hand cannot bring within the limit (CIEDE2000).

    ``best_delta_e00`` is the nearest that ``tried`` inks can come to it, alone or over one another;
    ``delta_e00`` is how far the plan that was taken misses it.
    """

    colour: str
    best_delta_e00: float
    delta_e00: float
    tried: int


@dataclass(frozen=True, slots=True)
class Overprints:
    """What the search of overprints found: plans from few blocks to many, and the one that was taken.

    ``blocks`` are those of the plan taken, for ``colours`` printed colours. ``lower_bound`` is what no plan
    can go below, whatever its inks, ``tried_bound`` what none of the ``tried`` inks can, as they are mixed;
    ``proven`` tells that the fewest found are the fewest of those. ``out_of_reach`` are colours that are held
    to a limit of their own, as the inks at hand cannot reach them.
    """

    colours: int
    blocks: int
    curve: tuple[CurvePoint, ...]
    lies_over: tuple[LiesOver, ...]
    lower_bound: int
    tried_bound: int
    tried: int
    proven: bool
    out_of_reach: tuple[OutOfReach, ...] = ()


TrapReason = Literal["one for all", "hidden", "seen", "colour", "edge", "line", "leaf", "leaf over"]
"""Why a trap is as wide as it is: the same everywhere; its seam is hidden; its seam is seen, so that it is
the least that the register allows; decided for the colour; decided for this edge; to a line's middle; leaf
hides it; decided for this edge, where the leaf runs over the colour."""


@dataclass(frozen=True, slots=True)
class EdgeTrap:
    """The common edges of two impressions that have one trap, and what it leaves to chance.

    ``earlier`` and ``later`` are numbers of impressions; ``runs_under`` is the one of them that runs under
    the other, by ``trap_mm`` as asked for (for a line, the mean of what is reached). ``reach_mm`` is the trap
    of a plain straight edge that would gape as rarely: less than ``trap_mm`` where the darker shapes are
    thin. ``gap_mm2`` is the bare paper to expect on one sheet. ``seam_delta_e00`` tells how far the overlap's
    colour is from the nearer of its neighbours (CIEDE2000). ``at`` lies on the longest of the edges, mm.
    """

    earlier: int
    later: int
    runs_under: int
    length_mm: float
    trap_mm: float
    reach_mm: float
    gap_mm2: float
    seam_delta_e00: float
    reason: TrapReason
    at: PointMm


@dataclass(frozen=True, slots=True)
class KeyLine:
    """What the key carries: its impression's number, the length of its lines in mm, up to which width a part
    of it counts as a line, and how many shapes of other colours were lifted into it."""

    impression: int
    line_mm: float
    widest_line_mm: float
    lifted_shapes: int


@dataclass(frozen=True, slots=True)
class Separation:
    """The impressions in printing order, and the shapes that are left as bare paper.

    Karazuri comes after all inks, leaf after that. ``layings`` tell how each metal's leaves are laid;
    ``unmatched`` are shapes whose colour in the design the print is not to have: those under leaf, and those
    that are embossed in place of being printed.

    ``edges_mm`` gives the length of common edge of each pair of impressions (earlier number, later
    number, mm). ``median_delta_e00`` and ``max_delta_e00`` compare each shape's predicted colour with
    the design's, the median by area. ``edges`` tells the trap of every pair of impressions that meet, and
    ``key`` what the key block carries, if there is one. ``overprints`` is None where each colour has a block
    of its own.
    """

    impressions: tuple[Impression, ...]
    paper_shapes: tuple[int, ...]
    edges_mm: tuple[tuple[int, int, float], ...]
    median_delta_e00: float
    max_delta_e00: float
    findings: tuple[Finding, ...] = ()
    edges: tuple[EdgeTrap, ...] = ()
    key: KeyLine | None = None
    overprints: Overprints | None = None
    layings: tuple[Laying, ...] = ()
    unmatched: tuple[int, ...] = ()

    @property
    def blocks(self) -> int:
        """Different faces that are carved: impressions that print the very same area share one.

        So does karazuri from the front with an ink; what presses the back is carved the other way round.
        """
        inked = self.inked
        without_ink = [each for each in self.from_blocks if each.ink is None]
        own = [
            each
            for each in without_ink
            if each.side == "back"
            or not any(each.shapes == other.shapes and each.area.equals(other.area) for other in inked)
        ]
        return len({each.shapes for each in inked}) + len(own)

    @property
    def leaves(self) -> dict[int, tuple[Region, ...]]:
        """Where the leaves are laid, in their order, by the number of the impression."""
        return {each.impression: each.leaves for each in self.layings}

    @property
    def inked(self) -> tuple[Impression, ...]:
        """The impressions that are printed with an ink: all but karazuri and leaf."""
        return tuple(each for each in self.impressions if each.ink is not None)

    @property
    def from_blocks(self) -> tuple[Impression, ...]:
        """The impressions that take a block: all but leaf."""
        return tuple(each for each in self.impressions if each.kind != "leaf")

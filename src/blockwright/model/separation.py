"""Separation: the impressions in printing order."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from blockwright.model.axis import Axis
from blockwright.model.findings import Finding
from blockwright.model.inks import Bands
from blockwright.model.units import Area, Lab

Kind = Literal["key", "colour", "karazuri", "leaf"]

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
class Impression:
    """One inking and rubbing of one set of shapes, in one ink.

    ``area`` is what the block prints, right-reading, in mm, traps included; ``shapes`` counts into the
    design's shapes; ``srgb_hex`` and ``lab`` are the colour wanted on the paper; ``trap_mm`` is how far
    the area runs under its darker neighbours; ``gradation`` is None for a flat impression;
    with one, ``ink``, ``srgb_hex`` and ``lab`` are those of full colour.
    """

    number: int
    name: str
    kind: Kind
    ink: Ink
    passes: int
    shapes: tuple[int, ...]
    area: Area
    trap_mm: float
    srgb_hex: str
    lab: Lab
    gradation: Gradation | None = None


@dataclass(frozen=True, slots=True)
class Separation:
    """The impressions in printing order, and the shapes that are left as bare paper.

    ``edges_mm`` gives the length of common edge of each pair of impressions (earlier number, later
    number, mm). ``median_delta_e00`` and ``max_delta_e00`` compare each shape's predicted colour with
    the design's, the median by area.
    """

    impressions: tuple[Impression, ...]
    paper_shapes: tuple[int, ...]
    edges_mm: tuple[tuple[int, int, float], ...]
    median_delta_e00: float
    max_delta_e00: float
    findings: tuple[Finding, ...] = ()

"""Separation: the impressions in printing order."""

from dataclasses import dataclass
from typing import Literal

from blockwright.model.findings import Finding
from blockwright.model.inks import Bands
from blockwright.model.leaf import Laying
from blockwright.model.units import Area, Lab

Kind = Literal["key", "colour", "karazuri", "leaf"]

SheetSide = Literal["front", "back"]
"""The side of the sheet that lies on the block."""


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
    """One inking and rubbing of one set of shapes, in one ink; or what comes after the inks.

    ``area`` is what the block prints, right-reading, in mm, traps included; ``shapes`` counts into the
    design's shapes; ``srgb_hex`` and ``lab`` are the colour wanted on the paper; ``trap_mm`` is how far
    the area runs under its darker neighbours; ``gradation`` is None for a flat impression.

    Karazuri and leaf have no ink (``ink`` is None) and no trap; ``srgb_hex`` and ``lab`` then are the
    paper's, or stand for the leaf. Karazuri from the back has the ``side`` "back". Leaf takes no block.
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
    gradation: None = None
    side: SheetSide = "front"

    @property
    def printed_ink(self) -> Ink:
        """The ink of an impression that has one. Raises ValueError for karazuri and leaf."""
        if self.ink is None:
            raise ValueError(f"impression {self.number} has no ink")
        return self.ink


@dataclass(frozen=True, slots=True)
class Separation:
    """The impressions in printing order, and the shapes that are left as bare paper.

    Karazuri comes after all inks, leaf after that. ``layings`` tell how each metal's leaves are laid;
    ``unmatched`` are shapes whose colour in the design the print is not to have: those under leaf, and those
    that are embossed in place of being printed.

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
    layings: tuple[Laying, ...] = ()
    unmatched: tuple[int, ...] = ()

    @property
    def inked(self) -> tuple[Impression, ...]:
        """The impressions that are printed with an ink: all but karazuri and leaf."""
        return tuple(each for each in self.impressions if each.ink is not None)

    @property
    def from_blocks(self) -> tuple[Impression, ...]:
        """The impressions that take a block: all but leaf."""
        return tuple(each for each in self.impressions if each.kind != "leaf")

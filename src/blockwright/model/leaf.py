"""Leaf: the metals that can be laid on a print, and how the leaves of one metal are laid."""

from dataclasses import dataclass

from blockwright.model.units import Area, PointMm, Region


@dataclass(frozen=True, slots=True)
class Metal:
    """A kind of leaf as it is bought: square leaves of ``side_mm``, ``per_book`` in a book.

    ``must_coat`` tells that it tarnishes; ``srgb_hex`` only stands for it on screens and paper.
    """

    name: str
    side_mm: float
    per_book: int
    must_coat: bool
    srgb_hex: str


@dataclass(frozen=True, slots=True)
class Laying:
    """How the leaves of one metal are laid on one print, right-reading, in mm.

    ``ground`` is the area that takes the ground (size), for a stencil or the brush. ``leaves`` are the
    places of the whole leaves, numbered in this order from 1, each ``lap_mm`` or more over its neighbours
    where they meet on the ground. ``fewest_known`` is a lower bound for their number on the grid of
    ``grid_mm`` (:mod:`blockwright.geometry.square_cover`), ``proven`` tells that it is reached.
    ``leaves_needed`` and ``books`` are those of all ``sheets``, waste counted. ``at`` lies in the ground.
    """

    impression: int
    metal: Metal
    ground: Area
    leaves: tuple[Region, ...]
    lap_mm: float
    turn_deg: float
    grid_mm: float
    fewest_known: int
    proven: bool
    sheets: int
    leaves_needed: int
    books: int
    at: PointMm

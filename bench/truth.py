"""The demonstration picture's own edges and areas: the truth that its shapes are measured against."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from bench.edges import Edges, edges_of
from blockwright.colour import hex_to_lab
from blockwright.demo import Scene, visible_shapes
from blockwright.model.design import Design


@dataclass(frozen=True, slots=True)
class Truth:
    """A scene's visible edges (in mm), its flat colours, and the areas in which colour runs.

    The numbers of ``edges.colours`` count into ``flat_hex`` first and into the running areas after it.
    """

    width_mm: float
    height_mm: float
    edges: Edges
    flat_hex: tuple[str, ...]
    flat_mm2: tuple[float, ...]
    running: BaseGeometry


def truth_of(scene: Scene) -> Truth:
    """What a perfect tracer would find in a painted scene."""
    visible = visible_shapes(scene)
    flat_hex = tuple(dict.fromkeys(shape.colour for shape in visible if shape.fade_to is None))
    running = [shape for shape in visible if shape.fade_to is not None]
    colours = [
        len(flat_hex) + running.index(shape) if shape.fade_to is not None else flat_hex.index(shape.colour)
        for shape in visible
    ]
    areas = [shape.area for shape in visible]
    flat_mm2 = tuple(
        sum(shape.area.area for shape in visible if shape.fade_to is None and shape.colour == each)
        for each in flat_hex
    )
    return Truth(
        width_mm=scene.width_mm,
        height_mm=scene.height_mm,
        edges=edges_of(areas, colours),
        flat_hex=flat_hex,
        flat_mm2=flat_mm2,
        running=shapely.union_all([shape.area for shape in running]) if running else MultiPolygon(),
    )


def nearest_colours(hexes: Sequence[str], among: Sequence[str]) -> NDArray[np.int64]:
    """For each colour the number of the nearest (CIELAB distance) among others; all as ``#rrggbb``."""
    one = np.array([hex_to_lab(each) for each in hexes])
    other = np.array([hex_to_lab(each) for each in among])
    return np.asarray(np.linalg.norm(one[:, None] - other[None], axis=2).argmin(axis=1), dtype=np.int64)


@dataclass(frozen=True, slots=True)
class AreaError:
    """One flat colour: its true area, and that of the shapes in the found colour nearest to it.

    ``found_mm2`` is what lies outside the areas in which colour runs, ``in_runs_mm2`` what lies in them.
    """

    true_hex: str
    found_hex: str
    true_mm2: float
    found_mm2: float
    in_runs_mm2: float

    @property
    def percent(self) -> float:
        """How much too large (or, negative, too small) the found area is outside runs."""
        return 100.0 * (self.found_mm2 / self.true_mm2 - 1.0)


def area_errors(design: Design, truth: Truth) -> tuple[AreaError, ...]:
    """Compare areas colour by colour.

    A step of a gradation may be given a flat colour; that is told apart.
    """
    found_hex = [colour.srgb_hex for colour in design.palette]
    told = []
    for k, true_hex, true_mm2 in zip(
        nearest_colours(truth.flat_hex, found_hex), truth.flat_hex, truth.flat_mm2, strict=True
    ):
        found = shapely.multipolygons([shape.region for shape in design.shapes if shape.colour == k])
        in_runs_mm2 = float(shapely.intersection(found, truth.running).area)
        told.append(AreaError(true_hex, found_hex[k], true_mm2, found.area - in_runs_mm2, in_runs_mm2))
    return tuple(told)

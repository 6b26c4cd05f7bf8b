"""The colour of a shape in which something runs, the design's colour or an ink's film: place by place."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import (
    delta_e00,
    layer_reflectance,
    reflectance_to_display,
    reflectance_to_lab,
)
from blockwright.geometry.running import film_share, places_inside, run_lab
from blockwright.model.design import Shape
from blockwright.model.units import Lab
from blockwright.proof.light import Layer

_PLACES = 160
"""Places in a shape that are compared; more change its mean by less than 0.05."""


@dataclass(frozen=True, slots=True)
class AlongRun:
    """Wanted and predicted colour, means over a shape's area, and how far apart they are there.

    ``mean_layers`` are the layers as flat films that lay as much ink.
    """

    target: NDArray[np.float64]
    predicted: NDArray[np.float64]
    delta_e00: float
    worst_delta_e00: float
    beyond_screen: bool
    mean_layers: tuple[Layer, ...]


def anything_runs(shape: Shape, layers: Sequence[Layer]) -> bool:
    """Whether the shape's colour runs, or one of the layers over it."""
    return shape.run is not None or any(layer.gradation is not None for layer in layers)


def along_run(shape: Shape, flat_lab: Lab, paper: NDArray[np.float64], layers: Sequence[Layer]) -> AlongRun:
    """Compare a shape with its print: ``layers`` over the ``paper``, the lowest first.

    ``flat_lab`` is wanted where the shape's own colour does not run.
    """
    places = places_inside(shape.region, about=_PLACES)
    seen, even = np.tile(paper, (len(places), 1)), []
    for layer in layers:
        share = np.ones(len(places)) if layer.gradation is None else film_share(layer.gradation, places)
        seen = layer_reflectance(layer.k, layer.s, layer.thickness * share[:, None], seen)
        even.append(replace(layer, thickness=layer.thickness * float(share.mean()), gradation=None))
    target = np.tile(flat_lab, (len(places), 1)) if shape.run is None else run_lab(shape.run, places)
    predicted = reflectance_to_lab(seen)
    off = delta_e00(predicted, target)
    return AlongRun(
        target=target.mean(axis=0),
        predicted=predicted.mean(axis=0),
        delta_e00=float(off.mean()),
        worst_delta_e00=float(off.max()),
        beyond_screen=bool(np.any(reflectance_to_display(seen).mapped)),
        mean_layers=tuple(even),
    )

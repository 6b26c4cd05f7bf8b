"""The colours of a coverage by number: each flat or running, with the name that was given by hand."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from blockwright.colour.srgb import lab_to_hex
from blockwright.design.gradations import FoundRun
from blockwright.geometry.coverage import Coverage
from blockwright.geometry.merging import dissolve
from blockwright.geometry.running import places_inside, run_lab
from blockwright.model.design import Run

_PLACES = 400
"""Places in a shape over which the mean of a run is taken."""


@dataclass(frozen=True, slots=True)
class Colours:
    """``#rrggbb`` of each colour, its run or None for flat paint, and its name, "" where none was given.

    The value of a colour that runs is its mean over its shapes.
    """

    hexes: tuple[str, ...]
    runs: tuple[Run | None, ...]
    names: tuple[str, ...]

    @classmethod
    def unnamed(cls, hexes: tuple[str, ...], runs: tuple[Run | None, ...] | None = None) -> "Colours":
        """Colours without names, flat unless told otherwise."""
        return cls(hexes, runs or (None,) * len(hexes), ("",) * len(hexes))

    def chosen(self, order: Sequence[int]) -> "Colours":
        """Some of the colours, in another order."""
        return Colours(
            tuple(self.hexes[k] for k in order),
            tuple(self.runs[k] for k in order),
            tuple(self.names[k] for k in order),
        )

    def added(self, srgb_hex: str, run: Run | None = None) -> "Colours":
        """One colour more, the last."""
        return Colours((*self.hexes, srgb_hex), (*self.runs, run), (*self.names, ""))

    def changed(self, colour: int, *, srgb_hex: str | None = None, run: Run | None = None) -> "Colours":
        """One colour with another run, or flat, and another value if one is given."""
        runs = tuple(run if k == colour else each for k, each in enumerate(self.runs))
        hexes = tuple(srgb_hex or h if k == colour else h for k, h in enumerate(self.hexes))
        return replace(self, hexes=hexes, runs=runs)

    def named(self, colour: int, name: str) -> "Colours":
        """One colour with a name."""
        return replace(self, names=tuple(name if k == colour else n for k, n in enumerate(self.names)))


def mean_hex(run: Run, polygons: Sequence[shapely.Polygon]) -> str:
    """The mean colour of a run over some shapes, as ``#rrggbb``."""
    area = shapely.area(polygons)
    means = [run_lab(run, places_inside(each, about=_PLACES)).mean(axis=0) for each in polygons]
    return lab_to_hex(np.average(means, axis=0, weights=area))


def with_runs(
    coverage: Coverage, hexes: tuple[str, ...], found: Sequence[FoundRun]
) -> tuple[Coverage, Colours]:
    """Give the regions of each run a colour of its own, and join those that meet."""
    colours, labels = Colours.unnamed(hexes), coverage.labels.copy()
    for each in found:
        labels[list(each.regions)] = len(colours.hexes)
        colours = colours.added(mean_hex(each.run, list(coverage.polygons[list(each.regions)])), each.run)
    if not found:
        return coverage, colours
    return dissolve(Coverage(coverage.polygons, labels), [k for e in found for k in e.regions]), colours

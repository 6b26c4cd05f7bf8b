"""A gradation set by hand: what runs where, from what to what, or that nothing runs."""

from dataclasses import replace

import numpy as np
import shapely

from blockwright.colour.srgb import hex_to_lab
from blockwright.design.colours import Colours, mean_hex
from blockwright.design.run_fitting import run_along
from blockwright.geometry.running import lab_along
from blockwright.model.axis import Axis
from blockwright.model.design import Run
from blockwright.model.settings import GradationAt

_EVEN = (0.0, 0.5, 1.0)
"""How far the colour has gone at equal steps where nothing else is said."""


def edited_run(edit: GradationAt, run: Run | None, *, flat_hex: str, paper_hex: str) -> Run | None:
    """The run that an edit asks for; None where neither it nor the shape says where the colour runs.

    ``run`` is what the shape has so far; flat paint has none and its colour is ``flat_hex``.
    """
    laid = _laid(edit, run, flat_hex=flat_hex, paper_hex=paper_hex)
    if laid is None:
        return None
    if edit.printed is None:
        return replace(laid, printed=None if run is None else run.printed)
    return replace(laid, printed=None if edit.printed == "as fits" else edit.printed)


def _laid(edit: GradationAt, run: Run | None, *, flat_hex: str, paper_hex: str) -> Run | None:
    """Where the colour runs, and from what to what."""
    if edit.start is not None and edit.end is not None:
        axis = Axis(edit.start, edit.end)
    elif run is not None:
        axis = run.axis
    else:
        return None
    flat_lab, paper_lab = hex_to_lab(flat_hex), hex_to_lab(paper_hex)
    was = run if run is not None else run_along(axis, np.array([flat_lab, paper_lab]))
    if edit.start_colour is not None or edit.end_colour is not None:
        ends = (was.lab[0], was.lab[-1])
        given = (edit.start_colour, edit.end_colour)
        one, other = (e if h is None else hex_to_lab(h) for e, h in zip(ends, given, strict=True))
        was = run_along(axis, np.array([one, other]))
    if edit.ramp is None and run is not None and was is run:
        return run_along(axis, np.array(run.lab))
    steps = lab_along(was, np.array(edit.ramp or _EVEN))
    return run_along(axis, steps)


def with_edited_run(
    colours: Colours,
    edit: GradationAt,
    own: int,
    shape: shapely.Polygon,
    alike: list[shapely.Polygon],
    *,
    paper_hex: str,
) -> tuple[Colours, int] | None:
    """The colours after an edit of a shape's gradation, and the shape's colour then; None if it says nothing.

    ``own`` is its colour now, which the shapes ``alike`` have. All shapes of a run change together; of a flat
    colour only the one.
    """
    was = colours.runs[own]
    if edit.flat:
        return None if was is None else (colours.changed(own), own)
    run = edited_run(edit, was, flat_hex=colours.hexes[own], paper_hex=paper_hex)
    if run is None or run == was:
        return None
    if was is None:
        return colours.added(mean_hex(run, [shape]), run), len(colours.hexes)
    return colours.changed(own, srgb_hex=mean_hex(run, alike), run=run), own

"""A gradation as a sentence for whoever brushes it: its kind, where it is full, and where it is gone."""

from blockwright.model.separation import Gradation

_AT_EDGE_MM = 3.0
"""A place this near to the image's edge is told as at it, mm [CP]."""

_UPRIGHT = 0.94
"""The cosine of the angle, 20 degrees, up to which a run counts as upright or level [CP]."""


def _mm(length_mm: float) -> str:
    return f"{length_mm:.0f} mm"


def _edge_words(axis_way: tuple[float, float]) -> tuple[str, str] | None:
    """The edge of the image that a run comes from, and which way it goes; None where it goes aslant."""
    x, y = axis_way
    if abs(y) >= _UPRIGHT:
        return ("upper", "below") if y > 0.0 else ("lower", "above")
    if abs(x) >= _UPRIGHT:
        return ("left", "to the right") if x > 0.0 else ("right", "to the left")
    return None


def _round_sentence(gradation: Gradation) -> str:
    """Of a gradation that runs round a point."""
    axis, full, gone = gradation.axis, gradation.full_mm, gradation.gone_mm
    outwards = axis.far_mm >= axis.near_mm
    starts = axis.near_mm + (full if outwards else -full)
    if starts < _AT_EDGE_MM:
        where = "full in the middle"
    elif outwards:
        where = f"full up to {_mm(starts)} from the middle"
    else:
        where = f"full {_mm(starts)} from the middle and beyond"
    ends = axis.far_mm if gone is None else axis.near_mm + (gone if outwards else -gone)
    how = "gone" if gone is not None else f"thinned to {100.0 * gradation.ramp[-1]:.0f} %"
    there = "in the middle" if ends < _AT_EDGE_MM else f"{_mm(ends)} from it"
    return f"{gradation.kind}: {where}, {how} {there}"


def gradation_sentence(gradation: Gradation, *, width_mm: float, height_mm: float) -> str:
    """Where full colour starts and ends, on the print, of an image so large.

    >>> from blockwright.model.axis import Axis
    >>> sky = Gradation("fukisage", Axis((150.0, 0.0), (150.0, 62.0)), (1.0, 0.5, 0.0))
    >>> gradation_sentence(sky, width_mm=300.0, height_mm=200.0)
    'fukisage: full at the upper edge, gone 58 mm below'
    >>> sun = Gradation("atenashi", Axis((50.0, 20.0), (50.0, 48.0), ((50.0, 50.0),), 30.0, 2.0), (1.0, 0.4))
    >>> gradation_sentence(sun, width_mm=300.0, height_mm=200.0)
    'atenashi: full 29 mm from the middle and beyond, thinned to 40 % in the middle'
    """
    axis = gradation.axis
    full, gone = gradation.full_mm, gradation.gone_mm
    if axis.middle is not None:
        return _round_sentence(gradation)
    if axis.edge:
        sign = 1.0 if axis.far_mm >= axis.near_mm else -1.0
        starts = axis.near_mm + sign * full
        where = "full along the edge" if starts < _AT_EDGE_MM else f"full from {_mm(starts)} off the edge on"
        if gone is None:
            ends, how = axis.far_mm, f"thinned to {100.0 * gradation.ramp[-1]:.0f} %"
        else:
            ends, how = axis.near_mm + sign * gone, "gone"
        there = "at the edge" if ends < _AT_EDGE_MM else f"{_mm(ends)} off it"
        return f"{gradation.kind}: {where}, {how} {there}"
    length = max(axis.length_mm, 1e-9)
    way = ((axis.end[0] - axis.start[0]) / length, (axis.end[1] - axis.start[1]) / length)
    how = "gone" if gone is not None else f"thinned to {100.0 * gradation.ramp[-1]:.0f} %"
    runs = (gone if gone is not None else length) - full
    at = (axis.start[0] + way[0] * full, axis.start[1] + way[1] * full)
    words = _edge_words(way)
    if words is None:
        where = f"full up to {at[0]:.0f}, {at[1]:.0f} mm from the upper left corner"
        towards = f"{axis.end[0]:.0f}, {axis.end[1]:.0f} mm"
        return f"{gradation.kind}: {where}, {how} {_mm(runs)} on, towards {towards}"
    edge, direction = words
    from_edge = {"upper": at[1], "lower": height_mm - at[1], "left": at[0], "right": width_mm - at[0]}[edge]
    if from_edge <= _AT_EDGE_MM:
        where = f"full at the {edge} edge"
    else:
        where = f"full down to {_mm(from_edge)}" if edge == "upper" else f"full up to {_mm(from_edge)}"
        where += f" from the {edge} edge"
    return f"{gradation.kind}: {where}, {how} {_mm(runs)} {direction}"

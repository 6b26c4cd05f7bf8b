"""Which ink goes where on a face that carries several: a label at every cluster of what each one prints."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from blockwright.documents.fonts import plain
from blockwright.documents.sheet import Placement
from blockwright.model.blocks import Face, FacePart

CLUSTER_MM = 20.0
"""Regions of one ink that lie nearer on the block are inked in one go and have one label."""

STEP_MM = 0.5
"""Bends smaller than this do not matter for where a label stands."""

Box = tuple[float, float, float, float]
"""Left, top, right and lower edge."""


@dataclass(frozen=True, slots=True)
class InkSaid:
    """What a drawing says of the ink of an impression: its name and its colour as ``#rrggbb``.

    ``blind`` is karazuri, which has none and shows the paper.
    """

    name: str
    srgb_hex: str
    blind: bool = False


@dataclass(frozen=True, slots=True)
class InkLabel:
    """Words and the box for them on the page or raster."""

    impression: int
    words: str
    box: Box


def tints(face: Face, inks: Mapping[int, InkSaid], otherwise: str) -> list[tuple[FacePart, str]]:
    """What each impression of a face prints, with the colour to draw it in, in the order to draw them.

    Where one carving prints an ink and embosses without any, it is to be seen in its ink.
    """
    blind = {number for number, ink in inks.items() if ink.blind}
    return [
        (part, inks[part.impression].srgb_hex if part.impression in inks else otherwise)
        for part in sorted(face.each_part, key=lambda part: part.impression not in blind)
    ]


def place_labels(
    face: Face,
    inks: Mapping[int, InkSaid],
    placement: Placement,
    *,
    frame: Box,
    measure: Callable[[str], float],
    height: float,
) -> list[InkLabel]:
    """Place the labels of a face that carries several impressions; one that carries a single ink has none.

    The largest cluster of an ink has its number and name, the others the number alone. A label stands inside
    where it has room, else beside, clear of all that prints and of other labels where that can be; always in
    ``frame``. ``measure`` gives the width of words, and ``height`` is that of a line, in the page's units.
    """
    placed: list[InkLabel] = []
    if len(face.each_part) < 2:
        return placed
    printing = shapely.simplify(face.printing, STEP_MM)
    shapely.prepare(printing)
    for part in face.each_part:
        for number, cluster in enumerate(_clusters(part)):
            words = _words(part, inks) if number == 0 else str(part.impression)
            size = measure(words) + 0.9 * height, 1.5 * height
            box = _box(cluster, printing, placement, size, frame, [label.box for label in placed])
            placed.append(InkLabel(part.impression, words, box))
    return placed


def _words(part: FacePart, inks: Mapping[int, InkSaid]) -> str:
    name = plain(inks[part.impression].name) if part.impression in inks else ""
    return f"{part.impression} {name}".strip() + (", turned" if part.turned else "")


def _clusters(part: FacePart) -> list[Any]:
    """The regions of a part in clusters, the largest first."""
    regions = shapely.get_parts(shapely.simplify(part.printing, STEP_MM))
    near = shapely.get_parts(shapely.union_all(shapely.buffer(regions, CLUSTER_MM / 2, quad_segs=2)))
    tree = shapely.STRtree(near)
    of = {int(region): int(cluster) for region, cluster in tree.query(regions, predicate="intersects").T}
    clusters = [
        shapely.MultiPolygon([regions[k] for k in range(len(regions)) if of.get(k) == c])
        for c in range(len(near))
    ]
    return sorted(clusters, key=lambda cluster: (-cluster.area, cluster.bounds))


def _box(
    cluster: Any,
    printing: Any,
    placement: Placement,
    size: tuple[float, float],
    frame: Box,
    taken: Sequence[Box],
) -> Box:
    """The first place that is clear of everything, or else the one that is in the way of the least."""
    largest = max(cluster.geoms, key=lambda region: region.area)
    best: tuple[int, Box] | None = None
    for inside, box in _places(cluster, largest, placement, size, frame):
        on_face = _on_face(box, placement)
        wrong = sum(_meet(box, other) for other in taken) * 4
        wrong += not shapely.covers(largest, on_face) if inside else shapely.intersects(printing, on_face)
        if best is None or wrong < best[0]:
            best = wrong, box
        if wrong == 0:
            break
    assert best is not None
    return best[1]


def _places(
    cluster: Any, largest: Any, placement: Placement, size: tuple[float, float], frame: Box
) -> Iterator[tuple[bool, Box]]:
    """Boxes for a label, the most wanted first, each with whether it is meant to stand inside."""
    width, height = size
    corners = placement.points(np.array(cluster.bounds).reshape(2, 2))
    (left, top), (right, foot) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    x, y = placement.point((shapely.point_on_surface(largest).x, shapely.point_on_surface(largest).y))
    gap = 0.3 * height
    middles = [(x, y)]
    middles += [(along, top - gap - height / 2) for along in (x, (left + right) / 2)]
    middles += [(along, foot + gap + height / 2) for along in (x, (left + right) / 2)]
    for across in (y, (top + foot) / 2):
        middles += [(right + gap + width / 2, across), (left - gap - width / 2, across)]
    for number, (across, down) in enumerate(middles):
        left = min(max(across - width / 2, frame[0]), frame[2] - width)
        top = min(max(down - height / 2, frame[1]), frame[3] - height)
        yield number == 0, (left, top, left + width, top + height)


def _on_face(box: Box, placement: Placement) -> Any:
    """A box on the page as it lies on the face."""
    xs = sorted((x - placement.bx) / placement.ax for x in (box[0], box[2]))
    ys = sorted((y - placement.by) / placement.ay for y in (box[1], box[3]))
    return shapely.box(xs[0], ys[0], xs[1], ys[1])


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]

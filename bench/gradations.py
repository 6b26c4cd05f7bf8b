"""How truly gradations are found: synthetic runs whose axis and ends are known, and flat pictures.

``python -m bench.gradations`` prints the figures of ``docs/methods/gradations.md``.
"""

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from bench.figures import Row, Section, at_most, rows_table
from blockwright.design.making import trace_picture
from blockwright.model.axis import Axis
from blockwright.model.design import Run, Tracing
from blockwright.model.settings import DesignTable

WIDTH_MM = 300.0
PIXELS = (900, 600)
GROUND = (120, 84, 58)
COUNT = 40
MOST_DEG, MOST_PERCENT = 3.0, 3.0
"""What is asked of an axis, and of its ends as a part of the run's length."""
Rgb = tuple[int, int, int]

RAMPS: tuple[tuple[Rgb, Rgb], ...] = (
    ((50, 64, 114), (249, 189, 158)),
    ((40, 80, 130), (246, 239, 223)),
    ((150, 40, 40), (246, 239, 223)),
    ((30, 60, 40), (200, 210, 150)),
    ((90, 60, 120), (240, 200, 90)),
    ((34, 34, 43), (170, 180, 190)),
)


@dataclass(frozen=True)
class Painted:
    """A picture with one run in it, and the truth about that."""

    pixels: NDArray[np.uint8]
    angle_deg: float | None
    begins_mm: float
    ends_mm: float
    middle: tuple[float, float] | None = None


def straight(seed: int) -> Painted:
    """A run at any angle, calm paint before and after it, a disc and a bar over it, brush noise."""
    random = np.random.default_rng(seed)
    width, height = PIXELS
    first, last = (np.array(c, float) for c in RAMPS[seed % len(RAMPS)])
    angle = float(random.uniform(0.0, 360.0))
    across = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    x, y = np.meshgrid((np.arange(width) + 0.5) / 3.0, (np.arange(height) + 0.5) / 3.0)
    along = (x - 150.0) * across[0] + (y - 100.0) * across[1]
    half = float(random.uniform(40.0, 85.0))
    shift = float(random.uniform(-15.0, 15.0))
    t = _bent(np.clip((along - shift + half) / (2 * half), 0.0, 1.0), seed)
    picture = first + t[..., None] * (last - first)
    _things_over(picture, random)
    return Painted(_rough(picture, random), angle, shift - half, shift + half)


def along_edge(seed: int) -> Painted:
    """A run away from a wavy shore, calm paint beyond it."""
    random = np.random.default_rng(1000 + seed)
    width, height = PIXELS
    first, last = (np.array(c, float) for c in RAMPS[seed % len(RAMPS)])
    waves = random.uniform(0.6, 1.6)
    x = np.arange(width)
    shore = 130.0 + 75.0 * np.sin(x / width * 2 * np.pi * waves + random.uniform(0, 6.0))
    land = np.arange(height)[:, None] < shore[None]
    away = cv2.distanceTransform((~land).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE) / 3.0
    reach = float(random.uniform(45.0, 80.0))
    t = _bent(np.clip(away / reach, 0.0, 1.0), seed)
    picture = first + t[..., None] * (last - first)
    picture[land] = GROUND
    return Painted(_rough(picture, random), None, 0.0, reach)


def round_a_point(seed: int) -> Painted:
    """A disc whose colour runs between its middle and its rim, either way; something may lie over it."""
    random = np.random.default_rng(5000 + seed)
    width, height = PIXELS
    first, last = (np.array(c, float) for c in RAMPS[seed % len(RAMPS)])
    middle = random.uniform((90, 70), (210, 130))
    rim = float(random.uniform(40, 65))
    begins, ends = float(random.uniform(0.0, 0.3)) * rim, float(random.uniform(0.85, 1.0)) * rim
    x, y = np.meshgrid((np.arange(width) + 0.5) / 3.0, (np.arange(height) + 0.5) / 3.0)
    away = np.hypot(x - middle[0], y - middle[1])
    t = _bent(np.clip((away - begins) / (ends - begins), 0.0, 1.0), seed)
    picture = np.empty((height, width, 3))
    picture[:] = GROUND
    disc = away < rim
    picture[disc] = (first + (1.0 - t if seed % 2 else t)[..., None] * (last - first))[disc]
    if seed % 3 == 0:
        picture[int((middle[1] + 0.4 * rim) * 3) :] = (70, 96, 84)
    if seed % 3 == 1:
        bar = slice(int((middle[1] + 0.35 * rim) * 3), int((middle[1] + 0.5 * rim) * 3))
        picture[bar] = (222, 168, 60)
    where = (float(middle[0]), float(middle[1]))
    return Painted(_rough(picture, random), None, begins, ends, where)


KINDS = {"straight": straight, "along an edge": along_edge, "round a point": round_a_point}
"""Pictures with a run by what they are called."""


def _bent(t: NDArray[np.float64], seed: int) -> NDArray[np.float64]:
    """Ramps that go evenly, or sooner, or later; their ends stay sharp enough to be told."""
    return t if seed % 3 == 0 else 0.6 * t + 0.4 * (t**2 if seed % 3 == 1 else np.sqrt(t))


def _things_over(picture: NDArray[np.float64], random: np.random.Generator) -> None:
    place = random.uniform(0.2, 0.8, 2) * PIXELS
    cv2.circle(picture, (int(place[0]), int(place[1])), 55, (222, 168, 60), -1)
    top = int(random.uniform(0.1, 0.8) * PIXELS[1])
    picture[top : top + 18] = (155, 146, 176)


def _rough(picture: NDArray[np.float64], random: np.random.Generator) -> NDArray[np.uint8]:
    height, width = picture.shape[:2]
    mottle = cv2.resize(random.normal(0, 1.0, (height // 10, width // 10)), (width, height))
    rough = picture + 1.2 * mottle[..., None] + random.normal(0, 1.5, (height, width, 1))
    return np.asarray(np.clip(np.rint(rough), 0, 255), dtype=np.uint8)


def flats(count: int) -> Iterator[NDArray[np.uint8]]:
    """Flat pictures that could be taken for runs: steps of near colours, soft edges, noise, uneven paint."""
    width, height = PIXELS
    for seed in range(count):
        random = np.random.default_rng(2000 + seed)
        bands = int(random.integers(4, 12))
        first, last = (np.array(c, float) for c in RAMPS[seed % len(RAMPS)])
        where = np.arange(height) * bands // height
        if seed % 2:
            steps = first + (where / (bands - 1))[:, None] * (last - first)
            picture = np.repeat(steps[:, None], width, axis=1)
        else:
            colours = np.array([random.uniform(30, 240, 3) for _ in range(bands)])
            picture = np.repeat(colours[where][:, None], width, axis=1)
            for colour in random.uniform(30, 240, (7, 3)):
                corners = random.uniform(0, 1, (5, 2)) * PIXELS
                cv2.fillConvexPoly(picture, cv2.convexHull(corners.astype(np.int32)), colour.tolist())
        soft = (0.0, 0.8, 1.6)[seed % 3]
        if soft:
            picture = cv2.GaussianBlur(picture, (0, 0), soft)
        yield _rough(picture, random)


def traced(pixels: NDArray[np.uint8]) -> Tracing:
    """The picture's shapes."""
    return trace_picture(pixels, width_mm=WIDTH_MM, settings=DesignTable())


def runs_of(tracing: Tracing) -> list[Run]:
    """The runs of a tracing, the one over the largest area first."""
    area: dict[Run, float] = {}
    for shape in tracing.shapes:
        if shape.run is not None:
            area[shape.run] = area.get(shape.run, 0.0) + shape.region.area
    return sorted(area, key=lambda run: -area[run])


def misses(painted: Painted, axis: Axis) -> tuple[float, float]:
    """How far an axis is turned, degrees, and the worse of its ends off, percent of the run's length."""
    length = painted.ends_mm - painted.begins_mm
    if painted.angle_deg is None:
        if not axis.edge or (axis.middle is None) != (painted.middle is None):
            return 0.0, 100.0
        ends = sorted((axis.near_mm, axis.far_mm))
        turned = 0.0
    else:
        way = np.subtract(axis.end, axis.start)
        turned = (np.degrees(np.arctan2(way[1], way[0])) - painted.angle_deg + 90.0) % 180.0 - 90.0
        across = np.array([np.cos(np.radians(painted.angle_deg)), np.sin(np.radians(painted.angle_deg))])
        ends = sorted(float(np.subtract(p, (150.0, 100.0)) @ across) for p in (axis.start, axis.end))
    off = max(abs(ends[0] - painted.begins_mm), abs(ends[1] - painted.ends_mm))
    return abs(float(turned)), 100.0 * off / length


@dataclass(frozen=True)
class Measured:
    """What came of some pictures with one run each: how far off axes and ends are, and which are bad."""

    name: str
    tried: int
    turned_deg: tuple[float, ...]
    off_percent: tuple[float, ...]

    @property
    def within(self) -> int:
        """Runs that are found as truly as is asked for."""
        pairs = zip(self.turned_deg, self.off_percent, strict=True)
        return sum(turned <= MOST_DEG and off <= MOST_PERCENT for turned, off in pairs)


def measured(name: str, paint: Callable[[int], Painted], count: int) -> Measured:
    """Trace so many pictures, and compare the largest run of each with the truth."""
    found = []
    for seed in range(count):
        painted = paint(seed)
        if runs := runs_of(traced(painted.pixels)):
            found.append(misses(painted, runs[0].axis))
    return Measured(name, count, tuple(turned for turned, _ in found), tuple(off for _, off in found))


def gradation_section() -> Section:
    """All figures."""
    kinds = [measured(name, paint, COUNT) for name, paint in KINDS.items()]
    rows = []
    for each in kinds:
        share = each.within / each.tried
        # The middle of a disc is a few pixels, and its rim is soft.
        wanted, least = ("9 in 10", 0.9) if each.name == "round a point" else ("all", 1.0)
        if any(each.turned_deg):
            rows.append(
                at_most(f"{each.name}: axis, worst", max(each.turned_deg), most=MOST_DEG, unit="degrees")
            )
        rows += [
            at_most(
                f"{each.name}: ends, median", float(np.median(each.off_percent)), most=MOST_PERCENT, unit="%"
            ),
            Row(f"{each.name}: ends, worst", f"{max(each.off_percent):.2f} %"),
            Row(f"{each.name}: found within both", f"{each.within} of {each.tried}", wanted, share >= least),
        ]
    false = sum(bool(runs_of(traced(picture))) for picture in flats(COUNT))
    rows.append(Row("flat pictures with a gradation", f"{false} of {COUNT}", "none", false == 0))
    lead = (
        f"Synthetic pictures whose runs are known: {COUNT} straight ones at any angle with things lying over "
        f"them, {COUNT} along a wavy edge, {COUNT} in discs from the middle to the rim, even and bent; and "
        f"{COUNT} flat pictures that look like runs.",
    )
    return Section("gradations", "Gradations", lead, tuple(rows))


def main() -> int:
    """Measure and print."""
    print(rows_table(gradation_section().rows))
    return 0


if __name__ == "__main__":
    sys.exit(main())

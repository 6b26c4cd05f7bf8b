"""Measure how much of a drawing's line work the key carries, against the drawing's own line work.

``python -m bench.key_line COLOUR LINES`` takes a drawing in colour and its line work alone, dark on white.
The two need not lie on each other: the line work is laid over the drawing first, by an affine map and then by
a displacement that is smooth over several millimetres, so that it can follow redrawn limbs but not the width
of a line. ``--width`` is the print's width in mm, ``--paper`` its paper.
"""

import argparse
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from blockwright.design import read_picture
from blockwright.design.making import make_design
from blockwright.geometry.painting import paint_area
from blockwright.model.design import Design
from blockwright.model.separation import Separation
from blockwright.model.settings import DesignTable, SeparationTable
from blockwright.separation import separate

_SMOOTH_MM = 4.0
"""Standard deviation of the displacement's smoothing, mm: several lines wide."""

_ROUNDS = 4
"""Rounds of displacement; later ones move by less than a tenth of a line."""

_DARK = 140.0
"""Levels of the brightest channel below which paint can be line."""

Map = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Found:
    """Areas in mm2: of the line work, of the key, and of what they share."""

    truth_mm2: float
    key_mm2: float
    both_mm2: float

    @property
    def precision(self) -> float:
        """The share of the key that is line work."""
        return self.both_mm2 / self.key_mm2 if self.key_mm2 else 0.0

    @property
    def recall(self) -> float:
        """The share of the line work that is in the key."""
        return self.both_mm2 / self.truth_mm2 if self.truth_mm2 else 0.0


def _darkness(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """How far each pixel is line, 0 to 255: black is, strong colours are not."""
    brightest = pixels.max(axis=2).astype(np.float32)
    dark: NDArray[np.float32] = np.clip((_DARK - brightest) / _DARK * 255.0, 0.0, 255.0).astype(np.float32)
    return dark


def _boxes_matched(one: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float32]:
    """The map from one picture to another that lays their dark parts' bounds on each other."""

    def bounds(dark: NDArray[np.float32]) -> NDArray[np.float64]:
        rows, columns = np.nonzero(dark > 128.0)
        return np.array([columns.min(), rows.min(), columns.max(), rows.max()], dtype=np.float64)

    a, b = bounds(one), bounds(other)
    scale = (b[2:] - b[:2]) / (a[2:] - a[:2])
    shift = b[:2] - scale * a[:2]
    return np.array([[scale[0], 0.0, shift[0]], [0.0, scale[1], shift[1]]], dtype=np.float32)


def _affine(one: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float32]:
    """The affine map from one picture's pixels to the other's, from coarse to fine (Evangelidis 2008)."""
    found = _boxes_matched(one, other)
    for shrink in (4, 2):
        small = [
            cv2.GaussianBlur(
                cv2.resize(each, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA),
                (0, 0),
                3.0,
            )
            for each in (one, other)
        ]
        found[:, 2] /= shrink
        ends = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 300, 1e-8)
        _, found = cv2.findTransformECC(small[0], small[1], found, cv2.MOTION_AFFINE, ends, None, 5)
        found[:, 2] *= shrink
    return found


def lay_over(drawing: NDArray[np.uint8], lines: NDArray[np.uint8], *, smooth_px: float) -> NDArray[np.bool_]:
    """Where the line work lies in the drawing, (H, W) bool: half a pixel and more is line."""
    one, other = _darkness(drawing), _darkness(lines)
    affine = _affine(one, other)
    height, width = one.shape
    rows, columns = np.mgrid[0:height, 0:width].astype(np.float32)
    x, y = (m[0] * columns + m[1] * rows + m[2] for m in affine)
    for _ in range(_ROUNDS):
        x, y = _moved(one, other, x, y, smooth_px)
    laid = cv2.remap(lines, x, y, cv2.INTER_LINEAR, borderValue=(255, 255, 255))
    where: NDArray[np.bool_] = laid.max(axis=2) < 128
    return where


def _moved(
    one: NDArray[np.float32], other: NDArray[np.float32], x: Map, y: Map, smooth_px: float
) -> tuple[Map, Map]:
    """A map bettered by a smooth displacement."""
    now = cv2.remap(other, x, y, cv2.INTER_LINEAR, borderValue=0.0)
    flow = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_MEDIUM)
    flow.setFinestScale(2)
    blurred = [cv2.GaussianBlur(each, (0, 0), 3.0).astype(np.uint8) for each in (one, now)]
    found = flow.calc(blurred[0], blurred[1], None)
    line = cv2.GaussianBlur(((one > 100.0) | (now > 100.0)).astype(np.float32), (0, 0), 2.0)
    weight = cv2.GaussianBlur(line, (0, 0), smooth_px) + 1e-6
    dx, dy = (cv2.GaussianBlur(found[..., k] * line, (0, 0), smooth_px) / weight for k in (0, 1))
    rows, columns = np.mgrid[0 : one.shape[0], 0 : one.shape[1]].astype(np.float32)
    at = columns + dx, rows + dy
    edge = cv2.BORDER_REPLICATE
    return (
        cv2.remap(x, *at, cv2.INTER_LINEAR, borderMode=edge),
        cv2.remap(y, *at, cv2.INTER_LINEAR, borderMode=edge),
    )


def compare(design: Design, separation: Separation, truth: NDArray[np.bool_]) -> Found:
    """The key's area against line work given as pixels of the design's picture."""
    square = design.pixels_per_mm**2
    if separation.key is None:
        return Found(float(np.count_nonzero(truth)) / square, 0.0, 0.0)
    key = separation.impressions[separation.key.impression - 1]
    height, width = truth.shape
    drawn = paint_area(key.area, pixels_per_mm=design.pixels_per_mm, width_px=width, height_px=height) >= 0.5
    counts = (np.count_nonzero(each) / square for each in (truth, drawn, truth & drawn))
    return Found(*(float(count) for count in counts))


def measure(
    drawing: Path, lines: Path, *, width_mm: float, paper_hex: str
) -> tuple[Found, Separation, float]:
    """How much of the line work the key carries, the separation, and how long that took, s."""
    pixels = read_picture(drawing, paper_hex=paper_hex, width_mm=width_mm).pixels
    line_pixels = read_picture(lines, paper_hex="#ffffff", width_mm=width_mm).pixels
    design = make_design(
        pixels, title=drawing.stem, width_mm=width_mm, paper_hex=paper_hex, settings=DesignTable()
    )
    begun = time.perf_counter()
    separation = separate(design, SeparationTable())
    took = time.perf_counter() - begun
    truth = lay_over(pixels, line_pixels, smooth_px=_SMOOTH_MM * design.pixels_per_mm)
    return compare(design, separation, truth), separation, took


def main(words: list[str]) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        prog="python -m bench.key_line", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("drawing", type=Path, help="the drawing in colour")
    parser.add_argument("lines", type=Path, help="its line work, dark on white")
    parser.add_argument("--width", type=float, default=240.0, help="width of the print, mm")
    parser.add_argument("--paper", default="#ffffff", help="colour of the paper")
    asked = parser.parse_args(words)
    found, separation, took = measure(asked.drawing, asked.lines, width_mm=asked.width, paper_hex=asked.paper)
    key = separation.key
    print(f"line work {found.truth_mm2:.0f} mm2, key {found.key_mm2:.0f} mm2, both {found.both_mm2:.0f} mm2")
    print(f"precision {found.precision:.3f}, recall {found.recall:.3f}, separated in {took:.1f} s")
    if key is not None:
        print(f"{key.line_mm:.0f} mm of line; {key.lifted_shapes} shapes lifted into the key")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""Finding a page of a calibration sheet in a picture, by its marks.

The marks are ArUco markers: found as black squares, told apart by their modules (Garrido-Jurado et al.,
"Automatic generation and detection of highly reliable fiducial markers under occlusion", *Pattern
Recognition* 47, 2014), with OpenCV's detector. All corners of all marks together give the projective map from
the page to the picture; corners that do not fit are left out (RANSAC: Fischler and Bolles, *Communications of
the ACM* 24, 1981).
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from blockwright.inks.sheet import BASE, DIGITS, MOST_PLACES
from blockwright.model.errors import InkError
from blockwright.model.swatches import MARK_DICTIONARY, MarkPlace, SwatchPage

LEAST_MARKS = 4
"""With fewer marks the page's shape in the picture is not sure."""

LEAST_SPREAD = 0.3
"""Least part of the page that the marks found must span; beyond them places are guessed."""

LEAST_PIXELS_PER_MM = 3.0
"""A picture that shows the page smaller (about 75 dpi) has too few pixels in a patch."""

MOST_ERROR_MM = 1.0
"""A mark farther than this from its place means a page that does not lie flat."""

_LOOK_AT_PX = (2400, 1200, 4800)
"""Long side of the picture as it is searched; the next is tried when marks are missing."""

_AGREE_MM = 0.6
"""A corner within this of the common map belongs to it."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundPage:
    """Where a page lies in a picture.

    ``to_picture``, shape (3, 3), maps (x, y, 1) in mm to pixels, whose centres are whole numbers. ``found``
    are the marks that were seen and fit, ``error_mm`` how far their corners are from the map (root mean
    square), ``pixels_per_mm`` the least scale over the page.
    """

    page: SwatchPage
    to_picture: NDArray[np.float64]
    found: tuple[MarkPlace, ...]
    error_mm: float
    pixels_per_mm: float

    @property
    def missing(self) -> tuple[MarkPlace, ...]:
        """The marks of the page that were not seen."""
        return tuple(mark for mark in self.page.marks if mark not in self.found)

    def pixels(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places in mm, shape (n, 2), as places in the picture."""
        return _mapped(self.to_picture, points_mm)


def find_page(
    pixels: NDArray[np.uint8], pages: Sequence[SwatchPage], *, name: str = "the picture"
) -> FoundPage:
    """Find which of the pages a picture of shape (height, width, 3), sRGB, shows, and where.

    The page may lie at any angle, also upside down or in perspective. Raises InkError in one sentence, in
    which the picture is called ``name``: no marks, marks of another sheet, too few, too small, not flat.
    """
    grey = np.asarray(cv2.cvtColor(np.ascontiguousarray(pixels), cv2.COLOR_RGB2GRAY))
    seen: dict[int, NDArray[np.float64]] = {}
    best: tuple[SwatchPage, list[MarkPlace]] | None = None
    for long_side in _LOOK_AT_PX:
        seen = {**_marks_in(grey, long_side), **seen}
        best = max(((page, _own(page, seen)) for page in pages), key=lambda pair: len(pair[1]))
        if len(best[1]) == len(best[0].marks) or long_side >= max(grey.shape):
            break
    if best is None or not seen:
        raise InkError(
            f"No mark of a calibration sheet is seen in {name}; "
            "the whole page must be in it, sharp and evenly lit."
        )
    page, own = best
    _check_number(page, own, seen, name)
    return _placed(page, own, seen, name)


def _marks_in(grey: NDArray[np.uint8], long_side: int) -> dict[int, NDArray[np.float64]]:
    """The corners, shape (4, 2), of every mark that is seen, by its id; none that is seen twice."""
    scale = min(1.0, long_side / max(grey.shape))
    small = (
        grey
        if scale == 1.0
        else np.asarray(cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
    )
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, MARK_DICTIONARY))
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(small)
    if ids is None:
        return {}
    flat = [int(i) for i in np.asarray(ids).ravel()]
    factor = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
    return {
        marker: (np.asarray(corner, dtype=np.float64).reshape(4, 2) + 0.5) * factor - 0.5
        for marker, corner in zip(flat, corners, strict=True)
        if flat.count(marker) == 1
    }


def _own(page: SwatchPage, seen: dict[int, NDArray[np.float64]]) -> list[MarkPlace]:
    return [mark for mark in page.marks if mark.marker in seen]


def _check_number(
    page: SwatchPage, own: Sequence[MarkPlace], seen: dict[int, NDArray[np.float64]], name: str
) -> None:
    """Refuse marks that belong to another sheet, and say which when they tell."""
    if len(own) * 2 > len(seen) or len(own) >= LEAST_MARKS:
        return
    number = _number_in(seen)
    which = f"calibration sheet {number}" if number is not None else "another calibration sheet"
    raise InkError(
        f"{name[:1].upper()}{name[1:]} shows {which}, not sheet {page.number}"
        f"{'' if page.pages == 1 else ' or a page that belongs to it'}; "
        "give the sheet.json that was made with it."
    )


def _number_in(seen: dict[int, NDArray[np.float64]]) -> int | None:
    """The number that the marks carry; None when a digit is missing."""
    votes = [Counter[int]() for _ in range(DIGITS)]
    for marker in seen:
        votes[marker % MOST_PLACES % DIGITS][marker // MOST_PLACES] += 1
    if not all(votes):
        return None
    digits = [vote.most_common(1)[0][0] for vote in votes]
    return int(sum(digit * BASE**k for k, digit in enumerate(digits)))


def _placed(
    page: SwatchPage, own: Sequence[MarkPlace], seen: dict[int, NDArray[np.float64]], name: str
) -> FoundPage:
    _check_enough(page, own, name)
    on_page = np.concatenate([_corners(mark) for mark in own])
    in_picture = np.concatenate([seen[mark.marker] for mark in own])
    back, _ = cv2.findHomography(in_picture, on_page, cv2.RANSAC, _AGREE_MM, maxIters=5000, confidence=0.9999)
    if back is None:
        raise InkError(f"The marks in {name} do not lie as on the sheet; lay the page flat.")
    away = np.linalg.norm(_mapped(np.asarray(back), in_picture) - on_page, axis=1)
    fits = away.reshape(-1, 4).max(axis=1) < MOST_ERROR_MM
    kept = [mark for mark, good in zip(own, fits, strict=True) if good]
    _check_enough(page, kept, name, flat=len(kept) == len(own))
    corners = np.repeat(fits, 4)
    there, _ = cv2.findHomography(on_page[corners], in_picture[corners], 0)
    forward = np.asarray(there, dtype=np.float64)
    scale = _least_scale(page, forward)
    if scale < LEAST_PIXELS_PER_MM:
        raise InkError(
            f"{name[:1].upper()}{name[1:]} shows the page at {scale:.1f} pixels to the mm; "
            f"{LEAST_PIXELS_PER_MM:g} or more are needed: scan at 300 dpi, or go nearer."
        )
    rest = (
        _mapped(np.asarray(np.linalg.inv(forward), dtype=np.float64), in_picture[corners]) - on_page[corners]
    )
    return FoundPage(page, forward, tuple(kept), float(np.sqrt((rest**2).sum(axis=1).mean())), scale)


def _check_enough(page: SwatchPage, marks: Sequence[MarkPlace], name: str, *, flat: bool = True) -> None:
    """Refuse too few marks, or marks on one side only."""
    if len(marks) >= LEAST_MARKS:
        hull = cv2.convexHull(np.concatenate([_corners(mark) for mark in marks]).astype(np.float32))
        if cv2.contourArea(hull) >= LEAST_SPREAD * page.plan.width_mm * page.plan.height_mm:
            return
    missing = list(dict.fromkeys(mark.name for mark in page.marks if mark not in marks))
    why = "are seen" if flat else "lie where they should; lay the page flat"
    raise InkError(
        f"Only {len(marks)} of the {len(page.marks)} marks of the sheet {why} in {name}; missing: "
        f"{', '.join(missing)}. At least {LEAST_MARKS} are needed, sharp and spread over the page."
    )


def _corners(mark: MarkPlace) -> NDArray[np.float64]:
    x, y, width, height = mark.box
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _mapped(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    result = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    places: NDArray[np.float64] = result[:, :2] / result[:, 2:]
    return places


def _least_scale(page: SwatchPage, matrix: NDArray[np.float64]) -> float:
    """Pixels to the mm where the page is smallest in the picture."""
    x, y = np.meshgrid([0.0, page.plan.width_mm], [0.0, page.plan.height_mm])
    at = np.column_stack([x.ravel(), y.ravel()])
    here = _mapped(matrix, at)
    steps = [np.linalg.norm(_mapped(matrix, at + step) - here, axis=1) for step in ((1.0, 0.0), (0.0, 1.0))]
    return float(np.min(steps))

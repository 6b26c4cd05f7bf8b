"""The calibration sheet: what is to be printed on it, and where everything on a page of it stands, in mm."""

from dataclasses import dataclass
from typing import Literal

Ground = Literal["paper", "black"]
"""What a patch is printed over."""

PatchKind = Literal["ink", "paper", "black"]
"""A patch of ink, a place that stays bare paper, or one that stays bare black."""

MARK_DICTIONARY, MARK_BITS = "DICT_6X6_1000", 6
"""The dictionary of OpenCV from which the marks are: a thousand, 6 by 6 modules in a black border."""

RectMm = tuple[float, float, float, float]
"""Left, top, width and height in mm."""


@dataclass(frozen=True, slots=True)
class SwatchRow:
    """What one row of patches is printed with: an ink, or a mixture of two; the shares sum to 1."""

    parts: tuple[tuple[str, float], ...]

    @property
    def name(self) -> str:
        """What the row is called.

        >>> SwatchRow((("rose", 0.5), ("blue", 0.5))).name
        'rose + blue'
        """
        if len({share for _, share in self.parts}) == 1:
            return " + ".join(name for name, _ in self.parts)
        return " + ".join(f"{name} {100.0 * share:g} %" for name, share in self.parts)


@dataclass(frozen=True, slots=True)
class SwatchPlan:
    """What a calibration sheet is to hold; the whole layout follows from it.

    ``passes`` is how many patches each row has over each ground: one pass, two, three. ``black_drawn`` says
    that the black band comes out of the office printer and is not printed by hand.
    """

    rows: tuple[SwatchRow, ...]
    passes: int
    over_black: bool
    black_drawn: bool
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class PatchPlace:
    """One patch: ``code`` is unique over all pages, ``row`` the index of its row in the plan or None."""

    code: str
    kind: PatchKind
    ground: Ground
    box: RectMm
    row: int | None = None
    passes: int = 0


@dataclass(frozen=True, slots=True)
class MarkPlace:
    """A machine-readable mark: its place along the frame, what it is called, its id, and where it stands."""

    place: int
    name: str
    marker: int
    box: RectMm


@dataclass(frozen=True, slots=True)
class SwatchPage:
    """One page of a calibration sheet. ``number`` tells it from every other; its marks carry it.

    ``rows`` are the indices of the plan's rows that stand on it; ``labels`` where the name of each is
    written. ``bands`` are the black grounds; ``light_spots`` are places that stay bare paper, by which the
    evenness of the light is judged; ``header`` and ``footer`` are where words may stand.
    """

    plan: SwatchPlan
    number: int
    page: int
    pages: int
    rows: tuple[int, ...]
    labels: tuple[RectMm, ...]
    patches: tuple[PatchPlace, ...]
    marks: tuple[MarkPlace, ...]
    light_spots: tuple[RectMm, ...]
    bands: tuple[RectMm, ...]
    header: RectMm
    footer: RectMm

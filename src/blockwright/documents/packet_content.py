"""What goes into the packet for the bench, and the phrases that say its figures."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from blockwright.documents.fonts import plain
from blockwright.documents.sheet import Picture
from blockwright.model.blocks import BlockSet, Board, Face
from blockwright.model.cut import Cut, FaceCut
from blockwright.model.design import Design
from blockwright.model.findings import Finding, is_accepted
from blockwright.model.inks import PrintInk, PrintInks
from blockwright.model.proof import Proof
from blockwright.model.router import Bit
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import Settings

_SEVERITY_ORDER = {"stop": 0, "warn": 1, "note": 2}
_TIMES = {1: "once", 2: "twice"}


@dataclass(frozen=True, slots=True)
class InkCards:
    """What the cards of a print show: its inked impressions and their inks, in the same order."""

    title: str
    impressions: Sequence[Impression]
    inks: Sequence[PrintInk]
    sheets: int


@dataclass(frozen=True, slots=True, eq=False)
class Packet:
    """Everything that the packet shows; nothing is worked out when it is written.

    Pictures are of the design, of the predicted print, and for each impression in printing order of the sheet
    as it looks after it. ``inks`` are those of the inked impressions, in the same order. ``files`` gives for
    each face's name the files made for cutting it. Of routed faces ``reliefs`` gives the picture of the cut
    face, by its name, and ``bits`` are those that the router has.
    """

    design: Design
    separation: Separation
    blocks: BlockSet
    cut: Cut
    proof: Proof
    settings: Settings
    design_picture: NDArray[np.uint8]
    proof_picture: Picture
    progressive: tuple[Picture, ...]
    inks: PrintInks
    files: Mapping[str, tuple[str, ...]]
    reliefs: Mapping[str, NDArray[np.uint8]] = field(default_factory=dict)
    bits: tuple[Bit, ...] = ()

    @property
    def ink_cards(self) -> InkCards:
        """What the cards of the inks show."""
        return InkCards(self.title, self.separation.inked, self.inks.inks, self.settings.inks.sheets)

    @property
    def title(self) -> str:
        """The print's title, never empty."""
        return plain(self.design.title) or "Untitled print"

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings that are not left as they are, the gravest first, else in the order of the stages."""
        stages = (self.design, self.separation, self.inks, self.blocks, self.cut, self.proof)
        accepted = self.settings.print.accept
        found = [
            each
            for stage in stages
            for each in stage.findings
            if not is_accepted(each.code, each.severity, each.at, accepted)
        ]
        return tuple(sorted(found, key=lambda finding: _SEVERITY_ORDER[finding.severity]))

    def impression(self, number: int) -> Impression | None:
        """Return the impression with a number."""
        return next((each for each in self.separation.impressions if each.number == number), None)

    def face_of(self, number: int) -> Face | None:
        """Return the face that carries an impression."""
        return next((face for face in self.blocks.faces if number in face.impressions), None)

    def board_of(self, face: Face) -> Board:
        """Return the board that a face belongs to."""
        return next(board for board in self.blocks.boards if face in board.faces)

    def cut_of(self, face: Face) -> FaceCut | None:
        """Return what is cut on a face."""
        return next((each for each in self.cut.faces if each.face == face.name), None)


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun.

    >>> counted(1, "board"), counted(12, "colour")
    ('1 board', '12 colours')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def times(number: int) -> str:
    """Return how often, in words.

    >>> times(1), times(2), times(3)
    ('once', 'twice', '3 times')
    """
    return _TIMES.get(number, f"{number} times")


def area_words(area_mm2: float) -> str:
    """Return an area in square centimetres, with as many places as matter.

    >>> area_words(96234.0), area_words(340.0), area_words(4.2)
    ('962 cm²', '3.4 cm²', '0.04 cm²')
    """
    area_cm2 = area_mm2 / 100.0
    places = 0 if area_cm2 >= 20 else 1 if area_cm2 >= 1 else 2
    return f"{area_cm2:.{places}f} cm²"


def time_words(time_min: float) -> str:
    """Return a time at the bench, rounded as a person would say it.

    >>> time_words(0.2), time_words(47.0), time_words(168.0), time_words(2400.0)
    ('a minute', '45 minutes', '2 h 50 min', '40 hours')
    """
    if time_min < 10:
        return "a minute" if time_min < 1.5 else f"{time_min:.0f} minutes"
    if time_min < 60:
        return f"{5 * round(time_min / 5)} minutes"
    if time_min < 600:
        hours, minutes = divmod(10 * round(time_min / 10), 60)
        return f"{hours} h {minutes} min" if minutes else counted(hours, "hour")
    return f"{time_min / 60:.0f} hours"


def length_words(length_mm: float) -> str:
    """Return a length of edge in metres or centimetres.

    >>> length_words(3240.0), length_words(180.0)
    ('3.2 m', '18 cm')
    """
    return f"{length_mm / 1000:.1f} m" if length_mm >= 1000 else f"{length_mm / 10:.0f} cm"


def mm_words(length_mm: float) -> str:
    """Return a length in mm to a tenth, without a needless nought.

    >>> mm_words(390.0), mm_words(9.25)
    ('390', '9.2')
    """
    return f"{length_mm:.1f}".removesuffix(".0")


def place_words(finding: Finding) -> str:
    """Return where a finding lies on the print, or nothing.

    >>> place_words(Finding("speck", "note", "A speck.", (120.46, 88.0)))
    'at 120, 88 mm'
    """
    return "" if finding.at is None else f"at {finding.at[0]:.0f}, {finding.at[1]:.0f} mm"

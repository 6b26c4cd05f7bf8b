"""From a design and the printmaker's decisions to the question that a search of overprints is asked."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
import shapely

from blockwright.colour import colour_reflectance
from blockwright.colour.passes import MOST_PASSES
from blockwright.model.findings import Finding
from blockwright.model.inks import MixedInk, Pigment, Shelf
from blockwright.model.settings import InksTable, Overprint, Place, SeparationTable
from blockwright.model.units import Lab
from blockwright.separation.asked import Asked, Lies, Only
from blockwright.separation.coats import Paintbox, ideal_pigments, shelf_coats
from blockwright.separation.own_inks import own_inks, with_places
from blockwright.separation.plan import Coloured
from blockwright.separation.searching import Found, search

_AREA_DIGITS = 4
"""Parts of the area are told so finely: an edit of a few shapes asks the same question again."""

_LEAST_PASTE = 0.2
"""What an ink that is mixed to match leaves to the paste."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, in plain values, so that the same question is searched once."""

    paper_hex: str
    targets: tuple[Lab, ...]
    area: tuple[float, ...]
    limit_delta_e00: float
    worst_delta_e00: float
    most_layers: int
    lies: tuple[Lies, ...]
    only: tuple[Only, ...]
    pigments: tuple[Pigment, ...]
    usual: tuple[int, ...]
    most_share: float
    most_pigments: int
    ideal: bool
    pots: tuple[MixedInk, ...]

    @property
    def asked(self) -> Asked:
        """The question as arrays."""
        area = np.array(self.area)
        return Asked(
            paper=colour_reflectance(self.paper_hex),
            targets=np.array(self.targets, dtype=np.float64).reshape(-1, 3),
            area=area / area.sum(),
            limit_delta_e00=self.limit_delta_e00,
            worst_delta_e00=self.worst_delta_e00,
            most_layers=self.most_layers,
            lies=self.lies,
            only=self.only,
        )

    @property
    def box(self) -> Paintbox | None:
        """What is mixed from; None where only pots are taken."""
        if not self.pigments:
            return None
        return _box(self.pigments, self.most_share, self.most_pigments, self.ideal, self.usual)


@lru_cache(maxsize=6)
def _box(
    pigments: tuple[Pigment, ...], most_share: float, most_pigments: int, ideal: bool, usual: tuple[int, ...]
) -> Paintbox:
    """The same box as before for the same paints, which knows their films already."""
    return Paintbox(pigments, most_share, most_pigments, ideal, usual)


@lru_cache(maxsize=6)
def answered(question: Question) -> Found:
    """Search; what was found is remembered, so that another point of the curve costs nothing."""
    passes = range(1, _most_passes(question.most_layers) + 1)
    return search(question.asked, question.box, shelf_coats(question.pots, passes))


def _most_passes(most_layers: int) -> int:
    """In how many passes an ink of the shelf is printed, at most."""
    return min(MOST_PASSES - 1, most_layers)


def ask(
    work: Coloured, settings: SeparationTable, inks: InksTable, shelf: Shelf
) -> tuple[Question, list[Finding]]:
    """The question for the printed colours of a design, and what is wrong with the decisions on it."""
    lies, findings = _decided(work, settings.overprint)
    usual, pots, ideal, told = _at_hand(settings, inks, shelf)
    passes = _most_passes(settings.most_layers)
    own = own_inks(work, inks, shelf, lies, most_passes=passes, mixes=bool(usual) and not ideal)
    pigments = (*usual, *(each for each in own.pigments if each not in usual))
    pots = (*pots, *(each for each in own.taken if each not in pots))
    palette = work.design.palette
    area = np.array([float(work.area_mm2[work.shapes_of(c)].sum()) for c in work.printed])
    question = Question(
        paper_hex=work.design.paper_hex,
        targets=tuple(palette[c].lab for c in work.printed),
        area=tuple(max(10.0**-_AREA_DIGITS, round(v, _AREA_DIGITS)) for v in (area / area.sum()).tolist()),
        limit_delta_e00=settings.limit_delta_e00,
        worst_delta_e00=settings.worst_delta_e00,
        most_layers=settings.most_layers,
        lies=own.lies,
        only=with_places(own.only, pigments),
        pigments=pigments,
        usual=() if pigments == usual else tuple(range(len(usual))),
        most_share=1.0 - (_LEAST_PASTE if ideal else inks.least_paste_percent / 100.0),
        most_pigments=inks.most_pigments,
        ideal=ideal,
        pots=pots,
    )
    return question, [*findings, *own.findings, *told]


def _at_hand(
    settings: SeparationTable, inks: InksTable, shelf: Shelf
) -> tuple[tuple[Pigment, ...], tuple[MixedInk, ...], bool, list[Finding]]:
    """Pigments and pots to search with, and whether the pigments are ideal ones."""
    if inks.mix == "to match":
        return ideal_pigments(), (), True, []
    only = {name.strip().casefold() for name in inks.pigments}
    known = tuple(each for each in shelf.pigments if each.name.casefold() in only) or shelf.pigments
    pots = tuple(each for each in shelf.inks if not each.retired)
    wanted = settings.overprint_inks
    if wanted == "mixed inks" and pots:
        return (), pots, False, []
    if known and wanted != "mixed inks":
        return known, pots if wanted == "both" else (), False, []
    missing, instead = ("mixed ink", "recipes") if known else ("pigment", "inks that are mixed to match")
    message = f"There is no {missing} on the shelf to search overprints with; they were searched with "
    message += f"{instead}. Put some on the shelf, or set [separation] overprint_inks."
    finding = Finding("overprints-no-inks", "warn", message)
    if known:
        return known, (), False, [finding]
    return ideal_pigments(), (), True, [finding]


def _decided(
    work: Coloured, edits: tuple[Overprint, ...]
) -> tuple[list[tuple[Lies, Overprint]], list[Finding]]:
    """What is to lie over what, each with its entry. One that goes against an earlier one does nothing."""
    findings: list[Finding] = []
    lies: list[Lies] = []
    places: list[Overprint] = []
    for edit in edits:
        colours = [_colour_at(work, place) for place in (edit.at, edit.over)]
        if None in colours or colours[0] == colours[1]:
            findings.append(_misses(work, edit, colours))
            continue
        over, under = (c for c in colours if c is not None)
        new = Lies(over, under, edit.lies)
        if new in lies:
            continue
        against = next((k for k, each in enumerate(lies) if _clash([*lies, new], each)), None)
        if against is None:
            lies.append(new)
            places.append(edit)
        else:
            findings.append(_contradicts(work, edit, new, lies[against]))
    return list(zip(lies, places, strict=True)), findings


def _clash(lies: list[Lies], earlier: Lies) -> bool:
    """Whether decisions cannot hold beside one another, and the earlier one has part in it."""
    return _impossible(lies) and not _impossible([each for each in lies if each is not earlier])


def _impossible(lies: list[Lies]) -> bool:
    """Whether colours would have to lie over one another in a ring, or over what they must not lie over."""
    over = {(each.over, each.under) for each in lies if each.yes}
    colours = {colour for pair in over for colour in pair}
    for middle, one, other in product(sorted(colours), repeat=3):
        if (one, middle) in over and (middle, other) in over:
            over.add((one, other))
    return any((b, a) in over for a, b in over) or any(
        (each.over, each.under) in over for each in lies if not each.yes
    )


def _colour_at(work: Coloured, place: Place) -> int | None:
    """The printed colour under a place, counted from the lightest; None for paper and beyond the picture."""
    held = np.flatnonzero(shapely.intersects_xy(work.regions, *place))
    rank = work.rank[held]
    return int(rank[0]) if len(rank) and rank[0] >= 0 else None


def _name(work: Coloured, colour: int) -> str:
    return work.design.palette[work.printed[colour]].name


def _mm(place: Place) -> str:
    return f"{place[0]:g}, {place[1]:g} mm"


def _misses(work: Coloured, edit: Overprint, colours: list[int | None]) -> Finding:
    design = work.design
    about = (("edit", "overprint"),)
    for place, colour in zip((edit.at, edit.over), colours, strict=True):
        if colour is None:
            inside = 0.0 <= place[0] <= design.width_mm and 0.0 <= place[1] <= design.height_mm
            where = "lies outside the picture, which is "
            where += f"{design.width_mm:g} x {design.height_mm:g} mm"
            if inside:
                where = "is bare paper, or a gradation or the key, which are printed by themselves"
            if not work.unprinted.isdisjoint(np.flatnonzero(shapely.intersects_xy(work.regions, *place))):
                where = "gets leaf or is embossed, and no colour is printed there"
            message = f"[[separation.overprint]] points at {_mm(place)}; that {where}. The line does nothing."
            return Finding("overprint-misses", "warn", message, edit.at, about)
    message = f"[[separation.overprint]] points at {_mm(edit.at)} and {_mm(edit.over)}; both are "
    message += f"{_name(work, colours[0] or 0)}, which cannot lie over itself. The line does nothing."
    return Finding("overprint-misses", "warn", message, edit.at, about)


def _said(work: Coloured, each: Lies) -> str:
    verb = "lies over" if each.yes else "does not lie over"
    return f"{_name(work, each.over)} {verb} {_name(work, each.under)}"


def _contradicts(work: Coloured, edit: Overprint, new: Lies, earlier: Lies) -> Finding:
    message = f'"{_said(work, new)}" cannot be, as it was decided before that '
    message += f'"{_said(work, earlier)}"; the later line of [[separation.overprint]] does nothing.'
    return Finding("overprint-contradicts", "warn", message, edit.at, (("edit", "overprint"),))

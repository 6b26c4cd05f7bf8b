"""What swatches tell is kept on the shelf: as a pigment, as what a pot holds, or as a new ink."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from blockwright import ledger
from blockwright.colour.difference import delta_e00
from blockwright.colour.films import overprinted
from blockwright.colour.mixed_optics import condensed
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.model.errors import InkError
from blockwright.model.inks import Bands, KnownBy, MixedInk, Optics, Origin, Pigment
from blockwright.model.shelf import ShelfPigment, Swatch
from blockwright.studio import now

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from blockwright.ledger import Ledger

NewAs = Literal["pigment", "new ink"]
"""As what an ink is kept that is on the shelf neither as a pigment nor in a pot."""

KeepAs = NewAs | int
"""As a pigment of its name, as a mixed ink that is new, or as what the pot of a number holds."""

_NUMBERED = re.compile(r"#\s*(\d{1,10})(?:\s.*)?")


@dataclass(frozen=True, slots=True)
class Before:
    """What was known of an ink until its swatch was kept: where from, by what (None for a pigment), and how
    far one pass of it on the sheet's paper lies from what the swatch tells now (CIEDE2000)."""

    origin: Origin
    known_by: KnownBy | None
    delta_e00: float


@dataclass(frozen=True, slots=True)
class Kept:
    """An ink of a calibration sheet as it stands on the shelf now.

    ``called`` is its name on the sheet, ``number`` that of the mixed ink, None for a pigment; ``before`` is
    None for what is new.
    """

    called: str
    name: str
    number: int | None
    origin: Origin
    by_recipe: bool
    before: Before | None


def numbered(called: str) -> int | None:
    """The number of the mixed ink that a name on a sheet begins with, if it does.

    >>> numbered("#12"), numbered("#12 evening sea"), numbered("evening sea"), numbered("#1 2b or not")
    (12, 12, None, 1)
    """
    found = _NUMBERED.fullmatch(called.strip())
    return int(found[1]) if found else None


def meant_by(
    called: str, pigments: Iterable[ShelfPigment], inks: Iterable[MixedInk]
) -> ShelfPigment | MixedInk | None:
    """What stands on the shelf under the name that an ink has on a sheet; None when nothing does.

    A pot goes by its number, such as ``#12`` or ``#12 evening sea``, or by its name where nothing else bears
    it. Raises InkError when it is retired, not there, or one of several of that name.
    """
    plain = called.casefold()
    pigment = _pigment_called(called, pigments)
    inks = tuple(inks)
    number = numbered(called)
    if number is not None and pigment is None:
        return pot_numbered(number, inks)
    named = [each for each in inks if each.name.casefold() == plain]
    in_use = [each for each in named if not each.retired]
    if pigment is not None and in_use:
        pots = _pots(in_use)
        raise InkError(f"{called} is the name of a pigment and of the mixed ink {pots}: say which is meant.")
    if len(in_use) > 1:
        raise InkError(f"Several mixed inks are called {called}: say which is meant, {_pots(in_use)}.")
    if pigment is None and named and not in_use:
        raise InkError(_retired(named[0]))
    return pigment if pigment is not None else in_use[0] if in_use else None


def keep_swatches(
    studio: "Ledger",
    found: Sequence[Pigment],
    paper: Bands,
    swatches: Sequence[Swatch] = (),
    *,
    keep_as: Mapping[str, KeepAs] | None = None,
    new_as: NewAs = "pigment",
) -> tuple[Kept, ...]:
    """Keep inks as their swatches tell of them, with these swatches: all of it, or nothing.

    Each ink that was found comes as a pigment with its name on the sheet. What is meant by the name
    (:func:`meant_by`), or by ``keep_as`` for it, gets the optics, origin and transfer that were found: a
    pigment keeps its name and what is written of it, and is then at hand; a pot keeps name, number, recipe
    and all its records, and is known by its own swatch from then on. What is new is kept as ``new_as`` says.
    ``paper`` is the reflectance of the sheet. Swatches are those of these inks, by their names on the sheet;
    a patch that is kept already is not kept again. Raises InkError when one is impossible.
    """
    ways = keep_as or {}
    if unknown := [name for name in ways if name not in {each.name for each in found}]:
        there = ", ".join(each.name for each in found) or "none"
        raise InkError(f"{unknown[0]} is no ink that was found on the sheet; found: {there}.")
    with studio.writing() as connection:
        targets = _targets(connection, found, ways, new_as)
        kept, places = [], dict[str, str | int]()
        for reading in found:
            told = _keep(connection, reading, targets[reading.name], paper)
            places[reading.name] = told.name if told.number is None else told.number
            kept.append(told)
        known = {_patch(each) for each in ledger.all_swatches(connection)} if swatches else set()
        for swatch in swatches:
            own = replace(swatch, of=places[str(swatch.of)])
            if own.file_sha256 is None or _patch(own) not in known:
                known.add(_patch(ledger.add_swatch(connection, own)))
    return tuple(kept)


def tell_kept(kept: Kept) -> dict[str, Any]:
    """What became of an ink of a sheet, as plain values for programs."""
    kind, by = ("pigment", None) if kept.number is None else ("ink", "own swatch")
    return {
        "called": kept.called,
        "kind": kind,
        "number": kept.number,
        "name": kept.name,
        "origin": kept.origin,
        "known_by": by,
        "before": None if kept.before is None else asdict(kept.before),
    }


def kept_said(kept: Kept) -> str:
    """What became of an ink of a sheet, in a sentence: what was known of it, and what is now.

    >>> kept_said(Kept("rose", "rose", None, "scanned", False, Before("literature", None, 6.04)))
    'rose: its origin was literature and is scanned now; one pass on this paper lies 6.0 from what was known \
(CIEDE2000).'
    """
    if kept.number is None:
        if kept.before is None:
            return f"{kept.name}: a new pigment, {kept.origin}."
        was = f"{kept.name}: its origin was {kept.before.origin} and is {kept.origin} now"
        return f"{was}; {_apart(kept.before)} from what was known (CIEDE2000)."
    own = f"Ink {kept.number}, {kept.name}"
    if kept.before is None:
        return f"{own}: new on the shelf, without a recipe, known by its own swatch ({kept.origin})."
    if kept.before.known_by == "own swatch":
        was = f"{own}, was known by its own swatch ({kept.before.origin}) and is by this one ({kept.origin})"
        return f"{was}; {_apart(kept.before)} from what was known (CIEDE2000)."
    now = f"({kept.before.origin}) and is known by its own swatch ({kept.origin}) now; {_apart(kept.before)}"
    if not kept.by_recipe:
        return f"{own}, was known without a swatch {now} from what was known (CIEDE2000)."
    was = f"{own}, was reckoned from its recipe {now} from what was reckoned (CIEDE2000)"
    return f"{was}. The recipe stays as it is written."


def _apart(before: Before) -> str:
    return f"one pass on this paper lies {before.delta_e00:.1f}"


def _pigment_called(name: str, pigments: Iterable[ShelfPigment]) -> ShelfPigment | None:
    return next((each for each in pigments if each.pigment.name.casefold() == name.casefold()), None)


def pot_numbered(number: int, inks: Iterable[MixedInk]) -> MixedInk:
    """The mixed ink of a number, to print or to keep a swatch of. Raises InkError when there is none or it is
    retired."""
    found = next((each for each in inks if each.number == number), None)
    if found is None:
        raise InkError(f"No mixed ink has the number {number}; blockwright shelf list shows those there are.")
    if found.retired:
        raise InkError(_retired(found))
    return found


def _retired(ink: MixedInk) -> str:
    back = f"blockwright shelf retire {ink.number} --back takes it into use again"
    return f"Ink {ink.number}, {ink.name}, is retired; {back}."


def _pots(inks: Sequence[MixedInk]) -> str:
    return " or ".join(f"#{each.number}" for each in inks)


def _targets(
    connection: "Connection", found: Sequence[Pigment], ways: Mapping[str, KeepAs], new_as: NewAs
) -> dict[str, ShelfPigment | MixedInk | NewAs]:
    """What each ink of a sheet is kept as: what is on the shelf, or the kind of what is new."""
    pigments, inks = ledger.all_pigments(connection), ledger.all_inks(connection)
    targets: dict[str, ShelfPigment | MixedInk | NewAs] = {}
    pots: dict[int, str] = {}
    for reading in found:
        way = ways.get(reading.name)
        target: ShelfPigment | MixedInk | NewAs
        if way is None:
            target = meant_by(reading.name, pigments, inks) or new_as
        elif way == "pigment":
            target = _pigment_called(reading.name, pigments) or "pigment"
        else:
            target = pot_numbered(way, inks) if isinstance(way, int) else way
        if isinstance(target, MixedInk):
            if target.number in pots:
                both = f"{pots[target.number]} and {reading.name}"
                raise InkError(f"{both} are both to be kept as ink {target.number}; one pot holds one ink.")
            pots[target.number] = reading.name
        targets[reading.name] = target
    return targets


def _keep(
    connection: "Connection", found: Pigment, target: ShelfPigment | MixedInk | NewAs, paper: Bands
) -> Kept:
    optics = condensed(found.optics)
    reading = replace(found, optics=optics)
    if isinstance(target, MixedInk):
        before = Before(target.origin, target.known_by, _away(target.optics, optics, paper))
        ledger.change_ink(
            connection,
            replace(
                target, optics=optics, origin=found.origin, transfer=found.transfer, known_by="own swatch"
            ),
        )
        by_recipe = bool(target.parts)
        return Kept(found.name, target.name, target.number, found.origin, by_recipe, before)
    if isinstance(target, ShelfPigment):
        return _keep_pigment(connection, reading, target, paper)
    if target == "pigment":
        ledger.add_pigment(connection, ShelfPigment(reading))
        return Kept(found.name, found.name, None, found.origin, False, None)
    ink = MixedInk(
        number=0,
        name=found.name,
        parts=(),
        paste_share=0.0,
        optics=optics,
        origin=found.origin,
        transfer=found.transfer,
        known_by="own swatch",
    )
    added = ledger.add_ink(connection, ink, at=now())
    return Kept(found.name, added.name, added.number, added.origin, False, None)


def _keep_pigment(connection: "Connection", found: Pigment, before: ShelfPigment, paper: Bands) -> Kept:
    known = replace(
        before.pigment,
        optics=found.optics,
        origin=found.origin,
        source=found.source,
        transfer=found.transfer,
    )
    ledger.change_pigment(connection, replace(before, pigment=known, on_shelf=True, retired=False))
    was = before.pigment
    away = _away(was.optics, found.optics, paper)
    return Kept(found.name, was.name, None, found.origin, False, Before(was.origin, None, away))


def _away(before: Optics, now: Optics, paper: Bands) -> float:
    """How far one pass of an ink on a paper lies from one as it was known before (CIEDE2000)."""
    was, is_ = (reflectance_to_lab(overprinted(each.k, each.s, paper)) for each in (before, now))
    return float(delta_e00(was, is_))


def _patch(swatch: Swatch) -> tuple[str | int, str | None, str, int]:
    """What tells that a swatch is one patch of one file, read twice."""
    return swatch.of, swatch.file_sha256, swatch.ground, swatch.passes

"""What the printmaker decided to print colours with, as a search of overprints keeps to it.

A colour with ``[[inks.take]]`` is printed by that mixed ink of the shelf and nothing else: a pot is taken for
the colour that it has. What prints a colour with ``[[inks.mix_from]]``, one film or several over one another,
holds those paints and no others. Other colours may lie over either.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from blockwright.model.findings import Finding
from blockwright.model.inks import MixedInk, Pigment, Shelf
from blockwright.model.settings import InksTable, MixFrom, Overprint, Take
from blockwright.separation.asked import Lies, Only
from blockwright.separation.order import NamedColours
from blockwright.separation.plan import Coloured


@dataclass(frozen=True, slots=True)
class OwnInks:
    """What is kept to: decisions by colour, counted from the lightest, and what lies over what beside them.

    ``taken`` are mixed inks of the shelf that must be at hand, ``pigments`` what mixes are decided from.
    """

    only: tuple[Only, ...]
    lies: tuple[Lies, ...]
    taken: tuple[MixedInk, ...]
    pigments: tuple[Pigment, ...]
    findings: tuple[Finding, ...]


def own_inks(
    work: Coloured,
    inks: InksTable,
    shelf: Shelf,
    lies: Sequence[tuple[Lies, Overprint]],
    *,
    most_passes: int,
    mixes: bool,
) -> OwnInks:
    """The decisions that can be kept beside one another, and a finding for each that cannot.

    ``mixes`` tells whether anything is mixed. Entries that name no printed colour, or nothing that is at
    hand, do nothing here; the inks tell of them.
    """
    findings: list[Finding] = []
    only = _taken(work, inks.take, shelf, most_passes, findings)
    _mixed(work, inks, shelf, only, findings, mixes=mixes)
    kept = []
    for each, edit in lies:
        against = _against(work, only, each) if each.yes else None
        if against is None:
            kept.append(each)
            continue
        message = f"{against}, and [[separation.overprint]] puts it over {_name(work, each.under)}"
        message += f"{_printed_with(only.get(each.under))}; both cannot be, and the line of "
        message += "[[separation.overprint]] does nothing."
        findings.append(_finding(message, "overprint", edit))
    decided = tuple(only[colour] for colour in sorted(only))
    numbers = {each.shelf_number for each in decided}
    names = {name for each in decided for name in each.pigments}
    return OwnInks(
        decided,
        tuple(kept),
        tuple(each for each in shelf.inks if each.number in numbers),
        tuple(each for each in shelf.pigments if each.name in names),
        tuple(findings),
    )


def with_places(only: Sequence[Only], pigments: Sequence[Pigment]) -> tuple[Only, ...]:
    """The decisions with the places of their pigments among those of the paintbox."""
    place = {pigment.name: k for k, pigment in enumerate(pigments)}
    return tuple(
        replace(each, parts=tuple(sorted(place[name] for name in each.pigments if name in place)))
        for each in only
    )


def _taken(
    work: Coloured, takes: Sequence[Take], shelf: Shelf, most_passes: int, findings: list[Finding]
) -> dict[int, Only]:
    only: dict[int, Only] = {}
    at_hand = {each.number for each in shelf.inks if not each.retired}
    for take in takes:
        colour = _colour(work, take.colour)
        if colour is None or take.shelf not in at_hand:
            continue
        earlier = only.get(colour)
        if earlier is not None and earlier.shelf_number != take.shelf:
            message = (
                f"[[inks.take]] prints {_name(work, colour)} with ink {earlier.shelf_number} of the shelf "
            )
            message += f"and another [[inks.take]] with ink {take.shelf}; the later line holds."
            findings.append(_finding(message, "take", take))
        alike = [c for c, each in only.items() if each.shelf_number == take.shelf and c != colour]
        if len(alike) >= most_passes:
            others = ", ".join(_name(work, c) for c in alike)
            message = f"[[inks.take]] prints {_name(work, colour)} with ink {take.shelf} of the shelf, and "
            message += (
                f"[[inks.take]] prints {others} with it too; no two colours can be printed alike, and the "
            )
            message += "search of overprints leaves the later line out."
            findings.append(_finding(message, "take", take))
            continue
        only[colour] = Only(colour, shelf_number=take.shelf)
    return only


def _mixed(
    work: Coloured,
    inks: InksTable,
    shelf: Shelf,
    only: dict[int, Only],
    findings: list[Finding],
    *,
    mixes: bool,
) -> None:
    if inks.mix == "to match":
        return
    known = {each.name.casefold(): each.name for each in shelf.pigments}
    for entry in inks.mix_from:
        colour = _colour(work, entry.colour)
        asked = [known[name] for each in entry.pigments if (name := each.strip().casefold()) in known]
        names = tuple(dict.fromkeys(asked))
        if colour is None or not names:
            continue
        said = f"[[inks.mix_from]] mixes {_name(work, colour)} from {_listed(names)}"
        earlier = only.get(colour)
        if not mixes:
            message = (
                f"{said}, and [separation] overprint_inks takes mixed inks of the shelf alone; both cannot "
            )
            message += "be, and the overprints are searched with mixed inks."
            findings.append(_finding(message, "mix_from", entry))
        elif earlier is not None and earlier.shelf_number is not None:
            message = (
                f"{said}, and [[inks.take]] prints it with ink {earlier.shelf_number} of the shelf; both "
            )
            message += f"cannot be, and ink {earlier.shelf_number} is taken."
            findings.append(_finding(message, "mix_from", entry))
        else:
            if earlier is not None and earlier.pigments != names:
                message = f"{said}, and an earlier line of [[inks.mix_from]] from "
                message += f"{_listed(earlier.pigments)}; the later line holds."
                findings.append(_finding(message, "mix_from", entry))
            only[colour] = Only(colour, pigments=names)


def _against(work: Coloured, only: dict[int, Only], lies: Lies) -> str | None:
    """What was decided that one colour cannot lie over another beside, as the start of a sentence."""
    own, under = only.get(lies.over), only.get(lies.under)
    if own is None:
        return None
    name = _name(work, lies.over)
    if own.shelf_number is not None:
        return f"[[inks.take]] prints {name} with ink {own.shelf_number} of the shelf by itself"
    if under is not None and under.pigments and set(under.pigments).isdisjoint(own.pigments):
        return f"[[inks.mix_from]] mixes {name} from {_listed(own.pigments)}"
    return None


def _printed_with(only: Only | None) -> str:
    if only is None:
        return ""
    if only.shelf_number is not None:
        return f", which is printed with ink {only.shelf_number}"
    return f", which is mixed from {_listed(only.pigments)}"


def _finding(message: str, key: str, entry: Take | MixFrom | Overprint) -> Finding:
    at = entry.at if isinstance(entry, Overprint) else None
    about = (("edit", key),) if isinstance(entry, Overprint) else (("edit", key), ("colour", entry.colour))
    return Finding("overprint-ink-contradicts", "warn", message, at, about)


def _colour(work: Coloured, name: str) -> int | None:
    """The printed colour of a name, counted from the lightest."""
    found = NamedColours(work.design, work.printed).find(name)
    return None if found is None else work.printed.index(found)


def _name(work: Coloured, colour: int) -> str:
    return work.design.palette[work.printed[colour]].name


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"

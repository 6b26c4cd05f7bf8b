"""Karazuri and leaf on the pages: what a colour or a shape gets after its ink, and how it is taken off."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from blockwright.looking import Look
from blockwright.model.finishes import USUAL_LEAF, Karazuri, LeafOn
from blockwright.model.settings import SeparationTable
from blockwright.model.units import PointMm
from blockwright.web import words

_SAME_PLACE_MM = 0.01
"""Places this near are one: pages carry them to a thousandth of a mm."""


@dataclass(frozen=True, slots=True)
class FinishChoice:
    """What may be chosen for a colour or a shape: ``fields`` name it, ``value`` is what it has now."""

    lead: str
    fields: dict[str, str]
    options: tuple[tuple[str, str], ...]
    value: str


@dataclass(frozen=True, slots=True)
class FinishEntry:
    """One colour or place that an impression without ink is for, and the acts that change it."""

    said: str
    toggle: tuple[str, dict[str, Any]]
    off: dict[str, Any]


@dataclass(frozen=True, slots=True)
class FinishDone:
    """An impression without ink: what is done, on what, and the files for it (name, words)."""

    sentences: tuple[str, ...]
    entries: tuple[FinishEntry, ...]
    files: tuple[tuple[str, str], ...]


def metals_told(settings: SeparationTable) -> list[str]:
    """The names of all leaf there is, the usual kinds first."""
    return list(dict.fromkeys(each.name.strip() for each in (*USUAL_LEAF, *settings.leaf_kind)))


def finish_shown(found: Look, impression: dict[str, Any]) -> FinishChoice | FinishDone:
    """What stands about karazuri and leaf at an impression of the rack."""
    settings = found.settings.separation if found.settings else SeparationTable()
    if impression["ink"] is None:
        return _done(found, settings, impression)
    names = {impression["name"].casefold(), impression["hex"].casefold()}

    def means(entry: Karazuri | LeafOn) -> bool:
        return (entry.colour or "").strip().casefold() in names

    fields = {"act": "set-finish", "colour": impression["name"]}
    return _choice(settings, words.TEXTS["finish_lead"], fields, means)


def finish_of_shape(found: Look, at: PointMm) -> FinishChoice:
    """What may be chosen for the shape at a place, mm."""
    settings = found.settings.separation if found.settings else SeparationTable()

    def means(entry: Karazuri | LeafOn) -> bool:
        return entry.at is not None and math.dist(entry.at, at) <= _SAME_PLACE_MM

    fields = {"act": "set-finish", "at": f"{at[0]},{at[1]}"}
    return _choice(settings, words.TEXTS["finish_shape_lead"], fields, means)


def _choice(
    settings: SeparationTable, lead: str, fields: dict[str, str], means: Callable[[Karazuri | LeafOn], bool]
) -> FinishChoice:
    options = [(value, words.TEXTS[f"finish_{value or 'none'}"]) for value in ("", "front", "back")]
    options += [(f"leaf {name}", words.fmt("finish_leaf", metal=name)) for name in metals_told(settings)]
    value = next((each.side for each in settings.karazuri[::-1] if means(each)), "")
    laid = next((each.metal for each in settings.leaf[::-1] if means(each)), None)
    if laid is not None:
        value = next(
            (v for v, _ in options if v.casefold() == f"leaf {laid.strip()}".casefold()), f"leaf {laid}"
        )
    return FinishChoice(lead, fields, tuple(options), value)


def _done(found: Look, settings: SeparationTable, impression: dict[str, Any]) -> FinishDone:
    if impression["kind"] == "leaf":
        told = (found.stage("separation").told or {}).get("leaf", ())
        laying = next((each for each in told if each["impression"] == impression["number"]), None)
        metal = laying["metal"].casefold() if laying else ""
        laid = [each for each in settings.leaf if each.metal.strip().casefold() == metal]
        return FinishDone(_leaf_said(laying), _entries("leaf", laid), _files(found, impression["number"]))
    side = impression["side"]
    pressed = [each for each in settings.karazuri if each.side == side]
    sentences = (words.TEXTS[f"finish_is_{side}"], words.TEXTS["finish_hint"])
    return FinishDone(sentences, _entries(side, pressed), ())


def _entries(kind: str, entries: Sequence[Karazuri | LeafOn]) -> tuple[FinishEntry, ...]:
    shown = []
    for each in entries:
        where = {"colour": each.colour} if each.at is None else {"at": f"{each.at[0]},{each.at[1]}"}
        said = (
            words.fmt("finish_on_colour", name=each.colour)
            if each.at is None
            else words.fmt("finish_on_place", at=f"{each.at[0]:.0f}, {each.at[1]:.0f} mm")
        )
        finish = f"leaf {each.metal}" if isinstance(each, LeafOn) else kind
        off = {"act": "set-finish", **where}
        toggle = {**off, "finish": finish, "printed": "no" if each.printed else "yes"}
        shown.append(
            FinishEntry(
                words.fmt("finish_printed" if each.printed else "finish_not_printed", where=said),
                (words.TEXTS["finish_print_not" if each.printed else "finish_print"], toggle),
                off,
            )
        )
    return tuple(shown)


def _leaf_said(laying: dict[str, Any] | None) -> tuple[str, ...]:
    if laying is None:
        return (words.TEXTS["finish_order"],)
    side = f"{laying['side_mm']:g} × {laying['side_mm']:g} mm"
    count = words.fmt(
        "finish_is_leaf_one" if laying["leaves"] == 1 else "finish_is_leaf_many",
        number=laying["leaves"],
        side=side,
        lap=words.mm(laying["lap_mm"]),
        needed=laying["leaves_needed"],
        sheets=words.count("sheets", laying["sheets"]),
        books=words.count("books", laying["books"]),
    )
    proof = (
        words.fmt("finish_proven", grid=words.mm(laying["grid_mm"]))
        if laying["proven_fewest"]
        else words.fmt("finish_not_proven", number=laying["fewest_known"])
    )
    order = words.TEXTS["finish_order"]
    if laying["must_coat"]:
        order += " " + words.TEXTS["finish_coat"]
    return f"{count} {proof}", order, words.TEXTS["finish_hint"]


def _files(found: Look, number: int) -> tuple[tuple[str, str], ...]:
    stage = found.stage("separation")
    named = ((f"leaf-{number:02d}-ground.pdf", "ground"), (f"leaf-{number:02d}-plan.pdf", "plan"))
    return tuple((name, words.TEXTS[f"finish_{what}"]) for name, what in named if name in stage.files)

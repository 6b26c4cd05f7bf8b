"""What comes after the inks: karazuri, which is embossed without ink, and then metal leaf.

Karazuri comes when the colours are dry [pub: Tokuno 1894; Phillips 1926]; leaf goes on last, on a
ground [CP].
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.colour import hex_to_lab
from blockwright.model.findings import Finding
from blockwright.model.finishes import USUAL_LEAF, Karazuri, LeafOn
from blockwright.model.leaf import Metal
from blockwright.model.separation import Impression, SheetSide
from blockwright.model.settings import SeparationTable
from blockwright.model.units import PointMm
from blockwright.separation.order import NamedColours
from blockwright.separation.plan import Coloured

Setting = Literal["karazuri", "leaf"]

SIDE_NAMES: Mapping[SheetSide, str] = {"front": "karazuri", "back": "karazuri from the back"}
"""What the impressions without ink are called."""


@dataclass(frozen=True, slots=True)
class Finishes:
    """Which shapes are embossed or get leaf, by their places in the design.

    ``unprinted`` are those of them whose colour is not printed.
    """

    karazuri: Mapping[int, SheetSide]
    leaf: Mapping[int, Metal]
    unprinted: frozenset[int]
    findings: tuple[Finding, ...]

    def rank(self, rank: NDArray[np.int64]) -> NDArray[np.int64]:
        """How dark each shape counts when its neighbours are trapped.

        Leaf hides what runs under it, so that it is darker than every ink; what is only embossed is paper.
        """
        ranked = rank.copy()
        for shape in self.unprinted:
            ranked[shape] = len(rank) + 1 if shape in self.leaf else -1
        return ranked

    def leave_out(self, work: Coloured) -> Coloured:
        """The design without the shapes that are not printed, and without colours that print nothing else.

        So they are no part of the key, of a gradation, or of what overprints are searched for.
        """
        left = replace(work, unprinted=self.unprinted, unmatched=frozenset(self.unmatched))
        return replace(left, printed=tuple(c for c in work.printed if len(left.shapes_of(c))))

    @property
    def unmatched(self) -> tuple[int, ...]:
        """Shapes that are not to have the colour that they have in the design."""
        return tuple(sorted({*self.leaf, *self.unprinted}))


def without_names(settings: SeparationTable, before: NamedColours, left: Coloured) -> SeparationTable:
    """The settings without what they say of colours that leaf or blind embossing leaves nothing to print of.

    It is no mistake to have said it, and holds again when the finish is taken back.
    """
    dropped = set(before.printed) - set(left.printed)

    def holds(name: str) -> bool:
        return before.find(name) not in dropped

    return settings.model_copy(
        update={
            "order": tuple(name for name in settings.order if holds(name)),
            "passes": tuple(each for each in settings.passes if holds(each.colour)),
            "trap": tuple(each for each in settings.trap if holds(each.colour)),
        }
    )


def metals_of(settings: SeparationTable) -> dict[str, Metal]:
    """The kinds of leaf there are, by their names in small letters: the printmaker's own before the usual."""
    return {
        each.name.strip().casefold(): Metal(
            each.name.strip(), each.side_mm, each.per_book, each.must_coat, each.shown
        )
        for each in (*USUAL_LEAF, *settings.leaf_kind)
    }


def choose_finishes(work: Coloured, settings: SeparationTable) -> Finishes:
    """Find the shapes that the entries of the settings mean; what they do not find becomes findings."""
    used = tuple(int(c) for c in np.unique(work.colour))
    named, findings = NamedColours(work.design, used), list[Finding]()
    pressed: dict[int, tuple[int, Karazuri]] = {}
    for k, entry in enumerate(settings.karazuri):
        pressed |= dict.fromkeys(_shapes(work, named, entry, "karazuri", findings), (k, entry))
    metals, laid = metals_of(settings), dict[int, tuple[int, LeafOn]]()
    for k, choice in enumerate(settings.leaf):
        shapes = _shapes(work, named, choice, "leaf", findings)
        if choice.metal.strip().casefold() not in metals:
            findings.append(_no_such_metal(choice, metals))
        else:
            laid |= dict.fromkeys(shapes, (k, choice))
    findings += _both(work, pressed, laid)
    bare = {shape for shape, (_, each) in laid.items() if not each.printed}
    bare |= {shape for shape, (_, each) in pressed.items() if not each.printed and shape not in laid}
    return Finishes(
        karazuri={shape: each.side for shape, (_, each) in sorted(pressed.items()) if shape not in laid},
        leaf={shape: metals[each.metal.strip().casefold()] for shape, (_, each) in sorted(laid.items())},
        unprinted=frozenset(bare),
        findings=tuple(findings),
    )


def _shapes(
    work: Coloured,
    named: NamedColours,
    entry: Karazuri | LeafOn,
    setting: Setting,
    findings: list[Finding],
) -> list[int]:
    """The shapes that an entry means."""
    if entry.at is not None:
        found: list[int] = np.flatnonzero(shapely.intersects_xy(work.regions, *entry.at)).tolist()
        if not found:
            findings.append(_outside(work, entry.at, setting))
        return found[:1]
    colour = named.find(entry.colour or "")
    if colour is None:
        findings.append(_no_such_colour(named, entry.colour or "", setting))
        return []
    shapes: list[int] = work.shapes_of(colour).tolist()
    return shapes


def _outside(work: Coloured, at: PointMm, setting: Setting) -> Finding:
    message = (
        f"[[separation.{setting}]] at {at[0]:g}, {at[1]:g} mm lies outside the image, which is "
        f"{work.design.width_mm:.0f} x {work.design.height_mm:.0f} mm, and does nothing. Give a place in it."
    )
    return Finding(
        "karazuri-misses" if setting == "karazuri" else "leaf-misses",
        "warn",
        message,
        about=(("x_mm", at[0]), ("y_mm", at[1])),
    )


def _no_such_colour(named: NamedColours, name: str, setting: Setting) -> Finding:
    palette = named.design.palette
    known = ", ".join(f"{palette[c].name} ({palette[c].srgb_hex})" for c in named.printed)
    message = f"There is no colour called {name}, so that [[separation.{setting}]] does nothing. "
    message += f"Colours: {known or 'none'}."
    return Finding(
        "karazuri-unknown-colour" if setting == "karazuri" else "leaf-unknown-colour",
        "warn",
        message,
        about=(("colour", name),),
    )


def _no_such_metal(choice: LeafOn, metals: Mapping[str, Metal]) -> Finding:
    known = ", ".join(each.name for each in metals.values())
    message = f"There is no leaf called {choice.metal}, so that none is laid. Known are {known}; "
    message += "name your own under [[separation.leaf_kind]]."
    return Finding("leaf-unknown-metal", "warn", message, choice.at, (("metal", choice.metal),))


def _both(
    work: Coloured,
    pressed: Mapping[int, tuple[int, Karazuri]],
    laid: Mapping[int, tuple[int, LeafOn]],
) -> list[Finding]:
    """One finding for each pair of entries that want karazuri and leaf on the same shape."""
    told: dict[tuple[int, int], list[int]] = {}
    for shape in sorted(pressed.keys() & laid.keys()):
        told.setdefault((pressed[shape][0], laid[shape][0]), []).append(shape)
    findings = []
    for (k, n), shapes in told.items():
        name = work.design.palette[int(work.colour[shapes[0]])].name
        message = (
            f"{name[:1].upper()}{name[1:]} is to be embossed by [[separation.karazuri]] number {k + 1} and "
            f"to get leaf by [[separation.leaf]] number {n + 1}. Embossing breaks a burnished leaf; "
            "take one back."
        )
        about = (("karazuri", k), ("leaf", n))
        findings.append(Finding("karazuri-and-leaf", "stop", message, work.largest(np.array(shapes)), about))
    return findings


def finishing_impressions(
    work: Coloured, finishes: Finishes, inked: Sequence[Impression]
) -> tuple[Impression, ...]:
    """The impressions without ink, after those with one: karazuri from front and back, then each metal."""
    paper = work.design.paper_hex
    taken = {each.name.casefold() for each in inked}
    first = len(inked) + 1
    made: list[Impression] = []

    def called(name: str) -> str:
        return f"{name} (no ink)" if name.casefold() in taken else name

    for side, name in SIDE_NAMES.items():
        shapes = [shape for shape, each in finishes.karazuri.items() if each == side]
        if shapes:
            made.append(_without_ink(work, first + len(made), called(name), shapes, paper, side=side))
    for metal in dict.fromkeys(finishes.leaf.values()):
        shapes = [shape for shape, each in finishes.leaf.items() if each == metal]
        name = called(f"{metal.name} leaf")
        made.append(_without_ink(work, first + len(made), name, shapes, metal.srgb_hex))
    return tuple(made)


def _without_ink(
    work: Coloured,
    number: int,
    name: str,
    shapes: Sequence[int],
    srgb_hex: str,
    *,
    side: SheetSide | None = None,
) -> Impression:
    return Impression(
        number=number,
        name=name,
        kind="leaf" if side is None else "karazuri",
        ink=None,
        passes=1,
        shapes=tuple(shapes),
        area=_together(work.regions[list(shapes)]),
        trap_mm=0.0,
        srgb_hex=srgb_hex,
        lab=hex_to_lab(srgb_hex),
        side=side or "front",
    )


def _together(regions: NDArray[np.object_]) -> MultiPolygon:
    union = shapely.union_all(regions)
    return MultiPolygon([each for each in shapely.get_parts(union) if each.geom_type == "Polygon"])

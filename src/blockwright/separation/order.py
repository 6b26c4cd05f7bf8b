"""The printing order, and the printmaker's decisions that name colours."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from blockwright.model.design import Design
from blockwright.model.findings import Finding
from blockwright.model.settings import SeparationTable


def by_lightness(design: Design, colours: Iterable[int]) -> list[int]:
    """Palette colours from light to dark by L*, equal ones by their hexadecimal value."""
    palette = design.palette
    return sorted(colours, key=lambda c: (-palette[c].lab[0], palette[c].srgb_hex.lower()))


@dataclass(frozen=True, slots=True)
class NamedColours:
    """The printed colours of a design, to be found by name or by ``#rrggbb``, capitals or not."""

    design: Design
    printed: tuple[int, ...]

    def find(self, name: str) -> int | None:
        """The palette colour of that name that is printed, or None."""
        wanted = name.strip().casefold()
        # Where a colour runs, one of its two impressions may be named.
        whole = wanted.rpartition(", ")[0]
        runs = {shape.colour for shape in self.design.shapes if shape.run is not None}
        for c in self.printed:
            colour = self.design.palette[c]
            own = colour.name.casefold()
            if wanted in (own, colour.srgb_hex.lower()) or (c in runs and whole == own):
                return c
        return None

    def says_all(self, name: str, colour: int) -> bool:
        """Whether a name that was found means the whole colour, not one of the two impressions of a run."""
        found = self.design.palette[colour]
        return name.strip().casefold() in (found.name.casefold(), found.srgb_hex.lower())

    def missing(self, name: str, *, setting: str) -> Finding:
        """What to say when a setting names a colour that is not printed."""
        palette = self.design.palette
        wanted = name.strip().casefold()
        if any(wanted in (colour.name.casefold(), colour.srgb_hex.lower()) for colour in palette):
            why = f"{name} is left as bare paper or gets leaf, is all line work of the key, or has no shape"
        else:
            why = f"There is no colour called {name}"
        known = ", ".join(f"{palette[c].name} ({palette[c].srgb_hex})" for c in self.printed)
        message = (
            f"{why}, so that line of [separation] {setting} does nothing. Printed colours: {known or 'none'}."
        )
        about = (("colour", name),)
        return Finding(f"{setting}-unknown-colour", "warn", message, about=about)


def printing_order(
    named: NamedColours, light_to_dark: Sequence[int], wanted: Iterable[str]
) -> tuple[list[int], list[Finding]]:
    """The colours in printing order: first those that are named, then the others, light to dark."""
    first: list[int] = []
    findings: list[Finding] = []
    for name in wanted:
        colour = named.find(name)
        if colour is None:
            findings.append(named.missing(name, setting="order"))
        elif colour not in first:
            first.append(colour)
    return first + [c for c in light_to_dark if c not in first], findings


def passes_and_traps(
    named: NamedColours, settings: SeparationTable, usual: Mapping[int, int]
) -> tuple[dict[int, int], dict[int, float], list[Finding]]:
    """Passes and trap of every printed colour as the printmaker decided them, or the usual passes."""
    passes = dict(usual)
    traps = dict.fromkeys(named.printed, settings.trap_mm)
    findings = []
    for decision in settings.passes:
        colour = named.find(decision.colour)
        if colour is None:
            findings.append(named.missing(decision.colour, setting="passes"))
        elif named.says_all(decision.colour, colour):
            passes[colour] = decision.times
    for choice in settings.trap:
        colour = named.find(choice.colour)
        if colour is None:
            findings.append(named.missing(choice.colour, setting="trap"))
        else:
            traps[colour] = choice.mm
    return passes, traps, findings

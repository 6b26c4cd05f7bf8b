"""Inks in 36 bands for tests, invented, and inks of a print as mixed to match."""

from blockwright.model.inks import Bands, Optics, PrintInk
from blockwright.model.separation import Ink, Separation


def bands(red: float, green: float, blue: float) -> Bands:
    """36 numbers: one up to 490 nm, one up to 590, one beyond."""
    return (blue,) * 12 + (green,) * 10 + (red,) * 14


def ink(name: str, k: tuple[float, float, float], s: tuple[float, float, float]) -> Ink:
    """An ink by what it absorbs and scatters in red, green and blue light."""
    return Ink(name, bands(*k), bands(*s))


def as_wanted(separation: Separation) -> tuple[PrintInk, ...]:
    """Every impression printed with the very ink that is wanted."""
    return tuple(
        PrintInk(
            impression=each.number,
            name=each.printed_ink.name,
            origin="matched",
            optics=Optics(each.printed_ink.k, each.printed_ink.s),
            transfer=(1.0,),
            mixture=False,
            recipe=None,
            shelf_number=None,
            delta_e00=0.0,
            uncertainty_delta_e00=0.0,
            swatches=(),
        )
        for each in separation.inked
    )

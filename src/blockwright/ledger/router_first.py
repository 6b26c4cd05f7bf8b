"""The bits and the machine that a shelf begins with: ``data/router``, with tags and sources."""

import csv
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import resources
from typing import cast

from blockwright.model.router import Bit, BitKind, Machine
from blockwright.model.shelf import ShelfBit, ShelfMachine


@cache
def first_bits() -> tuple[ShelfBit, ...]:
    """The usual bits, by number.

    >>> [each.bit.name for each in first_bits()]
    ['6 mm flat', '3 mm flat', '1.5 mm flat', '60 degree V']
    """
    return tuple(
        ShelfBit(
            Bit(
                number=int(row["number"]),
                name=row["bit"],
                kind=cast("BitKind", row["kind"]),
                diameter_mm=float(row["diameter_mm"]),
                flutes=int(row["flutes"]),
                cutting_mm=float(row["cutting_mm"]),
                angle_deg=float(row["angle_deg"]),
                tip_mm=float(row["tip_mm"]),
                shank_mm=float(row["shank_mm"]),
            )
        )
        for row in _rows("bits.csv")
    )


@cache
def first_machines() -> tuple[ShelfMachine, ...]:
    """A plain machine."""
    return tuple(
        ShelfMachine(
            Machine(
                name=row["machine"],
                reach_mm=(float(row["x_mm"]), float(row["y_mm"]), float(row["z_mm"])),
                feed_mm_min=float(row["feed_mm_min"]),
                plunge_mm_min=float(row["plunge_mm_min"]),
                rapid_mm_min=float(row["rapid_mm_min"]),
                acceleration_mm_s2=float(row["acceleration_mm_s2"]),
                rpm=(float(row["least_rpm"]), float(row["most_rpm"])),
                arcs=row["arcs"] == "yes",
                tool_change=row["tool_change"] == "yes",
                safe_mm=float(row["safe_mm"]),
                junction_mm=float(row["junction_mm"]),
                change_s=float(row["change_s"]),
            )
        )
        for row in _rows("machines.csv")
    )


def _rows(name: str) -> Iterator[Mapping[str, str]]:
    text = (resources.files("blockwright") / "data" / "router" / name).read_text(encoding="utf-8")
    return iter(csv.DictReader(text.splitlines()))

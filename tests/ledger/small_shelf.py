"""A small invented shelf: pigments whose numbers are no round ones, so that what is rounded is seen."""

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np

from blockwright.ledger import Ledger, open_ledger
from blockwright.model.inks import MixedInk, Optics, Part, Pigment
from blockwright.model.router import Bit, Machine
from blockwright.model.shelf import ShelfBit, ShelfMachine, ShelfPigment, Swatch

MONDAY = datetime(2026, 11, 23, 8, 30, 0, 123456, tzinfo=UTC)
ONE_HOUR = timedelta(hours=1)


def invented_optics(seed: int, directions: int = 2) -> Optics:
    """Smooth K and S, and an uncertainty, from a seed."""
    random = np.random.default_rng(seed)
    wave = np.linspace(0.0, 3.0, 36) + random.uniform(0.0, 3.0)
    k = 0.05 + random.uniform(0.2, 2.0) * (1.0 + np.sin(wave)) ** 2
    s = 0.02 + 0.05 * (1.0 + np.cos(wave))
    spread = random.normal(0.0, 0.1, (2, directions, 36))
    return Optics(
        tuple(k.tolist()),
        tuple(s.tolist()),
        tuple(tuple(row) for row in spread[0].tolist()),
        tuple(tuple(row) for row in spread[1].tolist()),
    )


def invented_pigments() -> tuple[ShelfPigment, ...]:
    return (
        ShelfPigment(
            Pigment(
                "rose, deep",
                "PV19",
                invented_optics(1),
                "measured",
                'a "patch" book; page 3',
                lightfastness="ASTM II",
                hazard="no dry sanding",
                density_g_per_ml=1.1,
                transfer=(0.9, 0.7),
            ),
            notes="from the north window\r\nsecond tube",
        ),
        ShelfPigment(Pigment("Überblau", "PB15:3", invented_optics(2, 0), "literature", "invented")),
        ShelfPigment(
            Pigment("ochre", None, invented_optics(3), "scanned", "invented", lightfastness="Blue Wool 8"),
            on_shelf=False,
        ),
        ShelfPigment(Pigment("old red", None, invented_optics(4), "literature", ""), retired=True),
    )


def sea_ink(**more: object) -> MixedInk:
    parts = (Part("rose, deep", 0.1), Part("Überblau", 1.0 / 3.0))
    ink = MixedInk(
        0, "sea", parts, 1.0 - 0.1 - 1.0 / 3.0, invented_optics(5), "literature", made_on="2026-11-20"
    )
    return replace(ink, **more)  # type: ignore[arg-type]


def a_swatch(of: str | int) -> Swatch:
    optics = invented_optics(6)
    return Swatch(
        of=of,
        passes=2,
        ground="black",
        origin="scanned",
        reflectance=tuple(min(1.0, each) for each in optics.s),
        lab=(51.25, -3.0, 1.0 / 7.0),
        ground_reflectance=(0.04,) * 36,
        made_on="2026-11-22",
        file_name="scans/sheet 1.png",
        file_sha256="0123456789abcdef" * 4,
        notes="torn at the corner",
    )


def a_tapered_bit() -> ShelfBit:
    """A bit whose numbers are no round ones."""
    bit = Bit(0, "fine, tapered", "tapered", 3.175, 2, 15.0, 31.0 / 3.0, 0.5, 3.175)
    return ShelfBit(bit, notes="new\nin May")


def a_machine() -> ShelfMachine:
    """A machine with lines of the user's own."""
    machine = Machine(
        "in the cellar",
        (400.0, 1000.0 / 3.0, 70.5),
        2400.0,
        450.0,
        3600.0,
        220.0,
        (6000.0, 24000.0),
        arcs=False,
        tool_change=True,
        safe_mm=4.5,
        junction_mm=0.01,
        change_s=12.5,
        begin=("(vacuum, and lights)", "M8"),
        end=("M9", "", "G53 G0 X0"),
    )
    return ShelfMachine(machine, notes="oil it")


def opened(path: Path, pigments: Sequence[ShelfPigment] | None = None) -> Ledger:
    return open_ledger(path, first_pigments=lambda: invented_pigments() if pigments is None else pigments)


@lru_cache(maxsize=1)
def _made_once() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        opened(Path(folder) / "studio.db")
        return (Path(folder) / "studio.db").read_bytes()


def made_before(path: Path) -> Ledger:
    """A database with the invented pigments, without the time that it takes to make one."""
    path.write_bytes(_made_once())
    return opened(path)

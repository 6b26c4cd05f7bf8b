"""The studio's database: what stands on the shelf, and an append-only record of what happened to it."""

from blockwright.ledger.mixed_inks import (
    add_ink,
    add_use,
    add_weighing,
    all_inks,
    all_uses,
    all_weighings,
    change_ink,
    ink_numbered,
)
from blockwright.ledger.opening import Ledger, open_ledger, open_to_read
from blockwright.ledger.pigments import add_pigment, all_pigments, change_pigment, pigment_named
from blockwright.ledger.swatches import add_swatch, all_swatches
from blockwright.ledger.taking_in import TakenIn, take_in, written_sheets

__all__ = [
    "Ledger",
    "TakenIn",
    "add_ink",
    "add_pigment",
    "add_swatch",
    "add_use",
    "add_weighing",
    "all_inks",
    "all_pigments",
    "all_swatches",
    "all_uses",
    "all_weighings",
    "change_ink",
    "change_pigment",
    "ink_numbered",
    "open_ledger",
    "open_to_read",
    "pigment_named",
    "take_in",
    "written_sheets",
]

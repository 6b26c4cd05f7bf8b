"""The studio's database: what stands on the shelf, and an append-only record of what happened to it."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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

_WHERE = {
    "Ledger": "opening",
    "TakenIn": "taking_in",
    "add_ink": "mixed_inks",
    "add_pigment": "pigments",
    "add_swatch": "swatches",
    "add_use": "mixed_inks",
    "add_weighing": "mixed_inks",
    "all_inks": "mixed_inks",
    "all_pigments": "pigments",
    "all_swatches": "swatches",
    "all_uses": "mixed_inks",
    "all_weighings": "mixed_inks",
    "change_ink": "mixed_inks",
    "change_pigment": "pigments",
    "ink_numbered": "mixed_inks",
    "open_ledger": "opening",
    "open_to_read": "opening",
    "pigment_named": "pigments",
    "take_in": "taking_in",
    "written_sheets": "taking_in",
}
"""The module that holds what the room offers."""


def __getattr__(name: str) -> Any:
    """What the room offers, loaded when it is asked for: the library beneath takes half a second."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)

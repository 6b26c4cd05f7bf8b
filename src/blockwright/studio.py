"""Interim."""

from blockwright.model.inks import Shelf


def at_hand() -> Shelf:
    """What is on the shelf."""
    return Shelf()

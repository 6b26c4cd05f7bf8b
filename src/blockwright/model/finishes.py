"""What ``print.toml`` says about karazuri and leaf: where they go, and what leaf there is."""

from typing import Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from blockwright.model.table import HexColour, Place, Table, Text


class _Chosen(Table):
    """What is chosen by a colour, or by a place: only the shape there."""

    colour: Text | None = None
    at: Place | None = None

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if (self.colour is None) == (self.at is None):
            raise PydanticCustomError("colour_or_place", "either a colour or a place")
        return self


class Karazuri(_Chosen):
    """Emboss a colour, or the shape at a place, with a block that takes no ink.

    The block presses the sheet's front, or with ``side = "back"`` its back. With ``printed = false`` the
    colour is not printed there. Later entries hold.
    """

    side: Literal["front", "back"] = "front"
    printed: bool = True


class LeafOn(_Chosen):
    """Lay metal leaf on a colour, or on the shape at a place.

    With ``printed = true`` the colour is printed beneath it too; otherwise its neighbours run under the
    leaf's edge by their traps. Later entries hold.
    """

    metal: Text = Field(min_length=1, max_length=60)
    printed: bool = False


class LeafKind(Table):
    """A kind of leaf to be had, beside the usual ones or in place of the one of that name."""

    name: Text = Field(min_length=1, max_length=60)
    side_mm: float = Field(ge=10, le=500)
    per_book: int = Field(25, ge=1, le=1000)
    must_coat: bool = True
    shown: HexColour = "#c9a648"


USUAL_LEAF = (
    LeafKind(name="gold", side_mm=80.0, per_book=25, must_coat=False, shown="#d3a93c"),
    LeafKind(name="Japanese gold", side_mm=109.0, per_book=100, must_coat=False, shown="#d3a93c"),
    LeafKind(name="silver", side_mm=95.0, per_book=25, must_coat=True, shown="#c3c6c8"),
    LeafKind(name="copper", side_mm=140.0, per_book=25, must_coat=True, shown="#b8734a"),
    LeafKind(name="imitation gold", side_mm=140.0, per_book=25, must_coat=True, shown="#c9a648"),
)
"""Leaf that can be had. Sides and books of gold, copper and imitation, and what must be coated [pub: gilding
supplier's data]; the side of Japanese gold [pub: gold-beater's data]; the book of Japanese gold, and silver's
side and book [mem]; the colours shown [CP]."""

"""Every decision that ``print.toml`` can hold, with its range, its unit and where its default comes from.

The descriptions here are the comments that a new ``print.toml`` carries and the text that error messages
quote, so that the file, the messages and the code cannot disagree. Tags: [pub] published, [CP] common
practice without a source, [der] derived here, [mem] from memory.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from blockwright.model.settings_movement import MovementSettings
from blockwright.model.settings_part_blocks import PartBlockSettings
from blockwright.model.settings_router import FaceMethod, RouterTable
from blockwright.model.settings_separation import (
    EdgeTrapAt,
    Overprint,
    Passes,
    SeparationTable,
    SplitAt,
    TrapOf,
)
from blockwright.model.table import HexColour, Place, Table, Text


class Accept(Table):
    """Leave as it is what a finding points at: the one at a place, or without a place all of its kind."""

    finding: Text = Field(min_length=1, max_length=60)
    at: Place | None = None


class PrintTable(Table):
    """The print itself."""

    title: Text = Field("", max_length=200, description="What the print is called.")
    picture: Text = Field(
        "design.png", min_length=1, max_length=255, description="The colour design, a file in this folder."
    )
    width_mm: float = Field(
        ..., ge=20, le=3000, description="Width of the printed image in mm; the height follows the picture."
    )
    paper: HexColour = Field("#f6efdf", description="The paper's own colour, as #rrggbb. [CP]")
    accept: tuple[Accept, ...] = ()


class Recolour(Table):
    """Give the colour under a place another value; with ``here`` only the shape at that place."""

    at: Place
    to: HexColour
    here: bool = False


class Merge(Table):
    """Give the shape at a place the colour of the shape at another; ``everywhere`` takes the whole colour."""

    at: Place
    into: Place
    everywhere: bool = False


class Drop(Table):
    """Take a shape out; the neighbour with the longest common edge fills its place."""

    at: Place


class NameColour(Table):
    """Name the colour under a place."""

    at: Place
    name: Text = Field(min_length=1, max_length=60)


class GradationAt(Table):
    """How the colour of the shape at a place runs, or ``flat``: that it does not.

    It runs from ``start`` to ``end``, mm, from ``start_colour`` to ``end_colour``; ``ramp`` says how much of
    that way it has gone at equal steps, 0 to 1. ``printed`` says how: by one ink that thins, by bokashi over
    a flat, or by two inks on one block; "as fits" leaves it to the tool. What is left out stays as it was
    found; flat paint runs from its own colour to the paper's, evenly.
    """

    at: Place
    flat: bool = False
    start: Place | None = None
    end: Place | None = None
    ramp: tuple[Annotated[float, Field(ge=0, le=1)], ...] | None = Field(None, min_length=2, max_length=33)
    start_colour: HexColour | None = None
    end_colour: HexColour | None = None
    printed: Literal["as fits", "one ink", "over a flat", "futa-iro"] | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> "GradationAt":
        told = (self.start, self.end, self.ramp, self.start_colour, self.end_colour, self.printed)
        if self.flat and any(each is not None for each in told):
            raise PydanticCustomError("flat_or_not", "flat = true leaves nothing else to say; take one out")
        if not self.flat and all(each is None for each in told):
            raise PydanticCustomError(
                "nothing_said", "give start and end, a ramp, a colour or how it is printed, or flat = true"
            )
        if (self.start is None) != (self.end is None) or (self.start is not None and self.start == self.end):
            raise PydanticCustomError("two_ends", "start and end are two different places, given together")
        return self


class DesignTable(Table):
    """From the picture to shapes."""

    colours: int | None = Field(
        None,
        ge=1,
        le=64,
        description="How many colours. Leave it out and the picture decides.",
        examples=[14],
    )
    palette: tuple[HexColour, ...] | None = Field(
        None,
        min_length=1,
        max_length=64,
        description="Exactly these colours, as a list of #rrggbb. Leave it out to have them found; "
        "`blockwright make FOLDER --lock-palette` writes the found ones here.",
        examples=[("#f6efdf", "#b4935a", "#3f6f8f", "#221e19")],
    )
    speck_mm2: float = Field(
        0.2, ge=0, le=100, description="Spots smaller than this (mm2) are taken for dirt and filled. [CP]"
    )
    smoothing_mm: float = Field(
        0.12, ge=0, le=5, description="How far along an edge (mm) the hand's tremble is smoothed out. [CP]"
    )
    gradations: bool = Field(
        True, description="Take bands whose colours run into each other for one shape whose colour runs. [CP]"
    )
    least_area_mm2: float = Field(
        1.0, ge=0, le=1000, description="Smaller shapes (mm2) are reported: they break off in carving. [CP]"
    )
    least_width_mm: float = Field(
        0.25,
        ge=0,
        le=20,
        description="Narrower lines and necks (mm) are reported. "
        "Cherry 0.25 by hand, 0.5 by machine; linden plywood 0.8. [CP]",
    )
    recolour: tuple[Recolour, ...] = ()
    merge: tuple[Merge, ...] = ()
    drop: tuple[Drop, ...] = ()
    gradation: tuple[GradationAt, ...] = ()
    name: tuple[NameColour, ...] = ()


class Take(Table):
    """Print one colour with a mixed ink of the shelf, by the shelf's number."""

    colour: Text
    shelf: int = Field(ge=1, le=1_000_000)


class MixFrom(Table):
    """Mix the ink of one colour from these pigments and no others."""

    colour: Text
    pigments: tuple[Text, ...] = Field(min_length=1, max_length=12)


class InksTable(Table):
    """What the inks are mixed from, and how much is mixed."""

    mix: Literal["from the shelf", "to match"] = Field(
        "from the shelf",
        description="Find recipes from the pigments on the shelf, or take every ink as mixed to match.",
    )
    most_pigments: int = Field(
        3,
        ge=1,
        le=3,
        description="Pigments in one ink, at most; more turn muddy and are hard to repeat. [CP]",
    )
    least_paste_percent: float = Field(
        20.0, ge=0, le=90, description="Rice paste in every ink, at least (percent of its volume). [CP]"
    )
    pigments: tuple[Text, ...] = Field(
        (),
        max_length=60,
        description="Mix from these pigments only, by name; without any, from all that are on the shelf.",
    )
    near_within_delta_e00: float = Field(
        3.0, ge=0, le=20, description="Mixed inks of the shelf this near (CIEDE2000) are offered. [CP]"
    )
    sheets: int = Field(
        60, ge=1, le=5000, description="Sheets to print, spoilt ones counted: how much ink is mixed. [CP]"
    )
    laydown_g_per_m2: float = Field(
        12.0,
        ge=0.5,
        le=200,
        description="Wet ink that one pass takes (g for a square metre of printed area). Weigh the bowl "
        "before and after ten pulls and put your own. [mem]",
    )
    reserve_percent: float = Field(
        20.0,
        ge=0,
        le=300,
        description="Ink mixed beyond what is printed (percent of it): bowl, brushes, chance. [CP]",
    )
    least_batch_g: float = Field(
        5.0, ge=0.5, le=1000, description="Less than this (g) is never mixed: a small bowl. [CP]"
    )
    glycerin_percent: float = Field(
        3.0, ge=0, le=20, description="Glycerin in the mixed ink (percent by weight); it slows drying. [CP]"
    )
    scale_g: float = Field(
        0.1,
        ge=0.001,
        le=0.5,
        description="What the scale can tell apart (g); recipes are rounded to it. [CP]",
    )
    take: tuple[Take, ...] = ()
    mix_from: tuple[MixFrom, ...] = ()


class Stock(Table):
    """A kind of board to be had. ``count`` is how many are on hand; left out when more can be bought.

    ``cut`` is how a plank was sawn; ``moves_percent`` the board's own movement across the grain, percent of
    its width for each point of moisture; left out when it follows from the wood.
    """

    name: Text = Field(min_length=1, max_length=80)
    wood: Text = Field(min_length=1, max_length=80)
    width_mm: float = Field(ge=30, le=5000)
    height_mm: float = Field(ge=30, le=5000)
    thickness_mm: float = Field(ge=3, le=100)
    grain: Literal["along", "across"] = "along"
    count: int | None = Field(None, ge=0, le=1000)
    cut: Literal["flat sawn", "quarter sawn"] = "flat sawn"
    moves_percent: float | None = Field(None, ge=0, le=1)


USUAL_STOCK = (
    Stock(
        name="small linden plywood",
        wood="linden plywood",
        width_mm=300.0,
        height_mm=225.0,
        thickness_mm=12.0,
    ),
    Stock(
        name="middle linden plywood",
        wood="linden plywood",
        width_mm=450.0,
        height_mm=300.0,
        thickness_mm=12.0,
    ),
    Stock(
        name="large linden plywood",
        wood="linden plywood",
        width_mm=600.0,
        height_mm=450.0,
        thickness_mm=12.0,
    ),
    Stock(
        name="double linden plywood",
        wood="linden plywood",
        width_mm=900.0,
        height_mm=600.0,
        thickness_mm=12.0,
    ),
)
"""Boards assumed when the file names none [CP]."""


class Group(Table):
    """Colours that share one face, or that never do."""

    inks: tuple[Text, ...] = Field(min_length=2, max_length=12)


class _LayOutTable(Table):
    """Margins, marks, faces and boards."""

    margin_left_mm: float = Field(
        15.0, ge=0, le=500, description="Bare paper left of the image, as the print is seen (mm). [CP]"
    )
    margin_right_mm: float = Field(15.0, ge=0, le=500, description="Bare paper right of the image (mm). [CP]")
    margin_top_mm: float = Field(15.0, ge=0, le=500, description="Bare paper above the image (mm). [CP]")
    margin_bottom_mm: float = Field(
        15.0,
        ge=0,
        le=500,
        description="Bare paper below the image (mm). The marks stand at the sheet's edge: "
        "10 to 20 mm from the image is usual. [pub: Edo woodblock craft specification]",
    )
    kagi_corner: Literal["lower right", "lower left", "upper right", "upper left"] = Field(
        "lower right",
        description="Corner of the block, seen by the printer, that takes the kagi. [pub: Fletcher 1916]",
    )
    hikitsuke_side: Literal["long", "short"] = Field(
        "long", description="The side of the block that carries the hikitsuke. [pub: Fletcher 1916]"
    )
    hikitsuke_at: float = Field(
        0.667,
        ge=0.3,
        le=0.95,
        description="Where the hikitsuke stands, as a part of the sheet's length from the kagi. "
        "[pub: art-university printmaking glossary]",
    )
    arm_mm: float = Field(20.0, ge=5, le=60, description="Length of the marks' arms (mm), 15 to 25. [CP]")
    recess_mm: float = Field(
        0.15,
        ge=0.02,
        le=2,
        description="Depth of the marks (mm): one sheet's thickness, barely more. "
        "[pub: a Japanese print workshop's page]",
    )
    block_over_mm: float = Field(
        38.0,
        ge=0,
        le=500,
        description="How much the block is larger than the image, both ways (mm). [pub: Platt 1938]",
    )
    rim_mm: float = Field(8.0, ge=0, le=100, description="Wood left outside the marks, at least (mm). [CP]")
    both_faces: bool = Field(
        True, description="Carve both faces of a board. [pub: Japanese Wood-Block Printing, Tokyo 1939]"
    )
    share_faces: bool = Field(
        True,
        description="Let inks that print far apart share a face. [pub: Japanese Wood-Block Printing, "
        "Tokyo 1939]",
    )
    sharing_distance_mm: float = Field(
        30.0,
        ge=0,
        le=500,
        description="Clear distance (mm) between different inks on one face. "
        "[pub: Japanese Wood-Block Printing, Tokyo 1939]",
    )
    masked: tuple[Text, ...] = Field(
        (),
        max_length=64,
        description="Colours, by name, that are inked through a mask: a cut sheet laid on the face.",
    )
    masked_distance_mm: float = Field(
        10.0,
        ge=0,
        le=500,
        description="Clear distance (mm) on one face between two colours that are both inked through a "
        "mask. [CP]",
    )
    half_turn: bool = Field(
        True,
        description="Let a block be laid down turned by half, with marks of its own, where that spares a "
        "face. [CP]",
    )
    kerf_mm: float = Field(3.0, ge=0, le=20, description="Wood that a saw cut takes away (mm). [CP]")
    grain: Literal["any", "along"] = Field(
        "any",
        description='How the grain runs on a block: "along" its longer side always, or "any" way, with '
        "along preferred where a board allows it. [CP]",
    )
    together: tuple[Group, ...] = ()
    apart: tuple[Group, ...] = ()
    stock: tuple[Stock, ...] = USUAL_STOCK


class BlocksTable(MovementSettings, PartBlockSettings, _LayOutTable):
    """From impressions to boards, faces and registration marks, and how wood and paper move."""


class CuttingTable(Table):
    """From faces to what goes to the bench or to the stencil cutter."""

    method: Literal["hand", "stencil", "router"] = Field(
        "hand", description='How faces are cut: "hand", "stencil" or "router". [CP]'
    )
    paper: Literal["A4", "A3", "Letter", "roll"] = Field(
        "A4", description='Paper of the transfer sheets: "A4", "A3", "Letter" or "roll". [CP]'
    )
    roll_mm: float = Field(610.0, ge=200, le=2000, description="Width of the roll (mm). [CP]")
    overlap_mm: float = Field(
        10.0, ge=0, le=50, description="How far neighbouring transfer sheets overlap (mm). [CP]"
    )
    oversize_mm: float = Field(
        25.0,
        ge=0,
        le=200,
        description="How far a stencil reaches past the block on all sides (mm). [pub: sign-trade pages]",
    )
    clear_reach_mm: float = Field(
        25.0,
        ge=1,
        le=500,
        description="Waste farther than this from every printing edge (mm) may stay as an island "
        "with rounded shoulders. [pub: Phillips 1926 for the practice, CP for the distance]",
    )
    edge_mm_per_min: float = Field(
        40.0, gt=0, le=5000, description="Edge carved by hand, mm a minute; put your own rate. [CP]"
    )
    clear_mm2_per_min: float = Field(
        400.0, gt=0, le=100000, description="Waste cleared by hand, mm2 a minute; put your own rate. [CP]"
    )
    face: tuple[FaceMethod, ...] = ()
    router: RouterTable = RouterTable()

    def for_face(self, face: str) -> "CuttingTable":
        """These settings as they hold for one face: what is said of it stands before what holds for all.

        Of several entries for a face, the last that says a thing holds.
        """
        said: dict[str, object] = {}
        for entry in self.face:
            if entry.face == face:
                said |= {key: value for key, value in entry if value is not None}
        router = {key: value for key, value in said.items() if key in RouterTable.model_fields}
        update = {"method": said.get("method", self.method), "router": self.router.model_copy(update=router)}
        return self.model_copy(update=update)

    def said_at(self, face: str, key: str) -> str:
        """Where ``print.toml`` says what a face is routed with, as a message names it."""
        own = any(entry.face == face and getattr(entry, key) is not None for entry in self.face)
        return f"[[cutting.face]] of {face}, {key}," if own else f"[cutting.router] {key}"


class ProofTable(Table):
    """From impressions to predicted proofs."""

    dpi: int = Field(
        150, ge=30, le=600, description="Resolution of the proof pictures (pixels to the inch). [CP]"
    )
    drift_mm: float = Field(
        0.3,
        ge=0.01,
        le=3,
        description="Register to count on (mm): nineteen pulls in twenty lie within it. [der]",
    )


class Settings(Table):
    """All of ``print.toml``."""

    print: PrintTable
    design: DesignTable = DesignTable()
    separation: SeparationTable = SeparationTable()
    inks: InksTable = InksTable()
    blocks: BlocksTable = BlocksTable()
    cutting: CuttingTable = CuttingTable()
    proof: ProofTable = ProofTable()


__all__ = [
    "USUAL_STOCK",
    "Accept",
    "BlocksTable",
    "CuttingTable",
    "DesignTable",
    "Drop",
    "EdgeTrapAt",
    "FaceMethod",
    "GradationAt",
    "Group",
    "HexColour",
    "InksTable",
    "Merge",
    "MixFrom",
    "MovementSettings",
    "NameColour",
    "Overprint",
    "Passes",
    "Place",
    "PrintTable",
    "ProofTable",
    "Recolour",
    "RouterTable",
    "SeparationTable",
    "Settings",
    "SplitAt",
    "Stock",
    "Table",
    "Take",
    "Text",
    "TrapOf",
]

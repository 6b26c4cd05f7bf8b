"""What ``print.toml`` decides of the impressions: the table ``[separation]`` and its entries."""

from typing import Literal

from pydantic import Field

from blockwright.model.finishes import Karazuri, LeafKind, LeafOn
from blockwright.model.table import Place, Table, Text


class Passes(Table):
    """How often one colour is printed."""

    colour: Text
    times: int = Field(ge=1, le=4)


class TrapOf(Table):
    """A trap for one colour."""

    colour: Text
    mm: float = Field(ge=0, le=10)


class EdgeTrapAt(Table):
    """A trap for the edge at a place; ``everywhere`` takes all edges of the same two colours.

    Less than 0, at the edge of leaf only, is how far the leaf runs over its neighbour.
    """

    at: Place
    mm: float = Field(ge=-10, le=10)
    everywhere: bool = False


class Overprint(Table):
    """The colour at one place is printed over the colour at another, or with ``lies = false`` it is not."""

    at: Place
    over: Place
    lies: bool = True


class SplitAt(Table):
    """The shape at a place is printed by an impression of its own; entries of one name share one."""

    at: Place
    name: Text | None = Field(None, min_length=1, max_length=60)


class SeparationTable(Table):
    """From shapes to impressions."""

    key: Text = Field(
        "found",
        min_length=1,
        max_length=60,
        description='The colour of the key block, by name or as #rrggbb; "found" looks for line work in the '
        'darkest colour, "none" makes no key. [CP]',
    )
    key_at: Place | None = Field(
        None,
        description="A place (mm) on the colour of the key block, instead of its name.",
        examples=[(120.5, 88.2)],
    )
    widest_line_mm: float = Field(
        3.0,
        ge=0,
        le=20,
        description="The key is line where it is narrower than this (mm): there the colours beneath close up "
        "to its middle. [CP]",
    )
    lift_within_delta_e00: float = Field(
        15.0,
        ge=0,
        le=40,
        description="Thin shapes that carry a line on are lifted into the key when their colour is this near "
        "its own (CIEDE2000). [CP]",
    )
    blocks: Literal["one a colour", "fewest"] = Field(
        "one a colour",
        description="A block for every colour, or the fewest whose inks, printed over one another, give the "
        "colours within the limits below. [CP]",
    )
    block_count: int | None = Field(
        None,
        ge=1,
        le=64,
        description="How many blocks for the flat colours, where they are the fewest: another point of "
        "the curve of blocks against colour error. Leave it out for the fewest within the limits.",
        examples=[12],
    )
    limit_delta_e00: float = Field(
        3.0,
        ge=0.1,
        le=20,
        description="How far overprints may miss the design (CIEDE2000), the mean over the area. [CP]",
    )
    worst_delta_e00: float = Field(
        3.0,
        ge=0.1,
        le=40,
        description="How far they may miss it at the worst colour (CIEDE2000). [CP]",
    )
    most_layers: int = Field(
        4,
        ge=1,
        le=4,
        description="How many passes may lie over any one spot: more sodden the sheet. "
        "[pub: Japanese Wood-Block Printing, Tokyo 1939 for the rule, CP for the number]",
    )
    overprint_inks: Literal["mixes", "mixed inks", "both"] = Field(
        "both",
        description="What overprints are printed with: recipes from the pigments at hand, mixed inks of the "
        "shelf as they are, or both. [CP]",
    )

    trap_mm: float = Field(
        0.5,
        ge=0,
        le=10,
        description="How far a lighter colour runs under a darker neighbour (mm), at most. [CP]",
    )
    traps: Literal["by edge", "one for all"] = Field(
        "by edge",
        description="Smaller traps where the overlap would be seen, as far as gaps stay rare, or the same "
        "trap everywhere. [CP]",
    )
    register_mm: float = Field(
        0.3,
        ge=0.01,
        le=3,
        description="Register that traps are made for (mm): nineteen pulls in twenty lie within it. [der]",
    )
    gap_percent: float = Field(
        2.0,
        ge=0.1,
        le=50,
        description="Of an edge whose overlap is seen, this much (percent) may show paper on one sheet. [CP]",
    )
    hidden_seam_delta_e00: float = Field(
        5.0,
        ge=0,
        le=30,
        description="An overlap this near one of its two colours (CIEDE2000) is not seen. [CP]",
    )
    paper_within_delta_e00: float = Field(
        4.0,
        ge=0,
        le=30,
        description="A colour this near the paper (CIEDE2000), or lighter than it, is left unprinted. [CP]",
    )
    order: tuple[Text, ...] = Field(
        (),
        description="Printing order by colour names, first to last. Colours not named follow, "
        "light to dark. [pub: Fletcher 1916]",
    )
    ground_beyond_mm: float = Field(
        -0.2,
        ge=-5,
        le=5,
        description="How far the ground for leaf reaches past the leaf's shape (mm), below 0 stays inside "
        "it: a wet ground spreads. [CP]",
    )
    leaf_lap_mm: float = Field(
        3.0, ge=0, le=30, description="How far neighbouring leaves lie over one another (mm). [CP]"
    )
    leaf_waste_percent: float = Field(
        15.0, ge=0, le=300, description="Leaf spoilt or torn (percent of what is laid). [CP]"
    )
    leaf_turn_deg: float = Field(
        0.0, ge=0, le=90, description="How far all leaves are turned on the print (degrees). [CP]"
    )
    passes: tuple[Passes, ...] = ()
    trap: tuple[TrapOf, ...] = ()
    edge_trap: tuple[EdgeTrapAt, ...] = ()
    overprint: tuple[Overprint, ...] = ()
    karazuri: tuple[Karazuri, ...] = ()
    leaf: tuple[LeafOn, ...] = ()
    leaf_kind: tuple[LeafKind, ...] = ()
    split: tuple[SplitAt, ...] = ()

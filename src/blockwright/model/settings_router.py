"""Settings of the router: how deep and how steep it cuts, what it may leave, with which bits and how fast."""

from typing import Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from blockwright.model.table import Table, Text


class RouterTable(Table):
    """How faces are cut by a router: the wood that is left, the bits, the machine and their speeds."""

    machine: Text = Field(
        "", max_length=100, description="The machine of the shelf, by name; empty, the first one in use."
    )
    bits: tuple[Text, ...] = Field(
        (),
        max_length=24,
        description="Bits of the shelf that may be used, by name; without any, all that are in use.",
    )
    quarter_turn: bool = Field(
        False,
        description="Lay blocks on the machine turned by a quarter to the left, seen from above: for a block "
        "that fits on it only so. [CP]",
    )
    wall_deg: float = Field(
        60.0,
        ge=45,
        le=70,
        description="How steep walls stand at printing edges (degrees from the face). "
        "[pub: practitioner's notes]",
    )
    least_depth_mm: float = Field(
        1.5,
        ge=0.3,
        le=10,
        description="Depth of waste beside a printing edge (mm). [pub: Phillips 1926 for the bound of 1.6]",
    )
    depth_growth: float = Field(
        0.1,
        ge=0,
        le=1,
        description="How much deeper waste is for each mm away from the nearest printing edge (mm). [der]",
    )
    most_depth_mm: float = Field(
        4.5, ge=0.3, le=20, description="Depth of waste far from every printing edge, at most (mm). [der]"
    )
    depth_slack_mm: float = Field(
        0.3,
        ge=0,
        le=3,
        description="Waste may stay this much higher than wanted (mm) before it counts as shallow. [CP]",
    )
    islands: bool = Field(
        False, description="Leave waste standing as islands where it is far from every printing edge. [CP]"
    )
    rim_chamfer_mm: float = Field(
        2.0, ge=0, le=10, description="Chamfer of the block's outer edge (mm). [pub: practitioner's notes]"
    )
    stock_mm: float = Field(
        0.2,
        ge=0,
        le=2,
        description="Wood that roughing leaves for the finishing passes (mm). [CP]",
    )
    step_down_diameters: float | None = Field(
        None,
        ge=0.05,
        le=3,
        description="How deep one pass goes (diameters of the bit). Leave it out and it follows from the "
        "bit and the wood. [CP]",
        examples=[0.5],
    )
    flat_step_over_percent: float | None = Field(
        None,
        ge=5,
        le=90,
        description="How far apart passes of a flat bit lie (percent of its diameter). Leave it out and it "
        "follows from the wood. [CP]",
        examples=[45.0],
    )
    ball_step_over_percent: float | None = Field(
        None,
        ge=2,
        le=60,
        description="The same for a ball bit, whose passes leave ridges between them (percent); they never "
        "lie so far apart that waste stays higher than depth_slack_mm allows. [CP]",
        examples=[30.0],
    )
    v_step_over_percent: float | None = Field(
        None, ge=1, le=60, description="The same for a V bit (percent). [CP]", examples=[10.0]
    )
    tapered_step_over_percent: float | None = Field(
        None,
        ge=1,
        le=60,
        description="The same for a tapered bit (percent of the diameter of its tip). [CP]",
        examples=[20.0],
    )
    ramp_deg: float = Field(
        8.0, ge=0.5, le=30, description="How steeply a bit is led down into wood (degrees). [CP]"
    )
    smallest_area_mm2: float = Field(
        4.0,
        ge=0,
        le=1000,
        description="Waste smaller than this (mm2) is not worth a lift of its own: it is left to the hand. "
        "[CP]",
    )
    safe_mm: float | None = Field(
        None,
        ge=0.5,
        le=100,
        description="How high above the face the bit travels (mm). Leave it out and it is the machine's.",
        examples=[5.0],
    )
    arcs: bool = Field(
        True,
        description="Write arcs where curves are round, if the machine takes them; else short lines. [CP]",
    )
    spindle_rpm: float = Field(
        18000.0,
        ge=1000,
        le=100000,
        description="Turns of the spindle a minute that are begun with; the machine's range holds. [CP]",
    )
    plunge_percent: float = Field(
        50.0,
        ge=5,
        le=100,
        description="How fast a bit goes straight down (percent of its feed); the machine's own plunging "
        "feed holds. [CP]",
    )

    @model_validator(mode="after")
    def _depths_in_order(self) -> "RouterTable":
        if self.least_depth_mm > self.most_depth_mm:
            raise PydanticCustomError("depths_in_order", "least_depth_mm is at most most_depth_mm")
        return self


class FaceMethod(Table):
    """Another way of cutting for one face; what is left out is as for all faces."""

    face: Text
    method: Literal["hand", "stencil", "router"] | None = None
    machine: Text | None = Field(None, min_length=1, max_length=100)
    bits: tuple[Text, ...] | None = Field(None, min_length=1, max_length=24)
    quarter_turn: bool | None = None

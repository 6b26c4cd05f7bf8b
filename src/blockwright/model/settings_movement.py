"""Settings of the blocks that tell how wood and paper move; they stand in ``[blocks]`` of ``print.toml``."""

from typing import Literal

from pydantic import BaseModel, Field


class MovementSettings(BaseModel):
    """The room, the paper, and whether the drawings allow for them."""

    carving_humidity_percent: float = Field(
        50.0,
        ge=5,
        le=95,
        description="Relative humidity of the room where the boards lie and are carved (percent). [CP]",
    )
    carving_temperature_c: float = Field(20.0, ge=0, le=60, description="Temperature of that room (°C). [CP]")
    carving_moisture_percent: float | None = Field(
        None,
        ge=2,
        le=28,
        description="Moisture of the boards when they are carved, measured with a meter (percent). "
        "Leave it out and it follows from the room. [der]",
        examples=[9.0],
    )
    printing_humidity_percent: float = Field(
        50.0,
        ge=5,
        le=95,
        description="Relative humidity where the blocks lie when they are printed (percent). [CP]",
    )
    printing_temperature_c: float = Field(
        20.0, ge=0, le=60, description="Temperature where they are printed (°C). [CP]"
    )
    printing_moisture_percent: float | None = Field(
        None,
        ge=2,
        le=28,
        description="Moisture of the blocks when they are printed, measured with a meter (percent). "
        "Leave it out and it follows from the room. [der]",
        examples=[12.0],
    )
    unknown_wood_percent: float = Field(
        0.3,
        ge=0,
        le=1,
        description="How much a wood that is not known here moves across its grain: percent of its width "
        "for each point of moisture; about the mean of the flat-sawn woods that are known. [der]",
    )
    paper_growth_percent: float = Field(
        0.14,
        ge=-2,
        le=5,
        description="How much the damp sheet is larger than the dry one, in the direction in which it grows "
        "most (percent); so much damp kozo does. [pub: Ritsumeikan Art Research Center measurement]",
    )
    paper_growth_other_percent: float = Field(
        0.0, ge=-2, le=5, description="How much it is larger the other way (percent). [CP]"
    )
    paper_grows: Literal["width", "height"] = Field(
        "width", description="Along which side of the image the sheet grows most. [CP]"
    )
    compensate: bool = Field(
        False,
        description="Draw what is carved a little larger or smaller, so that the image is right when it is "
        "printed. [CP]",
    )
    register_target_mm: float = Field(
        0.3,
        ge=0.01,
        le=5,
        description="Impressions that lie farther apart than this (mm) for what the blocks and the sheet do "
        "are noted. [der]",
    )
    register_alarm_mm: float = Field(
        0.5, ge=0.01, le=5, description="Impressions farther apart than this (mm) are warned of. [der]"
    )

"""What is decided about part blocks, small pieces of wood for small areas, and of what registers them."""

from typing import Literal

from pydantic import Field

from blockwright.model.table import Table, Text


class PartBlockSettings(Table):
    """Part blocks and their registration board (soto-kento)."""

    part_blocks: bool = Field(
        False,
        description="Carve small areas on part blocks, pieces hardly larger than what they print; a "
        "registration board carries the marks for them. [CP]",
    )
    part_border_mm: float = Field(
        10.0, ge=0, le=100, description="Wood left round what a part block prints (mm). [CP]"
    )
    part_spared_percent: float = Field(
        60.0,
        ge=0,
        le=99,
        description="A part block is made only where it spares at least so much of a full face (percent of "
        "it). [CP]",
    )
    registration_board: Literal["saw", "on hand"] = Field(
        "saw",
        description='Whether the registration board is sawn from the boards to be had ("saw") or there '
        'already ("on hand"). [CP]',
    )
    on_part_block: tuple[Text, ...] = Field(
        (),
        max_length=64,
        description="Colours, by name, that are carved on part blocks in any case.",
    )
    on_full_block: tuple[Text, ...] = Field(
        (),
        max_length=64,
        description="Colours, by name, that never are.",
    )

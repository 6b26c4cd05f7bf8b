"""What every table of ``print.toml`` is made of: strict values, names on one line, colours and places."""

import unicodedata
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError


def _one_line(text: str) -> str:
    """Names stand on drawings and in one-line messages: a line break or a control sign would break both."""
    if any(unicodedata.category(sign) in {"Cc", "Zl", "Zp", "Cs"} for sign in text):
        raise PydanticCustomError("not_one_line", "line breaks and control signs have no place in a name")
    return text


HexColour = Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")]
Text = Annotated[str, AfterValidator(_one_line)]
Place = tuple[float, float]


class Table(BaseModel):
    """A table of ``print.toml``: no unknown names, exact types, and it never changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)

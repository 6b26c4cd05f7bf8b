"""Shapes that are printed by an impression of their own, as the stations tell of them."""

from collections.abc import Mapping, Sequence
from typing import Any

from blockwright.looking import Look
from blockwright.web import words


def split_edits(found: Look) -> list[dict[str, Any]]:
    """The splits decided so far, each with the act that takes it back."""
    edits = []
    for index, edit in enumerate(found.settings.separation.split if found.settings else ()):
        fields = {
            "act": "take-back",
            "table": "separation",
            "key": "split",
            "index": index,
            "seen": found.text_hash,
        }
        at = f"{edit.at[0]:.0f}, {edit.at[1]:.0f}"
        said = words.fmt("edit_split_called" if edit.name else "edit_split", at=at, name=edit.name)
        edits.append({"said": said, "fields": fields})
    return edits


def split_said(each: Mapping[str, Any], impressions: Sequence[Mapping[str, Any]]) -> list[str]:
    """That an impression was split off another, or others off it, as sentences."""
    said = []
    if source := each.get("split_from"):
        said.append(words.count("split_from", each["shapes"], source=source))
    if off := [other["name"] for other in impressions if other.get("split_from") == each["name"]]:
        said.append(words.fmt("split_off", names=words.listed(off)))
    return said

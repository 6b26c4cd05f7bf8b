"""``print.toml``: the printmaker's decisions, read strictly and written with a comment for every setting."""

import difflib
import json
import os
import re
import textwrap
import tomllib
from pathlib import Path
from typing import Any, Literal, cast, get_args, get_origin

import tomlkit
from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from blockwright.model.errors import FolderError, SettingsError
from blockwright.model.settings import Settings
from blockwright.model.table import Place

FILE_NAME = "print.toml"

_MOST_BYTES = 2_000_000
"""A hundred times the longest list of decisions that we can think of."""

_MOST_SHOWN = 60
"""Characters of a bad value or line that a message repeats: it must stay one line."""

_MOST_NAMES = 10
"""Allowed names that a message lists; of more, those most like the one that is not known."""

_EXAMPLES = {
    "print": """\
What a finding points at and is to stay as it is, with the finding's own place or, without a place,
all of its kind; `blockwright check FOLDER --json` tells kinds and places:

[[print.accept]]
finding = "neck-too-narrow"
at = [120.5, 88.2]""",
    "design": """\
Hand edits are keyed by a place in mm from the image's upper left corner, [right, down]; they may be
repeated:

[[design.name]]
at = [120.5, 88.2]
name = "wet ochre"

[[design.recolour]]  # here = true: only this shape, not every shape of its colour
at = [120.5, 88.2]
to = "#b4935a"

[[design.merge]]  # everywhere = true: the whole colour, not only this shape
at = [12.0, 30.0]
into = [14.0, 41.0]

[[design.drop]]
at = [203.0, 17.5]

[[design.gradation]]  # or flat = true: its colour does not run
at = [120.5, 40.0]
start = [120.0, 0.0]
end = [120.0, 62.0]
printed = "over a flat"  # or "one ink", or "futa-iro": two inks on one block""",
    "separation": """\
For one colour, by its name or as #rrggbb; they may be repeated:

[[separation.passes]]
colour = "wet ochre"
times = 2

[[separation.trap]]
colour = "wet ochre"
mm = 0.7

For the edge at a place, with everywhere = true for all edges of the same two colours; less than 0 at
the edge of leaf makes the leaf run over its neighbour:

[[separation.edge_trap]]
at = [120.5, 88.2]
mm = 0.3

The shape at a place is printed by an impression of its own; those of one name share one, and without
a name one is made, such as "wet ochre, second":

[[separation.split]]
at = [120.5, 88.2]
name = "ochre of the boat"

With the fewest blocks, the colour at one place is printed over the colour at another, both in mm
from the image's upper left corner, or with lies = false it is not:

[[separation.overprint]]
at = [120.5, 88.2]
over = [12.0, 30.0]
lies = true

Karazuri and leaf, for a colour or for the shape at one place:

[[separation.karazuri]]  # embossed without ink; or at = [120.5, 88.2] for one shape
colour = "snow"
side = "front"  # the side of the sheet that the block presses: "front" or "back"
printed = true  # false: the colour is not printed there

[[separation.leaf]]  # metal leaf; or colour = "lantern"
at = [120.5, 88.2]
metal = "gold"  # gold, Japanese gold, silver, copper, imitation gold, or a kind of your own
printed = false  # true: its colour is printed beneath

[[separation.leaf_kind]]
name = "palladium"
side_mm = 80.0
per_book = 25
must_coat = false
shown = "#c9c7c1\"""",
    "inks": """\
For one colour, by its name or as #rrggbb; they may be repeated:

[[inks.take]]  # a mixed ink of the shelf, by its number
colour = "wet ochre"
shelf = 12

[[inks.mix_from]]
colour = "wet ochre"
pigments = ["burnt umber", "Hansa yellow"]""",
    "blocks": """\
Colours that are to share one face, or never to, by their names or as #rrggbb; they may be repeated:

[[blocks.together]]
inks = ["wet ochre", "madder red"]

[[blocks.apart]]
inks = ["wet ochre", "deep blue"]

Boards to be had; without any, the usual linden plywood. grain runs along the width or across it;
count is how many are on hand:

[[blocks.stock]]
name = "cherry plank"
wood = "cherry"
width_mm = 450.0
height_mm = 300.0
thickness_mm = 20.0
grain = "along"
cut = "flat sawn"  # or "quarter sawn"
count = 8
# moves_percent = 0.25  # of its width, across the grain, for each point of moisture; if you know""",
    "cutting": """\
Another way of cutting for one face; what is left out is as for all faces:

[[cutting.face]]
face = "A front"
method = "router"
machine = "small router"
bits = ["3 mm flat", "60 degree V"]
quarter_turn = true  # on the machine, to the left, seen from above""",
}
"""Comments that show how the repeated tables are written; a test reads every one of them."""

_COMMENT_WIDTH = 100

_UNITS = {
    "mm2_per_min": "mm2 a minute",
    "mm_per_min": "mm a minute",
    "g_per_m2": "g/m2",
    "mm2": "mm2",
    "mm": "mm",
    "percent": "percent",
    "_g": "g",
    "temperature_c": "°C",
    "sheets": "sheets",
    "dpi": "pixels to the inch",
    "deg": "degrees",
    "rpm": "turns a minute",
    "diameters": "diameters",
}
"""What the end of a setting's name says about its unit; longer endings first."""


def _unit(name: str) -> str | None:
    return next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), None)


def _value(value: Any) -> str:
    return str(tomlkit.item(list(value) if isinstance(value, tuple) else value).as_string())


def _bound(field: FieldInfo, name: str) -> float | None:
    return next((getattr(m, name) for m in field.metadata if getattr(m, name, None) is not None), None)


def _span(name: str, field: FieldInfo) -> str:
    """From where to where a number may go, with its unit; empty when it is no number with bounds."""
    least, above, most = (_bound(field, bound) for bound in ("ge", "gt", "le"))
    if most is None:
        return ""
    low = f"{least:.10g} to" if least is not None else f"more than {above or 0:.10g}, up to"
    unit = _unit(name)
    return f"{low} {most:.10g}{f' {unit}' if unit else ''}"


def _choices(field: FieldInfo) -> str:
    # What may be left out is a choice or None.
    choices = next(a for a in (field.annotation, *get_args(field.annotation)) if get_origin(a) is Literal)
    *most, last = (f'"{choice}"' for choice in get_args(choices))
    return f"{', '.join(most)} or {last}"


def _allowed(name: str, field: FieldInfo) -> str:
    """What a number or a choice may be, for the comment behind it."""
    if get_origin(field.annotation) is Literal:
        return f"  # {_choices(field)}"
    if field.annotation is bool:
        return "  # true or false"
    return f"  # {span}" if (span := _span(name, field)) else ""


def _setting_lines(name: str, field: FieldInfo, value: Any) -> list[str]:
    lines = [f"# {line}" for line in textwrap.wrap(field.description or "", _COMMENT_WIDTH)]
    if value is None:
        return [*lines, f"# {name} = {_value((field.examples or [''])[0])}"]
    return [*lines, f"{name} = {_value(value)}{_allowed(name, field)}"]


def _inner_tables(model: type[BaseModel]) -> list[str]:
    """The settings of a table that are tables themselves, with a header of their own."""
    return [
        key
        for key, field in model.model_fields.items()
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel)
    ]


def _entry_lines(name: str, table: BaseModel) -> list[str]:
    """The repeated tables that are decided already."""
    lines: list[str] = []
    inner = _inner_tables(type(table))
    for key, field in type(table).model_fields.items():
        if field.description is None and key not in inner and getattr(table, key) != field.default:
            for entry in getattr(table, key):
                lines += ["", f"[[{name}.{key}]]"]
                lines += [f"{k} = {_value(v)}" for k, v in entry.model_dump(exclude_defaults=True).items()]
    return lines


def _table_lines(name: str, table: BaseModel) -> list[str]:
    lines = ["", f"[{name}]"]
    for key, field in type(table).model_fields.items():
        value = getattr(table, key)
        if field.description is not None:
            lines += _setting_lines(key, field, value)
        elif not value and field.default:
            lines.append(f"{key} = []")
    if name in _EXAMPLES:
        lines += ["#", *(f"# {line}".rstrip() for line in _EXAMPLES[name].split("\n"))]
    lines += _entry_lines(name, table)
    for key in _inner_tables(type(table)):
        lines += _table_lines(f"{name}.{key}", getattr(table, key))
    return lines


def compose(settings: Settings) -> str:
    """The text of a new ``print.toml``: every setting with its comment, repeated tables as examples only.

    >>> from blockwright.model.settings import PrintTable
    >>> text = compose(Settings(print=PrintTable(title="Tide mill", width_mm=360.0)))
    >>> text.splitlines()[0]
    '# What the printmaker decided for this print. Change it here; comments are kept.'
    >>> parse(text).print.width_mm
    360.0
    """
    lines = [
        "# What the printmaker decided for this print. Change it here; comments are kept.",
        "# Lengths are in mm. Where a value comes from: [pub] published, [CP] common practice without a",
        "# source, [der] derived from published figures, [mem] from memory.",
    ]
    for name in Settings.model_fields:
        lines += _table_lines(name, getattr(settings, name))
    return "\n".join(lines) + "\n"


def _entry_model(field: FieldInfo) -> type[BaseModel] | None:
    """The kind of table that may be repeated under a setting."""
    inner = [a for a in get_args(field.annotation) if isinstance(a, type) and issubclass(a, BaseModel)]
    return inner[0] if inner else None


def _table_at(path: tuple[str | int, ...]) -> type[BaseModel]:
    model: type[BaseModel] = Settings
    for step in path:
        if isinstance(step, str):
            field = model.model_fields[step]
            model = _entry_model(field) or cast("type[BaseModel]", field.annotation)
    return model


def table_called(name: str) -> type[BaseModel] | None:
    """The table of a name such as ``cutting`` or ``cutting.router``; None when there is none.

    >>> table_called("proof").__name__, table_called("proof.dpi")
    ('ProofTable', None)
    """
    model: type[BaseModel] = Settings
    for step in name.split("."):
        if step not in _inner_tables(model):
            return None
        model = cast("type[BaseModel]", model.model_fields[step].annotation)
    return model


def _where(path: tuple[str | int, ...]) -> str:
    """A setting as it stands in the file: ``[design] speck_mm2``, ``[[design.drop]] number 2, at``."""
    names = [step for step in path if isinstance(step, str)]
    number = next((step for step in path if isinstance(step, int)), None)
    if number is not None and _entry_model(_table_at(tuple(names[:1])).model_fields[names[1]]):
        table = f"[[{names[0]}.{names[1]}]]" + (f" number {number + 1}" if number else "")
        return f"{table}, {names[2]}" if len(names) >= 3 else table
    if len(names) >= 2:
        if table_called(".".join(names[:2])):
            return " ".join([f"[{names[0]}.{names[1]}]", *names[2:]])
        return f"[{names[0]}] {names[1]}"
    return f"[{names[0]}]" if names else "the file"


_WANTED = {
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "tuple_type": "a list in square brackets",
    "model_type": "a table with a header in square brackets",
    "string_pattern_mismatch": 'a colour such as "#b4935a"',
    "not_one_line": "text on one line",
    "flat_or_not": "either flat = true and nothing else, or how its colour runs",
    "nothing_said": "given start and end, a ramp or a colour, or flat = true",
    "two_ends": "given start and end together, as two different places",
    "depths_in_order": "given a least_depth_mm that is not above its most_depth_mm",
    "colour_or_place": "given a colour or a place, at, and not both",
}


def _is_place(field: FieldInfo) -> bool:
    return Place in (field.annotation, *get_args(field.annotation))


def _wanted(error: Any, name: str, field: FieldInfo) -> str:
    """What the setting takes instead of the bad value."""
    context, kind = error.get("ctx", {}), error["type"]
    if _is_place(field):
        return "must be two numbers, [right, down] in mm"
    if span := _span(name, field):
        whole = "" if float in (field.annotation, *get_args(field.annotation)) else "whole "
        if kind in {"float_type", "int_type", "int_from_float"}:
            quoted = ", without quotes or unit" if isinstance(error["input"], str) else ""
            return f"must be a {whole}number, {span}{quoted}"
        return f"must be {span}"
    match kind:
        case "literal_error":
            return f"must be {_choices(field)}"
        case "string_too_long":
            return f"may have {context['max_length']} characters at most"
        case "string_too_short":
            return "may not be empty"
        case "too_long":
            return f"may have {context['max_length']} entries at most"
        case "too_short":
            return "must have an entry, or be left out"
        case _:
            return f"must be {_WANTED[kind]}" if kind in _WANTED else "does not take this"


def _shown(value: Any) -> str:
    """A bad value as the file would have it, on one line."""
    text = json.dumps(value, ensure_ascii=False, default=str) if not isinstance(value, str) else f'"{value}"'
    text = "".join(sign if sign.isprintable() else "?" for sign in text)
    return text if len(text) <= _MOST_SHOWN else text[: _MOST_SHOWN - 3] + "..."


def _unknown_name(path: tuple[str | int, ...]) -> str:
    name, known = _shown(str(path[-1])).strip('"'), list(_table_at(path[:-1]).model_fields)
    near = difflib.get_close_matches(str(path[-1]), known, n=1, cutoff=0.7)
    allowed = "allowed are"
    if len(known) > _MOST_NAMES:
        known = difflib.get_close_matches(str(path[-1]), known, n=_MOST_NAMES, cutoff=0.0)
        allowed = f"among the {len(_table_at(path[:-1]).model_fields)} allowed are"
    hint = (
        f"perhaps {near[0]} is meant"
        if near
        else f"{allowed} {', '.join(known)}, unless a newer blockwright wrote it"
    )
    if len(path) > 1:
        return f"{FILE_NAME}: {_where(path[:-1])} has no setting named {name}; {hint}."
    return f"{FILE_NAME} has no table named [{name}]; {hint}."


def _sentence(error: Any, plain: Any) -> str:
    path, value = tuple(error["loc"]), error["input"]
    if error["type"] == "extra_forbidden":
        return _unknown_name(path)
    if error["type"] == "missing" and isinstance(path[-1], str):
        needed = "it needs width_mm, the width of the image" if path == ("print",) else "it must be given"
        return f"{FILE_NAME}: {_where(path)} is missing; {needed}."
    names = [step for step in path if isinstance(step, str)]
    field = _table_at(tuple(names[:-1])).model_fields[names[-1]]
    if isinstance(path[-1], int) and _is_place(field):
        # A place is one value to the printmaker, not a list of two.
        value = plain
        for step in path[:-1]:
            value = value[step]
    if error["type"] == "tuple_type" and _entry_model(field):
        table = f"[[{names[0]}.{names[1]}]]"
        return f"{FILE_NAME}: {_where(path)} is {_shown(value)}; write it as a table under {table}."
    return f"{FILE_NAME}: {_where(path)} is {_shown(value)}; it {_wanted(error, names[-1], field)}."


def _frozen(value: Any) -> Any:
    """Lists as tuples, which is what the settings hold."""
    if isinstance(value, list):
        return tuple(_frozen(each) for each in value)
    if isinstance(value, dict):
        return {key: _frozen(each) for key, each in value.items()}
    return value


def _unreadable(text: str, error: Exception) -> str:
    """The sentence for a text that is no TOML: it quotes the line, for that is what must be mended."""
    told = re.fullmatch(r"(.*) \(at (?:line (\d+), column \d+|end of document)\)", str(error), re.DOTALL)
    if not told:
        return f"{FILE_NAME} cannot be read: it holds a number or a nesting beyond all measure."
    reason = told[1]
    lines = text.rstrip().split("\n")
    if not told[2] and (
        reason.startswith(("Unclosed", "Unterminated")) or lines[-1].endswith(("[", "{", ","))
    ):
        return f"{FILE_NAME} cannot be read: a quote or a bracket is opened and not closed."
    number = int(told[2]) if told[2] else len(lines)
    line = _shown(text.split("\n")[number - 1].strip())
    if reason.startswith(("Cannot overwrite", "Cannot declare", "Cannot mutate")):
        return f"{FILE_NAME}: line {number}, {line}, sets again what is set above it; keep one of the two."
    return (
        f"{FILE_NAME}: line {number}, {line}, cannot be read; a line is NAME = VALUE, "
        "numbers without a unit and text in quotes."
    )


def parse(text: str) -> Settings:
    """Read the text of a ``print.toml``.

    Raises SettingsError, one sentence that names the setting, the bad value and what is allowed.
    """
    text = text.removeprefix("\ufeff")
    try:
        plain = _frozen(tomllib.loads(text))
    except (ValueError, RecursionError) as error:
        raise SettingsError(_unreadable(text, error)) from None
    try:
        return Settings.model_validate(plain)
    except ValidationError as error:
        # A misspelt name tells more than the setting that is missing because of it.
        errors = sorted(error.errors(include_url=False), key=lambda e: e["type"] != "extra_forbidden")
        raise SettingsError(_sentence(errors[0], plain)) from None
    except (ValueError, OverflowError, RecursionError):
        raise SettingsError(f"{FILE_NAME} holds a value that no setting takes.") from None


def read_decisions(folder: Path) -> Settings:
    """Read ``print.toml`` in a print folder. Raises FolderError or SettingsError, one sentence each."""
    return parse(read_text(folder))


def read_text(folder: Path) -> str:
    """The text of a folder's ``print.toml``, with its own line endings."""
    path = folder / FILE_NAME
    if not folder.exists():
        raise FolderError(
            f"There is no folder {folder}; make one with: blockwright new {folder} --picture FILE."
        )
    if not folder.is_dir():
        raise FolderError(f"{folder} is a file, not a print folder.")
    if not path.is_file():
        raise FolderError(
            f"{folder} is no print folder, as it has no {FILE_NAME}; make one with: blockwright new."
        )
    if path.stat().st_size > _MOST_BYTES:
        raise SettingsError(f"{path} is larger than 2 MB; that is no list of decisions.")
    try:
        return path.read_bytes().decode("utf-8")
    except UnicodeDecodeError:
        raise SettingsError(f"{path} is not UTF-8 text; save it as UTF-8.") from None


def write_whole(path: Path, text: str) -> None:
    """Write a text file so that a reader sees the old one or the new one, never a part."""
    beside = path.with_name(path.name + ".part")
    try:
        with beside.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)

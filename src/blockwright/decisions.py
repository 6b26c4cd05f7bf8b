"""``print.toml``: the printmaker's decisions, read strictly and written with a comment for every setting."""

import difflib
import json
import os
import textwrap
from pathlib import Path
from typing import Any, cast

import tomlkit
import tomlkit.exceptions
from pydantic import BaseModel, ValidationError
from tomlkit.items import Table

from blockwright.model.errors import FolderError, SettingsError
from blockwright.model.settings import Settings

FILE_NAME = "print.toml"
_MOST_BYTES = 2_000_000

_EXAMPLES = {
    "design": """\
Hand edits are keyed by a place in mm from the image's upper left corner, [right, down], and may be repeated:

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
at = [203.0, 17.5]""",
    "separation": """\
For one colour, by its name or as #rrggbb, and may be repeated:

[[separation.passes]]
colour = "wet ochre"
times = 2

[[separation.trap]]
colour = "wet ochre"
mm = 0.7""",
    "blocks": """\
Boards to be had; without any, the usual linden plywood. grain runs along the width or across it; count is
how many are on hand:

[[blocks.stock]]
name = "cherry plank"
wood = "cherry"
width_mm = 450.0
height_mm = 300.0
thickness_mm = 20.0
grain = "along"
count = 8""",
    "cutting": """\
Another way of cutting for one face:

[[cutting.face]]
face = "A front"
method = "stencil\"""",
}
"""Comments that show how the repeated tables are written; a test reads every one of them."""

_COMMENT_WIDTH = 100


def _value(value: Any) -> str:
    return str(tomlkit.item(list(value) if isinstance(value, tuple) else value).as_string())


def _entry_lines(name: str, table: BaseModel) -> list[str]:
    """The repeated tables that are decided already."""
    lines: list[str] = []
    for key, field in type(table).model_fields.items():
        if field.description is None and getattr(table, key) != field.default:
            for entry in getattr(table, key):
                lines += ["", f"[[{name}.{key}]]"]
                lines += [f"{k} = {_value(v)}" for k, v in entry.model_dump(exclude_defaults=True).items()]
    return lines


def _table_lines(name: str, table: BaseModel) -> list[str]:
    lines = ["", f"[{name}]"]
    for key, field in type(table).model_fields.items():
        if field.description is None:
            continue
        lines += [f"# {line}" for line in textwrap.wrap(field.description, _COMMENT_WIDTH)]
        value = getattr(table, key)
        lines.append(f"# {key} =" if value is None else f"{key} = {_value(value)}")
    if name in _EXAMPLES:
        lines += ["#", *(f"# {line}".rstrip() for line in _EXAMPLES[name].split("\n"))]
    return [*lines, *_entry_lines(name, table)]


def compose(settings: Settings) -> str:
    """The text of a new ``print.toml``: every setting with its comment, repeated tables as examples only.

    >>> from blockwright.model.settings import PrintTable
    >>> text = compose(Settings(print=PrintTable(title="Tide mill", width_mm=360.0)))
    >>> text.splitlines()[0]
    '# What the printmaker decided for this print. Change it here or in the app; comments are kept.'
    >>> parse(text).print.width_mm
    360.0
    """
    lines = [
        "# What the printmaker decided for this print. Change it here or in the app; comments are kept.",
        "# Lengths are in mm. Where a value comes from: [pub] published, [CP] common practice without a",
        "# source, [der] derived from published figures, [mem] from memory.",
    ]
    for name in Settings.model_fields:
        lines += _table_lines(name, getattr(settings, name))
    return "\n".join(lines) + "\n"


def _known_names(path: tuple[str | int, ...]) -> list[str]:
    model: Any = Settings
    for step in path:
        if isinstance(step, int):
            continue
        annotation = model.model_fields[step].annotation
        inner = [
            a for a in getattr(annotation, "__args__", ()) if isinstance(a, type) and issubclass(a, BaseModel)
        ]
        model = inner[0] if inner else annotation
    return list(model.model_fields)


def _where(path: tuple[str | int, ...]) -> str:
    names = [step for step in path if isinstance(step, str)]
    number = next((step for step in path if isinstance(step, int)), None)
    if len(names) >= 3:
        entry = f" (number {number + 1})" if number is not None else ""
        return f"[[{names[0]}.{names[1]}]]{entry}, {names[2]}"
    if len(names) == 2:
        return f"[{names[0]}] {names[1]}"
    return f"[{names[0]}]" if names else "the file"


_WANTED = {
    "float_type": "a number",
    "int_type": "a whole number",
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "tuple_type": "a list in square brackets",
    "missing": "",
}


def _bounds(error: Any) -> str:
    context = error.get("ctx", {})
    match error["type"]:
        case "greater_than_equal":
            return f"it must be {context['ge']:g} or more"
        case "greater_than":
            return f"it must be more than {context['gt']:g}"
        case "less_than_equal":
            return f"it must be {context['le']:g} or less"
        case "less_than":
            return f"it must be less than {context['lt']:g}"
        case "literal_error":
            return f"it must be {context['expected']}"
        case "string_pattern_mismatch":
            return "it must be a colour such as #b4935a"
        case "finite_number":
            return "it must be an ordinary number"
        case "string_too_long":
            return f"it may have {context['max_length']} characters at most"
        case "string_too_short":
            return "it may not be empty"
        case "too_long":
            return f"it may have {context['max_length']} entries at most"
        case "too_short":
            return f"it must have {context['min_length']} entries or more"
        case kind if kind in _WANTED:
            return f"it must be {_WANTED[kind]}"
        case _:
            return "it is not what this setting takes"


def _sentence(error: Any) -> str:
    path = tuple(error["loc"])
    where = _where(path)
    if error["type"] == "extra_forbidden":
        name = str(path[-1])
        known = _known_names(path[:-1])
        near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]}?" if near else f"allowed are {', '.join(known)}."
        inside = _where(path[:-1]) if len(path) > 1 else "the file"
        return f"{FILE_NAME}: {inside} has no setting named {name}; {hint}"
    if error["type"] == "missing":
        return f"{FILE_NAME}: {where} is missing."
    shown = json.dumps(error["input"], ensure_ascii=False, default=str)
    if len(shown) > 60:
        shown = shown[:57] + "..."
    sentence = f"{FILE_NAME}: {where} is {shown}; {_bounds(error)}"
    unit = next((u for u in ("mm2_per_min", "mm_per_min", "mm2", "mm") if str(path[-1]).endswith(u)), None)
    if unit and error["type"] in ("float_type", "int_type"):
        sentence += (
            f" of {unit.replace('mm2', 'square mm').replace('_per_min', ' a minute')}, without quotes or unit"
        )
    return sentence + "."


def parse(text: str) -> Settings:
    """Read the text of a ``print.toml``.

    Raises SettingsError, one sentence that names the setting, the bad value and what is allowed.
    """
    try:
        plain = tomlkit.parse(text).unwrap()
    except tomlkit.exceptions.ParseError as error:
        raise SettingsError(
            f"{FILE_NAME}: line {error.line} cannot be read as TOML ({_first(error)})."
        ) from None
    except (ValueError, RecursionError, tomlkit.exceptions.TOMLKitError) as error:
        raise SettingsError(f"{FILE_NAME} cannot be read as TOML ({_first(error)}).") from None
    try:
        return Settings.model_validate_json(json.dumps(plain, default=str))
    except ValidationError as error:
        # A misspelt name tells more than the setting that is missing because of it.
        errors = sorted(error.errors(include_url=False), key=lambda e: e["type"] != "extra_forbidden")
        raise SettingsError(_sentence(errors[0])) from None
    except (ValueError, RecursionError):
        raise SettingsError(f"{FILE_NAME} holds a value that no setting takes.") from None


def _first(error: BaseException) -> str:
    text = str(error).split("\n")[0].strip().rstrip(".")
    return (text[:80] + "...") if len(text) > 80 else text or "it is damaged"


def read_decisions(folder: Path) -> Settings:
    """Read ``print.toml`` in a print folder. Raises FolderError or SettingsError, one sentence each."""
    return parse(read_text(folder))


def read_text(folder: Path) -> str:
    """The text of a folder's ``print.toml``."""
    path = folder / FILE_NAME
    if not folder.exists():
        raise FolderError(
            f"There is no folder {folder}; make one with: blockwright new {folder} --picture FILE"
        )
    if not folder.is_dir():
        raise FolderError(f"{folder} is a file, not a print folder.")
    if not path.is_file():
        raise FolderError(
            f"{folder} is no print folder: it has no {FILE_NAME}. "
            f"Make one with: blockwright new {folder} --picture FILE"
        )
    if path.stat().st_size > _MOST_BYTES:
        raise SettingsError(f"{path} is larger than 2 MB; that is no list of decisions.")
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise SettingsError(f"{path} is not UTF-8 text; save it as UTF-8.") from None


def write_whole(path: Path, text: str) -> None:
    """Write a text file so that a reader sees the old one or the new one, never a part."""
    beside = path.with_name(path.name + ".part")
    with beside.open("w", encoding="utf-8", newline="\n") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)


def lock_palette(folder: Path, hexes: tuple[str, ...]) -> None:
    """Write a found palette into ``print.toml`` as the printmaker's choice; everything else stays."""
    document = tomlkit.parse(read_text(folder))
    if "design" not in document:
        document.add("design", tomlkit.table())
    table = cast("Table", document["design"])
    colours = tomlkit.array()
    colours.extend(hexes)
    table["palette"] = colours.multiline(len(hexes) > 6)
    text = tomlkit.dumps(document)
    parse(text)
    write_whole(folder / FILE_NAME, text)

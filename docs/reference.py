"""The reference pages, written from the commands and the settings, so that they cannot disagree with them."""

import inspect
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from pydantic import BaseModel
from typer.main import get_command

from blockwright import cli
from blockwright.decisions import FILE_NAME, compose
from blockwright.model.settings import PrintTable, Settings

_MADE = "This page is written by `make docs` from the program itself; change it there."

_EXIT_CODES = (
    (cli.DONE, "done"),
    (cli.STOPPED, "done, but a finding stops the work: see `blockwright check`"),
    (cli.UNUSABLE, "wrong usage, or input that cannot be read; one sentence on standard error says what"),
    (cli.INTERRUPTED, "stopped from outside; stages that were finished are kept"),
)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    yield "| " + " | ".join(head) + " |"
    yield "| " + " | ".join("---" for _ in head) + " |"
    for row in rows:
        yield "| " + " | ".join(_cell(cell) for cell in row) + " |"


def _word(parameter: Any) -> str:
    """How a parameter is written on the command line."""
    if parameter.param_type_name == "argument":
        return str(parameter.metavar or parameter.name.upper())
    flag = " / ".join([parameter.opts[0], *parameter.secondary_opts])
    return flag if parameter.is_flag else f"{flag} {parameter.metavar or parameter.name.upper()}"


def _docstring(text: str | None) -> str:
    """A docstring as Markdown."""
    return inspect.cleandoc(text or "").replace("``", "`")


def _command_lines(name: str, command: Any) -> Iterator[str]:
    words = [_word(p) if p.required else f"[{_word(p).strip('[]')}]" for p in command.params]
    yield f"## {name}"
    yield ""
    yield "```"
    yield " ".join(["blockwright", name, *words])
    yield "```"
    yield ""
    yield _docstring(command.help)
    yield ""
    rows = []
    for parameter in command.params:
        left_out = parameter.default
        shown = "must be given" if parameter.required else ""
        if not parameter.required and left_out is not None and left_out is not False:
            shown = f"`{left_out}`"
        rows.append((f"`{_word(parameter).strip('[]')}`", parameter.help or "", shown))
    yield from _table(("word", "meaning", "if left out"), rows)
    yield ""


def every_command(group: Any, before: str = "") -> Iterator[tuple[str, Any]]:
    """The commands of a group with the words that call them; those of a group in it one by one."""
    for name, command in group.commands.items():
        if hasattr(command, "commands"):
            yield from every_command(command, f"{before}{name} ")
        else:
            yield f"{before}{name}", command


def commands_page() -> str:
    """The text of ``docs/commands.md``."""
    group: Any = get_command(cli.app)
    lines = [
        "# Commands",
        "",
        _MADE,
        "",
        "Progress and messages go to standard error. With `--json` a command prints one JSON object on",
        "standard output and nothing else. Every command ends with one of these exit codes:",
        "",
        *_table(("code", "meaning"), [(str(code), meaning) for code, meaning in _EXIT_CODES]),
        "",
        "Without a command:",
        "",
        *_table(("word", "meaning"), [(f"`{_word(each)}`", each.help or "") for each in group.params]),
        "",
    ]
    for name, command in every_command(group):
        lines += _command_lines(name, command)
    return "\n".join(lines).rstrip("\n") + "\n"


def _bounds(schema: dict[str, Any]) -> str:
    """The range that a number's schema allows."""
    least, most = schema.get("minimum"), schema.get("maximum")
    above = schema.get("exclusiveMinimum")
    if above is not None:
        return f"above {above:g}" + (f", at most {most:g}" if most is not None else "")
    if least is not None and most is not None:
        return f"{least:g} to {most:g}"
    return "any number"


def _allowed(schema: dict[str, Any]) -> str:
    """What a setting takes, in words, from its JSON schema."""
    if "anyOf" in schema:
        kept = [_allowed(each) for each in schema["anyOf"] if each.get("type") != "null"]
        return ", or ".join([*kept, "left out"])
    if "enum" in schema:
        return " or ".join(f'`"{value}"`' for value in schema["enum"])
    if "prefixItems" in schema:
        return "`[right, down]` in mm"
    if schema.get("pattern"):
        return "a colour, `#rrggbb`"
    match schema.get("type"):
        case "number":
            return _bounds(schema)
        case "integer":
            return f"whole number, {_bounds(schema)}"
        case "boolean":
            return "`true` or `false`"
        case "string":
            return f"text, at most {schema['maxLength']} characters" if "maxLength" in schema else "text"
        case "array":
            most = f"; at most {schema['maxItems']} entries" if "maxItems" in schema else ""
            return f"a list, each entry {_allowed(schema['items'])}{most}"
        case kind:
            raise ValueError(f"no words for the schema type {kind!r}")


def _default(field: Any) -> str:
    if field.is_required():
        return "must be given"
    value = field.default
    if value is None:
        return "left out"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, str):
        return f'`"{value}"`'
    return f"`{list(value) if isinstance(value, tuple) else value}`"


def _setting_lines(name: str, model: type[BaseModel], schema: dict[str, Any]) -> Iterator[str]:
    """One table of ``print.toml``, and the repeated tables in it."""
    definitions = schema["$defs"]
    properties = definitions[model.__name__]["properties"]
    yield f"## [{name}]"
    yield ""
    yield _docstring(model.__doc__)
    yield ""
    plain = [(key, field) for key, field in model.model_fields.items() if field.description]
    rows = [
        (f"`{key}`", _default(field), _allowed(properties[key]), field.description or "")
        for key, field in plain
    ]
    yield from _table(("setting", "default", "allowed", "what it decides"), rows)
    yield ""
    for key, field in model.model_fields.items():
        if field.description:
            continue
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            yield from _setting_lines(f"{name}.{key}", field.annotation, schema)
            continue
        inner_name = properties[key]["items"]["$ref"].rsplit("/", 1)[-1]
        inner: type[BaseModel] = next(
            each for each in getattr(field.annotation, "__args__", ()) if each is not Ellipsis
        )
        yield f"### [[{name}.{key}]]"
        yield ""
        yield _docstring(inner.__doc__)
        yield ""
        inner_properties = definitions[inner_name]["properties"]
        inner_rows = [
            (f"`{each}`", _default(one), _allowed(inner_properties[each]))
            for each, one in inner.model_fields.items()
        ]
        yield from _table(("key", "default", "allowed"), inner_rows)
        yield ""


def settings_page() -> str:
    """The text of ``docs/settings.md``."""
    schema = Settings.model_json_schema()
    lines = [
        f"# Settings: `{FILE_NAME}`",
        "",
        _MADE,
        "",
        f"`{FILE_NAME}` holds every decision about a print. Lengths are in mm. A name, a unit or a value",
        "that is not known here is refused with one sentence that says what is allowed. Where a value comes",
        "from: [pub] published, [CP] common practice without a source, [der] derived from published figures,",
        "[mem] from memory. Tables in double brackets may be repeated, once for each decision.",
        "",
    ]
    for name, field in Settings.model_fields.items():
        annotation: Any = field.annotation
        lines += _setting_lines(name, annotation, schema)
    example = compose(Settings(print=PrintTable(title="My print", width_mm=360.0)))
    lines += [
        f"## A new {FILE_NAME}",
        "",
        "This is what `blockwright new` writes for a print 360 mm wide.",
        "",
        "```toml",
        example.rstrip("\n"),
        "```",
    ]
    return "\n".join(lines) + "\n"


PAGES: dict[str, Callable[[], str]] = {"commands.md": commands_page, "settings.md": settings_page}
"""The reference pages by file name."""

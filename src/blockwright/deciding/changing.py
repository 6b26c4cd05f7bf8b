"""One decision in the text of ``print.toml``: everything else in it stays as it was."""

import copy
import tomllib

import tomlkit
import tomlkit.exceptions

from blockwright.deciding.acts import Act
from blockwright.deciding.edits import Edit, edits_of
from blockwright.deciding.statements import Lines, NoPlaceError
from blockwright.decisions import FILE_NAME, parse
from blockwright.model.errors import SettingsError
from blockwright.model.settings import Settings

_MOST_BYTES = 2_000_000
"""A larger ``print.toml`` is not read again."""

_LIBRARY_ERRORS = (
    tomlkit.exceptions.TOMLKitError,
    ValueError,
    TypeError,
    KeyError,
    IndexError,
    AttributeError,
    RecursionError,
)
"""What the libraries raise for a text or a value that is beyond them."""

_BOM = "\ufeff"


def _planned(before: Settings, plain: dict[str, object], act: Act) -> tuple[list[Edit], Settings]:
    """The edits, and the decisions with them; what is wrong with a value the settings' own rules say."""
    try:
        edits = list(edits_of(act, plain))
        # Only the tables that change need to be read anew.
        names = {"print", *(edit.table.split(".")[0] for edit in edits)}
        changed = copy.deepcopy({name: table for name, table in plain.items() if name in names})
        for edit in edits:
            edit.on(changed)
        text = tomlkit.dumps(changed)
    except SettingsError:
        raise
    except _LIBRARY_ERRORS:
        raise SettingsError(f"{FILE_NAME} takes no such value; nothing was changed.") from None
    read = parse(text)
    return edits, before.model_copy(update={name: getattr(read, name) for name in names})


def _by_lines(text: str, edits: list[Edit]) -> str:
    lines = Lines(text)
    for edit in edits:
        lines.make(edit)
    return lines.text


def _by_tomlkit(text: str, edits: list[Edit]) -> str:
    """For texts with inline tables or dotted names, where a statement has no line of its own."""
    document = tomlkit.parse(text)
    for edit in edits:
        edit.on(document)
    return tomlkit.dumps(document)


def change(text: str, act: Act) -> str:
    """The text of ``print.toml`` with one more decision; comments, order and line endings stay.

    Setting the same thing again replaces the earlier entry. Raises SettingsError, one sentence, when the text
    cannot be read, when a value is not allowed, or when the text leaves no place for the decision.

    >>> from blockwright.deciding import SetValue
    >>> change("[print]\\nwidth_mm = 300.0  # as ordered\\n", SetValue("print", "width_mm", 320.0))
    '[print]\\nwidth_mm = 320.0  # as ordered\\n'
    """
    before = parse(text)
    mark = _BOM if text.startswith(_BOM) else ""
    body = text.removeprefix(_BOM)
    plain = tomllib.loads(body)
    edits, wanted = _planned(before, plain, act)
    if wanted == before:
        return text
    for attempt in (_by_lines, _by_tomlkit):
        try:
            changed = mark + attempt(body, edits)
            # Only what reads back as the same decisions and the new one is handed on.
            fits = parse(changed) == wanted
        except (NoPlaceError, *_LIBRARY_ERRORS):
            continue
        if fits:
            if len(changed.encode()) > _MOST_BYTES:
                raise SettingsError(
                    f"{FILE_NAME} would become larger than 2 MB; take some decisions out first."
                )
            return changed
    raise SettingsError(
        f"{FILE_NAME} is written in a way that leaves no place for this; write it by hand: {act.told()}."
    )

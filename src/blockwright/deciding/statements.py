"""The text of ``print.toml`` as lines and statements, so that a change touches its own lines only."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import tomlkit

from blockwright.deciding.edits import Edit
from blockwright.decisions import compose
from blockwright.model.settings import PrintTable, Settings

_MOST_ROWS = 500
"""Lines that one value may take here: a longer one is left to tomlkit."""

_IN_A_ROW = 8
"""Entries of a list on one line, as a locked palette has them."""


class NoPlaceError(Exception):
    """The text is written in a way that this cannot take apart."""


@dataclass(frozen=True)
class _Statement:
    """A header or a value in the lines ``first`` to ``after``; a value has the path of its header."""

    kind: Literal["table", "entry", "value"]
    path: tuple[str, ...]
    key: str
    first: int
    after: int


def _path(told: Mapping[str, Any]) -> tuple[str, ...]:
    path: list[str] = []
    inside: Any = told
    while inside:
        inside = inside[0] if isinstance(inside, list) else inside
        if not inside:
            break
        path.append(next(iter(inside)))
        inside = inside[path[-1]]
    return tuple(path)


def _statements(lines: list[str]) -> list[_Statement]:
    """Every header and value. A statement ends with the first line up to which it can be read by itself."""
    found: list[_Statement] = []
    header: tuple[str, ...] = ()
    k = 0
    while k < len(lines):
        first, start = k, lines[k].strip()
        k += 1
        if not start or start.startswith("#"):
            continue
        while True:
            try:
                told = tomllib.loads("".join(lines[first:k]))
                break
            except tomllib.TOMLDecodeError:
                k += 1
                if k > len(lines) or k - first > _MOST_ROWS:
                    raise NoPlaceError from None
        if start.startswith("["):
            header = _path(told)
            found.append(_Statement("entry" if start.startswith("[[") else "table", header, "", first, k))
        else:
            simple = re.match(r"""("[^"\\]*"|'[^']*'|[\w-]+)[ \t]*=""", start)
            found.append(_Statement("value", header, next(iter(told)) if simple else "", first, k))
    return found


def _rendered(value: Any, ending: str) -> str:
    if isinstance(value, list) and len(value) > _IN_A_ROW:
        words = [str(tomlkit.item(each).as_string()) for each in value]
        rows = [", ".join(words[k : k + _IN_A_ROW]) for k in range(0, len(words), _IN_A_ROW)]
        return "[" + ending + "".join(f"    {row},{ending}" for row in rows) + "]"
    return str(tomlkit.item(value).as_string())


@cache
def _known_lines() -> dict[tuple[str, str], str]:
    """The commented line of every plain setting: an example of an optional one, else its default."""
    lines: dict[tuple[str, str], str] = {}
    table = ""
    for line in compose(Settings(print=PrintTable(width_mm=100.0))).split("\n"):
        if line.startswith("["):
            table = line.strip("[]")
        elif setting := re.match(r"(?:# )?(\w+) = ", line):
            lines.setdefault((table, setting[1]), "# " + line.removeprefix("# "))
    return lines


class Lines:
    """The lines of a text in which edits are made one after the other."""

    def __init__(self, text: str) -> None:
        *whole, last = text.split("\n")
        self._lines = [line + "\n" for line in whole] + ([last] if last else [])
        self._ending = "\r\n" if self._lines and self._lines[0].endswith("\r\n") else "\n"

    @property
    def text(self) -> str:
        """The whole text."""
        return "".join(self._lines)

    def make(self, edit: Edit) -> None:
        """Make one edit. Raises NoPlaceError when the text is written in an unusual way."""
        statements = _statements(self._lines)
        path = (*edit.table.split("."), edit.key)
        entries = [k for k, s in enumerate(statements) if s.kind == "entry" and s.path == path]
        value = next((s for s in statements if s.path == path[:-1] and s.key == edit.key), None)
        if edit.kind == "put":
            self._put(edit, statements, value)
        elif value is not None and not entries:
            self._rewrite(value.first, value.after, edit)
        elif edit.kind == "append":
            self._append(edit, statements)
        elif edit.index < len(entries):
            first = entries[edit.index]
            inside = [s for s in statements[first + 1 :] if s.kind != "value"][:1]
            after = statements.index(inside[0]) if inside else len(statements)
            self._entry(edit, statements[first:after])
        else:
            raise NoPlaceError

    def _rewrite(self, first: int, after: int, edit: Edit) -> None:
        """Make an edit in the lines of one value; its comment stays."""
        document = tomlkit.parse("".join(self._lines[first:after]))
        if edit.kind == "append":
            entry = tomlkit.inline_table()
            entry.update(edit.value)
            document[edit.key].append(entry)
        elif edit.kind == "remove":
            del document[edit.key][edit.index]
        elif edit.kind == "change" and edit.value is None:
            document[edit.key][edit.index].pop(edit.name, None)
        elif edit.kind == "change":
            document[edit.key][edit.index][edit.name] = edit.value
        else:
            document[edit.key] = tomlkit.value(_rendered(edit.value, self._ending))
        self._lines[first:after] = [tomlkit.dumps(document)]

    def _insert(self, place: int, *lines: str) -> None:
        if place and not self._lines[place - 1].endswith("\n"):
            self._lines[place - 1] += self._ending
        self._lines[place:place] = [line + self._ending for line in lines]

    def _put(self, edit: Edit, statements: list[_Statement], there: _Statement | None) -> None:
        known = _known_lines().get((edit.table, edit.key))
        path = tuple(edit.table.split("."))
        header = next((s for s in statements if s.kind == "table" and s.path == path), None)
        if header is None:
            if there is not None:
                raise NoPlaceError
            if edit.value is not None:
                self._insert(len(self._lines), "", f"[{edit.table}]", self._line(edit))
            return
        following = [s.first for s in statements if s.kind != "value" and s.first > header.first]
        region = range(header.after, following[0] if following else len(self._lines))
        about = [k for k in region if self._lines[k].startswith(f"# {edit.key} =")]
        exact = [k for k in about if self._lines[k].strip() == known]
        if there is not None and edit.value is not None:
            self._rewrite(there.first, there.after, edit)
        elif there is not None:
            # A comment of the printmaker's own about this setting stands for the usual one.
            instead = [] if known is None or about else [known + self._ending]
            self._lines[there.first : there.after] = instead
        elif edit.value is not None and exact:
            self._lines[exact[0]] = self._lines[exact[0]].removeprefix("# ")
            self._rewrite(exact[0], exact[0] + 1, edit)
        elif edit.value is not None:
            last = max((s.after for s in statements if s.path == header.path), default=header.after)
            self._insert(about[-1] + 1 if about else last, self._line(edit))

    def _line(self, edit: Edit) -> str:
        return f"{edit.key} = {_rendered(edit.value, self._ending)}"

    def _append(self, edit: Edit, statements: list[_Statement]) -> None:
        """Write an entry where the part of its table ends; a comment on the next header stays with that."""
        entry = [f"{name} = {_rendered(value, self._ending)}" for name, value in edit.value.items()]
        own = [s for s in statements if s.path[:1] == (edit.table,)]
        place = len(self._lines)
        if own and own[-1] is not statements[-1]:
            end = statements[statements.index(own[-1]) + 1].first
            place = end
            while place > own[-1].after and self._lines[place - 1].strip():
                place -= 1
            while place > own[-1].after and not self._lines[place - 1].strip():
                place -= 1
        self._insert(place, "", f"[[{edit.table}.{edit.key}]]", *entry)

    def _entry(self, edit: Edit, statements: list[_Statement]) -> None:
        """Change or take out an entry: its header and its values."""
        first, after = statements[0].first, statements[-1].after
        if edit.kind == "change":
            there = next((s for s in statements[1:] if s.key == edit.name), None)
            put = Edit("put", edit.table, edit.name, edit.value)
            if there is None and edit.value is not None:
                self._insert(after, self._line(put))
            elif there is not None and edit.value is None:
                del self._lines[there.first : there.after]
            elif there is not None:
                self._rewrite(there.first, there.after, put)
            return
        if first and not self._lines[first - 1].strip():
            first -= 1
        del self._lines[first:after]

"""The text tables of spectrophotometers (ISO 28178, the former CGATS.17): their grammar, read and written.

A file names its fields between BEGIN_DATA_FORMAT and END_DATA_FORMAT and gives one sample a line between
BEGIN_DATA and END_DATA; before these stand keywords with values, among them the numbers of fields and sets.
Words in quotation marks may hold blanks; what follows a # is a remark.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from blockwright.model.errors import InkError

_WORD = re.compile(r'"((?:[^"]|"")*)"|([^\s"]+)|(")')

_COUNTS = {"NUMBER_OF_FIELDS": "fields", "NUMBER_OF_SETS": "sets"}


@dataclass(frozen=True, slots=True)
class TextTable:
    """Fields in capitals, rows of as many words, and the line of the file on which each row stands.

    ``keywords`` are the pairs that stand before the data; ``more_tables`` tells whether others follow.
    """

    fields: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    keywords: tuple[tuple[str, str], ...] = ()
    more_tables: bool = False


def looks_like_cgats(text: str) -> bool:
    """Whether a text has the keywords of such a table.

    >>> looks_like_cgats("CGATS.17\\nBEGIN_DATA_FORMAT\\n"), looks_like_cgats("name;380;390")
    (True, False)
    """
    return bool(re.search(r"^\s*BEGIN_DATA(?:_FORMAT)?\b", text, flags=re.MULTILINE))


def parse_cgats(text: str, *, file: str) -> TextTable:
    """Read the first table of a file; ``file`` is what an error calls it.

    Raises InkError when the fields or the data are missing or cut off, when a row has not as many values as
    there are fields, and when a stated number of fields or sets is wrong.

    >>> table = parse_cgats("CGATS.17\\nBEGIN_DATA_FORMAT\\nSAMPLE_ID LAB_L\\nEND_DATA_FORMAT\\n"
    ...                     "BEGIN_DATA\\n1 52.5\\nEND_DATA\\n", file="a.txt")
    >>> table.fields, table.rows
    (('SAMPLE_ID', 'LAB_L'), (('1', '52.5'),))
    """
    reader = _Reader(file)
    for number, line in enumerate(text.splitlines(), start=1):
        reader.take(number, _words(line, file, number))
    return reader.table()


class _Reader:
    """What has been read so far; a file is taken line by line."""

    def __init__(self, file: str) -> None:
        self.file, self.part = file, "head"
        self.fields: list[str] = []
        self.rows: list[tuple[str, ...]] = []
        self.lines: list[int] = []
        self.keywords: list[tuple[str, str]] = []
        self.counts: dict[str, tuple[int, int]] = {}
        self.more_tables = False

    def take(self, number: int, words: list[str]) -> None:
        if not words:
            return
        first = words[0].upper()
        if self.part == "done":
            self.more_tables |= first == "BEGIN_DATA"
        elif first in {"BEGIN_DATA_FORMAT", "BEGIN_DATA"}:
            self._begin("format" if first == "BEGIN_DATA_FORMAT" else "data", number)
        elif first in {"END_DATA_FORMAT", "END_DATA"}:
            self._end("format" if first == "END_DATA_FORMAT" else "data", number)
        elif self.part == "format":
            self.fields += [word.upper() for word in words]
        elif self.part == "data":
            self._row(number, words)
        else:
            self._keyword(number, first, words[1:])

    def _begin(self, part: str, number: int) -> None:
        if self.part != "head":
            raise InkError(
                f"{self.file}, line {number}: a new part begins before END_DATA of the one before."
            )
        if part == "data" and not self.fields:
            raise InkError(
                f"{self.file}, line {number}: the data begin, but no BEGIN_DATA_FORMAT names fields."
            )
        self.part = part

    def _end(self, part: str, number: int) -> None:
        if self.part != part:
            raise InkError(f"{self.file}, line {number}: a part ends here that has not begun.")
        self.part = "head" if part == "format" else "done"

    def _keyword(self, number: int, name: str, values: list[str]) -> None:
        value = " ".join(values)
        if name in _COUNTS:
            if not value.isdecimal():
                raise InkError(f"{self.file}, line {number}: {name} is {value!r}; it must be a whole number.")
            self.counts[name] = (int(value), number)
        elif name == "KEYWORD":
            return
        self.keywords.append((name, value))

    def _row(self, number: int, words: list[str]) -> None:
        if len(words) != len(self.fields):
            raise InkError(
                f"{self.file}, line {number}: {len(words)} values stand here, but the format names "
                f"{len(self.fields)} fields."
            )
        self.rows.append(tuple(words))
        self.lines.append(number)

    def table(self) -> TextTable:
        if not self.fields or self.part == "format":
            raise InkError(f"{self.file} is cut off: END_DATA_FORMAT is missing.")
        if self.part != "done":
            raise InkError(f"{self.file} is cut off: END_DATA is missing.")
        for name, found in (("NUMBER_OF_FIELDS", len(self.fields)), ("NUMBER_OF_SETS", len(self.rows))):
            said, number = self.counts.get(name, (found, 0))
            if said != found:
                raise InkError(
                    f"{self.file}, line {number}: {name} says {said}, but there are {found} {_COUNTS[name]}."
                )
        if not self.rows:
            raise InkError(f"{self.file} has no sample between BEGIN_DATA and END_DATA.")
        return TextTable(
            tuple(self.fields), tuple(self.rows), tuple(self.lines), tuple(self.keywords), self.more_tables
        )


def _words(line: str, file: str, number: int) -> list[str]:
    words: list[str] = []
    for quoted, bare, loose in _WORD.findall(line):
        if loose:
            raise InkError(f"{file}, line {number}: a quotation mark is not closed.")
        if bare.startswith("#"):
            break
        words.append(bare if bare else quoted.replace('""', '"'))
    return words


def compose_cgats(
    fields: Sequence[str], rows: Sequence[Sequence[str]], *, keywords: Sequence[tuple[str, str]] = ()
) -> str:
    """Write a table as a text that :func:`parse_cgats` reads back.

    Raises InkError when a row has not as many words as there are fields.

    >>> text = compose_cgats(["SAMPLE_ID", "SAMPLE_NAME"], [["1", "wet ochre"]])
    >>> parse_cgats(text, file="a.txt").rows
    (('1', 'wet ochre'),)
    """
    for row in rows:
        if len(row) != len(fields):
            raise InkError(f"A row of the table has {len(row)} values for {len(fields)} fields.")
    return "\n".join(
        [
            "CGATS.17",
            *(f"{name} {_quoted(value)}" for name, value in keywords),
            f"NUMBER_OF_FIELDS {len(fields)}",
            "BEGIN_DATA_FORMAT",
            " ".join(fields),
            "END_DATA_FORMAT",
            f"NUMBER_OF_SETS {len(rows)}",
            "BEGIN_DATA",
            *(" ".join(_word(word) for word in row) for row in rows),
            "END_DATA",
            "",
        ]
    )


def _word(word: str) -> str:
    """A word as it may stand in a row; only what is needed is put in quotation marks."""
    return word if re.fullmatch(r"[^\s\"#]+", word) else _quoted(word)


def _quoted(text: str) -> str:
    flat = " ".join(text.split()).replace('"', '""')
    return f'"{flat}"'

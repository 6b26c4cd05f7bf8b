"""How commands speak: plain lines or one JSON object, on terminals of whatever letters, and shared words."""

import json
import sys
from collections.abc import Sequence
from typing import Annotated, Any, TextIO

import typer

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]

Studio = Annotated[
    str | None,
    typer.Option(
        "--studio",
        metavar="URL_OR_FILE",
        help="The studio's database: a file, or the address of a PostgreSQL server; "
        "left out, studio.db in the program's own folder.",
    ),
]


def say(text: str, stream: TextIO | None = None) -> None:
    """Print a text, to standard error if not told otherwise, on terminals of whatever letters."""
    out = sys.stderr if stream is None else stream
    known = out.encoding or "utf-8"
    print(text.encode(known, "backslashreplace").decode(known), file=out, flush=True)


def show(told: dict[str, Any], as_json: bool, lines: Sequence[str]) -> None:
    """Print what a command tells on standard output, for programs or in plain lines."""
    say(json.dumps(told, indent=1) if as_json else "\n".join(lines), sys.stdout)


def count(number: int, one: str, many: str | None = None) -> str:
    """A number of things in words.

    >>> count(1, "face"), count(2, "face"), count(2, "inch", "inches")
    ('1 face', '2 faces', '2 inches')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"

"""What a database refuses, said in one plain sentence."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from json import JSONDecodeError

from sqlalchemy.exc import DBAPIError, IntegrityError

from blockwright.model.errors import StudioError

_PRIMARY = 0xFF
"""The last eight bits of SQLite's extended result codes are the primary code."""

_DAMAGED = (
    "{name} is damaged, or no database; it was left as it is: put back a copy, or move it away to begin anew."
)

_SENTENCES = {
    sqlite3.SQLITE_BUSY: "{name} is being written by another program; try again in a moment.",
    sqlite3.SQLITE_LOCKED: "{name} is being written by another program; try again in a moment.",
    sqlite3.SQLITE_READONLY: "{name} cannot be written: the file or its folder is read only.",
    sqlite3.SQLITE_PERM: "{name} cannot be written: the file or its folder is read only.",
    sqlite3.SQLITE_CANTOPEN: "{name} cannot be opened; its folder must be there, and be one to write in.",
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
    sqlite3.SQLITE_IOERR: "{name} cannot be read or written by the disk, which may be full or failing; "
    "nothing was written into it.",
    sqlite3.SQLITE_FULL: "The disk is full; nothing was written into {name}, and nothing in it is lost.",
}


@contextmanager
def in_plain_words(name: str) -> Iterator[None]:
    """Say what a database refuses as a StudioError; ``name`` is what the database is called."""
    try:
        yield
    except IntegrityError as error:
        told = f"{name} was changed by another program at the same moment ({_first_line(error.orig)})"
        raise StudioError(f"{told}; nothing was written, try again.") from error
    except DBAPIError as error:
        raise StudioError(_sentence(name, error.orig)) from error
    except sqlite3.Error as error:
        raise StudioError(_sentence(name, error)) from error
    except UnicodeEncodeError as error:
        shown = str(error.object).encode("ascii", "backslashreplace").decode()
        raise StudioError(f"{name} cannot hold {shown[:60]}, which is no text; type it anew.") from error
    except (JSONDecodeError, UnicodeDecodeError) as error:
        raise StudioError(_DAMAGED.format(name=name)) from error


def damaged(name: str, what: str) -> StudioError:
    """The sentence for a value in the database that cannot be one that the program wrote."""
    return StudioError(f"{name}: {what} is damaged; it was left as it is, put back a copy of the database.")


def _sentence(name: str, error: BaseException | None) -> str:
    if isinstance(error, sqlite3.Error):
        code = getattr(error, "sqlite_errorcode", None)
        if code is not None and (code & _PRIMARY) in _SENTENCES:
            return _SENTENCES[code & _PRIMARY].format(name=name)
        return f"{name} refused what was asked ({_first_line(error)}); nothing was written."
    return f"The studio's database {name} does not answer as it should ({_first_line(error)})."


def _first_line(error: BaseException | None) -> str:
    return next(iter(str(error).strip().splitlines()), "no reason given").rstrip(".")

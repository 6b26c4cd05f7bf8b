"""Which folders the drawer holds, in ``drawer.json``: the only way from an address of the app to a folder.

Two apps may share one drawer, so that the file is read again before every change and written whole.
"""

import hashlib
import json
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from blockwright.decisions import write_whole
from blockwright.model.errors import FolderError

FILE_NAME = "drawer.json"
_FORM = 1
"""The form of the file; one of a later form is kept aside, not read wrongly."""


def print_id(folder: Path) -> str:
    """The name of a print in addresses: it says nothing about the folder, and stays the same.

    >>> len(print_id(Path("tide-mill")))
    12
    """
    return hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:12]


class Registry:
    """The folders in the drawer, the latest first."""

    def __init__(self, home: Path) -> None:
        self._path = home / FILE_NAME
        self._lock = threading.Lock()
        self._read_at: tuple[int, int] | None = None
        self._known: dict[str, Path] = {}

    def prints(self) -> dict[str, Path]:
        """Every folder by its id."""
        with self._lock:
            return dict(self._read())

    def folder(self, id: str) -> Path | None:
        """The folder of an id, or None: there is no other way to any folder."""
        with self._lock:
            return self._read().get(id)

    def add(self, folder: Path) -> str:
        """Lay a folder on top of the drawer and give its id. Raises FolderError."""
        place, id = folder.resolve(), print_id(folder)
        with self._changing() as known:
            others = {each: path for each, path in known.items() if each != id}
            known.clear()
            known.update({id: place, **others})
        return id

    def remove(self, id: str) -> None:
        """Take a folder out of the drawer; nothing in it is touched. Raises FolderError."""
        with self._changing() as known:
            known.pop(id, None)

    @contextmanager
    def _changing(self) -> Iterator[dict[str, Path]]:
        with self._lock:
            known = dict(self._read())
            yield known
            # ASCII, as a folder's name need not be text.
            told = json.dumps({"form": _FORM, "prints": [str(path) for path in known.values()]}, indent=1)
            try:
                self._path.parent.mkdir(parents=True, exist_ok=True)
                write_whole(self._path, told + "\n")
            except OSError as error:
                raise FolderError(f"{self._path} cannot be written ({error.strerror}).") from error
            self._read_at = None

    def _read(self) -> dict[str, Path]:
        """The folders as the file has them now; a file that cannot be read is kept aside."""
        try:
            told = self._path.stat()
        except OSError:
            self._read_at, self._known = None, {}
            return self._known
        if (at := (told.st_mtime_ns, told.st_ino)) != self._read_at:
            try:
                paths = _paths(self._path.read_bytes())
            except (OSError, ValueError, KeyError, TypeError, RecursionError):
                with suppress(OSError):
                    self._path.replace(self._path.with_name(FILE_NAME + ".broken"))
                paths = []
            self._read_at, self._known = at, {print_id(path): path for path in paths}
        return self._known


def _paths(told: bytes) -> list[Path]:
    content = json.loads(told)
    if content["form"] != _FORM or not isinstance(content["prints"], list):
        raise ValueError("a form of a later time")
    paths = [Path(each) for each in content["prints"]]
    if not all(path.is_absolute() and "\0" not in str(path) for path in paths):
        raise ValueError("no place on a disk")
    return paths

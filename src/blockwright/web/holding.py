"""One app at a time may change a print: it holds a file in the folder until it ends, however it ends."""

import os
import threading
from pathlib import Path
from typing import TextIO

from blockwright.folder import hold_file
from blockwright.web import words

HELD_FILE = ".open"
"""The file in a print folder that is held while the print is open in an app."""

NOT_WRITABLE = "{folder} cannot be written ({reason}), so that here you may look only."


class Holding:
    """The prints that this app has open and may change."""

    def __init__(self) -> None:
        self._held: dict[Path, TextIO] = {}
        self._lock = threading.Lock()

    def take(self, folder: Path) -> str | None:
        """Hold a print for this app; the sentence that says why it may only be looked at, or None.

        A folder that is gone is nobody's: what is done with it then says so by itself.
        """
        with self._lock:
            if _is_there(self._held.get(folder), folder):
                return None
            self._let_go(folder)
            try:
                file = (folder / HELD_FILE).open("a", encoding="utf-8")
            except (FileNotFoundError, NotADirectoryError):
                return None
            except OSError as error:
                return NOT_WRITABLE.format(folder=folder, reason=error.strerror)
            if not hold_file(file.fileno()):
                file.close()
                return words.may_not_write
            self._held[folder] = file
            return None

    def let_go(self, folder: Path) -> None:
        """Let another app change the print."""
        with self._lock:
            self._let_go(folder)

    def let_all_go(self) -> None:
        """Let go of every print."""
        with self._lock:
            for folder in list(self._held):
                self._let_go(folder)

    def _let_go(self, folder: Path) -> None:
        if file := self._held.pop(folder, None):
            file.close()


def _is_there(file: TextIO | None, folder: Path) -> bool:
    """Whether what is held is still the folder's file: the folder may have gone and come back."""
    if file is None:
        return False
    try:
        return os.path.samestat(os.fstat(file.fileno()), (folder / HELD_FILE).stat())
    except OSError:
        return False

"""A studio database that another process holds, for tests."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_HOLD = """
import sqlite3, sys
held = sqlite3.connect(sys.argv[1], isolation_level=None)
if sys.argv[2] == "wholly":
    held.execute("PRAGMA locking_mode = EXCLUSIVE")
held.execute("BEGIN IMMEDIATE")
held.execute("UPDATE pigments SET notes = 'of the other process'")
print("held", flush=True)
sys.stdin.read()
held.execute("ROLLBACK")
held.close()
"""


@contextmanager
def held_by_another(database: Path, how: str) -> Iterator[None]:
    """Hold a database as another process: "for writing", or "wholly", so that nobody else may read it."""
    other = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(database), how],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert other.stdout is not None
    assert other.stdin is not None
    try:
        assert other.stdout.readline() == "held\n"
        yield
    finally:
        other.stdin.close()
        other.wait(30)
        other.stdout.close()

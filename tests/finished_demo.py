"""The demo print as a whole run leaves it, for tests that look at it."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class FinishedDemo:
    """The demo's folder after a whole run, and what the command wrote."""

    folder: Path
    exit_code: int
    stdout: str
    stderr: str

    @property
    def out(self) -> Path:
        return self.folder / "out"

"""What is at hand for every print: the pigments and mixed inks of the studio, as they are now."""

from functools import lru_cache
from pathlib import Path

from blockwright.model.home import DATABASE_NAME, home_folder
from blockwright.model.inks import Shelf

Stamp = tuple[int, int, int]


def at_hand() -> Shelf:
    """The shelf of the studio; what was read is kept while the database's files stay as they are.

    Without a database it is the starter set of pigments that comes with the program. Nothing is made or
    changed. Raises StudioError when the database cannot be read.
    """
    file = home_folder() / DATABASE_NAME
    if (stamp := _stamp(file)) is None:
        from blockwright.colour.pigments import starter_pigments

        return Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))
    return _remembered(file, stamp, _stamp(file.with_name(file.name + "-wal")))


@lru_cache(maxsize=2)
def _remembered(file: Path, stamp: Stamp, log_stamp: Stamp | None) -> Shelf:
    from blockwright.studio import read_shelf

    del stamp, log_stamp
    return read_shelf(file)


def _stamp(file: Path) -> Stamp | None:
    """What changes when a file does; None when it is not there."""
    try:
        seen = file.stat()
    except OSError:
        return None
    return seen.st_mtime_ns, seen.st_size, seen.st_ino

"""What is at hand for every print: pigments, mixed inks, bits and machines of the studio, as they are now."""

from functools import lru_cache
from pathlib import Path

from blockwright.model.home import DATABASE_NAME, home_folder
from blockwright.model.inks import Shelf
from blockwright.model.shelf import RouterShelf

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


def routers_at_hand() -> RouterShelf:
    """The bits and machines of the studio, as :func:`at_hand`; without any, those that a shelf begins with.

    Nothing is made or changed. Raises StudioError when the database cannot be read.
    """
    file = home_folder() / DATABASE_NAME
    if (stamp := _stamp(file)) is None:
        from blockwright.bits import first_routers

        return first_routers()
    return _routers_remembered(file, stamp, _stamp(file.with_name(file.name + "-wal")))


@lru_cache(maxsize=2)
def _routers_remembered(file: Path, stamp: Stamp, log_stamp: Stamp | None) -> RouterShelf:
    from blockwright.bits import read_routers

    del stamp, log_stamp
    return read_routers(file)


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

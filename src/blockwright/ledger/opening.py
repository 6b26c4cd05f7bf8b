"""Opening the studio's database: made when it is not there, brought to this program's form, or left alone."""

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from sqlite3 import SQLITE_BUSY, OperationalError

from sqlalchemy import Engine, inspect, text
from sqlalchemy.engine import Connection

from blockwright.ledger.pigments import add_pigment
from blockwright.ledger.place import (
    BUSY_S,
    Place,
    check_file,
    find_place,
    keep_log_ahead,
    make_engine,
    may_write,
)
from blockwright.ledger.refusals import in_plain_words
from blockwright.ledger.router_bits import add_bit, add_machine
from blockwright.ledger.router_first import first_bits, first_machines
from blockwright.ledger.schema import REVISIONS
from blockwright.model.errors import StudioError
from blockwright.model.shelf import ShelfPigment

REVISIONS_FOLDER = Path(__file__).parent / "revisions"

_VERSION_TABLE = "alembic_version"
_WITHOUT_ROUTERS = (None, "0001", "0002")
"""What knows nothing of bits and machines yet, and is given the usual ones."""
_AGAIN_S = 0.05

FirstPigments = Callable[[], Sequence[ShelfPigment]]
"""The pigments that a new database begins with; asked for only when one is made."""


@dataclass(frozen=True, slots=True, eq=False)
class Ledger:
    """An open studio database; ``name`` is what it is called to the printmaker.

    It keeps no connection between two uses, so that threads can share it and it needs no closing.
    """

    engine: Engine
    name: str

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees the database as it was at its first question. Raises StudioError."""
        with in_plain_words(self.name), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction: kept whole at the end of the block, or not at all. Raises StudioError."""
        with (
            in_plain_words(self.name),
            self.engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            yield connection


def open_ledger(where: str | Path, *, first_pigments: FirstPigments) -> Ledger:
    """Open the studio's database at a file or an address, and make it with its first pigments if need be.

    Raises StudioError when it cannot be opened, is in use, damaged, newer than this program, or another
    program's; it is then as it was.
    """
    place = find_place(where)
    if place.file is not None:
        check_file(place.file)
    is_there = place.file is None or place.file.exists()
    ledger = Ledger(make_engine(place, "write" if is_there else "make"), place.name)
    with ledger.reading() as connection:
        found = _revision(connection, place.name)
    if place.file is not None and found != REVISIONS[-1]:
        with in_plain_words(place.name):
            _patiently(keep_log_ahead, place.file)
    if found != REVISIONS[-1]:
        with ledger.writing() as connection:
            # Another program may have been first: now that the lock is held, look again.
            found = _revision(connection, place.name)
            if found != REVISIONS[-1]:
                _upgrade(connection)
            if found is None:
                for pigment in first_pigments():
                    add_pigment(connection, pigment)
            if found in _WITHOUT_ROUTERS:
                _give_routers(connection)
    return ledger


def open_to_read(where: str | Path) -> Ledger | None:
    """Open the studio's database without making or changing anything; None when there is none yet.

    Raises StudioError as :func:`open_ledger` does.
    """
    place = find_place(where)
    if place.file is not None:
        if not place.file.exists():
            return None
        check_file(place.file)
    ledger = Ledger(make_engine(place, "look at rest" if _is_at_rest(place) else "look"), place.name)
    with ledger.reading() as connection:
        found = _revision(connection, place.name)
    if found is None:
        return None
    # One that is only looked at stays in the form that an older program gave it.
    return Ledger(ledger.engine.execution_options(revision=found), ledger.name)


def _is_at_rest(place: Place) -> bool:
    """Whether a file lies in a folder where nobody can write and no log of a writer lies beside it."""
    file = place.file
    if file is None or may_write(file.parent):
        return False
    return not file.with_name(file.name + "-wal").exists()


def _revision(connection: Connection, name: str) -> str | None:
    """The revision that a database has; None for one without tables. Raises StudioError for others' ones."""
    tables = inspect(connection).get_table_names()
    if not tables:
        return None
    if _VERSION_TABLE not in tables:
        raise StudioError(f"{name} is the database of another program; it was left as it is.")
    found = connection.execute(text(f"SELECT version_num FROM {_VERSION_TABLE}")).scalars().all()
    if len(found) != 1 or found[0] not in REVISIONS:
        told = ", ".join(str(each) for each in found) or "none"
        message = f"{name} was made by a newer blockwright (its revision is {told}, {REVISIONS[-1]} is known)"
        raise StudioError(f"{message}; bring blockwright up to date, it was left as it is.")
    return str(found[0])


def _upgrade(connection: Connection) -> None:
    """Run the revisions that are missing, all in the transaction that is open."""
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory

    config = Config()
    script = ScriptDirectory(str(REVISIONS_FOLDER), version_locations=[str(REVISIONS_FOLDER)])

    def steps(revision: object, _: object) -> object:
        return script._upgrade_revs(REVISIONS[-1], revision)  # type: ignore[arg-type]

    with EnvironmentContext(config, script, fn=steps, destination_rev=REVISIONS[-1]) as environment:
        environment.configure(connection=connection, transactional_ddl=True)
        with environment.begin_transaction():
            environment.run_migrations()


def _give_routers(connection: Connection) -> None:
    for bit in first_bits():
        add_bit(connection, bit)
    for machine in first_machines():
        add_machine(connection, machine)


def _patiently(act: Callable[[Path], None], file: Path) -> None:
    """Do what SQLite refuses at once, not after its own waiting, while another program has the file."""
    until = time.monotonic() + BUSY_S
    while True:
        try:
            return act(file)
        except OperationalError as error:
            if error.sqlite_errorcode != SQLITE_BUSY or time.monotonic() > until:
                raise
        time.sleep(_AGAIN_S)

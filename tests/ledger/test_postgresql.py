"""The studio's database on a PostgreSQL server, where one can be started: the same records come back."""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from small_shelf import (
    MONDAY,
    ONE_HOUR,
    a_machine,
    a_swatch,
    a_tapered_bit,
    invented_pigments,
    opened,
    sea_ink,
)
from sqlalchemy import text

from blockwright import ledger
from blockwright.colour.mixed_optics import mixed_film
from blockwright.ledger.router_bits import add_bit, add_machine, all_bits, all_machines
from blockwright.ledger.schema import metadata
from blockwright.ledger.sheets import read_sheet
from blockwright.model.errors import InkError, StudioError
from blockwright.model.shelf import Use, Weighing

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb")) or [
    Path(each) for each in [shutil.which("initdb")] if each
]

pytestmark = pytest.mark.skipif(not PROGRAMS or sys.platform == "win32", reason="no PostgreSQL server here")


def _as_whom() -> list[str]:
    """The server refuses to be run by root."""
    if os.geteuid() != 0:
        return []
    if subprocess.run(["id", "postgres"], check=False, capture_output=True).returncode != 0:
        pytest.skip("root cannot run the server, and there is no user postgres")
    return ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"]


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    """The address of a server that listens in a folder of its own, on no network."""
    asking, programs = _as_whom(), PROGRAMS[-1].parent
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if asking:
            shutil.chown(folder, "postgres", "postgres")

        def run(program: str, *words: str) -> None:
            subprocess.run(
                [*asking, str(programs / program), *words],
                cwd=folder,
                check=True,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )

        data = str(folder / "data")
        run("initdb", "-D", data, "-U", "anna", "-A", "trust", "-E", "UTF8", "--no-sync")
        listening = f"-c listen_addresses='' -c unix_socket_directories={folder} -c fsync=off"
        run("pg_ctl", "-D", data, "-w", "-o", listening, "-l", str(folder / "log"), "start")
        try:
            yield f"postgresql://anna@/postgres?host={folder}"
        finally:
            run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")


def everything(studio: ledger.Ledger) -> tuple[object, ...]:
    with studio.reading() as connection:
        return (
            ledger.all_pigments(connection),
            ledger.all_inks(connection),
            ledger.all_swatches(connection),
            ledger.all_weighings(connection),
            ledger.all_uses(connection),
            all_bits(connection),
            all_machines(connection),
        )


def fill(studio: ledger.Ledger) -> None:
    with studio.writing() as connection:
        ledger.add_ink(connection, sea_ink(pot_g=1.0 / 3.0), at=MONDAY)
        ledger.add_weighing(connection, Weighing(1, 0.1 + 0.2, MONDAY + ONE_HOUR))
        ledger.add_use(connection, Use(1, "prints/mill", "Tide mill", "sea", MONDAY))
        ledger.add_swatch(connection, a_swatch(1))
        ledger.add_swatch(connection, a_swatch("ochre"))
        add_bit(connection, a_tapered_bit())
        add_machine(connection, a_machine())


def test_a_server_keeps_what_a_file_keeps(server: str, tmp_path: Path) -> None:
    assert ledger.open_to_read(server) is None
    studio = ledger.open_ledger(server, first_pigments=invented_pigments)
    file = opened(tmp_path / "studio.db")
    for each in (studio, file):
        fill(each)
    assert everything(studio) == everything(file)
    with studio.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
        tables = ledger.written_sheets(connection)
    sheets = [read_sheet(name, content.encode()) for name, content in tables.items()]
    with studio.writing() as connection:
        told = ledger.take_in(connection, sheets, mix=mixed_film, at=MONDAY)
    assert [(each.added, each.changed) for each in told] == [(0, 0)] * 7

    bad = read_sheet("list.csv", b"ink,parts\nmoss,0.5 ochre\nmauve,0.5 mauve\n")
    with pytest.raises(InkError, match="line 3"), studio.writing() as connection:
        ledger.take_in(connection, [bad], mix=mixed_film, at=MONDAY)
    assert everything(studio) == everything(file)

    again = ledger.open_ledger(server, first_pigments=list)
    assert everything(again) == everything(studio)
    with studio.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '0917'"))
    with pytest.raises(StudioError, match="made by a newer blockwright"):
        ledger.open_ledger(server, first_pigments=list)


def test_a_server_that_does_not_answer_is_told(tmp_path: Path) -> None:
    with pytest.raises(StudioError, match="does not answer as it should") as caught:
        ledger.open_ledger(f"postgresql://anna:secret@/studio?host={tmp_path}", first_pigments=list)
    assert "secret" not in str(caught.value)
    assert "\n" not in str(caught.value)

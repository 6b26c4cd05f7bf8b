"""The drawer: what is in it, what it opens, and what it keeps closed."""

import asyncio
import json
import os
import re
import shutil
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asked_app import OWN, AskedApp, run_apart

from blockwright import project
from blockwright.decisions import FILE_NAME
from blockwright.model.errors import FolderError
from blockwright.web import app as app_module
from blockwright.web import demo_print, words
from blockwright.web.demo_print import DemoPrint
from blockwright.web.drawer import DrawerPage
from blockwright.web.holding import HELD_FILE, Holding
from blockwright.web.registry import Registry, print_id
from blockwright.web.showing import templates
from tiny_print import tree_hashes


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture
def asked(home: Path) -> Iterator[AskedApp]:
    asked = AskedApp(home)
    yield asked
    asked.close()


# --- the registry -------------------------------------------------------------------------------------------


def test_the_latest_lies_on_top_and_nothing_lies_twice(home: Path, tmp_path: Path) -> None:
    registry = Registry(home)
    first, second = tmp_path / "first", tmp_path / "second"
    ids = [registry.add(first), registry.add(second), registry.add(first)]
    assert ids[0] == ids[2] == print_id(first)
    assert list(registry.prints().values()) == [first, second]
    assert all(re.fullmatch("[0-9a-f]{12}", id) for id in ids)
    registry.remove(ids[0])
    assert list(Registry(home).prints()) == [ids[1]]


def test_another_way_to_the_same_folder_is_the_same_print(home: Path, tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    registry = Registry(home)
    assert registry.add(tmp_path / "link") == registry.add(tmp_path / "real" / ".." / "real")
    assert len(registry.prints()) == 1


def test_a_name_that_is_no_text_is_kept_as_it_is(home: Path, tmp_path: Path) -> None:
    folder = tmp_path / os.fsdecode(b"m\xffhle")
    id = Registry(home).add(folder)
    assert Registry(home).folder(id) == folder


def test_two_apps_share_a_drawer(home: Path, tmp_path: Path) -> None:
    one, other = Registry(home), Registry(home)
    one.add(tmp_path / "a")
    other.add(tmp_path / "b")
    assert set(one.prints().values()) == {tmp_path / "a", tmp_path / "b"}


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"\xff\xfe",
        b'{"form": 1}',
        b'{"form": 2, "prints": []}',
        b'{"form": 1, "prints": [7]}',
        b'{"form": 1, "prints": ["relative"]}',
        b'{"form": 1, "prints": ["/a\\u0000b"]}',
        b"[" * 100_000,
    ],
)
def test_a_drawer_that_cannot_be_read_is_kept_aside(home: Path, tmp_path: Path, content: bytes) -> None:
    home.mkdir()
    (home / "drawer.json").write_bytes(content)
    registry = Registry(home)
    assert registry.prints() == {}
    assert (home / "drawer.json.broken").read_bytes() == content
    registry.add(tmp_path / "a")
    assert list(Registry(home).prints().values()) == [tmp_path / "a"]


def test_a_full_disk_leaves_the_drawer_as_it_was(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    registry = Registry(home)
    registry.add(tmp_path / "a")
    before = (home / "drawer.json").read_bytes()

    def full(_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FolderError, match="No space left"):
        registry.add(tmp_path / "b")
    assert (home / "drawer.json").read_bytes() == before
    assert list(registry.prints().values()) == [tmp_path / "a"]
    assert sorted(path.name for path in home.iterdir()) == ["drawer.json"]


# --- the page -----------------------------------------------------------------------------------------------


def test_an_empty_drawer_is_a_page(asked: AskedApp) -> None:
    answer = asked.browser.get("/")
    assert answer.status_code == 200
    assert 'name="picture"' in answer.text
    assert "/demo" in answer.text
    assert answer.headers["cache-control"] == "no-store"


def _page(asked: AskedApp, monkeypatch: pytest.MonkeyPatch) -> DrawerPage:
    """What the drawer hands to its template."""
    seen: list[DrawerPage] = []
    real = templates().TemplateResponse

    def note(request: Any, template: str, context: dict[str, Any], **more: Any) -> Any:
        if template == "drawer.html":
            seen.append(context["page"])
        return real(request, template, context, **more)

    monkeypatch.setattr(templates(), "TemplateResponse", note)
    assert asked.browser.get("/").status_code == 200
    return seen[0]


def test_a_print_that_is_made_says_what_it_is_and_what_is_next(
    asked: AskedApp, made_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    id = asked.desk.lay_in(made_print)
    (row,) = _page(asked, monkeypatch).rows
    assert (row.id, row.url, row.title) == (id, f"/print/{id}/", "Tiny")
    assert row.where == str(made_print)
    assert row.state == f"4 colours, 4 shapes, 60 × 45\xa0mm, {words.state_fresh}."
    assert row.next_said == words.TEXTS[f"next_{row.next_step}"]
    assert row.wrong is None
    assert not row.vanished
    assert row.thumbnail is not None
    assert asked.browser.get(row.thumbnail["src"]).content.startswith(b"\xff\xd8")
    assert row.url in asked.browser.get("/").text


def test_a_new_print_has_nothing_made_yet(
    asked: AskedApp, new_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked.desk.lay_in(new_print)
    (row,) = _page(asked, monkeypatch).rows
    assert row.thumbnail is None
    assert row.state == words.nothing_made
    assert row.working


def test_a_folder_that_is_gone_can_only_be_taken_out(
    asked: AskedApp, new_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    id = asked.desk.lay_in(new_print)
    shutil.rmtree(new_print)
    (row,) = _page(asked, monkeypatch).rows
    assert row.vanished
    assert row.wrong
    assert str(new_print) in row.wrong
    answer = asked.browser.post(f"/print/{id}/forget")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert _page(asked, monkeypatch).rows == ()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda folder: (folder / FILE_NAME).unlink(), FILE_NAME),
        (lambda folder: (folder / FILE_NAME).write_text("[print\n"), "line 1"),
        (lambda folder: _append(folder, "[carving]\nspeed = 3\n"), "carving"),
    ],
    ids=["no print.toml", "broken", "of a newer version"],
)
def test_a_print_that_cannot_be_read_says_why_in_its_place(
    asked: AskedApp, new_print: Path, monkeypatch: pytest.MonkeyPatch, change: Any, said: str
) -> None:
    id = asked.desk.lay_in(new_print)
    change(new_print)
    (row,) = _page(asked, monkeypatch).rows
    assert row.wrong
    assert said in row.wrong
    assert row.wrong.endswith(".")
    assert not row.vanished
    assert asked.browser.get(f"/print/{id}/").status_code in {200, 303, 422}


def _append(folder: Path, text: str) -> None:
    with (folder / FILE_NAME).open("a") as file:
        file.write(text)


def test_what_a_print_is_called_is_only_text(asked: AskedApp, new_print: Path) -> None:
    text = (new_print / FILE_NAME).read_text()
    (new_print / FILE_NAME).write_text(text.replace('"Tiny"', '"<script>alert(1)</script>"'))
    asked.desk.lay_in(new_print)
    page = asked.browser.get("/").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_forgetting_leaves_the_folder_as_it_is(asked: AskedApp, new_print: Path) -> None:
    before = tree_hashes(new_print)
    id = asked.desk.lay_in(new_print)
    answer = asked.browser.post(f"/print/{id}/forget", headers={"HX-Request": "true"})
    assert answer.headers["hx-redirect"] == "/"
    assert asked.jobs.stopped == [id]
    assert asked.browser.get(f"/print/{id}/design").status_code == 404
    (new_print / HELD_FILE).unlink()
    assert tree_hashes(new_print) == before


# --- what stays closed --------------------------------------------------------------------------------------


def test_folders_outside_the_drawer_cannot_be_reached(asked: AskedApp, made_print: Path) -> None:
    """The id of a print that was never opened is no key, though it can be worked out."""
    outside = print_id(made_print)
    for address in ("", "design", "shape?x=1&y=1", "packet.pdf", "files/design/shapes.svg", "stream"):
        answer = asked.browser.get(f"/print/{outside}/{address}")
        assert answer.status_code == 404
        assert words.not_found in answer.text
    assert asked.browser.post(f"/print/{outside}/decide", data={"act": "undo"}).status_code == 404
    assert asked.browser.post(f"/print/{outside}/forget").status_code == 404


SECRET = "nobody outside reads this"


NAMES = (
    "../print.toml",
    "..%2f..%2fprint.toml",
    "..%2F..%2F..%2Fsecret.txt",
    "%2e%2e/%2e%2e/print.toml",
    "..%5c..%5cprint.toml",
    ".made.json%00.png",
    "%2Fetc%2Fpasswd",
    ".made.json",
    "secret.txt",
)


@pytest.mark.parametrize(
    "address",
    [
        "/print/{id}/files/design/{name}",
        "/print/{id}/files/{name}/shapes.svg",
        "/print/{id}/files/{name}",
        "/print/{id}/tiles/{name}.json",
        "/print/{id}/tiles/{name}/1/0/0_0.jpg",
        "/print/{id}/tiles/picture/{name}/0/0_0.jpg",
        "/print/{id}/sheets/{name}/face-down/1.png",
        "/print/{name}/design",
        "/print/{name}/files/design/shapes.svg",
        "/static/{name}",
        "/{name}",
    ],
)
def test_no_path_from_outside_is_opened(asked: AskedApp, made_print: Path, address: str) -> None:
    (made_print.parent / "secret.txt").write_text(SECRET)
    (made_print / "secret.txt").write_text(SECRET)
    id = asked.desk.lay_in(made_print)
    for name in NAMES:
        answer = asked.browser.get(address.format(id=id, name=name))
        assert answer.status_code in {400, 404, 422}, name
        assert SECRET not in answer.text
        assert "[print]" not in answer.text
        assert "root:" not in answer.text


def test_nothing_tells_a_stranger_what_addresses_there_are(asked: AskedApp) -> None:
    for path in ("/docs", "/redoc", "/openapi.json"):
        answer = asked.browser.get(path)
        assert answer.status_code == 404
        assert words.no_such_page in answer.text


# --- two apps -----------------------------------------------------------------------------------------------


def test_the_second_app_may_look_only(home: Path, new_print: Path) -> None:
    first, second = AskedApp(home), AskedApp(home, port=8361)
    id = first.desk.lay_in(new_print)
    assert second.browser.get("/").status_code == 200
    before = (new_print / FILE_NAME).read_bytes()
    for act in ("decide", "undo", "redo", "again", "stop"):
        answer = second.browser.post(f"/print/{id}/{act}", data={"act": "set-passes"})
        assert answer.status_code == 422
        assert words.may_not_write in answer.text
    assert (new_print / FILE_NAME).read_bytes() == before
    assert second.desk.lay_in(new_print) == id
    assert second.jobs.asked_for == []
    assert [asked for asked, _ in first.jobs.asked_for] == [id]
    # When the first ends, the second may go on.
    first.desk.holding.let_all_go()
    assert second.desk.holding.take(new_print) is None
    assert first.desk.holding.take(new_print) == words.may_not_write
    second.close()


def test_a_folder_that_went_and_came_back_is_held_anew(new_print: Path) -> None:
    one, other = Holding(), Holding()
    assert one.take(new_print) is None
    shutil.copytree(new_print, new_print.with_name("copy"))
    shutil.rmtree(new_print)
    assert one.take(new_print) is None
    new_print.with_name("copy").rename(new_print)
    assert one.take(new_print) is None
    assert other.take(new_print) is not None
    one.let_all_go()


def test_a_folder_that_cannot_be_written_may_be_looked_at(
    new_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    sentence = Holding().take(new_print)
    assert sentence
    assert "look only" in sentence


# --- the demo print -----------------------------------------------------------------------------------------


def test_the_demo_is_laid_in_and_opened(
    asked: AskedApp, made_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def copy_in(folder: Path) -> None:
        shutil.copytree(made_print, folder)

    monkeypatch.setattr(demo_print, "_paint_apart", copy_in)
    assert not asked.desk.demo.painted
    answer = asked.browser.post("/demo")
    folder = asked.desk.prints / "tide-mill"
    id = print_id(folder)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/print/{id}/")
    assert asked.jobs.asked_for == [(id, folder)]
    assert asked.desk.registry.prints() == {id: folder}
    # Taken out and asked for again, it is the same one.
    asked.browser.post(f"/print/{id}/forget")
    assert asked.browser.post("/demo").headers["location"] == f"/print/{id}/"


@pytest.mark.parametrize("empty", [True, False])
def test_in_an_empty_drawer_the_demo_is_made_ahead(
    asked: AskedApp, new_print: Path, monkeypatch: pytest.MonkeyPatch, empty: bool
) -> None:
    async def copy_in(folder: Path) -> None:
        shutil.copytree(new_print, folder)

    monkeypatch.setattr(demo_print, "_paint_apart", copy_in)
    if not empty:
        asked.desk.registry.add(new_print)

    async def run() -> None:
        asked.desk.begin()
        await asyncio.sleep(0.3)
        await asked.desk.close()

    run_apart(run())
    folder = asked.desk.prints / "tide-mill"
    assert asked.jobs.asked_for == ([(print_id(folder), folder)] if empty else [])
    assert asked.jobs.ahead == ([print_id(folder)] if empty else []), (
        "no print that someone waits for gives way"
    )
    assert len(asked.desk.registry.prints()) == (0 if empty else 1), "it is laid in when it is asked for"


def test_painting_leaves_a_whole_print_or_nothing(
    tmp_path: Path, new_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def create(folder: Path) -> None:
        shutil.copytree(new_print, folder)

    def fail(folder: Path) -> None:
        folder.mkdir()
        (folder / "design.png").write_bytes(b"half")
        raise FolderError("The disk is full.")

    prints = tmp_path / "prints"
    prints.mkdir()
    monkeypatch.setattr(project, "create_demo", fail)
    with pytest.raises(FolderError, match="full"):
        demo_print.paint(prints / "tide-mill")
    assert list(prints.iterdir()) == []
    monkeypatch.setattr(project, "create_demo", create)
    demo_print.paint(prints / "tide-mill")
    assert [path.name for path in prints.iterdir()] == ["tide-mill"]
    demo_print.paint(prints / "tide-mill")  # as when another app was quicker
    assert [path.name for path in prints.iterdir()] == ["tide-mill"]


def test_the_painter_ends_with_the_app(tmp_path: Path) -> None:
    demo = DemoPrint(tmp_path)

    async def run() -> float:
        waiting = [asyncio.create_task(demo.made()) for _ in range(2)]
        await asyncio.sleep(0.5)
        began = time.monotonic()
        await demo.close()
        took = time.monotonic() - began
        ends = await asyncio.gather(*waiting, return_exceptions=True)
        assert all(isinstance(end, asyncio.CancelledError) for end in ends)
        return took

    assert run_apart(run()) < 1
    assert not demo.painted


def test_a_painter_that_cannot_paint_says_why(tmp_path: Path) -> None:
    (tmp_path / "prints").write_text("a file in the way")
    with pytest.raises(FolderError) as caught:
        run_apart(DemoPrint(tmp_path / "prints").made())
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


# --- what goes wrong ----------------------------------------------------------------------------------------


def test_the_unforeseen_is_told_in_a_sentence_and_on_the_terminal(
    asked: AskedApp, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: Any) -> None:
        raise ZeroDivisionError("unforeseen")

    monkeypatch.setattr(asked.desk.registry, "prints", fail)
    answer = asked.browser.get("/")
    assert answer.status_code == 500
    assert app_module.UNEXPECTED in answer.text
    assert "unforeseen" not in answer.text
    assert "ZeroDivisionError: unforeseen" in capsys.readouterr().err
    assert "Content-Security-Policy" in answer.headers


@pytest.mark.parametrize("given", ["abc", "12 mm", "<b>", "", "1e999"])
def test_pasted_text_where_a_number_belongs_gets_a_sentence(
    asked: AskedApp, new_print: Path, given: str
) -> None:
    id = asked.desk.lay_in(new_print)
    answer = asked.browser.get(
        f"/print/{id}/shape", params={"x": given, "y": "1"}, headers={"HX-Request": "true"}
    )
    assert answer.status_code in {200, 422}
    assert answer.text.strip()
    assert "<b>" not in answer.text.replace("<b>X", "")


def test_static_files_may_be_kept_under_their_hash_only(asked: AskedApp) -> None:
    from blockwright.web.showing import static

    kept = asked.browser.get(static("css/house.css"))
    assert kept.status_code == 200
    assert "immutable" in kept.headers["cache-control"]
    for address in ("/static/css/house.css", "/static/css/house.css?v=old"):
        assert asked.browser.get(address).headers["cache-control"] == "private, no-cache"
    script = asked.browser.get("/static/vendor/htmx.min.js")
    assert script.headers["content-type"].startswith("text/javascript")
    assert asked.browser.get("/static/nothing.css").status_code == 404


def test_many_threads_may_ask_for_a_print_at_once(asked: AskedApp, new_print: Path) -> None:
    id = asked.desk.lay_in(new_print)
    seen: list[str | None] = []
    threads = [
        threading.Thread(target=lambda: seen.append(asked.desk.holding.take(new_print))) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen == [None] * 8
    assert asked.desk.registry.folder(id) == new_print


def test_the_drawer_file_is_plain(asked: AskedApp, new_print: Path) -> None:
    asked.desk.lay_in(new_print)
    told = json.loads((asked.desk.home / "drawer.json").read_text())
    assert told == {"form": 1, "prints": [str(new_print)]}
    assert OWN.startswith("http://127.0.0.1")

"""A picture comes in: kept by its hash, judged by its content, asked for its width, made into a print."""

import asyncio
import hashlib
import io
import re
import struct
import tempfile
import time
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from asked_app import AskedApp, run_apart
from PIL import Image

from blockwright.decisions import read_decisions
from blockwright.model.errors import PictureError
from blockwright.web import uploads
from blockwright.web.uploads import Uploads
from tiny_print import WIDTH_MM, tiny_pixels


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[AskedApp]:
    asked = AskedApp(tmp_path / "home")
    yield asked
    asked.close()


@pytest.fixture
def painted(tiny_picture: Path) -> bytes:
    return tiny_picture.read_bytes()


def without_size(format: str = "PNG") -> bytes:
    file = io.BytesIO()
    Image.fromarray(tiny_pixels()).save(file, format)
    return file.getvalue()


def send(asked: AskedApp, name: str, content: bytes, **fields: str) -> httpx.Response:
    headers = {"HX-Request": "true"}
    return asked.browser.post("/prints", files={"picture": (name, content)}, data=fields, headers=headers)


def made(asked: AskedApp) -> list[Path]:
    prints = asked.desk.prints
    return sorted(prints.iterdir()) if prints.exists() else []


def kept(asked: AskedApp) -> list[str]:
    return sorted(path.name for path in (asked.desk.home / "uploads").glob("*"))


def refused(asked: AskedApp, answer: httpx.Response) -> str:
    """The one sentence of a refusal, which leaves nothing behind."""
    assert answer.status_code == 422
    (sentence,) = re.findall(r">([^<>]+)<", answer.text.strip())
    assert sentence.strip().endswith(".")
    assert made(asked) == []
    assert asked.desk.registry.prints() == {}
    assert asked.jobs.asked_for == []
    return str(sentence)


def test_a_picture_becomes_a_print(asked: AskedApp, painted: bytes) -> None:
    answer = send(asked, "Old mill.png", painted)
    (folder,) = made(asked)
    ((id, place),) = asked.desk.registry.prints().items()
    assert place == folder == asked.desk.prints / "old-mill"
    assert (answer.status_code, answer.headers["hx-redirect"]) == (200, f"/print/{id}/")
    settings = read_decisions(folder)
    assert (settings.print.title, settings.print.picture) == ("Old mill", "design.png")
    assert settings.print.width_mm == pytest.approx(WIDTH_MM, abs=0.01)
    assert (folder / "design.png").read_bytes() == painted
    assert kept(asked) == [hashlib.sha256(painted).hexdigest() + ".png"]
    assert asked.jobs.asked_for == [(id, folder)]


def test_a_form_without_scripts_is_sent_on(asked: AskedApp, painted: bytes) -> None:
    answer = asked.browser.post("/prints", files={"picture": ("a.png", painted)})
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/print/")


def test_the_same_picture_again_is_another_print(asked: AskedApp, painted: bytes) -> None:
    for _ in range(3):
        send(asked, "mill.png", painted)
    assert [folder.name for folder in made(asked)] == ["mill", "mill-2", "mill-3"]
    assert len(kept(asked)) == 1


def test_title_and_width_may_come_along(asked: AskedApp, painted: bytes) -> None:
    send(asked, "IMG_0001.PNG", painted, title="  Low\twater ", width_mm=" 240,5 mm")
    (folder,) = made(asked)
    assert folder.name == "low-water"
    print_ = read_decisions(folder).print
    assert (print_.title, print_.width_mm) == ("Low water", 240.5)


@pytest.mark.parametrize(
    "name",
    [
        "../../evil.png",
        "/etc/evil.png",
        "..\\..\\evil.png",
        "evil\x00.png",
        "..",
        ".",
        "CON.png",
        "潮.png",
        "a" * 300,
    ],
)
def test_what_a_client_calls_a_file_is_never_a_path(
    asked: AskedApp, painted: bytes, name: str, tmp_path: Path
) -> None:
    assert send(asked, name, painted).status_code == 200
    (folder,) = made(asked)
    assert re.fullmatch(r"[\w-]{1,60}", folder.name)
    assert folder.name != "con"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["home"]
    assert sorted(path.name for path in asked.desk.home.iterdir()) == ["drawer.json", "prints", "uploads"]


def test_the_ending_follows_the_content_not_the_name(asked: AskedApp) -> None:
    send(asked, "mill.exe", without_size("JPEG"), width_mm="60")
    (folder,) = made(asked)
    assert read_decisions(folder).print.picture == "design.jpg"


# --- the width ----------------------------------------------------------------------------------------------


def test_a_picture_without_a_size_is_asked_once_and_sent_once(asked: AskedApp) -> None:
    answer = send(asked, "mill.webp", without_size("WEBP"))
    assert answer.status_code == 200
    assert made(asked) == []
    assert 'name="width_mm"' in answer.text
    assert 'value="100"' in answer.text, "160 pixels are small; the least that is proposed"
    fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', answer.text))
    assert fields["upload"] == kept(asked)[0].partition(".")[0]
    answer = asked.browser.post("/prints", data={**fields, "width_mm": "180"}, headers={"HX-Request": "true"})
    assert answer.headers["hx-redirect"].startswith("/print/")
    (folder,) = made(asked)
    assert folder.name == "mill"
    assert read_decisions(folder).print.width_mm == 180


def test_a_size_that_no_print_has_is_asked_for_too(asked: AskedApp) -> None:
    file = io.BytesIO()
    Image.fromarray(tiny_pixels()).save(file, "PNG", dpi=(1200, 1200))  # 3 mm wide
    assert 'name="width_mm"' in send(asked, "mill.png", file.getvalue()).text


def test_the_proposal_fits_the_pixels(tmp_path: Path) -> None:
    for width_px, proposed_mm in ((400, 100), (1600, 200), (9000, 360)):
        Image.new("RGB", (width_px, 20)).save(tmp_path / "x.png")
        assert uploads._proposed_mm(tmp_path / "x.png") == proposed_mm
    (tmp_path / "x.svg").write_text("<svg/>")
    assert uploads._proposed_mm(tmp_path / "x.svg") == 300


@pytest.mark.parametrize("width", ["wide", "12 inches", "-5", "nan", "inf", "1e3", "5", "3001", "1 2", "<b>"])
def test_a_width_that_is_none_gets_a_sentence(asked: AskedApp, painted: bytes, width: str) -> None:
    sentence = refused(asked, send(asked, "mill.png", painted, width_mm=width))
    assert "mm" in sentence


@pytest.mark.parametrize("upload", ["0" * 64, "../drawer", "*", "", "0" * 63 + "*", "/etc/passwd"])
def test_only_what_was_sent_before_can_be_named(asked: AskedApp, upload: str) -> None:
    (asked.desk.home / "uploads").mkdir(parents=True)
    answer = asked.browser.post(
        "/prints", data={"upload": upload, "width_mm": "100"}, headers={"HX-Request": "true"}
    )
    refused(asked, answer)


# --- what is refused ----------------------------------------------------------------------------------------


def _bomb() -> bytes:
    """A PNG of 68 bytes that says that it is 60,000 x 60,000 pixels."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def test_a_bomb_is_refused_by_its_header(asked: AskedApp) -> None:
    began = time.monotonic()
    sentence = refused(asked, send(asked, "bomb.png", _bomb(), width_mm="300"))
    assert "3,600,000,000 pixels" in sentence
    assert "bomb.png" in sentence
    assert time.monotonic() - began < 2
    assert kept(asked) == []


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"Dear printmaker,", "text"),
        (b"GIF89a" + bytes(100), "GIF"),
        (b"%PDF-1.7", "PDF"),
        (bytes(500), "zeros"),
        (b"\x89PNG\r\n\x1a\n" + bytes(50), "damaged"),
        (b"<html><script>alert(1)</script></html>", "not an SVG"),
    ],
)
def test_what_is_no_picture_gets_the_readers_sentence(asked: AskedApp, content: bytes, said: str) -> None:
    sentence = refused(asked, send(asked, "my <b>file.png", content))
    assert said in sentence
    assert "&lt;b&gt;file" in sentence, "the printmaker's own name for it"
    assert not re.search("[0-9a-f]{64}", sentence)
    assert kept(asked) == []


def test_a_tiny_picture_is_refused(asked: AskedApp) -> None:
    file = io.BytesIO()
    Image.new("RGB", (8, 8), "red").save(file, "PNG")
    assert "too small, 8 x 8 pixels" in refused(asked, send(asked, "dot.png", file.getvalue()))


def test_nothing_sent_is_told(asked: AskedApp) -> None:
    answer = asked.browser.post("/prints", data={"title": "x"}, headers={"HX-Request": "true"})
    assert uploads.NO_PICTURE in refused(asked, answer)


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"--x\r\nbroken", "multipart/form-data; boundary=x"),
        (b"--x", "multipart/form-data"),
        (b"{}", "application/json"),
        (b"", ""),
    ],
)
def test_a_broken_form_is_a_sentence(asked: AskedApp, content: bytes, kind: str) -> None:
    answer = asked.browser.post("/prints", content=content, headers={"Content-Type": kind})
    assert answer.status_code in {400, 422}
    assert "<p>" in answer.text
    assert made(asked) == []


def test_a_picture_over_the_limit_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(uploads, "PICTURE_BYTES", 3_000_000)
    keeper = Uploads(tmp_path)
    keeper.keep(io.BytesIO(bytes(3_000_000)))
    with pytest.raises(PictureError, match="200 MB"):
        keeper.keep(io.BytesIO(bytes(3_000_001)))
    assert len(list((tmp_path / "uploads").iterdir())) == 1


@pytest.mark.parametrize("where", ["uploads", "the system's folder"])
def test_a_full_disk_is_told_in_a_sentence(
    asked: AskedApp, painted: bytes, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise OSError(28, "No space left on device")

    if where == "uploads":
        monkeypatch.setattr(uploads, "_copy", full)
    else:
        monkeypatch.setattr(tempfile.SpooledTemporaryFile, "write", full)
    assert "No space left on device" in refused(asked, send(asked, "mill.png", painted))
    assert kept(asked) == []


def test_pages_go_on_while_a_picture_is_read(
    asked: AskedApp, painted: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = uploads._make

    def slow(*given: Any) -> Any:
        time.sleep(1.0)
        return real(*given)

    monkeypatch.setattr(uploads, "_make", slow)

    async def both() -> float:
        sending = asyncio.create_task(
            asked.browser.ask("POST", "/prints", files={"picture": ("a.png", painted)})
        )
        await asyncio.sleep(0.2)
        began = time.monotonic()
        assert (await asked.browser.ask("GET", "/")).status_code == 200
        took = time.monotonic() - began
        assert not sending.done()
        assert (await sending).status_code == 303
        return took

    assert run_apart(both()) < 0.6

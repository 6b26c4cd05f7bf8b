"""A picture comes in through the browser and becomes a print.

It is kept under the hash of what it holds. What the client calls it is shown and never a path.
"""

import asyncio
import hashlib
import os
import re
import shutil
import tempfile
import threading
import unicodedata
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import BinaryIO, TypeVar

from fastapi import APIRouter, Request, Response
from starlette.datastructures import FormData, UploadFile

from blockwright import project
from blockwright.model.errors import BlockwrightError, FolderError, PictureError, SettingsError
from blockwright.model.settings import PrintTable
from blockwright.model.units import MM_PER_INCH
from blockwright.web import words
from blockwright.web.drawer import Desk, address_of, desk_of, go_to
from blockwright.web.guard import PICTURE_BYTES, TOO_LARGE
from blockwright.web.showing import show

router = APIRouter()

Value = TypeVar("Value")

_PIECE_BYTES = 1 << 20

_PROPOSED_DPI = 200
"""Pixels to the inch at which a picture without a size is proposed to be printed: shapes drawn by hand show
no steps at it. [CP]"""

_PROPOSED_MM = (100, 360)
"""The widths that are proposed: what an ordinary board of the trade carries. [CP]"""

_USUAL_MM = 300
"""Proposed for a picture whose pixels cannot be told from its header."""

_SUFFIXES = (
    (0, b"\x89PNG\r\n\x1a\n", ".png"),
    (0, b"\xff\xd8\xff", ".jpg"),
    (0, b"II*\0", ".tif"),
    (0, b"MM\0*", ".tif"),
    (0, b"II+\0", ".tif"),
    (0, b"MM\0+", ".tif"),
    (8, b"WEBP", ".webp"),
    (0, b"PK\x03\x04", ".ora"),
)
"""What the copy of a picture may be called, by what it begins with; the reader judges it by itself."""

NO_PICTURE = "There is no picture in what was sent; choose one, or drop it on the page."
NOT_KEPT = "The picture could not be kept ({reason}); make room on the disk, or choose another place."
GONE = "That picture is not kept here any more; choose it again."
WIDTH_NO_NUMBER = "The width is “{given}”; it must be a number of mm, such as 300."
WIDTH_OUT_OF_RANGE = "The width is {given} mm; it must be from {least:g} to {most:g} mm."


class Uploads:
    """The pictures that came in, each under its hash."""

    def __init__(self, home: Path) -> None:
        self._folder = home / "uploads"

    def keep(self, file: BinaryIO) -> Path:
        """Copy a picture in, hashed on the way. Raises PictureError when it is too large, and FolderError."""
        coming = None
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            with tempfile.NamedTemporaryFile(dir=self._folder, prefix=".coming-", delete=False) as copy:
                coming = Path(copy.name)
                digest, head = _copy(file, copy)
            place = self._folder / (digest + _suffix(head))
            coming.replace(place)
        except PictureError:
            raise
        except OSError as error:
            raise FolderError(NOT_KEPT.format(reason=error.strerror)) from error
        finally:
            if coming is not None:
                coming.unlink(missing_ok=True)
        return place

    def find(self, digest: str) -> Path:
        """The picture with this hash, in hexadecimal. Raises PictureError when there is none."""
        if re.fullmatch(r"[0-9a-f]{64}", digest):
            for path in self._folder.glob(f"{digest}.*"):
                return path
        raise PictureError(GONE)


def _copy(file: BinaryIO, copy: "tempfile._TemporaryFileWrapper[bytes]") -> tuple[str, bytes]:
    """Copy a file; its SHA-256 in hexadecimal and how it begins."""
    digest, size, head = hashlib.sha256(), 0, b""
    while piece := file.read(_PIECE_BYTES):
        size += len(piece)
        if size > PICTURE_BYTES:
            raise PictureError(TOO_LARGE)
        head = head or piece
        digest.update(piece)
        copy.write(piece)
    copy.flush()
    os.fsync(copy.fileno())
    return digest.hexdigest(), head


def _suffix(head: bytes) -> str:
    for offset, signature, suffix in _SUFFIXES:
        if head.startswith(signature, offset):
            return suffix
    return ".svg" if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<") else ".picture"


@dataclass(frozen=True, slots=True)
class Asked:
    """What came with a picture: its name as the client has it, a title, a width."""

    name: str
    title: str
    width_mm: float | None


@dataclass(frozen=True, slots=True)
class WidthQuestion:
    """The picture does not say how large it is: how wide will the print be?"""

    sentence: str
    upload: Path
    proposed_mm: int


@router.post("/prints")
async def take_in(request: Request) -> Response:
    """Start a print from a picture, sent now (``picture``) or kept from before (``upload``, its hash)."""
    desk = desk_of(request)
    uploads = Uploads(desk.home)
    # While the picture comes in, the process that will work on it loads what it needs.
    desk.jobs.warm()
    try:
        async with request.form(max_files=1, max_fields=8) as form:
            asked, sent = _read(form)
            if isinstance(sent, UploadFile):
                upload = await _apart(lambda: uploads.keep(sent.file))
            else:
                upload = uploads.find(sent)
    except OSError as error:
        # Before it is ours, a picture lies in the system's folder for such things, which may be full.
        if isinstance(error, BlockwrightError):
            raise
        raise FolderError(NOT_KEPT.format(reason=error.strerror)) from error
    made = await _apart(lambda: _make(desk, upload, asked))
    if isinstance(made, WidthQuestion):
        kept = {"upload": upload.stem, "name": asked.name, "title": asked.title}
        return show(
            request,
            "part_width_question.html",
            sentence=made.sentence,
            kept=kept,
            width_mm=made.proposed_mm,
            action="/prints",
        )
    return go_to(request, address_of(made))


def _read(form: FormData) -> tuple[Asked, UploadFile | str]:
    """What was asked, and the picture or the hash of one. Raises PictureError and SettingsError."""

    def text(name: str) -> str:
        value = form.get(name)
        return value if isinstance(value, str) else ""

    sent = form.get("picture")
    if isinstance(sent, UploadFile) and sent.filename:
        name = shown_name(sent.filename)
    else:
        name, sent = shown_name(text("name")), text("upload")
        if not sent:
            raise PictureError(NO_PICTURE)
    title = _plain(text("title"), 200) or _plain(name.rpartition(".")[0].replace("_", " ") or name, 200)
    return Asked(name, title, _width_mm(text("width_mm"))), sent


def _plain(text: str, most: int) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:most].strip()


def shown_name(name: str) -> str:
    """The client's name of a file as a sentence may show it: its last part, on one line."""
    return _plain(re.split(r"[/\\]", name)[-1], 80)


def _width_mm(given: str) -> float | None:
    """A width as someone types or pastes it: ``300``, ``300 mm``, ``300,5``. Raises SettingsError.

    >>> _width_mm(" 300,5 mm ")
    300.5
    >>> _width_mm("") is None
    True
    """
    plain = given.strip()
    if not plain:
        return None
    if not (told := re.fullmatch(r"(\d{1,6}(?:[.,]\d{1,6})?)\s*(?:mm)?", plain)):
        raise SettingsError(WIDTH_NO_NUMBER.format(given=_plain(plain, 40)))
    width_mm = float(told[1].replace(",", "."))
    asked = PrintTable.model_fields["width_mm"].metadata
    least, most = (next(getattr(m, a) for m in asked if hasattr(m, a)) for a in ("ge", "le"))
    if not least <= width_mm <= most:
        raise SettingsError(WIDTH_OUT_OF_RANGE.format(given=told[1], least=least, most=most))
    return width_mm


def _make(desk: Desk, upload: Path, asked: Asked) -> str | WidthQuestion:
    """Make the print's folder and lay it into the drawer; its id, or the question that is open."""
    shown = asked.name or "that was sent"
    try:
        folder = _new_print(desk.prints, upload, asked)
    except SettingsError:
        if asked.width_mm is not None:
            raise
        # All else that could be wrong with the settings was looked at when the form was read.
        return WidthQuestion(words.width_question, upload, _proposed_mm(upload))
    except PictureError as error:
        upload.unlink(missing_ok=True)
        raise PictureError(str(error).replace(upload.name, shown)) from error
    return desk.lay_in(folder)


def _new_print(prints: Path, upload: Path, asked: Asked) -> Path:
    """The print's folder, put whole into the first place that is free. Raises BlockwrightError."""
    making = None
    try:
        prints.mkdir(parents=True, exist_ok=True)
        making = Path(tempfile.mkdtemp(prefix=".making-", dir=prints))
        inside = making / "print"
        project.create(inside, picture=upload, width_mm=asked.width_mm, title=asked.title or None)
        return _put(inside, prints, slug(asked.title))
    except OSError as error:
        if isinstance(error, BlockwrightError):
            raise
        raise FolderError(NOT_KEPT.format(reason=error.strerror)) from error
    finally:
        if making is not None:
            shutil.rmtree(making, ignore_errors=True)


def _put(made: Path, prints: Path, name: str) -> Path:
    for number in count(1):
        place = prints / (name if number == 1 else f"{name}-{number}")
        if place.exists():
            continue
        try:
            return made.rename(place)
        except OSError:
            if not place.exists():  # else another upload took the place
                raise
    raise AssertionError


def slug(title: str) -> str:
    """A folder's name from a title: letters and digits of any script, and hyphens.

    >>> slug("Tide mill, 2nd state"), slug("潮の水車"), slug("/.."), slug("CON")
    ('tide-mill-2nd-state', '潮の水車', 'print', 'con-print')
    """
    parts = re.findall(r"[^\W_]+", unicodedata.normalize("NFKC", title).casefold())
    name = "-".join(parts)[:48].strip("-") or "print"
    # Names that one system keeps for its devices.
    return f"{name}-print" if re.fullmatch(r"con|prn|aux|nul|com\d|lpt\d", name) else name


def _proposed_mm(upload: Path) -> int:
    """A width to propose, in tens of mm, from the pixels that the header tells."""
    from PIL import Image

    try:
        with Image.open(upload) as picture:
            width_mm = picture.width / _PROPOSED_DPI * MM_PER_INCH
    except Exception:  # No kind of picture of that library's, which is for the reader to judge.
        return _USUAL_MM
    least, most = _PROPOSED_MM
    return int(min(most, max(least, 10 * round(width_mm / 10))))


async def _apart(work: Callable[[], Value]) -> Value:
    """Do what takes seconds in a thread that nobody waits for when the app ends."""
    loop = asyncio.get_running_loop()
    done: asyncio.Future[Value] = loop.create_future()

    def settle(value: Value | None, error: BaseException | None) -> None:
        if done.done():
            return
        if error is not None:
            done.set_exception(error)
        else:
            done.set_result(value)  # type: ignore[arg-type]

    def run() -> None:
        value, failed = None, None
        try:
            value = work()
        except BaseException as error:
            failed = error
        with suppress(RuntimeError):  # the loop has ended
            loop.call_soon_threadsafe(settle, value, failed)

    threading.Thread(target=run, daemon=True).start()
    return await done

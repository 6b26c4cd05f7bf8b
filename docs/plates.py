"""The documentation's pictures: what the demo's own output looks like, set on the ground of the house."""

import json
import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
from PIL import Image, ImageDraw
from screen import design_station

from blockwright.documents.fonts import drawing_font
from blockwright.telling import bench_files, file_name

WIDTH_PX = 1400
MARGIN_PX = 30
GAP_PX = 22
GROUND, INK, SECONDARY, EDGE = "#e9e2d3", "#221e19", "#655d4f", "#8b8272"
JPEG_QUALITY = 86

DETAIL_MM = (250.0, 124.0, 322.0, 172.0)
"""Left, top, right and lower edge of the part that the board shows large: the mill's wheel."""

HERON_MM = (162.0, 37.0)
"""A place in the heron, the shape that is chosen in the picture of the app."""

_CAPTION = 21
_NOTE = 18


def write_plate(path: Path, plate: Image.Image) -> None:
    """Write a plate as JPEG without colour subsampling, so that hairlines keep their colour."""
    plate.save(path, "JPEG", quality=JPEG_QUALITY, subsampling=0, optimize=True)


def _open(path: Path) -> Image.Image:
    return Image.open(path).convert("RGB")


def _told(mill: Path, stage: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((mill / "out" / stage / f"{stage}.json").read_text(encoding="utf-8"))
    return told


def _ground(height_px: int) -> Image.Image:
    return Image.new("RGB", (WIDTH_PX, height_px), GROUND)


def _lay(plate: Image.Image, picture: Image.Image, x: int, y: int) -> None:
    """Lay a picture on the ground with a hairline round it."""
    plate.paste(picture, (x, y))
    ImageDraw.Draw(plate).rectangle((x - 1, y - 1, x + picture.width, y + picture.height), outline=EDGE)


def _columns(count: int) -> tuple[int, list[int]]:
    """Width of so many columns, and where each begins."""
    width = (WIDTH_PX - 2 * MARGIN_PX - (count - 1) * GAP_PX) // count
    return width, [MARGIN_PX + k * (width + GAP_PX) for k in range(count)]


def _fit(picture: Image.Image, width: int) -> Image.Image:
    height = round(picture.height * width / picture.width)
    return picture.resize((width, height), Image.Resampling.LANCZOS)


def _part(picture: Image.Image, width_mm: float) -> Image.Image:
    left, top, right, lower = (edge * picture.width / width_mm for edge in DETAIL_MM)
    return picture.crop((round(left), round(top), round(right), round(lower)))


def board(mill: Path) -> Image.Image:
    """Design, shapes and predicted print side by side, whole and in part."""
    width_mm = _told(mill, "design")["figures"]["width_mm"]
    sources = (
        ("The design, as painted", mill / "design.png"),
        ("Its shapes", mill / "out" / "design" / "shapes.png"),
        ("The print, as predicted", mill / "out" / "proof" / "proof.png"),
    )
    width, lefts = _columns(len(sources))
    whole_height = round(width * 2 / 3)
    detail_height = round(width * (DETAIL_MM[3] - DETAIL_MM[1]) / (DETAIL_MM[2] - DETAIL_MM[0]))
    second = MARGIN_PX + whole_height + GAP_PX
    plate = _ground(second + detail_height + 46 + MARGIN_PX // 2)
    draw = ImageDraw.Draw(plate)
    caption = drawing_font("regular", _CAPTION)
    for left, (words, path) in zip(lefts, sources, strict=True):
        picture = _open(path)
        _lay(plate, picture.resize((width, whole_height), Image.Resampling.LANCZOS), left, MARGIN_PX)
        part = _part(picture, width_mm).resize((width, detail_height), Image.Resampling.LANCZOS)
        _lay(plate, part, left, second)
        draw.text((left, second + detail_height + 12), words, INK, caption)
    return plate


def _pages(path: Path) -> list[Any]:
    document = pypdfium2.PdfDocument(path)
    return [document[k] for k in range(len(document))]


def _drawn(page: Any, width_px: int) -> Image.Image:
    """A PDF page as pixels, drawn twice as large and averaged down."""
    scale = 2.0 * width_px / page.get_width()
    large: Image.Image = page.render(scale=scale).to_pil().convert("RGB")
    return _fit(large, width_px)


def _page_that_says(pages: Sequence[Any], words: str) -> Any:
    return next(page for page in pages if words in page.get_textpage().get_text_range())


def packet(mill: Path) -> Image.Image:
    """Three pages of the packet: the cover, the printing order, the last face."""
    pages = _pages(mill / "out" / "packet.pdf")
    last_face = _told(mill, "blocks")["boards"][-1]["faces"][-1]["name"]
    chosen = (
        pages[0],
        [page for page in pages if page.get_textpage().get_text_range().startswith("Printing order")][1],
        _page_that_says(pages[1:], f"{file_name(last_face)}-face-down"),
    )
    width, lefts = _columns(len(chosen))
    drawn = [_drawn(page, width) for page in chosen]
    plate = _ground(drawn[0].height + 2 * MARGIN_PX)
    for left, picture in zip(lefts, drawn, strict=True):
        _lay(plate, picture, left, MARGIN_PX)
    return plate


def transfer_sheet(mill: Path) -> Image.Image:
    """The last sheet of the last face, to be pasted face down."""
    last_face = _told(mill, "blocks")["boards"][-1]["faces"][-1]["name"]
    pages = _pages(mill / "out" / "cutting" / bench_files(last_face)[0])
    picture = _drawn(pages[-1], WIDTH_PX - 2 * MARGIN_PX)
    plate = _ground(picture.height + 2 * MARGIN_PX)
    _lay(plate, picture, MARGIN_PX, MARGIN_PX)
    return plate


def inks(mill: Path) -> Image.Image:
    """Two pages of ink cards."""
    pages = _pages(mill / "out" / "inks" / "cards.pdf")[2:4]
    width, lefts = _columns(len(pages))
    drawn = [_drawn(page, width) for page in pages]
    plate = _ground(drawn[0].height + 2 * MARGIN_PX)
    for left, picture in zip(lefts, drawn, strict=True):
        _lay(plate, picture, left, MARGIN_PX)
    return plate


def face(mill: Path) -> Image.Image:
    """The drawing of the last face: the key block."""
    last_face = _told(mill, "blocks")["boards"][-1]["faces"][-1]["name"]
    return _fit(_open(mill / "out" / "blocks" / f"{file_name(last_face)}.png"), WIDTH_PX)


def routed(mill: Path) -> Image.Image:
    """The key block as its programs cut it, in simulation, and the job sheet that goes with it to a shop."""
    from blockwright import project

    last_face = _told(mill, "blocks")["boards"][-1]["faces"][-1]["name"]
    with tempfile.TemporaryDirectory() as name:
        copy = Path(shutil.copytree(mill, Path(name) / mill.name))
        decisions = copy / "print.toml"
        decided = f'\n[[cutting.face]]\nface = "{last_face}"\nmethod = "router"\n'
        decisions.write_text(decisions.read_text(encoding="utf-8") + decided, encoding="utf-8")
        project.make(copy, upto="cutting")
        shop = copy / "out" / "cutting" / f"{file_name(last_face)}-shop"
        relief = _open(shop / "relief.png")
        sheet = _pages(shop / "job-sheet.pdf")[0]
        across = WIDTH_PX - 2 * MARGIN_PX - GAP_PX
        tall = sheet.get_height() / sheet.get_width()
        flat = relief.height / relief.width
        # Both as tall as each other.
        width = round(across * flat / (tall + flat))
        page = _drawn(sheet, width)
        face_cut = relief.resize((across - width, page.height), Image.Resampling.LANCZOS)
    plate = _ground(page.height + 2 * MARGIN_PX)
    _lay(plate, face_cut, MARGIN_PX, MARGIN_PX)
    _lay(plate, page, MARGIN_PX + face_cut.width + GAP_PX, MARGIN_PX)
    return plate


def progressive(mill: Path) -> Image.Image:
    """Six of the progressive proofs, evenly taken from the first impression to the last."""
    impressions = _told(mill, "separation")["impressions"]
    chosen = np.unique(np.linspace(0, len(impressions) - 1, 6).round().astype(int)).tolist()
    width, lefts = _columns(3)
    height = round(width * 2 / 3)
    row = height + 52
    rows = -(-len(chosen) // 3)
    plate = _ground(MARGIN_PX + rows * row + 4)
    draw = ImageDraw.Draw(plate)
    number_font, name_font = drawing_font("semibold", _CAPTION), drawing_font("regular", _CAPTION)
    for place, index in enumerate(chosen):
        each = impressions[index]
        x, y = lefts[place % 3], MARGIN_PX + (place // 3) * row
        picture = _open(mill / "out" / "proof" / f"after-{each['number']:02d}.png")
        _lay(plate, picture.resize((width, height), Image.Resampling.LANCZOS), x, y)
        number = f"{each['number']}"
        draw.text((x, y + height + 8), number, INK, number_font)
        shift = draw.textlength(number + "  ", number_font)
        draw.text((x + shift, y + height + 8), each["name"], INK, name_font)
    return plate


def app(mill: Path) -> Image.Image:
    """The app's Design station: the picture beside its shapes, the heron chosen."""
    return _fit(design_station(mill, HERON_MM), WIDTH_PX)


PLATES: dict[str, Callable[[Path], Image.Image]] = {
    "board.jpg": board,
    "packet.jpg": packet,
    "transfer-sheet.jpg": transfer_sheet,
    "inks.jpg": inks,
    "face.jpg": face,
    "routed.jpg": routed,
    "progressive.jpg": progressive,
    "app.jpg": app,
}
"""The pictures by file name; each is given a print folder with everything made."""

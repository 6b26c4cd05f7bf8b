"""OpenRaster (freedesktop.org, OpenRaster baseline 0.0.5): the merged picture in the packed folder."""

import zipfile
from dataclasses import replace
from xml.parsers import expat

from blockwright.design.read_layers import Sheet
from blockwright.design.read_png import png_sheet
from blockwright.design.read_source import Source, stored_resolution
from blockwright.model.findings import Finding
from blockwright.model.units import MM_PER_INCH

_MIMETYPE = b"image/openraster"
_LARGEST_STACK_BYTES = 4 * 2**20
"""The list of layers; the longest have some hundred kB."""
_MOST_TIMES_PACKED = 20
"""A PNG is packed already, so that packing it again gains nearly nothing; more than this is a trap."""
_SPARE_BYTES = 2**20
_ENCRYPTED = 1


def load_openraster(source: Source) -> Sheet:
    """Read an OpenRaster file: ``mergedimage.png``, which the standard asks for, and the resolution.

    Nothing is unpacked onto the disk, so that the names inside cannot lead anywhere. Raises PictureError for
    any other zip, for one without the merged picture, and for one that would grow out of measure.
    """
    try:
        with zipfile.ZipFile(source.path) as folder:
            _check_mimetype(source, folder)
            stack = _part(source, folder, "stack.xml", _LARGEST_STACK_BYTES)
            merged = _merged(source, folder)
    except (zipfile.BadZipFile, EOFError) as error:
        raise source.damaged() from error
    attributes, layer_count = _read_stack(source, stack)
    sheet = png_sheet(replace(source, inside="holds a merged picture that "), merged)
    notes = list(sheet.notes)
    pixels_per_mm = sheet.pixels_per_mm
    if "xres" in attributes and "yres" in attributes:
        x, y = (_number(attributes[key]) / MM_PER_INCH for key in ("xres", "yres"))
        pixels_per_mm, found = stored_resolution(x, y)
        notes = list(found)
    if layer_count > 1:
        message = (
            f"The picture has {layer_count} layers; they were taken as laid over one another in the file."
        )
        notes.insert(0, Finding("layers-laid-over", "note", message))
    return Sheet(sheet.layers, pixels_per_mm, tuple(notes))


def _part(source: Source, folder: zipfile.ZipFile, name: str, most_bytes: int) -> bytes:
    """Read one part, or nothing when it is not there; PictureError when it is too large or locked."""
    try:
        entry = folder.getinfo(name)
    except KeyError:
        return b""
    if entry.flag_bits & _ENCRYPTED:
        raise source.refuse("is locked with a password; save it without one.")
    if entry.file_size > most_bytes:
        raise source.damaged()
    return folder.read(entry)


def _check_mimetype(source: Source, folder: zipfile.ZipFile) -> None:
    sizes = {entry.filename: entry.file_size for entry in folder.infolist()}
    most = len(_MIMETYPE) + 2
    if sizes.get("mimetype", 0) > most or _part(source, folder, "mimetype", most).strip() != _MIMETYPE:
        raise source.refuse("is a zip folder, not an OpenRaster picture; unpack it and give the picture.")


def _merged(source: Source, folder: zipfile.ZipFile) -> bytes:
    name = "mergedimage.png"
    if name not in folder.namelist():
        raise source.refuse("holds no merged picture (mergedimage.png); save it again, or as PNG.")
    entry = folder.getinfo(name)
    return _part(source, folder, name, entry.compress_size * _MOST_TIMES_PACKED + _SPARE_BYTES)


def _read_stack(source: Source, stack: bytes) -> tuple[dict[str, str], int]:
    """Give the attributes of the whole picture and the number of its layers."""
    names: list[str] = []
    picture: dict[str, str] = {}

    def start(name: str, attributes: dict[str, str]) -> None:
        if not names:
            picture.update(attributes)
        names.append(name)

    def refuse_entity(*_: object) -> None:
        raise source.refuse("declares entities in its list of layers; save it again from its program.")

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.EntityDeclHandler = refuse_entity
    try:
        parser.Parse(stack, True)
    except expat.ExpatError as error:
        raise source.damaged() from error
    if names[0] != "image":
        raise source.damaged()
    return picture, names.count("layer")


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return 0.0

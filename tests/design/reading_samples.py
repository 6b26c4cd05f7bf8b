"""Small pictures and the files that hold them, made for the tests of reading."""

import base64
import io
import struct
import zipfile
import zlib
from typing import Any

import imagecodecs
import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image

PAPER = "#f6efdf"
PAPER_RGB = (246, 239, 223)


def painted(height: int = 20, width: int = 24) -> NDArray[np.uint8]:
    """Flat fields without any symmetry, with a line one pixel wide."""
    pixels = np.empty((height, width, 3), np.uint8)
    pixels[:] = (240, 230, 210)
    pixels[: height // 2, : width // 3] = (30, 60, 120)
    pixels[height // 3 :, width // 2 :] = (200, 60, 40)
    pixels[height // 4] = (20, 20, 24)
    pixels[-3:, 2:5] = (90, 140, 60)
    return pixels


def with_alpha(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture with every degree of transparency from left to right."""
    height, width = pixels.shape[:2]
    alpha = np.rint(np.linspace(0, 255, width)).astype(np.uint8)
    return np.dstack([pixels, np.tile(alpha, (height, 1))])


def over_paper(rgba: NDArray[np.uint8]) -> NDArray[np.float64]:
    """What the picture looks like on the paper, in sRGB's coded values, in floating point."""
    share = rgba[..., 3:] / 255.0
    result: NDArray[np.float64] = rgba[..., :3] * share + np.array(PAPER_RGB) * (1 - share)
    return result


def by_pillow(pixels: NDArray[Any], kind: str, mode: str | None = None, **options: Any) -> bytes:
    """A file written by Pillow."""
    picture = Image.fromarray(pixels)
    if mode:
        picture = picture.quantize(16) if mode == "P" else picture.convert(mode)
    file = io.BytesIO()
    picture.save(file, kind, **options)
    return file.getvalue()


def by_tifffile(*pages: NDArray[Any], **options: Any) -> bytes:
    """A TIFF written by tifffile, a page for each array."""
    file = io.BytesIO()
    form = {key: options.pop(key) for key in ("bigtiff", "byteorder") if key in options}
    with tifffile.TiffWriter(file, **form) as writer:
        for page in pages:
            writer.write(page, metadata=None, software=False, **options)
    return file.getvalue()


def png_chunk(kind: bytes, body: bytes) -> bytes:
    """One chunk with its length and checksum (ISO/IEC 15948)."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def with_png_chunk(png: bytes, kind: bytes, body: bytes) -> bytes:
    """A PNG with one more chunk, right after its header."""
    return png[:33] + png_chunk(kind, body) + png[33:]


def openraster(
    merged: bytes | None, *, mimetype: bytes = b"image/openraster", stack: bytes | None = None
) -> bytes:
    """An OpenRaster file as the standard describes it."""
    if stack is None:
        stack = (
            b"<?xml version='1.0' encoding='UTF-8'?>"
            b'<image version="0.0.5" w="24" h="20" xres="300" yres="300"><stack>'
            b'<layer name="line" src="data/1.png"/><layer name="colour" src="data/0.png"/></stack></image>'
        )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as folder:
        folder.writestr("mimetype", mimetype, zipfile.ZIP_STORED)
        folder.writestr("stack.xml", stack)
        if merged is not None:
            folder.writestr("mergedimage.png", merged)
    return file.getvalue()


def svg(body: str, attributes: str = 'width="60mm" height="40mm" viewBox="0 0 60 40"') -> bytes:
    """An SVG drawing with a body."""
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"<svg {spaces} {attributes}>{body}</svg>".encode()


DRAWN = '<rect width="30" height="40" fill="#c83c28"/><circle cx="40" cy="20" r="8" fill="#1e3c78"/>'


def samples() -> dict[str, bytes]:
    """A whole file of every kind that is read, by name."""
    pixels = painted()
    rgba = with_alpha(pixels)
    deep = pixels.astype(np.uint16) * 257
    profile: bytes = imagecodecs.cms_profile("adobergb")
    exif = Image.Exif()
    exif[274], exif[282], exif[283], exif[296] = 6, 300, 300, 2
    return {
        "rgb.png": by_pillow(pixels, "PNG", dpi=(300, 300), icc_profile=profile),
        "rgba.png": by_pillow(rgba, "PNG", exif=exif),
        "palette.png": by_pillow(pixels, "PNG", "P", transparency=0),
        "deep.png": bytes(imagecodecs.png_encode(deep)),
        "baseline.jpg": by_pillow(pixels, "JPEG", exif=exif, dpi=(300, 300), icc_profile=profile),
        "progressive.jpg": by_pillow(pixels, "JPEG", progressive=True),
        "grey.jpg": by_pillow(pixels, "JPEG", "L"),
        "lossy.webp": by_pillow(pixels, "WEBP", icc_profile=profile, exif=exif),
        "lossless.webp": by_pillow(rgba, "WEBP", lossless=True),
        "plain.tif": by_tifffile(pixels, photometric="rgb", resolution=(300, 300), resolutionunit=2),
        "lzw.tif": by_tifffile(pixels, photometric="rgb", compression="lzw", predictor=True),
        "tiled.tif": by_tifffile(rgba, photometric="rgb", compression="zlib", tile=(16, 16)),
        "deep.tif": by_tifffile(deep, photometric="rgb", compression="zstd", iccprofile=profile),
        "palette.tif": by_pillow(pixels, "TIFF", "P"),
        "bits.tif": by_pillow(pixels, "TIFF", "1"),
        "layers.tif": by_tifffile(pixels, rgba[::-1], photometric="rgb", bigtiff=True),
        "layers.ora": openraster(by_pillow(rgba, "PNG")),
        "drawing.svg": svg(DRAWN),
        "pictured.svg": svg(DRAWN + embedded(by_pillow(pixels, "PNG"))),
    }


def embedded(picture: bytes, kind: str = "png") -> str:
    """A picture inside a drawing."""
    code = base64.b64encode(picture).decode()
    return f'<image width="20" height="20" xlink:href="data:image/{kind};base64,{code}"/>'

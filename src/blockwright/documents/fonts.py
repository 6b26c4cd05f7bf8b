"""The serif of the papers, and what stands in where it has no glyph.

The serif is Source Serif 4 (SIL Open Font License), merged for this project. Signs that it lacks come from
the Symbol font and East Asian characters from the fonts that ISO 32000 readers bring along; both are named
in the file but not embedded. What is left is printed as its nearest plain letter, or as a question mark.
"""

import unicodedata
from functools import lru_cache
from importlib import resources
from io import BytesIO
from itertools import groupby
from typing import Literal

from PIL import ImageFont
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfbase.ttfonts import TTFont

FontFace = Literal["regular", "italic", "semibold"]

SYMBOL_SIGNS = frozenset("≤≥≈≠→←↔∞∂√∑∏∫≡∈")
"""Signs taken from the Symbol font, one of the standard fonts of ISO 32000-1, 9.6.2.2."""

EAST_ASIAN = (("HeiseiMin-W3", "shift_jis"), ("STSong-Light", "gb2312"), ("HYSMyeongJo-Medium", "euc_kr"))
"""Predefined East Asian fonts and the character set that each is sure to hold."""

NO_BREAK = "\u00a0"
"""A space where a line must not break; it is printed as a plain space, so that text can be searched for."""

STAND_INS = {
    NO_BREAK: " ",
    "‑": "-",
    "‐": "-",
    "‒": "–",
    "―": "—",
    "⁄": "/",
    "∙": "·",
    "‛": "‘",
    "⅓": "1/3",
    "⅔": "2/3",
}
"""Nearest printable text for signs that Unicode does not decompose."""


def face_bytes(face: FontFace) -> bytes:
    """Return the TrueType file of a face of the serif."""
    return resources.files("blockwright").joinpath("data", "fonts", f"serif-{face}.ttf").read_bytes()


@lru_cache(maxsize=64)
def drawing_font(face: FontFace, size_px: int) -> ImageFont.FreeTypeFont:
    """Return a face of the serif for drawing on a raster, ``size_px`` pixels to the em."""
    return ImageFont.truetype(BytesIO(face_bytes(face)), size_px)


@lru_cache(maxsize=8)
def registered(face: FontFace) -> str:
    """Register a face of the serif with reportlab, once, and return the name it goes by."""
    name = f"BlockwrightSerif-{face}"
    pdfmetrics.registerFont(TTFont(name, BytesIO(face_bytes(face))))
    return name


@lru_cache(maxsize=8)
def _registered_east_asian(name: str) -> str:
    pdfmetrics.registerFont(UnicodeCIDFont(name))
    return name


@lru_cache(maxsize=4)
def _glyphs(face: FontFace) -> frozenset[int]:
    return frozenset(pdfmetrics.getFont(registered(face)).face.charToGlyph)


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Compose accents, and turn line breaks, control characters and lone surrogates into single blanks.

    A no-break space stays what it is.

    >>> plain("Tide\\tmill\\n at low water")
    'Tide mill at low water'
    """
    printable = "".join(
        " " if unicodedata.category(sign)[0] in "CZ" and sign != NO_BREAK else sign for sign in text
    )
    return " ".join(word for word in unicodedata.normalize("NFC", printable).split(" ") if word)


def _east_asian_font(sign: str) -> str | None:
    for name, charset in EAST_ASIAN:
        try:
            sign.encode(charset)
        except UnicodeEncodeError:
            continue
        return name
    return None


@lru_cache(maxsize=8192)
def _setting(sign: str, face: FontFace) -> tuple[str, str]:
    """Return the font that prints one sign, and what to print."""
    serif, glyphs = registered(face), _glyphs(face)
    if ord(sign) in glyphs and sign != NO_BREAK:
        return serif, sign
    if sign in STAND_INS:
        return serif, STAND_INS[sign]
    if sign in SYMBOL_SIGNS:
        return "Symbol", sign
    if unicodedata.category(sign)[0] in "LNPS" and (name := _east_asian_font(sign)):
        return _registered_east_asian(name), sign
    nearest = "".join(part for part in unicodedata.normalize("NFKD", sign) if ord(part) in glyphs)
    return serif, nearest or ("" if unicodedata.combining(sign) else "?")


@lru_cache(maxsize=4096)
def runs(text: str, face: FontFace) -> tuple[tuple[str, str], ...]:
    """Split a text into runs of (font name, text to print), so that every sign has a glyph.

    >>> runs("ΔE ≤ 2", "regular")
    (('BlockwrightSerif-regular', 'ΔE '), ('Symbol', '≤'), ('BlockwrightSerif-regular', ' 2'))
    """
    settings = (_setting(sign, face) for sign in text)
    return tuple(
        (font, "".join(part for _, part in group))
        for font, group in groupby(settings, key=lambda pair: pair[0])
    )


@lru_cache(maxsize=16384)
def width_points(text: str, face: FontFace, size_points: float) -> float:
    """Return how wide a text is set in one line, in points."""
    return float(sum(pdfmetrics.stringWidth(part, font, size_points) for font, part in runs(text, face)))


def drawable(text: str, face: FontFace) -> str:
    """Return a text with only those signs that the serif itself holds, for drawing on a raster.

    >>> drawable("潮 at Łódź", "regular")
    '? at Łódź'
    """
    serif = registered(face)
    return "".join(part if font == serif else "?" for font, part in (_setting(sign, face) for sign in text))

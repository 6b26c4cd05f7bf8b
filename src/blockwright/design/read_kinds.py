"""What kind of file is this? Told by its content, never by its name."""

from typing import Literal

from blockwright.design.read_source import READABLE_KINDS, Source

Kind = Literal["png", "jpeg", "webp", "tiff", "zip", "svg"]

HEAD_BYTES = 65_536
"""How much of a file is looked at: enough for an SVG that begins with long comments."""

_READABLE: tuple[tuple[bytes, Kind], ...] = (
    (b"\x89PNG\r\n\x1a\n", "png"),
    (b"\xff\xd8\xff", "jpeg"),
    (b"II*\0", "tiff"),
    (b"MM\0*", "tiff"),
    (b"II+\0", "tiff"),
    (b"MM\0+", "tiff"),
    (b"PK\x03\x04", "zip"),
)

_SAVE = f"save it as {READABLE_KINDS}."
_FOREIGN: tuple[tuple[int, bytes, str], ...] = (
    (0, b"GIF8", f"is a GIF, made for animations of few colours; {_SAVE}"),
    (0, b"%PDF", "is a PDF, a document; save its picture as SVG, or as PNG at 300 pixels to the inch."),
    (0, b"%!PS", "is a PostScript file; save it as SVG, or as PNG at 300 pixels to the inch."),
    (0, b"\xc5\xd0\xd3\xc6", "is a PostScript file; save it as SVG, or as PNG at 300 pixels to the inch."),
    (0, b"8BPS", "is a PSD, the working file of a painting program; save a copy as TIFF or PNG."),
    (0, b"gimp xcf", "is an XCF, the working file of a painting program; save a copy as TIFF or PNG."),
    (0, b"CSFCHUNK", "is the working file of a painting program; save a copy as TIFF or PNG."),
    (0, b"BM", f"is a BMP; {_SAVE}"),
    (0, b"\0\0\x01\0", "is an icon; save it as PNG."),
    (0, b"\0\0\0\x0cJXL ", "is a JPEG XL; save it as PNG or TIFF."),
    (0, b"\xff\x0a", "is a JPEG XL; save it as PNG or TIFF."),
    (0, b"\0\0\0\x0cjP  ", "is a JPEG 2000; save it as PNG or TIFF."),
    (0, b"\xff\x4f\xff\x51", "is a JPEG 2000; save it as PNG or TIFF."),
    (0, b"\x76\x2f\x31\x01", "is an OpenEXR of high range; save it as PNG or TIFF of 16 bits."),
    (0, b"\x1f\x8b", "is packed with gzip; unpack it first (an SVGZ becomes an SVG)."),
    (0, b"PK\x05\x06", "is an empty zip folder; give the file of the picture."),
    (4, b"ftypavi", "is an AVIF; save it as PNG or TIFF."),
    (4, b"ftyp", "is a HEIC or a film; save the picture as PNG, TIFF or JPEG."),
)


def sniff(source: Source) -> Kind:
    """Tell the kind of a picture file, or raise PictureError with the sentence that says what to do."""
    head = source.head(HEAD_BYTES)
    if not head:
        raise source.refuse("is an empty file; save it again or take another copy.")
    for signature, kind in _READABLE:
        if head.startswith(signature):
            return kind
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return "webp"
    for offset, signature, sentence in _FOREIGN:
        if head.startswith(signature, offset):
            raise source.refuse(sentence)
    if not any(head):
        raise source.refuse("holds nothing but zeros; save it again or take another copy.")
    text = _as_text(head)
    if text is None:
        raise source.refuse(f"is no kind of picture that is known here; {_SAVE}")
    if text.lstrip().startswith("<"):
        if "<svg" in text or ":svg" in text:
            return "svg"
        raise source.refuse(f"holds marked-up text that is not an SVG drawing; {_SAVE}")
    raise source.refuse(f"holds text, not a picture; {_SAVE}")


def _as_text(head: bytes) -> str | None:
    """Decode the beginning of a text file, or give None for anything else."""
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head[: len(head) // 2 * 2].decode("utf-16", "replace")
    if b"\0" in head:
        return None
    try:
        return head.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if error.start > len(head) - 4:  # the last letter was cut in two
            return head[: error.start].decode("utf-8-sig")
        if head.lstrip().startswith(b"<"):
            return head.decode("latin-1")
    return None

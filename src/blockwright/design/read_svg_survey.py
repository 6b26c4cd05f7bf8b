"""An SVG looked through before it is drawn: what it links to, what it holds, how deep it goes."""

import base64
import binascii
import codecs
import re
from dataclasses import dataclass, field, replace
from xml.parsers import expat

from blockwright.design.read_jpeg import jpeg_sheet
from blockwright.design.read_png import png_sheet
from blockwright.design.read_source import Source
from blockwright.design.read_webp import webp_sheet

_SVG = "http://www.w3.org/2000/svg"
_LARGEST_FILE_BYTES = 64 * 2**20
_DEEPEST = 250
"""Groups within groups; drawings have some dozens, and the renderer's stack holds thousands of these."""

_PICTURES = frozenset({"image", "feImage"})
_LINKS_THAT_DRAW_NOTHING = frozenset({"a", "script"})
_LETTERS = frozenset({"text", "foreignObject"})
_LINK_IN_STYLE = re.compile(r"""url\(\s*["']?([^"')]*)""", re.IGNORECASE)
_ENCODING = re.compile(rb"""<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
_START_TAG = re.compile(rb"""<[^\s/>]+(?:\s+[^\s=]+\s*=\s*(?:"[^"]*"|'[^']*'))*\s*/?>""")


@dataclass(slots=True)
class Survey:
    """What was found: the root's attributes and place, and whether there are letters."""

    source: Source
    attributes: dict[str, str] = field(default_factory=dict)
    root_at_byte: int = -1
    letters: bool = False
    _path: list[str] = field(default_factory=list)
    _style: list[str] = field(default_factory=list)

    def start(self, parser: expat.XMLParserType, name: str, attributes: dict[str, str]) -> None:
        """Take note of one element; PictureError for what must not be drawn."""
        space, _, local = name.rpartition(" ")
        if not self._path:
            if (space, local) != (_SVG, "svg"):
                raise self.source.refuse("holds marked-up text, but no SVG drawing; save it as SVG or PNG.")
            self.attributes = attributes
            self.root_at_byte = parser.CurrentByteIndex
        if len(self._path) >= _DEEPEST:
            raise self.source.refuse(
                f"has groups nested more than {_DEEPEST} deep; ungroup them, or save it as PNG."
            )
        inside_switch = bool(self._path) and self._path[-1] == "switch"
        if space == _SVG and local in _LETTERS and not (local == "foreignObject" and inside_switch):
            self.letters = True
        if (space == _SVG and local not in _LINKS_THAT_DRAW_NOTHING) or local in _PICTURES:
            for key, value in attributes.items():
                if key.rpartition(" ")[2] == "href":
                    self._link(local, value)
                else:
                    self._links_in_style(value)
        self._path.append(local)

    def end(self, _name: str) -> None:
        """Close the element opened last."""
        self._path.pop()

    def characters(self, text: str) -> None:
        """Keep the text of style sheets."""
        if self._path and self._path[-1] == "style":
            self._style.append(text)

    def processing_instruction(self, target: str, _data: str) -> None:
        """Refuse style sheets outside the file."""
        if target == "xml-stylesheet":
            raise self._outside("a style sheet")

    def entity(self, *_declaration: object) -> None:
        """Refuse every entity: a few of them can stand for any amount of text."""
        raise self.source.refuse("declares entities; save it as plain SVG, or as PNG.")

    def finish(self) -> None:
        """Look at the style sheets as a whole."""
        style = "".join(self._style)
        if "@import" in style.lower():
            raise self._outside("a style sheet")
        self._links_in_style(style)

    def _links_in_style(self, style: str) -> None:
        """Let through paints and masks of this file only; the renderer would leave out the others."""
        for link in _LINK_IN_STYLE.findall(style):
            if not link.startswith(("#", "data:")):
                raise self._outside("a picture or a drawing")

    def _outside(self, what: str) -> Exception:
        return self.source.refuse(f"uses {what} outside the file; embed it, or save the drawing as PNG.")

    def _link(self, local: str, value: str) -> None:
        if not value or value.startswith("#"):
            return
        if local in _PICTURES and value.startswith("data:"):
            self._embedded(value)
            return
        raise self._outside("a picture or a drawing")

    def _embedded(self, link: str) -> None:
        """Decode a picture inside the drawing once, so that its limits hold and damage is noticed."""
        inner = replace(self.source, inside="holds a picture that ", least_side_px=1)
        header, _, body = link.partition(",")
        try:
            data = base64.b64decode(re.sub(r"\s", "", body), validate=True)
        except (binascii.Error, ValueError) as error:
            raise inner.damaged() from error
        if "base64" not in header:
            raise inner.refuse("is stored in an unusual way; save the drawing as PNG.")
        if data.startswith(b"\x89PNG"):
            png_sheet(inner, data)
        elif data.startswith(b"\xff\xd8"):
            jpeg_sheet(inner, data)
        elif data[:4] == b"RIFF" and data[8:12] == b"WEBP":
            webp_sheet(inner, data)
        else:
            raise inner.refuse("is neither PNG, JPEG nor WebP; save the drawing as PNG.")


def survey(source: Source, data: bytes) -> tuple[Survey, bytes, bytes]:
    """Look through an SVG: what was found, the root's start tag, and everything after it, in UTF-8.

    Raises PictureError for entities, for links out of the file, for pictures inside that cannot be read, for
    nesting beyond measure, and for text that is no well-formed SVG. Nothing outside the file is opened.
    """
    if len(data) > _LARGEST_FILE_BYTES:
        raise source.refuse(f"takes {len(data):,} bytes: a drawing may have {_LARGEST_FILE_BYTES:,}.")
    text = _in_utf8(source, data)
    found = Survey(source)
    parser = expat.ParserCreate("utf-8", " ")
    parser.StartElementHandler = lambda name, attributes: found.start(parser, name, attributes)
    parser.EndElementHandler = found.end
    parser.CharacterDataHandler = found.characters
    parser.ProcessingInstructionHandler = found.processing_instruction
    parser.EntityDeclHandler = found.entity
    try:
        parser.Parse(text, True)
    except expat.ExpatError as error:
        raise source.damaged() from error
    finally:
        parser.StartElementHandler = None  # the parser and its handler hold one another
    found.finish()
    tag = _START_TAG.match(text, found.root_at_byte)
    if tag is None:
        raise source.damaged()
    return found, tag.group(), text[tag.end() :]


def _in_utf8(source: Source, data: bytes) -> bytes:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    else:
        declared = _ENCODING.search(data[:256])
        encoding = declared.group(1).decode() if declared else "utf-8"
    try:
        if codecs.lookup(encoding).name == "utf-8":
            encoding = "utf-8-sig"
        return data.decode(encoding).encode()
    except (LookupError, ValueError) as error:
        raise source.damaged() from error

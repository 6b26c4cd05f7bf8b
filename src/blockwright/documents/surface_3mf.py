"""The surface of a cut block as a 3MF file (3MF Core Specification 1.3; ECMA-376 part 2 for the package)."""

from pathlib import Path
from xml.sax.saxutils import escape
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.geometry.surface_mesh import Body, body_of
from blockwright.model.errors import FolderError

_POINT = np.frombuffer(b'<vertex x="" y="" z=""/>\n', np.uint8)
_TRIANGLE = np.frombuffer(b'<triangle v1="" v2="" v3=""/>\n', np.uint8)
_QUOTE, _ZERO, _STOP = ord('"'), ord("0"), ord(".")

_LONGEST = 12
"""Signs of the longest number: a million mm to a thousandth."""

_EVER = (1980, 1, 1, 0, 0, 0)
"""The date of every part, the first that a package can have: the same body gives the same bytes."""

_LEVEL = 1
"""How hard the file is packed: more makes it a tenth smaller and takes three times as long."""

_TYPES = """<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"""

_LINKS = """<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Target="/3D/3dmodel.model" Id="model" \
Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"""

_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en-GB" \
xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<metadata name="Title">{title}</metadata>
<metadata name="Application">blockwright</metadata>
<metadata name="Description">{words}</metadata>
<resources>
<object id="1" type="model" name="{face}">
<mesh>
<vertices>
"""

_BETWEEN = b"</vertices>\n<triangles>\n"

_TAIL = b"""</triangles>
</mesh>
</object>
</resources>
<build>
<item objectid="1"/>
</build>
</model>
"""


def write_surface_3mf(
    path: Path,
    heights: NDArray[np.float32],
    *,
    step_mm: float,
    thickness_mm: float,
    face: str,
    title: str,
    tolerance_mm: float = 0.02,
    most_triangles: int = 800_000,
) -> Body:
    """Write a cut block as one closed body in mm, and return it: it tells how closely it follows the heights.

    ``heights`` are as :func:`blockwright.geometry.surface_mesh.body_of` takes them. x and y are the program's
    own; z is 0 at the block's bottom and ``thickness_mm`` at its face. The same surface gives the same bytes.
    Raises FolderError when the file cannot be written, ValueError for heights that make no body.
    """
    body = body_of(
        heights,
        step_mm=step_mm,
        thickness_mm=thickness_mm,
        tolerance_mm=tolerance_mm,
        most_triangles=most_triangles,
    )
    words = (
        f"The block as cut, mm. x = 0, y = 0 is its lower left corner; its printing surface is at z = "
        f"{thickness_mm:g}. Within {_up(body.near_off_mm)} mm of the surface as simulated near the face, "
        f"{_up(body.hollow_off_mm)} mm in the hollows."
    )
    head = _HEAD.format(
        title=escape(f"{title}: {face}"), words=escape(words), face=escape(face, {'"': "&quot;"})
    )
    points = np.rint(body.points * 1000.0).astype(np.int64)
    model = b"".join(
        [
            head.encode(),
            _elements(points, _POINT, thousandths=True),
            _BETWEEN,
            _elements(body.triangles.astype(np.int64), _TRIANGLE, thousandths=False),
            _TAIL,
        ]
    )
    try:
        with ZipFile(path, "w") as package:
            for name, part in (
                ("[Content_Types].xml", _TYPES.encode()),
                ("_rels/.rels", _LINKS.encode()),
                ("3D/3dmodel.model", model),
            ):
                entry = ZipInfo(name, _EVER)
                entry.create_system = 3
                package.writestr(entry, part, ZIP_DEFLATED, _LEVEL)
    except OSError as problem:
        raise FolderError(f"{path.name} cannot be written: {problem.strerror}.") from problem
    return body


def _up(length_mm: float) -> str:
    """A length rounded up to a hundredth of a mm.

    >>> _up(0.0131), _up(0.02), _up(0.0)
    ('0.02', '0.02', '0')
    """
    return f"{max(0.0, np.ceil(length_mm * 100.0 - 1e-6) / 100.0):g}"


def _elements(numbers: NDArray[np.int64], element: NDArray[np.uint8], *, thousandths: bool) -> bytes:
    """Elements with three numbers each, none negative, put between an element's quotation marks."""
    out = np.empty(len(numbers) * (len(element) + 3 * _LONGEST), np.uint8)
    return out[: _spell(numbers, element, thousandths, out)].tobytes()


@njit(cache=True, nogil=True)
def _spell(numbers, element, thousandths, out):  # type: ignore[no-untyped-def]
    at = 0
    for k in range(len(numbers)):
        which, quotes = 0, 0
        for sign in element:
            out[at] = sign
            at += 1
            if sign == _QUOTE:
                quotes += 1
                if quotes % 2 == 1:
                    at = _number(numbers[k, which], thousandths, out, at)
                    which += 1
    return at


@njit(cache=True, nogil=True)
def _number(value, thousandths, out, at):  # type: ignore[no-untyped-def]
    """Spell one number, without idle zeros; return where the next sign goes."""
    places = 3 if thousandths else 0
    while places and value % 10 == 0:
        value //= 10
        places -= 1
    digits, above = 1, 10
    while above <= value:
        digits += 1
        above *= 10
    digits = max(digits, places + 1)
    end = at + digits + (1 if places else 0)
    k = end
    for done in range(digits):
        if places and done == places:
            k -= 1
            out[k] = _STOP
        k -= 1
        out[k] = _ZERO + value % 10
        value //= 10
    return end

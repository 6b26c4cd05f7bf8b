"""A print small enough to be made in a second, and ways of looking at what a run left behind."""

import hashlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from blockwright import project

PAPER, OCHRE, BLUE, DARK = "#f6efdf", "#b4935a", "#3f6f8f", "#221e19"
"""The four colours of the tiny picture, light to dark; the paper is the default paper."""

WIDTH_MM = 60.0

IN_OCHRE, IN_BLUE, IN_DARK, IN_PAPER = (24.0, 15.0), (45.0, 25.0), (14.0, 38.0), (3.0, 3.0)
"""A place in mm inside each shape."""

OUTSIDE = (500.0, 500.0)
"""A place in mm that lies in no shape."""

_OVERSAMPLED = 3


def tiny_pixels() -> NDArray[np.uint8]:
    """160 x 120 pixels, antialiased: a rectangle, a disc over its corner, and an upright bar over both."""
    large = Image.new("RGB", (160 * _OVERSAMPLED, 120 * _OVERSAMPLED), PAPER)
    draw = ImageDraw.Draw(large)
    draw.rectangle((60, 60, 300, 240), fill=OCHRE)
    draw.ellipse((210, 120, 420, 300), fill=BLUE)
    draw.rectangle((90, 90, 150, 330), fill=DARK)
    return np.asarray(large.resize((160, 120), Image.Resampling.BOX))


def write_tiny_picture(path: Path) -> Path:
    Image.fromarray(tiny_pixels()).save(path, dpi=(160 / WIDTH_MM * 25.4,) * 2)
    return path


def create_tiny(folder: Path, picture: Path, *, title: str = "Tiny") -> None:
    """A print whose inks are taken as mixed to match: nothing about it needs to be looked at."""
    project.create(folder, picture=picture, width_mm=WIDTH_MM, title=title)
    set_value(folder, "mix", '"to match"')


def mix_from_the_shelf(folder: Path) -> None:
    """Have the inks of a tiny print mixed by recipe, and make it."""
    set_value(folder, "mix", '"from the shelf"')
    project.make(folder)


def decide(folder: Path, **tables: str) -> None:
    """Add lines to tables of ``print.toml`` (``design="colours = 3"``), or whole text with ``end=``."""
    path = folder / "print.toml"
    text = path.read_text(encoding="utf-8")
    for table, lines in tables.items():
        if table == "end":
            text += "\n" + lines + "\n"
        else:
            assert text.count(f"\n[{table}]\n") == 1
            text = text.replace(f"\n[{table}]\n", f"\n[{table}]\n{lines}\n")
    path.write_text(text, encoding="utf-8")


def set_value(folder: Path, name: str, value: str) -> None:
    """Change the value of a setting that stands in ``print.toml``."""
    path = folder / "print.toml"
    lines = path.read_text(encoding="utf-8").split("\n")
    found = [k for k, line in enumerate(lines) if line.startswith(f"{name} = ")]
    assert len(found) == 1
    lines[found[0]] = f"{name} = {value}"
    path.write_text("\n".join(lines), encoding="utf-8")


def tree_hashes(folder: Path) -> dict[str, str]:
    """Every file under a folder, hidden ones too, and the SHA-256 of its bytes; a folder's is ``dir``."""
    return {
        str(path.relative_to(folder)): (
            hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "dir"
        )
        for path in sorted(folder.rglob("*"))
    }

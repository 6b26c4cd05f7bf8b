"""Have the loops of the program as machine code before many processes want them at once.

``python -m bench.compiled`` makes a small print, loads what paints the screen, mixes an ink, and plans and
proves a router program; what is compiled on the way is kept beside the sources, for every process after it. A
second time there is nothing left to compile. With ``print`` or ``router`` behind it, it does only that half:
two processors share the work so.
"""

import sys
import tempfile
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from bench.router_steps import plan_little, prove_little
from blockwright import mixing, project
from blockwright.tiles import Tiles

_WIDTH_MM = 60.0
_BLOCKS = '\nblocks = "one a colour"'


def main(*halves: str) -> None:
    """Do one half or both."""
    if not halves or "print" in halves:
        _make_little()
    if not halves or "router" in halves:
        plan_little()
        prove_little()


def _make_little() -> None:
    """Make a print in a temporary folder, once more on the fewest blocks, and mix an ink."""
    with tempfile.TemporaryDirectory(prefix="blockwright-compiled-") as place:
        folder = Path(place) / "print"
        picture = Path(place) / "painted.png"
        Image.fromarray(_painted()).save(picture)
        project.create(folder, picture=picture, width_mm=_WIDTH_MM, title="Compiled")
        project.sketch(folder)
        project.make(folder)
        Tiles.warm()
        decided = folder / "print.toml"
        text = decided.read_text(encoding="utf-8")
        decided.write_text(text.replace(_BLOCKS, '\nblocks = "fewest"'), encoding="utf-8")
        project.make(folder, upto="separation")
    target = mixing.read_target("#b4935a")
    mixing.mix(target, mixing.chosen_pigments(()), mixing.ground_of(mixing.PAPER, None))


def _painted() -> np.ndarray:
    """Flat colours, a run of colours, a thin line and specks: what a picture may be made of."""
    height, width = 240, 320
    run = np.linspace(0.0, 1.0, height // 2)[:, None, None]
    picture = np.full((height, width, 3), (236, 222, 190), np.uint8)
    picture[: height // 2] = np.rint((1 - run) * (46, 60, 110) + run * (246, 196, 160))
    cv2.circle(picture, (110, 150), 50, (186, 62, 50), -1, cv2.LINE_AA)
    cv2.rectangle(picture, (200, 90), (290, 210), (52, 88, 128), -1)
    cv2.line(picture, (20, 220), (300, 40), (28, 26, 34), 3, cv2.LINE_AA)
    grain = np.random.default_rng(1).normal(0.0, 2.0, picture.shape)
    return np.asarray(np.clip(np.rint(picture + grain), 0, 255), dtype=np.uint8)


if __name__ == "__main__":
    main(*sys.argv[1:])

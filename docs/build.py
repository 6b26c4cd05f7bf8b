"""Make the documentation's pictures and reference pages from the program itself.

``python docs/build.py`` runs the demo in a temporary folder and writes the pictures of ``docs/pictures`` and
the pages ``docs/commands.md`` and ``docs/settings.md``. ``--texts`` writes the two pages only, in a moment.
The same program gives the same files; nothing is taken from the clock or the network. The picture of the app
is taken by Chromium, and its pixels are those of the version that is there.
"""

import argparse
import sys
import tempfile
from pathlib import Path

from plates import PLATES, write_plate
from reference import PAGES

DOCS = Path(__file__).resolve().parent


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def write_texts() -> None:
    """Write the reference pages."""
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8", newline="\n")
        _say(f"docs/{name}")


def write_pictures() -> None:
    """Run the demo from nothing and write what a printmaker would see of it."""
    from blockwright import project

    folder = DOCS / "pictures"
    folder.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        mill = Path(name) / "tide-mill"
        project.create_demo(mill, say=_say)
        project.make(mill, say=_say)
        for plate in PLATES:
            write_plate(folder / plate, PLATES[plate](mill))
            _say(f"docs/pictures/{plate}")


def main() -> None:
    """Write everything, or the texts only."""
    parser = argparse.ArgumentParser(description="Make the documentation's pictures and reference pages.")
    parser.add_argument("--texts", action="store_true", help="write the reference pages only")
    texts_only = parser.parse_args().texts
    write_texts()
    if not texts_only:
        write_pictures()


if __name__ == "__main__":
    main()

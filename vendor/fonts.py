"""Rebuild the fonts of the papers from the npm package of Source Serif 4.

Run from the top of the checkout, with the vendor dependency group installed and npm on the path::

    python vendor/fonts.py

The package holds one small font file for each script; reportlab wants one TrueType file for each face. The
files are merged, renamed (the licence reserves the name "Source" for unmodified fonts) and written to
``src/blockwright/data/fonts`` with the licence; ``vendor/manifest.json`` records versions and hashes.
The same package gives the same bytes. ``--check`` rebuilds into a temporary folder and compares.
"""

import argparse
import hashlib
import json
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

from fontTools.merge import Merger, Options
from fontTools.ttLib import TTFont

PACKAGE = "@fontsource/source-serif-4"
VERSION = "5.3.1"
PACKAGE_SHA256 = "54b7898afa20cf4b2d807bbf2b5a2f865e28a83db8a5fcc563dafce5ecb5e7c8"
LICENCE = "OFL-1.1"
REBUILD = "python vendor/fonts.py"
SCRIPTS = ("latin", "latin-ext", "vietnamese", "greek", "cyrillic", "cyrillic-ext")
FACES = {"regular": "400-normal", "italic": "400-italic", "semibold": "600-normal"}
FAMILY = "Blockwright Serif"

ROOT = Path(__file__).resolve().parent.parent
FONTS = Path("src/blockwright/data/fonts")
MANIFEST = Path("vendor/manifest.json")

KEPT_NAMES = (0, 5, 13, 14)  # copyright, version, licence, address of the licence
FAMILY_NAME, STYLE_NAME, UNIQUE_NAME, FULL_NAME, POSTSCRIPT_NAME = 1, 2, 3, 4, 6
"""Name identifiers of the OpenType specification, table `name`."""


def sha256(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def fetch_package(folder: Path) -> Path:
    """Fetch the npm package into `folder`, hold it to its hash and return the unpacked folder."""
    subprocess.run(
        ["npm", "pack", "--silent", f"{PACKAGE}@{VERSION}"], cwd=folder, check=True, stdout=subprocess.DEVNULL
    )
    (archive,) = folder.glob("*.tgz")
    if sha256(archive) != PACKAGE_SHA256:
        sys.exit(f"{PACKAGE} {VERSION} is not the package that was vetted: its hash differs.")
    with tarfile.open(archive) as tar:
        tar.extractall(folder, filter="data")
    return folder / "package"


def rename(font: TTFont, style: str) -> None:
    """Give a modified font its own name, as the licence asks."""
    full = f"{FAMILY} {style.capitalize()}"
    names = {
        FAMILY_NAME: FAMILY,
        STYLE_NAME: style.capitalize(),
        UNIQUE_NAME: f"{full}; merged from {PACKAGE} {VERSION}",
        FULL_NAME: full,
        POSTSCRIPT_NAME: full.replace(" ", ""),
    }
    kept = [record for record in font["name"].names if record.nameID in {*names, *KEPT_NAMES}]
    font["name"].names = kept
    for record in kept:
        if record.nameID in names:
            record.string = names[record.nameID]


def merge_face(package: Path, style: str, target: Path, scratch: Path) -> str:
    """Merge one face's scripts into the file `target`; return the font's copyright line."""
    parts = []
    for script in SCRIPTS:
        file = package / "files" / f"source-serif-4-{script}-{FACES[style]}.woff"
        part = TTFont(file, recalcTimestamp=False)
        part.flavor = None
        path = scratch / f"{style}-{script}.ttf"
        part.save(path)
        parts.append(path)
    font = Merger(Options(drop_tables=["STAT", "BASE"])).merge([str(path) for path in parts])
    first = TTFont(parts[0])
    font.recalcTimestamp = False
    font["head"].created = first["head"].created
    font["head"].modified = first["head"].modified
    copyright_line = str(first["name"].getDebugName(0))
    rename(font, style)
    font.save(target, reorderTables=True)
    return copyright_line


def licence_text(package: Path, copyright_line: str) -> str:
    """Put the fonts' own copyright line and a note on the change over the licence of the package."""
    licence = (package / "LICENSE").read_text(encoding="utf-8")
    body = licence[licence.index("This Font Software is licensed") :]
    note = (
        f"{copyright_line}\n\n"
        f"The files in this folder are modified: the scripts of Source Serif 4 from {PACKAGE} {VERSION}\n"
        f'were merged into one file for each face and renamed "{FAMILY}".\n\n'
    )
    return note + body


def build(root: Path) -> None:
    """Build fonts, licence and manifest under `root`."""
    fonts = root / FONTS
    fonts.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        package = fetch_package(scratch)
        lines = [merge_face(package, style, fonts / f"serif-{style}.ttf", scratch) for style in FACES]
        (fonts / "OFL.txt").write_text(licence_text(package, lines[0]), encoding="utf-8")
    made = [*(f"serif-{style}.ttf" for style in FACES), "OFL.txt"]
    entry = {
        "registry": "npm",
        "name": PACKAGE,
        "version": VERSION,
        "licence": LICENCE,
        "sha256": PACKAGE_SHA256,
        "rebuild": REBUILD,
        "files": [{"path": (FONTS / file).as_posix(), "sha256": sha256(fonts / file)} for file in made],
    }
    # What other scripts vendor stays as it is.
    present = json.loads((ROOT / MANIFEST).read_text(encoding="utf-8"))["packages"]
    manifest = {"packages": [entry, *(other for other in present if other["rebuild"] != REBUILD)]}
    target = root / MANIFEST
    target.parent.mkdir(exist_ok=True)
    target.write_text(json.dumps(manifest, indent=2) + "\n", encoding="utf-8")


def main() -> None:
    """Rebuild, or check that a rebuild gives the committed bytes."""
    parser = argparse.ArgumentParser(description="Rebuild the fonts of the papers.")
    parser.add_argument("--check", action="store_true", help="compare a rebuild with the committed files")
    if not parser.parse_args().check:
        build(ROOT)
        return
    with tempfile.TemporaryDirectory() as name:
        build(Path(name))
        if (Path(name) / MANIFEST).read_bytes() != (ROOT / MANIFEST).read_bytes():
            sys.exit("The committed fonts are not what this script makes.")


if __name__ == "__main__":
    main()

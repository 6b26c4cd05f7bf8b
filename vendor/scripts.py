"""Rebuild the scripts and web fonts of the app, and the accessibility checker of its tests, from npm.

Run from the top of the checkout, with npm on the path::

    python vendor/scripts.py

Files are taken as they are in the packages, with their licences, but for three.js, of which esbuild bundles
the parts named in ``vendor/three-parts.js``. Each package is held to its hash, and ``vendor/manifest.json``
records versions, licences and hashes beside those of other packages. ``--check``
rebuilds into a temporary folder and compares.
"""

import argparse
import hashlib
import json
import platform
import shutil
import subprocess
import sys
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
MANIFEST = Path("vendor/manifest.json")
REBUILD = "python vendor/scripts.py"
STATIC = "src/blockwright/web/static/vendor"

SCRIPTS = ("latin", "latin-ext")
FACES = ("400-normal", "400-italic", "600-normal")


@dataclass(frozen=True)
class Package:
    """An npm package: what is taken from it (path in the package, path here)."""

    name: str
    version: str
    licence: str
    sha256: str
    files: tuple[tuple[str, str], ...]
    bundle: tuple[str, str] | None = None
    """The module that names the parts to be bundled, and where the bundle goes."""


BUNDLER = "0.28.2"
"""The version of esbuild; the same version gives the same bytes on every system."""

BUNDLERS = {
    ("Linux", "x86_64"): ("linux-x64", "9573bb2233aab0f9ea7647d5cca9726113cc1768de61d66b17267f4db84488f6"),
    ("Linux", "aarch64"): ("linux-arm64", "a96dbfa41d3ef5dbd1ef22b1c10d5187be9267e86093a870f06402a7ec931596"),
    ("Darwin", "arm64"): ("darwin-arm64", "1980cde09749094452b20d36ff267585ccb3f72749c7bc97291cd9996ccf5a2a"),
    ("Darwin", "x86_64"): ("darwin-x64", "abb6a7a895aaf2cc0df36fecc3bf0042479ffec51a643a056d54e9109f27db55"),
}
"""By system and machine: esbuild's package for it, and the package's hash."""

PACKAGES = (
    Package(
        name="htmx.org",
        version="4.0.1",
        licence="0BSD",
        sha256="5fba65616ca148a86d377e9771bcada7f35faee3558651feb929eea425e13b3c",
        files=(("dist/htmx.min.js", f"{STATIC}/htmx.min.js"), ("LICENSE", f"{STATIC}/htmx.LICENSE.txt")),
    ),
    Package(
        name="openseadragon",
        version="6.1.1",
        licence="BSD-3-Clause",
        sha256="b4ab2942f33b90e0448e4d20fc5ed14cee049f1f3ae49d70afd4b05e9a2f92d0",
        files=(
            ("build/openseadragon/openseadragon.min.js", f"{STATIC}/openseadragon.min.js"),
            ("LICENSE.txt", f"{STATIC}/openseadragon.LICENSE.txt"),
        ),
    ),
    Package(
        name="three",
        version="0.187.0",
        licence="MIT",
        sha256="ff540832ded0cfe919764d24a3d88f3e2a05f23303f876423e4f893841e90728",
        files=(("LICENSE", f"{STATIC}/three.LICENSE.txt"),),
        bundle=("vendor/three-parts.js", f"{STATIC}/three.min.js"),
    ),
    Package(
        name="@fontsource/source-serif-4",
        version="5.3.1",
        licence="OFL-1.1",
        sha256="54b7898afa20cf4b2d807bbf2b5a2f865e28a83db8a5fcc563dafce5ecb5e7c8",
        files=(
            *(
                (
                    f"files/source-serif-4-{script}-{face}.woff2",
                    f"{STATIC}/source-serif-4-{script}-{face}.woff2",
                )
                for script in SCRIPTS
                for face in FACES
            ),
            ("LICENSE", f"{STATIC}/source-serif-4.LICENSE.txt"),
        ),
    ),
    Package(
        name="axe-core",
        version="4.14.1",
        licence="MPL-2.0",
        sha256="e6b0ce02b84d892e2e33e403485e7f3d6c29e2be6df65daf44d89ba564139745",
        files=(
            ("axe.min.js", "tests/web/axe/axe.min.js"),
            ("LICENSE", "tests/web/axe/LICENSE.txt"),
            ("LICENSE-3RD-PARTY.txt", "tests/web/axe/LICENSE-3RD-PARTY.txt"),
        ),
    ),
)


def sha256(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def fetch_package(name: str, version: str, wanted_sha256: str, folder: Path) -> Path:
    """Fetch an npm package into `folder`, hold it to its hash and return the unpacked folder."""
    folder.mkdir(parents=True, exist_ok=True)
    subprocess.run(
        ["npm", "pack", "--silent", f"{name}@{version}"],
        cwd=folder,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    (archive,) = folder.glob("*.tgz")
    if sha256(archive) != wanted_sha256:
        sys.exit(f"{name} {version} is not the package that was vetted: its hash differs.")
    with tarfile.open(archive) as tar:
        tar.extractall(folder, filter="data")
    return folder / "package"


def bundle_parts(package: Package, unpacked: Path, parts: str, target: Path, folder: Path) -> None:
    """Bundle the parts of an unpacked package into one module of `target`, with the vetted esbuild."""
    system = platform.system(), platform.machine()
    if system not in BUNDLERS:
        sys.exit(f"There is no vetted esbuild for {' '.join(system)}; bundle on Linux or macOS.")
    kind, wanted_sha256 = BUNDLERS[system]
    bundler = fetch_package(f"@esbuild/{kind}", BUNDLER, wanted_sha256, folder / "esbuild") / "bin/esbuild"
    # Names are looked for beside the module that asks for them.
    (folder / "node_modules").mkdir()
    unpacked.rename(folder / "node_modules" / package.name)
    entry = folder / "parts.js"
    shutil.copyfile(ROOT / parts, entry)
    told = ["--bundle", "--minify", "--format=esm", "--target=es2022", "--legal-comments=none"]
    banner = f"--banner:js=/* {package.name} {package.version}, {package.licence} */"
    subprocess.run(
        [bundler, entry.name, *told, "--log-level=warning", banner, f"--outfile={target}"],
        cwd=folder,
        check=True,
    )


def place(package: Package, root: Path) -> dict[str, Any]:
    """Put a package's files under `root`; return its entry of the manifest."""
    placed = [here for _, here in package.files]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        unpacked = fetch_package(package.name, package.version, package.sha256, folder / "packed")
        for inside, here in package.files:
            target = root / here
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(unpacked / inside, target)
        if package.bundle is not None:
            parts, here = package.bundle
            placed.append(here)
            bundle_parts(package, unpacked, parts, (root / here).resolve(), folder)
    return {
        "registry": "npm",
        "name": package.name,
        "version": package.version,
        "licence": package.licence,
        "sha256": package.sha256,
        "rebuild": REBUILD,
        **({"bundler": f"esbuild {BUNDLER}"} if package.bundle is not None else {}),
        "files": [{"path": here, "sha256": sha256(root / here)} for here in placed],
    }


def entries(manifest: Path, *, ours: bool) -> list[dict[str, Any]]:
    """The entries of a manifest that this script makes, or those that others make."""
    packages: list[dict[str, Any]] = json.loads(manifest.read_text(encoding="utf-8"))["packages"]
    return [entry for entry in packages if (entry["rebuild"] == REBUILD) is ours]


def build(root: Path) -> list[dict[str, Any]]:
    """Put all files under `root`; return their entries of the manifest."""
    return [place(package, root) for package in PACKAGES]


def main() -> None:
    """Rebuild, or check that a rebuild gives the committed bytes."""
    parser = argparse.ArgumentParser(description="Rebuild the scripts and web fonts of the app.")
    parser.add_argument("--check", action="store_true", help="compare a rebuild with the committed files")
    manifest = ROOT / MANIFEST
    if not parser.parse_args().check:
        packages = [*entries(manifest, ours=False), *build(ROOT)]
        manifest.write_text(json.dumps({"packages": packages}, indent=2) + "\n", encoding="utf-8")
        return
    with tempfile.TemporaryDirectory() as name:
        made = build(Path(name))
    committed = entries(manifest, ours=True)
    present = [
        sha256(ROOT / file["path"]) == file["sha256"] for entry in committed for file in entry["files"]
    ]
    if made != committed or not all(present):
        sys.exit("The committed scripts are not what this script takes from the packages.")


if __name__ == "__main__":
    main()

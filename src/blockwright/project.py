"""The whole job on one page: a picture becomes shapes, impressions, blocks, cuts, a proof and a packet.

::

    picture --> Design --> Separation --> BlockSet --> Cut
                               |
                               +--> Proof                 and all of them --> packet.pdf

Each stage takes frozen values and gives one; its documents go to ``out/STAGE/``. A stage is made again only
when the hash of its inputs, its settings or its code has changed.
"""

import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from blockwright.decisions import FILE_NAME, compose, lock_palette, read_decisions, write_whole
from blockwright.folder import (
    Kept,
    OutFolder,
    Say,
    code_version,
    create_folder,
    file_hash,
    make_key,
)
from blockwright.model.blocks import BlockSet
from blockwright.model.cut import Cut
from blockwright.model.design import Design
from blockwright.model.errors import FolderError, SettingsError
from blockwright.model.findings import Finding
from blockwright.model.proof import Proof
from blockwright.model.separation import Separation
from blockwright.model.settings import NameColour, PrintTable, Settings
from blockwright.telling import (
    bench_files,
    file_name,
    findings_told,
    tell_blocks,
    tell_cut,
    tell_design,
    tell_proof,
    tell_separation,
)

STAGES = ("design", "separation", "blocks", "cutting", "proof", "packet")
"""The stages in the order in which they run."""

_FACE_PIXELS = 1600
"""Long side of a face's drawing, in pixels: sharp when it fills a screen."""


@dataclass(frozen=True)
class Made:
    """What a run left in the folder: the stages that are there now, in order, and the packet."""

    folder: Path
    stages: tuple[Kept[Any], ...]
    packet: Path | None

    @property
    def findings(self) -> tuple[tuple[str, Finding], ...]:
        """Every finding with the stage that made it."""
        return tuple((stage.name, finding) for stage in self.stages for finding in stage.findings)

    @property
    def stopped(self) -> bool:
        """Whether a finding stops the work."""
        return any(finding.severity == "stop" for _, finding in self.findings)

    def told(self) -> dict[str, Any]:
        """What ``--json`` prints."""
        return {
            "folder": str(self.folder),
            "packet": str(self.packet) if self.packet else None,
            "stopped": self.stopped,
            "stages": {
                stage.name: {"figures": stage.summary["figures"], "made_anew": not stage.fresh}
                for stage in self.stages
            },
            "findings": [
                {"stage": name, **told}
                for name, finding in self.findings
                for told in findings_told([finding])
            ],
        }


def quiet(_: str) -> None:
    """Say nothing."""


def make(folder: Path, *, upto: str | None = None, lock: bool = False, say: Say = quiet) -> Made:
    """Run the stages of a print in order, up to and including ``upto`` (one of STAGES; None runs all).

    ``lock`` writes the palette that was found into ``print.toml``. Progress goes to ``say``. Raises
    BlockwrightError, one plain sentence; stages that were finished stay.
    """
    if upto is not None and upto not in STAGES:
        raise SettingsError(f"There is no stage {upto!r}; the stages are {', '.join(STAGES)}.")
    last = STAGES.index(upto or STAGES[-1])
    settings = read_decisions(folder)
    picture = _picture_of(folder, settings)
    out = OutFolder(folder, say)
    with out.alone():
        design = _design(out, picture, settings)
        if lock:
            lock_palette(folder, tuple(colour.srgb_hex for colour in design.value.palette))
        stages: list[Kept[Any]] = [design]
        if last >= 1:
            stages.append(separation := _separation(out, design, settings))
        if last >= 2:
            stages.append(blocks := _blocks(out, design, separation, settings))
        if last >= 3:
            stages.append(cut := _cutting(out, blocks, separation, settings))
        if last >= 4:
            stages.append(proof := _proof(out, design, separation, settings))
        packet = None
        if last >= 5:
            packet = _packet(out, (design, separation, blocks, cut, proof), picture, settings)
    return Made(folder, tuple(stages), packet)


def create(
    folder: Path, *, picture: Path, width_mm: float | None = None, title: str | None = None, say: Say = quiet
) -> Settings:
    """Make a print folder around a picture: copy it in and write ``print.toml``.

    Without ``width_mm`` the picture's stored resolution gives the size. Raises BlockwrightError; then
    nothing is left behind.
    """
    from blockwright.design import read_picture

    asked = PrintTable.model_fields["width_mm"].metadata
    least, most = (next(getattr(m, a) for m in asked if hasattr(m, a)) for a in ("ge", "le"))
    if width_mm is not None and not least <= width_mm <= most:
        raise SettingsError(f"--width is {width_mm:g}; it must be from {least:g} to {most:g} mm.")
    say(f"reading {picture.name} ...")
    read = read_picture(picture, paper_hex=PrintTable.model_fields["paper"].default, width_mm=width_mm)
    if width_mm is None:
        if read.pixels_per_mm is None:
            raise SettingsError(f"{picture.name} does not say how large it is; give the width: --width 360")
        width_mm = round(read.pixels.shape[1] / read.pixels_per_mm, 2)
        if not least <= width_mm <= most:
            raise SettingsError(
                f"{picture.name} says that it is {width_mm:g} mm wide; give the width yourself: --width 360"
            )
    name = "design" + (picture.suffix.lower() or ".picture")
    settings = Settings(
        print=PrintTable(title=title or folder.resolve().name, picture=name, width_mm=float(width_mm))
    )
    _fill(folder, settings, lambda inside: shutil.copyfile(picture, inside / name))
    return settings


def create_demo(folder: Path, *, say: Say = quiet) -> Settings:
    """Make the demo print: our own picture, painted now, with its colours named. Raises FolderError."""
    from blockwright.demo import colour_names, tide_mill, write_picture

    scene = tide_mill()
    names = tuple(NameColour(at=at, name=name) for at, name in colour_names(scene))
    table = PrintTable(title=scene.title, width_mm=scene.width_mm, paper=scene.paper_hex)
    settings = Settings(print=table).model_copy(
        update={"design": Settings(print=table).design.model_copy(update={"name": names})}
    )
    say("painting the demo picture ...")
    _fill(folder, settings, lambda inside: write_picture(inside / table.picture, scene, dpi=300))
    return settings


def _fill(folder: Path, settings: Settings, put_picture: Callable[[Path], object]) -> None:
    create_folder(folder)
    try:
        put_picture(folder)
        write_whole(folder / FILE_NAME, compose(settings))
    except BaseException as error:
        # A folder with half a print in it would be in the way of the next try.
        for name in (settings.print.picture, FILE_NAME, FILE_NAME + ".part"):
            (folder / name).unlink(missing_ok=True)
        if isinstance(error, OSError) and not isinstance(error, FolderError):
            raise FolderError(f"{folder} cannot be written ({error.strerror}).") from error
        raise


def _picture_of(folder: Path, settings: Settings) -> Path:
    name = settings.print.picture
    if Path(name).name != name:
        raise SettingsError(
            f"{FILE_NAME}: [print] picture is {name!r}; it must be a file in the print folder."
        )
    path = folder / name
    if not path.is_file():
        raise FolderError(f"{FILE_NAME}: [print] picture is {name!r}, but {folder} has no such file.")
    return path


def _design(out: OutFolder, picture: Path, settings: Settings) -> Kept[Design]:
    wanted = settings.print.model_dump(mode="json"), settings.design.model_dump(mode="json")
    version = code_version(("model", "geometry", "colour", "design", "documents/pictures.py"))

    def work(into: Path) -> tuple[Design, dict[str, Any]]:
        from blockwright.design import make_design, read_picture
        from blockwright.documents.pictures import paint_design, write_png, write_shapes_svg

        table = settings.print
        read = read_picture(picture, paper_hex=table.paper, width_mm=table.width_mm)
        design = make_design(
            read.pixels,
            title=table.title,
            width_mm=table.width_mm,
            paper_hex=table.paper,
            settings=settings.design,
            notes=read.notes,
        )
        write_png(into / "shapes.png", paint_design(design, dpi=settings.proof.dpi), dpi=settings.proof.dpi)
        write_shapes_svg(into / "shapes.svg", design)
        return design, tell_design(design)

    return out.stage(
        "design", Design, make_key(version, file_hash(picture), *wanted, settings.proof.dpi), work
    )


def _separation(out: OutFolder, design: Kept[Design], settings: Settings) -> Kept[Separation]:
    version = code_version(("separation", "proof/pictures.py", "documents/pictures.py"))

    def work(into: Path) -> tuple[Separation, dict[str, Any]]:
        from blockwright.documents.pictures import write_png
        from blockwright.proof import impression_alone
        from blockwright.separation import separate

        separation = separate(design.value, settings.separation)
        for each in separation.impressions:
            picture = impression_alone(design.value, each, dpi=settings.proof.dpi)
            write_png(into / f"impression-{each.number:02d}.png", picture, dpi=settings.proof.dpi)
        return separation, tell_separation(separation)

    key = make_key(version, design.key, settings.separation.model_dump(mode="json"), settings.proof.dpi)
    return out.stage("separation", Separation, key, work)


def _blocks(
    out: OutFolder, design: Kept[Design], separation: Kept[Separation], settings: Settings
) -> Kept[BlockSet]:
    version = code_version(("blocks", "documents"))

    def work(into: Path) -> tuple[BlockSet, dict[str, Any]]:
        from blockwright.blocks import lay_out_blocks
        from blockwright.documents import draw_face_png

        blocks = lay_out_blocks(
            separation.value,
            width_mm=design.value.width_mm,
            height_mm=design.value.height_mm,
            settings=settings.blocks,
        )
        inks = {each.number: each.srgb_hex for each in separation.value.impressions}
        for face in blocks.faces:
            draw_face_png(
                into / f"{file_name(face.name)}.png",
                blocks,
                face,
                pixels=_FACE_PIXELS,
                as_seen="carver",
                tint_hex=inks[face.impressions[0]],
            )
        return blocks, tell_blocks(blocks)

    key = make_key(version, separation.key, settings.blocks.model_dump(mode="json"))
    return out.stage("blocks", BlockSet, key, work)


def _cutting(
    out: OutFolder, blocks: Kept[BlockSet], separation: Kept[Separation], settings: Settings
) -> Kept[Cut]:
    version = code_version(("cutting", "documents"))

    def work(into: Path) -> tuple[Cut, dict[str, Any]]:
        from blockwright.cutting import plan_cuts

        cut = plan_cuts(blocks.value, settings.cutting)
        names = {each.number: each.name for each in separation.value.impressions}
        _write_bench_files(into, blocks.value, cut, settings, names)
        files = {face.name: bench_files(face.name) for face in blocks.value.faces}
        return cut, tell_cut(cut, files)

    wanted = settings.cutting.model_dump(mode="json"), settings.print.title
    return out.stage("cutting", Cut, make_key(version, blocks.key, separation.key, *wanted), work)


def _write_bench_files(
    into: Path, blocks: BlockSet, cut: Cut, settings: Settings, names: dict[int, str]
) -> None:
    from blockwright.documents import write_face_dxf, write_face_svg, write_transfer_sheet

    table = settings.cutting
    for face, face_cut in zip(blocks.faces, cut.faces, strict=True):
        down, up, dxf, svg = (into / name for name in bench_files(face.name))
        for path, kind in ((down, "face down"), (up, "face up")):
            write_transfer_sheet(
                path,
                blocks,
                face,
                face_cut,
                kind=kind,  # type: ignore[arg-type]
                paper=table.paper,
                roll_mm=table.roll_mm,
                overlap_mm=table.overlap_mm,
                title=settings.print.title,
                impression_names=names,
            )
        write_face_dxf(dxf, blocks, face, face_cut)
        write_face_svg(svg, blocks, face, face_cut)


def _proof(
    out: OutFolder, design: Kept[Design], separation: Kept[Separation], settings: Settings
) -> Kept[Proof]:
    version = code_version(("proof", "documents/pictures.py"))

    def work(into: Path) -> tuple[Proof, dict[str, Any]]:
        from blockwright.documents.pictures import write_png
        from blockwright.proof import progress_pictures, prove

        dpi = settings.proof.dpi
        proof = prove(design.value, separation.value, settings.proof)
        for number, picture in progress_pictures(design.value, separation.value, dpi=dpi):
            write_png(into / f"after-{number:02d}.png", picture, dpi=dpi)
        shutil.copyfile(into / f"after-{len(separation.value.impressions):02d}.png", into / "proof.png")
        return proof, tell_proof(proof)

    key = make_key(version, separation.key, settings.proof.model_dump(mode="json"))
    return out.stage("proof", Proof, key, work)


def _packet(out: OutFolder, stages: Sequence[Kept[Any]], picture: Path, settings: Settings) -> Path:
    """Put the packet for the bench together from what the stages left."""
    key = make_key(
        code_version(("documents", "colour")), settings.model_dump(mode="json"), *(s.key for s in stages)
    )

    def work(path: Path) -> None:
        import numpy as np
        from PIL import Image

        from blockwright.colour import passes_on_paper
        from blockwright.design import read_picture
        from blockwright.documents import Packet, write_packet
        from blockwright.documents.pictures import shrink

        design, separation, blocks, cut, proof = (stage.value for stage in stages)
        read = read_picture(picture, paper_hex=settings.print.paper, width_mm=settings.print.width_mm)
        proofs = tuple(
            np.asarray(Image.open(out.path / "proof" / f"after-{each.number:02d}.png").convert("RGB"))
            for each in separation.impressions
        )
        write_packet(
            path,
            Packet(
                design=design,
                separation=separation,
                blocks=blocks,
                cut=cut,
                proof=proof,
                settings=settings,
                design_picture=shrink(read.pixels, most_px=2400),
                proof_picture=proofs[-1] if proofs else shrink(read.pixels, most_px=2400),
                progressive=proofs,
                passes_hex=tuple(passes_on_paper(e.ink, design.paper_hex) for e in separation.impressions),
                files={face.name: bench_files(face.name) for face in blocks.faces},
            ),
        )

    return out.single_file("packet.pdf", key, work)

"""The whole job on one page: a picture becomes shapes, impressions, blocks, cuts, a proof and a packet.

::

    picture --> Design --> Separation --> BlockSet --> Cut
                               |
                               +--> Proof                 and all of them --> packet.pdf

Each stage takes frozen values and gives one; its documents go to ``out/STAGE/``. A stage is made again only
when the hash of its inputs, its settings or its code has changed.
"""

import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from pydantic import ValidationError

from blockwright.decisions import FILE_NAME, compose, lock_palette, read_decisions, write_whole
from blockwright.folder import (
    FileStep,
    Kept,
    OutFolder,
    Say,
    Step,
    Value,
    code_version,
    create_folder,
    file_hash,
    make_key,
    require_free,
)
from blockwright.model.blocks import BlockSet
from blockwright.model.cut import Cut
from blockwright.model.design import Design
from blockwright.model.errors import FolderError, SettingsError
from blockwright.model.findings import Finding
from blockwright.model.proof import Proof
from blockwright.model.separation import Separation
from blockwright.model.settings import NameColour, PrintTable, Settings
from blockwright.model.units import MM_PER_INCH
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

if TYPE_CHECKING:
    from blockwright.design import Picture

STAGES = ("design", "separation", "blocks", "cutting", "proof", "packet")
"""The stages in the order in which they run."""

_FACE_PIXELS = 1600
"""Long side of a face's drawing, in pixels: sharp when it fills a screen."""

_PICTURE_DPI = 150
"""Resolution of the pictures of shapes and impressions: an A3 print fills a large screen."""

_SMALL, _SMALL_PIXELS = "picture.png", 2400
"""The design as it was read, and the pixels along its long side: sharp on the packet's cover."""

_PACKET, _PACKET_DPI = "packet.pdf", 120
"""The packet, and the resolution of the proofs in it at the print's own size; they are shown at a third."""

_EVERYWHERE = ("model", "geometry", "colour", "project.py", "folder.py", "telling.py")
"""Rooms and modules that every stage rests on."""


@dataclass(frozen=True)
class Made:
    """What a run left in the folder: the stages that are there now, in order, and the packet.

    ``outdated`` tells that later stages or a packet lie in the folder from before the present decisions.
    """

    folder: Path
    stages: tuple[Kept[Any], ...]
    packet: Path | None
    outdated: bool

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
            "outdated": self.outdated,
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
    settings = read_decisions(folder)
    picture = _picture_of(folder, settings)
    out = OutFolder(folder, say)
    stages: list[Kept[Any]] = []
    packet = None
    with out.alone():
        for kept in islice(_stages(out.stage, picture, settings), STAGES.index(upto or STAGES[-1]) + 1):
            stages.append(kept)
            if lock and kept.name == "design":
                _lock(folder, picture, settings, kept.value, say)
        if upto in {None, "packet"}:
            packet = out.single_file(_packet(out, stages, settings))
        outdated = packet is None and _outdated(out, picture, settings)
    return Made(folder, tuple(stages), packet, outdated)


class _Take(Protocol):
    """Makes a stage, or finds it."""

    def __call__(self, step: Step[Value], /) -> Kept[Value]: ...


def _stages(take: _Take, picture: Path, settings: Settings) -> Iterator[Kept[Any]]:
    """Every stage in its order, each from those before it."""
    yield (design := take(_design(picture, settings)))
    yield (separation := take(_separation(design, settings)))
    yield (blocks := take(_blocks(design, separation, settings)))
    yield take(_cutting(blocks, separation, settings))
    yield take(_proof(design, separation, settings))


class _Stale(Exception):
    """A stage would have to be made."""


def _outdated(out: OutFolder, picture: Path, settings: Settings) -> bool:
    """Whether something lies in ``out/`` that a whole run would make anew."""

    def look(step: Step[Value], /) -> Kept[Value]:
        kept = out.kept(step)
        if kept is None:
            raise _Stale
        return kept

    current: list[Kept[Any]] = []
    try:
        for kept in _stages(look, picture, settings):
            current.append(kept)
    except _Stale:
        return any(out.holds(name) for name in (*STAGES[len(current) : -1], _PACKET))
    return out.holds(_PACKET) and out.kept_file(_packet(out, current, settings)) is None


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
    require_free(folder)
    say(f"reading {picture.name} ...")
    read = read_picture(picture, paper_hex=PrintTable.model_fields["paper"].default, width_mm=width_mm)
    for note in read.notes:
        say(note.message)
    if width_mm is None:
        if read.pixels_per_mm is None:
            raise SettingsError(
                f"{picture.name} does not say how large it is; give the width in mm, such as --width 360."
            )
        width_mm = round(read.pixels.shape[1] / read.pixels_per_mm, 2)
        if not least <= width_mm <= most:
            raise SettingsError(
                f"{picture.name} says that it is {width_mm:g} mm wide; give a width from {least:g} to "
                f"{most:g} mm, such as --width 360."
            )
    suffix = picture.suffix.lower()
    name = "design" + (suffix if re.fullmatch(r"\.[a-z0-9]{1,8}", suffix) else ".picture")
    try:
        table = PrintTable(title=title or _plain_name(folder), picture=name, width_mm=float(width_mm))
    except ValidationError:
        raise SettingsError("--title is too long or has a line break; give up to 200 characters.") from None
    settings = Settings(print=table)
    _fill(folder, settings, lambda inside: shutil.copyfile(picture, inside / name))
    return settings


def _plain_name(folder: Path) -> str:
    """The folder's name as a title: what can be printed of it."""
    return "".join(sign for sign in folder.resolve().name if sign.isprintable())[:200]


def create_demo(folder: Path, *, say: Say = quiet) -> Settings:
    """Make the demo print: our own picture, painted now, with its colours named. Raises FolderError."""
    from blockwright.demo import colour_names, tide_mill, write_picture

    require_free(folder)
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
    new = create_folder(folder)
    try:
        put_picture(folder)
        write_whole(folder / FILE_NAME, compose(settings))
    except BaseException as error:
        # A folder with half a print in it would be in the way of the next try.
        for name in (settings.print.picture, FILE_NAME):
            (folder / name).unlink(missing_ok=True)
        if new:
            folder.rmdir()
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


def _version(*rooms: str) -> str:
    return code_version((*_EVERYWHERE, *rooms))


def _read(picture: Path, settings: Settings) -> "Picture":
    from blockwright.design import read_picture

    return read_picture(picture, paper_hex=settings.print.paper, width_mm=settings.print.width_mm)


def _designed(read: "Picture", settings: Settings) -> Design:
    from blockwright.design import make_design

    table = settings.print
    return make_design(
        read.pixels,
        title=table.title,
        width_mm=table.width_mm,
        paper_hex=table.paper,
        settings=settings.design,
        notes=read.notes,
    )


def _design(picture: Path, settings: Settings) -> Step[Design]:
    def work(into: Path) -> tuple[Design, dict[str, Any]]:
        from blockwright.documents.pictures import paint_design, shrink, write_png, write_shapes_svg

        read = _read(picture, settings)
        small = shrink(read.pixels, most_px=_SMALL_PIXELS)
        write_png(into / _SMALL, small, dpi=small.shape[1] / settings.print.width_mm * MM_PER_INCH)
        design = _designed(read, settings)
        write_png(into / "shapes.png", paint_design(design, dpi=_PICTURE_DPI), dpi=_PICTURE_DPI)
        write_shapes_svg(into / "shapes.svg", design)
        return design, tell_design(design)

    key = make_key(
        _version("design", "documents/pictures.py"),
        file_hash(picture),
        settings.print.model_dump(mode="json", exclude={"picture"}),
        settings.design.model_dump(mode="json"),
    )
    return Step("design", Design, key, work)


def _lock(folder: Path, picture: Path, settings: Settings, design: Design, say: Say) -> None:
    """Write the palette that the picture gave into ``print.toml``."""
    asked = settings.design
    if asked.palette is not None:
        say("palette: print.toml has one already, which stays")
        return
    if asked.drop or asked.merge or asked.recolour:
        # The edits are done again on every run, so that the palette has to be the one from before them.
        say("palette: finding it without the hand edits ...")
        plain = asked.model_copy(update={"drop": (), "merge": (), "recolour": (), "name": ()})
        design = _designed(_read(picture, settings), settings.model_copy(update={"design": plain}))
    lock_palette(folder, tuple(colour.srgb_hex for colour in design.palette))
    say(f"palette: {len(design.palette)} colours written into {FILE_NAME}")


def _separation(design: Kept[Design], settings: Settings) -> Step[Separation]:
    def work(into: Path) -> tuple[Separation, dict[str, Any]]:
        from blockwright.documents.pictures import write_png
        from blockwright.proof import impression_alone
        from blockwright.separation import separate

        separation = separate(design.value, settings.separation)
        for each in separation.impressions:
            picture = impression_alone(design.value, each, dpi=_PICTURE_DPI)
            write_png(into / f"impression-{each.number:02d}.png", picture, dpi=_PICTURE_DPI)
        return separation, tell_separation(separation)

    version = _version("separation", "proof", "documents/pictures.py")
    key = make_key(version, design.value_hash, settings.separation.model_dump(mode="json"))
    return Step("separation", Separation, key, work)


def _blocks(design: Kept[Design], separation: Kept[Separation], settings: Settings) -> Step[BlockSet]:
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

    key = make_key(
        _version("blocks", "documents", "data"),
        design.value_hash,
        separation.value_hash,
        settings.blocks.model_dump(mode="json"),
    )
    return Step("blocks", BlockSet, key, work)


def _cutting(blocks: Kept[BlockSet], separation: Kept[Separation], settings: Settings) -> Step[Cut]:
    def work(into: Path) -> tuple[Cut, dict[str, Any]]:
        from blockwright.cutting import plan_cuts

        cut = plan_cuts(blocks.value, settings.cutting)
        names = {each.number: each.name for each in separation.value.impressions}
        _write_bench_files(into, blocks.value, cut, settings, names)
        files = {face.name: bench_files(face.name) for face in blocks.value.faces}
        return cut, tell_cut(cut, files)

    key = make_key(
        _version("cutting", "documents", "data"),
        blocks.value_hash,
        separation.value_hash,
        settings.cutting.model_dump(mode="json"),
        settings.print.title,
    )
    return Step("cutting", Cut, key, work)


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


def _proof(design: Kept[Design], separation: Kept[Separation], settings: Settings) -> Step[Proof]:
    def work(into: Path) -> tuple[Proof, dict[str, Any]]:
        from blockwright.documents.pictures import write_png
        from blockwright.proof import progress_pictures, prove

        dpi = settings.proof.dpi
        proof = prove(design.value, separation.value, settings.proof)
        # Packing a picture takes longer than painting it, and lets the next one be painted meanwhile.
        with ThreadPoolExecutor() as pool:
            packing = [
                pool.submit(write_png, into / f"after-{number:02d}.png", picture, dpi=dpi)
                for number, picture in progress_pictures(design.value, separation.value, dpi=dpi)
            ]
        for each in packing:
            each.result()
        shutil.copyfile(into / f"after-{len(separation.value.impressions):02d}.png", into / "proof.png")
        return proof, tell_proof(proof)

    key = make_key(
        _version("proof", "documents/pictures.py"),
        design.value_hash,
        separation.value_hash,
        settings.proof.model_dump(mode="json"),
    )
    return Step("proof", Proof, key, work)


def _packet(out: OutFolder, stages: Sequence[Kept[Any]], settings: Settings) -> FileStep:
    """The packet for the bench, put together from what the stages left."""

    def work(path: Path) -> None:
        import numpy as np
        from PIL import Image

        from blockwright.colour import passes_on_paper
        from blockwright.documents import Packet, write_packet
        from blockwright.proof import progress_pictures

        design, separation, blocks, cut, proof = (stage.value for stage in stages)
        with Image.open(out.path / "design" / _SMALL) as opened:
            design_picture = np.asarray(opened.convert("RGB"))
        # Painting them again at the packet's size is quicker than reading the large ones back.
        dpi = min(settings.proof.dpi, _PACKET_DPI)
        proofs = tuple(picture for _, picture in progress_pictures(design, separation, dpi=dpi))[1:]
        write_packet(
            path,
            Packet(
                design=design,
                separation=separation,
                blocks=blocks,
                cut=cut,
                proof=proof,
                settings=settings,
                design_picture=design_picture,
                proof_picture=proofs[-1] if proofs else design_picture,
                progressive=proofs,
                passes_hex=tuple(passes_on_paper(e.ink, design.paper_hex) for e in separation.impressions),
                files={face.name: bench_files(face.name) for face in blocks.faces},
            ),
        )

    key = make_key(
        _version("documents", "data"),
        settings.model_dump(mode="json"),
        [stage.documents_hash for stage in stages],
    )
    return FileStep(_PACKET, key, work)

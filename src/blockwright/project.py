"""The whole job on one page: a picture becomes shapes, impressions, blocks, cuts, a proof and a packet.

::

    picture --> Design --> Separation --> BlockSet --> Cut
                               |
                      shelf ---+--> Inks --> Proof        and all of them --> packet.pdf

Each stage takes frozen values and gives one; its documents go to ``out/STAGE/``. A stage is made again only
when the hash of its inputs, its settings or its code has changed.
"""

import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Protocol

from pydantic import ValidationError

from blockwright.deciding import SetPalette
from blockwright.decisions import FILE_NAME, compose, read_decisions, write_whole
from blockwright.folder import Kept, OutFolder, Say, Step, Value, create_folder, quiet_say, require_free
from blockwright.hands import Hands
from blockwright.history import decide
from blockwright.ink_steps import inks_step
from blockwright.model.design import Design, Tracing
from blockwright.model.errors import FolderError, ProgramError, SettingsError
from blockwright.model.findings import Finding
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import NameColour, PrintTable, Settings
from blockwright.router_steps import check_texts, is_routed
from blockwright.separation_steps import separation_sketch_step, separation_step
from blockwright.shelf import at_hand, routers_at_hand
from blockwright.steps import (
    PACKET,
    blocks_step,
    cutting_step,
    design_step,
    packet_step,
    proof_step,
    small_proofs,
    tracing_step,
)
from blockwright.telling import findings_told

_TRACING = "tracing"
"""The stage before the first: shapes as traced, which the design's hand edits are made on."""

STAGES = ("design", "separation", "inks", "blocks", "cutting", "proof", "packet")
"""The stages in the order in which they run."""


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


def make(
    folder: Path,
    *,
    upto: str | None = None,
    lock: bool = False,
    say: Say = quiet_say,
    executor: Executor | None = None,
) -> Made:
    """Run the stages of a print in order, up to and including ``upto`` (one of STAGES; None runs all).

    ``lock`` writes the palette that was found into ``print.toml``. Progress goes to ``say``. ``executor``
    draws the documents; without one, processes of this run's own do. Raises BlockwrightError, one plain
    sentence; stages that were finished stay.
    """
    if upto is not None and upto not in STAGES:
        raise SettingsError(f"There is no stage {upto!r}; the stages are {', '.join(STAGES)}.")
    settings = read_decisions(folder)
    picture, shelf = _picture_of(folder, settings), at_hand()
    stages: list[Kept[Any]] = []
    packet = None
    with Hands(executor) as hands, (out := OutFolder(folder, say, hands)).alone():
        if len(_current(out.glance, picture, shelf, settings)) < len(STAGES) - 1:
            out.expect_drawing()
        for kept in islice(
            _stages(out.stage, picture, shelf, settings), STAGES.index(upto or STAGES[-1]) + 2
        ):
            if kept.name != _TRACING:
                stages.append(kept)
            elif lock:
                _lock(folder, settings, kept.value, say)
        if upto in {None, "packet"}:
            # Whose pictures stand in the packet.
            out.settle("design", "proof", *(["cutting"] if is_routed(settings) else []))
            packet = out.single_file(packet_step(stages, settings))
        outdated = packet is None and _outdated(out, picture, shelf, settings)
    return Made(folder, tuple(stages), packet, outdated)


def check_programs(
    folder: Path, face: str, programs: Sequence[Path], *, say: Say = quiet_say
) -> tuple[tuple[Finding, ...], dict[str, float]]:
    """Check router programs for a face, one after the other, from their files: findings and figures.

    Nothing is written but stages that were out of date. Raises BlockwrightError, one plain sentence.
    """
    made = make(folder, upto="cutting", say=say)
    settings = read_decisions(folder)
    values = {stage.name: stage.value for stage in made.stages}
    texts = [_program(path) for path in programs]
    return check_texts(values["blocks"], values["cutting"], face, texts, settings, routers_at_hand())


def _program(path: Path) -> str:
    """The text of a program that can be read; otherwise a sentence that names its file."""
    from blockwright.cutting.reading_program import read_program

    try:
        text = path.read_bytes().decode("latin-1")
        read_program(text)
    except OSError as error:
        raise FolderError(f"{path} cannot be read ({error.strerror or error}).") from error
    except ProgramError as error:
        raise ProgramError(f"{path.name}: {error}") from error
    return text


def sketch(folder: Path, *, say: Say = quiet_say) -> tuple[Kept[Any], ...]:
    """Compute every stage ahead, without the documents for the bench: what a screen needs, in a moment.

    The results lie in ``out/.sketch/``, with small pictures of the progressive proof; ``make`` goes on from
    them, but for overprints: those of a sketch are fitted to new colours, and searched in the whole run. The
    picture is traced first where that has not been done, which takes longer. Raises
    BlockwrightError, one plain sentence.
    """
    settings = read_decisions(folder)
    picture, shelf = _picture_of(folder, settings), at_hand()
    out, ahead = OutFolder(folder, say), OutFolder(folder, say, sketches=True)
    with out.alone():
        tracing = out.stage(tracing_step(picture, settings))
        ahead.path.mkdir(exist_ok=True)
        design = ahead.stage(_bare(design_step(tracing, settings)))
        whole = separation_step(design, shelf, settings)
        sketched = separation_sketch_step(design, shelf, settings, _searched_in(out, ahead))
        separation = ahead.stage(_bare(whole if out.kept(whole) or ahead.kept(whole) else sketched))
        inks = ahead.stage(_bare(inks_step(design, separation, shelf, settings)))
        proof = proof_step(design, separation, inks, settings)
        proved = ahead.stage(small_proofs(proof, design, separation, inks))
        blocks = ahead.stage(_bare(blocks_step(design, separation, settings)))
        cutting = ahead.stage(_bare(cutting_step(blocks, separation, settings)))
    return design, separation, inks, blocks, cutting, proved


def rehearse(folder: Path, *, enough: Callable[[], bool] = lambda: False) -> None:
    """Work a print that is there already out once more, and keep nothing.

    The process then remembers what the print's parts come to, and the first edit takes no longer than the
    second. ``enough`` is asked before every stage and ends it early; so does a stage that is not there.
    """
    settings = read_decisions(folder)
    picture, shelf = _picture_of(folder, settings), at_hand()
    out, ahead = OutFolder(folder, quiet_say), OutFolder(folder, quiet_say, sketches=True)

    def take(step: Step[Value], /) -> Kept[Value]:
        kept = out.glance(step) or ahead.glance(step)
        if kept is None or enough():
            raise _Stale
        if step.name != _TRACING:
            step.work(Path(nowhere))
        return kept

    def separation(design: Kept[Design], shelf: Shelf, settings: Settings) -> Step[Separation]:
        whole = separation_step(design, shelf, settings)
        sketched = separation_sketch_step(design, shelf, settings, _searched_in(out, ahead))
        # A search is of no use to the next colours, which are searched anew.
        return replace(whole, work=sketched.work) if out.glance(whole) or ahead.glance(whole) else sketched

    with TemporaryDirectory() as nowhere, suppress(_Stale):
        for _ in _stages(take, picture, shelf, settings, separation=separation):
            pass


def _searched_in(*folders: OutFolder) -> tuple[Path, ...]:
    """Where the plans of an earlier search may lie."""
    return tuple(folder.path / "separation" for folder in folders)


def _bare(step: Step[Value]) -> Step[Value]:
    """The step without its documents."""
    return Step(step.name, step.kind, step.key, step.work)


class _Take(Protocol):
    """Makes a stage, or finds it."""

    def __call__(self, step: Step[Value], /) -> Kept[Value]: ...


def _stages(
    take: _Take,
    picture: Path,
    shelf: Shelf,
    settings: Settings,
    *,
    separation: Callable[[Kept[Design], Shelf, Settings], Step[Separation]] = separation_step,
) -> Iterator[Kept[Any]]:
    """Every stage in its order, each from those before it."""
    yield (tracing := take(tracing_step(picture, settings)))
    yield (design := take(design_step(tracing, settings)))
    yield (separated := take(separation(design, shelf, settings)))
    yield (inks := take(inks_step(design, separated, shelf, settings)))
    yield (blocks := take(blocks_step(design, separated, settings)))
    yield take(cutting_step(blocks, separated, settings))
    yield take(proof_step(design, separated, inks, settings))


class _Stale(Exception):
    """A stage would have to be made."""


def _current(
    find: Callable[[Step[Any]], Kept[Any] | None], picture: Path, shelf: Shelf, settings: Settings
) -> list[Kept[Any]]:
    """The stages that are found as decided, each from those before it, until one is not there."""

    def take(step: Step[Value], /) -> Kept[Value]:
        kept = find(step)
        if kept is None:
            raise _Stale
        return kept

    current: list[Kept[Any]] = []
    with suppress(_Stale):
        for kept in _stages(take, picture, shelf, settings):
            if kept.name != _TRACING:
                current.append(kept)
    return current


def _outdated(out: OutFolder, picture: Path, shelf: Shelf, settings: Settings) -> bool:
    """Whether something lies in ``out/`` that a whole run would make anew."""
    current = _current(out.kept, picture, shelf, settings)
    if len(current) < len(STAGES) - 1:
        return any(out.holds(name) for name in (*STAGES[len(current) : -1], PACKET))
    return out.holds(PACKET) and out.kept_file(packet_step(current, settings)) is None


def create(
    folder: Path,
    *,
    picture: Path,
    width_mm: float | None = None,
    title: str | None = None,
    say: Say = quiet_say,
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


def create_demo(folder: Path, *, say: Say = quiet_say) -> Settings:
    """Make the demo print: our own picture, painted now, with its colours named. Raises FolderError."""
    from blockwright.demo import KARAZURI, LEAF, colour_names, run_names, tide_mill, write_picture

    require_free(folder)
    scene = tide_mill()
    names = tuple(NameColour(at=at, name=name) for at, name in (*colour_names(scene), *run_names(scene)))
    table = PrintTable(title=scene.title, width_mm=scene.width_mm, paper=scene.paper_hex)
    usual = Settings(print=table)
    settings = usual.model_copy(
        update={
            "design": usual.design.model_copy(update={"name": names}),
            "separation": usual.separation.model_copy(
                update={"blocks": "fewest", "karazuri": KARAZURI, "leaf": LEAF}
            ),
        }
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


def _lock(folder: Path, settings: Settings, tracing: Tracing, say: Say) -> None:
    """Write the palette that the picture gave into ``print.toml``.

    It is the one from before the hand edits, which are done again on every run.
    """
    if settings.design.palette is not None:
        say("palette: print.toml has one already, which stays")
        return
    decide(folder, SetPalette(tracing.found))
    say(f"palette: {len(tracing.found)} colours written into {FILE_NAME}")

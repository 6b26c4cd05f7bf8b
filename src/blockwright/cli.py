"""The command line: each command reads its words and calls one function of :mod:`blockwright.project`."""

import os
import re
import shlex
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.exceptions import TyperException
from typer.main import get_command

from blockwright import __version__
from blockwright.cli_inks import shelf
from blockwright.cli_mix import mix
from blockwright.cli_saying import AsJson, count, say, show
from blockwright.cli_swatch import swatch_app
from blockwright.model.errors import BlockwrightError, SettingsError
from blockwright.model.findings import is_accepted
from blockwright.telling import findings_told

DONE, STOPPED, UNUSABLE, INTERRUPTED = 0, 1, 2, 130
"""Exit codes: done; a finding stops the work; wrong usage or unreadable input; stopped from outside."""

app = typer.Typer(
    no_args_is_help=False,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="From a colour design to the woodblocks that print it.",
)

Folder = Annotated[Path, typer.Argument(metavar="FOLDER", help="The print folder.")]

_SEVERITY_WORDS = {"stop": "STOP", "warn": "look", "note": "note"}
"""How a finding is announced, the gravest first."""

_MOST_KINDS = 8
"""Kinds of finding that the summary of a run shows; ``check`` shows every one."""


def _plain_mm(length_mm: float) -> str:
    """A length to a tenth of a millimetre, without a trailing nought: ``240``, ``12.5``."""
    return f"{length_mm:.1f}".removesuffix(".0")


def _duration(minutes: float) -> str:
    """A working time as one would say it: the longer it is, the less it is known to the minute."""
    if minutes < 60:
        return count(max(1, round(minutes)), "minute")
    if minutes < 600:
        hours, rest = divmod(10 * round(minutes / 10), 60)
        return f"{hours} h {rest} min" if rest else count(hours, "hour")
    return count(round(minutes / 60), "hour")


def _finding_line(finding: dict[str, Any], alike: int = 0) -> str:
    place = f" [at {finding['at'][0]:.1f}, {finding['at'][1]:.1f} mm]" if finding["at"] else ""
    others = f" And {alike} more like it." if alike else ""
    return f"{_SEVERITY_WORDS[finding['severity']]:>6}  {finding['message']}{place}{others}"


def _ranked(told: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    gravity = list(_SEVERITY_WORDS)
    return sorted(told, key=lambda f: gravity.index(f["severity"]))


def _without_accepted(told: Sequence[dict[str, Any]], folder: Path) -> list[dict[str, Any]]:
    """The findings that are not left as they are (``[[print.accept]]``)."""
    from blockwright.decisions import read_decisions

    accepted = read_decisions(folder).print.accept
    return [each for each in told if not is_accepted(each["code"], each["severity"], each["at"], accepted)]


def _kinds_of_finding(told: Sequence[dict[str, Any]], folder: Path) -> Iterator[str]:
    """One line for each kind of finding, the gravest first."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for finding in _ranked(told):
        groups.setdefault((finding["severity"], finding["code"]), []).append(finding)
    for alike in list(groups.values())[:_MOST_KINDS]:
        yield _finding_line(alike[0], len(alike) - 1)
    if len(told) > min(len(groups), _MOST_KINDS):
        yield f"        All {len(told)} findings: blockwright check {_word(folder)}"


def _word(folder: Path) -> str:
    """A folder as it can be typed in a command."""
    return shlex.quote(str(folder))


def _figure_lines(figures: dict[str, dict[str, Any]]) -> Iterator[str]:
    if design := figures.get("design"):
        size = f"{_plain_mm(design['width_mm'])} x {_plain_mm(design['height_mm'])} mm"
        yield f"{count(design['colours'], 'colour')} in {count(design['shapes'], 'shape')}, {size}."
    if separation := figures.get("separation"):
        yield f"{count(separation['impressions'], 'impression')}."
    if inks := figures.get("inks"):
        mixed = [
            f"{inks['mixed']} to mix by recipe" if inks["mixed"] else "",
            f"{inks['from_shelf']} from the shelf" if inks["from_shelf"] else "",
            f"{left} to mix by eye" if (left := inks["inks"] - inks["mixed"] - inks["from_shelf"]) else "",
        ]
        yield f"{count(inks['inks'], 'ink')}: {', '.join(filter(None, mixed)) or 'none'}."
    if blocks := figures.get("blocks"):
        parts = blocks["part_blocks"]
        full = f"{count(blocks['full_faces'], 'face')} on {count(blocks['boards'] - parts, 'board')}"
        on_parts = f"{count(parts, 'part block')} on a registration board"
        yield f"{' and '.join([full] * bool(blocks['full_faces'] or not parts) + [on_parts] * bool(parts))}."
    if cutting := figures.get("cutting"):
        yield f"About {_duration(cutting['hand_min'])} of carving, at the rates in print.toml."
    if proof := figures.get("proof"):
        yield (
            "With these inks the print "
            + (
                "matches the design over nearly all of its area"
                if proof["p95_delta_e00"] < _SEEN_DE00
                else f"differs from the design by {proof['median_delta_e00']:.1f} in the "
                f"middle and {proof['p95_delta_e00']:.1f} at its worst twentieth (CIEDE2000)"
            )
            + f"; predicted, not measured, give or take {proof['median_uncertainty_delta_e00']:.0f}."
        )


_SEEN_DE00 = 1.0
"""A difference under this (CIEDE2000) is not seen side by side. [CP]"""


def _told_make(told: dict[str, Any], folder: Path) -> Iterator[str]:
    yield from _figure_lines({name: stage["figures"] for name, stage in told["stages"].items()})
    yield from _kinds_of_finding(told["findings"], folder)
    if told["outdated"]:
        yield f"The rest of {folder / 'out'} is older than these decisions: blockwright make {_word(folder)}"
    if told["packet"]:
        yield f"For the bench: {told['packet']}"
    if told["stopped"]:
        yield "Do not cut yet: mend what is marked STOP first."


def _width_mm(word: str) -> float:
    try:
        return float(word)
    except ValueError:
        raise SettingsError(f"--width is {word}; it must be a number of mm, without a unit.") from None


def _make(folder: Path, *, upto: str | None, lock: bool, as_json: bool, extra: dict[str, Any]) -> int:
    from blockwright import project

    made = project.make(folder, upto=upto, lock=lock, say=say)
    told = made.told()
    told["findings"] = _without_accepted(told["findings"], folder)
    show({**extra, **told}, as_json, list(_told_make(told, folder)))
    return STOPPED if made.stopped else DONE


def _tell_version(wanted: bool) -> None:
    if wanted:
        print(f"blockwright {__version__}")
        raise typer.Exit


@app.callback()
def _whole(
    version: Annotated[
        bool,
        typer.Option("--version", help="Tell the version.", is_eager=True, callback=_tell_version),
    ] = False,
) -> None:
    """From a colour design to the woodblocks that print it."""


@app.command(short_help="Make the demo print, and run the whole job on it.")
def demo(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder.")] = Path("tide-mill"),
    as_json: AsJson = False,
) -> int:
    """Make the demo print, Tide mill at low water, and run the whole job on it."""
    from blockwright import project
    from blockwright.decisions import FILE_NAME

    if not (folder / FILE_NAME).is_file():
        project.create_demo(folder, say=say)
    return _make(folder, upto=None, lock=False, as_json=as_json, extra={"demo": True})


@app.command(short_help="Start a print from a picture.")
def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder.")],
    picture: Annotated[Path, typer.Option("--picture", metavar="FILE", help="The colour design.")],
    width: Annotated[
        str | None,
        typer.Option(
            "--width", metavar="MM", help="Width of the printed image in mm; left out, the picture's own."
        ),
    ] = None,
    title: Annotated[
        str | None, typer.Option("--title", metavar="TITLE", help="What the print is called.")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Start a print from a picture: a folder with the picture and print.toml."""
    from blockwright import project
    from blockwright.decisions import FILE_NAME

    width_mm = None if width is None else _width_mm(width)
    settings = project.create(folder, picture=picture, width_mm=width_mm, title=title, say=say)
    told = {"folder": str(folder), "width_mm": settings.print.width_mm, "title": settings.print.title}
    show(
        told,
        as_json,
        [
            f"{folder} is ready: the image will be {settings.print.width_mm:g} mm wide. "
            f"Every decision is explained in {folder / FILE_NAME}.",
            f"Next: blockwright make {_word(folder)}",
        ],
    )
    return DONE


@app.command(short_help="Run the stages whose inputs changed.")
def make(
    folder: Folder,
    upto: Annotated[
        str | None, typer.Option("--upto", metavar="STAGE", help="Stop after this stage.")
    ] = None,
    lock_palette: Annotated[
        bool, typer.Option("--lock-palette", help="Write the colours found into print.toml.")
    ] = False,
    as_json: AsJson = False,
) -> int:
    """Run the stages whose inputs changed: design, separation, blocks, cutting, proof, packet."""
    return _make(folder, upto=upto, lock=lock_palette, as_json=as_json, extra={})


@app.command(short_help="Tell every finding, with its place.")
def check(
    folder: Folder,
    face: Annotated[
        str, typer.Option("--face", metavar="NAME", help="The face that the programs are for.")
    ] = "",
    program: Annotated[
        list[Path] | None,
        typer.Option("--program", metavar="FILE", help="A router program to check; may be repeated."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Tell every finding, with its place; the exit code is 1 when one must stop the work.

    With --program it reads router programs for a face, one after the other, whoever wrote them, and tells
    what they would do to it. Nothing but what it tells was checked.
    """
    from blockwright import project

    if program or face:
        return _check_programs(folder, face, program or [], as_json)
    made = project.make(folder, upto="proof", say=say)
    every = [{"stage": name, **told} for name, f in made.findings for told in findings_told([f])]
    findings = _without_accepted(every, folder)
    lines = [_finding_line(finding) for finding in _ranked(findings)] or ["Nothing to look at."]
    if left := len(every) - len(findings):
        lines.append(f"{count(left, 'finding')} left as {'it is' if left == 1 else 'they are'}.")
    told = {"folder": str(folder), "stopped": made.stopped, "findings": findings, "accepted": left}
    show(told, as_json, lines)
    return STOPPED if made.stopped else DONE


def _check_programs(folder: Path, face: str, programs: list[Path], as_json: bool) -> int:
    from blockwright import project
    from blockwright.model.errors import SettingsError

    if not face or not programs:
        raise SettingsError("check takes --face and --program together: the face, and the programs for it.")
    found, figures = project.check_programs(folder, face, programs, say=say)
    told = findings_told(found)
    lines = [_finding_line(finding) for finding in _ranked(told)] or ["Nothing to look at."]
    lines.append(
        f"{figures['moves']:.0f} moves; {figures['gouge_mm2']:.2f} mm² of wood that stays is cut, "
        f"{figures['shallow_mm2']:.0f} mm² stay too shallow; {figures['deepest_mm']:.1f} mm deep at the most."
    )
    stopped = any(finding.severity == "stop" for finding in found)
    show({"folder": str(folder), "face": face, "figures": figures, "findings": told}, as_json, lines)
    return STOPPED if stopped else DONE


app.command(short_help="Find what to mix for a colour.")(mix)


@app.command("open", short_help="Open the app in the browser.")
def open_(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="A print folder to open straight away.")
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(
            "--port", metavar="N", min=0, max=65535, help="The port; 0 takes any that is free. Usual: 8360."
        ),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address only, and open no browser.")
    ] = False,
) -> int:
    """Open the app in the browser; the first line printed is its address, Ctrl-C ends it."""
    from blockwright.web.serve import serve

    serve(folder=folder, port=port, browser=not no_browser)
    return DONE


def _tell_step(folder: Path, sentence: str, as_json: bool) -> int:
    from blockwright import history

    back, forward = history.steps(folder)
    told = {"folder": str(folder), "done": sentence, "undo": back, "redo": forward}
    show(told, as_json, [sentence, f"Next: blockwright make {_word(folder)}"])
    return DONE


@app.command(short_help="Take back the last decision.")
def undo(folder: Folder, as_json: AsJson = False) -> int:
    """Take back the last decision in print.toml; an edit made by hand is one too."""
    from blockwright import history

    return _tell_step(folder, history.undo(folder), as_json)


@app.command(short_help="Decide again what was last taken back.")
def redo(folder: Folder, as_json: AsJson = False) -> int:
    """Decide again what was last taken back."""
    from blockwright import history

    return _tell_step(folder, history.redo(folder), as_json)


app.add_typer(shelf)
app.add_typer(swatch_app, name="swatch", short_help="Make inks known from swatches.")


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _usage(error: TyperException) -> str:
    """The library's remark on the words as one sentence that says where help is."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "blockwright"
    text = re.sub(r"\. Did you mean (.*)\?$", r", perhaps \1", _one_line(error.format_message()))
    return f"{text.rstrip('.')}; see {command} --help."


def _run(words: Sequence[str]) -> int:
    # Not by calling the app: that would swallow interruptions and broken pipes, and change sys.excepthook.
    command = get_command(app)
    try:
        with command.make_context("blockwright", list(words) or ["--help"]) as context:
            code = command.invoke(context)
    except typer.Exit as ending:
        return ending.exit_code
    return code if isinstance(code, int) else DONE


def _interrupted(error: SystemError) -> bool:
    """Whether it stands for Ctrl-C within a compiled loop, which comes out as the cause of such an error."""
    cause: BaseException | None = error
    while cause is not None and not isinstance(cause, KeyboardInterrupt):
        cause = cause.__cause__ or cause.__context__
    # A loop may lose the interruption on its way out: what is left then says only this.
    return cause is not None or "returned a result with an exception set" in str(error)


def run(words: Sequence[str]) -> int:
    """Run one command; every refusal is one sentence on standard error."""
    try:
        return _run(words)
    except BlockwrightError as error:
        say(_one_line(str(error)))
        return UNUSABLE
    except TyperException as error:
        say(_usage(error))
        return UNUSABLE
    except (KeyboardInterrupt, typer.Abort):
        say("Stopped. Stages that were finished are kept.")
        return INTERRUPTED
    except SystemError as error:
        if not _interrupted(error):
            raise
        say("Stopped. Stages that were finished are kept.")
        return INTERRUPTED
    except MemoryError:
        say("There is not enough memory for this picture; save it smaller.")
        return UNUSABLE
    except BrokenPipeError:
        # Whoever read our words has heard enough, as `| head` does; nothing is wrong with the work.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except OSError as error:
        name = f" ({error.filename})" if error.filename else ""
        say(_one_line(f"The disk refused: {error.strerror or error}{name}. Nothing finished is lost."))
        return UNUSABLE


def main() -> None:
    """The entry point of the ``blockwright`` command."""
    sys.exit(run(sys.argv[1:]))

"""The command line: each command reads its words and calls one function of :mod:`blockwright.project`."""

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.exceptions import TyperException

from blockwright.model.errors import BlockwrightError
from blockwright.telling import findings_told

DONE, STOPPED, UNUSABLE, INTERRUPTED = 0, 1, 2, 130
"""Exit codes: done; a finding stops the work; wrong usage or unreadable input; stopped from outside."""

app = typer.Typer(
    no_args_is_help=False,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="From a colour design to the woodblocks that print it.",
)

Folder = Annotated[Path, typer.Argument(metavar="FOLDER", help="The print folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]

_SEVERITY_WORDS = {"note": "note", "warn": "attend", "stop": "STOP"}


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _show(told: dict[str, Any], as_json: bool, lines: Sequence[str]) -> None:
    print(json.dumps(told, ensure_ascii=False, indent=1) if as_json else "\n".join(lines))


def _finding_lines(told: Sequence[dict[str, Any]], most: int | None = None) -> list[str]:
    order = {"stop": 0, "warn": 1, "note": 2}
    ranked = sorted(told, key=lambda f: order[f["severity"]])
    lines = []
    for finding in ranked[:most]:
        place = f" [at {finding['at'][0]:.1f}, {finding['at'][1]:.1f} mm]" if finding["at"] else ""
        lines.append(f"{_SEVERITY_WORDS[finding['severity']]:>6}  {finding['message']}{place}")
    if most is not None and len(ranked) > most:
        lines.append(f"        and {len(ranked) - most} more: blockwright check FOLDER")
    return lines


def _told_make(made: Any) -> list[str]:
    told = made.told()
    figures = {name: stage["figures"] for name, stage in told["stages"].items()}
    lines = []
    if "design" in figures:
        d = figures["design"]
        lines.append(
            f"{d['colours']} colours and {d['shapes']} shapes, {d['width_mm']:g} x {d['height_mm']:.1f} mm."
        )
    if "separation" in figures:
        lines.append(f"{figures['separation']['impressions']} impressions, light to dark.")
    if "blocks" in figures:
        lines.append(f"{figures['blocks']['faces']} faces on {figures['blocks']['boards']} boards.")
    if "cutting" in figures:
        lines.append(f"About {figures['cutting']['hand_min'] / 60:.0f} hours of carving at the rates set.")
    if "proof" in figures:
        lines.append(
            f"Predicted colours are {figures['proof']['median_delta_e00']:.1f} (CIEDE2000, middle value) "
            "from the design; three bands, not measured."
        )
    lines += _finding_lines(told["findings"], most=8)
    if made.packet:
        lines.append(f"For the bench: {made.packet}")
    return lines


def _make(folder: Path, *, upto: str | None, lock: bool, as_json: bool, extra: dict[str, Any]) -> int:
    from blockwright import project

    made = project.make(folder, upto=upto, lock=lock, say=_say)
    _show({**extra, **made.told()}, as_json, _told_make(made))
    return STOPPED if made.stopped else DONE


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="A new folder.")] = Path("tide-mill"),
    as_json: AsJson = False,
) -> int:
    """Make the demo print, Tide mill at low water, and run the whole job on it."""
    from blockwright import project
    from blockwright.decisions import FILE_NAME

    if not (folder / FILE_NAME).is_file():
        project.create_demo(folder, say=_say)
    return _make(folder, upto=None, lock=False, as_json=as_json, extra={"demo": True})


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder.")],
    picture: Annotated[Path, typer.Option("--picture", metavar="FILE", help="The colour design.")],
    width: Annotated[
        float | None, typer.Option("--width", metavar="MM", help="Width of the printed image in mm.")
    ] = None,
    title: Annotated[str | None, typer.Option("--title", help="What the print is called.")] = None,
    as_json: AsJson = False,
) -> int:
    """Start a print from a picture: a folder with the picture and print.toml."""
    from blockwright import project
    from blockwright.decisions import FILE_NAME

    settings = project.create(folder, picture=picture, width_mm=width, title=title, say=_say)
    told = {"folder": str(folder), "width_mm": settings.print.width_mm, "title": settings.print.title}
    _show(
        told,
        as_json,
        [
            f"{folder} is ready: {settings.print.width_mm:g} mm wide. "
            f"Every decision is explained in {folder / FILE_NAME}.",
            f"Next: blockwright make {folder}",
        ],
    )
    return DONE


@app.command()
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


@app.command()
def check(folder: Folder, as_json: AsJson = False) -> int:
    """Tell every finding, with its place; the exit code is 1 when one must stop the work."""
    from blockwright import project

    made = project.make(folder, upto="proof", say=_say)
    findings = [{"stage": name, **told} for name, f in made.findings for told in findings_told([f])]
    lines = _finding_lines(findings) or ["Nothing to attend to."]
    _show({"folder": str(folder), "stopped": made.stopped, "findings": findings}, as_json, lines)
    return STOPPED if made.stopped else DONE


def _plain(error: TyperException) -> str:
    text = " ".join(error.format_message().split()).rstrip(".")
    return f"{text}. See: blockwright --help"


def run(words: Sequence[str]) -> int:
    """Run one command; every refusal is one sentence on standard error."""
    try:
        code = app(list(words) or ["--help"], prog_name="blockwright", standalone_mode=False)
    except BlockwrightError as error:
        _say(str(error))
        return UNUSABLE
    except TyperException as error:
        _say(_plain(error))
        return UNUSABLE
    except (KeyboardInterrupt, typer.Abort):
        _say("Stopped. Stages that were finished are kept.")
        return INTERRUPTED
    except MemoryError:
        _say("There is not enough memory for this picture; save it smaller.")
        return UNUSABLE
    except OSError as error:
        name = f" ({error.filename})" if error.filename else ""
        _say(f"The disk refused: {error.strerror or error}{name}. Nothing finished is lost.")
        return UNUSABLE
    return code if isinstance(code, int) else DONE


def main() -> None:
    """The entry point of the ``blockwright`` command."""
    sys.exit(run(sys.argv[1:]))

"""What every page of a print shares: the header, the status sentence, the sheet, and why a default holds."""

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import Request, Response
from pydantic.fields import FieldInfo

from blockwright import history
from blockwright.decisions import table_called
from blockwright.looking import Look
from blockwright.model.errors import BlockwrightError
from blockwright.web import words
from blockwright.web.drawer import OpenedPrint
from blockwright.web.events import JobState
from blockwright.web.explaining import Explaining
from blockwright.web.findings import left_as_they_are
from blockwright.web.showing import show, wants_part
from blockwright.web.words_terms import meaning_id, terms

STATIONS = ("design", "impressions", "inks", "blocks", "cutting", "proof")
"""The stations in the order of the work."""

STAGE_OF = {"impressions": "separation"}
"""The stage behind a station, where its name is another."""

_NEEDS = {"impressions": "separation", "cutting": "blocks", "proof": "separation"}
"""The stage without which a station has nothing to show, where that is another one."""

_TAG = re.compile(r"\s*\[(CP|der|mem|pub(?:: [^\]]*)?)\]")
_TAGS = {"CP": "tag_cp", "der": "tag_der", "mem": "tag_mem"}


@dataclass(frozen=True, slots=True)
class SheetShown:
    """What ``<sheet-view>`` shows: one layer or two, in mm, with pins and an outline."""

    label: str
    layers: list[dict[str, Any]]
    width_mm: float
    height_mm: float
    margins: tuple[float, float, float, float]
    paper: str
    pins: list[dict[str, Any]]
    outline: list[list[list[float]]]


def _field(table: str, key: str) -> FieldInfo:
    model = table_called(table)
    assert model is not None
    return model.model_fields[key]


def why(table: str, key: str) -> str:
    """What a setting does, its default, and where that comes from; its tag is written out.

    >>> why("proof", "dpi")
    'Resolution of the proof pictures (pixels to the inch). Usual: 150. Common practice, no source.'
    """
    field = _field(table, key)
    text = field.description or ""
    told = _TAG.findall(text)
    text = _TAG.sub("", text).rstrip(". ") + "."
    if isinstance(field.default, bool):
        text += " " + words.fmt("usual", value=words.TEXTS["usual_yes" if field.default else "usual_no"])
    elif isinstance(field.default, int | float):
        text += " " + words.fmt("usual", value=f"{field.default:g}")
    elif isinstance(field.default, str) and field.default:
        text += " " + words.fmt("usual", value=field.default)
    for tag in told:
        key_of = _TAGS.get(tag)
        text += " " + (
            words.TEXTS[key_of] if key_of else words.fmt("tag_pub", source=tag.removeprefix("pub: "))
        )
    return text


def why_label(table: str, key: str) -> str:
    """A setting's own first sentence, as a label for a screen reader."""
    field = _field(table, key)
    return _TAG.sub("", field.description or key).split(". ")[0].rstrip(".")


def layer(
    request: Request, opened: OpenedPrint, what: str, name: str, *, seen: Look | None = None
) -> dict[str, Any] | None:
    """A layer of the sheet for ``<sheet-view>``; None while there is nothing to show.

    ``seen`` is the look at the print that the page is made from.
    """
    try:
        told = request.app.state.blockwright.tiles.describe(opened.folder, what, seen=seen)
    except BlockwrightError:
        return None
    return {
        "what": what,
        "name": name,
        "url": f"/print/{opened.id}/tiles/{what}/{told.version}",
        "width": told.width_px,
        "height": told.height_px,
        "tile": told.tile_px,
        "levels": told.levels,
        "mm_per_px": told.mm_per_px,
    }


def thumb(
    request: Request, opened: OpenedPrint, what: str, *, seen: Look | None = None
) -> dict[str, Any] | None:
    """A small picture of a whole sheet, which is its first tile: ``src``, ``width`` and ``height``.

    ``tiles`` are those of the next level, twice as fine, each with its place in pixels of the first tile.
    """
    told = layer(request, opened, what, "", seen=seen)
    if told is None:
        return None
    halvings = told["levels"] - 1
    width, height = -(-told["width"] >> halvings), -(-told["height"] >> halvings)
    tiles = []
    if halvings:
        size = told["tile"] / 2
        for row in range(math.ceil(height / size)):
            for column in range(math.ceil(width / size)):
                x, y = column * size, row * size
                place = {"x": x, "y": y, "width": min(size, width - x), "height": min(size, height - y)}
                tiles.append({"src": f"{told['url']}/1/{column}_{row}.jpg", **place})
    return {"src": f"{told['url']}/0/0_0.jpg", "width": width, "height": height, "tiles": tiles}


def sheet(
    look: Look,
    layers: list[dict[str, Any] | None],
    *,
    label: str,
    pins: list[dict[str, Any]] | None = None,
    outline: list[list[list[float]]] | None = None,
) -> SheetShown:
    """The sheet of a print with its margins and paper; before there are shapes, as large as its picture."""
    there = [each for each in layers if each is not None]
    told = look.stage("design").told
    if told is not None:
        width_mm, height_mm = told["figures"]["width_mm"], told["figures"]["height_mm"]
    else:
        width_mm, height_mm = (there[0][side] * there[0]["mm_per_px"] for side in ("width", "height"))
    settings = look.settings
    blocks = settings.blocks if settings else None
    margins = (
        (blocks.margin_left_mm, blocks.margin_top_mm, blocks.margin_right_mm, blocks.margin_bottom_mm)
        if blocks
        else (0.0, 0.0, 0.0, 0.0)
    )
    return SheetShown(
        label=label,
        layers=there,
        width_mm=round(width_mm, 4),
        height_mm=round(height_mm, 4),
        margins=margins,
        paper=settings.print.paper if settings else "#f6efdf",
        pins=pins or [],
        outline=outline or [],
    )


def picture_alone(request: Request, opened: OpenedPrint, look: Look) -> SheetShown | None:
    """The picture on its sheet, for a station that has nothing of its own to show yet."""
    picture = layer(request, opened, "picture", words.TEXTS["layer_picture"])
    return sheet(look, [picture], label=words.TEXTS["picture_alone"]) if picture else None


def _asks(look: Look, station: str) -> int:
    """How many findings of a station ask for something and still stand: those of a stale stage may not."""
    stage = STAGE_OF.get(station, station)
    return sum(name == stage and each["severity"] != "note" for name, each in look.findings)


def _stale(look: Look, station: str) -> bool:
    return look.stage(STAGE_OF.get(station, station)).state == "stale"


def _standing(look: Look) -> str:
    """Where the print stands: what is from before the last change, and how much asks to be looked at."""
    asks = sum(_asks(look, each) for each in STATIONS)
    stale = next((words.TEXTS[f"station_{each}"].lower() for each in STATIONS if _stale(look, each)), None)
    proof = words.TEXTS[f"state_{look.stage('proof').state}"]
    said = [words.TEXTS["saved"], words.fmt("stale_from", station=stale) if stale else proof]
    if asks:
        said.append(words.count("asks", asks))
    return " · ".join(said)


def stream_words() -> dict[str, Any]:
    """The sentences that ``<print-stream>`` fills in."""
    stages = ("design", "separation", "inks", "blocks", "cutting", "proof", "packet")
    keys = ("begun", "under_way", "nearly", "seconds", "minutes", "lost")
    named = {s: words.TEXTS[f"work_{s}"] for s in stages}
    return {"stages": named, "any": words.TEXTS["work_any"], **{k: words.TEXTS[k] for k in keys}}


def _work_sentence(state: JobState) -> str | None:
    """The work under way as a sentence, as the page is made; ``<print-stream>`` keeps it up."""
    if not state.running:
        return None
    stage = words.TEXTS[f"work_{state.stage}"] if state.stage else words.TEXTS["work_any"]
    if state.done_percent is None:
        return words.fmt("begun", stage=stage)
    return words.fmt("under_way", stage=stage, percent=state.done_percent)


def _steps(folder: Path) -> tuple[str | None, str | None]:
    """What can be undone and redone; nothing while the folder is gone or cannot be read."""
    try:
        return history.steps(folder)
    except (BlockwrightError, OSError):
        return None, None


def versions(look: Look) -> dict[str, str]:
    """By stage what changes when pages do: a sketch has the same content as what comes of it."""
    told = {name: f"{stage.version} {stage.state}" for name, stage in look.stages.items()}
    return told | {"proof": f"{told['proof']} {look.packet_fresh}"} if told else told


def frame(request: Request, opened: OpenedPrint, look: Look, *, here: str) -> dict[str, Any]:
    """The context that ``base.html`` needs; ``bare`` is the picture, while there is nothing else to show."""
    empty = look.stage(_NEEDS.get(here, here)).told is None
    undo, redo = _steps(opened.folder)
    state: JobState = request.app.state.blockwright.jobs.state(opened.id)
    return {
        "url": f"/print/{opened.id}",
        "title": look.title,
        "look": look,
        "set": look.settings,
        "wrong": look.wrong,
        "wrong_head": words.TEXTS["wrong_shelf" if look.wrong_shelf else "wrong_print"],
        "wrong_do": words.TEXTS["wrong_shelf_do" if look.wrong_shelf else "wrong_print_do"],
        "may_write": opened.may_write,
        "here_name": words.TEXTS[f"station_{here}"],
        "stations": [
            {
                "key": key,
                "name": words.TEXTS[f"station_{key}"],
                "here": key == here,
                "asks": _asks(look, key),
                "stale": _stale(look, key),
            }
            for key in STATIONS
        ],
        "standing": _standing(look),
        "work": _work_sentence(state),
        "rough": state.running and state.seconds_left is None,
        "trouble": None if state.running else state.sentence,
        "part": False,
        "bare": picture_alone(request, opened, look) if empty else None,
        "unfinished": not look.wrong and any(stage.state != "fresh" for stage in look.stages.values()),
        "undo": undo,
        "redo": redo,
        "versions": versions(look),
        "stream_words": stream_words(),
        "terms": [(word, meaning_id(word), meaning) for word, meaning in terms(here)],
        "explained": Explaining(here),
        "left": left_as_they_are(look, stage=STAGE_OF.get(here, here)),
        "num": lambda number: words.figure(number, 3),
        "why": why,
        "why_label": why_label,
    }


def respond(
    request: Request, opened: OpenedPrint, look: Look, *, here: str, context: dict[str, Any]
) -> Response:
    """A station as a page, or for a script as the parts to morph in: ``#station`` and the header's."""
    told = frame(request, opened, look, here=here) | context
    if wants_part(request):
        return show(
            request, "part_station.html", **(told | {"part": True, "station_part": f"part_{here}.html"})
        )
    return show(request, f"station_{here}.html", **told)

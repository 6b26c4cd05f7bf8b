"""The station Inks: a card for each ink of a print, its recipe, and what the shelf has like it."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool

from blockwright import history, studio
from blockwright.deciding import SetTake
from blockwright.looking import Look, look
from blockwright.model.errors import BlockwrightError, InkError
from blockwright.model.inks import MOST_ROUNDING_DELTA_E00, PASTE, Part
from blockwright.model.settings import InksTable
from blockwright.web import words
from blockwright.web.acts import Form, number
from blockwright.web.drawer import Opened, OpenedPrint
from blockwright.web.findings import FindingShown, shown
from blockwright.web.frame import respond
from blockwright.web.ink_cards import (
    components_of,
    delta,
    grams,
    in_passes,
    measures_of,
    millilitres,
    recipe_said,
    shown_passes,
    times_said,
)
from blockwright.web.pages import changed, refused
from blockwright.web.station_blocks import stops

router = APIRouter()

MEETS_DELTA_E00 = 0.5
"""A colour that is predicted nearer to the wanted one (CIEDE2000) is said to meet it."""

FILES = ("cards.pdf", "recipes.csv", "recipes.json")
"""What may be taken along, in the order in which it is offered."""


def _href(number: int) -> str:
    return "?" + urlencode({"of": number})


def _wanted(found: Look) -> dict[int, Mapping[str, Any]]:
    """The impressions by number: what each ink is wanted for."""
    told = found.stage("separation").told or {"impressions": ()}
    return {each["number"]: each for each in told["impressions"]}


def _inks(found: Look) -> list[dict[str, Any]]:
    """The inks as told, each with the impression that it prints; an ink without one is of an older print."""
    wanted = _wanted(found)
    told = found.stage("inks").told or {"inks": ()}
    return [{**ink, "of": wanted[ink["impression"]]} for ink in told["inks"] if ink["impression"] in wanted]


def _over_paper(ink: Mapping[str, Any]) -> Mapping[str, Any]:
    return next(each for each in ink["swatches"] if each["ground"] == "paper")


def _brief(ink: Mapping[str, Any]) -> str:
    """Where an ink comes from, in a few words."""
    if ink["shelf_number"] is not None:
        return words.fmt("ink_taken", number=ink["shelf_number"])
    if ink["recipe"] is None:
        return words.TEXTS["ink_matched"]
    return ", ".join(name for name, _ in components_of(ink["recipe"]) if name != PASTE)


def _belongs(finding: FindingShown, ink: Mapping[str, Any]) -> bool:
    """Whether a finding speaks of an ink: of its colour, or of a pigment that is in it."""
    about = finding.about
    if "pigment" in about and ink["recipe"]:
        return about["pigment"] in dict(components_of(ink["recipe"]))
    return bool(about.get("colour") == ink["of"]["name"])


def _row(ink: Mapping[str, Any], here: int, findings: Sequence[FindingShown]) -> dict[str, Any]:
    of = ink["of"]
    return {
        "number": ink["impression"],
        "name": of["name"],
        "href": _href(ink["impression"]),
        "here": ink["impression"] == here,
        "wanted": of["hex"],
        "predicted": _over_paper(ink)["hex"][of["passes"] - 1],
        "brief": _brief(ink),
        "asks": sum(each.severity != "note" and _belongs(each, ink) for each in findings),
    }


def _nearness(ink: Mapping[str, Any]) -> str:
    """How near an ink is predicted to come to the wanted colour, and how far off that may be."""
    off = delta(ink["uncertainty_delta_e00"])
    if ink["origin"] == "matched":
        return words.fmt("ink_given", delta=delta(ink["delta_e00"]))
    key = "ink_meets" if ink["delta_e00"] < MEETS_DELTA_E00 else "ink_near"
    return words.fmt(key, delta=delta(ink["delta_e00"]), off=off)


def _light(ink: Mapping[str, Any]) -> str | None:
    """How far apart ink and wanted colour may be under another light, where that is seen."""
    worst = ink["recipe"]["worst_light_delta_e00"] if ink["recipe"] else 0.0
    if worst < max(1.0, ink["delta_e00"] + MEETS_DELTA_E00):
        return None
    return words.fmt("ink_light", delta=delta(worst))


def _called(text: str, of: Mapping[str, Any]) -> bool:
    return text.strip().casefold() in {of["name"].casefold(), of["hex"].casefold()}


def _undo_of(found: Look, key: str, of: Mapping[str, Any], act: str) -> dict[str, Any] | None:
    """The act that takes an ink's own line of ``[[inks.KEY]]`` back; None where it has none."""
    entries = getattr(found.settings.inks if found.settings else InksTable(), key)
    named = [k for k, each in enumerate(entries) if _called(each.colour, of)]
    if not named:
        return None
    if all(entries[k].colour == of["name"] for k in named):
        return {"act": act, "colour": of["name"]}
    return {"act": "take-back", "table": "inks", "key": key, "index": named[-1], "seen": found.text_hash}


def _near(ink: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The mixed inks of the shelf that come near, each with the act that takes it."""
    rows = []
    for each in ink["near"]:
        fields = {"act": "set-take", "colour": ink["of"]["name"], "shelf": each["number"]}
        said = words.TEXTS["near_take"]
        if each["passes"] != ink["of"]["passes"]:
            fields["times"] = each["passes"]
            said = words.fmt("near_take_times", times=times_said(each["passes"]))
        rows.append(
            {
                "number": each["number"],
                "name": each["name"],
                "hex": each["srgb_hex"],
                "said": words.fmt(
                    "near_said",
                    times=in_passes(each["passes"]),
                    delta=delta(each["delta_e00"]),
                    off=delta(each["uncertainty_delta_e00"]),
                ),
                "fields": fields,
                "take": said,
            }
        )
    return rows


def _at_hand() -> list[str]:
    """The names of the pigments at hand; none where the shelf cannot be read, of which the page speaks."""
    with suppress(BlockwrightError):
        return sorted((each.name for each in studio.shelf_pigments()), key=str.casefold)
    return []


def _own_pigments(found: Look, of: Mapping[str, Any]) -> tuple[str, ...]:
    entries = found.settings.inks.mix_from if found.settings else ()
    return next((each.pigments for each in reversed(entries) if _called(each.colour, of)), ())


def _ticked(names: Sequence[str], at_hand: Sequence[str]) -> list[dict[str, Any]]:
    """The pigments at hand as boxes, those of these names ticked."""
    wanted = {name.strip().casefold() for name in names}
    return [{"name": each, "on": each.casefold() in wanted} for each in at_hand]


def _batch(ink: Mapping[str, Any], settings: InksTable) -> dict[str, Any] | None:
    batch = ink["batch"]
    if batch is None:
        return None
    total, volume = grams(batch["needed_g"]), millilitres(batch["needed_ml"])
    lost = batch["rounding_delta_e00"]
    pot = None
    if ink["shelf_number"] is not None:
        held = batch["pot_g"]
        pot = words.TEXTS["pot_unknown"] if held is None else words.fmt("pot_holds", grams=grams(held))
    return {
        "said": words.count("recipe_for", settings.sheets, grams=total, ml=volume),
        "rounding": words.fmt("recipe_rounding", delta=delta(lost)) if lost >= 0.1 else None,
        "weighing": _weighing(batch),
        "pot": pot,
    }


def _weighing(batch: Mapping[str, Any]) -> str | None:
    """What the scale spoils, with what to do; None where it spoils nothing."""
    said = []
    if batch["rounding_delta_e00"] > MOST_ROUNDING_DELTA_E00:
        said.append(words.TEXTS["weighing_moved"])
    if batch["too_small"]:
        said.append(words.fmt("weighing_little", names=words.listed(list(batch["too_small"]))))
    return " ".join([*said, words.TEXTS["weighing_do"]]) if said else None


def _chosen(found: Look, ink: Mapping[str, Any], at_hand: list[str], used: bool) -> dict[str, Any]:
    of, settings = ink["of"], found.settings.inks if found.settings else InksTable()
    seen = _over_paper(ink)
    recipe = components_of(ink["recipe"]) if ink["recipe"] else []
    own = _own_pigments(found, of)
    by_swatch = ink["known_by"] == "own swatch"
    in_it = own or tuple(name for name, _ in recipe if name != PASTE)
    return {
        "number": ink["impression"],
        "name": of["name"],
        "hex": of["hex"],
        "passes": of["passes"],
        "under": f"{words.area(of['area_mm2'])} · {_brief(ink)}",
        "swatches": shown_passes(seen["hex"], seen["uncertainty_delta_e00"], planned=of["passes"]),
        "shelf_number": ink["shelf_number"],
        "ink": ink["name"],
        "anew": _undo_of(found, "take", of, "set-take"),
        "used": used,
        "by_recipe": bool(recipe),
        "nearness": _nearness(ink),
        "light": _light(ink),
        "known": words.TEXTS[f"{'own_swatch' if by_swatch else 'origin'}_{ink['origin']}"],
        "recipe": recipe_said(recipe) if recipe else None,
        "measures": measures_of(ink),
        "batch": _batch(ink, settings),
        "near": _near(ink),
        "own": words.listed(list(own), most=len(own)) if own else None,
        "own_undo": _undo_of(found, "mix_from", of, "set-mix-from"),
        "pigments": _ticked(in_it, at_hand),
        "cautions": [words.opening(each) for each in ink["cautions"]],
    }


def _used(opened: OpenedPrint, ink: Mapping[str, Any]) -> bool:
    """Whether the shelf has noted that this print uses the ink that it takes."""
    if ink["shelf_number"] is None:
        return False
    with suppress(BlockwrightError):
        uses = studio.uses(studio.open_studio(), ink["shelf_number"])
        place = str(opened.folder)
        return any(each.folder == place and each.impression == ink["of"]["name"] for each in uses)
    return False


def _files(url: str, found: Look) -> list[dict[str, str]]:
    there = found.stage("inks").files
    return [
        {
            "name": name,
            "href": f"{url}/files/inks/{name}",
            "for": words.TEXTS["file_" + name.removesuffix(".pdf").replace(".", "_")],
        }
        for name in FILES
        if name in there
    ]


def _context(opened: OpenedPrint, found: Look, of: int | None) -> dict[str, Any]:
    stage, settings = found.stage("inks"), found.settings
    inks = _inks(found)
    findings = shown(stage.told["findings"], found, stage="inks") if stage.told else ()
    if not inks or settings is None or found.stage("design").told is None:
        return {"inks": [], "stops": findings or stops(found), "state": stage.state}
    ink = next((each for each in inks if each["impression"] == of), inks[0])
    own = [replace(each, number=None, at=None) for each in findings if _belongs(each, ink)]
    others = [replace(each, number=None, at=None) for each in findings if not _belongs(each, ink)]
    at_hand = _at_hand()
    listed = settings.inks.pigments
    url = f"/print/{opened.id}"
    return {
        "state": stage.state,
        "inks": [_row(each, ink["impression"], findings) for each in inks],
        "chosen": _chosen(found, ink, at_hand, _used(opened, ink)),
        "paper": settings.print.paper,
        "own_findings": own,
        "findings": others,
        "pigments_said": words.fmt("pigments_own", names=words.listed(list(listed), most=8))
        if listed
        else words.TEXTS["pigments_all"],
        "pigments_own": bool(listed),
        "pigments": _ticked(listed or at_hand, at_hand),
        "files": _files(url, found),
    }


@router.get("/print/{id}/inks")
def inks(request: Request, opened: Opened, of: str | None = None) -> Response:
    """The station; ``of`` is the number of the impression whose ink is shown."""
    found = look(opened.folder)
    number = int(of) if of and of.isdecimal() and len(of) < 6 else None
    return respond(request, opened, found, here="inks", context=_context(opened, found, number))


@router.post("/print/{id}/keep-ink")
async def keep_ink(request: Request, opened: Opened) -> Response:
    """Put an ink that was mixed by its recipe on the shelf, and print with it."""
    form = await request.form()
    fields = Form([(name, value) for name, value in form.multi_items() if isinstance(value, str)])
    return await run_in_threadpool(_answer, request, opened, lambda: _keep(opened, fields))


@router.post("/print/{id}/note-use")
async def note_use(request: Request, opened: Opened) -> Response:
    """Note on the shelf that this print uses the ink that it takes."""
    form = await request.form()
    fields = Form([(name, value) for name, value in form.multi_items() if isinstance(value, str)])
    return await run_in_threadpool(_answer, request, opened, lambda: _note(opened, fields))


def _answer(request: Request, opened: OpenedPrint, step: Any) -> Response:
    if not opened.may_write:
        return refused(request, words.TEXTS["may_not_write"], 403)
    try:
        said = step()
    except BlockwrightError as error:
        return refused(request, str(error))
    request.app.state.blockwright.jobs.ask(opened.id, opened.folder)
    return changed(said)


def _ink_called(opened: OpenedPrint, colour: str) -> tuple[Look, dict[str, Any]]:
    found = look(opened.folder)
    ink = next((each for each in _inks(found) if each["of"]["name"] == colour), None)
    if ink is None:
        raise InkError(words.TEXTS["keep_gone"])
    return found, ink


def _keep(opened: OpenedPrint, form: Form) -> str:
    """Keep the recipe and its pot, note the use, and take it for the print. Raises BlockwrightError."""
    found, ink = _ink_called(opened, form.text("colour"))
    is_taken = _undo_of(found, "take", ink["of"], "set-take") is not None
    if ink["recipe"] is None or ink["batch"] is None or is_taken:
        raise InkError(words.TEXTS["keep_gone"])
    pot = number(form.maybe("pot_g") or "")
    if pot and not isinstance(pot, float):
        raise InkError(words.TEXTS["card_pot_number"])
    shelf = studio.open_studio()
    kept = studio.add_recipe(
        shelf,
        form.text("name"),
        [Part(name, share) for name, share in components_of(ink["recipe"]) if name != PASTE],
        pot_g=pot if isinstance(pot, float) else None,
        density_g_per_ml=ink["batch"]["needed_g"] / ink["batch"]["needed_ml"],
        made_on=studio.today(),
        place=form.maybe("place") or "",
    )
    _noted(opened, found, kept.number, ink["of"]["name"])
    history.decide(opened.folder, SetTake(ink["of"]["name"], kept.number))
    return words.fmt("kept_ink", number=kept.number)


def _note(opened: OpenedPrint, form: Form) -> str:
    found, ink = _ink_called(opened, form.text("colour"))
    if ink["shelf_number"] is None:
        raise InkError(words.TEXTS["keep_gone"])
    if not _used(opened, ink):
        _noted(opened, found, ink["shelf_number"], ink["of"]["name"])
    return words.TEXTS["ink_used_done"]


def _noted(opened: OpenedPrint, found: Look, number: int, impression: str) -> None:
    studio.note_use(
        studio.open_studio(), number, folder=str(opened.folder), title=found.title, impression=impression
    )

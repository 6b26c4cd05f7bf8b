"""The station Proof: the predicted print against the design, step by step, and the packet."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from blockwright.looking import Look, look
from blockwright.web import words
from blockwright.web.drawer import Opened, OpenedPrint
from blockwright.web.findings import shown
from blockwright.web.frame import layer, respond, sheet, thumb
from blockwright.web.ink_cards import delta
from blockwright.web.station_blocks import stops
from blockwright.web.station_cutting import cautions

router = APIRouter()

WORST = 12
"""Shapes in the list of the farthest: more are not gone through one by one."""

LEAST_DELTA_E00 = 1.0
"""Differences (CIEDE2000) below this hardly show side by side; they are left out of the list [CP]."""

NOTHING_DELTA_E00 = 0.05
"""A difference that is 0 when it is told with one digit."""

_CAUTIONS = ("Before all else", "Pigments", "Paste and damp paper")


def _named(found: Look) -> dict[tuple[float, float], tuple[str, str]]:
    """Name and colour of every shape of the design, by its place."""
    told = found.stage("design").told
    if told is None:
        return {}
    hexes = {each["name"]: each["hex"] for each in told["palette"]}
    return {_place(each["at"]): (each["colour"], hexes.get(each["colour"], "")) for each in told["shapes"]}


def _place(at: Any) -> tuple[float, float]:
    return round(at[0], 3), round(at[1], 3)


def _worst(found: Look, told: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The shapes that are predicted farthest from the design, the farthest first, numbered for their pins."""
    far = [each for each in told["shapes"] if each["delta_e00"] >= LEAST_DELTA_E00]
    far.sort(key=lambda each: (-round(each["delta_e00"], 1), -each["area_mm2"], each["at"]))
    named = _named(found)
    rows = []
    for number, each in enumerate(far[:WORST], 1):
        name, tint = named.get(_place(each["at"]), (words.TEXTS["a_shape"], ""))
        rows.append(
            {
                "key": f"worst-{number}",
                "number": number,
                "name": name,
                "hex": tint,
                "predicted": each.get("predicted_hex", ""),
                "off": words.fmt(
                    "off_by", delta=words.figure(each["delta_e00"], 1), off=delta(each["uncertainty"])
                ),
                "area": words.area(each["area_mm2"]),
                "at": _place(each["at"]),
            }
        )
    return rows


def _pin(row: Mapping[str, Any]) -> dict[str, Any]:
    text = f"{words.opening(row['name'])}: {row['off']}, {row['area']}"
    return {
        "key": row["key"],
        "number": str(row["number"]),
        "at": row["at"],
        "text": text,
        "severity": "note",
    }


def _nearness(figures: Mapping[str, float], *, listed: bool) -> str:
    """Median and 95th percentile in words; ``listed`` tells that shapes are shown that come out otherwise."""
    median, most = figures["median_delta_e00"], figures["p95_delta_e00"]
    if most < NOTHING_DELTA_E00:
        return words.TEXTS["near_but" if listed else "near_all"]
    key = "near_half" if median < NOTHING_DELTA_E00 else "near"
    return words.fmt(key, median=words.figure(median, 1), most=words.figure(most, 1))


def _risk(figures: Mapping[str, float]) -> str:
    risk = figures["register_risk_percent"]
    if risk < NOTHING_DELTA_E00:
        return words.TEXTS["risk_none"]
    return words.fmt("risk", percent=words.figure(risk, 1 if risk < 10 else 0))


def _steps(request: Request, opened: OpenedPrint, found: Look, at: int, total: int) -> list[dict[str, Any]]:
    """The progressive proofs, each as a small sheet."""
    told = found.stage("separation").told or {"impressions": ()}
    names = {each["number"]: each["name"] for each in told["impressions"]}
    steps = []
    for number in range(1, total + 1):
        small = thumb(request, opened, f"after-{number:02d}", seen=found)
        steps.append(
            {
                "number": number,
                "name": names.get(number, ""),
                "href": "?" + urlencode({"after": number}),
                "here": number == at,
                "thumb": small["src"] if small else None,
                "width": small["width"] if small else None,
                "height": small["height"] if small else None,
            }
        )
    return steps


def _step_href(steps: list[dict[str, Any]], number: int) -> str | None:
    return next((each["href"] for each in steps if each["number"] == number), None)


def _total(found: Look) -> int:
    return len((found.stage("separation").told or {"impressions": ()})["impressions"])


def _context(request: Request, opened: OpenedPrint, found: Look, after: int | None) -> dict[str, Any]:
    stage, settings, total = found.stage("proof"), found.settings, _total(found)
    if not total or settings is None or found.stage("design").told is None:
        return {"steps": [], "stops": stops(found), "state": stage.state}
    at = after if after is not None and 1 <= after <= total else total
    what = "proof" if at == total else f"after-{at:02d}"
    predicted = layer(request, opened, what, words.TEXTS["layer_proof"], seen=found)
    worst = _worst(found, stage.told) if stage.told else []
    steps = _steps(request, opened, found, at, total)
    caption = words.fmt("proof_whole" if at == total else "after_nth", number=at, total=total)
    return {
        "state": stage.state,
        "steps": steps,
        "at": at,
        "earlier": _step_href(steps, at - 1),
        "later": _step_href(steps, at + 1),
        "caption": caption,
        "divider": 0.5 if at == total else 1,
        "sheet": sheet(
            found,
            [predicted, layer(request, opened, "picture", words.TEXTS["layer_design"])],
            label=caption,
            pins=[_pin(row) for row in worst] if at == total else [],
        )
        if predicted
        else None,
        "worst": worst,
        "worst_shown": at == total,
        "nearness": _nearness(stage.told["figures"], listed=bool(worst)) if stage.told else None,
        "risk": _risk(stage.told["figures"]) if stage.told else None,
        "impressions": total,
        "findings": _findings(found),
        "packet": found.packet_fresh,
        "cautions": cautions(*_CAUTIONS),
    }


def _findings(found: Look) -> list[Any]:
    """Findings without a number: the pins of this sheet are those of the farthest shapes."""
    told = found.stage("proof").told
    return (
        [replace(each, number=None) for each in shown(told["findings"], found, stage="proof")] if told else []
    )


@router.get("/print/{id}/proof")
def proof(request: Request, opened: Opened, after: str | None = None) -> Response:
    """The station; ``after`` shows the sheet after that impression, else the finished print."""
    found = look(opened.folder)
    number = int(after) if after and after.isdecimal() and len(after) < 6 else None
    return respond(request, opened, found, here="proof", context=_context(request, opened, found, number))

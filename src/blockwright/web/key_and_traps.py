"""What the station Impressions says of the key line and of the traps by edge."""

from collections.abc import Mapping, Sequence
from typing import Any

from blockwright.looking import Look
from blockwright.web import words

_MOST_EDGES = 6
"""Edges that the table names: what one looks at before deciding."""

_THIN_MM = 0.05
"""Where this much of a trap is not reached, mm, thin shapes end it."""

Told = Mapping[str, Any]


def key_and_traps(found: Look, told: Told) -> dict[str, Any]:
    """The key's sentences and choices, and the edges with most to lose; ``told`` is the separation's report.

    Reports from before keys and edges were told have neither.
    """
    settings = found.settings
    if settings is None or "edges" not in told:
        return {"key": None, "edges": None, "own_edges": []}
    names = {each["number"]: each["name"] for each in told["impressions"]}
    inked = [each["name"] for each in told["impressions"] if each["ink"] is not None]
    return {
        "key": {
            "said": _key_said(told, names, settings.separation.key),
            "choices": _choices(inked, settings.separation.key),
            "now": _now(told["impressions"], settings.separation.key),
        },
        "edges": {
            "about": words.fmt(
                "edges_about",
                drift=words.mm(settings.separation.register_mm),
                gap=words.area(sum(each["gap_mm2"] for each in told["edges"])),
            ),
            "rows": _rows(told["edges"], names),
        },
        "own_edges": [
            {
                "said": words.fmt(
                    "edge_set_everywhere" if each.everywhere else "edge_set",
                    at=f"{each.at[0]:.1f}, {each.at[1]:.1f}",
                    value=words.mm(each.mm),
                ),
                "fields": {
                    "act": "take-back",
                    "table": "separation",
                    "key": "edge_trap",
                    "index": k,
                    "seen": found.text_hash,
                },
            }
            for k, each in enumerate(settings.separation.edge_trap)
        ],
    }


def _key_said(told: Told, names: Mapping[int, str], wanted: str) -> list[str]:
    key = told["key"]
    if key is None:
        return [words.TEXTS["key_none" if wanted.strip().casefold() == "none" else "key_missing"]]
    name = names[key["impression"]]
    if key["line_mm"] <= 0.0:
        return [words.fmt("key_solid", name=name)]
    closes = any(each["reason"] == "line" for each in told["edges"])
    said = [
        words.fmt("key_carries" if closes else "key_carries_open", name=name, length=words.mm(key["line_mm"]))
    ]
    if key["lifted_shapes"]:
        said.append(words.count("key_lifted", key["lifted_shapes"]))
    return said


def _choices(names: Sequence[str], wanted: str) -> list[tuple[str, str]]:
    plain = [("found", words.TEXTS["key_choice_found"]), ("none", words.TEXTS["key_choice_none"])]
    named = [(name, name) for name in names]
    known = {value.casefold() for value, _ in (*plain, *named)}
    return [
        *plain,
        *named,
        *([] if wanted.casefold() in known or wanted.startswith("#") else [(wanted, wanted)]),
    ]


def _now(impressions: Sequence[Told], wanted: str) -> str:
    """The choice that holds: a colour given as #rrggbb by its name."""
    text = wanted.strip().casefold()
    return next(
        (each["name"] for each in impressions if text in (each["name"].casefold(), each["hex"])), text
    )


def _rows(edges: Sequence[Told], names: Mapping[int, str]) -> list[dict[str, Any]]:
    worst = sorted(edges, key=lambda each: (-each["gap_mm2"], each["earlier"], each["later"]))
    rows = []
    for k, each in enumerate(worst[:_MOST_EDGES], start=1):
        over = each["earlier"] if each["runs_under"] == each["later"] else each["later"]
        runs_over = each["reason"] == "leaf over"
        pair = {"under": names[each["runs_under"]], "over": names[over]}
        rows.append(
            {
                "key": f"edge-{k}",
                "under": words.opening(pair["under"]),
                "over": pair["over"],
                "why": _why(each),
                "trap": words.figure(-each["trap_mm"] if runs_over else each["trap_mm"], 2),
                "gap": words.area(each["gap_mm2"]),
                "at": f"{each['at'][0]},{each['at'][1]}",
                "own": runs_over or each["reason"] == "edge",
                "label": words.fmt("edge_trap_label", **pair),
            }
        )
    return rows


def _why(edge: Told) -> str:
    """Why its trap is what it is."""
    length, reason = words.mm(edge["length_mm"]), edge["reason"]
    if reason == "line":
        return words.fmt("edge_line", length=length)
    if edge["reach_mm"] < edge["trap_mm"] - _THIN_MM:
        return words.fmt("edge_thin", length=length, reach=words.mm(edge["reach_mm"]))
    texts = {
        "edge": "edge_own",
        "colour": "edge_of_colour",
        "hidden": "edge_hidden",
        "seen": "edge_seen",
        "leaf": "edge_leaf",
        "leaf over": "edge_leaf_over",
    }
    return words.fmt(texts.get(reason, "edge_plain"), length=length)

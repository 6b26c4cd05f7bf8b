"""Every kind of finding has an act beside it that answers it, and what the act decides is what it says."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

import blockwright
from blockwright.deciding import change
from blockwright.decisions import compose, parse
from blockwright.looking import STAGES, Look, StageLook
from blockwright.model.settings import PrintTable, Settings
from blockwright.web import words
from blockwright.web.acts import read_act
from blockwright.web.answering import Answer
from blockwright.web.answers import answers_to
from blockwright.web.findings import left_as_they_are, shown

SRC = Path(blockwright.__file__).parent
FRESH = compose(Settings(print=PrintTable(title="Tide mill", width_mm=360.0)))

DESIGN = {"palette": [{"name": "sand", "hex": "#d9c39a"}, {"name": "reed", "hex": "#6a7b42"}]}
SEPARATION = {
    "impressions": [
        {"number": 1, "name": "sand", "hex": "#d9c39a", "passes": 1, "passes_hex": ["#d8c29b", "#c0a070"]},
        {"number": 2, "name": "reed", "hex": "#6a7b42", "passes": 2, "passes_hex": ["#6a7b43", "#4d6030"]},
    ]
}

INKS = {
    "inks": [
        {
            "impression": 2,
            "delta_e00": 4.2,
            "swatches": [{"ground": "paper", "hex": ["#70804c", "#4f6234", "#3f5228", "#384a22"]}],
            "near": [{"number": 12, "name": "reed ink", "passes": 1, "delta_e00": 1.1}],
        }
    ]
}


CUTTING = {
    "faces": [
        {
            "face": "A front",
            "bit_sets": [
                {"bits": ["6 mm flat", "3 mm flat", "1.5 mm flat", "60 degree V"]},
                {"bits": ["6 mm flat", "60 degree V"]},
            ],
        }
    ]
}
"""A face that was routed with all bits of the shelf that nobody has changed."""


def _look(text: str, findings: Mapping[str, list[Any]] | None = None) -> Look:
    told: dict[str, Any] = {"design": DESIGN, "separation": SEPARATION, "inks": INKS, "cutting": CUTTING}
    stages = {
        name: StageLook(
            name, "fresh", told={**told.get(name, {}), "findings": (findings or {}).get(name, [])}
        )
        for name in STAGES
    }
    return Look(Path("print"), parse(text), None, "hash of the text", stages)


def _on_face(**said: Any) -> dict[str, Any]:
    """What is decided of the face A front alone."""
    nothing = {"method": None, "machine": None, "bits": None, "quarter_turn": None}
    return {"cutting.face": ({"face": "A front", **nothing, **said},)}


def _raw(
    code: str, message: str, severity: str = "warn", at: list[float] | None = None, **about: str | float
) -> dict[str, Any]:
    return {"code": code, "severity": severity, "message": message, "at": at, "about": about}


def _form(answer: Answer) -> list[tuple[str, str]]:
    """As a button sends it: a list arrives as one field."""
    return [
        (name, ",".join(value) if isinstance(value, list) else str(value))
        for name, value in answer.fields.items()
    ]


def _decided(answer: Answer, text: str) -> dict[str, Any]:
    """What differs after the act, by table and key."""
    before, after = parse(text).model_dump(), parse(change(text, read_act(_form(answer)))).model_dump()
    return {
        f"{table}.{key}": _changed(before[table][key], value)
        for table in after
        for key, value in after[table].items()
        if before[table][key] != value
    }


def _changed(before: Any, after: Any) -> Any:
    """A value after an act; of a table in a table what differs."""
    if not isinstance(after, dict):
        return after
    return {name: value for name, value in after.items() if before[name] != value}


def _codes() -> set[str]:
    """Every code that a stage may give, as the source has it."""
    found: set[str] = set()
    for file in SRC.rglob("*.py"):
        text = file.read_text(encoding="utf-8")
        for first, other in re.findall(
            r'Finding\(\s*(?:code=)?f?"([^"]+)"(?: if [^\n]* else "([^"]+)")?', text
        ):
            found |= {first, other} - {""}
    unknown = {f"{key}-unknown-colour" for key in ("order", "passes", "trap", "key")}
    found |= {"pot-too-small", "pot-not-weighed"} if "pot-not-weighed" in _TEXTS else set()
    return (found - {"{setting}-unknown-colour"}) | unknown


_TEXTS = "".join(file.read_text(encoding="utf-8") for file in (SRC / "inks").rglob("*.py"))

AT = [20.0, 30.0]
END = "\n[[{0}]]\n{1}\n"
CHERRY = {
    "name": "cherry plank",
    "wood": "cherry",
    "width_mm": 450.0,
    "height_mm": 300.0,
    "thickness_mm": 20.0,
    "grain": "along",
    "count": 2,
    "cut": "flat sawn",
    "moves_percent": None,
}
LARGER = {"width_mm": 650.0, "height_mm": 490.0, "count": None}
STOCKED = END.format(
    "blocks.stock",
    'name = "cherry plank"\nwood = "cherry"\nwidth_mm = 450.0\nheight_mm = 300.0\n'
    "thickness_mm = 20.0\ncount = 2",
)
FEWEST = FRESH.replace('blocks = "one a colour"', 'blocks = "fewest"')
COUNTED = FEWEST.replace("# block_count = 12", "block_count = 4")
OWN = FRESH.replace("order = []", 'order = ["reed, black", "gone, pale"]')
ANSWERED: list[tuple[dict[str, Any], str, list[dict[str, Any]]]] = [
    (
        _raw("shape-too-small", "A shape of sand is only 0.42 mm²; under 1 mm² it may break off.", at=AT),
        FRESH,
        [{"design.drop": ({"at": (20.0, 30.0)},)}],
    ),
    (_raw("many-small-shapes", "90 shapes are under 1 mm²."), FRESH, [{"design.speck_mm2": 1.0}]),
    (_raw("many-narrow-places", "90 places are under 0.25 mm."), FRESH, [{"design.least_width_mm": 0.125}]),
    (
        _raw("many-narrow-places", "90 places are under 0.8 mm."),
        FRESH.replace("least_width_mm = 0.25", "least_width_mm = 0.8"),
        [{"design.least_width_mm": 0.25}],
    ),
    (
        _raw("no-flat-colours", "This picture has hardly any flat colour."),
        FRESH,
        [
            *({"design.colours": number} for number in (8, 16, 32)),
            {"design.palette": ("#d9c39a", "#6a7b42")},
        ],
    ),
    (
        _raw(
            "edit-misses",
            "print.toml: the drop at [20, 30] lies in no shape any more; move it.",
            at=AT,
            edit="drop",
        ),
        FRESH
        + END.format("design.name", 'at = [20.0, 30.0]\nname = "sand"')
        + END.format("design.drop", "at = [20.0, 30.0]"),
        [{"design.drop": ()}],
    ),
    (
        _raw(
            "edit-does-nothing",
            "print.toml: a drop would take away the only shape there is.",
            at=AT,
            edit="drop",
        ),
        FRESH + END.format("design.drop", "at = [20.0, 30.0]"),
        [{"design.drop": ()}],
    ),
    (
        _raw(
            "name-twice",
            'print.toml: two colours are named "sand"; the second keeps its own name.',
            at=AT,
            edit="name",
        ),
        FRESH
        + END.format("design.recolour", 'at = [20.0, 30.0]\nto = "#112233"')
        + END.format("design.name", 'at = [20.0, 30.0]\nname = "sand"'),
        [{"design.name": ()}],
    ),
    (_raw("many-impressions", "20 impressions are many."), FRESH, [{"design.colours": 12}]),
    (
        _raw("many-impressions", "20 impressions are many."),
        FRESH.replace("# palette = [", "palette = ["),
        [{"design.palette": None}],
    ),
    (
        _raw("nothing-to-print", "Every colour is the paper's.", "stop"),
        FRESH,
        [{"separation.paper_within_delta_e00": 0.0}, {"print.paper": "#ffffff"}],
    ),
    (
        _raw("lighter-than-paper", "Snow (#ffffff) is lighter than the paper.", "note", AT),
        FRESH,
        [{"design.recolour": ({"at": (20.0, 30.0), "to": "#f6efdf", "here": False},)}],
    ),
    (
        _raw("colour-out-of-reach", "Sand (#d9c39a) cannot be reached on this paper.", at=AT, colour="sand"),
        FRESH,
        [{"design.recolour": ({"at": (20.0, 30.0), "to": "#d8c29b", "here": False},)}],
    ),
    (
        _raw(
            "colour-far-off",
            "2 shapes of reed (#6a7b42): the print is predicted to differ by 9.",
            at=AT,
            colour="reed",
        ),
        FRESH + END.format("separation.passes", 'colour = "reed"\ntimes = 2'),
        [
            {"separation.passes": ({"colour": "reed", "times": 1},)},
            {"design.recolour": ({"at": (20.0, 30.0), "to": "#4f6234", "here": False},)},
        ],
    ),
    (
        _raw("order-unknown-colour", "There is no colour called gone, pale.", colour="gone, pale"),
        OWN,
        [{"separation.order": ("reed, black",)}, {"separation.order": ()}],
    ),
    (
        _raw("passes-unknown-colour", "There is no colour called gone.", colour="gone"),
        FRESH + END.format("separation.passes", 'colour = "gone"\ntimes = 2'),
        [{"separation.passes": ()}],
    ),
    (
        _raw("trap-unknown-colour", "gone is left as bare paper or has no shape.", colour="gone"),
        FRESH + END.format("separation.trap", 'colour = "gone"\nmm = 0.2'),
        [{"separation.trap": ()}],
    ),
    (
        _raw("key-unknown-colour", "There is no colour called gone.", colour="gone"),
        FRESH.replace('key = "found"', 'key = "gone"'),
        [{"separation.key": "found"}, {"separation.key": "none"}],
    ),
    (
        _raw("key-misses", "The place 999, 5 lies outside the picture."),
        FRESH.replace("# key_at = [120.5, 88.2]", "key_at = [999.0, 5.0]"),
        [{"separation.key_at": None}],
    ),
    (
        {
            **_raw("edge-trap-misses", "The trap for the edge at 20, 30 does nothing.", at=AT),
            "about": {"at": "20.0,30.0"},
        },
        FRESH + END.format("separation.edge_trap", "at = [20.0, 30.0]\nmm = 0.3"),
        [{"separation.edge_trap": ()}],
    ),
    (
        _raw(
            "shape-smaller-than-trap",
            "One shape is narrower than its trap.",
            "note",
            AT,
            edge_at="20.0,30.0",
            trap_mm=0.15,
        ),
        FRESH,
        [
            {"design.drop": ({"at": (20.0, 30.0)},)},
            {"separation.edge_trap": ({"at": (20.0, 30.0), "mm": 0.15, "everywhere": False},)},
        ],
    ),
    (
        _raw("blocks-saved", "10 blocks print these 20 colours.", "note"),
        FEWEST,
        [{"separation.blocks": "one a colour"}],
    ),
    (
        _raw("overprints-miss", "No overprints within the limits were found.", worst_delta_e00=4.3),
        FEWEST,
        [{"separation.worst_delta_e00": 4.3}, {"separation.blocks": "one a colour"}],
    ),
    (
        _raw("overprints-miss", "So few blocks, 4, miss the design.", worst_delta_e00=4.3),
        COUNTED,
        [{"separation.block_count": None}, {"separation.blocks": "one a colour"}],
    ),
    (
        _raw("overprints-out-of-reach", "Out of reach of the inks at hand: slate.", worst_delta_e00=9.3),
        FEWEST,
        [{"separation.worst_delta_e00": 9.3}, {"separation.blocks": "one a colour"}],
    ),
    (
        _raw("overprints-out-of-reach", "The mean is out of reach.", limit_delta_e00=1.3),
        FEWEST,
        [{"separation.limit_delta_e00": 1.3}, {"separation.blocks": "one a colour"}],
    ),
    (
        _raw("overprint-other-light", "Overprints that match by day may differ.", "note", AT),
        FEWEST,
        [{"separation.blocks": "one a colour"}],
    ),
    (
        _raw("overprints-none", "No overprints give these colours."),
        FEWEST.replace('overprint_inks = "both"', 'overprint_inks = "mixes"'),
        [{"separation.overprint_inks": "both"}, {"separation.blocks": "one a colour"}],
    ),
    (
        _raw("overprints-no-inks", "There is no mixed ink on the shelf."),
        FEWEST.replace('overprint_inks = "both"', 'overprint_inks = "mixed inks"'),
        [{"separation.overprint_inks": "both"}, {"separation.blocks": "one a colour"}],
    ),
    (
        _raw("block-count-not-there", "No plan of 4 blocks was found.", block_count=5),
        COUNTED,
        [{"separation.block_count": None}],
    ),
    (
        _raw("overprint-misses", "[[separation.overprint]] points at paper.", at=AT),
        FEWEST + END.format("separation.overprint", "at = [20.0, 30.0]\nover = [1.0, 2.0]"),
        [{"separation.overprint": ()}],
    ),
    (
        _raw("overprint-contradicts", "It cannot be.", at=AT),
        FEWEST + END.format("separation.overprint", "at = [20.0, 30.0]\nover = [1.0, 2.0]"),
        [{"separation.overprint": ()}],
    ),
    (
        _raw("overprint-ink-contradicts", "Both cannot be.", at=AT, edit="overprint"),
        FEWEST + END.format("separation.overprint", "at = [20.0, 30.0]\nover = [1.0, 2.0]"),
        [{"separation.overprint": ()}],
    ),
    (
        _raw("overprint-ink-contradicts", "Both cannot be.", edit="mix_from", colour="blue"),
        FEWEST + END.format("inks.mix_from", 'colour = "blue"\npigments = ["bone black"]'),
        [{"inks.mix_from": ()}],
    ),
    (
        _raw("split-misses", "[[separation.split]] points at paper.", at=AT),
        FRESH + END.format("separation.split", "at = [20.0, 30.0]"),
        [{"separation.split": ()}],
    ),
    (
        _raw("split-name-taken", "Its name is a colour's.", at=AT),
        FRESH + END.format("separation.split", 'at = [20.0, 30.0]\nname = "reed"'),
        [{"separation.split": ()}],
    ),
    (
        _raw("solid-after-solid", "One solid block follows another.", "note"),
        FEWEST,
        [{"separation.blocks": "one a colour"}],
    ),
    (
        _raw(
            "register-risk",
            "About 12 % would show paper. Traps of at least 0.7 mm would do.",
            at=AT,
            trap_mm=0.7,
        ),
        FRESH,
        [{"separation.trap_mm": 0.7}],
    ),
    (
        _raw(
            "marks-do-not-fit", "Marks with arms do not fit; an arm_mm of 12.3 would do.", "stop", arm_mm=12.3
        ),
        FRESH.replace("hikitsuke_at = 0.667", "hikitsuke_at = 0.9"),
        [{"blocks.arm_mm": 12.3}, {"blocks.hikitsuke_at": 0.667}],
    ),
    (
        _raw(
            "marks-off-wood",
            "The hikitsuke does not lie on the wood; a block_over_mm of 46 or a hikitsuke_at of 0.61 "
            "would do.",
            "stop",
            AT,
            block_over_mm=46,
            hikitsuke_at=0.61,
        ),
        FRESH,
        [{"blocks.block_over_mm": 46.0}, {"blocks.hikitsuke_at": 0.61}],
    ),
    (
        _raw(
            "marks-in-image",
            "The kagi is cut into what face A front prints; a margin_left_mm of 9 and a margin_bottom_mm "
            "of 9 would bring it clear.",
            "stop",
            AT,
            margin_left_mm=9,
            margin_bottom_mm=9,
        ),
        FRESH,
        [
            {"blocks.margin_left_mm": 9.0},
            {"blocks.margin_bottom_mm": 9.0},
            {"blocks.kagi_corner": "lower left"},
        ],
    ),
    (
        _raw(
            "printing-off-block", "Part lies outside the block; this would do.", "stop", AT, block_over_mm=120
        ),
        FRESH,
        [{"blocks.block_over_mm": 120.0}],
    ),
    (
        _raw("no-board-big-enough", "The blocks are larger.", "stop", width_mm=640.2, height_mm=481.0),
        FRESH + STOCKED,
        [{"blocks.stock": (CHERRY, {**CHERRY, "name": "cherry 650 x 490", **LARGER})}],
    ),
    (
        _raw("boards-short", "5 blocks are needed.", "stop", board="cherry plank", count=5),
        FRESH.replace("both_faces = true", "both_faces = false") + STOCKED,
        [
            {"blocks.stock": ({**CHERRY, "count": 5},)},
            {"blocks.stock": ({**CHERRY, "count": None},)},
            {"blocks.both_faces": True},
        ],
    ),
    (
        _raw("larger-board-taken", "1 board is needed.", "note", board="cherry plank", count=1),
        FRESH + STOCKED,
        [{"blocks.stock": ({**CHERRY, "count": 1},)}, {"blocks.stock": ({**CHERRY, "count": None},)}],
    ),
    (
        _raw("faces-could-share", "Every ink has a face of its own.", "note"),
        FRESH.replace("share_faces = true", "share_faces = false"),
        [{"blocks.share_faces": True}],
    ),
    (
        _raw("shared-near", "They share a face 5 mm apart.", "note", colour="reed", other="sand"),
        FRESH + END.format("blocks.together", 'inks = ["sand", "Reed"]'),
        [{"blocks.masked": ("reed", "sand")}, {"blocks.together": ()}],
    ),
    (
        _raw("cannot-share", "They print over one another.", colour="reed", other="sand"),
        FRESH + END.format("blocks.together", 'inks = ["sand", "reed"]'),
        [{"blocks.together": ()}],
    ),
    (
        _raw("sharing-contradicts", "Together and apart.", "stop", colour="reed", other="sand"),
        FRESH
        + END.format("blocks.together", 'inks = ["sand", "reed"]')
        + END.format("blocks.apart", 'inks = ["reed", "sand"]'),
        [{"blocks.together": ()}, {"blocks.apart": ()}],
    ),
    (
        _raw("sharing-unknown-colour", "No colour called gone is printed.", colour="gone"),
        FRESH.replace("masked = []", 'masked = ["gone"]')
        + END.format("blocks.apart", 'inks = ["reed", "gone"]'),
        [{"blocks.apart": ()}, {"blocks.masked": ()}],
    ),
    (
        _raw("part-contradicts", "On a part block and on a full one.", "stop", colour="reed"),
        FRESH.replace("on_part_block = []", 'on_part_block = ["reed"]').replace(
            "on_full_block = []", 'on_full_block = ["Reed"]'
        ),
        [
            {"blocks.on_part_block": (), "blocks.on_full_block": ("reed",)},
            {"blocks.on_part_block": (), "blocks.on_full_block": ()},
        ],
    ),
    (
        _raw("part-not-possible", "It presses the back.", colour="reed"),
        FRESH.replace("on_part_block = []", 'on_part_block = ["reed", "sand"]'),
        [{"blocks.on_part_block": ("sand",)}],
    ),
    (
        _raw("part-block-small", "It is only 30 x 38 mm.", "note", part_border_mm=15.0, colour="reed"),
        FRESH,
        [{"blocks.part_border_mm": 15.0}, {"blocks.on_full_block": ("reed",)}],
    ),
    (
        _raw("part-near-edge", "It prints 3 mm from its edge.", part_border_mm=4.0, colour="reed"),
        FRESH.replace("part_border_mm = 10.0", "part_border_mm = 3.0"),
        [{"blocks.part_border_mm": 4.0}, {"blocks.on_full_block": ("reed",)}],
    ),
    (
        _raw("part-blocks-spare-none", "They spare no wood.", "note"),
        FRESH.replace("part_blocks = false", "part_blocks = true"),
        [{"blocks.registration_board": "on hand"}, {"blocks.part_blocks": False}],
    ),
    (
        _raw("registration-board-short", "The boards do not give it.", board="cherry plank", count=2),
        FRESH.replace("part_blocks = false", "part_blocks = true"),
        [{"blocks.registration_board": "on hand"}, {"blocks.part_blocks": False}],
    ),
    (
        _raw(
            "margin-at-marks",
            "The left margin, where the marks stand, is 25 mm.",
            "note",
            margin_left_mm=15.0,
        ),
        FRESH.replace("margin_left_mm = 15.0", "margin_left_mm = 25.0"),
        [{"blocks.margin_left_mm": 15.0}],
    ),
    (
        _raw("face-not-known", '[[cutting.face]] names the face "Z front".', face="Z front"),
        FRESH + END.format("cutting.face", 'face = "Z front"\nmethod = "hand"'),
        [{"cutting.face": ()}],
    ),
    (
        _raw("bit-too-large", "12 mm flat fits nowhere.", bit="12 mm flat", bits='["3 mm flat", "60° V"]'),
        FRESH,
        [{"cutting.router": {"bits": ("3 mm flat", "60° V")}}],
    ),
    (
        _raw("bit-not-needed", "3 mm ball has nothing to do.", "note", bit="3 mm ball", bits='["3 mm flat"]'),
        FRESH,
        [{"cutting.router": {"bits": ("3 mm flat",)}}],
    ),
    (
        _raw("bit-rubs", "Each tooth takes 0.02 mm.", bit="3 mm flat", machine="big"),
        FRESH,
        [],
    ),
    (
        _raw("program-cuts-the-face", "It cuts into wood that stays.", "stop", at=AT, face="A front"),
        FRESH,
        [_on_face(bits=("6 mm flat", "60 degree V")), _on_face(method="hand")],
    ),
    (
        _raw("program-cuts-the-face", "It cuts into wood that stays.", "stop", at=AT, face="A front"),
        FRESH.replace("wall_deg = 60.0", "wall_deg = 70.0"),
        [
            {"cutting.router": {"wall_deg": 60.0}},
            _on_face(bits=("6 mm flat", "60 degree V")),
            _on_face(method="hand"),
        ],
    ),
    (
        _raw("program-rapid-in-the-wood", "It moves at full speed.", "stop", at=AT, face="A front"),
        FRESH,
        [_on_face(bits=("6 mm flat", "60 degree V")), _on_face(method="hand")],
    ),
    (
        _raw(
            "program-through-the-board",
            "It cuts 9 mm deep.",
            "stop",
            at=AT,
            face="A front",
            thickness_mm=7.5,
        ),
        FRESH,
        [{"cutting.router": {"most_depth_mm": 3.7}}, _on_face(method="hand")],
    ),
    (
        _raw(
            "program-shank-meets-wood",
            "Its shank meets wood.",
            "stop",
            at=AT,
            face="A front",
            bit="1.5 mm flat",
            cutting_mm=4.0,
        ),
        FRESH,
        [
            {"cutting.router": {"most_depth_mm": 4.0}},
            _on_face(bits=("6 mm flat", "3 mm flat", "60 degree V")),
        ],
    ),
    (
        _raw(
            "program-beyond-the-machine",
            "Turned by a quarter it fits.",
            "stop",
            face="A front",
            machine="small",
            quarter_turn=1,
            x_mm=420.0,
            y_mm=310.0,
            z_mm=9.0,
        ),
        FRESH,
        [
            _on_face(quarter_turn=True),
            {"cutting.router": {"quarter_turn": True}},
            _on_face(machine="plain table router"),
        ],
    ),
    (
        _raw(
            "program-beyond-the-machine",
            "Laid down as it is carved it fits.",
            "stop",
            face="A front",
            machine="small",
            quarter_turn=0,
            x_mm=420.0,
            y_mm=610.0,
            z_mm=9.0,
        ),
        FRESH.replace("quarter_turn = false", "quarter_turn = true"),
        [_on_face(quarter_turn=False), {"cutting.router": {"quarter_turn": False}}],
    ),
    (
        _raw(
            "program-beyond-the-machine",
            "It moves too high.",
            "stop",
            face="A front",
            machine="small",
            safe_mm=3.5,
            x_mm=420.0,
            y_mm=610.0,
            z_mm=9.0,
        ),
        FRESH,
        [{"cutting.router": {"safe_mm": 3.5}}],
    ),
    (
        _raw("program-mark-is-off", "The kagi is out of place.", "stop", at=AT, face="A front"),
        FRESH.replace("\nbits = []", '\nbits = ["6 mm flat", "60 degree V"]'),
        [_on_face(bits=("6 mm flat", "60 degree V", "3 mm flat"))],
    ),
    (
        _raw("program-leaves-a-mark", "It does not cut the kagi.", at=AT, face="A front"),
        FRESH + END.format("cutting.face", 'face = "A front"\nbits = ["6 mm flat", "3 mm flat"]'),
        [_on_face(bits=("6 mm flat", "3 mm flat", "1.5 mm flat"))],
    ),
    (
        _raw("program-leaves-it-shallow", "40 mm² stay too shallow.", at=AT, face="A front"),
        FRESH.replace("\nbits = []", '\nbits = ["6 MM FLAT"]'),
        [_on_face(bits=("6 mm flat", "3 mm flat"))],
    ),
    (
        _raw("program-deeper-than-wanted", "Walls are steeper.", at=AT, face="A front"),
        FRESH.replace("\nbits = []", '\nbits = ["3 mm flat"]'),
        [_on_face(bits=("3 mm flat", "60 degree V"))],
    ),
    (
        _raw("program-deeper-than-wanted", "A hollow is deeper.", at=AT, face="A front"),
        FRESH,
        [_on_face(bits=("6 mm flat", "60 degree V"))],
    ),
    (
        _raw(
            "impressions-apart", "Impression 3 (A back) and impression 7 (D front) come to lie apart.", at=AT
        ),
        FRESH,
        [{"blocks.compensate": True}],
    ),
    (
        _raw("wood-not-known", 'How much "pear" moves is not known here.', "note", board="pear plank"),
        FRESH,
        [{"blocks.unknown_wood_percent": 0.35}],
    ),
    (
        _raw("recipe-misses", "Reed is missed by 4.2.", at=AT, colour="reed", passes=3),
        FRESH,
        [
            {"separation.passes": ({"colour": "reed", "times": 3},)},
            {
                "inks.take": ({"colour": "reed", "shelf": 12},),
                "separation.passes": ({"colour": "reed", "times": 1},),
            },
            {"design.recolour": ({"at": (20.0, 30.0), "to": "#4f6234", "here": False},)},
        ],
    ),
    (
        _raw("recipe-misses", "Gone is missed by 4.2.", colour="gone"),
        FRESH,
        [],
    ),
    (
        _raw("unknown-shelf-ink", "There is no ink 40.", colour="reed"),
        FRESH + END.format("inks.take", 'colour = "reed"\nshelf = 40'),
        [{"inks.take": ()}],
    ),
    (
        _raw("pot-too-small", "Its pot holds 3 g.", colour="reed", ink=12),
        FRESH + END.format("inks.take", 'colour = "reed"\nshelf = 12'),
        [{"inks.take": ()}],
    ),
    (
        _raw("inks-unknown-colour", "No printed colour is called gone.", colour="gone"),
        FRESH
        + END.format("inks.take", 'colour = "gone"\nshelf = 12')
        + END.format("inks.mix_from", 'colour = "gone"\npigments = ["viridian"]'),
        [{"inks.take": ()}, {"inks.mix_from": ()}],
    ),
    (
        _raw("unknown-pigment", "[inks] pigments names viridien.", pigment="viridien"),
        FRESH.replace("pigments = []", 'pigments = ["viridien", "bone black"]')
        + END.format("inks.mix_from", 'colour = "reed"\npigments = ["viridien"]'),
        [{"inks.pigments": ("bone black",)}, {"inks.mix_from": ()}],
    ),
    (
        _raw("fugitive-pigment", "Eosin fades.", pigment="eosin"),
        FRESH.replace("pigments = []", 'pigments = ["eosin", "bone black"]')
        + END.format("inks.mix_from", 'colour = "reed"\npigments = ["eosin", "viridian"]'),
        [
            {"inks.mix_from": ({"colour": "reed", "pigments": ("viridian",)},)},
            {"inks.pigments": ("bone black",)},
        ],
    ),
    (
        _raw("rounding-moves-colour", "Rounding moves reed.", "note", scale_g=0.01, least_batch_g=20.0),
        FRESH,
        [{"inks.scale_g": 0.01}, {"inks.least_batch_g": 20.0}],
    ),
    (
        _raw("batch-too-small", "Too little eosin in reed.", "note", scale_g=0.05),
        FRESH,
        [{"inks.scale_g": 0.05}],
    ),
    (
        _raw("inks-unsure", "19 of 20 inks are known from the literature.", "note"),
        FRESH,
        [{"inks.mix": "to match"}],
    ),
    (
        _raw("leaf-unknown-metal", "There is no leaf called tin.", metal="tin"),
        FRESH + END.format("separation.leaf", 'colour = "reed"\nmetal = "tin"'),
        [
            {"separation.leaf": ({"colour": "reed", "at": None, "metal": "gold", "printed": False},)},
            {"separation.leaf": ()},
        ],
    ),
    (
        _raw("leaf-unknown-colour", "There is no colour called moon.", colour="moon"),
        FRESH + END.format("separation.leaf", 'colour = "moon"\nmetal = "gold"'),
        [{"separation.leaf": ()}],
    ),
    (
        _raw("leaf-misses", "It lies outside.", x_mm=900.0, y_mm=1.0),
        FRESH + END.format("separation.leaf", 'at = [900.0, 1.0]\nmetal = "gold"'),
        [{"separation.leaf": ()}],
    ),
    (
        _raw("karazuri-unknown-colour", "There is no colour called snow.", colour="snow"),
        FRESH + END.format("separation.karazuri", 'colour = "snow"'),
        [{"separation.karazuri": ()}],
    ),
    (
        _raw("karazuri-misses", "It lies outside.", x_mm=900.0, y_mm=1.0),
        FRESH + END.format("separation.karazuri", "at = [900.0, 1.0]"),
        [{"separation.karazuri": ()}],
    ),
    (
        _raw("karazuri-and-leaf", "Reed is to be embossed and to get leaf.", "stop", karazuri=0, leaf=0),
        FRESH
        + END.format("separation.karazuri", 'colour = "reed"')
        + END.format("separation.leaf", 'colour = "reed"\nmetal = "gold"'),
        [{"separation.karazuri": ()}, {"separation.leaf": ()}],
    ),
]


def _own(answers: tuple[Answer, ...]) -> list[Answer]:
    return [each for each in answers if not each.href and each.fields["act"] != "add-accept"]


@pytest.mark.parametrize(("raw", "text", "wanted"), ANSWERED, ids=[each[0]["code"] for each in ANSWERED])
def test_an_answer_decides_what_it_says(raw: dict[str, Any], text: str, wanted: list[dict[str, Any]]) -> None:
    answers = answers_to(raw, _look(text))
    assert [_decided(each, text) for each in _own(answers)] == wanted
    assert len({each.said for each in answers}) == len(answers)
    assert all(each.fields["seen"] == "hash of the text" for each in answers if "index" in each.fields)


def test_every_kind_of_finding_has_an_answer() -> None:
    codes = _codes()
    assert {"neck-too-narrow", "line-too-narrow", "letters-left-out", "register-risk"} <= codes
    assert {"recipe-misses", "pot-too-small", "inks-unsure", "beyond-screen"} <= codes
    answered = {raw["code"] for raw, _, _ in ANSWERED}
    assert answered <= codes
    left = {
        code
        for code in codes - answered
        if answers_to(_raw(code, "Something is so.", at=AT), _look(FRESH)) == ()
    }
    assert left == set()
    # What stops the work is answered with more than a word that it is seen.
    assert {raw["code"] for raw, _, _ in ANSWERED if raw["severity"] == "stop"} == {
        "nothing-to-print",
        "marks-do-not-fit",
        "marks-off-wood",
        "marks-in-image",
        "printing-off-block",
        "no-board-big-enough",
        "boards-short",
        "sharing-contradicts",
        "part-contradicts",
        "karazuri-and-leaf",
        "program-cuts-the-face",
        "program-through-the-board",
        "program-shank-meets-wood",
        "program-beyond-the-machine",
        "program-rapid-in-the-wood",
        "program-mark-is-off",
    }


@pytest.mark.parametrize(
    ("raw", "href"),
    [
        (
            _raw("pot-not-weighed", "Its pot was never weighed.", "note", colour="reed", ink=12),
            "/shelf/ink/12",
        ),
        (_raw("pot-too-small", "Its pot holds 3 g.", colour="reed", ink=12), "/shelf/ink/12"),
        (_raw("unknown-shelf-ink", "There is no ink 40.", colour="reed"), "/shelf"),
        (_raw("unknown-pigment", "It is not at hand.", pigment="viridien"), "/shelf"),
        (_raw("bit-rubs", "Each tooth takes 0.02 mm.", bit="3 mm flat", machine="big"), "/shelf/bits"),
        (_raw("bit-too-large", "12 mm flat fits nowhere.", bit="12 mm flat"), "/shelf/bits"),
        (_raw("inks-unsure", "They are not known surely.", "note"), "/shelf/paints"),
        (
            _raw("program-beyond-the-machine", "It is too large.", "stop", face="A front", x_mm=9000.0),
            "/shelf/bits",
        ),
        (_raw("program-leaves-it-shallow", "It stays too shallow.", face="A front"), "/shelf/bits"),
    ],
)
def test_what_is_done_on_the_shelf_has_the_way_there(raw: dict[str, Any], href: str) -> None:
    assert [each.href for each in answers_to(raw, _look(FRESH)) if each.href] == [href]


def test_what_is_found_at_a_place_of_a_routed_face_is_looked_at_in_relief() -> None:
    raw = _raw("program-cuts-the-face", "It cuts into wood that stays.", "stop", at=AT, face="A front")
    assert [each.href for each in answers_to(raw, _look(FRESH)) if each.href] == [
        "?face=A+front&sheet=relief"
    ]


def test_what_is_looked_at_can_be_left_as_it_is_and_pointed_at_again() -> None:
    neck = _raw("neck-too-narrow", "A neck of sand is about 0.18 mm wide.", at=AT)
    near = _raw("neck-too-narrow", "A neck of reed is about 0.2 mm wide.", at=[24.0, 30.0])
    told = {"design": [neck, near]}
    (answer,) = answers_to(neck, _look(FRESH, told))
    assert answer.said == words.answer_leave
    text = change(FRESH, read_act(_form(answer)))
    look = _look(text, told)
    assert [each.message for each in shown([neck, near], look, stage="design")] == [near["message"]]
    assert look.open_findings("design") == (near,)
    (left,) = left_as_they_are(look, stage="design")
    assert left["said"] == neck["message"]
    back = change(text, read_act(_form(Answer("", left["fields"]))))
    assert parse(back) == parse(FRESH)
    # A new trace moves places a little, and the decision still holds.
    moved = {**neck, "at": [20.4, 30.3]}
    assert _look(text, {"design": [moved, near]}).open_findings("design") == (near,)


def test_without_a_place_all_of_a_kind_are_left() -> None:
    note = _raw("grain-across", "The grain runs across.", "note")
    (answer,) = answers_to(note, _look(FRESH))
    assert answer.said == words.answer_noted
    text = change(FRESH, read_act(_form(answer)))
    look = _look(text, {"blocks": [note, {**note, "at": AT}]})
    assert look.open_findings("blocks") == ()
    (left,) = left_as_they_are(look, stage="blocks")
    assert left["said"].endswith(words.more_alike_one)


def test_what_stops_the_work_is_never_left() -> None:
    stop = _raw("printing-off-block", "Part lies outside; a block_over_mm of 120 would do.", "stop", AT)
    assert all(each.fields["act"] != "add-accept" for each in answers_to(stop, _look(FRESH)))
    text = FRESH + END.format("print.accept", 'finding = "printing-off-block"')
    look = _look(text, {"blocks": [stop]})
    assert look.open_findings("blocks") == (stop,)
    assert left_as_they_are(look, stage="blocks") == []

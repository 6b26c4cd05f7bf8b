"""One decision at a time in the text of ``print.toml``: it is read back, and nothing else moves."""

from typing import Any

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.deciding import (
    Act,
    AddAccept,
    AddDrop,
    AddMerge,
    AddName,
    AddOverprint,
    AddRecolour,
    DropBoard,
    PutBoard,
    SetFaceMethod,
    SetMixFrom,
    SetOrder,
    SetPalette,
    SetPasses,
    SetPigments,
    SetSharing,
    SetTake,
    SetTrapOf,
    SetValue,
    TakeBack,
    change,
)
from blockwright.deciding.acts import AddSplit, SetEdgeTrap, SetFaceRouter, SetKey
from blockwright.decisions import compose, parse
from blockwright.model.errors import SettingsError
from blockwright.model.settings import (
    USUAL_STOCK,
    DesignTable,
    Drop,
    Passes,
    PrintTable,
    Recolour,
    SeparationTable,
    Settings,
    Stock,
)

FRESH = compose(Settings(print=PrintTable(title="Tide mill", width_mm=360.0)))

DECIDED = compose(
    Settings(
        print=PrintTable(title='Mühle "bei Ebbe"', width_mm=412.5),
        design=DesignTable(
            colours=9,
            recolour=(
                Recolour(at=(1.5, 2.0), to="#112233", here=True),
                Recolour(at=(9.0, 9.0), to="#aabbcc"),
            ),
            drop=(Drop(at=(0.25, 7.0)),),
        ),
        separation=SeparationTable(order=("wet ochre",), passes=(Passes(colour="wet ochre", times=2),)),
    )
)

SHORT = "[print]\nwidth_mm = 300  # as ordered\n\n# the last table\n[proof]\ndpi = 100"

INLINE = (
    "[print]\nwidth_mm = 300.0\n[design] # shapes\ndrop = [{ at = [1.0, 2.0] }]  # flecks\n"
    'palette = [\n  "#aabbcc", # sky\n  "#112233",\n] # mine\n[separation]\npasses = []\n'
)


def refusal(text: str, act: Act) -> str:
    with pytest.raises(SettingsError) as caught:
        change(text, act)
    message = str(caught.value)
    assert message.startswith("print.toml")
    assert message.endswith(".")
    assert message.isprintable()
    assert len(message) < 400
    return message


def moved(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines that went and lines that came."""
    old, new = before.split("\n"), after.split("\n")
    return [x for x in old if x not in new], [x for x in new if x not in old]


# --- any series of acts ------------------------------------------------------------------------------------

PLACES = st.tuples(*[st.sampled_from([0.0, 1.5, 2.0, 9.0, 120.25]) | st.floats(-1e6, 1e6, width=32)] * 2)
HEXES = st.from_regex(r"#[0-9a-fA-F]{6}", fullmatch=True)
SIGNS = st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp"))
NAMES = st.sampled_from(["wet ochre", "A front", '"quoted" \\ # = ]', "'"]) | st.text(
    SIGNS, min_size=1, max_size=60
)
VALUES = st.one_of(
    st.tuples(st.just("print"), st.just("title"), st.none() | st.text(SIGNS, max_size=50)),
    st.tuples(st.just("print"), st.just("width_mm"), st.floats(20, 3000) | st.integers(20, 3000)),
    st.tuples(st.just("design"), st.just("colours"), st.none() | st.integers(1, 64)),
    st.tuples(st.just("design"), st.just("speck_mm2"), st.none() | st.floats(0, 100)),
    st.tuples(st.just("blocks"), st.just("both_faces"), st.none() | st.booleans()),
    st.tuples(st.just("blocks"), st.just("kagi_corner"), st.none() | st.just("upper left")),
    st.tuples(st.just("cutting"), st.just("paper"), st.none() | st.sampled_from(["A3", "roll"])),
    st.tuples(st.just("cutting.router"), st.just("wall_deg"), st.none() | st.floats(45, 70)),
    st.tuples(st.just("cutting.router"), st.just("safe_mm"), st.none() | st.floats(0.5, 100)),
    st.tuples(st.just("inks"), st.just("laydown_g_per_m2"), st.none() | st.floats(0.5, 200)),
    st.tuples(st.just("proof"), st.just("dpi"), st.none() | st.integers(30, 600)),
)
ACTS: st.SearchStrategy[Any] = st.one_of(
    VALUES.map(lambda v: SetValue(*v)),
    st.builds(AddRecolour, at=PLACES, to=HEXES, here=st.booleans()),
    st.builds(AddMerge, at=PLACES, into=PLACES, everywhere=st.booleans()),
    st.builds(AddDrop, at=PLACES),
    st.builds(AddAccept, finding=st.sampled_from(["neck-too-narrow", "grain-across"]), at=st.none() | PLACES),
    st.builds(AddName, at=PLACES, name=NAMES),
    st.builds(AddOverprint, at=PLACES, over=PLACES, lies=st.booleans()),
    st.builds(AddSplit, at=PLACES, name=st.none() | NAMES),
    st.builds(SetOrder, names=st.lists(NAMES, max_size=20).map(tuple)),
    st.builds(SetPasses, colour=NAMES, times=st.integers(1, 4)),
    st.builds(SetTrapOf, colour=NAMES, mm=st.none() | st.floats(0, 10)),
    st.builds(SetKey, colour=NAMES),
    st.builds(SetEdgeTrap, at=PLACES, mm=st.none() | st.floats(0, 10), everywhere=st.booleans()),
    st.builds(
        SetTake,
        colour=NAMES,
        shelf=st.none() | st.integers(1, 1_000_000),
        times=st.none() | st.integers(1, 4),
    ),
    st.builds(SetMixFrom, colour=NAMES, pigments=st.lists(NAMES, max_size=12).map(tuple)),
    st.builds(SetPigments, names=st.lists(NAMES, max_size=20).map(tuple)),
    st.builds(SetFaceMethod, face=NAMES, method=st.none() | st.sampled_from(["hand", "stencil", "router"])),
    st.builds(SetFaceRouter, face=NAMES, key=st.just("machine"), value=st.none() | NAMES),
    st.builds(
        SetFaceRouter,
        face=NAMES,
        key=st.just("bits"),
        value=st.none() | st.lists(NAMES, min_size=1, max_size=20).map(tuple),
    ),
    st.builds(SetFaceRouter, face=NAMES, key=st.just("quarter_turn"), value=st.none() | st.booleans()),
    st.builds(
        SetSharing,
        colours=st.lists(NAMES, min_size=2, max_size=4).map(tuple),
        how=st.sampled_from(["together", "apart", "free", "masked", "unmasked"]),
    ),
    st.builds(SetPalette, hexes=st.none() | st.lists(HEXES, min_size=1, max_size=20).map(tuple)),
    st.builds(
        TakeBack,
        table=st.just("design"),
        key=st.sampled_from(["recolour", "merge", "drop", "name"]),
        index=st.integers(0, 2),
    ),
)

_REPEATED = {
    AddRecolour: ("design", "recolour"),
    AddMerge: ("design", "merge"),
    AddDrop: ("design", "drop"),
    AddName: ("design", "name"),
    AddOverprint: ("separation", "overprint"),
    SetPasses: ("separation", "passes"),
    SetTrapOf: ("separation", "trap"),
    SetEdgeTrap: ("separation", "edge_trap"),
}


_OF_A_FACE = {"method": None, "machine": None, "bits": None, "quarter_turn": None}


def _say_of_face(plain: dict[str, Any], face: str, key: str, value: Any) -> None:
    """One entry for a face, where its last one stands: of several the later one that says a thing holds."""
    entries = plain["cutting"]["face"]
    alike = [entry for entry in entries if entry["face"] == face]
    said = {"face": face, **_OF_A_FACE}
    for entry in alike:
        said |= {name: each for name, each in entry.items() if each is not None}
    said[key] = value
    now = [said] if any(said[name] is not None for name in _OF_A_FACE) else []
    if not alike:
        plain["cutting"]["face"] = (*entries, *now)
        return
    last = max(k for k, entry in enumerate(entries) if entry["face"] == face)
    left, right = ([e for e in part if e["face"] != face] for part in (entries[:last], entries[last:]))
    plain["cutting"]["face"] = (*left, *now, *right)


def _called(name: str) -> str:
    return name.strip().casefold()


def wanted(before: Settings, act: Any) -> dict[str, Any]:
    """What the decisions should be after an act, worked out on the settings and not on the text."""
    plain = before.model_dump()
    match act:
        case SetValue(table, key, value):
            own, inside = before, plain
            for step in table.split("."):
                own, inside = getattr(own, step), inside[step]
            inside[key] = type(own).model_fields[key].default if value is None else value
        case AddAccept(finding, at):
            entry = {"finding": finding, "at": at}
            if entry not in plain["print"]["accept"]:
                plain["print"]["accept"] += (entry,)
        case AddSplit(at, name):
            others = tuple(e for e in plain["separation"]["split"] if e["at"] != at)
            plain["separation"]["split"] = (*others, {"at": at, "name": name})
        case SetOrder(names):
            plain["separation"]["order"] = names
        case SetKey(colour):
            plain["separation"] |= {"key": colour, "key_at": None}
        case SetPigments(names):
            plain["inks"]["pigments"] = names
        case SetTake(colour, shelf, times):
            others = tuple(e for e in plain["inks"]["take"] if e["colour"] != colour)
            new = () if shelf is None else ({"colour": colour, "shelf": shelf},)
            plain["inks"]["take"] = (*others, *new)
            if times is not None:
                others = tuple(e for e in plain["separation"]["passes"] if e["colour"] != colour)
                plain["separation"]["passes"] = (*others, {"colour": colour, "times": times})
        case SetMixFrom(colour, pigments):
            others = tuple(e for e in plain["inks"]["mix_from"] if e["colour"] != colour)
            new = ({"colour": colour, "pigments": pigments},) if pigments else ()
            plain["inks"]["mix_from"] = (*others, *new)
        case SetSharing(colours, "masked" | "unmasked" as how):
            others = tuple(n for n in plain["blocks"]["masked"] if _called(n) not in map(_called, colours))
            plain["blocks"]["masked"] = (*others, *colours) if how == "masked" else others
        case SetSharing(colours, how):
            these = set(map(_called, colours))
            for key in ("together", "apart"):
                entries = plain["blocks"][key]
                same = [e for e in entries if set(map(_called, e["inks"])) == these]
                new = (*same, {"inks": colours})[:1] if how == key else ()
                first = entries.index(same[0]) if same else len(entries)
                left = [e for e in entries if e not in same]
                plain["blocks"][key] = (*left[:first], *new, *left[first:])
        case SetFaceMethod(face, value):
            _say_of_face(plain, face, "method", value)
        case SetFaceRouter(face, key, value):
            _say_of_face(plain, face, key, value)
        case SetPalette(hexes):
            plain["design"]["palette"] = hexes
        case TakeBack(table, key, index):
            plain[table][key] = tuple(e for k, e in enumerate(plain[table][key]) if k != index)
        case _:
            table, key = _REPEATED[type(act)]
            entry = {n: getattr(act, n) for n in act.__dataclass_fields__}
            keys = {"at", "over", "here", "everywhere", "colour", "face"} & entry.keys()
            earlier = plain[table][key]
            others = tuple(e for e in earlier if any(e[n] != entry[n] for n in keys))
            if not (isinstance(act, AddDrop) and len(others) < len(earlier)):
                plain[table][key] = others if None in entry.values() else (*others, entry)
    return plain


@settings(max_examples=80, deadline=None)
@given(
    text=st.sampled_from([FRESH, DECIDED, SHORT, INLINE]),
    windows=st.booleans(),
    acts=st.lists(ACTS, min_size=1, max_size=7),
)
def test_any_series_of_acts_reads_back_as_it_was_meant(text: str, windows: bool, acts: list[Any]) -> None:
    text = text.replace("\n", "\r\n") if windows else text
    comments = [line for line in text.split("\n") if line.startswith("# ") and " = " not in line]
    for act in acts:
        before = parse(text)
        assert act.told().isprintable()
        if isinstance(act, TakeBack) and act.index >= len(getattr(getattr(before, act.table), act.key)):
            refusal(text, act)
            continue
        text = change(text, act)
        assert parse(text).model_dump() == wanted(before, act)
        assert [line for line in text.split("\n") if line in comments] == comments
        assert isinstance(act, TakeBack) or change(text, act) == text
        if windows:
            assert "\n" not in text.replace("\r\n", "")
        else:
            assert "\r" not in text


BOARD_NAMES = st.sampled_from(["small linden plywood", "cherry plank", "plank two"])
BOARDS = st.one_of(
    st.builds(
        PutBoard,
        name=BOARD_NAMES,
        wood=st.sampled_from(["cherry", "linden plywood"]),
        width_mm=st.floats(30, 5000) | st.integers(30, 5000),
        height_mm=st.floats(30, 5000),
        thickness_mm=st.floats(3, 100),
        grain=st.sampled_from(["along", "across"]),
        count=st.none() | st.integers(0, 1000),
        was=st.none() | BOARD_NAMES,
    ),
    st.builds(DropBoard, name=BOARD_NAMES),
)

PLANKS = (
    "[print]\nwidth_mm = 300.0\n[blocks]\n[[blocks.stock]]  # from the saw mill\n"
    'name = "cherry plank"\nwood = "cherry"\nwidth_mm = 450\nheight_mm = 300.0\n'
    "thickness_mm = 20.0  # planed\n"
)


@settings(max_examples=60, deadline=None)
@given(
    text=st.sampled_from([FRESH, SHORT, PLANKS, PLANKS + "count = 3\n[proof]\ndpi = 100"]),
    acts=st.lists(BOARDS, min_size=1, max_size=6),
)
def test_boards_are_added_changed_and_taken_out_by_name(text: str, acts: list[Any]) -> None:
    """Worked out on a plain list of boards; a name that is missing, or would be there twice, is refused."""
    for act in acts:
        before = parse(text).blocks.stock
        names = [each.name for each in before]
        assert act.told().isprintable()
        if isinstance(act, DropBoard):
            meant = [each for each in before if each.name != act.name] if act.name in names else []
        else:
            fields = {key: getattr(act, key) for key in Stock.model_fields}
            board = Stock(**{**fields, "width_mm": float(fields["width_mm"])})
            if board in before and act.was not in names:
                meant = list(before)
            elif (act.was is not None and act.was not in names) or (
                act.name != act.was and act.name in names
            ):
                meant = []
            elif act.was is None:
                meant = [*before, board]
            else:
                meant = [board if each.name == act.was else each for each in before]
        if not meant:
            refusal(text, act)
            continue
        text = change(text, act)
        assert list(parse(text).blocks.stock) == meant
        assert isinstance(act, DropBoard) or change(text, act) == text


def test_a_board_is_changed_where_it_stands() -> None:
    plank: dict[str, Any] = {"name": "cherry plank", "wood": "cherry", "width_mm": 450.0, "height_mm": 300.0}
    more = change(PLANKS, PutBoard(**plank, thickness_mm=20.0, count=8, was="cherry plank"))
    assert moved(PLANKS, more) == ([], ["count = 8"])
    assert change(more, PutBoard(**plank, thickness_mm=20.0, was="cherry plank")) == PLANKS
    wider = change(
        more, PutBoard(**{**plank, "width_mm": 500.0}, thickness_mm=20.0, count=8, was="cherry plank")
    )
    assert moved(more, wider) == (["width_mm = 450"], ["width_mm = 500.0"])


def test_the_usual_boards_are_written_down_with_the_first_of_ones_own() -> None:
    text = change(FRESH, PutBoard("cherry plank", "cherry", 450.0, 300.0, 20.0))
    assert parse(text).blocks.stock[:4] == USUAL_STOCK
    assert len(parse(text).blocks.stock) == 5
    assert "only board" in refusal(PLANKS, DropBoard("cherry plank"))
    wide = PutBoard("cherry plank", "cherry", "wide", 300.0, 20.0, was="cherry plank")  # type: ignore[arg-type]
    assert "width_mm" in refusal(PLANKS, wide)


# --- where a decision is written ---------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("act", "line", "back"),
    [
        (SetValue("design", "colours", 12), "colours = 12", SetValue("design", "colours", None)),
        (SetPalette(("#aabbcc",)), 'palette = ["#aabbcc"]', SetPalette(None)),
        (SetPalette(("#aabbcc",) * 20), "palette = [", SetPalette(None)),
        (
            SetValue("design", "speck_mm2", 0.5),
            "speck_mm2 = 0.5  # 0 to 100 mm2",
            SetValue("design", "speck_mm2", 0.2),
        ),
        (AddDrop((1.0, 2.0)), "[[design.drop]]", TakeBack("design", "drop", 0)),
        (SetTrapOf("wet ochre", 0.7), "[[separation.trap]]", SetTrapOf("wet ochre", None)),
        (SetKey("wet ochre"), 'key = "wet ochre"', SetKey("found")),
        (SetEdgeTrap((1.0, 2.0), 0.7), "[[separation.edge_trap]]", SetEdgeTrap((1.0, 2.0), None)),
        (SetTake("wet ochre", 12), "shelf = 12", SetTake("wet ochre", None)),
        (SetMixFrom("wet ochre", ("viridian",)), 'pigments = ["viridian"]', SetMixFrom("wet ochre", ())),
        (SetPigments(("viridian",)), 'pigments = ["viridian"]', SetPigments(())),
        (SetFaceMethod("A front", "stencil"), 'face = "A front"', SetFaceMethod("A front", None)),
        (
            SetFaceRouter("A front", "machine", "the small one"),
            'machine = "the small one"',
            SetFaceRouter("A front", "machine", None),
        ),
        (
            SetFaceRouter("A front", "bits", ("3 mm flat",)),
            'bits = ["3 mm flat"]',
            SetFaceRouter("A front", "bits", None),
        ),
        (
            SetFaceRouter("A front", "quarter_turn", True),
            "quarter_turn = true",
            SetFaceRouter("A front", "quarter_turn", None),
        ),
        (SetSharing(("b", "a"), "together"), 'inks = ["b", "a"]', SetSharing(("a", "B"), "free")),
        (SetSharing(("b", "a"), "apart"), "[[blocks.apart]]", TakeBack("blocks", "apart", 0)),
        (SetSharing(("b",), "masked"), 'masked = ["b"]', SetSharing(("B",), "unmasked")),
        (SetOrder(("b", "a")), 'order = ["b", "a"]', SetOrder(())),
    ],
)
def test_a_decision_stands_in_its_place_and_leaves_nothing_behind(
    ending: str, act: Act, line: str, back: Act
) -> None:
    before = FRESH.replace("\n", ending)
    after = change(before, act)
    assert line in after.split(ending)
    gone, _ = moved(before, after)
    assert len(gone) <= 1
    assert change(after, back) == before, "taken back, not a byte is left of it"


def test_a_default_that_holds_again_is_shown_as_a_comment_and_can_be_set_again() -> None:
    without = change(change(FRESH, SetValue("proof", "dpi", 300)), SetValue("proof", "dpi", None))
    assert "# dpi = 150  # 30 to 600 pixels to the inch" in without.split("\n")
    assert parse(without).proof.dpi == 150
    assert change(without, SetValue("proof", "dpi", 90)) == change(FRESH, SetValue("proof", "dpi", 90))


def test_a_comment_of_ones_own_about_a_setting_is_kept() -> None:
    own = '# palette = ["#102030"]  the old blue, perhaps again'
    text = FRESH.replace('# palette = ["#f6efdf", "#b4935a", "#3f6f8f", "#221e19"]', own)
    after = change(text, SetPalette(("#aabbcc",)))
    assert f'{own}\npalette = ["#aabbcc"]\n' in after
    assert change(after, SetPalette(None)) == text


def test_entries_follow_one_another_in_the_order_of_deciding() -> None:
    text = change(FRESH, AddRecolour((1.0, 1.0), "#111111"))
    text = change(text, AddRecolour((2.0, 2.0), "#222222", here=True))
    text = change(text, AddRecolour((1.0, 1.0), "#333333"))
    assert [(e.at, e.to) for e in parse(text).design.recolour] == [
        ((2.0, 2.0), "#222222"),
        ((1.0, 1.0), "#333333"),
    ]
    assert text.index("[[design.recolour]]\nat = [2.0") < text.index("[separation]")
    assert change(text, AddRecolour((1.0, 1.0), "#444444")) == text.replace("#333333", "#444444")


def test_lists_on_one_line_and_their_comments_are_kept() -> None:
    text = change(INLINE, AddDrop((3.0, 4.0)))
    assert "drop = [{ at = [1.0, 2.0] }, {at = [3.0, 4.0]}]  # flecks\n" in text
    assert change(INLINE, TakeBack("design", "drop", 0)).count("# flecks") == 1
    assert "] # mine" in change(INLINE, SetPalette(("#000000",))).replace('["#000000"] # mine', "] # mine")


def test_a_text_that_has_no_such_table_gets_it() -> None:
    text = change(SHORT, SetValue("design", "colours", 5))
    assert text == SHORT + "\n\n[design]\ncolours = 5\n"
    assert parse(change(SHORT, AddName((1.0, 2.0), "sky"))).design.name[0].name == "sky"


def test_a_table_in_a_table_is_decided_like_any_other() -> None:
    steep = SetValue("cutting.router", "wall_deg", 65.0)
    text = change(SHORT, steep)
    assert "[cutting.router]\nwall_deg = 65.0\n" in text
    assert parse(text).cutting.router.wall_deg == 65.0
    fresh = change(FRESH, steep)
    assert parse(fresh).cutting.router.wall_deg == 65.0
    assert change(change(fresh, SetFaceMethod("A front", "stencil")), steep) == change(
        fresh, SetFaceMethod("A front", "stencil")
    )
    both = parse(change(fresh, SetFaceMethod("A front", "stencil")))
    assert (both.cutting.face[0].face, both.cutting.router.wall_deg) == ("A front", 65.0)
    back = change(fresh, SetValue("cutting.router", "wall_deg", None))
    assert parse(back) == parse(FRESH)
    named = change(FRESH, SetValue("cutting.router", "bits", ("6 mm flat",)))
    assert parse(named).cutting.router.bits == ("6 mm flat",)
    optional = change(FRESH, SetValue("cutting.router", "safe_mm", 8.0))
    assert "\nsafe_mm = 8.0\n" in optional
    assert change(optional, SetValue("cutting.router", "safe_mm", None)) == FRESH
    inline = "[print]\nwidth_mm = 60.0\n[cutting]\nrouter = { wall_deg = 50.0, arcs = false }\n"
    after = parse(change(inline, steep)).cutting.router
    assert (after.wall_deg, after.arcs) == (65.0, False)


def test_other_ways_of_writing_are_understood() -> None:
    for text in (
        "print = {width_mm = 300.0}\ndesign = {colours = 3}\n",
        "design.colours = 3\n[print]\nwidth_mm = 300.0 # wide\n",
        '[print]\n"width_mm" = 300.0\n["design"]\n"colours" = 3 # few\n[[design.drop]]\nat = [1, 2]\n',
    ):
        after = change(text, SetValue("design", "colours", 7))
        assert parse(after).design.colours == 7
        assert parse(after).print.width_mm == 300.0
        assert after.count("#") == text.count("#")


def test_a_byte_order_mark_is_kept() -> None:
    assert change("\ufeff" + FRESH, AddDrop((1.0, 2.0))) == "\ufeff" + change(FRESH, AddDrop((1.0, 2.0)))


def test_ends_of_lines_inside_texts_do_not_confuse() -> None:
    text = '[print]\nwidth_mm = 30.0\ntitle = """a\u2028"""\n'.replace("\u2028", "[design]")
    assert parse(change(text, SetValue("design", "colours", 2))).print.title == "a[design]"


# --- what is refused ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (SetValue("design", "speck_mm2", float("nan")), "0 to 100 mm2"),
        (SetValue("print", "width_mm", float("inf")), "20 to 3000 mm"),
        (SetValue("print", "width_mm", None), "width_mm is missing"),
        (SetValue("print", "width_mm", "30 cm"), "number"),
        (SetValue("print", "width_mm", 10**400), "print.toml"),
        (SetValue("print", "title", "one\ntwo"), "one line"),
        (SetValue("print", "title", "bell\x07"), "one line"),
        (SetValue("print", "title", "rub\x7f"), "one line"),
        (SetValue("print", "title", "half \ud83d"), "title"),
        (SetValue("print", "title", "x" * 201), "200 characters"),
        (SetValue("design", "colour", 3), "perhaps colours"),
        (SetValue("desing", "colours", 3), "no table named [desing]"),
        (SetValue("design", "drop", 3), "no single value"),
        (SetValue("cutting", "router", 3), "write it under [cutting.router]"),
        (SetValue("cutting.router", "wall_degs", 3), "perhaps wall_deg"),
        (SetValue("cutting.routers", "wall_deg", 60), "no table named [cutting.routers]"),
        (SetValue("cutting.router", "wall_deg", 80.0), "45 to 70 degrees"),
        (SetValue("design", "colours", object()), "no such value"),
        (SetValue("design", "colours", True), "whole number"),
        (AddRecolour((1.0, 2.0), "ochre"), "#b4935a"),
        (AddRecolour((float("nan"), 2.0), "#aabbcc"), "two numbers"),
        (AddName((1.0, 2.0), "x" * 61), "60 characters"),
        (AddName((1.0, 2.0), "a\r\nb"), "one line"),
        (AddName((1.0, 2.0), ""), "empty"),
        (SetPasses("wet ochre", 9), "1 to 4"),
        (SetTake("wet ochre", 0), "1 to 1000000"),
        (SetTake("wet ochre", 12, 9), "1 to 4"),
        (SetMixFrom("wet ochre", ("viridian",) * 13), "12"),
        (SetPigments(("a\nb",)), "one line"),
        (SetTrapOf("wet ochre", float("-inf")), "0 to 10 mm"),
        (SetKey(""), "empty"),
        (SetEdgeTrap((1.0, 2.0), 11.0), "0 to 10 mm"),
        (SetPalette(()), "entry"),
        (SetPalette(("#aabbcc",) * 65), "64"),
        (SetOrder(("a\nb",)), "one line"),
        (TakeBack("design", "drop", 0), "number 1"),
        (TakeBack("design", "drop", -1), "number 0"),
        (TakeBack("nothing", "at all", 0), "[[nothing.at all]]"),
    ],
)
def test_a_bad_value_is_refused_in_one_sentence(act: Act, words: str) -> None:
    assert words in refusal(FRESH, act)


def test_a_text_that_cannot_be_read_is_refused_as_when_it_is_read() -> None:
    broken, newer = FRESH + "colours 12\n", FRESH + "\n[edition]\nsize = 20\n"
    for text in (broken, newer):
        with pytest.raises(SettingsError) as caught:
            parse(text)
        assert refusal(text, AddDrop((1.0, 2.0))) == str(caught.value)


def test_a_text_does_not_grow_past_what_is_read_again() -> None:
    text = FRESH + "# " + "x" * (1_999_990 - len(FRESH.encode())) + "\n"
    assert "2 MB" in refusal(text, AddDrop((1.0, 2.0)))


def test_what_is_written_is_what_another_reader_reads() -> None:
    """tomlkit reads by itself what the lines were put together to."""
    text = change(change(FRESH, AddName((1.5, 2.0), 'the "wet" ochre')), SetPasses("wet ochre", 3))
    document = tomlkit.parse(text).unwrap()
    assert document["design"]["name"] == [{"at": [1.5, 2.0], "name": 'the "wet" ochre'}]
    assert document["separation"]["passes"] == [{"colour": "wet ochre", "times": 3}]

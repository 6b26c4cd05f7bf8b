"""``print.toml``: what is written is read again, what is wrong is told, and nothing that stands is lost."""

import random
import re
import tomllib
import types
import typing
from pathlib import Path
from typing import Any, Literal

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from blockwright.deciding import SetPalette, change
from blockwright.decisions import FILE_NAME, compose, parse, read_decisions, table_called, write_whole
from blockwright.model.errors import FolderError, SettingsError
from blockwright.model.finishes import Karazuri, LeafOn
from blockwright.model.settings import (
    BlocksTable,
    DesignTable,
    Drop,
    FaceMethod,
    GradationAt,
    Merge,
    NameColour,
    Passes,
    PrintTable,
    Recolour,
    RouterTable,
    Settings,
    TrapOf,
)
from blockwright.model.table import Place

PLAIN = Settings(print=PrintTable(title="Tide mill", width_mm=360.0))

RICH = Settings(
    print=PrintTable(title='Mühle "bei Ebbe"', picture="entwurf.tif", width_mm=412.5, paper="#FFF8E8"),
    design=DesignTable(
        colours=9,
        recolour=(Recolour(at=(1.5, 2.0), to="#112233", here=True), Recolour(at=(9.0, 9.0), to="#aabbcc")),
        merge=(Merge(at=(3.0, 4.0), into=(5.0, 6.0), everywhere=True),),
        drop=(Drop(at=(0.25, 7.0)), Drop(at=(8.0, 8.5))),
        name=(NameColour(at=(2.0, 2.0), name="wet ochre"),),
    ),
    blocks=BlocksTable(both_faces=False, kagi_corner="upper left"),
).model_copy(
    update={
        "separation": Settings(print=PrintTable(width_mm=20)).separation.model_copy(
            update={
                "order": ("wet ochre", "#aabbcc"),
                "passes": (Passes(colour="wet ochre", times=2),),
                "trap": (TrapOf(colour="wet ochre", mm=0.75),),
            }
        ),
        "cutting": Settings(print=PrintTable(width_mm=20)).cutting.model_copy(
            update={"face": (FaceMethod(face="A front", method="stencil"),)}
        ),
    }
)


def refusal(text: str) -> str:
    with pytest.raises(SettingsError) as caught:
        parse(text)
    return str(caught.value)


def refusal_or_none(text: str) -> str | None:
    """The refusal, or None when the text is read; anything else that is raised fails the test."""
    try:
        assert isinstance(parse(text), Settings)
    except SettingsError as error:
        return str(error)
    return None


def told_well(message: str) -> bool:
    return (
        message.startswith("print.toml")
        and message.endswith(".")
        and len(message) < 400
        and message.isprintable()
        and "Traceback" not in message
        and "pydantic" not in message
    )


# --- what is written is read again -------------------------------------------------------------------------


def _bounded(metadata: typing.Iterable[Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for each in metadata:
        for name in ("ge", "gt", "le", "min_length", "max_length", "pattern"):
            if getattr(each, name, None) is not None:
                found[name] = getattr(each, name)
        if hasattr(each, "metadata"):
            found |= _bounded(each.metadata)
    return found


_LINE = st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp"))


def _values(annotation: Any, bounds: dict[str, Any]) -> st.SearchStrategy[Any]:
    """Any value that a setting takes, from its type and its bounds."""
    origin, inside = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return _values(inside[0], bounds | _bounded(inside[1:]))
    if origin is Literal:
        return st.sampled_from(inside)
    if origin in {types.UnionType, typing.Union}:
        return st.one_of(*(st.none() if a is type(None) else _values(a, bounds) for a in inside))
    if origin is tuple and inside[-1] is Ellipsis:
        least, most = bounds.get("min_length", 0), min(bounds.get("max_length", 3), 3)
        return st.lists(_values(inside[0], {}), min_size=least, max_size=most).map(tuple)
    if origin is tuple:
        return st.tuples(*(_values(a, {}) for a in inside))
    if annotation is bool:
        return st.booleans()
    if annotation is int:
        return st.integers(bounds["ge"], bounds["le"])
    if annotation is float:
        least = bounds.get("ge", bounds.get("gt"))
        return st.floats(
            least, bounds.get("le"), exclude_min="gt" in bounds, allow_nan=False, allow_infinity=False
        )
    if annotation is str and "pattern" in bounds:
        return st.from_regex(bounds["pattern"], fullmatch=True).filter(lambda text: "\n" not in text)
    if annotation is str:
        return st.text(
            _LINE, min_size=bounds.get("min_length", 0), max_size=min(bounds.get("max_length", 20), 20)
        )
    assert issubclass(annotation, BaseModel)
    return _tables(annotation)


def _tables(model: type[BaseModel]) -> st.SearchStrategy[Any]:
    fields = {name: _values(f.annotation, _bounded(f.metadata)) for name, f in model.model_fields.items()}
    if model is GradationAt:
        # Some of what it holds goes together only.
        flat = st.builds(model, at=fields["at"], flat=st.just(True))
        ends = {"start": st.just((1.5, 2.0)), "end": st.just((1.5, 40.0)), "flat": st.just(False)}
        return st.one_of(flat, st.builds(model, **(fields | ends)))
    if model in (Karazuri, LeafOn):
        # Chosen by a colour or by a place, never by both.
        by_colour = {**fields, "at": st.none(), "colour": _values(str, {})}
        by_place = {**fields, "at": _values(Place, {}), "colour": st.none()}
        return st.builds(model, **by_colour) | st.builds(model, **by_place)
    if model is RouterTable:
        # The least depth is never above the most.
        depths = {
            "least_depth_mm": st.floats(0.3, 4.0, exclude_max=True),
            "most_depth_mm": st.floats(4.0, 20.0),
        }
        return st.builds(model, **(fields | depths))
    return st.builds(model, **fields)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_tables(Settings))
def test_whatever_can_be_decided_is_written_and_read_again(decided: Settings) -> None:
    text = compose(decided)
    assert parse(text) == decided
    assert compose(parse(text)) == text


def test_two_independent_readers_agree_on_what_is_written() -> None:
    """tomlkit and the standard library's reader, TOML 1.0."""
    text = compose(RICH)
    assert tomlkit.parse(text).unwrap() == tomllib.loads(text)
    assert parse(text) == RICH


def test_windows_line_ends_and_a_byte_order_mark_change_nothing() -> None:
    text = compose(RICH)
    assert parse(text.replace("\n", "\r\n")) == RICH
    assert parse("\ufeff" + text) == RICH


def test_whole_numbers_may_stand_for_lengths() -> None:
    assert parse("[print]\nwidth_mm = 360\n").print.width_mm == 360.0


# --- the comments ------------------------------------------------------------------------------------------


def test_every_example_can_be_uncommented() -> None:
    """Uncommented one by one, in place: each is a decision that differs from the default."""
    text = compose(PLAIN)
    lines = text.split("\n")
    headers = [k for k, line in enumerate(lines) if line.startswith("# [[")]
    tried = set()
    for header in headers:
        changed, k = lines.copy(), header
        while re.match(r"# (\[\[|[a-z_]+ = )", changed[k]):
            changed[k] = changed[k][2:]
            k += 1
        decided = parse("\n".join(changed))
        assert decided != PLAIN
        tried.add(next(line for line in changed if line.startswith("[[")).split("]]")[0])
    assert tried == {
        "[[print.accept",
        "[[design.name",
        "[[design.recolour",
        "[[design.merge",
        "[[design.drop",
        "[[design.gradation",
        "[[separation.passes",
        "[[separation.trap",
        "[[separation.edge_trap",
        "[[separation.overprint",
        "[[separation.karazuri",
        "[[separation.leaf",
        "[[separation.leaf_kind",
        "[[separation.split",
        "[[inks.take",
        "[[inks.mix_from",
        "[[blocks.together",
        "[[blocks.apart",
        "[[blocks.stock",
        "[[cutting.face",
    }


@pytest.mark.parametrize("name", ["colours", "palette"])
def test_settings_that_may_be_left_out_stand_as_examples(name: str) -> None:
    text = compose(PLAIN)
    assert f"\n# {name} = " in text
    decided = parse(text.replace(f"\n# {name} = ", f"\n{name} = "))
    assert getattr(decided.design, name) is not None


def test_all_examples_together_can_be_uncommented() -> None:
    text = re.sub(r"(?m)^# (?=\[\[|[a-z_]+ = )", "", compose(PLAIN))
    decided = parse(text)
    assert decided.design.drop
    assert decided.separation.trap
    assert decided.cutting.face
    assert [board.name for board in decided.blocks.stock] == ["cherry plank"]


_UNIT_WORDS = (
    *("mm", "mm2", "CIEDE2000", "pixels to the inch", "part of", "How many", "minute"),
    *(
        "percent",
        "degrees",
        "diameters",
        "Turns",
        "for each mm",
        "(g",
        "°C",
        "Sheets to print",
        "Pigments in",
    ),
)


def test_every_setting_is_explained_with_its_unit_and_its_range() -> None:
    lines = compose(PLAIN).split("\n")
    for table in (*Settings.model_fields, "cutting.router"):
        model = table_called(table)
        assert model is not None
        for name, field in model.model_fields.items():
            if table_called(f"{table}.{name}"):
                continue  # A table with a header of its own.
            if typing.get_origin(field.annotation) is tuple and field.description is None:
                continue  # A table that may be repeated: it has an example instead.
            assert field.description, f"[{table}] {name}"
            assert field.description[0].isupper()
            assert (
                field.description.rstrip("]").endswith(("CP", ".", "der", "mem"))
                or "[pub" in field.description
            )
            line = next(line for line in lines if re.match(rf"(# )?{name} = ", line))
            bounds = _bounded(field.metadata)
            if "le" in bounds:
                assert any(word in field.description for word in _UNIT_WORDS), f"[{table}] {name} has no unit"
                if not line.startswith("# "):
                    assert f"{bounds['le']:g}" in line.split("#")[1]


def test_comments_are_narrow_enough_to_read() -> None:
    assert max(len(line) for line in compose(PLAIN).split("\n") if line.startswith("#")) <= 103


# --- what is wrong is told ---------------------------------------------------------------------------------

_FINE = "[print]\nwidth_mm = 60.0\n"

REFUSALS = {
    "misspelt setting": (_FINE + "[design]\nspek_mm2 = 1.0\n", "spek_mm2; perhaps speck_mm2 is meant"),
    "a table of a newer version": (_FINE + "[edition]\nsheets = 40\n", "unless a newer blockwright wrote it"),
    "misspelt table": (_FINE + "[desing]\ncolours = 3\n", "[desing]; perhaps design is meant"),
    "unknown setting": (_FINE + "[proof]\nqqqq = 1\n", "qqqq; allowed are dpi, drift_mm"),
    "unknown in a repeated table": (_FINE + "[[design.drop]]\nwhere = [1, 2]\n", "[[design.drop]]"),
    "another unit in the name": ("[print]\nwidth_cm = 36.0\n", "width_cm; perhaps width_mm is meant"),
    "a unit behind the number": ("[print]\nwidth_mm = 360 mm\n", 'line 2, "width_mm = 360 mm"'),
    "a unit in quotes": ('[print]\nwidth_mm = "36 cm"\n', "without quotes or unit"),
    "negative size": ("[print]\nwidth_mm = -5.0\n", "it must be 20 to 3000 mm"),
    "too large a size": ("[print]\nwidth_mm = 1e9\n", "it must be 20 to 3000 mm"),
    "not a number": ("[print]\nwidth_mm = nan\n", "NaN; it must be 20 to 3000 mm"),
    "infinite": ("[print]\nwidth_mm = inf\n", "it must be 20 to 3000 mm"),
    "a truth value as a number": ("[print]\nwidth_mm = true\n", "it must be a number, 20 to 3000 mm"),
    "a truth value as a count": (_FINE + "[design]\ncolours = true\n", "a whole number, 1 to 64"),
    "half a colour": (_FINE + "[design]\ncolours = 2.5\n", "a whole number, 1 to 64"),
    "zero colours": (_FINE + "[design]\ncolours = 0\n", "it must be 1 to 64"),
    "nothing a minute": (_FINE + "[cutting]\nedge_mm_per_min = 0\n", "more than 0, up to 5000 mm a minute"),
    "text for a choice": (
        _FINE + '[cutting]\nmethod = "laser"\n',
        'it must be "hand", "stencil" or "router"',
    ),
    "a number for a choice": (_FINE + "[cutting]\npaper = 4\n", '"A4", "A3", "Letter" or "roll"'),
    "text for a truth value": (_FINE + '[blocks]\nboth_faces = "yes"\n', "true or false"),
    "a colour's name": (_FINE + '[design]\npalette = ["red"]\n', 'a colour such as "#b4935a"'),
    "one colour, no list": (_FINE + '[design]\npalette = "#112233"\n', "a list in square brackets"),
    "an empty palette": (_FINE + "[design]\npalette = []\n", "must have an entry"),
    "a date as a title": ("[print]\nwidth_mm = 60\ntitle = 2020-01-01\n", "text in quotes"),
    "a title of two lines": ('[print]\nwidth_mm = 60\ntitle = "a\\nb"\n', "text on one line"),
    "an endless title": (f'[print]\nwidth_mm = 60\ntitle = "{"x" * 300}"\n', "200 characters at most"),
    "an empty picture": ('[print]\nwidth_mm = 60\npicture = ""\n', "may not be empty"),
    "a place of one number": (_FINE + "[[design.drop]]\nat = [1.0]\n", "[1.0]; it must be two numbers"),
    "a place of three": (_FINE + "[[design.drop]]\nat = [1, 2, 3]\n", "[1, 2, 3]; it must be two numbers"),
    "a place in words": (_FINE + '[[design.drop]]\nat = "1, 2"\n', "it must be two numbers, [right, down]"),
    "a place that is none": (_FINE + "[[design.drop]]\nat = [nan, 2]\n", "it must be two numbers"),
    "the second of two": (_FINE + "[[design.drop]]\nat = [1, 2]\n[[design.drop]]\nat = 3\n", "number 2, at"),
    "an edit without a place": (_FINE + "[[design.drop]]\n", "at is missing"),
    "single brackets": (_FINE + "[design.drop]\nat = [1, 2]\n", "write it as a table under [[design.drop]]"),
    "a table in a table": (
        _FINE + "[cutting.router]\nwall_deg = 80\n",
        "[cutting.router] wall_deg is 80; it must be 45 to 70 degrees",
    ),
    "a number that may be left out": (
        _FINE + '[cutting.router]\nsafe_mm = "high"\n',
        '[cutting.router] safe_mm is "high"; it must be a number, 0.5 to 100 mm',
    ),
    "misspelt in a table in a table": (
        _FINE + "[cutting.router]\nwall_degs = 60\n",
        "[cutting.router] has no setting named wall_degs; perhaps wall_deg is meant",
    ),
    "no table in a table": (_FINE + "[cutting]\nrouter = 3\n", "[cutting.router] is 3; it must be a table"),
    "an entry of a list in a table": (
        _FINE + "[cutting.router]\nbits = [1]\n",
        "[cutting.router] bits is 1; it must be text in quotes",
    ),
    "depths the wrong way round": (
        _FINE + "[cutting.router]\nleast_depth_mm = 5.0\n",
        "it must be given a least_depth_mm that is not above its most_depth_mm",
    ),
    "five passes": (_FINE + '[[separation.passes]]\ncolour = "x"\ntimes = 5\n', "it must be 1 to 4"),
    "no width": ("[print]\n", "[print] width_mm is missing"),
    "nothing at all": ("", "[print] is missing"),
    "a word": ("hello", 'line 1, "hello", cannot be read'),
    "said twice": ("[print]\nwidth_mm = 1\nwidth_mm = 2\n", 'line 3, "width_mm = 2", sets again'),
    "a table twice": (_FINE + "[print]\n", 'line 3, "[print]", sets again'),
    "an open quote": ('[print]\ntitle = "x', "opened and not closed"),
    "an open bracket": (_FINE + "[design]\npalette = [", "opened and not closed"),
    "a control sign": (_FINE + "\x00", 'line 3, "?"'),
    "endless nesting": ("a = " + "[" * 20_000, "beyond all measure"),
    "deep nesting": (_FINE + "[design]\npalette = " + "[" * 90 + "]" * 90, "[design] palette"),
    "an endless number": ("a = 1" + "0" * 6000, "beyond all measure"),
    "a very large number": ("[print]\nwidth_mm = 1" + "0" * 400, "it must be a number, 20 to 3000 mm"),
    "a table in place of a number": ("[print.width_mm]\na = 1\n", "it must be a number, 20 to 3000 mm"),
    "a number in place of a table": ("print = 3\n", "a table with a header"),
}


@pytest.mark.parametrize("case", REFUSALS)
def test_what_is_wrong_is_told_in_one_sentence(case: str) -> None:
    text, expected = REFUSALS[case]
    message = refusal(text)
    assert expected in message
    assert told_well(message)


def test_a_misspelt_name_is_told_before_what_is_missing_because_of_it() -> None:
    assert "width_mn" in refusal('[print]\ntitle = "x"\nwidth_mn = 3\n')


def test_every_number_is_refused_outside_its_range() -> None:
    """Each setting, in turn, a little below and a little above what it allows."""
    refused = 0
    for table in Settings.model_fields:
        for name, field in type(getattr(PLAIN, table)).model_fields.items():
            bounds = _bounded(field.metadata)
            if "le" not in bounds:
                continue
            for bad in (bounds["le"] + 1, bounds["ge" if "ge" in bounds else "gt"] - 1):
                head = _FINE if table != "print" else ""
                message = refusal(f"{head}[{table}]\n{name} = {bad}\n")
                assert f"[{table}] {name} is {bad}" in message
                assert told_well(message)
                refused += 1
    assert refused >= 40


# --- damage ------------------------------------------------------------------------------------------------


def _damaged(text: str, chance: random.Random) -> str:
    data = bytearray(text.encode())
    lines = text.split("\n")
    match chance.randrange(7):
        case 0:  # bits that tipped over
            for _ in range(chance.randint(1, 8)):
                data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        case 1:  # a piece missing
            start = chance.randrange(len(data))
            del data[start : start + chance.randint(1, 200)]
        case 2:  # lines that changed places
            a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
            lines[a], lines[b] = lines[b], lines[a]
            data = bytearray("\n".join(lines).encode())
        case 3:  # foreign bytes
            at = chance.randrange(len(data))
            data[at:at] = chance.randbytes(chance.randint(1, 20))
        case 4:  # broken off
            del data[chance.randrange(len(data)) :]
        case 5:  # another value
            settable = [k for k, line in enumerate(lines) if " = " in line and not line.startswith("#")]
            k = chance.choice(settable)
            name = lines[k].split(" = ")[0]
            words = [
                "-1",
                "1e999",
                "nan",
                "[]",
                "{}",
                '""',
                "true",
                "'x'",
                "[[1]]",
                "07:32:00",
                "0x7f",
                '"\\u0007"',
            ]
            lines[k] = f"{name} = {chance.choice(words)}"
            data = bytearray("\n".join(lines).encode())
        case _:  # a line said again elsewhere
            lines.insert(chance.randrange(len(lines)), chance.choice(lines))
            data = bytearray("\n".join(lines).encode())
    return data.decode("utf-8", "replace")


def test_damage_is_read_or_refused_and_nothing_else() -> None:
    chance = random.Random(20_240)
    texts = [compose(PLAIN), compose(RICH)]
    refused = 0
    for case in range(1_500):
        damaged = _damaged(texts[case % 2], chance)
        message = refusal_or_none(damaged)
        if message is not None:
            refused += 1
            assert told_well(message), message
    assert 300 < refused < 1_500


@settings(max_examples=300, deadline=None)
@given(st.text() | st.text(alphabet='[]{}="\n.,#0123456789abpritw_m', max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    message = refusal_or_none(text)
    assert message is None or told_well(message)


@settings(max_examples=200, deadline=None)
@given(
    st.sampled_from([(t, n) for t, m in Settings.model_fields.items() for n in m.annotation.model_fields]),  # type: ignore[union-attr]
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.datetimes() | st.dates(),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(min_size=1), inner, max_size=3),
        max_leaves=5,
    ),
)
def test_any_value_in_any_setting_is_read_or_refused(place: tuple[str, str], value: Any) -> None:
    document: dict[str, Any] = {"print": {"width_mm": 60.0}}
    document.setdefault(place[0], {})[place[1]] = value
    try:
        text = tomlkit.dumps(document)
        tomllib.loads(text)
    except (ValueError, TypeError, tomlkit.exceptions.TOMLKitError):
        return  # TOML has no way to write it.
    message = refusal_or_none(text)
    assert message is None or told_well(message)


# --- the file ----------------------------------------------------------------------------------------------


def test_a_folder_is_read(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_bytes(b"\xef\xbb\xbf" + compose(RICH).replace("\n", "\r\n").encode())
    assert read_decisions(tmp_path) == RICH


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"There is no folder .*gone"):
        read_decisions(tmp_path / "gone")
    with pytest.raises(FolderError, match=r"no print folder.*print\.toml"):
        read_decisions(tmp_path)
    (tmp_path / "a-file").touch()
    with pytest.raises(FolderError, match="is a file, not a print folder"):
        read_decisions(tmp_path / "a-file")


def test_other_encodings_and_huge_files_are_told(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    path.write_bytes('[print]\ntitle = "Mühle"\n'.encode("latin-1"))
    with pytest.raises(SettingsError, match="not UTF-8 text; save it as UTF-8"):
        read_decisions(tmp_path)
    path.write_bytes(b"#" * 2_000_001)
    with pytest.raises(SettingsError, match="larger than 2 MB"):
        read_decisions(tmp_path)


def test_a_write_that_fails_leaves_the_old_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / FILE_NAME
    path.write_text("old", encoding="utf-8")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_whole(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == [FILE_NAME]


# --- locking the palette -----------------------------------------------------------------------------------

FOUND = ("#f6efdf", "#b4935a", "#221e19")
MANY = tuple(f"#0000{k:02x}" for k in range(20))


def _locked(text: str, hexes: tuple[str, ...] = FOUND) -> str:
    before = parse(text)
    after = change(text, SetPalette(hexes))
    design = before.design.model_copy(update={"palette": hexes})
    assert parse(after) == before.model_copy(update={"design": design})
    return after


@pytest.mark.parametrize("hexes", [FOUND, MANY])
def test_locking_takes_the_place_of_the_comment_and_touches_nothing_else(
    tmp_path: Path, hexes: tuple[str, ...]
) -> None:
    text = compose(RICH)
    after = _locked(text, hexes)
    start, end = text.split("# palette = ")
    assert after.startswith(start + "palette = [")
    assert after.endswith(end.split("\n", 1)[1])


def test_locking_again_changes_the_palette(tmp_path: Path) -> None:
    after = _locked(_locked(compose(PLAIN)), MANY)
    assert after.count("palette = ") == 1


def test_locking_keeps_the_line_ends_and_the_mark(tmp_path: Path) -> None:
    text = "\ufeff" + compose(PLAIN).replace("\n", "\r\n")
    after = _locked(text, MANY)
    assert after.startswith("\ufeff")
    assert "\n" not in after.replace("\r\n", "")


HAND_WRITTEN = {
    "no design table": """\
# mine
[print]  # here
width_mm = 60
""",
    "no comment to replace": """\
[print]
width_mm = 60
# mine
[design]
# keep
colours = 3 # three

[proof]
dpi = 72
""",
    "design last, no line end": """\
[print]
width_mm = 60
[design]
# mine
speck_mm2 = 1""",
    "tables out of order": """\
[[design.drop]] # one
at = [1, 2]
[print]
width_mm = 60
# between
[[separation.trap]]
colour = 'x'
mm = 1
[design]
# mine
speck_mm2 = 1
""",
    "edits after another table": """\
[design]
colours = 3
[print]
width_mm = 60
# mine
[[design.drop]]
at = [1, 2]
[[design.drop]]
at = [3, 4]
""",
    "dotted": """\
print.width_mm = 60 # mine
design.colours = 3
""",
    "inline": """\
print = { width_mm = 60 } # mine
design = { colours = 3 }
""",
    "a palette already": """\
[print]
width_mm = 60
[design]
# mine
palette = ['#112233', # first
 '#445566']
""",
    "the comment in another table": """\
[design]
colours = 3
[print]
width_mm = 60
# palette = none yet
# mine
""",
}


@pytest.mark.parametrize("case", HAND_WRITTEN)
def test_locking_keeps_the_comments_of_files_written_by_hand(tmp_path: Path, case: str) -> None:
    text = HAND_WRITTEN[case]
    after = _locked(text)
    for comment in re.findall(r"# [a-z]+", text):
        if comment != "# first":  # It stood in the list that was replaced.
            assert comment in after


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(decided=_tables(Settings), chance=st.randoms(use_true_random=False))
def test_locking_keeps_every_decision(tmp_path: Path, decided: Settings, chance: random.Random) -> None:
    """Also when the tables stand in any order."""
    tables = re.split(r"(?m)^(?=\[[a-z])", compose(decided))
    chance.shuffle(tables)
    _locked("\n".join(tables))

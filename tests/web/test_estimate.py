"""How far a job is: from what is known, never backwards, and silent when nothing is known."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.project import STAGES
from blockwright.web.estimate import SKETCH, TRACING, Progress, Seconds, read_seconds, write_seconds

PARTS = (TRACING, SKETCH, *STAGES)
EVEN = Seconds(dict.fromkeys(PARTS, 2.0), megapixels=1.0)


def test_nothing_known_nothing_said() -> None:
    progress = Progress(Seconds(), now=0.0)
    progress.begins("design", now=0.0)
    assert progress.estimate(now=5.0) == (None, None)


def test_one_part_unknown_and_nothing_is_made_up() -> None:
    known = Seconds({part: 1.0 for part in PARTS if part != "proof"}, 1.0)
    progress = Progress(known, now=0.0)
    assert progress.estimate(now=0.0) == (None, None)
    progress.begins("packet", now=10.0)
    assert progress.estimate(now=10.5) == (95, 1)


def test_as_long_as_last_time_is_told_exactly() -> None:
    progress = Progress(EVEN, now=100.0)
    for k, part in enumerate(PARTS):
        progress.begins(part, now=100.0 + 2.0 * k)
        assert progress.estimate(now=101.0 + 2.0 * k) == (int(100 * (2 * k + 1) / 18), 17 - 2 * k)
    progress.ends(now=118.0)
    assert progress.took == dict.fromkeys(PARTS, 2.0)


def test_what_is_there_already_takes_no_time() -> None:
    progress = Progress(EVEN, now=0.0)
    for part in PARTS[:-1]:
        progress.passes(part, now=0.0)
    assert progress.estimate(now=0.0) == (0, 2)
    progress.begins(PARTS[-1], now=0.0)
    assert progress.estimate(now=1.0) == (50, 1)
    progress.ends(now=3.0)
    assert progress.took == {"packet": 3.0}


@given(
    known=st.lists(st.floats(0, 100), min_size=len(PARTS), max_size=len(PARTS)),
    steps=st.lists(st.tuples(st.sampled_from(["begins", "passes"]), st.floats(0, 50)), max_size=len(PARTS)),
)
def test_never_backwards_and_never_done_before_the_end(
    known: list[float], steps: list[tuple[str, float]]
) -> None:
    progress = Progress(Seconds(dict(zip(PARTS, known, strict=True)), 1.0), now=0.0)
    now = 0.0
    told = [progress.estimate(now=now)]
    for part, (what, seconds) in zip(PARTS, steps, strict=False):
        getattr(progress, what)(part, now=now)
        told.append(progress.estimate(now=now))
        now += seconds
        told.append(progress.estimate(now=now))
    percents = [percent for percent, _ in told if percent is not None]
    left = [seconds for _, seconds in told if seconds is not None]
    assert len(percents) == len(left) == len(told)
    assert percents == sorted(percents)
    assert left == sorted(left, reverse=True)
    assert max(percents) <= 99
    assert min(left) >= 1


def test_seconds_are_kept_in_the_print_and_scaled_for_another(tmp_path: Path) -> None:
    assert read_seconds(tmp_path) == Seconds()
    (tmp_path / "out").mkdir()
    write_seconds(tmp_path, EVEN)
    assert read_seconds(tmp_path) == EVEN
    assert [each.name for each in (tmp_path / "out").iterdir()] == [".seconds.json"]
    assert EVEN.scaled(3.0).of == {**EVEN.of, TRACING: 6.0}
    assert EVEN.scaled(5.0).of == EVEN.scaled(0.2).of == {}
    assert EVEN.scaled(None).of == {}
    assert Seconds(EVEN.of, None).scaled(3.0).of == {}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"megapixels": 1}',
        '{"megapixels": "x", "seconds": {}}',
        '{"megapixels": 1, "seconds": {"design": -1}}',
        '{"megapixels": NaN, "seconds": {"design": 1}}',
    ],
)
def test_what_cannot_be_understood_is_nothing_known(tmp_path: Path, text: str) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".seconds.json").write_text(text, encoding="utf-8")
    assert read_seconds(tmp_path) == Seconds()

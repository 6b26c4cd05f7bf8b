"""What is decided is kept: across restarts, other hands, other windows, broken work, and a full disk."""

import os
import signal
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import browsing
import pytest
from browsing import LOST, REFUSED, House, Visit, all_made, click_mm, housed, settled, until, visiting
from playwright.sync_api import Browser, Page, expect

from blockwright.decisions import read_decisions
from blockwright.web import jobs, words
from tiny_print import IN_BLUE, decide, set_value

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

FULL = """
import errno, os
from pathlib import Path
truly = os.fsync
def fsync(file):
    if Path(os.environ["FULL_WHEN"]).exists():
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    truly(file)
os.fsync = fsync
"""
"""A disk that is full while a file is there: what is written last before a decision counts fails."""

ON_PROC = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="workers are found in /proc")


@pytest.fixture
def own_house(tmp_path: Path, made_print: Path) -> Iterator[House]:
    """An app of this test's own, which may be ended."""
    with housed(tmp_path / "home", made_print) as opened:
        yield opened


def _set(page: Page, field: str, text: str) -> None:
    page.locator(field).fill(text)
    page.keyboard.press("Tab")


def _trap(folder: Path) -> float:
    return read_decisions(folder).separation.trap_mm


# --- restarts and other hands -------------------------------------------------------------------------------


def test_undo_and_redo_work_after_a_restart(chromium: Browser, own_house: House, made_print: Path) -> None:
    url = own_house.lay_in(made_print)
    with visiting(chromium, own_house) as visit:
        page = visit.open(url + "/impressions")
        _set(page, "#set-separation-trap_mm", "0.8")
        until(page, lambda: _trap(made_print) == 0.8, "the decision")
    own_house.restart()
    with visiting(chromium, own_house) as visit:
        page = visit.open(url + "/impressions")
        expect(page.locator("#set-separation-trap_mm")).to_have_value("0.8")
        page.locator("#undo").click()
        until(page, lambda: _trap(made_print) == 0.5, "taken back")
        expect(page.locator("#set-separation-trap_mm")).to_have_value("0.5")
        expect(page.locator("#undo")).to_have_count(0)
    own_house.restart(signal.SIGTERM)
    with visiting(chromium, own_house) as visit:
        page = visit.open(url + "/impressions")
        page.locator("#redo").click()
        until(page, lambda: _trap(made_print) == 0.8, "done again")
        settled(page, made_print)
        expect(page.locator("#set-separation-trap_mm")).to_have_value("0.8")


def test_an_edit_in_a_text_editor_is_taken_in_and_never_written_over(visit: Visit, made_print: Path) -> None:
    page = visit.open(visit.house.lay_in(made_print) + "/impressions")
    toml = made_print / "print.toml"
    mine = "# tried on the second of May: 0.7 is enough"
    decide(made_print, end=mine)
    set_value(made_print, "trap_mm", "0.7")
    expect(page.locator("#set-separation-trap_mm")).to_have_value("0.7")
    settled(page, made_print)
    expect(page.locator("#undo")).to_contain_text("by hand")
    page.locator("#times").select_option("2")
    until(page, lambda: read_decisions(made_print).separation.passes, "the decision")
    assert mine in toml.read_text(encoding="utf-8").split("\n")
    assert _trap(made_print) == 0.7
    page.locator("#undo").click()
    until(page, lambda: not read_decisions(made_print).separation.passes, "the last step taken back")
    assert mine in toml.read_text(encoding="utf-8").split("\n")
    expect(page.locator("#undo")).to_contain_text("by hand")
    page.locator("#undo").click()
    until(page, lambda: _trap(made_print) == 0.5, "the edit by hand taken back")
    assert mine not in toml.read_text(encoding="utf-8")


def test_decisions_that_cannot_be_read_are_said_in_place_and_undone(visit: Visit, made_print: Path) -> None:
    page = visit.open(visit.house.lay_in(made_print) + "/impressions")
    whole = (made_print / "print.toml").read_text(encoding="utf-8")
    set_value(made_print, "trap_mm", '"wide"')
    expect(page.locator("#station")).to_contain_text(words.wrong_print)
    expect(page.locator("#station")).to_contain_text("trap_mm")
    page.locator("#undo").click()
    expect(page.locator("#set-separation-trap_mm")).to_have_value("0.5")
    assert (made_print / "print.toml").read_text(encoding="utf-8") == whole


def test_two_windows_agree(visit: Visit, made_print: Path) -> None:
    url = visit.house.lay_in(made_print)
    one, other = visit.open(url + "/impressions?of=blue"), visit.open(url + "/impressions?of=blue")
    one.locator("#times").select_option("3")
    expect(other.locator("#times")).to_have_value("3")
    _set(other, "#trap", "0.9")
    expect(one.locator("#trap")).to_have_value("0.9")
    told = read_decisions(made_print).separation
    assert (told.passes[0].times, told.trap[0].mm) == (3, 0.9)
    settled(one, made_print)
    settled(other, made_print)


def test_what_is_typed_is_not_written_over_by_another_hand(visit: Visit, made_print: Path) -> None:
    page = visit.open(visit.house.lay_in(made_print) + "/impressions")
    page.locator("#set-separation-trap_mm").press_sequentially("9")
    set_value(made_print, "drift_mm", "0.9")
    expect(page.locator("#undo")).to_contain_text("by hand")
    expect(page.locator("#set-separation-trap_mm")).not_to_have_value("0.5")
    assert page.evaluate("document.activeElement.id") == "set-separation-trap_mm"
    page.keyboard.press("Escape")
    expect(page.locator("#set-separation-trap_mm")).to_have_value("0.5")


# --- one may change, the others look ------------------------------------------------------------------------


def test_a_second_app_on_a_print_may_only_look(
    chromium: Browser, visit: Visit, tmp_path: Path, made_print: Path
) -> None:
    first = visit.open(visit.house.lay_in(made_print) + "/impressions")
    with housed(tmp_path / "home", made_print) as second, visiting(chromium, second) as looking:
        page = looking.open(second.lay_in(made_print) + "/impressions")
        expect(page.locator("#standing")).to_contain_text(words.look_only)
        expect(page.locator("#times")).to_be_disabled()
        expect(page.locator("#set-separation-trap_mm")).to_be_disabled()
        _set(first, "#set-separation-trap_mm", "0.8")
        expect(page.locator("#set-separation-trap_mm")).to_have_value("0.8")
        for station in browsing.STATIONS:
            page.goto(f"{second.lay_in(made_print)}/{station}")
            assert page.locator("#sentences :is(input, select):enabled").count() == 0
            offered = page.locator("#station [hx-post]:enabled").all()
            assert [each.evaluate("each => each.outerHTML") for each in offered] == []


# --- bad input ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("station", "field", "pasted"),
    [
        ("design", "#set-design-speck_mm2", "about two, please"),
        ("design", "#set-design-colours", "3.5"),
        ("impressions", "#trap", "1e400"),
        ("blocks", "#set-blocks-arm_mm", "-4"),
        ("cutting", "#set-cutting-overlap_mm", "=1+1\t<b>mm</b>"),
        ("proof", "#set-proof-drift_mm", "０．５ inch"),
    ],
)
def test_text_pasted_into_a_number_is_refused_beside_it_in_one_sentence(
    visit: Visit, made_print: Path, station: str, field: str, pasted: str
) -> None:
    visit.watch.awaits(REFUSED)
    page = visit.open(visit.house.lay_in(made_print) + f"/{station}")
    before = (made_print / "print.toml").read_bytes()
    page.locator(field).focus()
    page.keyboard.press("Control+a")
    page.keyboard.insert_text(pasted)
    page.keyboard.press("Tab")
    said = page.locator(".refusal:not(:empty)")
    expect(said).to_have_count(1)
    sentence = said.inner_text()
    assert sentence.endswith(".")
    assert "\n" not in sentence.strip()
    box, place = said.bounding_box(), page.locator(field).bounding_box()
    assert box
    assert place
    assert 0 <= box["y"] - place["y"] < 160  # below it, with no more than its own sentence between
    assert (made_print / "print.toml").read_bytes() == before
    page.locator(field).focus()
    page.keyboard.press("Escape")
    expect(said).to_have_count(0)


def test_a_folder_that_vanishes_is_said_and_waited_for(visit: Visit, made_print: Path) -> None:
    visit.watch.awaits(r"status of (4\d\d)")
    page = visit.open(visit.house.lay_in(made_print) + "/impressions")
    away = made_print.with_name("away")
    made_print.rename(away)
    expect(page.locator("#trouble")).to_contain_text(str(made_print))
    page.reload()
    expect(page.locator("#station")).not_to_be_empty()
    page.goto(visit.house.own + "/")
    expect(page.locator(f"#print-{visit.house.lay_in(made_print).rpartition('/')[2]}")).to_be_visible()
    page.go_back()
    away.rename(made_print)
    expect(page.locator("#set-separation-trap_mm")).to_have_value("0.5")
    expect(page.locator("#trouble")).to_be_hidden()
    _set(page, "#set-separation-trap_mm", "0.8")
    until(page, lambda: _trap(made_print) == 0.8, "the decision")


def test_a_full_disk_is_said_and_nothing_is_lost(chromium: Browser, tmp_path: Path, made_print: Path) -> None:
    full = tmp_path / "full"
    with (
        housed(tmp_path / "home", made_print, before=FULL, environment={"FULL_WHEN": str(full)}) as house,
        visiting(chromium, house) as visit,
    ):
        visit.watch.awaits(r"status of (4\d\d|507)")
        page = visit.open(house.lay_in(made_print) + "/impressions")
        _set(page, "#set-separation-trap_mm", "0.8")
        until(page, lambda: _trap(made_print) == 0.8, "the decision")
        settled(page, made_print)
        before = (made_print / "print.toml").read_bytes()
        full.touch()
        _set(page, "#set-separation-trap_mm", "0.9")
        expect(page.locator(".refusal:not(:empty)")).to_contain_text(os.strerror(28))
        assert (made_print / "print.toml").read_bytes() == before
        full.unlink()
        house.restart(signal.SIGKILL)
        visit.watch.awaits(LOST)
        visit.let_in()
        page = visit.open(house.lay_in(made_print) + "/impressions")
        expect(page.locator("#set-separation-trap_mm")).to_have_value("0.8")
        _set(page, "#set-separation-trap_mm", "0.9")
        until(page, lambda: _trap(made_print) == 0.9, "the decision")


# --- work that is stopped, or breaks off --------------------------------------------------------------------


def _freeze_workers(page: Page, house: House) -> list[int]:
    """Hold the workers, so that the next work lasts for as long as the test needs."""
    until(page, house.workers, "a worker")
    pids = house.workers()
    for pid in pids:
        os.kill(pid, signal.SIGSTOP)
    return pids


def _kill(pids: list[int]) -> None:
    for pid in pids:
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)


def _are_gone(pids: list[int]) -> bool:
    """Whether processes have ended; a busy machine takes its time over it."""
    for pid in pids:
        with suppress(OSError):
            state = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0]
            if state not in "ZX":
                return False
    return True


def _work_hard(page: Page, house: House, folder: Path) -> list[int]:
    """Decide something, and have the work on it under way and without an end."""
    _set(page, "#set-separation-trap_mm", "0.8")
    until(page, lambda: _trap(folder) == 0.8, "the decision")
    settled(page, folder)
    pids = _freeze_workers(page, house)
    _set(page, "#set-separation-trap_mm", "0.9")
    until(page, lambda: _trap(folder) == 0.9, "the decision")
    expect(page.locator("#working")).to_be_visible()
    return pids


@ON_PROC
def test_a_job_is_stopped_and_gone_on_with(chromium: Browser, own_house: House, made_print: Path) -> None:
    with visiting(chromium, own_house) as visit:
        page = visit.open(own_house.lay_in(made_print) + "/impressions")
        pids = _work_hard(page, own_house, made_print)
        page.get_by_role("button", name=words.stop, exact=True).click()
        expect(page.locator("#working")).to_be_hidden()
        expect(page.locator("#again")).to_be_visible()
        assert _trap(made_print) == 0.9
        _kill(pids)  # a spare one is held as well
        until(page, lambda: _are_gone(pids), "the workers gone")
        page.locator("#again").click()
        settled(page, made_print)
        expect(page.locator("#again")).to_have_count(0)


@ON_PROC
def test_a_worker_that_is_killed_is_said_and_the_work_goes_on(
    chromium: Browser, own_house: House, made_print: Path
) -> None:
    with visiting(chromium, own_house) as visit:
        page = visit.open(own_house.lay_in(made_print) + "/impressions")
        _kill(_work_hard(page, own_house, made_print))
        expect(page.locator("#trouble")).to_have_text(jobs.CRASHED)
        expect(page.locator("#set-separation-trap_mm")).to_have_value("0.9")
        page.locator("#again").click()
        settled(page, made_print)
        expect(page.locator("#trouble")).to_be_hidden()


@ON_PROC
def test_a_server_that_is_killed_at_work_leaves_the_last_decision(
    chromium: Browser, own_house: House, made_print: Path
) -> None:
    with visiting(chromium, own_house) as visit:
        visit.watch.awaits(LOST, REFUSED)
        url = own_house.lay_in(made_print)
        page = visit.open(url + "/impressions")
        pids = _work_hard(page, own_house, made_print)
        own_house.stop(signal.SIGKILL)
        _kill(pids)
        expect(page.locator("#lost")).to_be_visible()
        assert not all_made(made_print)
        own_house.start()
        visit.let_in()
        again = visit.open(url + "/impressions")
        expect(again.locator("#set-separation-trap_mm")).to_have_value("0.9")
        settled(again, made_print)
        # The window that stood open goes on by itself, as it said it would.
        expect(page.locator("#lost")).to_be_hidden()
        settled(page, made_print)
        click_mm(page, IN_BLUE)

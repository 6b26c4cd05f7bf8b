"""Karazuri and leaf in the app: chosen for a colour or a shape, told in sentences, taken off, undone."""

import re
from collections.abc import Iterator
from pathlib import Path

import browsing
import pytest
from asked_app import AskedApp
from browsing import Visit, drawn, settled, until
from playwright.sync_api import Page, expect

from blockwright import project
from blockwright.decisions import read_decisions
from blockwright.looking import look
from blockwright.web import words
from tiny_print import IN_BLUE, IN_DARK, IN_OCHRE, decide

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

AS_PART = {"HX-Request": "true"}
GILT = f'[[separation.leaf]]\nat = {list(IN_BLUE)}\nmetal = "copper"\n'
PRESSED = f'[[separation.karazuri]]\nat = {list(IN_OCHRE)}\nside = "back"\n'


@pytest.fixture
def asked(tmp_path: Path) -> Iterator[AskedApp]:
    app = AskedApp(tmp_path / "home")
    yield app
    app.close()


def laid_in(asked: AskedApp, folder: Path) -> str:
    return f"/print/{asked.desk.lay_in(folder)}"


def plain(text: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_a_colour_and_a_shape_get_what_is_chosen_and_lose_it_again(asked: AskedApp, made_print: Path) -> None:
    url = laid_in(asked, made_print)
    page = asked.browser.get(f"{url}/impressions", params={"of": "blue"}, headers=AS_PART).text
    for option in ("nothing more", "karazuri from the front", "gold leaf", "imitation gold leaf"):
        assert f">{option}</option>" in page
    for finish, table in (("leaf copper", "leaf"), ("back", "karazuri")):
        fields = {"act": "set-finish", "colour": "blue", "finish": finish}
        assert asked.browser.post(f"{url}/decide", data=fields).status_code < 300
        (entry,) = getattr(read_decisions(made_print).separation, table)
        assert entry.colour == "blue"
    page = asked.browser.get(f"{url}/impressions", params={"of": "blue"}, headers=AS_PART).text
    assert '<option value="back" selected>' in page
    assert asked.browser.post(f"{url}/undo").status_code < 300
    assert read_decisions(made_print).separation.leaf[0].metal == "copper"
    part = asked.browser.get(f"{url}/shape", params={"x": IN_OCHRE[0], "y": IN_OCHRE[1]}).text
    assert words.finish_shape_lead in part
    assert '"set-finish"' in part.replace("&#34;", '"')


@pytest.mark.parametrize("finish", ["leaf", "sideways", "front gold"])
def test_a_finish_that_there_is_not_is_refused(asked: AskedApp, made_print: Path, finish: str) -> None:
    url = laid_in(asked, made_print)
    before = read_decisions(made_print)
    answer = asked.browser.post(
        f"{url}/decide", data={"act": "set-finish", "colour": "blue", "finish": finish}
    )
    assert words.not_an_act in answer.text
    assert read_decisions(made_print) == before


def test_impressions_without_ink_tell_what_is_done(asked: AskedApp, made_print: Path) -> None:
    decide(made_print, end=GILT + "\n" + PRESSED)
    project.make(made_print)
    url = laid_in(asked, made_print)
    page = asked.browser.get(f"{url}/impressions", params={"of": "copper leaf"}, headers=AS_PART).text
    said = plain(page)
    assert "One leaf of 140 × 140 mm to a print; for 60 sheets with waste 69 leaves, 3 books." in said
    assert words.finish_coat in said
    assert "On the shape at 45, 25 mm, not printed beneath." in said
    assert f"{url}/files/separation/leaf-04-ground.pdf" in page
    for name in ("leaf-04-ground.pdf", "leaf-04-plan.pdf"):
        assert asked.browser.get(f"{url}/files/separation/{name}").content.startswith(b"%PDF")
    # What has no ink is asked nothing about ink, and cannot be moved in the order.
    assert 'id="times"' not in page
    assert re.findall(r'data-name="([^"]+)"', page) == ["yellow ochre", "brown black"]
    back = asked.browser.get(
        f"{url}/impressions", params={"of": "karazuri from the back"}, headers=AS_PART
    ).text
    assert words.finish_is_back in back.replace("&#39;", "'")
    for view in ("after-03", "alone-03", "under-04", "after-04"):
        assert asked.browser.get(f"{url}/tiles/{view}.json").status_code == 200
    for station in ("design", "inks", "blocks", "cutting", "proof"):
        assert asked.browser.get(f"{url}/{station}").status_code == 200


def test_what_has_no_ink_is_no_key_and_only_what_can_share_is_offered(
    asked: AskedApp, made_print: Path
) -> None:
    front = f"[[separation.karazuri]]\nat = {list(IN_DARK)}\n"
    decide(made_print, end="\n".join((GILT, PRESSED, front)))
    project.make(made_print)
    url = laid_in(asked, made_print)
    page = asked.browser.get(f"{url}/impressions", params={"of": "yellow ochre"}, headers=AS_PART).text
    (keys,) = re.findall(r'<select[^>]*id="key-colour"[^>]*>(.*?)</select>', page, re.DOTALL)
    assert "yellow ochre" in keys
    assert "karazuri" not in keys
    assert "leaf" not in keys

    def offered(face: str) -> list[str]:
        part = asked.browser.get(f"{url}/blocks", params={"face": face}, headers=AS_PART).text
        chosen = re.findall(r'<select[^>]*id="share-with-colour"[^>]*>(.*?)</select>', part, re.DOTALL)
        return re.findall(r"<option>([^<]+)</option>", "".join(chosen))

    stage = look(made_print).stage("blocks").told
    assert stage is not None
    faces = [face for board in stage["boards"] for face in board["faces"]]
    # The dark shape's block embosses it too, as nothing runs out from it.
    said = {face["name"]: (face["impressions"], offered(face["name"])) for face in faces}
    assert said == {
        "A front": ([1], ["brown black", "karazuri"]),
        "A back": ([2, 3], ["yellow ochre"]),
        "B front": ([4], []),
    }


def test_leaf_is_laid_and_taken_off_in_a_browser(visit: Visit, made_print: Path) -> None:
    page: Page = visit.open(visit.house.lay_in(made_print) + "/impressions?of=blue")
    page.get_by_label(words.finish_label).select_option(label="gold leaf")
    until(page, lambda: read_decisions(made_print).separation.leaf, "the leaf")
    settled(page, made_print)
    row = page.locator("#rack li", has_text="gold leaf")
    expect(row).to_have_count(1)
    row.locator("a").click()
    expect(page.locator("#impression")).to_contain_text("One leaf of 80 × 80 mm to a print")
    drawn(page)
    page.get_by_role("button", name=words.finish_take_off).click()
    until(page, lambda: not read_decisions(made_print).separation.leaf, "no leaf")
    settled(page, made_print)
    expect(page.locator("#rack li", has_text="gold leaf")).to_have_count(0)

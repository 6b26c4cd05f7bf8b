"""A sketch of a print with overprints does not wait for a search, and leaves nothing of it in the run."""

import shutil
from pathlib import Path

import pytest

from blockwright import project
from blockwright.looking import STAGES, look
from blockwright.separation import question, searching
from blockwright.separation.asked import Asked
from blockwright.separation_steps import PLANS
from tiny_print import IN_BLUE, IN_OCHRE, create_tiny, decide, set_value, tree_hashes

RECOLOUR = '[[design.recolour]]\nat = [{}, {}]\nto = "{}"'


def counted_in(patch: pytest.MonkeyPatch) -> list[int]:
    """One entry for every search from now on: how many colours were asked for."""
    made: list[int] = []
    search = searching.search

    def counted(asked: Asked, *args: object) -> object:
        made.append(len(asked.targets))
        return search(asked, *args)  # type: ignore[arg-type]

    question.answered.cache_clear()
    patch.setattr(question, "search", counted)
    return made


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    return counted_in(monkeypatch)


@pytest.fixture(scope="module")
def _searched_once(tmp_path_factory: pytest.TempPathFactory, tiny_picture: Path) -> Path:
    folder = tmp_path_factory.mktemp("searched") / "tiny"
    create_tiny(folder, tiny_picture)
    set_value(folder, "blocks", '"fewest"')
    with pytest.MonkeyPatch.context() as patch:
        searches = counted_in(patch)
        project.make(folder)
        assert searches == [3]
    return folder


@pytest.fixture
def searched_print(tmp_path: Path, _searched_once: Path, searches: list[int]) -> Path:
    """A print whose overprints were searched in an earlier process."""
    forget(searches)
    return Path(shutil.copytree(_searched_once, tmp_path / "tiny"))


def forget(searches: list[int]) -> None:
    searches.clear()
    question.answered.cache_clear()


def states(folder: Path) -> set[str]:
    seen = look(folder)
    return {seen.stage(name).state for name in STAGES}


def stacks(folder: Path) -> list[tuple[str, list[str]]]:
    told = look(folder).stage("separation").told
    assert told is not None
    return [(each["ink"], each["colours"]) for each in told["impressions"]]


def recolour(folder: Path, to: str = "#47718f") -> None:
    decide(folder, end=RECOLOUR.format(*IN_BLUE, to))


def test_a_recolour_is_sketched_without_a_search(searched_print: Path, searches: list[int]) -> None:
    before = [len(each[1]) for each in stacks(searched_print)]
    recolour(searched_print)
    assert states(searched_print) >= {"stale"}
    project.sketch(searched_print)
    assert searches == []
    assert states(searched_print) == {"sketch"}
    assert [len(each[1]) for each in stacks(searched_print)] == before
    assert PLANS not in look(searched_print).stage("separation").files
    project.make(searched_print)
    assert searches == [3]
    assert states(searched_print) == {"fresh"}
    assert PLANS not in look(searched_print).stage("separation").files


def test_a_run_gives_the_same_bytes_whatever_was_sketched(searched_print: Path, searches: list[int]) -> None:
    plain = searched_print.with_name("plain")
    shutil.copytree(searched_print, plain)
    for colour in ("#47718f", "#8f4747", "#3f8f6f"):
        path = searched_print / "print.toml"
        path.write_bytes((plain / "print.toml").read_bytes())
        recolour(searched_print, colour)
        project.sketch(searched_print)
    assert searches == []
    project.make(searched_print)
    recolour(plain, "#3f8f6f")
    shutil.rmtree(plain / "out")
    project.make(plain)
    shutil.rmtree(searched_print / "out" / ".sketch")
    assert tree_hashes(searched_print) == tree_hashes(plain)


def test_the_sketch_is_shown_until_the_run_is_through(searched_print: Path) -> None:
    recolour(searched_print)
    project.sketch(searched_print)
    sketched = look(searched_print).stage("separation").version
    project.make(searched_print, upto="separation")
    assert look(searched_print).stage("separation").version == sketched
    assert states(searched_print) == {"fresh", "sketch"}  # the shapes are drawn
    assert look(searched_print).next_step == "packet"
    project.make(searched_print, upto="proof")
    assert look(searched_print).stage("separation").version != sketched
    assert states(searched_print) == {"fresh"}


def test_a_sketch_goes_on_from_one_that_was_searched(new_print: Path, searches: list[int]) -> None:
    set_value(new_print, "blocks", '"fewest"')
    project.sketch(new_print)
    assert searches == [3]
    forget(searches)
    recolour(new_print)
    project.sketch(new_print)
    recolour(new_print, "#527a99")
    project.sketch(new_print)
    assert searches == []
    assert states(new_print) == {"sketch"}


def test_what_was_searched_already_is_no_sketch(searched_print: Path, searches: list[int]) -> None:
    set_value(searched_print, "arm_mm", "12.0")
    project.sketch(searched_print)
    assert searches == []
    assert look(searched_print).stage("separation").state == "fresh"
    assert look(searched_print).stage("blocks").state == "sketch"


def test_another_number_of_colours_is_searched_for_the_sketch(
    searched_print: Path, searches: list[int]
) -> None:
    merge = f"[[design.merge]]\nat = [{IN_OCHRE[0]}, {IN_OCHRE[1]}]\ninto = [{IN_BLUE[0]}, {IN_BLUE[1]}]"
    decide(searched_print, end=merge)
    project.sketch(searched_print)
    assert searches == [2]
    assert states(searched_print) == {"sketch"}


@pytest.mark.parametrize("spoilt", [b"", b"not JSON", b'{"question": 1}'])
def test_plans_that_cannot_be_read_are_searched(
    searched_print: Path, searches: list[int], spoilt: bytes
) -> None:
    (searched_print / "out" / "separation" / PLANS).write_bytes(spoilt)
    recolour(searched_print)
    project.sketch(searched_print)
    assert searches == [3]


def test_rehearsing_searches_nothing(searched_print: Path, searches: list[int]) -> None:
    before = tree_hashes(searched_print)
    project.rehearse(searched_print)
    assert (searches, tree_hashes(searched_print)) == ([], before)
    recolour(searched_print)
    project.sketch(searched_print)
    before = tree_hashes(searched_print)
    project.rehearse(searched_print)
    assert (searches, tree_hashes(searched_print)) == ([], before)

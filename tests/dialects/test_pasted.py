"""The pasted files of the corpus state what the dumps state that were pasted."""

from pathlib import Path

import pytest

from cfgaudit.dialects.opening import NoSuchPart, Opened, open_dump
from cfgaudit.settings import Settings, TroubleKind
from tests.dialects.demo import BROKEN, CORPUS, DUMPS, FACTORY, dialects, opened

PASTED = CORPUS / "pasted"
FILES = tuple(sorted(PASTED.iterdir()))

# the paste, the dump that was pasted, what must be said of the repair
SAME = {
    "terminal-colours": ("sandpiper", ("723 terminal codes", "2 prompts")),
    "line-numbers": ("goosander", ("572 line numbers",)),
    "forum-quote": ("sandpiper", ("quoting marks of 458 lines",)),
    "typographic": ("dipper", ("unbreakable spaces", "quotation marks", "dashes")),
    "indented-in-a-fence": ("wagtail", ("2 marks around", "indentation that all 511 lines")),
    "quoted-numbers": ("wagtail-esc", ("quoting marks of 50 lines", "50 line numbers")),
}

PLAIN_LETTERS = str.maketrans("\u201c\u201d\u00a0\u2212\u2013", '"" --')


def values(settings: Settings) -> dict[str, object]:
    return {path: stated.value for path, stated in settings.stated.items()}


def part(name: str, number: int) -> Opened:
    return open_dump(name, (PASTED / name).read_bytes(), dialects(), part=number)


def test_there_are_pastes_of_every_sort() -> None:
    assert len(FILES) >= 8
    assert {path.stem for path in FILES} >= set(SAME)


@pytest.mark.parametrize("name", SAME)
def test_a_paste_states_what_the_dump_states(name: str) -> None:
    dump, notes = SAME[name]
    found = opened(PASTED / f"{name}.dump")
    assert values(found.settings) == values(opened(CORPUS / f"{dump}.dump").settings)
    assert not found.settings.troubles
    said = "; ".join(found.settings.dumps[0].notes)
    assert all(note in said for note in notes)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_paste_comes_back_byte_for_byte(path: Path) -> None:
    assert opened(path).document.to_bytes() == path.read_bytes()


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_value_of_a_paste_stands_where_its_place_says(path: Path) -> None:
    found = opened(path)
    lines = found.document.text.lines
    for stated in found.settings.stated.values():
        place = stated.place
        if place is not None and place.column and not isinstance(stated.value, tuple):
            there = lines[place.line - 1][place.column - 1 : place.end - 1]
            assert there.translate(PLAIN_LETTERS) == stated.text


@pytest.mark.parametrize("path", [*DUMPS, *FACTORY], ids=lambda path: path.stem)
def test_a_dump_that_was_not_pasted_is_not_repaired(path: Path) -> None:
    found = opened(path)
    assert found.document.notes == ()
    assert found.document.part is None


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_of_the_broken_files_only_random_bytes_look_pasted(path: Path) -> None:
    assert bool(opened(path).document.repairs) == (path.stem == "random-bytes")


def test_broken_lines_are_put_together() -> None:
    found = opened(PASTED / "hard-wrapped.dump").settings
    # by hand: the two plans and the greeting were written in one line each before the mail
    assert found.dumps[0].notes == ("5 lines broken at 56 characters were put together",)
    assert not [key for key, raw in found.raw.items() if not raw.known]
    assert found.raw["craft/greeting"].value == (
        '"mind the heron, it stands on the third stone below the weir and waits"'
    )


def test_a_paste_without_its_end_is_said_to_stop() -> None:
    found = opened(PASTED / "end-missing.dump").settings
    (trouble,) = [t for t in found.troubles if t.kind is TroubleKind.TRUNCATED]
    assert "stops inside of overla" in trouble.message


def test_several_dumps_are_said_with_their_lines_and_the_first_is_read() -> None:
    found = opened(PASTED / "several.dump")
    assert found.settings.dumps[0].notes == (
        "it holds 3 dumps, which begin at lines 1, 460 and 1138; this is number 1 "
        "(several.dump#2 names number 2)",
    )
    assert found.settings["craft.name"].value == "sandpiper"
    assert not found.settings.repeats


@pytest.mark.parametrize(("number", "dump"), [(1, "sandpiper"), (2, "dipper"), (3, "sandpiper")])
def test_each_of_several_dumps_is_read_by_its_number(number: int, dump: str) -> None:
    found = part("several.dump", number)
    alone = opened(CORPUS / f"{dump}.dump").settings
    assert values(found.settings) == values(alone)
    moved = (0, 459, 1137)[number - 1]  # the lines that stand before it in the paste
    for path, stated in found.settings.stated.items():
        place, own = stated.place, alone[path].place
        assert (place is None) == (own is None)
        if place and own:
            assert (place.line - moved, place.column) == (own.line, own.column)
    assert found.document.to_bytes() == (PASTED / "several.dump").read_bytes()


def test_a_number_beyond_the_last_dump_is_refused() -> None:
    with pytest.raises(NoSuchPart) as lack:
        part("several.dump", 4)
    assert lack.value.count == 3


def test_both_heads_of_a_merge_make_no_second_dump() -> None:
    head = "# sedge 2.4.1 on HB-7 rev C, built 2026-03-18"
    lines = ["<<<<<<< ours", head, "=======", head.replace("2.4.1", "2.4.0"), ">>>>>>> theirs"]
    text = "\n".join([*lines, *["[pack]", "cell_low = 350"] * 12]).encode()
    assert open_dump("a.dump", text, dialects()).document.part is None


def test_plain_forms_one_behind_the_other_are_told_apart_by_their_ends() -> None:
    one = "[battery]\ncells = 4\nwarn_cell = 3.5 V\nempty_cell = 3.3 V\n[craft]\nname = a\nend\n"
    found = open_dump("a.cfg", (one + one).encode(), dialects())
    assert found.document.part == range(7)
    assert not found.settings.repeats

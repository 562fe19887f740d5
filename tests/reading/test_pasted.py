"""Pasted text is read as the dump it was: repaired for reading, kept byte for byte in the file."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.reading.document import Document, read_document, repaired
from cfgaudit.reading.shapes import Assignment, Section
from tests.reading.test_places import spans, text_at
from tests.strategies_text import files, shaped_lines

CLEAN = (
    "# sedge 2.4.1 on HB-7",
    "[craft]",
    'called = "dipper"',
    "[pack]",
    "cell_low = 350",
    "amps_zero = -12",
    "",
    "[port brook1]",
    "speed = 1000",
    "jobs = 1",
    "made_of = polymer",
)


def document(lines: tuple[str, ...] | list[str]) -> Document:
    data = "\n".join(lines).encode()
    found = read_document("a.dump", data)
    assert found.to_bytes() == data
    return found


def said(found: Document) -> list[str]:
    """The shapes that say something, without the places of their parts."""
    shapes = [statement.shape for statement in found.statements]
    texts = [" ".join(span.text for span in spans(s)) for s in shapes]
    return [f"{type(s).__name__} {text}" for s, text in zip(shapes, texts, strict=True) if text]


PASTES = {
    "colours": (
        [f"\x1b[32m{line}\x1b[0m" for line in CLEAN],
        ("22 terminal codes were taken off",),
    ),
    "a window's title": (
        ["\x1b]0;bench\x07" + CLEAN[0], *CLEAN[1:]],
        ("a terminal code was taken off",),
    ),
    "colours without their escape letter": (
        [f"[1;31m{line}[0m" for line in CLEAN],
        ("the rests of 22 colour codes were taken off",),
    ),
    "line numbers": (
        [f"{number:>4}  {line}" for number, line in enumerate(CLEAN, 95)],
        ("11 line numbers were taken off", "the indentation that all 10 lines have was taken off"),
    ),
    "line numbers with a colon": (
        [f"{number}: {line}" for number, line in enumerate(CLEAN, 1)],
        ("11 line numbers were taken off",),
    ),
    "quoting": (
        [f"> {line}" for line in CLEAN],
        ("the quoting marks of 11 lines were taken off",),
    ),
    "quoting twice": (
        [f">> {line}" for line in CLEAN],
        ("the quoting marks of 11 lines were taken off",),
    ),
    "indentation": (
        [f"    {line}" if line else "" for line in CLEAN],
        ("the indentation that all 10 lines have was taken off",),
    ),
    "a fence": (["```", *CLEAN, "```"], ("2 marks around the text were passed over",)),
    "forum tags": (["[code]", *CLEAN, "[/code]"], ("2 marks around the text were passed over",)),
    "a page's marks": (
        ['<pre class="dump">', *CLEAN, "</pre>"], ("2 marks around the text were passed over",)
    ),
    "a page's ends of lines": (
        [f"{line}<br/>" if line else "" for line in CLEAN],
        ("the markup of a web page was taken off 10 lines",),
    ),
    "a page's signs": (
        [line.replace(" = ", "&nbsp;&#61; ").replace('"', "&quot;") + "<br>" * bool(line)
         for line in CLEAN],
        ("the markup of a web page was taken off 10 lines",),
    ),
    "a shell's prompts": (
        ["thorn@bench:~$ cat a.dump", *CLEAN, "thorn@bench:~$ "],
        ("2 prompts were passed over",),
    ),
    "a device's prompts": (
        ["teal> tell all", *CLEAN, "teal>"],
        ("2 prompts were passed over",),
    ),
    "unbreakable spaces": (
        [line.replace(" = ", "\u00a0=\u00a0") for line in CLEAN],
        ("12 unbreakable spaces were read as spaces",),
    ),
    "marks without width": (
        [line.replace("]", "]\u200b") for line in CLEAN],
        ("3 marks without width were taken off",),
    ),
    "typographic quotation marks": (
        [line.replace('"dipper"', "\u201cdipper\u201d") for line in CLEAN],
        ("2 typographic quotation marks were read as plain ones",),
    ),
    "a typographic minus": (
        [line.replace("-12", "\u221212") for line in CLEAN],
        ("a typographic dash was read as a plain one",),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PASTES)
def test_a_paste_is_read_as_the_dump_it_was_and_the_repair_is_counted(name: str) -> None:
    lines, notes = PASTES[name]
    found = document(lines)
    assert said(found) == said(document(CLEAN))
    assert found.notes == notes


@pytest.mark.parametrize("name", PASTES)
def test_a_place_in_a_paste_names_the_files_own_line_and_column(name: str) -> None:
    found = document(PASTES[name][0])
    (low,) = [
        (statement, shape)
        for statement in found.statements
        if isinstance(shape := statement.shape, Assignment) and shape.key.text == "cell_low"
    ]
    place = low[0].place("a.dump", low[1].value)
    assert text_at(found, place) == "350"
    assert found.text.lines[place.line - 1].count("350") == 1


def test_a_clean_dump_is_not_repaired() -> None:
    found = document(CLEAN)
    assert found.notes == ()
    assert found.lines is found.text.lines


@given(st.lists(shaped_lines(), max_size=40))
def test_lines_that_mean_something_are_read_as_they_stand(lines: list[str]) -> None:
    made = repaired(lines)
    assert made is None or made.notes == (
        f"the indentation that all {sum(map(bool, map(str.strip, lines)))} lines have was "
        "taken off",
    )


@given(files())
def test_every_line_of_any_file_is_read_once_whatever_is_repaired(data: bytes) -> None:
    found = read_document("a.dump", data)
    assert found.to_bytes() == data
    firsts = [statement.first for statement in found.statements]
    assert firsts == sorted(set(firsts))
    for statement in found.statements:
        for span in spans(statement.shape):
            place = statement.place("a.dump", span)
            assert 1 <= place.line <= len(found.text.lines)
            assert 1 <= place.column <= len(found.text.lines[place.line - 1]) + 1


UNTOUCHED = {
    "an escape inside of quotes": ['called = "Goos\x1b[31mander"'],
    "a lone odd space inside of quotes": ['called = "käthe\u00a02"'],
    "a typographic apostrophe in a word": ["keeper = O\u2019Neill"],
    "a typographic quotation inside of quotes": ['called = "the \u201cold\u201d one"'],
    "marks of an unfinished merge": [">>>>>>> theirs"] * 9,
    "a table whose first column counts": [f"{n} speak {n * 7}" for n in range(1, 30)],
    "keys that are numbers": [f"{n} = {n * 7}" for n in range(1, 30)],
    "labels that are numbers": [f"{n}: 1700..2100 us" for n in range(1, 30)],
    "rows that begin with a number": [f"{n},20,80" for n in range(1, 30)],
    "a dash within words": ["note = left \u2013 right"],
    "two lines of one length": ["a" * 60 + " = 1 2 3", "b" * 60 + " = 1 2 3"],
    "values in rows below a long row": ["plug,jobs,pace," + "x" * 40, "1,2,3,4"],
    "lines that all end in a comma": [
        "REM,ROWS COUNT FROM THE TOP AND COLUMNS FROM THE LEFT,",
        *(f"ROW{n},{n}," for n in range(9)),
    ],
    "a prompt alone": ["sedge> tell all", *CLEAN],
    "a section called m": ["[0m]", "[m]", "[1m]", "x = [0m"],
}


@pytest.mark.parametrize("name", UNTOUCHED)
def test_what_only_looks_like_a_trace_is_left_alone(name: str) -> None:
    assert repaired(UNTOUCHED[name]) is None


def test_a_line_broken_inside_of_quotes_is_put_together() -> None:
    found = document(
        ["[craft]", 'greeting = "mind the heron, it stands on the third stone', 'below the weir"']
    )
    shape = found.statements[1].shape
    assert isinstance(shape, Assignment)
    assert shape.value.text == '"mind the heron, it stands on the third stone below the weir"'
    assert found.notes == ("a line broken at 56 characters was put together",)
    assert len(found.statements) == 2


def test_values_below_a_full_line_belong_to_its_setting() -> None:
    found = document(["tunes = 5733 5752 5771 5790 5809 5828 5847 5866", "5885 5904", "x = 1"])
    shape = found.statements[0].shape
    assert isinstance(shape, Assignment)
    assert shape.value.text.endswith("5866 5885 5904")
    place = found.statements[0].place("a.dump", shape.value._replace(text="5904", start=53))
    assert (place.line, place.column, text_at(found, place)) == (2, 6, "5904")


def test_a_screen_of_80_characters_breaks_in_mid_word() -> None:
    whole = 'note = "' + "the reeds by the weir are quiet and " * 4 + '"'
    found = document([whole[:80], whole[80:], "x = 1"])
    shape = found.statements[0].shape
    assert isinstance(shape, Assignment)
    assert shape.value.text == whole.removeprefix("note = ")


def test_a_dialects_own_prompt_is_left_to_it() -> None:
    lines = ["teal> tell all", *CLEAN, "teal> "]
    assert repaired(lines, ("teal>",)) is None
    assert repaired(lines) is not None


def test_a_place_ends_behind_marks_that_were_taken_out_of_its_midst() -> None:
    found = document(["cell_low = 3\u200b50"])
    statement = found.statements[0]
    assert isinstance(statement.shape, Assignment)
    assert statement.shape.value.text == "350"
    assert text_at(found, statement.place("a.dump", statement.shape.value)) == "3\u200b50"


def test_a_section_head_keeps_its_place_behind_a_number() -> None:
    found = document(PASTES["line numbers"][0])
    statement = next(s for s in found.statements if isinstance(s.shape, Section))
    assert isinstance(statement.shape, Section)
    assert text_at(found, statement.place("a.dump", statement.shape.name)) == "craft"


def test_a_line_without_a_number_is_the_rest_of_the_one_above() -> None:
    said = [f"{n} cell_{n} = {n} {n}" for n in range(1, 13)]
    said[4:5] = ["5 tunes = 5733, 5752,", "5771, 5790"]
    said[9:10] = ["9 gains = 45", "80 30"]
    made = repaired(said)
    assert made is not None
    texts = [line.text for line in made.lines]
    assert texts[3:6] == ["cell_4 = 4 4", "tunes = 5733, 5752, 5771, 5790", "cell_6 = 6 6"]
    assert texts[8] == "gains = 45 80 30"
    assert [line.text for line in made.lines][-1] == "cell_12 = 12 12"
    assert any(note.startswith("lines 6, 11 have no number") for note in made.notes)

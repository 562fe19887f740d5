"""Where a statement stands: the columns of its place hold its text, in every look.

Shapes are compared by their repr, since tuples of two kinds may be equal.
"""

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from cfgaudit.reading.document import Document, Statement, read_document
from cfgaudit.reading.shapes import (
    Assignment,
    Comment,
    Directive,
    Look,
    Shape,
    Span,
    Unread,
    cells,
    words,
)
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import Place
from tests.strategies_text import files, looks

# Continued lines are apart: there a span may run on into the next line.
ONE_LINE_LOOKS = looks().map(lambda look: Look(prompts=look.prompts, lead=look.lead))


def spans(shape: Shape) -> list[Span]:
    """Every span of a shape."""
    values = [getattr(shape, name, None) for name in ("name", "key", "value", "body")]
    return [value for value in values if isinstance(value, Span)]


def text_at(document: Document, place: Place) -> str:
    """What the file holds at a place."""
    return document.text.lines[place.line - 1][place.column - 1 : place.end - 1]


def only(document: Document) -> Statement:
    (statement,) = document.statements
    return statement


@given(files(), ONE_LINE_LOOKS)
def test_the_text_at_a_place_is_the_text_of_the_span(data: bytes, look: Look) -> None:
    document = read_document("a.dump", data, look)
    assume(not document.repairs)  # of a repaired text, test_pasted.py
    for statement in document.statements:
        for span in spans(statement.shape):
            place = statement.place("a.dump", span)
            assert place.column >= 1
            assert text_at(document, place) == span.text


@given(files())
def test_words_and_cells_stand_where_they_say(data: bytes) -> None:
    for line in read_document("a.dump", data).text.lines:
        for span in (*words(Span(line, 0)), *cells(Span(line, 0))):
            assert line[span.start : span.end] == span.text


@given(files())
@example(b"\t" + b" " * 37 + b"$=\n0")
def test_every_line_is_of_one_statement_in_the_usual_look(data: bytes) -> None:
    """Of its own, but where lines were broken at one width: then of the one that goes on there."""
    document = read_document("a.dump", data)
    numbers = [
        number
        for statement in document.statements
        for number in sorted({statement.line, *(line + 1 for _, line, _ in statement.joints)})
    ]
    assert numbers == list(range(1, len(document.text.lines) + 1))


@given(files(), looks())
def test_no_line_is_lost_or_read_twice_in_any_look(data: bytes, look: Look) -> None:
    document = read_document("a.dump", data, look)
    indices = [
        joint[1]
        for statement in document.statements
        for joint in statement.joints or ((0, statement.first, 0),)
    ]
    assert list(dict.fromkeys(indices)) == list(range(len(document.text.lines)))


@given(files(), looks())
def test_reading_a_printed_document_gives_the_same_statements(data: bytes, look: Look) -> None:
    document = read_document("a.dump", data, look)
    again = read_document("a.dump", document.to_bytes(), look)
    assert repr(again.statements) == repr(document.statements)


@given(files())
def test_an_unreadable_line_says_a_column_of_its_own_and_what_was_expected(data: bytes) -> None:
    document = read_document("a.dump", data)
    for statement, unread in document.unread:
        assert 1 <= unread.column <= len(document.text.lines[statement.line - 1]) + 1
        assert unread.expected


def test_a_place_without_a_span_is_the_first_line() -> None:
    statement = read_document("a.dump", b"# one\nlow = 3.5\n").statements[1]
    assert str(statement.place("a.dump")) == "a.dump:2"


def test_a_place_reads_file_line_column() -> None:
    statement = only(read_document("a.dump", b"  low = 3.5  # a cell\n"))
    assert isinstance(statement.shape, Assignment)
    place = statement.place("a.dump", statement.shape.value)
    assert (str(place), place.end) == ("a.dump:1:9", 12)


def test_prompt_and_lead_word_are_passed_over_and_counted_in_columns() -> None:
    document = read_document(
        "a.dump", b"sedge> put low = 3.5\n", Look(prompts=("sedge>",), lead="put")
    )
    statement = only(document)
    assert repr(statement.shape) == repr(Assignment(Span("low", 0), "=", Span("3.5", 6)))
    assert isinstance(statement.shape, Assignment)
    assert statement.place("a.dump", statement.shape.value) == Place("a.dump", 1, 18, 21)


def test_a_lead_word_is_left_alone_inside_a_longer_word() -> None:
    statement = only(read_document("a.dump", b"putty = 3\n", Look(lead="put")))
    assert repr(statement.shape) == repr(Assignment(Span("putty", 0), "=", Span("3", 8)))


def test_without_a_lead_word_in_the_look_it_is_part_of_the_key() -> None:
    statement = only(read_document("a.dump", b"put low = 3\n"))
    assert repr(statement.shape) == repr(Assignment(Span("put low", 0), "=", Span("3", 10)))


def test_a_bare_prompt_is_a_blank_line() -> None:
    document = read_document("a.dump", b"sedge>\nsedge> tell all\n", Look(prompts=("sedge>",)))
    assert [type(statement.shape).__name__ for statement in document.statements] == [
        "Blank",
        "Directive",
    ]


def test_lines_that_begin_with_none_of_the_starts_go_on_with_the_one_above() -> None:
    data = b"pack low\n  3.4\n# of a cell\n  V\n\n[radio]\nlink\n  crsf\n"
    document = read_document("a.dump", data, Look(starts=("*",)))
    assert document.to_bytes() == data
    said = [text for text in document.texts if text.strip()]
    # a remark, a blank line and a section's head end it: nothing else is taken up
    assert said == ["pack low 3.4", "# of a cell", "  V", "[radio]", "link crsf"]
    first = document.statements[0]
    assert first.at(len("pack low ")) == (1, 2)


def test_continued_lines_make_one_statement() -> None:
    data = b"low = 1, \\\n    2, \\\n  3\nx = 4\n"
    document = read_document("a.dump", data, Look(continues="\\"))
    first, second = document.statements
    assert repr(first.shape) == repr(Assignment(Span("low", 0), "=", Span("1, 2, 3", 6)))
    assert (first.line, second.line) == (1, 4)


def test_a_part_of_a_continued_line_is_placed_where_it_stands() -> None:
    document = read_document("a.dump", b"link 2 \\\n    8 \\\n  576\n", Look(continues="\\"))
    statement = only(document)
    assert isinstance(statement.shape, Directive)
    places = [statement.place("a.dump", word) for word in words(statement.shape.body)]
    assert [str(place) for place in places] == [
        "a.dump:1:1",
        "a.dump:1:6",
        "a.dump:2:5",
        "a.dump:3:3",
    ]
    assert [text_at(document, place) for place in places] == ["link", "2", "8", "576"]


def test_a_continuation_at_the_end_of_the_file_still_makes_a_statement() -> None:
    statement = only(read_document("a.dump", b"low = 3 \\", Look(continues="\\")))
    assert repr(statement.shape) == repr(Assignment(Span("low", 0), "=", Span("3", 6)))


def test_the_unread_statements_are_listed_and_reading_goes_on() -> None:
    document = read_document("a.dump", b'low = "3\n\x00\n[pack\n# fine\n')
    assert [(s.line, u.column) for s, u in document.unread] == [(1, 7), (2, 1), (3, 6)]
    assert repr(document.statements[3].shape) == repr(Comment("#", Span("fine", 2)))


@pytest.mark.parametrize("data", [b"", b"\xef\xbb\xbf"])
def test_an_empty_file_has_no_statements(data: bytes) -> None:
    document = read_document("a.dump", data)
    assert document.statements == ()
    assert document.to_bytes() == data


def test_ten_megabytes_on_one_line_are_kept_and_said_without_parsing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_parser() -> None:
        raise AssertionError("a line beyond the limit went to the parser")

    monkeypatch.setattr("cfgaudit.reading.statements._reading_lines", no_parser)
    data = b"a" * 10_000_000
    document = read_document("a.dump", data)
    wanted = "a line of at most 10,000 characters (this one has 10,000,000)"
    assert repr(only(document).shape) == repr(Unread(10_001, wanted))
    assert document.to_bytes() == data


CONTINUED = st.lists(
    st.sampled_from(
        ["a = 1", "a = 1 \\", "  2, \\", "sedge> b 2 \\", "sedge> \\", "\\", "", "# c \\"]
    )
)


@given(lines=CONTINUED)
def test_every_statement_has_the_shape_of_its_text_and_no_line_is_in_two(lines: list[str]) -> None:
    look = Look(prompts=("sedge>",), continues="\\")
    document = read_document("a.dump", "\n".join(lines).encode(), look)
    shapes = [repr(statement.shape) for statement in document.statements]
    assert shapes == [repr(parse_line(text)) for text in document.texts]
    joined = [
        line
        for statement in document.statements
        for line in ([joint[1] for joint in statement.joints] or [statement.first])
    ]
    assert joined == list(range(len(document.text.lines)))

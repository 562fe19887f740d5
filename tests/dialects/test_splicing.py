"""Texts reworked line by line: what is not named stays as it is, and every change can be undone."""

from time import process_time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.dialects.patch import Hunk, Rework, Splice, hunks, patched, reworked
from cfgaudit.reading.text import read_text
from tests.strategies_text import undone

TEXTS = st.text(st.sampled_from("ab é\r\n"), max_size=40)


def done(text: str, rework: Rework) -> str:
    return reworked(read_text(text.encode()), rework).to_bytes().decode()


def test_a_splice_replaces_its_stretch_and_nothing_else() -> None:
    rework = Rework((Splice(1, 4, 7, "35"), Splice(1, 0, 1, "L")))
    assert done("one\r\nlow=350 # sag\r\nend", rework) == "one\r\nLow=35 # sag\r\nend"


def test_new_lines_get_the_line_end_that_most_lines_have() -> None:
    assert done("a\r\nb\r\nc\n", Rework(below=0, lines=("x", "y"))) == "a\r\nx\r\ny\r\nb\r\nc\n"


def test_a_file_without_a_last_line_end_has_none_after_a_line_was_added() -> None:
    assert done("a\nb", Rework(below=1, lines=("c",))) == "a\nb\nc"


def test_a_file_without_a_last_line_end_has_none_after_its_last_line_went() -> None:
    assert done("a\nb\nc", Rework(out=frozenset({2}))) == "a\nb"


def test_lines_below_nothing_come_first() -> None:
    assert done("a\n", Rework(below=-1, lines=("x",))) == "x\na\n"


@given(TEXTS, TEXTS)
def test_hunks_make_the_new_bytes_and_undone_the_old_ones(old: str, new: str) -> None:
    made = hunks(read_text(old.encode()), read_text(new.encode()))
    assert patched(old.encode(), "utf-8", b"", made) == new.encode()
    assert patched(new.encode(), "utf-8", b"", undone(made)) == old.encode()
    assert undone(undone(made)) == made


def test_a_line_that_moved_does_not_make_one_change_of_the_whole_text() -> None:
    lines = [f"line {number}" for number in range(50)]
    moved = [*lines[1:30], lines[0], *lines[30:]]
    old, new = ("\n".join(text) + "\n" for text in (lines, moved))
    made = hunks(read_text(old.encode()), read_text(new.encode()))
    assert [(hunk.line, hunk.old, hunk.new) for hunk in made] == [
        (0, ("line 0\n",), ()),
        (30, (), ("line 0\n",)),
    ]


def test_a_section_put_in_among_its_like_begins_with_its_own_head() -> None:
    old = "[a]\nx = 1\n\n[c]\nx = 1\n\n[d]\n"
    new = "[a]\nx = 1\n\n[b]\nx = 1\n\n[c]\nx = 1\n\n[d]\n"
    made = hunks(read_text(old.encode()), read_text(new.encode()))
    assert made == (Hunk(3, (), ("[b]\n", "x = 1\n", "\n")),)


def test_a_long_text_of_lines_that_are_alike_is_compared_soon() -> None:
    block = "[lost channel {}]\ngives = 1000\n\n"
    old = "".join(block.format(number) for number in range(6_000))
    new = old.replace("channel 3000]\ngives = 1000", "channel 3000]\ngives = 900")
    start = process_time()
    made = hunks(read_text(old.encode()), read_text(new.encode()))
    assert process_time() - start < 5  # by the square of its lines it took 20 s and more
    assert made == (Hunk(9_001, ("gives = 1000\n",), ("gives = 900\n",)),)


def test_a_hunk_whose_lines_are_others_is_refused() -> None:
    with pytest.raises(ValueError, match="from 2 on are others"):
        patched(b"a\nb\n", "utf-8", b"", (Hunk(1, ("c\n",), ()),))


def test_a_byte_order_mark_and_a_wide_encoding_are_kept() -> None:
    old, new = "low = 1\r\n", "low = 2\r\n"
    made = hunks(read_text(old.encode()), read_text(new.encode()))
    data = b"\xff\xfe" + old.encode("utf-16-le")
    assert patched(data, "utf-16-le", b"\xff\xfe", made) == b"\xff\xfe" + new.encode("utf-16-le")

"""TOML is read within bounds, and what is added leaves every other byte alone."""

import tomllib
from time import process_time

import pytest

from cfgaudit.reading.toml import CannotAdd, Page, TomlError, key_text, parsed, quoted


@pytest.mark.parametrize(
    "text",
    [
        "a" + ".a" * 20_000 + " = 1",
        "[" + "a." * 20_000 + "a]\n",
        "[[" + " a ." * 20_000 + "a]]\n",
        "x = { " + "'a'." * 20_000 + "b = 1 }",
        "x = " + "[" * 20_000 + "]" * 20_000,
        "x = " + "9" * 20_000,
        "x = 1\n" * 400_000,
    ],
    ids=["key", "head", "list head", "inline", "brackets", "digits", "size"],
)
def test_a_small_text_that_would_hold_the_machine_up_is_refused_at_once(text: str) -> None:
    began = process_time()
    with pytest.raises(TomlError):
        parsed(text)
    assert process_time() - began < 20  # it took minutes; the machine may be busy


def test_what_a_sheet_holds_is_far_within_bounds() -> None:
    deep = ".".join("a" * 30)
    assert parsed(f"{deep} = 1\n")["a"]
    assert parsed('says = "' + "one. two. " * 500 + '"\n')["says"].startswith("one. two.")


def test_a_fault_is_told_with_its_place() -> None:
    with pytest.raises(TomlError, match="is no TOML") as caught:
        parsed("a = 1\nb = = 2\n")
    assert (caught.value.line, caught.value.column) == (2, 5)


TEXT = "[a]\nx = 1\n\n# about b, and stays above its head\n[b]\ny = 2  # why\n"


def test_a_new_key_comes_behind_its_table_s_last_and_before_the_next_one_s_comment() -> None:
    page = Page(TEXT)
    page.put_keys(("a",), ["z = 3"])
    assert page.text() == TEXT.replace("x = 1\n", "x = 1\nz = 3\n")


def test_a_table_that_is_not_there_comes_last_with_a_head() -> None:
    page = Page(TEXT)
    page.put_keys(("c d", "e"), ["z = 3"])
    assert page.text() == TEXT + '\n["c d".e]\nz = 3\n'


def test_new_lines_end_as_the_file_s_own_do() -> None:
    page = Page(TEXT.replace("\n", "\r\n"))
    page.put_keys(("b",), ["z = 3"])
    page.put_behind(["[c]"])
    assert page.text() == (TEXT + "z = 3\n\n[c]\n").replace("\n", "\r\n")


def test_a_list_gets_an_item_and_keeps_its_comments() -> None:
    page = Page('lines = [\n  "a",  # why a\n  "b"  # why b\n]\n')
    page.put_item("lines", '"c"')
    assert page.text() == 'lines = [\n  "a",  # why a\n  "b",  # why b\n  "c",\n]\n'


def test_a_table_inside_of_one_in_braces_goes_into_the_braces() -> None:
    page = Page("words = { a = { b = 1 } }\n")
    page.put_keys(("words", "c"), ["d = 2"])
    assert tomllib.loads(page.text()) == {"words": {"a": {"b": 1}, "c": {"d": 2}}}


def test_a_table_without_a_head_is_left_alone_and_the_line_is_told() -> None:
    with pytest.raises(CannotAdd, match=r"a must have a head of its own, \[a\]") as caught:
        Page("x = 0\na.b = 1\n").put_keys(("a",), ["c = 2"])
    assert caught.value.line == 2


@pytest.mark.parametrize(
    "text", ["plain", 'a "b" \\ c', "line\nend\t\x1b[2J\u202e", "käthe \U0001f6f8"]
)
def test_a_quoted_text_reads_back_as_itself_and_holds_nothing_that_acts(text: str) -> None:
    spelled = quoted(text)
    assert tomllib.loads(f"{key_text(text)} = {spelled}") == {text: text}
    assert spelled.isprintable()

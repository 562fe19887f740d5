"""The line of a key in a TOML text, held against tomllib reading the text line by line."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cfgaudit.reading.toml import Key, line_of, places

ROOT = Path(__file__).resolve().parents[2]
_TOPS = ("cfgaudit", "corpus", "tests")
_FOUND = sorted(file for top in _TOPS for file in (ROOT / top).rglob("*.toml"))
FILES = [  # the rules' fixtures are many and alike, so of those each third
    *(file for n, file in enumerate(_FOUND) if n % 3 == 0 or "rules" not in file.parts),
    ROOT / "pyproject.toml",
]


def leaves(node: object, path: Key = ()) -> Iterator[Key]:
    """Every path in what tomllib read, but for the items of arrays that are no tables."""
    if isinstance(node, dict):
        if path:
            yield path
        for key, below in node.items():
            yield from leaves(below, (*path, key))
    elif isinstance(node, list) and node and all(isinstance(item, dict) for item in node):
        yield path
        for index, item in enumerate(node):
            yield from leaves(item, (*path, index))
    else:
        yield path


def read(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def statements_of(text: str) -> dict[Key, tuple[int, int]]:
    """Where each path comes in: the first and the last line of the statement that brings it.

    tomllib reads the first n lines, for every n. Where it can't, a statement is unfinished; so
    a statement begins on the line behind the last text that could be read.
    """
    found: dict[Key, tuple[int, int]] = {}
    begun = 1
    lines = text.split("\n")
    for count in range(1, len(lines) + 1):
        data = read("\n".join(lines[:count]))
        if data is None:
            continue
        for path in leaves(data):
            found.setdefault(path, (begun, count))
        begun = count + 1
    return found


def agree(text: str) -> None:
    """Every path that tomllib gives stands in the statement in which tomllib first sees it.

    A key stands on the statement's first line; an array's item and what an inline table holds,
    somewhere in it. A table's own header may come later than the first mention of the table.
    """
    told = places(text)
    lines = text.split("\n")
    found = statements_of(text)
    assert {path for path in told if not isinstance(path[-1], int)} <= set(found)
    for path, (first, last) in found.items():
        line = line_of(told, path)
        if line > last:
            assert lines[line - 1].startswith("["), path
        elif path in told and isinstance(path[-1], str):
            assert (path, line) == (path, first)
        else:
            assert first <= line <= last, path


_MOST = 250  # lines; tomllib reads them all again for each, and a longer list is more of the same


def beginning(text: str) -> str:
    """The text, or of a long one as many of its tables as make so many lines."""
    lines = text.split("\n")
    heads = [number for number, line in enumerate(lines[:_MOST]) if line.startswith("[")]
    return "\n".join(lines[: heads[-1]]) if len(lines) > _MOST and heads else text


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(ROOT)))
def test_every_key_of_our_own_files_is_found_where_it_stands(file: Path) -> None:
    agree(beginning(file.read_text(encoding="utf-8")))


KEYS = st.sampled_from(
    ["a", "b", "c-1", "_d", "a.b", "a . c", "b.a.c", '"a.b"', "'c#d'", '"\\u0061"', '"q\\"]"', '""']
)
STRINGS = [
    '"x"', "'y'", '"# no remark"', '"a = 1\\n[b]"', "'\\'", '"\\""', "''", '""',
    '"""\n[no]\nkey = 1\n"""', '""""two""""', '"""a ""b"" \\""" c"""', '"""\\\n  x"""',
    "'''\n# text\n'''", "''''q'''''", "''''''", '""""""',
]  # fmt: skip
SIMPLE = ["1", "-2.5e3", "true", "1979-05-27", "1979-05-27 07:32:00", "[]", "{}", *STRINGS]
scalars = st.sampled_from(SIMPLE)
ones = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.tuples(st.lists(inner, max_size=3), st.sampled_from([", ", ",\n  ", ", # ]\n"])).map(
            lambda made: "[" + made[1].join(made[0]) + "]"
        ),
        st.lists(st.tuples(st.sampled_from(["x", "y.z", '"w"']), inner), max_size=3).map(
            lambda pairs: "{ " + ", ".join(f"{key} = {value}" for key, value in pairs) + " }"
        ),
    ),
    max_leaves=5,
)
statements = st.one_of(
    st.tuples(KEYS, ones, st.sampled_from(["", " # a = 1", "\t"])).map(
        lambda made: f"{made[0]} = {made[1]}{made[2]}"
    ),
    KEYS.map(lambda key: f"[{key}]"),
    KEYS.map(lambda key: f"[[ {key} ]] # array"),
    st.sampled_from(["", "# [a]", '# """', "  ", "   # x = ["]),
)


@given(st.lists(statements, max_size=10), st.sampled_from(["", "\n"]))
def test_any_text_that_can_be_read_agrees(parts: list[str], last: str) -> None:
    kept: list[str] = []
    for part in parts:  # what would clash with what stands above is left out
        if read("\n".join([*kept, part])) is not None:
            kept.append(part)
    assume(kept)
    agree("\n".join(kept) + last)


CASES: list[tuple[str, Key, int]] = [
    ("x = 1", ("x",), 1),
    ("\n\n# x = 0\nx = 1", ("x",), 4),
    ("a.b.c = 1\na.b.d = 2", ("a", "b", "d"), 2),
    ("a.b.c = 1\na.b.d = 2", ("a", "b"), 1),
    ('[limits]\n"esc.idle_least" = "3 %"', ("limits", "esc.idle_least"), 2),
    ('[limits]\nesc."idle_least" = "3 %"', ("limits", "esc", "idle_least"), 2),
    ('"\\u0078" = 1', ("x",), 1),
    ("[[limit]]\na = 1\n[[limit]]\n\na = 2", ("limit", 1, "a"), 5),
    ("[[limit]]\na = 1\n[[limit]]\n\na = 2", ("limit", 1), 3),
    ("[[limit]]\na = 1\n[[limit]]\n\na = 2", ("limit",), 1),
    ("[[a]]\n[[a.b]]\n[[a.b]]\nx = 1\n[[a]]\n[[a.b]]\nx = 2", ("a", 1, "b", 0, "x"), 7),
    ("[[a]]\n[[a.b]]\n[[a.b]]\nx = 1\n[[a]]\n[[a.b]]\nx = 2", ("a", 0, "b", 1, "x"), 4),
    ("[[a]]\n[a.when]\nx = 1\n[[a]]\n[a.when]\nx = 2", ("a", 1, "when", "x"), 6),
    ("[a.b]\nx = 1\n[a]\ny = 2", ("a",), 3),
    ('when = { setting = "x",\tequals = 1 }\nz = 2', ("when", "equals"), 1),
    ('t = """\n[no]\nx = 1\n"""\nx = 2', ("x",), 5),
    ('t = """a""""\nx = 2', ("x",), 2),
    ("t = '''\n\\'''\nx = 2", ("x",), 3),
    ("l = [\n  1, # ] x = 0\n\n  [2,\n 3],\n]\nx = 2", ("l", 0), 2),
    ("l = [\n  1, # ] x = 0\n\n  [2,\n 3],\n]\nx = 2", ("l", 1, 1), 5),
    ("l = [\n  1, # ] x = 0\n\n  [2,\n 3],\n]\nx = 2", ("x",), 7),
    ("l = [\n  { a = 1 },\n  { a = 2 },\n]", ("l", 1, "a"), 3),
    ("\r\n[a]\r\nx = 1\r\ny = 2\r\n", ("a", "y"), 4),
    ("[ a . 'b c' ]\nx = 1", ("a", "b c", "x"), 2),
    ("x = 1", ("gone", "y"), 1),
    ("", (), 1),
]


@pytest.mark.parametrize(("text", "path", "line"), CASES, ids=[repr(case[0]) for case in CASES])
def test_a_key_has_the_line_counted_by_hand(text: str, path: Key, line: int) -> None:
    tomllib.loads(text)
    assert line_of(places(text), path) == line

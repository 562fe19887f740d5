"""Saved parsers: they read as one made of the grammar does, and none is loaded from a stranger."""

import os
import pickle
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Callable, Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from lark import Lark
from lark.exceptions import UnexpectedInput

from cfgaudit.dialects.template_language import TEMPLATES
from cfgaudit.reading import grammars
from cfgaudit.reading.grammars import Grammar, cache_folder, owned, parser, saved
from cfgaudit.reading.statements import parse_value
from cfgaudit.reading.transformers import LINES, VALUES
from tests.strategies_text import lines

ROOT = Path(__file__).parents[2]
CORPUS = ROOT / "corpus"
SOME_VALUES = (
    "3.5 V", "0x1F", "5: 1700..2100 us, 8: 1..2", "notch 200 Hz q 3.5", '"a, b"', "-1e3", "12:30",
    "57.6kBd", "1..", "..2", ",", "", "5:", '"', "a, ,b", "1.5.2", "90°/s",
)  # fmt: skip


@cache
def built(grammar: Grammar) -> Lark:
    return grammars.built(grammar)


@cache
def loaded(grammar: Grammar) -> Lark:
    """The parser of a grammar, saved and loaded again."""
    file = BytesIO()
    built(grammar).save(file)
    file.seek(0)
    return Lark.load(file)


def read(made: Lark, text: str, start: str = "start") -> str:
    """What was read, else where and why reading stopped."""
    try:
        return repr(made.parse(text, start))
    except UnexpectedInput as error:
        return f"{type(error)} {error.pos_in_stream}"


@pytest.mark.parametrize("dump", sorted(CORPUS.glob("*.dump")), ids=lambda path: path.name)
def test_every_line_of_the_corpus_is_read_alike_by_a_saved_parser_and_a_built_one(
    dump: Path,
) -> None:
    for line in dict.fromkeys(dump.read_text(encoding="utf-8").splitlines()):
        assert read(loaded(LINES), line) == read(built(LINES), line)


@given(lines())
@example('a = "x')
@example("[pack")
@example("a\x00b")
def test_any_line_is_read_alike_by_a_saved_parser_and_a_built_one(line: str) -> None:
    assert read(loaded(LINES), line) == read(built(LINES), line)


@pytest.mark.parametrize("text", SOME_VALUES)
def test_values_are_read_alike_by_a_saved_parser_and_a_built_one(text: str) -> None:
    assert read(loaded(VALUES), text) == read(built(VALUES), text)


@given(st.text(st.sampled_from("015.:, \"'axeVuµ°/+-\t"), max_size=24))
def test_any_value_is_read_alike_by_a_saved_parser_and_a_built_one(text: str) -> None:
    assert read(loaded(VALUES), text) == read(built(VALUES), text)


def test_a_dialect_s_lines_are_read_alike_by_a_saved_parser_and_a_built_one() -> None:
    data = tomllib.loads((CORPUS / "dialects" / "osier.toml").read_text(encoding="utf-8"))
    lines = [line for entry in data["lines"] for line in entry["map"]]
    assert len(lines) > 50
    for line in (*lines, "low = {battery.warn_cell", "port [{ID}", "}"):
        assert read(loaded(TEMPLATES), line, "line") == read(built(TEMPLATES), line, "line")
    for spec in ("0.01 V", "list words turn", "25 us + 900 us", "words", "1 2", "from x"):
        assert read(loaded(TEMPLATES), spec, "spec") == read(built(TEMPLATES), spec, "spec")


@pytest.mark.parametrize("text", ["0", "007", "3.5", "57600", "0.25", "12.0", "9" * 40])
def test_plain_numbers_are_what_the_grammar_makes_of_them(text: str) -> None:
    assert parse_value(text) == built(VALUES).parse(text)


# Where saved parsers are kept. The folders of a test lie below one that all may write to, so what
# leads to them is taken for sound where a test is about something else.


def no_building(grammar: Grammar) -> Lark:
    raise AssertionError("a saved parser was there to load")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A cache folder that may be used, and is empty."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(grammars, "_private", lambda *_: True)
    umask = os.umask(0o022)
    yield tmp_path / "cache" / "cfgaudit"
    os.umask(umask)


def test_a_parser_is_saved_at_first_use_and_loaded_after(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert read(parser(VALUES), "3 V") == read(built(VALUES), "3 V")
    (file,) = folder.iterdir()
    assert file.name == saved(VALUES)[0]
    monkeypatch.setattr(grammars, "built", no_building)
    assert read(parser(VALUES), "3 V") == read(built(VALUES), "3 V")
    with pytest.raises(AssertionError, match="to load"):
        parser(LINES)  # nothing of it was saved


def test_no_half_written_file_is_left_where_a_file_cannot_be_put_in_place(folder: Path) -> None:
    (folder / saved(VALUES)[0]).mkdir(parents=True)
    assert read(parser(VALUES), "3 V") == read(built(VALUES), "3 V")
    assert [path.is_dir() for path in folder.iterdir()] == [True]


def test_a_folder_that_cannot_be_made_costs_time_and_nothing_else(folder: Path) -> None:
    folder.parent.write_text("a file", encoding="utf-8")
    assert read(parser(VALUES), "3 V") == read(built(VALUES), "3 V")


class Bait:
    """A pickle that makes a folder when it is loaded."""

    def __init__(self, trace: Path) -> None:
        self.trace = trace

    def __reduce__(self) -> tuple[Callable[[str], None], tuple[str]]:
        return os.mkdir, (str(self.trace),)


def baited(folder: Path, change: Callable[[bytes], bytes] = lambda key: key) -> Path:
    """Put such a pickle where the parser of values is looked for; the trace that it would leave."""
    name, body = saved(VALUES)
    key = body[: body.index(b"\0") + 1]
    folder.mkdir(parents=True, exist_ok=True)
    trace = folder / "trace"
    (folder / name).write_bytes(change(key) + pickle.dumps(Bait(trace)))
    return trace


def test_the_bait_of_the_following_tests_is_taken_where_it_may_be(folder: Path) -> None:
    trace = baited(folder)
    parser(VALUES)
    assert trace.exists()


@pytest.mark.parametrize(
    "change",
    [
        lambda key: key.replace(b"lark ", b"lark 0"),
        lambda key: key.replace(b"python ", b"python 4"),
        lambda key: key.replace(b"start:", b"start :"),
        lambda key: key.replace(b"'contextual'", b"'basic'"),
        lambda key: b"",
    ],
    ids=["another lark", "another Python", "another grammar", "other options", "no key"],
)
def test_a_parser_with_another_key_is_not_loaded(
    folder: Path, change: Callable[[bytes], bytes]
) -> None:
    trace = baited(folder, change)
    assert read(parser(VALUES), "3 V") == read(built(VALUES), "3 V")
    assert not trace.exists()


@pytest.mark.parametrize("cut", [1, 1000])
def test_a_damaged_file_is_made_anew(folder: Path, cut: int) -> None:
    name, body = saved(VALUES)
    folder.mkdir(parents=True)
    (folder / name).write_bytes(body[:-cut])
    assert read(parser(VALUES), "3 V") == read(built(VALUES), "3 V")
    found = (folder / name).read_bytes()
    assert found.startswith(body[: body.index(b"\0")])
    assert Lark.load(BytesIO(found[body.index(b"\0") + 1 :])) is not None


@pytest.mark.parametrize("mode", [0o664, 0o646])
def test_a_file_that_others_can_write_to_is_not_loaded(folder: Path, mode: int) -> None:
    trace = baited(folder)
    (folder / saved(VALUES)[0]).chmod(mode)
    parser(VALUES)
    assert not trace.exists()


def test_another_user_s_file_is_not_loaded(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trace = baited(folder)
    state = os.stat_result(((folder / saved(VALUES)[0]).stat().st_mode, 0, 0, 1, 4711, *[0] * 5))
    monkeypatch.setattr(os, "fstat", lambda _: state)
    parser(VALUES)
    assert not trace.exists()


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home in which nothing leads through a folder that others can write to."""
    sound = os.stat_result((0o40755, 0, 0, 1, os.geteuid(), *[0] * 5))
    real = os.stat

    def stat(path: Any, **how: Any) -> os.stat_result:
        return real(path, **how) if tmp_path in (path, *Path(path).parents) else sound

    monkeypatch.setattr(os, "stat", stat)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    tmp_path.chmod(0o700)
    return tmp_path


def test_the_cache_is_in_the_user_s_cache_folder(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert cache_folder() == home / ".cache" / "cfgaudit"
    monkeypatch.setattr(sys, "platform", "darwin")
    assert cache_folder() == home / "Library" / "Caches" / "cfgaudit"
    monkeypatch.setenv("XDG_CACHE_HOME", str(home / "mine"))
    assert cache_folder() == home / "mine" / "cfgaudit"


def test_a_cache_folder_that_is_named_from_where_we_stand_is_none(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", "mine")
    assert cache_folder() == home / ".cache" / "cfgaudit"


@pytest.mark.parametrize("where", [".", ".cache", ".cache/cfgaudit"])
def test_no_cache_is_read_in_the_folder_we_stand_in(
    home: Path, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (home / where).mkdir(parents=True, exist_ok=True)
    monkeypatch.chdir(home / where)
    assert cache_folder() is None


def test_no_cache_is_read_through_a_link_into_the_folder_we_stand_in(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (home / "stranger").mkdir()
    (home / ".cache").symlink_to(home / "stranger")
    assert cache_folder() is not None
    monkeypatch.chdir(home / "stranger")
    assert cache_folder() is None


@pytest.mark.parametrize("others", [0o770, 0o707, 0o1777])
@pytest.mark.parametrize("where", [".", ".cache", ".cache/cfgaudit"])
def test_no_cache_is_read_below_a_folder_that_others_can_write_to(
    home: Path, where: str, others: int
) -> None:
    (home / ".cache" / "cfgaudit").mkdir(mode=0o755, parents=True)
    assert cache_folder() is not None
    (home / where).chmod(others)
    assert cache_folder() is None


@pytest.mark.parametrize(
    ("mode", "owner", "sound"),
    [
        (0o40700, 1000, True),
        (0o40755, 1000, True),
        (0o40755, 0, True),
        (0o40755, 1001, False),
        (0o100600, 1001, False),
        (0o40775, 1000, False),
        (0o40757, 1000, False),
        (0o41777, 0, False),
    ],
)
def test_what_is_another_s_or_others_can_write_to_is_not_the_user_s_own(
    mode: int, owner: int, sound: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    assert owned(os.stat_result((mode, 0, 0, 1, owner, *[0] * 5))) == sound


def test_no_cache_is_kept_where_nobody_can_tell_whose_a_file_is(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delattr(os, "geteuid")
    assert cache_folder() is None


# In the folder of an unpacked wheel: nothing may be built, nothing is looked for in a cache.
_OF_THE_WHEEL = """
import sys
sys.path.insert(0, sys.argv[1])
import cfgaudit.reading.grammars as grammars
assert grammars.__file__.startswith(sys.argv[1]), grammars.__file__
grammars.built = grammars.cache_folder = None
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.statements import parse_value
from cfgaudit.dialects.template import compile_template
from cfgaudit.reading.shapes import Look
spec = compile_template("low = {battery.warn_cell: 0.01 V}", Look()).holders[0].spec
print(parse_line("[pack]"), parse_value("3 V")[0].parts[0].unit, spec.scale)
"""


def test_the_wheel_brings_its_parsers_along(tmp_path: Path) -> None:
    build = (sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(tmp_path))
    subprocess.run((*build, str(ROOT)), check=True, capture_output=True, timeout=300)
    (wheel,) = tmp_path.glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(tmp_path / "unpacked")
    done = subprocess.run(
        (sys.executable, "-c", _OF_THE_WHEEL, str(tmp_path / "unpacked")),
        check=False,
        capture_output=True,
        text=True,
        timeout=900,
    )
    assert done.stdout.strip() == "Section(name=Span(text='pack', start=1)) V 1/100", done

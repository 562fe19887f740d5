"""Text from a dump is data: shown escaped, in every command and format, never sent."""

import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote
from xml.etree import ElementTree

import click
import pytest

from cfgaudit.cli import group
from tests.cli.calling import CORPUS, call
from tests.cli.repository import new_repo
from tests.cli.sweep import EVERY_COMMAND

# what stands in the dump, and how it must be shown; None where the line can't be read at all
NAMES = {
    "override": ("Goos\u202eredna", r"Goos\u202eredna"),
    "isolate": ("Goos\u2066ander", r"Goos\u2066ander"),
    "escape": ("Goos\x1b[31mander", None),
    "one-byte escape": ("Goos\x9b31mander", r"Goos\x9b31mander"),
    "bell": ("Goos\x07ander", None),
    "line separator": ("Goos\u2028ander", r"Goos\u2028ander"),
    "next line": ("Goos\x85ander", r"Goos\x85ander"),
    "tag": ("Goos\U000e0041ander", r"Goos\U000e0041ander"),
    "newline": ("Goos\nander", None),
    "carriage return": ("Goos\rander", None),
    "markup": ("[red]x[/red]", "[red]x[/red]"),
    "closing markup": ("x[/]:warning:", "x[/]:warning:"),
}
COLOURS = ("0", "1", "2", "31", "32", "1;31", "1;33", "1;36")  # how our styles are sent


@pytest.fixture(params=list(NAMES))
def case(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, str | None]:
    """A folder with two dumps, one of a hostile name, key and value; and how they are shown."""
    name, shown = NAMES[request.param]
    (tmp_path / "a.cfg").write_text('[craft]\nname = "Dipper"\n', encoding="utf-8")
    known = "[battery]\ncells = 4\nwarn_cell = 3.5 V\nempty_cell = 3.3 V\n"
    text = f'{known}[craft]\nname = "{name}"\nodd_{name} = 1\nodd_key = "{name}"\n'
    (tmp_path / "b.cfg").write_text(text, encoding="utf-8", newline="")
    return tmp_path, shown


CALLS = [
    ["check", "b.cfg"],
    ["show", "b.cfg"],
    ["diff", "a.cfg", "b.cfg", "--everything"],
    ["diff", "b.cfg", "a.cfg", "--everything"],
    ["compare", "a.cfg", "b.cfg", "--everything"],
]
WAYS = [["--color", "always"], ["--color", "never"], ["--format", "json"]]
EVERY = [[*c, *way] for c in CALLS for way in WAYS] + [["plain", "b.cfg"]]


@pytest.mark.parametrize("arguments", EVERY, ids=" ".join)
def test_a_hostile_name_is_shown_escaped(
    monkeypatch: pytest.MonkeyPatch, case: tuple[Path, str | None], arguments: list[str]
) -> None:
    folder, shown = case
    answer = call(monkeypatch, arguments, cwd=folder)
    assert answer.status in (0, 1, 2)
    bare = _without_our_colours(answer.out) if "always" in arguments else answer.out
    assert _unprintable(bare) == []
    assert _unprintable(answer.err) == []
    if shown is None or arguments[:1] + arguments[2:] == ["check", "--format", "json"]:
        return  # the one can't be read, the other does not tell the name
    if "json" in arguments:
        name = (folder / "b.cfg").read_bytes().decode("utf-8").split('"')[1]
        assert any(name in text for text in _texts(json.loads(answer.out)))
    else:
        assert shown in bare


@pytest.mark.parametrize("command", ["check", "show"])
def test_a_hostile_file_name_is_shown_escaped(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, command: str
) -> None:
    name = "a\x1b[31m\nb\u202e[red].cfg"
    (tmp_path / name).write_text("[battery]\ncells = 4\n", encoding="utf-8")
    for way in WAYS:
        out = call(monkeypatch, [command, name, *way], cwd=tmp_path).out
        bare = _without_our_colours(out) if "always" in way else out
        assert _unprintable(bare) == []
        if "json" not in way:
            assert r"a\x1b[31m\x0ab\u202e[red].cfg" in bare


REVIEW = [
    *([*CALLS[at], "--format", form] for at in (0, 2, 3)
      for form in ("sarif", "junit", "github", "markdown")),
    *([*CALLS[at], "--format", "json-patch"] for at in (2, 3)),
    [*CALLS[0], "--unchecked", "--format", "markdown"],
]  # fmt: skip


@pytest.mark.parametrize("arguments", REVIEW, ids=" ".join)
def test_a_hostile_name_is_shown_escaped_in_a_report_for_review(
    monkeypatch: pytest.MonkeyPatch, case: tuple[Path, str | None], arguments: list[str]
) -> None:
    folder, shown = case
    answer = call(monkeypatch, arguments, cwd=folder)
    assert answer.status in (0, 1, 2)
    assert _unprintable(answer.out) == []
    if "sarif" in arguments:  # what a viewer shows is what JSON's own escapes stand for
        run = json.loads(answer.out)["runs"][0]
        run.pop("newlineSequences")
        assert _unprintable("".join(_texts(run))) == []
    if shown is not None and "markdown" in arguments and arguments[0] == "diff":
        bare = answer.out.replace("<!-- -->", "").replace("\\", "")
        assert shown.replace("\\", "") in bare


@pytest.mark.parametrize("form", ["sarif", "junit", "github", "markdown"])
def test_a_hostile_file_name_is_shown_escaped_in_a_report_for_review(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, form: str
) -> None:
    name = "a\x1b[31m\nb\u202e|<b>,:%[red].cfg"
    (tmp_path / name).write_text("[battery]\ncells = 4\n", encoding="utf-8")
    out = call(monkeypatch, ["check", name, "--format", form], cwd=tmp_path).out
    assert out
    assert _unprintable(out) == []
    assert "<b>" not in out or form in ("sarif", "github")  # where it is no markup
    if form == "sarif":
        run = json.loads(out)["runs"][0]
        assert unquote(run["artifacts"][0]["location"]["uri"]) == name
        run.pop("newlineSequences")
        assert _unprintable("".join(_texts(run))) == []


def _without_our_colours(text: str) -> str:
    for colour in COLOURS:
        text = text.replace(f"\x1b[{colour}m", "")
    return text


def _unprintable(text: str) -> list[str]:
    return [letter for letter in text if letter != "\n" and not letter.isprintable()]


def _texts(node: Any) -> list[str]:
    if isinstance(node, dict):
        return [*node, *(text for below in node.values() for text in _texts(below))]
    if isinstance(node, list):
        return [text for below in node for text in _texts(below)]
    return [node] if isinstance(node, str) else []


# a mark of each kind that acts, in every place of a dump where text can stand
PLACES = {
    "section": "[odd{}]\nx = 1\n",
    "raw key": "odd{} = 1\n",
    "raw value": "odd = a{}b\n",
    "index of a path": "ports.u{}.baud = 9600\n",
    "value that can't be": "battery.cells = 4{}\n",
    "unit": "battery.warn_cell = 3.5 V{}\n",
    "word of a list": "arming.waived = tilt{}\n",
    "remark": "# owner: a{}b\nx = 1\n",
    "row": "a,b{},c\n",
    "block": "begin a{}\nx = 1\n",
    "version": "firmware.version = 2.4{}\n",
}
MARKS = {
    "escape": "\x1b[2J",
    "command to the terminal": "\x1b]0;x\x07",
    "one-byte escape": "\x9b2J",
    "override": "\u202e",
    "line separator": "\u2028",
    "bell": "\x07",
    "markup": "[bold red]",
    "workflow command": "%0A::error::x",
    "elements": "<script>&amp;</script>",
}


def _forms(name: str) -> list[str]:
    """Every format that a command has, whichever there are."""
    command = group.get_command(click.Context(group), name)
    assert command is not None
    kinds = [p.type for p in command.params if p.name == "form"]
    return [form for kind in kinds if isinstance(kind, click.Choice) for form in kind.choices]


FORMS = [(name, form) for name in ("check", "show", "diff") for form in _forms(name)]


@pytest.mark.parametrize(("name", "form"), FORMS)
@pytest.mark.parametrize("mark", MARKS)
def test_no_place_of_a_dump_lets_a_mark_act_in_any_format(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, mark: str, name: str, form: str
) -> None:
    known = "[battery]\ncells = 4\nwarn_cell = 3.5 V\n[craft]\nname = a\n"
    (tmp_path / "a.cfg").write_text(known, encoding="utf-8")
    body = "".join(text.format(MARKS[mark]) for text in PLACES.values())
    (tmp_path / "b.cfg").write_text(known + body, encoding="utf-8", newline="")
    dumps = ["a.cfg", "b.cfg"] if name == "diff" else ["b.cfg"]
    answer = call(monkeypatch, [name, *dumps, "--format", form], cwd=tmp_path)
    assert answer.status in (0, 1, 2)
    assert _unprintable(answer.out) == []
    assert _unprintable(answer.err) == []
    if form in ("json", "sarif", "json-patch"):
        json.loads(answer.out)
    elif form == "junit":
        ElementTree.fromstring(answer.out)
    elif form == "markdown":
        assert "<script>" not in re.sub(r"(`+).*?\1", "", answer.out)
    elif form == "github":
        commands = [line for line in answer.out.splitlines() if line.startswith("::")]
        assert not [line for line in commands if line.startswith("::error::x")]
        assert all(line.count("\n") == 0 for line in commands)


HOSTILE = "a\n::error::x\x1b[31m\u202e"  # in the names of every file


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository whose files have names that would act, and a dump with such keys."""
    top = new_repo(tmp_path_factory.mktemp("named"), install=False).top
    for file in ("craft.dump", "other.dump"):
        body = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
        text = "".join(part.format(MARKS["workflow command"]) for part in PLACES.values())
        (top / f"{HOSTILE}{file}").write_text(text + body, encoding="utf-8", newline="")
    sheet = (CORPUS / "dipper.build.toml").read_bytes() + b"odd = 1\n"
    (top / f"{HOSTILE}dipper.build.toml").write_bytes(sheet)
    (top / "dialects" / f"{HOSTILE}sedge.toml").write_bytes(b"name = 1\n")
    return top


@pytest.mark.parametrize("arguments", EVERY_COMMAND, ids=" ".join)
def test_no_name_of_a_file_ends_a_line_of_any_output(
    monkeypatch: pytest.MonkeyPatch, named: Path, arguments: list[str]
) -> None:
    files = ("craft.dump", "other.dump", "dipper.build.toml", "base.json", "page.html")
    asked = [HOSTILE + word if word in files else word for word in arguments]
    asked = [word.replace("dialects/", f"dialects/{HOSTILE}") for word in asked]
    answer = call(monkeypatch, asked, cwd=named)
    for text in (answer.out, answer.err):
        assert [line for line in text.splitlines() if line.startswith("::error::x")] == []
    assert _unprintable(answer.err) == []
    assert _unprintable(answer.out) == [] or arguments[0] == "redact"
    assert "internal fault" not in answer.err


@pytest.mark.parametrize("arguments", EVERY_COMMAND, ids=" ".join)
def test_no_missing_file_ends_a_line_of_standard_error(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, arguments: list[str]
) -> None:
    asked = [HOSTILE + word if "." in word and len(word) > 1 else word for word in arguments]
    answer = call(monkeypatch, asked, cwd=tmp_path)
    assert [line for line in answer.err.splitlines() if line.startswith("::error::x")] == []
    assert _unprintable(answer.err) == []

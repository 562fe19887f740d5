"""What can't be done is said in a line or a few, on standard error, with exit status 2."""

import os
from pathlib import Path
from typing import NoReturn

import pytest

from tests.cli.calling import CORPUS, Answer, call


def refused(answer: Answer, *words: str) -> None:
    """Status 2, nothing on standard output, no traceback, and the words on standard error."""
    assert (answer.status, answer.out) == (2, "")
    assert "Traceback" not in answer.err
    assert "internal fault" not in answer.err
    for word in words:
        assert word in answer.err


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "my.cfg").write_text("[battery]\ncells = 4\n", encoding="utf-8")
    return tmp_path


COMMANDS = [["check"], ["show"], ["plain"], ["diff", "dipper.dump"], ["compare", "dipper.dump"]]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_file_that_is_missing(monkeypatch: pytest.MonkeyPatch, command: list[str]) -> None:
    refused(call(monkeypatch, [*command, "gone.dump"]), "gone.dump can't be read: no such file")


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_folder_instead_of_a_file(monkeypatch: pytest.MonkeyPatch, command: list[str]) -> None:
    refused(call(monkeypatch, [*command, "broken"]), "broken is a folder; a dump file is expected")


def test_a_number_without_a_file_is_the_name_of_one(monkeypatch: pytest.MonkeyPatch) -> None:
    refused(call(monkeypatch, ["check", "#2"]), "#2 can't be read: no such file or directory")


def test_a_file_in_a_folder_that_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    refused(call(monkeypatch, ["check", "no/such/x.dump"]), "no/such/x.dump can't be read")


def test_a_file_name_that_is_too_long(monkeypatch: pytest.MonkeyPatch) -> None:
    refused(call(monkeypatch, ["check", "x" * 5000]), "can't be read: file name too long")
    refused(call(monkeypatch, ["check", "dipper.dump", "--dialect", "x" * 5000]), "no dialect")


def test_a_file_that_may_not_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(path: Path, *_: str) -> NoReturn:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "open", forbidden)
    refused(
        call(monkeypatch, ["check", "dipper.dump"]), "dipper.dump can't be read: permission denied"
    )


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read every file")
def test_a_file_without_read_permission(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "my.cfg").chmod(0)
    refused(call(monkeypatch, ["check", "my.cfg"], cwd=folder), "can't be read: permission denied")


def test_a_dialect_that_nobody_knows(monkeypatch: pytest.MonkeyPatch) -> None:
    answer = call(monkeypatch, ["check", "dipper.dump", "--dialect", "sedg"])
    refused(answer, "there is no dialect 'sedg'", "known here: alder, marl, osier, sedge, plain")


BAD_DIALECTS = [
    ("name = ", "invalid value"),
    ('about = "nameless"', 'name = "..." is expected'),
    ('name = "x"\n[wrds]', "wrds is no key of a dialect; did you mean words?"),
    ('name = "x"\n[look]\nprompts = 3', "prompts: a list of texts is expected"),
]


@pytest.mark.parametrize(("text", "word"), BAD_DIALECTS)
def test_a_bad_dialect_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch, text: str, word: str
) -> None:
    (folder / "bad.toml").write_text(text, encoding="utf-8")
    answer = call(monkeypatch, ["check", "my.cfg", "--dialect", "bad.toml"], cwd=folder)
    refused(answer, "bad.toml:", word)


def test_a_dialect_file_that_is_no_utf_8(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "bad.toml").write_bytes(b'name = "\xff"')
    answer = call(monkeypatch, ["check", "my.cfg", "--dialect", "bad.toml"], cwd=folder)
    refused(answer, "bad.toml: is not UTF-8")


BAD_SETTINGS = [
    ('[cfgaudit]\nfailon = "note"', "failon is no setting of cfgaudit; did you mean fail_on?"),
    ('[cfgaudit]\nzzz = "note"', "zzz is no setting of cfgaudit\n"),
    ('[cfgaudit]\nfail_on = "fatal"', "fail_on must be error, warning, note or never"),
    ("[cfgaudit]\ndialects = 3", "dialects must be a list of files or folders"),
    ('[cfgaudit]\ndialects = ["gone"]', "dialects: there is no gone"),
    ("cfgaudit = 3", "[cfgaudit] must be a table"),
    ("[cfgaudits]", "cfgaudits is no table of cfgaudit; did you mean cfgaudit?"),
    ('fail_on = "note"', "fail_on is no table of cfgaudit; it belongs below [cfgaudit]"),
    ("[cfgaudit]\n[cfgaudit]", "is no TOML: cannot declare"),
]


@pytest.mark.parametrize(("text", "word"), BAD_SETTINGS)
def test_a_bad_settings_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch, text: str, word: str
) -> None:
    (folder / "cfgaudit.toml").write_text(text, encoding="utf-8")
    refused(call(monkeypatch, ["check", "my.cfg"], cwd=folder), "cfgaudit.toml:", word)


def test_a_bad_key_in_pyproject(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    project = folder / "pyproject.toml"
    project.write_text("[tool.cfgaudit]\ndialect = []", encoding="utf-8")
    answer = call(monkeypatch, ["check", "my.cfg"], cwd=folder)
    refused(answer, "pyproject.toml: dialect is no setting of cfgaudit; did you mean dialects?")


@pytest.mark.parametrize("text", ["tool = 3", "[tool.other]\nx = 1", ""])
def test_a_pyproject_that_does_not_speak_of_us_is_passed_by(
    folder: Path, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    (folder / "pyproject.toml").write_text(text, encoding="utf-8")
    assert call(monkeypatch, ["show", "my.cfg"], cwd=folder).status == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["chek", "dipper.dump"], ("There is no command 'chek'. Did you mean check?",)),
        (["zzzzzz"], ("There is no command 'zzzzzz'.\n",)),
        (["check"], ("Missing argument 'DUMP...'",)),
        (["check", "dipper.dump", "--formt", "json"], ("--formt", "--format")),
        (["check", "dipper.dump", "--format", "xml"], ("'xml'", "'terminal', 'json'")),
        (["check", "dipper.dump", "--fail-on", "fatal"], ("'fatal'", "'never'")),
        (["diff", "dipper.dump"], ("Missing argument 'NEW'",)),
        (["compare", "dipper.dump"], ("compare wants at least two dumps",)),
        (["explain", "battery.warn_cel"], ("Did you mean battery.warn_cell",)),
        (
            ["explain", "telemetry/enabled-unasigned"],
            ("Did you mean telemetry/enabled-unassigned",),
        ),
        (["explain", "zzz"], ("there is no rule, limit or setting 'zzz'.\n",)),
        (["show", "dipper.dump", "battery.warn_cel"], ("did you mean battery.warn_cell",)),
        (["diff", "-", "-"], ("standard input can be read once",)),
        (["check", "-", "--with", "-"], ("standard input can be read once",)),
    ],
    ids=str,
)
def test_a_wrong_use_is_named_and_a_near_miss_suggested(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str], words: tuple[str, ...]
) -> None:
    monkeypatch.setattr("cfgaudit.cli.inputs.read_bytes", _reading_nothing_from_standard_input)
    refused(call(monkeypatch, arguments), *words)


def _reading_nothing_from_standard_input(dump: str, stdin_name: str) -> tuple[bytes, str]:
    return (b"", stdin_name) if dump == "-" else ((CORPUS / dump).read_bytes(), dump)


def test_an_error_never_sends_what_could_act_on_a_terminal(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = call(monkeypatch, ["check", "gone\x1b]0;t\x07\u202e.dump"], cwd=folder)
    refused(answer, r"gone\x1b]0;t\x07\u202e.dump can't be read")
    coloured = call(monkeypatch, ["check", "gone\x1b[31m.dump"], cwd=folder)
    refused(coloured, ".dump can't be read")
    assert "\x1b" not in coloured.err
    (folder / "cfgaudit.toml").write_text('[cfgaudit]\n"a\\u0007b" = 1', encoding="utf-8")
    refused(call(monkeypatch, ["check", "my.cfg"], cwd=folder), r"a\x07b is no setting")

"""What is private in one firmware is told by the dialect, and hidden wherever it would be shown."""

import json
from pathlib import Path

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.dialects.dialect import DialectError, build_dialect
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.redaction import redact
from tests.cli.calling import call

DIALECT = """
name = "small"
secret = ["craft/weir_*", "badge", "note b", "radio/*", "craft.name", "battery.capacity"]
[look]
head = ["# small {firmware.version}"]
[[lines]]
map = ["holds = {battery.capacity: mAh}", "cells = {battery.cells}"]
[[lines]]
under = "[craft]"
map = ["called = {craft.name}"]
"""
DUMP = """# small 1.0
holds = 1500
cells = 4
holds = 1600
badge heron seven
badge heron nine
note a plain
note b thorn bush
[craft]
called = eddy
weir_gate = north-sluice
weird = kept
[radio]
tag,osprey,12
# the keys of north-sluice hang at the mill
"""
PRIVATE = (
    "1500", "1600", "heron", "seven", "nine", "thorn", "bush", "eddy", "north-sluice", "osprey",
)  # fmt: skip
PLAIN = ("plain", "kept")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "small.toml").write_text(DIALECT, encoding="utf-8")
    house = '[cfgaudit]\ndialects = ["small.toml"]\n'
    (tmp_path / "cfgaudit.toml").write_text(house, encoding="utf-8")
    (tmp_path / "a.dump").write_text(DUMP, encoding="utf-8")
    other = DUMP.replace("1500", "1510").replace("1600", "1610").replace("kept", "left")
    for word in ("seven", "thorn", "eddy", "north-sluice", "osprey"):
        other = other.replace(word, f"{word}s")
    (tmp_path / "b.dump").write_text(other, encoding="utf-8")
    return tmp_path


def told(text: str) -> list[str]:
    return [secret for secret in PRIVATE if secret in text]


def small(dump: str = DUMP) -> Opened:
    import tomllib

    return open_dump("a.dump", dump.encode(), [build_dialect(tomllib.loads(DIALECT), "small")])


def test_entries_are_marked_by_their_path_or_key() -> None:
    found = small().settings
    assert {path for path, entry in found.stated.items() if entry.secret} == {
        "battery.capacity",
        "craft.name",
    }
    assert {key for key, raw in found.raw.items() if raw.secret} == {
        "badge", "badge (2)", "note b", "craft/weir_gate", "radio/tag",
    }  # fmt: skip
    assert found.raw["badge"].value == "heron seven"  # no word behind the pattern's is in the key
    assert all(entry.secret for pair in found.repeats for entry in pair)


def test_redact_hides_what_the_dialect_says_and_where_it_is_said_again() -> None:
    done = redact(small())
    text = done.data.decode()
    assert told(text) == []
    assert all(word in text for word in PLAIN)
    assert "badge (hidden)\n" in text
    assert "note b (hidden)\n" in text
    assert "tag,(hidden),(hidden)\n" in text
    assert "# the keys of (hidden) hang at the mill\n" in text
    why = {entry.what: entry.why for entry in done.hidden}
    assert why["craft/weir_gate"] == "the dialect says that it is private"
    assert redact(small(text)).data == done.data


def test_a_line_that_cannot_be_read_hides_what_its_key_promises() -> None:
    broken = DUMP.replace("weir_gate = north-sluice", 'weir_gate = "north-sluice')
    assert told(redact(small(broken)).data.decode()) == []


@pytest.mark.parametrize(
    "asked",
    [
        ["show", "a.dump"],
        ["show", "a.dump", "--format", "json"],
        ["diff", "a.dump", "b.dump", "--everything"],
        ["diff", "a.dump", "b.dump", "--everything", "--format", "json"],
        ["diff", "a.dump", "b.dump", "--everything", "--format", "markdown"],
        ["compare", "a.dump", "b.dump", "--everything"],
        ["compare", "a.dump", "b.dump", "--everything", "--format", "json"],
        ["confirm", "a.dump", "b.dump"],
        ["confirm", "a.dump", "b.dump", "--format", "json"],
        ["upgrade", "a.dump", "b.dump", "--everything"],
        ["upgrade", "a.dump", "b.dump", "--lines"],
        ["upgrade", "a.dump", "b.dump", "--everything", "--format", "json"],
        ["plain", "a.dump"],
        ["dialect", "try", "a.dump"],
        ["dialect", "try", "a.dump", "--format", "json"],
        ["check", "a.dump"],
        ["check", "a.dump", "b.dump", "--format", "json"],
        ["report", "a.dump"],
        ["report", "a.dump", "b.dump"],
        ["check", "a.dump", "b.dump", "--format", "sarif"],
        ["git", "textconv", "a.dump"],
    ],
    ids=" ".join,
)
def test_nothing_that_is_shown_tells_it(
    monkeypatch: pytest.MonkeyPatch, folder: Path, asked: list[str]
) -> None:
    answer = call(monkeypatch, asked, cwd=folder)
    refused = asked[0] == "plain"  # it can't say which of two values is meant
    assert answer.status in ((2,) if refused else (0, 1)), answer.err
    assert answer.out or refused or "--lines" in asked
    assert told(answer.out + answer.err) == []


@pytest.mark.parametrize(
    "asked", [["show", "a.dump"], ["diff", "a.dump", "b.dump", "--everything"]]
)
def test_secrets_shows_it(monkeypatch: pytest.MonkeyPatch, folder: Path, asked: list[str]) -> None:
    answer = call(monkeypatch, [*asked, "--secrets"], cwd=folder)
    assert {"heron", "seven", "thorn", "eddy", "north-sluice"} <= set(told(answer.out))


def test_textconv_hides_it_in_a_line_that_cannot_be_read(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    dump = folder / "a.dump"
    dump.write_text(DUMP.replace("= north-sluice", '= "north-sluice'), encoding="utf-8")
    shown = call(monkeypatch, ["git", "textconv", "a.dump"], cwd=folder).out
    assert '#   weir_gate = "(hidden)' in shown
    assert told(shown) == []


def test_textconv_hides_an_owner_who_is_overruled_or_cannot_be_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    dump = tmp_path / "a.cfg"
    dump.write_text(
        '[craft]\nname = eddy\nowner = thorn\nowner = heron\nowner = "osprey\nend\n',
        encoding="utf-8",
    )
    shown = call(monkeypatch, ["git", "textconv", "a.cfg"], cwd=tmp_path).out
    assert '#   craft.owner = "(hidden)"\n' in shown
    assert '#   owner = "(hidden)\n' in shown
    assert not {"thorn", "heron", "osprey"} & set(told(shown))


def test_the_audit_says_that_the_dump_tells_it_until_it_is_hidden() -> None:
    def notes(opened: Opened) -> list[str]:
        found = audit(opened.settings).findings
        return [f.message for f in found if f.rule.id == "dump/secret-present"]

    [message] = notes(small())
    assert message.startswith("The dump tells battery.capacity, craft.name, badge, badge (2), note")
    assert not told(message)
    assert notes(small(redact(small()).data.decode())) == []


def test_a_dialect_without_the_list_marks_nothing() -> None:
    bare = open_dump("a.dump", DUMP.encode(), [build_dialect({"name": "bare"}, "bare")])
    assert not [raw for raw in bare.settings.raw.values() if raw.secret]


def test_a_list_that_is_none_is_refused() -> None:
    with pytest.raises(DialectError, match=r"small\.toml: secret: a list of texts is expected"):
        build_dialect({"name": "small", "secret": "badge"}, "small.toml")


def test_the_machine_output_keeps_its_form(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    shown = json.loads(call(monkeypatch, ["show", "a.dump", "--format", "json"], cwd=folder).out)
    assert shown["unmapped"]["note b"]["value"] == "(hidden)"
    assert shown["unmapped"]["note a"]["value"] == "plain"
    assert shown["settings"]["craft.name"]["value"] == "(hidden)"


def test_a_fingerprint_hangs_on_no_value_that_the_dialect_calls_private() -> None:
    marks = set()
    for holds in ("1600", "1700"):
        outcome = audit(small(DUMP.replace("1600", holds)).settings)
        (twice,) = [
            finding
            for finding in outcome.findings
            if finding.rule.id == "dump/said-twice" and finding.paths == ("battery.capacity",)
        ]
        marks.add(twice.fingerprint)
    assert len(marks) == 1

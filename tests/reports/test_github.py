"""Lines for GitHub: one a finding, escaped so that none can be another one."""

import re
from pathlib import Path

import pytest

from cfgaudit.reports.review import command
from tests.reports.reviewed import DUMP, FAULTY, WAIVER, ask, folder, log, told

LINE = re.compile(r"::(error|warning|notice) ((?:\w+=[^,:\n]*,?)+)::([^\n]*)")


def lines(text: str) -> list[tuple[str, dict[str, str], str]]:
    """Each line taken apart as the runner does, escapes undone."""
    made = []
    for line in text.splitlines():
        found = LINE.fullmatch(line)
        assert found is not None, line
        pairs = dict(pair.split("=", 1) for pair in found[2].split(","))
        properties = {name: _plain(value) for name, value in pairs.items()}
        made.append((found[1], properties, _plain(found[3])))
    return made


def _plain(text: str) -> str:
    for escape, letter in (("%0D", "\r"), ("%0A", "\n"), ("%3A", ":"), ("%2C", ","), ("%25", "%")):
        text = text.replace(escape, letter)
    return text


def test_a_finding_is_a_line_with_its_file_line_column_and_rule(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    every = lines(told(monkeypatch, "github", ["check", FAULTY]))
    (found,) = [entry for entry in every if entry[1]["title"] == "failsafe/throttle-closes"]
    word, where, message = found
    assert (word, where["file"].removeprefix("corpus/")) == ("error", FAULTY)
    assert int(where["line"]) > 1
    assert message.startswith("On link loss the throttle channel 3 goes to 900 us, closed, ")
    assert "In the air: it falls, as deep as the figure says" in message
    assert "Mend: failsafe.channels.3 = hold" in message


# From memory: the escapes of the toolkit's command.ts.
def test_marks_are_escaped_in_a_message_and_more_of_them_in_a_property() -> None:
    line = command("error", {"file": "50%,a:b\n.dump"}, "1 %: a, b\r\n::error::c")
    assert line == "::error file=50%25%2Ca%3Ab%0A.dump::1 %25: a, b%0D%0A::error::c"


def test_a_file_name_with_marks_comes_out_whole(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    name = "50%,a:b.cfg"
    (tmp_path / name).write_text(DUMP, encoding="utf-8")
    for given in (name, str(tmp_path / name)):
        every = lines(told(monkeypatch, "github", ["check", given], tmp_path))
        assert {where["file"] for _, where, _ in every} == {name}


def test_a_name_in_a_dump_can_begin_no_line_of_its_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    evil = '[battery]\ncells = 4\n[craft]\nodd = "x\n::error file=a::owned"\n'
    where = folder(tmp_path, a=evil)
    for word, properties, _ in lines(told(monkeypatch, "github", ["check", "a.cfg"], where)):
        assert (word, properties["file"]) != ("error", "a")


def test_a_waived_finding_has_no_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    where = folder(tmp_path, dipper=DUMP)
    assert "threshold-order" in told(monkeypatch, "github", ["check", "dipper.cfg"], where)
    folder(tmp_path, waiver=WAIVER)
    assert "threshold-order" not in told(monkeypatch, "github", ["check", "dipper.cfg"], where)


def test_how_much_was_not_checked_is_said_once_a_dump(monkeypatch: pytest.MonkeyPatch) -> None:
    every = lines(told(monkeypatch, "github", ["check", "wagtail-esc.dump"]))
    (said,) = [message for _, where, message in every if where["title"] == "not checked"]
    assert re.fullmatch(r"wagtail-esc.dump: \d+ of \d+ rules could not be checked in full\.", said)


def test_a_diff_tells_what_it_brings(monkeypatch: pytest.MonkeyPatch) -> None:
    every = lines(told(monkeypatch, "github", ["diff", "dipper.dump", FAULTY]))
    assert "failsafe/throttle-closes" in [where["title"] for _, where, _ in every]
    back = ask(monkeypatch, "github", ["diff", FAULTY, "dipper.dump"])
    assert (back.status, back.err) == (0, "")
    (only,) = lines(back.out)
    assert only[1]["title"] == "looked at", "the way back brings nothing"


def test_a_file_is_named_from_the_top_of_the_repository(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / ".git").mkdir()
    (tmp_path / "fleet" / "east").mkdir(parents=True)
    where = folder(tmp_path / "fleet", a=DUMP)
    for given, cwd in (
        ("a.cfg", where),
        ("../a.cfg", where / "east"),
        (str(where / "a.cfg"), where),
    ):
        for entry in lines(told(monkeypatch, "github", ["check", given], cwd)):
            assert entry[1]["file"] == "fleet/a.cfg"
        run = log(monkeypatch, ["check", given], cwd)
        assert {file["location"]["uri"] for file in run["artifacts"]} == {"fleet/a.cfg"}

"""What the bench page's Python answers, here without a browser: the command line's own words."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from cfgaudit.cli import offline
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reading.text import read_text
from cfgaudit.teach.asking import (
    Answer,
    LineQuestion,
    State,
    answered,
    begun,
    question,
    taught,
    taught_from,
)
from tests.cli.calling import CORPUS, call

DUMP = "dipper-after-repair.dump"
STARWORT = Path(__file__).parents[1] / "teach" / "unknown" / "starwort"
FRAME_LINE = 85  # by hand, from its dump: "shape: cross", below "frame:"
CELLS_LINE = 229  # "cells: 3"
PLAIN = "[battery]\ncells = 4\n"


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder that the page stands in, empty."""
    monkeypatch.setattr(offline, "GIVEN", tmp_path / "given")
    monkeypatch.setattr(offline, "TAKEN", tmp_path / "taken")
    monkeypatch.setenv("COLUMNS", "80")
    made = tmp_path / "bench"
    made.mkdir()
    monkeypatch.chdir(made)
    return made


@pytest.fixture
def team(bench: Path) -> Path:
    """The same with what the corpus has for a team, and a dump."""
    shutil.copytree(CORPUS / "dialects", bench / "dialects")
    for file in (CORPUS / "cfgaudit.toml", *CORPUS.glob("*.build.toml"), CORPUS / "dipper.dump"):
        shutil.copy(file, bench)
    shutil.copy(CORPUS / "faulty" / DUMP, bench)
    return bench


def given(name: str, data: bytes | str) -> dict[str, Any]:
    offline.GIVEN.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
    return offline.answer({"do": "take", "name": name})


def test_an_audit_is_that_of_the_command_line(team: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answer = offline.answer({"do": "check", "dump": DUMP})
    answer |= offline.answer({"do": "report", "dump": DUMP})
    said = call(monkeypatch, ["check", "--format", "json", DUMP], cwd=team)
    page = call(monkeypatch, ["report", DUMP], cwd=team)
    assert (answer["json"], answer["html"]) == (said.out, page.out)
    assert (answer["build"], answer["dialect"]) == ("dipper.build.toml", "sedge")


def test_the_lines_of_a_dump_come_with_what_is_private_hidden(team: Path) -> None:
    text = (team / DUMP).read_text(encoding="utf-8").splitlines()
    lines = offline.answer({"do": "check", "dump": DUMP})["lines"][DUMP]
    assert len(lines) == len(text)
    changed = [number for number, line in enumerate(text) if line.rstrip() != lines[number]]
    # by hand, from the dump: owner on line 9, serial number on line 10
    assert [number + 1 for number in changed] == [9, 10]


def test_json_goes_in_and_comes_out(team: Path) -> None:
    asked = {"do": "show", "dump": DUMP, "columns": 60}
    assert json.loads(offline.answer_text(json.dumps(asked))) == offline.answer(asked)
    wide = offline.answer({**asked, "columns": 100})["text"]
    assert len(wide.splitlines()) < len(offline.answer(asked)["text"].splitlines())


def test_a_record_goes_with_the_sheet_at_hand_whatever_it_is_called(bench: Path) -> None:
    offline.GIVEN.write_text("[[entry]]\nstep = 'x'\nat = 2026-01-01T00:00:00Z\n", encoding="utf-8")
    asked = {"do": "take", "name": "a.bench (1).toml", "build": "dipper.build.toml"}
    assert offline.answer(asked)["names"] == ["dipper.bench.toml"]


def test_another_dump_of_the_same_name_does_not_replace_the_first(bench: Path) -> None:
    assert given("a.cfg", PLAIN)["names"] == ["a.cfg"]
    assert given("a.cfg", PLAIN)["names"] == ["a.cfg"]
    assert given("a.cfg", PLAIN + "capacity = 900 mAh\n")["names"] == ["a-2.cfg"]
    assert (bench / "a.cfg").read_text(encoding="utf-8") == PLAIN


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/a.dump", "a.dump"),
        ("C:\\dumps\\a.dump", "a.dump"),
        ("..", "given"),
        ("", "given"),
        ("-", "given"),
        ("--output=x", "--output=x"),
        ("a\nb.dump", "a\\x0ab.dump"),
    ],
)
def test_a_name_is_a_plain_file_s_and_no_option(bench: Path, name: str, kept: str) -> None:
    assert given(name, PLAIN)["names"] == [kept]
    assert [file.name for file in bench.iterdir()] == [kept]
    assert "refused" not in offline.answer({"do": "check", "dump": kept})


@pytest.mark.parametrize(
    ("name", "text", "kind"),
    [
        ("a.dump", PLAIN, "dump"),
        ("a.toml", "[[entry]]\nstep = 'x'\nat = 2026-01-01T00:00:00Z\n", "record"),
        ("a.toml", (CORPUS / "dipper.build.toml").read_text(encoding="utf-8"), "sheet"),
        ("a.toml", (CORPUS / "dialects" / "alder.toml").read_text(encoding="utf-8"), "dialect"),
        ("cfgaudit.toml", '[cfgaudit]\nfail_on = "note"\n', "settings"),
        ("a.toml", "no = [toml", "dump"),
    ],
)
def test_what_a_file_is_shows_in_what_it_holds(
    bench: Path, name: str, text: str, kind: str
) -> None:
    assert given(name, text)["kind"] == kind


def test_a_dialect_is_known_from_then_on(bench: Path) -> None:
    shutil.copy(CORPUS / "dipper.dump", bench)
    before = json.loads(offline.answer({"do": "check", "dump": "dipper.dump"})["json"])
    answer = given("sedge.toml", (CORPUS / "dialects" / "sedge.toml").read_bytes())
    after = json.loads(offline.answer({"do": "check", "dump": "dipper.dump"})["json"])
    assert answer == {"kind": "dialect", "names": ["dialects/sedge.toml"], "named": False}
    assert [told["dumps"][0]["dialect"] for told in (before, after)] == [None, "sedge"]


def test_a_dialect_is_to_be_named_where_the_settings_list_no_folder(bench: Path) -> None:
    shutil.copy(CORPUS / "dipper.dump", bench)
    given("cfgaudit.toml", '[cfgaudit]\nfail_on = "never"\n')
    answer = given("sedge.toml", (CORPUS / "dialects" / "sedge.toml").read_bytes())
    assert answer == {"kind": "dialect", "names": ["sedge.toml"], "named": True}
    asked = {"do": "check", "dump": "dipper.dump", "dialect": "sedge.toml"}
    assert json.loads(offline.answer(asked)["json"])["dumps"][0]["dialect"] == "sedge"


def test_a_dialect_with_a_fault_is_refused_and_changes_nothing(team: Path) -> None:
    before = (team / "dialects" / "sedge.toml").read_bytes()
    answer = given("sedge.toml", b'name = "sedge"\nlines = [{ map = ["{no.such.path}"] }]\n')
    assert "no.such.path" in answer["refused"]
    assert (team / "dialects" / "sedge.toml").read_bytes() == before


def test_settings_that_can_t_be_are_refused_and_those_before_stay(team: Path) -> None:
    before = (team / "cfgaudit.toml").read_bytes()
    answer = given("cfgaudit.toml", '[cfgaudit]\ndialects = ["nowhere"]\n')
    assert "nowhere" in answer["refused"]
    assert "Usage" not in answer["refused"]
    assert (team / "cfgaudit.toml").read_bytes() == before


def test_rules_of_the_house_hold_once_they_are_given(bench: Path) -> None:
    given("a.cfg", "[battery]\ncells = 4\ncapacity = 900 mAh\n")
    rule = (
        '[[limit]]\nsetting = "battery.capacity"\nat_least = "1300 mAh"\nlevel = "error"\n'
        'because = "a survey leg takes that much"\n'
    )
    assert given("cfgaudit.toml", rule)["kind"] == "settings"
    assert (
        "a survey leg takes that much" in offline.answer({"do": "check", "dump": "a.cfg"})["json"]
    )
    assert "refused" in given("cfgaudit.toml", rule.replace("1300 mAh", "1300 V"))
    assert (
        "a survey leg takes that much" in offline.answer({"do": "check", "dump": "a.cfg"})["json"]
    )
    assert sorted(file.name for file in bench.iterdir()) == ["a.cfg", "cfgaudit.toml"]


def test_the_dumps_of_one_file_have_a_name_each(team: Path) -> None:
    # by hand, from the text: it holds three dumps
    data = (CORPUS / "pasted" / "several.dump").read_bytes()
    names = given("several.dump", data)["names"]
    assert names == ["several.dump", "several.dump#2", "several.dump#3"]


def test_a_step_is_recorded_refused_and_taken_back(team: Path) -> None:
    asked = {"do": "bench", "build": "dipper.build.toml", "dump": "dipper.dump"}
    assert offline.answer(asked)["record"] == ""
    done = offline.answer({**asked, "done": "propellers-off", "value": ""})
    assert done["list"]["recorded"]["passed"]
    assert 'step = "propellers-off"' in done["record"]
    early = offline.answer({**asked, "done": "limiter", "value": "0.2 A"})
    assert early["refused"].startswith("limiter is not open yet")
    silent = offline.answer({**asked, "done": "limiter"})
    assert silent["refused"] == 'limiter wants what was seen: "N A", or no'
    back = offline.answer({**asked, "undo": "propellers-off"})
    assert back["list"]["counts"]["done"] == 0


def test_a_value_that_begins_with_a_dash_is_a_value(team: Path) -> None:
    asked = {"do": "bench", "build": "dipper.build.toml", "dump": None, "done": "propellers-off"}
    assert "No such option" not in str(offline.answer({**asked, "value": "-5"}))


@pytest.fixture
def unknown(bench: Path) -> State:
    """A dump that no dialect knows, in the folder, before the first question."""
    shutil.copy(STARWORT / "redshank.dump", bench)
    return begun(["redshank.dump"], [read_text((bench / "redshank.dump").read_bytes())])


def lesson(state: State, **more: Any) -> dict[str, Any]:
    """What the page asks with, after the answers of a state."""
    answers = [told._asdict() for told in state.answers]
    return {"dump": state.names[0], "answers": answers, **more}


def test_the_next_question_is_that_of_the_terminal(unknown: State) -> None:
    """About a setting and about a line, whichever comes first."""
    state, kinds = unknown, set[type]()
    while len(kinds) < 2:
        asked = question(state)
        assert asked is not None
        told = offline.answer({"do": "teach", **lesson(state)})
        kinds.add(type(asked))
        if isinstance(asked, LineQuestion):
            assert told["question"]["line"] == asked.line.number
            assert told["question"]["guesses"] == list(asked.guesses)
            state = answered(state, Answer("", line=asked.line.number))
        else:
            assert told["question"]["path"] == asked.path
            assert told["question"]["lines"] == [line.number for line in asked.lines]
            state = answered(state, Answer(asked.path))
        assert (told["checked"], told["rules"]) == (taught(unknown).checked, taught(unknown).rules)


def test_what_a_line_is_told_is_shown_and_becomes_answers(unknown: State) -> None:
    state = unknown
    while not isinstance(asked := question(state), LineQuestion):
        assert asked is not None
        state = answered(state, Answer(asked.path))
    said = "battery.full_cell = 4.15 V !; .warn_cell = 3.55 V !"  # no number of it is either
    told = offline.answer({"do": "teach", **lesson(state, said=said)})
    assert [(one["path"], one["line"]) for one in told["answers"]] == [
        ("battery.full_cell", asked.line.number),
        ("battery.warn_cell", asked.line.number),
    ]
    fault = offline.answer({"do": "teach", **lesson(state, said="height")})["fault"]
    assert "height is no setting" in fault


def test_what_an_answer_makes_of_the_dump_is_told_before_it_is_taken(unknown: State) -> None:
    trial = {"asked": "frame.layout", "value": "quad_x", "line": FRAME_LINE}
    told = offline.answer({"do": "teach", **lesson(unknown, trial=trial)})
    assert f"frame.layout = quad_x (line {FRAME_LINE})" in told["effect"]
    wrong = offline.answer({"do": "teach", **lesson(unknown, trial={**trial, "value": "square"})})
    assert "square" in wrong["fault"]
    cells = {"asked": "battery.cells", "value": "4", "line": CELLS_LINE}
    other = offline.answer({"do": "teach", **lesson(unknown, trial=cells)})
    assert "not what it should be" in other["fault"]
    cells["value"] = "4 !"  # as in the terminal
    insisted = offline.answer({"do": "teach", **lesson(unknown, trial=cells)})
    assert [one["value"] for one in insisted["answers"]] == ["4"]


def test_the_dialect_of_some_answers_is_the_one_that_the_command_writes(
    unknown: State, bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = read_plain((STARWORT / "known.cfg").read_text(encoding="utf-8"), "known.cfg")
    after = taught_from(unknown, known, 4)
    asked = ["dialect", "teach", "redshank.dump", "--answers", str(STARWORT / "known.cfg")]
    said = call(monkeypatch, [*asked, "--most", "4", "--output", "by-command.toml"], cwd=bench)
    assert said.status == 0, said.err
    made = offline.answer({"do": "learn", **lesson(after)})
    assert made["text"] == (bench / "by-command.toml").read_text(encoding="utf-8")
    assert made["name"] == "starwort.toml"


def test_a_taught_dialect_is_read_with_and_gives_its_answers_back(
    unknown: State, bench: Path
) -> None:
    after = answered(unknown, Answer("frame.layout", "quad_x", line=FRAME_LINE))
    offline.answer({"do": "learn", **lesson(after, use=True)})
    check = json.loads(offline.answer({"do": "check", "dump": "redshank.dump"})["json"])
    assert check["dumps"][0]["dialect"] == "starwort"
    saved = (bench / "dialects" / "starwort.toml").read_bytes()
    told = given("starwort.toml", saved)["lesson"]
    assert told == {"name": "starwort", "answers": [after.answers[0]._asdict()]}


def test_a_dialect_that_somebody_wrote_is_not_taught_over(unknown: State, bench: Path) -> None:
    written = b'name = "starwort"\n[[lines]]\nmap = ["low {battery.warn_cell: 0.1 V}"]\n'
    assert given("starwort.toml", written)["kind"] == "dialect"
    after = answered(unknown, Answer("frame.layout", "quad_x", line=FRAME_LINE))
    refused = offline.answer({"do": "learn", **lesson(after, use=True)})
    assert "another name" in refused["refused"]
    assert (bench / "dialects" / "starwort.toml").read_bytes() == written
    other = offline.answer({"do": "learn", **lesson(after, use=True, name="reed")})
    assert other["names"] == ["dialects/reed.toml"]


def test_a_redacted_dump_is_the_command_s_to_the_byte(
    team: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = offline.answer({"do": "redact", "dump": DUMP, "keep_name": True})
    said = call(monkeypatch, ["redact", "--keep-name", DUMP], cwd=team)
    assert Path(answer["file"]).read_bytes() == said.out.encode()
    assert answer["told"] == said.err.splitlines()


def test_what_can_t_be_done_is_told_in_the_command_s_words(bench: Path) -> None:
    answer = offline.answer({"do": "check", "dump": "nothing.dump"})
    assert answer == {"refused": "nothing.dump can't be read: no such file or directory"}


def test_the_stand_in_for_a_compiled_cache_forgets_what_was_longest_unused() -> None:
    cache = offline._LeastRecent(2)
    cache.insert("a", 1)
    cache.insert("b", 2)
    assert cache.get("a") == 1  # so b is the older one
    cache.insert("c", 3)
    assert (cache.get("a"), cache.get("b", "gone"), cache.get("c")) == (1, "gone", 3)

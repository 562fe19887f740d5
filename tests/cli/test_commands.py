"""check, show and compare: options and what they change."""

import json
from pathlib import Path

import pytest

from tests.cli.calling import call

NOTE = "[battery]\ncells = 4\n"  # nothing names firmware or board: a note
WARNING = NOTE + '[craft]\nname = "A\u202eB"\n'  # a bidirectional mark: a warning
ERROR = NOTE + "warn_cell = 99 V\n"  # no cell has 99 V: an error
LEVELS = ("error", "warning", "note", "never")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, text in (("note", NOTE), ("warning", WARNING), ("error", ERROR)):
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("gravest", ["error", "warning", "note"])
def test_the_status_is_one_from_the_level_asked_for_upwards(
    monkeypatch: pytest.MonkeyPatch, folder: Path, gravest: str, level: str
) -> None:
    said = json.loads(
        call(monkeypatch, ["check", f"{gravest}.cfg", "--format", "json"], cwd=folder).out
    )
    found = {finding["level"] for finding in said["dumps"][0]["findings"]}
    assert min(found, key=LEVELS.index) == gravest
    answer = call(monkeypatch, ["check", f"{gravest}.cfg", "--fail-on", level], cwd=folder)
    assert answer.status == int(LEVELS.index(gravest) <= LEVELS.index(level) and level != "never")


def test_an_error_alone_fails_where_nothing_else_is_asked(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    status = {
        name: call(monkeypatch, ["check", f"{name}.cfg"], cwd=folder).status
        for name in ("error", "warning", "note")
    }
    assert status == {"error": 1, "warning": 0, "note": 0}


@pytest.mark.parametrize("file", ["cfgaudit.toml", "pyproject.toml"])
def test_a_folder_can_ask_for_another_level_and_the_flag_goes_before_it(
    monkeypatch: pytest.MonkeyPatch, folder: Path, file: str
) -> None:
    table = "cfgaudit" if file == "cfgaudit.toml" else "tool.cfgaudit"
    (folder / file).write_text(f'[{table}]\nfail_on = "note"\n', encoding="utf-8")
    below = folder / "below"
    below.mkdir()
    assert call(monkeypatch, ["check", "../note.cfg"], cwd=below).status == 1
    answer = call(monkeypatch, ["check", "note.cfg", "--fail-on", "error"], cwd=folder)
    assert answer.status == 0


def test_one_bad_dump_of_several_is_enough(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    answer = call(monkeypatch, ["check", "note.cfg", "error.cfg"], cwd=folder)
    assert answer.status == 1
    assert answer.out.index("note.cfg: ") < answer.out.index("error.cfg: ")


def test_what_could_not_be_checked_is_counted_and_listed_on_request(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    said = json.loads(call(monkeypatch, ["check", "note.cfg", "--format", "json"], cwd=folder).out)
    lacking = said["dumps"][0]["not_checked"]
    short = call(monkeypatch, ["check", "note.cfg"], cwd=folder).out
    long = call(monkeypatch, ["check", "note.cfg", "--unchecked"], cwd=folder).out
    rest = said["dumps"][0]["checked"] + len(said["dumps"][0]["not_applicable"])
    total = len(lacking) + rest
    assert f"Not checked: {len(lacking)} of {total} rules" in short
    for entry in lacking:
        assert f"  {entry['rule']}  " in long
        assert f"  {entry['rule']}  " not in short


def test_another_dump_of_the_craft_adds_its_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    both = ["wagtail.dump", "--with", "wagtail-esc.dump", "--format", "json"]
    alone = json.loads(call(monkeypatch, ["show", "wagtail-esc.dump", "--format", "json"]).out)
    joined = json.loads(call(monkeypatch, ["show", *both]).out)
    assert {path.split(".")[0] for path in alone["settings"]} >= {"esc"}
    assert set(alone["settings"]) <= set(joined["settings"])
    audit = json.loads(call(monkeypatch, ["check", *both]).out)["dumps"]
    assert [(entry["file"], entry["with"]) for entry in audit] == [
        ("wagtail.dump", ["wagtail-esc.dump"])
    ]
    assert audit[0]["unread"] == 0


def test_where_two_dumps_of_a_craft_disagree_both_places_are_named(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    (folder / "other.cfg").write_text("[battery]\ncells = 6\n", encoding="utf-8")
    out = call(monkeypatch, ["check", "note.cfg", "--with", "other.cfg"], cwd=folder).out
    assert "note.cfg:2" in out
    assert "other.cfg:2" in out


def test_a_place_names_its_file_just_where_there_are_several(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = "esc.front_left.direction"
    one = call(monkeypatch, ["show", "wagtail.dump", path]).out
    two = call(monkeypatch, ["show", "wagtail.dump", path, "--with", "wagtail-esc.dump"]).out
    assert "  line 88\n" in one
    assert "  wagtail.dump:88\n" in two


def test_show_takes_paths_with_all_below_them_and_stars(monkeypatch: pytest.MonkeyPatch) -> None:
    def paths(*wanted: str) -> list[str]:
        answer = call(monkeypatch, ["show", "dipper.cfg", *wanted, "--format", "json"])
        return list(json.loads(answer.out)["settings"])

    assert "battery.warn_cell" in paths("battery")
    assert {path.split(".")[0] for path in paths("battery")} == {"battery"}
    assert paths("battery.warn_cell") == ["battery.warn_cell"]
    assert {path.split(".")[2] for path in paths("ports.*.baud")} == {"baud"}
    assert len(paths("ports.*.baud")) == 7  # usb and uart1 to uart6


def test_a_dump_that_no_dialect_knows_is_said_to_be_so(monkeypatch: pytest.MonkeyPatch) -> None:
    checked = call(monkeypatch, ["check", "broken/no-dialect.dump"])
    assert "No dialect knows this dump" in checked.out
    assert "The craft was not audited." in " ".join(checked.out.split())
    plain = call(monkeypatch, ["plain", "broken/no-dialect.dump"])
    assert "no dialect gives this dump a neutral meaning" in plain.err


def test_compare_has_a_column_a_craft_and_marks_the_odd_one(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, volts in (("a", "3.5"), ("b", "3.5"), ("c", "3.3")):
        text = f'[craft]\nname = "{name.upper()}"\n[battery]\ncells = 4\nwarn_cell = {volts} V\n'
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    answer = call(monkeypatch, ["compare", "a.cfg", "b.cfg", "c.cfg"], cwd=tmp_path)
    row = next(line for line in answer.out.splitlines() if "battery.warn_cell" in line)
    assert row.split() == ["battery.warn_cell", "3.5", "V", "3.5", "V", "3.3", "V", "*"]
    assert "battery.cells" not in answer.out
    assert "craft.name" not in answer.out
    every = call(monkeypatch, ["compare", "a.cfg", "b.cfg", "c.cfg", "--everything"], cwd=tmp_path)
    assert "craft.name" in every.out


def test_compare_leaves_out_the_own_keys_of_unlike_dialects(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def raw(*more: str) -> bool:
        answer = call(monkeypatch, ["compare", "dipper.dump", *more, "--format", "json"])
        return any(row["raw"] for row in json.loads(answer.out)["rows"])

    assert not raw("dipper.cfg")
    assert raw("dipper.cfg", "--everything")
    assert raw("sandpiper.dump")


FOUR = ["dipper.dump", "goosander.dump", "sandpiper.dump", "wagtail.dump"]


def test_craft_on_different_boards_are_not_compared_by_their_pads(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def paths(*more: str) -> list[str]:
        answer = call(monkeypatch, ["compare", *FOUR, *more, "--format", "json"])
        return [row["path"] for row in json.loads(answer.out)["rows"]]

    assert not [path for path in paths() if path.startswith("pads.")]
    assert [path for path in paths("--everything") if path.startswith("pads.")]
    said = call(monkeypatch, ["compare", *FOUR]).out
    assert "of pads and timers not compared" in said


def test_four_craft_are_compared_in_half_the_lines_that_a_line_a_value_takes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # a head and four lines a setting would be 5 lines each
    answer = call(monkeypatch, ["compare", *FOUR])
    rows = len(json.loads(call(monkeypatch, ["compare", *FOUR, "--format", "json"]).out)["rows"])
    assert len(answer.out.splitlines()) < 5 * rows / 2


def test_a_path_after_the_dumps_has_only_what_is_below_it_compared(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answer = call(monkeypatch, ["compare", *FOUR, "failsafe", "ports.*.baud", "--format", "json"])
    paths = [row["path"] for row in json.loads(answer.out)["rows"]]
    assert "failsafe.hold_for" in paths
    assert all(path.startswith("failsafe.") or path.endswith(".baud") for path in paths)
    assert call(monkeypatch, ["compare", "dipper.dump", "failsafe"]).status == 2


@pytest.mark.parametrize("name", ["check", "diff", "compare", "show", "plain", "explain"])
def test_every_command_has_help_and_is_in_the_help(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    assert f"  {name} " in call(monkeypatch, ["--help"]).out
    answer = call(monkeypatch, [name, "-h"])
    assert answer.status == 0
    assert answer.out.startswith(f"Usage: cfgaudit {name} ")


def test_every_rule_and_every_setting_can_be_explained(monkeypatch: pytest.MonkeyPatch) -> None:
    from cfgaudit.rules.book import every_rule
    from cfgaudit.vocabulary.paths import vocabulary

    for subject in [
        *(rule.id for rule in every_rule()),
        *(entry.pattern for entry in vocabulary()),
    ]:
        answer = call(monkeypatch, ["explain", subject])
        assert (answer.status, answer.err) == (0, "")
        assert answer.out.startswith(subject + "  ")

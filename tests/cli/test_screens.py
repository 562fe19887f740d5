"""Screens as they are read: at narrow widths, of odd dumps, and by somebody new."""

import json
import re
from pathlib import Path

import pytest

from tests.cli.calling import CORPUS, Answer, call, environment

FLEET = ("dipper.dump", "sandpiper.dump", "wagtail.dump", "goosander.dump")


def at(width: int, *arguments: str, cwd: Path = CORPUS) -> Answer:
    env = environment(COLUMNS=str(width))
    return call(pytest.MonkeyPatch(), arguments, cwd=cwd, env=env)


@pytest.mark.parametrize(
    "arguments",
    [
        ("compare", *FLEET),
        ("compare", "dipper.dump", "sandpiper.dump"),
        ("show", "dipper.dump", "battery", "switches", "filters"),
        ("check", "broken/bom.dump", "--unchecked"),
        ("diff", "dipper.dump", "sandpiper.dump", "--stat"),
        ("show", "dipper.dump", "ports", "switches", "link-loss"),
        ("check", "faulty/dipper-after-repair.dump", "--long"),
        ("allot", "dipper.build.toml", "--why"),
        ("mend", "faulty/dipper-after-repair.dump"),
        ("bench", "dipper.build.toml", "dipper.dump"),
        ("dialect", "try", "wagtail-esc.dump", "--dialect", "dialects/alder.toml"),
        ("fleet", ".", "--match", "*.dump"),
    ],
    ids=lambda arguments: " ".join(arguments[:2]),
)
@pytest.mark.parametrize("width", [40, 60, 100])
def test_no_line_is_wider_than_the_screen(width: int, arguments: tuple[str, ...]) -> None:
    lines = [line for line in at(width, *arguments).out.splitlines() if len(line) > width]
    # a word, such as a file's name with a place in it, is not broken; it stands alone then
    broken = [line for line in lines if not re.fullmatch(r" *(to  )?[\w./:-]+\)?", line)]
    assert [line for line in broken if " cfgaudit bench " not in line] == []  # a line to be typed


def test_a_comparison_too_wide_for_columns_tells_each_value_with_the_craft_that_have_it() -> None:
    answer = at(60, "compare", *FLEET)
    lines = answer.out.splitlines()
    start = lines.index("  board.rotation.yaw")
    said = " ".join(" ".join(lines[start + 1 : start + 3]).split())
    assert said == "90 deg *: dipper; 0 deg (factory): sandpiper; 0 deg: Wagtail 3, Goosander"


def test_a_star_stands_beside_what_it_marks() -> None:
    for width in (60, 80, 100):
        answer = at(width, "compare", *FLEET)
        assert not any(line.strip() == "*" for line in answer.out.splitlines())


def test_a_column_s_head_is_one_line_though_its_name_is_shown_escaped(tmp_path: Path) -> None:
    for name, volts in (("a", "3.5"), ("b", "3.4")):
        text = f'[craft]\nname = "Goos\u202e{name}"\n[battery]\nwarn_cell = {volts} V\n'
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    answer = at(80, "compare", "a.cfg", "b.cfg", cwd=tmp_path)
    head = answer.out.splitlines()[0].split()
    assert head == [r"Goos\u202ea", r"Goos\u202eb"]
    row = next(line for line in answer.out.splitlines() if "3.5 V" in line)
    assert row.index("3.5 V") == answer.out.splitlines()[0].index("Goos")


def test_a_place_that_goes_on_below_is_seen_to_belong_to_it() -> None:
    lines = at(80, "check", "faulty/dipper-after-repair.dump", "--long").out.splitlines()
    place = lines.index("              faulty/dipper-after-repair.dump:141:15  frame.rotation")
    assert place
    narrow = at(60, "check", "faulty/dipper-after-repair.dump", "--long").out.splitlines()
    place = narrow.index("              faulty/dipper-after-repair.dump:141:15")
    assert narrow[place + 1] == "                frame.rotation"


@pytest.mark.parametrize("command", [["show"], ["diff", "dipper.dump"], ["compare", "dipper.dump"]])
def test_that_no_dialect_knows_a_dump_is_said_wherever_it_is_looked_at(command: list[str]) -> None:
    answer = at(80, *command, "broken/no-dialect.dump")
    said = " ".join(answer.out.split())
    assert "No dialect knows broken/no-dialect.dump: its lines are taken as they stand" in said
    assert "No dialect knows" not in at(80, *command, "wagtail.dump").out


@pytest.mark.parametrize("command", [["show"], ["diff", "dipper.dump"], ["compare", "dipper.dump"]])
def test_how_a_dump_was_read_is_said_wherever_it_is_looked_at(command: list[str]) -> None:
    answer = at(80, *command, "broken/latin1.dump")
    assert "not valid UTF-8; read as Latin-1" in " ".join(answer.out.split())


def test_an_empty_dump_is_said_to_be_empty() -> None:
    assert "The dump is empty" in at(80, "check", "broken/empty.dump").out
    assert "The dump is empty" in at(80, "show", "broken/empty.dump").out


def test_one_line_and_one_setting_are_counted_in_the_singular(tmp_path: Path) -> None:
    (tmp_path / "a.cfg").write_text("battery.cells = 4\n", encoding="utf-8")
    assert at(80, "show", "a.cfg", cwd=tmp_path).out.startswith(
        "a.cfg: 1 line, 1 read, 1 setting\n"
    )


def test_what_the_sheet_states_has_its_file_and_is_not_counted_as_the_dump_s() -> None:
    answer = at(100, "show", "dipper.dump", "craft.name", "sheet.motors.front_left")
    assert "dipper.dump:8" in answer.out
    assert "dipper.build.toml:229" in answer.out
    alone = at(100, "show", "dipper.dump", "craft.name")
    assert answer.out.splitlines()[0] == alone.out.splitlines()[0]
    assert "line 8" in alone.out


def test_the_count_of_changes_has_heads_and_a_sum() -> None:
    lines = at(80, "diff", "dipper.dump", "sandpiper.dump", "--stat").out.splitlines()
    assert lines[0].split() == ["touches", "area", "changes"]
    assert lines[1].split() == ["safety", "board", "1"]
    assert re.search(r"1\d\d changes, \d+ more that belong to the one craft", " ".join(lines))
    assert at(80, "diff", "dipper.dump", "dipper.dump", "--stat").out == (
        "No change. No error stands.\n"
    )


def test_a_finding_that_can_t_be_looked_for_any_more_is_not_simply_cleared(tmp_path: Path) -> None:
    high = "[battery]\nchemistry = lipo\nwarn_cell = 4.5 V\nfull_cell = 4.2 V\n"
    (tmp_path / "a.cfg").write_text(high, encoding="utf-8")
    (tmp_path / "b.cfg").write_text("[battery]\nchemistry = lipo\n", encoding="utf-8")
    good = high.replace("4.5", "3.5")
    (tmp_path / "c.cfg").write_text(good, encoding="utf-8")
    lost = " ".join(at(80, "diff", "a.cfg", "b.cfg", cwd=tmp_path).out.split())
    mended = " ".join(at(80, "diff", "a.cfg", "c.cfg", cwd=tmp_path).out.split())
    assert "this change clears" in lost
    assert "Perhaps not: it can't be checked in full any more, for want of battery." in lost
    assert "this change clears" in mended
    assert "Perhaps not" not in mended
    page = at(80, "report", "a.cfg", "b.cfg", cwd=tmp_path).out
    assert "Perhaps not: it can" in page
    review = at(80, "diff", "a.cfg", "b.cfg", "--format", "markdown", cwd=tmp_path).out
    assert "Perhaps not: it can" in review
    step = at(80, "upgrade", "a.cfg", "b.cfg", cwd=tmp_path).out
    assert "Perhaps not: it can" in step
    for new, lacks in (("b.cfg", True), ("c.cfg", False)):
        said = at(80, "diff", "a.cfg", new, "--format", "json", cwd=tmp_path).out
        cleared = json.loads(said)["findings_cleared"]
        assert [bool(finding["lacks"]) for finding in cleared] == [lacks, lacks]


def test_help_says_where_to_begin_and_what_the_status_means() -> None:
    said = " ".join(at(80, "--help").out.split())
    assert "Begin with `cfgaudit check DUMP`" in said
    assert "Exit status: 0 fine, 1 findings or differences that were asked for, 2 it could" in said
    for command in ("check", "diff", "upgrade"):
        assert "Exit status: 0 fine, 1 " in at(80, command, "--help").out
    assert "`~` is changed" in at(80, "diff", "--help").out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["check", "dipper.dump", "--today", "2026-13-01"], "write it as 2026-12-31"),
        (["show", "dipper.dump", "motors.frnt_left"], "did you mean motors.front_left or"),
        (["show", "dipper.dump", "foo"], "something is stated at firmware, board, craft"),
        (["explain"], "as in: cfgaudit explain failsafe/throttle-held"),
    ],
)
def test_a_refusal_says_what_was_expected(arguments: list[str], says: str) -> None:
    answer = at(80, *arguments)
    assert (answer.status, answer.out) == (2, "")
    assert says in answer.err
    assert "%Y" not in answer.err


def test_show_shows_the_others_where_one_path_is_none_or_is_not_stated() -> None:
    answer = at(80, "show", "dipper.dump", "batery", "frame.layout", "overlay.grid")
    assert answer.status == 2
    assert "frame.layout" in answer.out
    assert "nothing is stated at batery; did you mean battery?" in answer.err
    assert "nothing is stated at overlay.grid\n" in answer.err
    known = at(80, "show", "dipper.dump", "frame.layout", "overlay.grid")
    assert (known.status, known.err) == (0, "nothing is stated at overlay.grid\n")


# What the repair did, by the lines of the dump: arm's range and its value on link loss, the
# throttle's, two motors' turns, telemetry's port.
REPAIR = {
    "245": "works",
    "326": "gives",
    "320": "gives",
    "150": "turns",
    "161": "turns",
    "37": "jobs",
}


@pytest.mark.parametrize(("width", "most"), [(80, 40), (40, 90)])
def test_the_demo_s_screen_is_short_and_quotes_every_line_that_the_repair_got_wrong(
    width: int, most: int
) -> None:
    answer = at(width, "check", "faulty/dipper-after-repair.dump")
    lines = answer.out.splitlines()
    assert len(lines) <= most
    assert all(len(line) <= width for line in lines)
    marked = [(line.split()[1], line.split()[2]) for line in lines if line.startswith(" > ")]
    assert dict(marked) == REPAIR

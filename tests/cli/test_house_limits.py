"""[limits] and [[limit]] of a folder's settings file: what they do, and what is refused where."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import call
from tests.cli.test_errors import refused
from tests.reports.schemas import validate
from tests.test_startup import loaded, ours

DUMP = """
[craft]
name = Dipper
[firmware]
name = sedge
version = 2.4.1
[board]
name = HB-7
[home]
ceiling = 150 m
[battery]
cells = 4
chemistry = lipo
warn_cell = 3.4 V
[esc]
protocol = dshot300
idle = 2.5 %
"""
LIMIT = """
[[limit]]
setting = "home.ceiling"
at_most = "120 m"
because = "the club's field has a ceiling"
"""
NAME = "house/home-ceiling-at-most"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "dipper.cfg").write_text(DUMP, encoding="utf-8")
    return tmp_path


def house(folder: Path, text: str, file: str = "cfgaudit.toml") -> None:
    (folder / file).write_text(text, encoding="utf-8")


def findings(monkeypatch: pytest.MonkeyPatch, folder: Path) -> dict[str, Any]:
    """The findings of check by rule, the output being as its schema says."""
    answer = call(monkeypatch, ["check", "dipper.cfg", "--format", "json"], cwd=folder)
    assert answer.err == ""
    said = json.loads(answer.out)
    validate(said, "check")
    return {finding["rule"]: finding for finding in said["dumps"][0]["findings"]}


def test_a_house_limit_runs_with_the_book(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    before = findings(monkeypatch, folder)
    house(folder, LIMIT)
    after = findings(monkeypatch, folder)
    assert set(after) - set(before) == {NAME}
    found = after[NAME]
    assert found["level"] == "warning"
    assert found["figures"] == {"ceiling_m": 150, "ceiling_at_most_m": 120}
    assert found["mend"] == [{"path": "home.ceiling", "called": {}, "value": "120 m"}]
    assert found["places"] == [{"file": "dipper.cfg", "line": 10, "column": 11}]


def test_the_screen_gives_the_clubs_own_reason(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    house(folder, LIMIT)
    out = call(monkeypatch, ["check", "dipper.cfg", "--long"], cwd=folder).out
    assert (
        f"WARNING {NAME}\n"
        "  home.ceiling is 150 m; this house wants it at most 120 m.\n"
        "  Because     the club's field has a ceiling.\n"
        "  Where       dipper.cfg:10:11  home.ceiling\n"
        "  Mend        home.ceiling = 120 m\n"
    ) in out


def test_the_level_decides_the_status(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    for level, status in (("error", 1), ("warning", 0), ("note", 0)):
        house(folder, f'{LIMIT}level = "{level}"\n')
        assert findings(monkeypatch, folder)[NAME]["level"] == level
        answer = call(monkeypatch, ["check", "dipper.cfg"], cwd=folder)
        assert answer.status == status


def test_a_change_brings_and_clears_it(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    house(folder, LIMIT)
    low = DUMP.replace("150 m", "100 m")
    (folder / "low.cfg").write_text(low, encoding="utf-8")
    brought = call(monkeypatch, ["diff", "low.cfg", "dipper.cfg", "--format", "json"], cwd=folder)
    cleared = call(monkeypatch, ["diff", "dipper.cfg", "low.cfg", "--format", "json"], cwd=folder)
    assert NAME in [f["rule"] for f in json.loads(brought.out)["findings_new"]]
    assert NAME in [f["rule"] for f in json.loads(cleared.out)["findings_cleared"]]
    validate(json.loads(brought.out), "diff")


def test_what_it_lacks_is_listed_with_what_could_not_be_checked(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    house(folder, LIMIT.replace("home.ceiling", "home.min_distance"))
    out = call(monkeypatch, ["check", "dipper.cfg", "--unchecked"], cwd=folder).out
    (line,) = [line for line in out.splitlines() if "house/home-min-distance-at-most" in line]
    assert line.endswith("lacks home.min_distance")


def test_explain_knows_the_limits_of_the_folder(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    house(folder, LIMIT)
    answer = call(monkeypatch, ["explain", NAME], cwd=folder)
    assert answer.status == 0
    assert "home.ceiling is to be at most 120 m." in answer.out
    assert "Because     the club's field has a ceiling." in answer.out
    assert "[[limit]] at cfgaudit.toml:2." in answer.out
    refused(call(monkeypatch, ["explain", NAME + "s"], cwd=folder), f"Did you mean {NAME}?")


@pytest.mark.parametrize("key", ["esc.idle_least", '"esc.idle_least"', 'esc."idle_least"'])
def test_a_limit_of_taste_moves(monkeypatch: pytest.MonkeyPatch, folder: Path, key: str) -> None:
    rule_id = "esc/idle-low"
    quiet, loud = f'[limits]\n{key} = "1 %"\n', f'[limits]\n{key} = "4 %"\n'
    house(folder, quiet)
    assert rule_id not in findings(monkeypatch, folder)
    house(folder, loud)
    assert rule_id in findings(monkeypatch, folder)


def test_a_limit_over_several_craft_moves_too(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, mhz in (("Dipper", 5800), ("Wagtail", 5830)):
        text = f"craft.name = {name}\nvideo.transmitter.enabled = on\n"
        text += f"video.transmitter.frequency = {mhz} MHz\n"
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    for width, count in (("20 MHz", 0), ("0.04 GHz", 1)):
        house(tmp_path, f'[limits]\nfleet.channel_width = "{width}"\n')
        for command in ("check", "compare"):
            call_ = [command, "Dipper.cfg", "Wagtail.cfg", "--format", "json"]
            said = json.loads(call(monkeypatch, call_, cwd=tmp_path).out)
            assert len(said["fleet"]["findings"]) == count


def test_pyproject_holds_the_same_tables(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    head = '[project]\nname = "x"\n[tool.cfgaudit]\nfail_on = "note"\n'
    below = LIMIT.replace("[[limit]]", "[[tool.cfgaudit.limit]]")
    moved = '[tool.cfgaudit.limits]\nesc.idle_least = "1 %"\n'
    house(folder, head + below + moved, "pyproject.toml")
    assert NAME in findings(monkeypatch, folder)
    house(folder, head + below.replace("120 m", "120 s"), "pyproject.toml")
    answer = call(monkeypatch, ["check", "dipper.cfg"], cwd=folder)
    refused(answer, "pyproject.toml:8: at_most for home.ceiling: '120 s'")
    house(folder, head + moved.replace("least", "lest"), "pyproject.toml")
    answer = call(monkeypatch, ["check", "dipper.cfg"], cwd=folder)
    refused(answer, "pyproject.toml:6: there is no limit 'esc.idle_lest'; did you mean esc.idle_")


def test_a_file_above_is_named_from_where_one_stands(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    below = folder / "below"
    below.mkdir()
    house(folder, LIMIT.replace("120 m", "120"))
    answer = call(monkeypatch, ["check", "../dipper.cfg"], cwd=below)
    refused(answer, f"Error: {Path('..') / 'cfgaudit.toml'}:4: at_most for home.ceiling lacks")


HEAD = '[[limit]]\nsetting = "home.ceiling"\n'
GOOD = 'at_most = "120 m"\nbecause = "so"\n'
WHEN = f"{HEAD}{GOOD}when = "
BAD = [
    # [limits]
    (
        '[limits]\n\nesc.idle_lest = "3 %"',
        3,
        "there is no limit 'esc.idle_lest'; did you mean esc.idle_least?",
    ),
    ('[limits]\n"zzz" = "3 %"', 2, "there is no limit 'zzz'\n"),
    (
        '[limits]\n# so\nesc.idle_least = "3 V"',
        3,
        "esc.idle_least: '3 V': V measures voltage, where % (ratio) is wanted",
    ),
    (
        "[limits.esc]\nidle_most = '9 %'\nidle_least = 3",
        3,
        'esc.idle_least wants a number with its unit, such as "2 %"',
    ),
    (
        '[limits]\nesc.idle_least = "3"',
        2,
        'esc.idle_least wants a number with its unit, such as "2 %"',
    ),
    (
        "[limits]\nesc.idle_least = true",
        2,
        'esc.idle_least wants a number with its unit, such as "2 %"',
    ),
    (
        "[limits]\nposition.satellites_least = 'few'",
        2,
        "position.satellites_least: 'few' is not a number",
    ),
    (
        '[limits]\nesc.idle_least = "3 %"\n"esc.idle_least" = "4 %"',
        3,
        "esc.idle_least is moved twice",
    ),
    ('[limits]\nesc.idle_least = ["3 %"]', 2, "esc.idle_least wants a number"),
    (
        '\n[[limits]]\nsetting = "home.ceiling"',
        2,
        "[limits] must be one table; [limits] moves limits of the rule book, each [[limit]] is",
    ),
    # [[limit]]
    (
        '[limit]\nsetting = "home.ceiling"',
        1,
        "[[limit]] is expected, in two brackets; [limits] moves",
    ),
    ("limit = [3]", 1, "[[limit]] is expected, in two brackets"),
    (f"{HEAD}{GOOD}becuase = 'so'", 5, "becuase is no key of [[limit]]; did you mean because?"),
    (f"{HEAD}{GOOD}zzz = 'so'", 5, "zzz is no key of [[limit]]; it holds setting, at_most,"),
    (
        f"{HEAD}{GOOD}\n{HEAD}atmost = '3 m'",
        8,
        "atmost is no key of [[limit]]; did you mean at_most?",
    ),
    (f"[[limit]]\n{GOOD}", 1, '[[limit]] wants setting = "a neutral path"'),
    (f"[[limit]]\nsetting = 3\n{GOOD}", 2, '[[limit]] wants setting = "a neutral path"'),
    (
        f'[[limit]]\n{GOOD}setting = "home.ceeling"',
        4,
        "there is no setting 'home.ceeling'; did you mean home.ceiling?",
    ),
    (
        f"\n{HEAD}because = 'so'",
        2,
        "home.ceiling: one comparison is expected: at_most, at_least, equals, one_of, stated",
    ),
    (f"{HEAD}{GOOD}equals = '3 m'", 5, "home.ceiling: at_most and equals are one too many"),
    (
        f"{HEAD}because = 'so'\nat_most = '9 ell'",
        4,
        "at_most for home.ceiling: '9 ell': unknown unit 'ell'",
    ),
    (f"{HEAD}because = 'so'\nat_most = '9 s'", 4, "s measures time, where m (length) is wanted"),
    (
        f"{HEAD}because = 'so'\nat_most = 120",
        4,
        'at_most for home.ceiling lacks its unit: say "120 m"',
    ),
    (
        f"{HEAD}because = 'so'\nat_most = ['9 m']",
        4,
        'at_most wants a value in quotes, with its unit, such as "120 m"',
    ),
    (f"{HEAD}because = 'so'\nat_most = ''", 4, "at_most wants a value in quotes"),
    (
        f"{HEAD}because = 'so'\none_of = '9 m'",
        4,
        'one_of wants a list of values, such as ["4", "6"]',
    ),
    (f"{HEAD}because = 'so'\none_of = []", 4, "one_of wants a list of values"),
    (
        f"{HEAD}because = 'so'\none_of = [\n '9 m',\n '9 s']",
        4,
        "one_of for home.ceiling: '9 s': s measures time",
    ),
    (f"{HEAD}because = 'so'\nstated = false", 4, "stated can only be true"),
    (f"{HEAD}at_most = '9 m'", 1, '[[limit]] wants because = "the reason, in a sentence"'),
    (
        f"{HEAD}at_most = '9 m'\nbecause = ' '",
        4,
        '[[limit]] wants because = "the reason, in a sentence"',
    ),
    (f"{HEAD}{GOOD}level = 'fatal'", 5, "level must be error, warning, note"),
    (f"{HEAD}{GOOD}level = ['error']", 5, "level must be error, warning, note"),
    (
        f"{HEAD}{GOOD}\n{HEAD}at_most = '90 m'\nbecause = 'no'",
        6,
        "house/home-ceiling-at-most is said already, at cfgaudit.toml:1",
    ),
    # when
    (
        f"{WHEN}'battery.chemistry = lipo'",
        5,
        'when must be a table such as when = { setting = "battery.chemistry", equals = "lipo" }',
    ),
    (f"{WHEN}{{ seting = 'x' }}", 5, "seting is no key of when; did you mean setting?"),
    (f"{WHEN}{{ equals = 'lipo' }}", 5, 'when wants setting = "a neutral path"'),
    (
        f"{WHEN}{{ setting = 'battery.chemistri', equals = 'lipo' }}",
        5,
        "did you mean battery.chemistry?",
    ),
    (
        f"{WHEN}{{ setting = 'battery.chemistry' }}",
        5,
        "battery.chemistry: one comparison is expected",
    ),
    (
        f"{WHEN}{{ setting = 'battery.chemistry', equals = 'lino' }}",
        5,
        "equals for battery.chemistry: 'lino' is not one of lipo",
    ),
    (
        f"{WHEN}{{ setting = 'ports.ID.baud', at_most = '9 kBd' }}",
        5,
        "ports.ID.baud leaves ID open, which home.ceiling does not",
    ),
    (
        f"{HEAD}{GOOD}\n[limit.when]\nequals = '4'\nsetting = 'battery.cell'",
        8,
        "there is no setting 'battery.cell'; did you mean battery.",
    ),
]


@pytest.mark.parametrize(("text", "line", "message"), BAD, ids=[f"{b[1]}: {b[2]}" for b in BAD])
def test_a_fault_is_refused_with_its_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path, text: str, line: int, message: str
) -> None:
    house(folder, text)
    answer = call(monkeypatch, ["check", "dipper.cfg"], cwd=folder)
    refused(answer, f"Error: cfgaudit.toml:{line}: ", message)


def test_a_fault_stops_diff_and_compare_as_well(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    house(folder, HEAD)
    for command in ("diff", "compare"):
        answer = call(monkeypatch, [command, "dipper.cfg", "dipper.cfg"], cwd=folder)
        refused(answer, "cfgaudit.toml:1: home.ceiling: one comparison is expected")


def test_what_a_message_quotes_is_made_safe(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    house(folder, HEAD + 'at_most = "9 \\u001b[31m"\nbecause = "so"')
    answer = call(monkeypatch, ["check", "dipper.cfg"], cwd=folder)
    refused(answer, "cfgaudit.toml:3: ")
    assert "\x1b" not in answer.err


PARTS = {"cfgaudit.cli.house", "cfgaudit.rules.house", "cfgaudit.audit.waivers"}


def test_a_folder_without_such_tables_loads_nothing_for_them(folder: Path) -> None:
    house(folder, '[cfgaudit]\nfail_on = "never"\n')
    assert ours(loaded("check", "dipper.cfg", cwd=folder)) & PARTS == set()
    house(folder, LIMIT)
    assert ours(loaded("check", "dipper.cfg", cwd=folder)) >= PARTS
    assert ours(loaded("plain", "dipper.cfg", cwd=folder)) & PARTS == set()

"""[[waive]] of a folder's settings file: screens, machine output, status, and what is refused."""

import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import Answer, call
from tests.cli.test_errors import refused
from tests.reports.schemas import validate

ORDER = "battery/threshold-order"  # an error where the battery warns below what is empty
DUMP = """
[craft]
name = Dipper
[firmware]
name = sedge
version = 2.4.1
[board]
name = HB-7
[battery]
cells = 4
empty_cell = 3.5 V
warn_cell = 3.3 V
full_cell = 4.2 V
"""
TODAY = ["--today", "2026-11-25"]


def waiver(rule_id: str = ORDER, more: str = "", until: str = "2026-12-31") -> str:
    return (
        f'\n[[waive]]\nrule = "{rule_id}"\n{more}\n'
        f'because = "old packs, for the bench alone"\nuntil = {until}\n'
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "dipper.cfg").write_text(DUMP, encoding="utf-8")
    (tmp_path / "mended.cfg").write_text(DUMP.replace("3.3 V", "3.6 V"), encoding="utf-8")
    return tmp_path


def check(
    monkeypatch: pytest.MonkeyPatch, folder: Path, tables: str, *more: str, dump: str = "dipper.cfg"
) -> Answer:
    (folder / "cfgaudit.toml").write_text(tables, encoding="utf-8")
    return call(monkeypatch, ["check", dump, *TODAY, *more], cwd=folder)


def findings(
    monkeypatch: pytest.MonkeyPatch, folder: Path, tables: str, *more: str, dump: str = "dipper.cfg"
) -> dict[str, Any]:
    """The findings by rule, waived ones among them."""
    answer = check(monkeypatch, folder, tables, "--format", "json", *more, dump=dump)
    said = json.loads(answer.out)
    validate(said, "check")
    return {finding["rule"]: finding for finding in said["dumps"][0]["findings"]}


def test_a_waived_error_does_not_count_for_the_status(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    assert check(monkeypatch, folder, "").status == 1
    assert check(monkeypatch, folder, waiver()).status == 0
    assert check(monkeypatch, folder, waiver(until="2026-11-25")).status == 0
    assert check(monkeypatch, folder, waiver(until="2026-11-24")).status == 1


def test_machine_output_keeps_it_with_reason_and_day(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    before = findings(monkeypatch, folder, "")
    after = findings(monkeypatch, folder, waiver())
    assert list(after) == list(before)
    told = {"because": "old packs, for the bench alone", "until": "2026-12-31"}
    assert after.pop(ORDER) == {**before.pop(ORDER), "waived": told}
    assert after == before
    assert all(finding["waived"] is None for finding in after.values())


def test_the_screen_counts_it_and_lists_it_on_request(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    short = check(monkeypatch, folder, waiver()).out
    assert ORDER not in short
    assert re.search(r"(?m)^.*, 1 waived \(--waived\)\.", short)
    long = check(monkeypatch, folder, waiver(), "--waived").out
    assert f"WAIVED  {ORDER}  error, waived until 2026-12-31\n" in long
    assert "  Waived for  old packs, for the bench alone\n" in long
    assert re.search(r" dipper\.cfg:12:\d+  battery\.warn_cell\n", long)
    assert "WAIVED" not in check(monkeypatch, folder, "", "--waived").out


def test_an_expired_one_is_an_error_of_its_own_at_its_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    after = findings(monkeypatch, folder, "# ours\n" + waiver(until="2026-11-24"))
    assert after[ORDER]["waived"] is None
    found = after["waiver/expired"]
    assert found["level"] == "error"
    assert found["places"] == [{"file": "cfgaudit.toml", "line": 3, "column": 0}]
    out = check(monkeypatch, folder, waiver(until="2026-11-24")).out
    assert "  Where       cfgaudit.toml:2\n" in out


def test_one_that_fits_nothing_is_a_warning_at_its_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    after = findings(monkeypatch, folder, waiver(), dump="mended.cfg")
    found = after["waiver/matches-nothing"]
    assert found["level"] == "warning"
    assert found["places"] == [{"file": "cfgaudit.toml", "line": 2, "column": 0}]
    other = waiver(more='craft = "Wagtail"')
    assert "waiver/matches-nothing" not in findings(monkeypatch, folder, other, dump="mended.cfg")


def test_a_path_and_a_craft_narrow_it(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    for more, waived in (
        ('at = "battery.warn_cell"', True),
        ('at = "battery.cells"', False),
        ('craft = "dipper"', True),
        ('craft = "Wagtail"', False),
    ):
        found = findings(monkeypatch, folder, waiver(more=more))[ORDER]
        assert (found["waived"] is not None) is waived


def test_of_several_dumps_one_is_enough(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    answer = check(monkeypatch, folder, waiver(), "mended.cfg")
    assert "waiver/matches-nothing" not in answer.out
    assert "1 waived (--waived)" in answer.out


def test_dumps_of_two_folders_have_each_their_own_waivers(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    below = folder / "below"
    below.mkdir()
    (below / "dipper.cfg").write_text(DUMP, encoding="utf-8")
    (below / "cfgaudit.toml").write_text("", encoding="utf-8")
    answer = check(monkeypatch, folder, waiver(), "below/dipper.cfg", "--format", "json")
    said = json.loads(answer.out)["dumps"]
    waived = [
        [finding["waived"] is not None for finding in dump["findings"] if finding["rule"] == ORDER]
        for dump in said
    ]
    assert waived == [[True], [False]]


def test_a_house_limit_can_be_waived(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    after = findings(monkeypatch, folder, LIMIT + waiver("house/battery-cells-equals"))
    assert after["house/battery-cells-equals"]["waived"] is not None


def test_a_change_does_not_bring_what_is_waived(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    arguments = ["diff", "mended.cfg", "dipper.cfg", "--format", "json"]
    for tables, until_then, brought in (
        ("", TODAY, [ORDER]),
        (waiver(), TODAY, []),
        (waiver(), ["--today", "2027-01-01"], [ORDER]),
    ):
        (folder / "cfgaudit.toml").write_text(tables, encoding="utf-8")
        said = json.loads(call(monkeypatch, [*arguments, *until_then], cwd=folder).out)
        assert [finding["rule"] for finding in said["findings_new"]] == brought


def test_what_craft_do_to_one_another_can_be_waived(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name in ("Dipper", "Wagtail"):
        text = f"craft.name = {name}\nvideo.transmitter.frequency = 5800 MHz\n"
        (tmp_path / f"{name}.cfg").write_text(text, encoding="utf-8")
    (tmp_path / "cfgaudit.toml").write_text(waiver("fleet/same-frequency"), encoding="utf-8")
    for command in ("check", "compare"):
        arguments = [command, "Dipper.cfg", "Wagtail.cfg", *TODAY, "--format", "json"]
        said = json.loads(call(monkeypatch, arguments, cwd=tmp_path).out)
        validate(said, command)
        (found,) = said["fleet"]["findings"]
        assert found["waived"]["until"] == "2026-12-31"
    arguments = ["check", "Dipper.cfg", "Wagtail.cfg", *TODAY, "--waived"]
    out = call(monkeypatch, arguments, cwd=tmp_path).out
    assert "WAIVED  fleet/same-frequency" in out
    assert "Nothing else found, 1 waived (--waived)." in " ".join(out.split())


def test_today_is_the_machines_day_where_none_is_given(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    for until, status in ((date(2000, 1, 1), 1), (date(9999, 12, 31), 0)):
        tables = waiver(until=until.isoformat())
        (folder / "cfgaudit.toml").write_text(tables, encoding="utf-8")
        assert call(monkeypatch, ["check", "dipper.cfg"], cwd=folder).status == status


@pytest.mark.parametrize("name", ["waiver/expired", "waiver/matches-nothing"])
def test_explain_knows_the_rules_on_waivers(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    answer = call(monkeypatch, ["explain", name])
    assert answer.status == 0
    for part in (name, "In the air  ", "Mend  ", "Source  "):
        assert part in answer.out
    refused(call(monkeypatch, ["explain", name[:-1]]), f"Did you mean {name}")


LIMIT = '[[limit]]\nsetting = "battery.cells"\nequals = "6"\nbecause = "so"\n'
GOOD = waiver().lstrip("\n")  # rule on line 2, because on 4, until on 5
BAD = [
    ("[waive]\nrule = 'x/y'", 1, "[[waive]] is expected, in two brackets\n"),
    (f"{GOOD}rul = 'x'", 6, "rul is no key of [[waive]]; did you mean rule?"),
    (f"{GOOD}utnil = 2026-12-31", 6, "utnil is no key of [[waive]]; did you mean until?"),
    (f"{GOOD}zzz = 1", 6, "zzz is no key of [[waive]]; it holds rule, at, craft, because, until"),
    (GOOD.replace(f'rule = "{ORDER}"', ""), 1, '[[waive]] wants rule = "the id of a rule"'),
    (
        GOOD.replace("order", "ordre"),
        2,
        f"there is no rule 'battery/threshold-ordre'; did you mean {ORDER}?",
    ),
    (GOOD.replace(ORDER, "qqq"), 2, "there is no rule 'qqq'\n"),
    (GOOD.replace(ORDER, "waiver/expired"), 2, "waiver/expired can't be waived"),
    (LIMIT + waiver("house/battery-cells-equal"), 7, "did you mean house/battery-cells-equals?"),
    (
        f'{GOOD}at = "battery.warn_cel"',
        6,
        "there is no setting 'battery.warn_cel'; did you mean battery.warn_cell?",
    ),
    (f"{GOOD}at = 3", 6, "at must be a text"),
    (f"{GOOD}craft = ['Dipper']", 6, "craft must be a text"),
    (f"{GOOD}craft = ''", 6, "craft must be a text"),
    (
        GOOD.replace("because", "# because"),
        1,
        '[[waive]] wants because = "the reason, in a sentence"',
    ),
    (GOOD.replace('"old packs, for the bench alone"', '""'), 4, "[[waive]] wants because ="),
    (
        GOOD.replace("until", "# until"),
        1,
        "[[waive]] wants until = a day without quotes, as 2026-12-31",
    ),
    (GOOD.replace("2026-12-31", '"2026-12-31"'), 5, "[[waive]] wants until = a day without quotes"),
    (GOOD.replace("2026-12-31", "2026-12-31T00:00:00"), 5, "[[waive]] wants until = a day without"),
    (f"{GOOD}\n{GOOD}at = 'x'", 12, "there is no setting 'x'"),
]


@pytest.mark.parametrize(("text", "line", "message"), BAD, ids=[f"{b[1]}: {b[2]}" for b in BAD])
def test_a_fault_is_refused_with_its_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path, text: str, line: int, message: str
) -> None:
    refused(check(monkeypatch, folder, text), f"Error: cfgaudit.toml:{line}: ", message)


@pytest.mark.parametrize("day", ["2026-13-01", "tomorrow", "25.11.2026"])
def test_a_day_that_is_none_is_refused(monkeypatch: pytest.MonkeyPatch, day: str) -> None:
    refused(call(monkeypatch, ["check", "dipper.dump", "--today", day]), "'--today'", day)

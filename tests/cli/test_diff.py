"""diff as the user meets it: what counts as a change, what is listed, what the status says."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import CORPUS, Answer, call, run

Diff = Callable[..., Answer]


@pytest.fixture
def diff(monkeypatch: pytest.MonkeyPatch) -> Diff:
    return lambda *arguments: call(monkeypatch, ["diff", *arguments])


@pytest.fixture
def edited(tmp_path: Path) -> Callable[[str, str], str]:
    """Writes a text beside the corpus's settings, and gives its path."""
    (tmp_path / "cfgaudit.toml").write_text(
        f"[cfgaudit]\ndialects = [{json.dumps(str(CORPUS / 'dialects'))}]\n", encoding="utf-8"
    )

    def write(name: str, text: str) -> str:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return str(tmp_path / name)

    return write


Edited = Callable[[str, str], str]
DUMP = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
PLAIN = (CORPUS / "dipper.cfg").read_text(encoding="utf-8")


def listed(answer: Answer) -> list[dict[str, Any]]:
    changes: list[dict[str, Any]] = json.loads(answer.out)["changes"]
    return changes


@pytest.mark.parametrize("craft", ["dipper", "goosander", "wagtail"])
def test_one_craft_in_two_dialects_has_no_change(diff: Diff, craft: str) -> None:
    answer = diff(f"{craft}.dump", f"{craft}.cfg", "--exit-code", "--format", "json")
    assert (answer.status, listed(answer)) == (0, [])
    back = diff(f"{craft}.cfg", f"{craft}.dump", "--exit-code", "--format", "json")
    assert (back.status, listed(back)) == (0, [])
    assert "No change" in diff(f"{craft}.dump", f"{craft}.cfg").out


def test_the_own_lines_of_two_dialects_are_counted_and_listed_on_request(diff: Diff) -> None:
    every = listed(diff("dipper.dump", "dipper.cfg", "--everything", "--format", "json"))
    own = [entry for entry in every if entry["raw"]]
    assert own
    brief = " ".join(diff("dipper.dump", "dipper.cfg").out.split())
    assert "lines without a neutral meaning not compared" in brief
    assert json.loads(diff("dipper.dump", "dipper.cfg", "--format", "json").out)["left_out"] == len(
        every
    )


def test_the_own_lines_of_one_dialect_are_compared(diff: Diff, edited: Edited) -> None:
    text = DUMP.replace("soft_start = 3", "soft_start = 4")
    assert text != DUMP
    answer = diff("dipper.dump", edited("new.dump", text), "--format", "json")
    assert [(c["raw"], c["path"], c["old"], c["new"]) for c in listed(answer)] == [
        (True, "drive/soft_start", "3", "4")
    ]


def test_a_field_that_no_mapping_names_is_compared_too(diff: Diff, edited: Edited) -> None:
    row, other = "P6,1,96,no,yes,no,8", "P6,1,96,no,yes,no,20"
    text = (CORPUS / "goosander.dump").read_text(encoding="utf-8")
    assert text.count(row) == 1
    before, after = edited("a.dump", text), edited("b.dump", text.replace(row, other))
    assert diff(before, before, "--exit-code").status == 0
    answer = diff(before, after, "--exit-code", "--format", "json")
    assert answer.status == 1
    (change,) = listed(answer)
    assert (change["path"], change["raw"]) == ("plugs/P6/field 7", True)


def test_moved_sections_and_lines_are_no_change(diff: Diff, edited: Edited) -> None:
    lines = DUMP.splitlines(keepends=True)
    start = next(i for i, line in enumerate(lines) if line.startswith("# ports"))
    stop = next(i for i, line in enumerate(lines) if line.endswith(" lines told.\n"))
    part = "".join(lines[start:stop])
    sections = re.split(r"\n\n(?=(?:#.*\n)*\[)", part.rstrip("\n"))  # each with its comments
    end = part[len(part.rstrip("\n")) :]
    moved = "".join([*lines[:start], "\n\n".join(reversed(sections)), end, *lines[stop:]])
    assert sorted(moved.splitlines()) == sorted(DUMP.splitlines())
    assert moved != DUMP
    answer = diff("dipper.dump", edited("new.dump", moved), "--everything", "--exit-code")
    assert answer.status == 0
    assert "No change." in answer.out

    swapped = DUMP.replace("cell_low = 350\ncell_dry = 330\n", "cell_dry = 330\n\n  cell_low=350\n")
    assert swapped != DUMP
    assert "No change." in diff("dipper.dump", edited("newer.dump", swapped), "--everything").out


SPELLINGS = [  # each is another way to say the same, by the vocabulary's units and words
    ("ports.uart2.baud = 57600 Bd", "ports.uart2.baud = 57.6 kBd"),
    ("ports.uart2.baud = 57600 Bd", "ports.uart2.baud = 57600"),
    ("frame.arms.front_left.x = 78 mm", "frame.arms.front_left.x = 0.078 m"),
    ("frame.arms.front_left.x = 78 mm", "frame.arms.front_left.x = 7.8 cm"),
    ("ports.uart1.inverted = on", "ports.uart1.inverted = YES"),
    ("ports.uart1.inverted = on", "[ports.uart1]\ninverted = true\n[]"),
    ("ports.uart2.inverted = off", "ports.uart2.inverted = no   #"),
    ("craft.name = dipper", 'craft.name = "dipper"'),
]


@pytest.mark.parametrize(("old", "new"), SPELLINGS)
def test_another_spelling_or_unit_is_no_change(
    diff: Diff, edited: Edited, old: str, new: str
) -> None:
    assert PLAIN.count(old + "\n") == 1
    if new.endswith("[]"):  # a section head stands at the end, so that no other line is below it
        text = PLAIN.replace(old + "\n", "") + new.removesuffix("[]")
    else:
        text = PLAIN.replace(old + "\n", new + "\n")
    answer = diff("dipper.cfg", edited("new.cfg", text), "--everything", "--exit-code")
    assert (answer.status, answer.err) == (0, "")
    assert "No change." in answer.out


CHANGES = [
    ("ports.uart2.baud = 57600 Bd", "ports.uart2.baud = 57601 Bd", 57600, 57601),
    ("ports.uart1.inverted = on", "ports.uart1.inverted = off", True, False),
    ("frame.arms.front_left.x = 78 mm", "frame.arms.front_left.x = 78 cm", 0.078, 0.78),
]


@pytest.mark.parametrize(("old", "new", "was", "is_now"), CHANGES)
def test_another_value_is_one_change_with_both_places(
    diff: Diff, edited: Edited, old: str, new: str, was: object, is_now: object
) -> None:
    file = edited("new.cfg", PLAIN.replace(old + "\n", new + "\n"))
    answer = diff("dipper.cfg", file, "--exit-code", "--format", "json")
    (change,) = listed(answer)
    line = PLAIN[: PLAIN.index(old)].count("\n") + 1
    assert answer.status == 1
    assert (change["kind"], change["path"]) == ("changed", old.split(" = ")[0])
    assert change["old"] == pytest.approx(was)
    assert change["new"] == pytest.approx(is_now)
    assert (change["old_place"]["file"], change["old_place"]["line"]) == ("dipper.cfg", line)
    assert (change["new_place"]["file"], change["new_place"]["line"]) == (file, line)


def test_the_status_tells_of_differences_only_when_asked(diff: Diff) -> None:
    assert diff("dipper.dump", "sandpiper.dump").status == 0
    assert diff("dipper.dump", "sandpiper.dump", "--exit-code").status == 1
    assert diff("dipper.dump", "dipper.dump", "--exit-code").status == 0


def test_what_belongs_to_one_craft_or_counts_by_itself_is_listed_on_request(
    diff: Diff, edited: Edited
) -> None:
    text = DUMP.replace("called = dipper", "called = ouzel").replace(
        "hours_flown = 37", "hours_flown = 38"
    )
    text = re.sub("plate = .*", "plate = RS-0099", text)  # another craft
    file = edited("new.dump", text)
    brief = diff("dipper.dump", file, "--exit-code")
    assert brief.status == 0
    assert "No change, 3 more that belong to the one craft or count by themselves" in brief.out
    for form in ("terminal", "markdown"):
        said = " ".join(diff("dipper.dump", file, "--format", form).out.split())
        told = said.replace("\\", "")
        assert 'Another craft\'s dump: craft.serial, craft.name "dipper" to "ouzel".' in told
    assert "Another" not in diff("dipper.dump", edited("own.dump", DUMP)).out
    every = diff("dipper.dump", file, "--everything", "--exit-code", "--format", "json")
    assert every.status == 1
    assert [c["path"] for c in listed(every)] == [
        "craft.name",
        "craft.serial",
        "craft/hours_flown",
    ]


def test_what_belongs_to_one_craft_is_told_of_one_and_the_same_craft(
    diff: Diff, edited: Edited
) -> None:
    text = DUMP.replace("magnets = 14", "magnets = 12").replace("weir-team", "M. Thorn")
    file = edited("new.dump", text)
    answer = diff("dipper.dump", file, "--exit-code", "--format", "json")
    assert (answer.status, json.loads(answer.out)["one_craft"]) == (1, True)
    assert [(c["path"], c["old"], c["new"]) for c in listed(answer)] == [
        ("motors.poles", 14, 12),
        ("craft.owner", "(hidden)", "(hidden)"),
    ]
    other = edited("other.dump", re.sub("plate = .*", "plate = RS-0099", text))
    assert listed(diff("dipper.dump", other, "--format", "json")) == []


def test_a_comment_that_comes_goes_or_moves_is_told(diff: Diff, edited: Edited) -> None:
    said = "CRACKED, do not fly; ask weir-team or reed@example.org"
    old = DUMP.replace("cell_low = 350", f"# {said}\ncell_low = 350")
    new = DUMP.replace("cell_dry = 330", f"cell_dry = 330   #{said}")
    answer = diff("dipper.dump", edited("a.dump", old), "--exit-code", "--format", "json")
    comments = json.loads(answer.out)["comments"]
    hidden = "CRACKED, do not fly; ask (hidden) or (hidden)"
    assert (answer.status, comments["removed"]) == (1, [])
    assert [(c["about"], c["text"]) for c in comments["added"]] == [("battery.warn_cell", hidden)]
    assert comments["added"][0]["place"]["line"] == DUMP[: DUMP.index("cell_low")].count("\n") + 1
    moved = diff(edited("a.dump", old), edited("b.dump", new), "--format", "json")
    comments = json.loads(moved.out)["comments"]
    assert [c["about"] for c in comments["added"]] == ["battery.empty_cell"]
    assert [c["about"] for c in comments["removed"]] == ["battery.warn_cell"]
    assert "# CRACKED, do not fly" in diff("dipper.dump", edited("a.dump", old)).out


def test_the_value_of_a_stage_that_is_off_is_told(diff: Diff, edited: Edited) -> None:
    assert "hollow_at = 0\nhollow_q = 300\n" in DUMP  # 0 Hz: the notch is off
    file = edited("new.dump", DUMP.replace("hollow_q = 300", "hollow_q = 400"))
    answer = diff("dipper.dump", file, "--exit-code", "--format", "json")
    assert answer.status == 1
    assert [(c["path"], c["old"], c["new"]) for c in listed(answer)] == [
        ("filters.gyro[hollow].q", "300", "400")
    ]


def test_every_dump_of_a_file_is_compared(diff: Diff, edited: Edited) -> None:
    both = DUMP + DUMP.replace("called = dipper", "called = ouzel")
    old = edited("old.txt", both)
    late = both[::-1].replace("053 = wol_llec", "043 = wol_llec", 1)[::-1]
    answer = diff(old, edited("new.txt", late), "--exit-code", "--format", "json")
    told = json.loads(answer.out)
    assert (answer.status, told["changes"]) == (1, [])
    (further,) = told["further"]
    assert [(c["path"], c["new"]) for c in further["changes"]] == [("battery.warn_cell", 3.4)]
    assert further["new"].endswith("new.txt#2")
    alone = diff(old, edited("one.txt", DUMP), "--exit-code", "--format", "json")
    (further,) = json.loads(alone.out)["further"]
    assert alone.status == 1
    assert {c["kind"] for c in further["changes"]} == {"removed"}
    assert diff(old, old, "--exit-code").status == 0


def test_the_gravest_changes_come_first(diff: Diff) -> None:
    order = ["safety", "power", "control", "radio", "comfort", "identity", None]
    found = listed(diff("dipper.dump", "sandpiper.dump", "--format", "json"))
    ranks = [order.index(change["class"]) for change in found]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) >= 4


def test_the_summary_is_one_line_and_the_stat_counts_every_change(diff: Diff) -> None:
    found = listed(diff("dipper.dump", "sandpiper.dump", "--format", "json"))
    summary = diff("dipper.dump", "sandpiper.dump", "--summary").out
    assert summary.count("\n") == 1
    assert summary.startswith(f"{len(found)} changes")
    told = diff("dipper.dump", "sandpiper.dump", "--stat").out
    head, *rows = told.partition("\n\n")[0].splitlines()
    assert head.split() == ["touches", "area", "changes"]
    assert sum(int(row.split()[-1]) for row in rows) == len(found)
    safety = sum(c["class"] == "safety" and c["path"].startswith("motors.") for c in found)
    assert ["safety", "motors", str(safety)] in [row.split() for row in rows]


def test_the_findings_that_a_change_brings_and_clears_are_told(diff: Diff, edited: Edited) -> None:
    old = "battery.warn_cell = 3.5 V"
    assert old in PLAIN
    file = edited("new.cfg", PLAIN.replace(old, "battery.warn_cell = 99 V"))
    there = json.loads(diff("dipper.cfg", file, "--format", "json").out)
    assert "dump/value-impossible" in [f["rule"] for f in there["findings_new"]]
    back = json.loads(diff(file, "dipper.cfg", "--format", "json").out)
    assert "dump/value-impossible" in [f["rule"] for f in back["findings_cleared"]]
    assert "this change brings" in diff("dipper.cfg", file).out
    assert "this change clears" in diff(file, "dipper.cfg").out


def test_a_side_from_standard_input_is_called_as_told() -> None:
    old = (CORPUS / "dipper.dump").read_bytes()
    told = run("diff", "-", "sandpiper.dump", "--stdin-name", "dipper before", stdin=old)
    assert told.out.startswith("dipper before  to  sandpiper.dump\n")
    untold = run("diff", "sandpiper.dump", "-", "--format", "json", stdin=old)
    assert json.loads(untold.out)["new"] == "standard input"


LAMPS = "".join(f"lamp {n} {5 * n} 0 white wake\n" for n in range(97))
NOTES = "".join(f"note = {n}\n" for n in range(97))


@pytest.mark.parametrize(
    ("old", "new", "kinds"),
    [
        (LAMPS, LAMPS + "lamp 3 99 0 amber wake\n", ["added"]),  # its second word alone tells less
        (LAMPS, "lamp 3 99 0 amber wake\n" + LAMPS, ["added"]),
        (LAMPS, LAMPS.replace("lamp 50 250 0 white wake\n", ""), ["removed"]),
        (LAMPS, LAMPS.replace("250 0 white", "250 0 amber"), ["changed"]),
        (NOTES, "note = z\n" + NOTES, ["added"]),
        (NOTES, NOTES.replace("note = 40\n", ""), ["removed"]),
        # the last one may be what holds: two in another order are two changes
        ("note = 1\nnote = 2\n", "note = 2\nnote = 1\n", ["changed", "changed"]),
    ],
)
def test_a_row_of_an_unmapped_list_is_one_change(
    diff: Diff, edited: Edited, old: str, new: str, kinds: list[str]
) -> None:
    answer = diff(edited("a.txt", old), edited("b.txt", new), "--format", "json", "--everything")
    assert [change["kind"] for change in listed(answer)] == kinds


def test_a_new_value_that_brings_an_error_is_painted_as_one_and_never_green(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    arguments = ["diff", "dipper.dump", "faulty/dipper-after-repair.dump", "--color", "always"]
    out = call(monkeypatch, arguments).out
    line = next(line for line in out.splitlines() if "switches.arm" in line and " to " in line)
    assert "\x1b[1;31m5: 900..1500 us" in line  # bold red, as ECMA-48 has it
    assert "\x1b[32m" not in out.split("\n", 1)[1]


# what arms it at the bench, then what lets it fall, then what flips it, then a lost reading
BY_DANGER = (
    "switch/armed-at-failsafe-value",
    "failsafe/throttle-closes",
    "motor/neighbours-alike",
    "telemetry/enabled-unassigned",
)


@pytest.mark.parametrize(
    "arguments",
    [
        ("diff", "dipper.dump", "faulty/dipper-after-repair.dump"),
        ("check", "faulty/dipper-after-repair.dump", "--long"),
    ],
    ids=["diff", "check"],
)
@pytest.mark.parametrize("form", ["terminal", "json", "github", "sarif"])
def test_findings_come_by_danger_in_every_format(
    monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...], form: str
) -> None:
    out = call(monkeypatch, [*arguments, "--format", form]).out
    if form == "sarif":  # before its results it lists the rules, by name
        out = json.dumps(json.loads(out)["runs"][0]["results"])
    places = [out.index(rule) for rule in BY_DANGER]
    assert places == sorted(places)

"""One craft's whole job, from a dump and no sheet to a fleet: what each step says of it.

The craft, its firmware and its dialect are made up for this test (tests/work/spoonbill). Every
expected value was read by hand off the dump, the dialect and the sheet there.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.calling import Answer, call
from tests.reports.schemas import validate
from tests.work.spoonbill import DIALECT, DUMP, filled, under

SHEET, CRAFT = "spoonbill.build.toml", "spoonbill.dump"

# Ten mistakes: the section, the right line, the wrong one, the rule, whether its mend is sure.
MISTAKES = (
    ("port east", "pace: 576", "pace: 96", "serial/baud-mismatch", True),
    ("port east", "crossed: no", "crossed: yes", "serial/pins-swapped", True),
    ("port north", "upside: yes", "upside: no", "serial/inversion-mismatch", True),
    ("lost", "does: drop", "does: carry_on", "failsafe/none", False),
    ("pack", "low: 70", "low: 64", "battery/threshold-order", False),
    ("pack", "cells: 3", "cells: 4", "battery/cells-mismatch", True),
    ("senses", "board_yaw: 0", "board_yaw: 90", "sensor/board-rotation", True),
    ("corner left_bow", "swing: -100", "swing: 100", "motor/mixer-lopsided", True),
    ("waking", "tilt: 25", "tilt: 180", "sensor/any-attitude-arming", True),
    ("drive", "both_ways: no", "both_ways: yes", "esc/reversible-by-surprise", True),
)
MEASURED = {
    "switched-video": "9.05 V", "limiter": "0.5 A", "rail-5V": "5.02 V", "rail-video": "8.9 V",
    "rail-pack": "11.6 V", "failsafe": "1.4 s", "motor-front_left": "cw",
    "motor-front_right": "ccw", "motor-rear_left": "ccw", "motor-rear_right": "cw",
    "voltage": "11.6 11.6", "video-frequency": "5805 MHz", "charged": "12.5 V",
}  # fmt: skip


class Job:
    """The folder of the job, and the commands given in it."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch) -> None:
        self.folder, self.patch = folder, patch

    def run(self, *words: str) -> Answer:
        return call(self.patch, list(words), cwd=self.folder)

    def told(self, command: str, *words: str) -> dict[str, Any]:
        answer = self.run(command, *words, "--format", "json")
        assert answer.out, answer.err
        said: dict[str, Any] = json.loads(answer.out)
        validate(said, command)
        return said

    def put(self, name: str, text: str) -> None:
        (self.folder / name).write_text(text, encoding="utf-8")

    def get(self, name: str) -> str:
        return (self.folder / name).read_text(encoding="utf-8")

    def steps(self) -> dict[str, dict[str, Any]]:
        said = self.told("bench", SHEET, CRAFT)
        return {step["id"]: step for part in said["sections"] for step in part["steps"]}

    def states(self, state: str) -> list[str]:
        return [name for name, step in self.steps().items() if step["state"] == state]

    def do(self, *names: str) -> Answer:
        told = [f"--done={name}={MEASURED.get(name, '')}".rstrip("=") for name in names]
        return self.run("bench", SHEET, CRAFT, *told)


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Job:
    made = Job(tmp_path, monkeypatch)
    made.put("burnet.toml", DIALECT.read_text(encoding="utf-8"))
    made.put(
        "cfgaudit.toml",
        f'[cfgaudit]\ndialects = ["burnet.toml"]\n[craft.spoonbill]\nbuild = "{SHEET}"\n',
    )
    made.put(CRAFT, DUMP)
    return made


def test_a_craft_goes_through_the_whole_job(job: Job) -> None:
    the_sheet_from_nothing(job)
    a_plan_of_the_ports(job)
    ten_mistakes_are_found_and_mended(job)
    what_was_written_is_confirmed(job)
    the_list_is_worked_down(job)
    a_device_soldered_elsewhere_opens_the_list_again(job)
    the_firmware_is_upgraded(job)
    a_second_craft_is_set_up(job)
    the_fleet_is_looked_at(job)


def the_sheet_from_nothing(job: Job) -> None:
    assert job.run("bench", "--new", CRAFT, "--output", "new.toml").status == 0
    job.put(SHEET, filled(job.get("new.toml")))
    added = job.run("bench", "--new", CRAFT, "--into", SHEET)
    assert added.status == 0
    errors = [
        finding
        for finding in job.told("check", CRAFT)["dumps"][0]["findings"]
        if finding["level"] != "note"
    ]
    assert errors == []


def a_plan_of_the_ports(job: Job) -> None:
    said = job.told("allot", SHEET, CRAFT)
    assert {one["name"]: one["port"] for one in said["devices"]} == {
        "receiver": "north", "telemetry": "east", "video_transmitter": "south",
    }  # fmt: skip
    assert (said["console"], said["free"], said["files"]) == ("plug", ["west"], [])


def ten_mistakes_are_found_and_mended(job: Job) -> None:
    wrong = DUMP
    for head, right, mistake, _, _ in MISTAKES:
        wrong = under(head, right, wrong, mistake)
    job.put(CRAFT, wrong)
    rules = {f["rule"] for f in job.told("check", CRAFT)["dumps"][0]["findings"]}
    assert {rule for *_, rule, _ in MISTAKES} <= rules
    audit = job.steps()["audit"]
    assert audit["state"] == "failed"
    assert "errors" in audit["entry"]["says"]
    refused = job.do("audit")
    assert (refused.status, "never ticked" in refused.err) == (2, True)

    lines = job.run("mend", CRAFT, "--lines").out
    assert "[port east]\npace: 576\ncrossed: no\n" in lines
    assert "MEND" not in lines
    said = job.told("mend", CRAFT, "--write")
    assert job.get(f"{CRAFT}.before") == wrong
    right = DUMP
    for head, line, mistake, _, sure in MISTAKES:
        if not sure:
            right = under(head, line, right, mistake)
    assert job.get(CRAFT) == right
    assert {f["rule"] for f in said["findings_after"] if f["level"] == "error"} == {
        "failsafe/none", "battery/threshold-order",
    }  # fmt: skip
    assert not [f for f in said["findings_new"] if f["level"] != "note"]


def what_was_written_is_confirmed(job: Job) -> None:
    """A file of the mistakes stands for what the craft had; burnet counts a cell in 0.05 V."""
    job.put(
        "wanted.cfg",
        "arming.max_tilt = 25 deg\nbattery.capacity = 1300 mAh\nbattery.warn_cell = 3.52 V\n"
        "failsafe.action = motors_off\n",
    )
    back = under("waking", "tilt: 25", DUMP, "tilt: 180")
    job.put("back.dump", under("pack", "holds: 850", back, "holds: 1000"))
    order = ["wanted.cfg", "back.dump"]
    said = job.told("confirm", *order, "--before", f"{CRAFT}.before")
    assert {one["path"]: one["fate"] for one in said["settings"]} == {
        "arming.max_tilt": "ignored", "battery.capacity": "clamped",
        "battery.warn_cell": "rounded", "failsafe.action": "taken",
    }  # fmt: skip
    assert said["doubts"] == []
    assert said["again"]["lines"] == ["[waking]", "tilt: 25"]
    lines = job.run("confirm", *order, "--before", f"{CRAFT}.before", "--lines")
    assert (lines.status, lines.out) == (1, "[waking]\ntilt: 25\n")
    fates = {one["path"]: one["fate"] for one in job.told("confirm", *order)["settings"]}
    assert fates["battery.capacity"] == "other"  # nothing tells what it was
    job.put("cut.dump", DUMP[: DUMP.index("[senses]")])
    assert "behind it" in job.told("confirm", "wanted.cfg", "cut.dump")["doubts"][0]
    job.put(CRAFT, DUMP)  # what was left is mended by hand
    assert job.told("confirm", CRAFT, CRAFT)["amiss"] == 0


def the_list_is_worked_down(job: Job) -> None:
    every = job.steps()
    todo = [name for name in every if name != "audit"]
    assert job.states("open") == ["propellers-off"]
    assert job.run("bench", SHEET, CRAFT, "--done", "hover").status == 2
    half = todo.index("motor-front_left")
    assert job.do(*todo[:half]).status == 0
    failed = job.run("bench", SHEET, CRAFT, "--done", "motor-front_left=ccw", "--seen", "smooth")
    assert (failed.status, "swap two of its" in failed.out) == (1, True)
    step = job.steps()["motor-front_left"]
    assert (step["state"], step["entry"]["seen"]) == ("failed", "smooth")
    assert job.do(*todo[half:]).status == 0
    assert set(job.states("done")) == set(every)


def a_device_soldered_elsewhere_opens_the_list_again(job: Job) -> None:
    """Telemetry goes from east to west, on the sheet first and by mend in the dump."""
    sheet = job.get(SHEET)
    assert sheet.count('port = "east"') == 1
    job.put(SHEET, sheet.replace('port = "east"', 'port = "west"'))
    steps = job.steps()
    assert steps["audit"]["state"] == "failed"
    assert "serial/wired-elsewhere" in steps["audit"]["entry"]["says"]
    assert steps["propellers-off"]["state"] == "open"  # they are on, and a meter is wanted
    assert steps["propellers-off"]["again"] == "the propellers were put on since"
    for name in ("joints", "polarity", "continuity", "limiter", "port-telemetry"):
        assert steps[name]["state"] == "shut"
        assert steps[name]["again"] == 'sheet.devices.telemetry.port was "east" and is "west"'
    assert steps["sticks"]["again"] is None

    planned = job.run("allot", SHEET, CRAFT, "--lines").out
    assert "[port west]\njob: herald\npace: 576\n" in planned
    assert job.told("mend", CRAFT, "--write")["mended"]
    assert "[port west]\njob: herald\npace: 576\n" in job.get(CRAFT)
    assert job.do("propellers-off").status == 0
    assert job.steps()["audit"]["entry"]["says"] == "no error is left"
    again = ("joints", "polarity", "continuity", "switched-video", "limiter", "warm")
    steps = job.steps()
    assert job.do(*(name for name in again if steps[name]["again"])).status == 0
    steps = job.steps()
    assert (steps["motor-front_left"]["state"], steps["port-telemetry"]["state"]) == (
        "done",
        "open",
    )
    assert steps["propellers-on"]["state"] == "shut"
    assert job.do("port-telemetry", "propellers-on").status == 0
    assert job.steps()["nuts"]["again"] == "propellers-on was done once more since"


def the_firmware_is_upgraded(job: Job) -> None:
    """Before 3 burnet called trickle whisper; the tilt went back to any."""
    new = job.get(CRAFT)
    job.put("old.dump", new.replace("burnet 3.1.0", "burnet 2.9.4").replace("trickle", "whisper"))
    job.put("new.dump", under("waking", "tilt: 25", new, "tilt: 180"))
    said = job.told("upgrade", "old.dump", "new.dump", "--everything")
    fates = {one["path"]: one for one in said["settings"]}
    assert fates["esc.idle"]["fate"] == "carried"
    assert fates["arming.max_tilt"]["may_be_lost"] is True
    job.put(
        "factory.dump", "# burnet 3.1.0 minds a Reedmace 5\n[waking]\ntilt: 180\nburnet rests\n"
    )
    lines = job.run("upgrade", "old.dump", "new.dump", "--new-factory", "factory.dump", "--lines")
    assert lines.out.count("tilt: 25") == 1


def a_second_craft_is_set_up(job: Job) -> None:
    other = DUMP.replace("called: spoonbill", "called: spoonbill 2")
    for head, old, new in (
        ("corner left_bow", "outlet: 3", "outlet: 1"),
        ("corner right_bow", "outlet: 1", "outlet: 3"),
        ("pad m1", "for: right_bow", "for: left_bow"),
        ("pad m3", "for: left_bow", "for: right_bow"),
        ("bank 1", "roll_rate: 600", "roll_rate: 300"), ("pack", "holds: 850", "holds: 450"),
    ):  # fmt: skip
        other = under(head, old, other, new)
    job.put("second.dump", other)
    said = job.told("carry", CRAFT, "second.dump", "--write")
    assert [one["path"] for one in said["carried"]] == ["banks.1.rates.roll.max"]
    assert {"motors.front_left.output", "battery.capacity"} <= set(said["left_as_built"])
    assert job.get("second.dump") == other.replace("roll_rate: 300", "roll_rate: 600")
    job.put("bad.cfg", "failsafe.action = none\n")
    assert job.run("carry", "bad.cfg", "second.dump", "--lines").out == ""
    asked = ("carry", "bad.cfg", "second.dump", "--only", "failsafe")
    assert job.run(*asked, "--lines").out == "[lost]\ndoes: carry_on\n"
    refused = job.run(*asked, "--write")
    assert (refused.status, "failsafe/none" in refused.err) == (2, True)


def the_fleet_is_looked_at(job: Job) -> None:
    (job.folder / "fleet").mkdir()
    job.put("fleet/cfgaudit.toml", '[cfgaudit]\ndialects = ["../burnet.toml"]\n')
    job.put("fleet/one.dump", job.get(CRAFT))
    job.put("fleet/two.dump", job.get("second.dump"))
    job.put("fleet/three.dump", DUMP[: DUMP.index("[senses]")])
    job.put("fleet/notes.txt", "the second pack is swollen\n")
    said = job.told("fleet", "fleet")
    assert [Path(one["file"]).name for one in said["dumps"]] == [
        "one.dump",
        "three.dump",
        "two.dump",
    ]
    assert "fleet/notes.txt" in said["passed_over"]
    assert "fleet/notes.txt" in job.run("fleet", "fleet").out

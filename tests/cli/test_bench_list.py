"""`bench BUILD [DUMP]`: the list, what is recorded of it, and two runs at once."""

import json
import re
import shutil
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import click
import pytest

from cfgaudit.cli.bench import Moment
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.work.judging import judge
from cfgaudit.work.record import RecordEntry, StepOutcome, read_record, with_entry, working_list
from cfgaudit.work.steps import known_of
from tests.audit.seeding import settings_of
from tests.cli.calling import CORPUS, Answer, call, environment
from tests.reports.schemas import validate

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
FILES = ("dipper.build.toml", "dipper.dump")
COLD = ("propellers-off", "joints", "antenna-video", "antenna-receiver", "bridge-video",
        "polarity", "motor-screws", "bells", "propeller-balance", "continuity")  # fmt: skip
WARM = (("switched-video", "10.1 V"), ("limiter", "0.6 A"), ("warm", ""),
        ("rail-pack", "15.4 V"), ("rail-5V", "5.02 V"),
        ("rail-video", "10.1 V"), ("console", ""))  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in (*FILES, "cfgaudit.toml"):
        shutil.copy(CORPUS / name, tmp_path)
    for name in ("sandpiper", "wagtail", "goosander"):  # cfgaudit.toml names them
        shutil.copy(CORPUS / f"{name}.build.toml", tmp_path)
    shutil.copytree(CORPUS / "dialects", tmp_path / "dialects")
    return tmp_path


def bench(patch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> Answer:
    return call(patch, ["bench", *FILES, *arguments], cwd=folder)


def told(patch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(bench(patch, folder, *arguments, "--format", "json").out)
    validate(said, "bench")
    return said


def states(patch: pytest.MonkeyPatch, folder: Path) -> dict[str, str]:
    said = told(patch, folder)
    return {step["id"]: step["state"] for part in said["sections"] for step in part["steps"]}


def do(patch: pytest.MonkeyPatch, folder: Path, *steps: tuple[str, str]) -> None:
    for step, value in steps:
        more = ["--value", value] if value else []
        assert bench(patch, folder, "--done", step, *more).status == 0


def warmed(folder: Path) -> Path:
    """Dipper's record with its first power behind it; the list's own steps, put in at once."""
    done = {**dict.fromkeys(COLD, ""), **dict(WARM)}
    return recorded(folder, done)


def recorded(folder: Path, done: dict[str, str]) -> Path:
    """A record that has these steps done, judged one after the other."""
    sheet = read_sheet((CORPUS / FILES[0]).read_bytes(), FILES[0])
    text = ""
    for step in working_list(known_of(settings_of("dipper"), sheet)):
        if step.id in done:
            verdict = judge(step, done[step.id])
            assert verdict.passed, step.id
            entry = RecordEntry(
                step.id, AT, StepOutcome.DONE, done[step.id], verdict.says, "", step.proves
            )
            text = with_entry(text, entry)
    path = folder / "dipper.bench.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_list_is_shown_and_nothing_is_written(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = bench(monkeypatch, folder)
    assert answer.status == 0
    assert answer.out.count("\n[-] ") + answer.out.count("\n[ ] ") == 61
    assert not (folder / "dipper.bench.toml").exists()
    assert "Next: propellers-off." in answer.out


def test_lines_fit_on_a_narrow_screen(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    for more in ([], ["--left"]):
        assert max(map(len, bench(monkeypatch, folder, *more).out.splitlines())) <= 80


def test_no_screen_calls_a_craft_safe(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    out = bench(monkeypatch, folder).out.lower().replace("failsafe", "")
    assert not re.search(r"\bsafe\b", out)


def test_a_shut_step_is_refused_and_says_what_comes_first(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = bench(monkeypatch, folder, "--done", "warm")
    assert answer.status == 2
    assert answer.out == ""
    assert "warm is not open yet: opens after limiter" in answer.err
    assert not (folder / "dipper.bench.toml").exists()


def test_a_step_is_recorded_with_its_time_and_opens_the_next(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    answer = bench(monkeypatch, folder, "--done", "propellers-off", "--at", "2026-11-25T09:30")
    assert "Open now: joints, antenna-video, antenna-receiver and propeller-balance." in answer.out
    (entry,) = read_record((folder / "dipper.bench.toml").read_text(encoding="utf-8"))
    assert entry.at == datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
    assert "2026-11-25 09:30 UTC" in bench(monkeypatch, folder).out


def test_the_time_is_the_machine_s_where_none_is_given(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    before = datetime.now(UTC).replace(microsecond=0)
    bench(monkeypatch, folder, "--done", "propellers-off")
    (entry,) = read_record((folder / "dipper.bench.toml").read_text(encoding="utf-8"))
    assert before <= entry.at <= datetime.now(UTC)


@pytest.mark.parametrize(
    ("words", "before"),
    [
        ("now", timedelta()),
        ("20 minutes ago", timedelta(minutes=20)),
        ("an hour ago", timedelta(hours=1)),
        ("2 days ago", timedelta(days=2)),
    ],
)
def test_a_time_can_be_said_in_words(words: str, before: timedelta) -> None:
    first = datetime.now(UTC).replace(tzinfo=None)
    at = Moment().convert(words, None, None)
    assert first - before <= at <= datetime.now(UTC).replace(tzinfo=None) - before


@pytest.mark.parametrize(
    "word", ["2026-12-31 16:45", "2026-12-31T16:45", "2026-12-31 16:45:00Z", "2026-12-31T16:45Z"]
)
def test_a_time_is_written_as_the_help_and_the_fault_write_it(word: str) -> None:
    assert Moment().convert(word, None, None) == datetime(2026, 12, 31, 16, 45)
    with pytest.raises(click.BadParameter, match=r"2026-12-31 16:45"):
        Moment().convert("soon", None, None)


def test_an_hour_is_of_today_or_of_yesterday() -> None:
    at = [Moment().convert(word, None, None) for word in ("today 09:30", "yesterday at 9:30")]
    assert [(one.hour, one.minute, one.second) for one in at] == [(9, 30, 0)] * 2
    assert timedelta(hours=23) < at[0] - at[1] < timedelta(hours=49)


def test_several_steps_are_recorded_at_once_and_what_was_seen_is_kept(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    warmed(folder)
    several = ["--done", "voltage=15.61 V, shown 15.6 V", "--done", "level"]
    said = told(monkeypatch, folder, "--done", "calibrate-accelerometer", *several)
    assert [one["step"] for one in said["all_recorded"]] == [
        "calibrate-accelerometer", "voltage", "level",
    ]  # fmt: skip
    bench(monkeypatch, folder, "--done", "port-position", "--seen", "9 satellites")
    entries = read_record((folder / "dipper.bench.toml").read_text(encoding="utf-8"))
    assert (entries[-1].step, entries[-1].seen) == ("port-position", "9 satellites")
    assert any(line.startswith("ports.uart3.baud = ") for line in entries[-1].proves)


def test_a_port_that_a_wire_has_left_is_told_by_all_its_names(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    # corpus/dialects/sedge.toml: uart2 is brook2, uart4 is brook4
    do(monkeypatch, folder, ("propellers-off", ""), ("joints", ""))
    sheet = folder / "dipper.build.toml"
    text = sheet.read_text(encoding="utf-8")
    assert text.count('port = "uart2"') == 1
    sheet.write_text(text.replace('port = "uart2"', 'port = "uart4"'), encoding="utf-8")
    says = "once more: sheet.devices.telemetry.port was "
    says += '"uart2" and is "uart4" (uart2: brook2 in sedge; uart4: brook4 in sedge)'
    assert says in " ".join(bench(monkeypatch, folder).out.split())
    steps = [step for part in told(monkeypatch, folder)["sections"] for step in part["steps"]]
    joints = next(step for step in steps if step["id"] == "joints")
    assert (
        joints["called"].items() >= {"uart2": "brook2 in sedge", "uart4": "brook4 in sedge"}.items()
    )


def test_left_leaves_out_what_is_done(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    do(monkeypatch, folder, ("propellers-off", ""), ("joints", ""))
    left, whole = bench(monkeypatch, folder, "--left").out, bench(monkeypatch, folder).out
    assert "[x]" not in left
    assert "\n[ ] polarity\n" in left
    assert "[x] joints" in whole
    assert len(left.splitlines()) < len(whole.splitlines()) / 2


def test_a_voltage_that_is_off_gives_the_dump_s_own_line_and_shuts_the_propellers(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    """Hand calculation: 11 × 15.61 / 15.22 = 11.28187, in the dump's thousandths 11282."""
    warmed(folder)
    answer = bench(monkeypatch, folder, "--done", "voltage", "--value", "15.61 V, shown 15.22 V")
    assert answer.status == 1
    assert "battery.divider = 11.282\n" in answer.out
    assert "    [pack]\n    volts_split = 11282\n" in answer.out
    assert "shut until voltage is done" in answer.out
    assert "shut, for voltage failed" in bench(monkeypatch, folder, "--left").out
    said = told(monkeypatch, folder, "--done", "voltage", "--value", "15.61, shown 15.22")
    assert said["recorded"]["settings"] == [
        {"path": "battery.divider", "called": {}, "value": "11.282", "why_not": None}
    ]


def test_a_divider_by_which_a_full_pack_could_not_be_seen_is_given_no_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    """Hand calculation: 5.5 × 14.4 / 16 = 4.95, and 3.3 V × 4.95 = 16.3 V, below 4 × 4.2 V."""
    dump = folder / "dipper.dump"
    text = dump.read_text(encoding="utf-8").replace("volts_split = 11000", "volts_split = 5500")
    dump.write_text(text, encoding="utf-8")
    warmed(folder)
    said = told(monkeypatch, folder, "--done", "voltage", "--value", "14.4, shown 16")
    (setting,) = said["recorded"]["settings"]
    assert (setting["path"], setting["value"]) == ("battery.divider", "4.95")
    assert "it would bring an error, battery/divider-saturates" in setting["why_not"]
    assert said["recorded"]["files"] == []


def test_a_step_is_open_again_once_the_dump_has_the_new_value(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    warmed(folder)
    bench(monkeypatch, folder, "--done", "voltage", "--value", "15.61 V, shown 15.22 V")
    assert states(monkeypatch, folder)["voltage"] == "failed"
    dump = folder / "dipper.dump"
    text = dump.read_text(encoding="utf-8").replace("volts_split = 11000", "volts_split = 11282")
    dump.write_text(text, encoding="utf-8")
    assert states(monkeypatch, folder)["voltage"] == "open"
    do(monkeypatch, folder, ("voltage", "15.61 V, shown 15.6 V"))
    assert states(monkeypatch, folder)["voltage"] == "done"


def test_a_current_s_offset_is_rounded_to_the_dump_s_steps(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    """Hand calculation: -12 + (1.13 - .6) × 26.4 = 1.992 mV, in whole millivolts 2."""
    warmed(folder)
    answer = bench(monkeypatch, folder, "--done", "current", "--value", "0.6 A, shown 1.13 A")
    assert "battery.current_offset = 2 mV\n" in answer.out
    assert "    amps_zero = 2" in answer.out


def test_a_motor_that_turns_wrongly_fails(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    warmed(folder)
    answer = bench(monkeypatch, folder, "--done", "motor-rear_left", "--value", "rear_left cw")
    assert answer.status == 1
    assert "must turn anticlockwise" in answer.out


def test_undo_takes_a_step_back_and_keeps_that_it_was_done(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    record = warmed(folder)
    before = record.read_bytes()
    answer = bench(monkeypatch, folder, "--undo", "joints")
    assert answer.status == 0
    assert "shut again" in answer.out
    assert record.read_bytes().startswith(before)
    found = states(monkeypatch, folder)
    assert (found["joints"], found["limiter"]) == ("open", "shut")
    assert bench(monkeypatch, folder, "--undo", "joints").status == 2
    do(monkeypatch, folder, ("joints", ""))
    found = states(monkeypatch, folder)
    assert (found["polarity"], found["limiter"]) == ("open", "shut")


def test_the_last_step_ends_the_list(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    values = {
        "failsafe": "1 s", "voltage": "15.61 15.6", "current": "0.6 0.6", "charged": "16.7 V",
        "video-frequency": "5815 MHz", "charge": "410 405", **dict(WARM),
        "motor-front_left": "cw", "motor-front_right": "ccw",
        "motor-rear_left": "ccw", "motor-rear_right": "rear_right cw",
    }  # fmt: skip
    every = states(monkeypatch, folder)
    recorded(
        folder, {step: values.get(step, "") for step in every if step not in ("audit", "keep")}
    )
    assert [step for step, state in states(monkeypatch, folder).items() if state != "done"] == [
        "keep"
    ]
    do(monkeypatch, folder, ("keep", ""))
    out = bench(monkeypatch, folder, "--left").out
    assert "Every step is done. A list worked through is no proof" in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--done", "propeller-off"], "Did you mean propellers-off?"),
        (["--undo", "joints"], "joints was not recorded"),
        (["--done", "joints", "--undo", "joints"], "can't go together"),
        (["--value", "3"], "go with --done"),
        (["--done", "audit"], "never ticked"),
        (["--done", "joints", "--done", "bells", "--value", "3"], "give each its own value"),
        (["--done", "propellers-off", "--done", "warm"], "nothing was recorded"),
        (["--done", "propellers-off", "--at", "tomorrow"], "'tomorrow' is no time"),
        (["--left", "--done", "joints"], "--left goes with the list"),
        (["--done", "propellers-off", "--value", "perhaps"], "yes or no is expected"),
        (["--new"], "takes one DUMP"),
        (["--overwrite"], "go with --new"),
    ],
)
def test_what_can_t_be_recorded_is_refused_in_a_line(
    monkeypatch: pytest.MonkeyPatch, folder: Path, arguments: list[str], says: str
) -> None:
    answer = bench(monkeypatch, folder, *arguments)
    assert answer.status == 2
    assert says in answer.err
    assert not (folder / "dipper.bench.toml").exists()


def test_a_record_that_can_t_be_read_is_left_alone(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    record = folder / "dipper.bench.toml"
    record.write_text("[[entry]\n", encoding="utf-8")
    answer = bench(monkeypatch, folder, "--done", "propellers-off")
    assert answer.status == 2
    assert "dipper.bench.toml is no TOML" in answer.err
    assert record.read_text(encoding="utf-8") == "[[entry]\n"


def test_text_from_a_record_is_shown_escaped(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    (folder / "dipper.bench.toml").write_text(
        '[[entry]]\nstep = "propellers-off"\nat = 2026-01-01T10:00:00Z\noutcome = "done"\n'
        'value = "\\u001b[2J"\n', encoding="utf-8",
    )  # fmt: skip
    assert "\x1b" not in bench(monkeypatch, folder).out


def test_several_runs_at_once_lose_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Real processes, started together: every one of them must be in the record."""
    do(monkeypatch, folder, ("propellers-off", ""))
    steps = ["joints", "antenna-video", "antenna-receiver"] * 2
    started = [
        subprocess.Popen(
            [sys.executable, "-m", "cfgaudit", "bench", *FILES, "--done", step],
            cwd=folder,
            env=environment(),
            stdout=subprocess.DEVNULL,
        )
        for step in steps
    ]
    assert [process.wait(timeout=900) for process in started] == [0] * len(steps)
    entries = read_record((folder / "dipper.bench.toml").read_text(encoding="utf-8"))
    assert sorted(entry.step for entry in entries) == sorted([*steps, "propellers-off"])
    assert [path.name for path in folder.glob(".*")] == [], "nothing is left lying about"


def test_a_run_waits_for_the_one_that_is_writing(folder: Path) -> None:
    """Another process holds the folder's lock; the run must not have written before it lets go."""
    held = subprocess.Popen(
        [
            sys.executable, "-c",
            "import fcntl, os, sys; d = os.open('.', os.O_RDONLY); fcntl.flock(d, fcntl.LOCK_EX); "
            "print('held', flush=True); sys.stdin.read(1)",
        ],
        cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    assert held.stdout is not None
    assert held.stdin is not None
    assert held.stdout.readline() == b"held\n"
    waiting = subprocess.Popen(
        [sys.executable, "-m", "cfgaudit", "bench", *FILES, "--done", "propellers-off"],
        cwd=folder, env=environment(), stdout=subprocess.DEVNULL,
    )  # fmt: skip
    with pytest.raises(subprocess.TimeoutExpired):
        waiting.wait(timeout=4)
    assert not (folder / "dipper.bench.toml").exists()
    held.communicate(b"x", timeout=900)
    assert waiting.wait(timeout=900) == 0
    assert (folder / "dipper.bench.toml").exists()


if sys.platform == "win32":  # the lock is another one there
    del test_a_run_waits_for_the_one_that_is_writing


def test_the_list_as_a_page_has_every_section_and_step(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    listed = told(monkeypatch, folder)
    page = bench(monkeypatch, folder, "--format", "html")
    steps = [step for section in listed["sections"] for step in section["steps"]]
    assert page.status == 0
    assert page.out.count('class="tick-box') == len(steps)
    assert all(f"<h3>{section['title']}</h3>" in page.out for section in listed["sections"])
    assert all(f"({step['id']})" in page.out for step in steps)
    assert page.out.count("<span>initials</span>") == page.out.count("<span>date</span>")
    assert page.out.count("<span>date</span>") == len(steps) - 1  # all but the audit
    assert page.out.count("<span>N V</span>") == 5
    assert "Files: dipper.build.toml, dipper.dump, dipper.bench.toml" in page.out
    again = (folder / "dipper.build.toml").read_text(encoding="utf-8")
    do(monkeypatch, folder, ("propellers-off", ""), ("joints", ""))
    changed = again.replace('port = "uart2"', 'port = "uart4"')
    (folder / "dipper.build.toml").write_text(changed, encoding="utf-8")
    assert (
        "Once more: sheet.devices.telemetry.port was"
        in bench(monkeypatch, folder, "--format", "html").out
    )


def test_what_is_open_now_leaves_out_what_the_same_call_has_done(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    said = told(monkeypatch, folder, "--done", "propellers-off", "--done", "joints")
    done = {"propellers-off", "joints"}
    assert "polarity" in said["recorded"]["opened"]
    assert done.isdisjoint(said["recorded"]["opened"])

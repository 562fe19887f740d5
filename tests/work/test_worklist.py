"""The working list of a craft: its order, what it expects, what becomes a step to find out."""

from datetime import UTC, datetime
from itertools import takewhile

import pytest
from hypothesis import given

from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.settings import Settings
from cfgaudit.work.judging import Judgement
from cfgaudit.work.record import (
    BOXES,
    Listed,
    RecordEntry,
    StepOutcome,
    StepState,
    progress,
    sections,
    waiting_for,
    working_list,
)
from cfgaudit.work.steps import SECTIONS, Ask, BenchStep, known_of
from cfgaudit.work.steps_flight import arms_of
from cfgaudit.work.steps_power import most_current
from tests.audit.seeding import CORPUS, GOLDEN, settings_of
from tests.strategies import settings as any_settings

AT = datetime(2026, 11, 25, tzinfo=UTC)


def sheet_of(name: str) -> Settings:
    return read_sheet((CORPUS / f"{name}.build.toml").read_bytes(), name)


def steps_of(dump: Settings | None, sheet: Settings | str = "") -> dict[str, BenchStep]:
    stated = read_sheet(sheet.encode(), "x") if isinstance(sheet, str) else sheet
    return {step.id: step for step in working_list(known_of(dump, stated))}


def plain(text: str) -> dict[str, BenchStep]:
    return steps_of(read_plain(text))


def is_in_order(steps: tuple[BenchStep, ...]) -> bool:
    """Whether each step has a name of its own, and comes after all that it waits for."""
    names = [step.id for step in steps]
    behind = [
        all(name in names[:number] for name in step.after) for number, step in enumerate(steps)
    ]
    return all(behind) and len(set(names)) == len(names)


def propellers_come_last(steps: tuple[BenchStep, ...]) -> bool:
    before = tuple(s.id for s in takewhile(lambda s: s.id != "propellers-on", steps))
    on = next(step for step in steps if step.id == "propellers-on")
    return set(on.after) == set(before)


@pytest.mark.parametrize("name", GOLDEN)
@pytest.mark.parametrize("has_dump", [True, False], ids=["dump", "sheet alone"])
def test_a_list_can_be_worked_down(name: str, has_dump: bool) -> None:
    known = known_of(settings_of(name) if has_dump else None, sheet_of(name))
    steps = working_list(known)
    assert is_in_order(steps)
    assert propellers_come_last(steps)
    order = list(SECTIONS)
    assert [order.index(step.section) for step in steps] == sorted(
        order.index(step.section) for step in steps
    )


@given(any_settings(raw=False))
def test_a_list_can_be_made_of_any_craft(craft: Settings) -> None:
    steps = working_list(known_of(craft, Settings()))
    assert is_in_order(steps)
    assert propellers_come_last(steps)
    assert steps[0].id == "propellers-off"


def test_nothing_but_the_propellers_off_is_open_at_first() -> None:
    listed = progress(working_list(known_of(settings_of("dipper"), sheet_of("dipper"))), ())
    assert [one.step.id for one in listed if one.state is StepState.OPEN] == ["propellers-off"]


def test_every_motor_is_expected_to_turn_as_the_mixer_takes_for_granted() -> None:
    """Hand reading of corpus/dipper.cfg: outputs 2, 4, 1, 3; inward at the nose."""
    steps = steps_of(settings_of("dipper"), sheet_of("dipper"))
    expected = {"front_left": (2, "cw"), "front_right": (4, "ccw"), "rear_left": (1, "ccw"),
                "rear_right": (3, "cw")}  # fmt: skip
    for arm, (output, turn) in expected.items():
        step = steps[f"motor-{arm}"]
        assert step.do.startswith(f"Propellers off: look now. Spin output {output} alone")
        assert (step.ask.arm, step.ask.turn) == (arm, turn)
    assert "rear right clockwise" in steps["propellers-on"].do


def test_turns_come_from_the_sheet_s_frame_where_there_is_no_dump() -> None:
    """Common practice: inward, so the front left one turns clockwise from above."""
    sheet = read_sheet(b'[frame]\nlayout = "quad_x"\nrotation = "inward"\n', "x")
    turns = {one.arm: one.turn for one in arms_of(known_of(None, sheet))}
    assert turns == {"front_left": "cw", "front_right": "ccw", "rear_left": "ccw",
                     "rear_right": "cw"}  # fmt: skip


def test_outputs_that_sheet_and_dump_have_otherwise_are_told() -> None:
    steps = steps_of(
        read_plain("motors.front.output = 2\nmotors.front.spin = cw\n"),
        "[motors.front]\noutput = 3\n",
    )
    assert "one of the two is wrong" in steps["motor-front"].expect


def test_switches_are_expected_as_the_sweep_predicts_them() -> None:
    steps = plain(
        "receiver.low = 1000 us\nreceiver.high = 2000 us\nreceiver.channels = 6\n"
        "switches.arm = 5: 1700..2100 us\nswitches.buzzer = 5: 1300..1800 us, 9: 900..1500 us\n"
    )
    assert steps["switch-5"].expect == (
        "1000..1299 us nothing; 1300..1699 us buzzer; 1700..1800 us arm and buzzer; "
        "1801..2000 us arm."
    )
    assert steps["switch-5"].caution
    assert "carries no channel 9" in steps["switch-9"].expect


def test_armed_at_rest_stands_out() -> None:
    steps = plain(
        "receiver.low = 1000 us\nreceiver.high = 2000 us\nswitches.arm = 5: 900..1500 us\n"
    )
    assert "ARMED while nobody touches it" in steps["switch-5"].expect


def test_the_failsafe_is_expected_after_silence_and_hold() -> None:
    """Hand calculation: 0.4 + 1 = 1.4 s, and a second either way for the hand on the watch."""
    step = steps_of(settings_of("dipper"), sheet_of("dipper"))["failsafe"]
    assert "after about 1.4 s" in step.expect.lower()
    assert (step.ask.low, step.ask.high) == (0.4, 2.4)


def test_an_arm_channel_that_holds_is_said_at_the_failsafe_s_step() -> None:
    step = steps_of(settings_of("dipper"), sheet_of("dipper"))["failsafe"]
    assert "it stays armed until then" in step.expect
    own = "failsafe.action = land\nswitches.arm = 5: 1700..2100 us\nfailsafe.channels.5 = 1000 us\n"
    assert "stays armed" not in plain(own)["failsafe"].expect


def test_what_the_receiver_sends_is_asked_for_where_the_sheet_does_not_tell() -> None:
    assert "on_loss" in plain("failsafe.action = land\n")["failsafe"].expect
    assert "on_loss" not in steps_of(settings_of("dipper"), sheet_of("dipper"))["failsafe"].expect


@pytest.mark.parametrize("action", ["none", "hold_inputs"])
def test_a_failsafe_that_does_nothing_is_not_what_is_expected(action: str) -> None:
    step = plain(
        f"failsafe.action = {action}\nfailsafe.detect_after = 1 s\nfailsafe.hold_for = 1 s\n"
    )["failsafe"]
    assert "set failsafe.action first" in step.expect
    assert step.ask.kind == "yes"


def test_the_limiter_is_set_to_what_the_devices_draw() -> None:
    """Hand calculation, Dipper.

    5 V rail, at most 5.1 V: .1 + .25 + .06 + .6 + .03 + .015 = 1.055 A, 5.3805 W. 10 V: .6 + .12 =
    .72 A, 7.2 W. At 15.4 V (4 × (3.5 + 4.2) / 2) through 80 %: 12.5805 / .8 / 15.4 = 1.0211 A,
    and .3 A for the board: 1.3211 A, so 1.4 A.
    """
    known = known_of(settings_of("dipper"), sheet_of("dipper"))
    assert most_current(known, 15.4) == pytest.approx(1.3211, abs=5e-5)
    step = {step.id: step for step in working_list(known)}["limiter"]
    assert "15.4 V, limited to 1.4 A" in step.do
    assert step.ask.high == 1.4


def test_landing_is_at_the_warning_voltage_of_the_whole_pack() -> None:
    """Hand calculation: 4 × 3.5 V = 14 V; full 4 × 4.2 = 16.8 V."""
    steps = steps_of(settings_of("dipper"), sheet_of("dipper"))
    assert "14 V (3.5 V a cell)" in steps["land"].do
    assert "16.8 V" in steps["charged"].expect


FINDING_OUT = {
    "find-out-devices": ("sheet.devices.x.kind", '[devices.x]\nkind = "buzzer"\n'),
    "find-out-rails": ("rails", '[rails.5V]\nvoltage = "4.9..5.1 V"\n'),
    "find-out-pack": ("cells", '[battery]\nchemistry = "lipo"\ncells = 4\n'),
}


@pytest.mark.parametrize("name", FINDING_OUT)
def test_what_the_sheet_does_not_tell_is_a_step_to_find_out(name: str) -> None:
    assert name in steps_of(Settings())
    assert name not in steps_of(Settings(), FINDING_OUT[name][1])


@pytest.mark.parametrize(
    ("name", "dump"),
    [
        ("find-out-failsafe", "failsafe.action = land\nfailsafe.detect_after = 1 s\n"
         "failsafe.hold_for = 1 s\n"),
        ("find-out-switches", "receiver.low = 1000 us\nreceiver.high = 2000 us\n"
         "switches.arm = 5: 1700..2100 us\n"),
        ("find-out-voltage", "battery.voltage_from = adc\n"),
        ("find-out-current", "battery.current_from = none\n"),
        ("find-out-compass", "sensors.compass.enabled = off\n"),
        ("find-out-sticks", "receiver.map.roll = 1\nreceiver.map.pitch = 2\n"
         "receiver.map.throttle = 3\nreceiver.map.yaw = 4\n"),
        ("find-out-motors", "motors.front.output = 1\nmotors.front.spin = cw\n"),
    ],
)  # fmt: skip
def test_what_the_dump_does_not_tell_is_a_step_to_find_out(name: str, dump: str) -> None:
    assert name in plain("craft.name = x\n")
    assert name not in plain(dump)


def test_without_a_dump_the_list_asks_for_one_and_not_for_each_setting() -> None:
    steps = steps_of(None, sheet_of("dipper"))
    assert "read-dump" in steps
    assert not [name for name in steps if name.startswith("find-out")]
    assert "read-dump" in steps["failsafe"].after


def test_cautions_stand_where_work_can_hurt_and_leave_the_law_to_others() -> None:
    steps = steps_of(settings_of("dipper"), sheet_of("dipper"))
    hurting = ("propellers-off", "propellers-on", "hover", "arm-outside", "limiter", "charge",
               "video-power", "antenna-video", "place")  # fmt: skip
    for name in hurting:
        assert "Local rules and licensed practice" in steps[name].caution, name
    every = " ".join(f"{s.do} {s.expect} {s.caution}" for s in steps.values()).lower()
    assert "safe" not in every.replace("failsafe", "")


def chain(*names: str) -> tuple[BenchStep, ...]:
    return tuple(
        BenchStep(name, "before", "do", "expect", names[number - 1 : number])
        for number, name in enumerate(names)
    )


def entry(
    name: str, outcome: StepOutcome = StepOutcome.DONE, proves: tuple[str, ...] = ()
) -> RecordEntry:
    return RecordEntry(name, AT, outcome, proves=proves)


DONE, FAILED, UNDONE = StepOutcome.DONE, StepOutcome.FAILED, StepOutcome.UNDONE


def test_a_step_opens_once_those_before_it_are_done() -> None:
    states = [one.state for one in progress(chain("a", "b", "c"), [entry("a")])]
    assert states == [StepState.DONE, StepState.OPEN, StepState.SHUT]


def test_a_step_that_failed_keeps_all_after_it_shut_and_says_so() -> None:
    listed = progress(chain("a", "b", "c"), [entry("a", FAILED)])
    assert [one.state for one in listed] == [StepState.FAILED, StepState.SHUT, StepState.SHUT]
    assert waiting_for(listed[2]) == "shut, for a failed"
    assert listed[2].failed_before == ("a",)


def test_a_step_that_fails_again_shuts_what_was_done_after_it() -> None:
    record = [entry("b"), entry("a", FAILED)]
    assert [one.state for one in progress(chain("a", "b"), record)] == [
        StepState.FAILED,
        StepState.SHUT,
    ]


def test_a_step_judged_by_what_is_no_longer_so_is_open_again() -> None:
    steps = (chain("a")[0]._replace(proves=("battery.divider = 11.2",)),)
    (one,) = progress(steps, [entry("a", proves=("battery.divider = 11",))])
    assert one.state is StepState.OPEN
    assert one.again == "battery.divider was 11 and is 11.2"


def test_without_the_dump_only_the_sheet_can_have_changed() -> None:
    steps = (chain("a")[0]._replace(proves=("sheet.battery.cells = 4",)),)
    record = [entry("a", proves=("sheet.battery.cells = 4", "battery.divider = 11"))]
    assert progress(steps, record, has_dump=False)[0].state is StepState.DONE
    assert progress(steps, record)[0].state is StepState.OPEN


@pytest.mark.parametrize("back", [UNDONE, FAILED])
def test_a_step_taken_back_and_done_again_waves_none_of_its_followers_through(
    back: StepOutcome,
) -> None:
    record = [entry("a"), entry("b"), entry("c"), entry("a", back), entry("a")]
    listed = progress(chain("a", "b", "c"), record)
    assert [one.state for one in listed] == [StepState.DONE, StepState.OPEN, StepState.SHUT]
    assert listed[1].again == "a was taken back since"
    listed = progress(chain("a", "b", "c"), [*record, entry("b")])
    assert listed[2].state is StepState.OPEN
    listed = progress(chain("a", "b", "c"), [*record, entry("b"), entry("c")])
    assert {one.state for one in listed} == {StepState.DONE}


def bare(record: list[RecordEntry], screw: str = "1") -> dict[str, Listed]:
    """A list as short as can be: propellers off, a motor, propellers on, hover."""
    steps = (
        BenchStep("propellers-off", "before", "do", "expect"),
        BenchStep("motor", "motors", "do", "expect", ("propellers-off",), proves=(f"x = {screw}",)),
        BenchStep("propellers-on", "propellers", "do", "expect", ("propellers-off", "motor")),
        BenchStep("hover", "hover", "do", "expect", ("propellers-on",)),
    )
    return {one.step.id: one for one in progress(steps, record)}


def test_a_motor_to_be_spun_once_more_wants_the_propellers_off_first_and_on_again() -> None:
    every = ["propellers-off", "motor", "propellers-on", "hover"]
    record = [entry(name, proves=("x = 1",) if name == "motor" else ()) for name in every]
    assert {one.state for one in bare(record).values()} == {StepState.DONE}
    found = bare(record, "2")
    assert found["propellers-off"].state is StepState.OPEN
    assert found["motor"].state is StepState.SHUT
    record.append(entry("propellers-off"))
    assert bare(record, "2")["motor"].state is StepState.OPEN
    record.append(entry("motor", proves=("x = 2",)))
    found = bare(record, "2")
    assert (found["propellers-on"].state, found["hover"].state) == (
        StepState.OPEN,
        StepState.SHUT,
    )
    found = bare([*record, entry("propellers-on")], "2")
    assert found["hover"].state is StepState.OPEN


def test_the_audit_is_worked_out_and_shuts_what_comes_after_it() -> None:
    steps = (
        BenchStep("audit", "ports", "do", "expect", ask=Ask("audit")),
        BenchStep("propellers-on", "propellers", "do", "expect", ("audit",)),
    )
    ticked = [entry("audit"), entry("propellers-on")]
    listed = progress(steps, ticked, {"audit": Judgement(False, "2 errors")})
    assert [one.state for one in listed] == [StepState.FAILED, StepState.SHUT]
    listed = progress(steps, ticked, {"audit": Judgement(True, "no error is left")})
    assert [one.state for one in listed] == [StepState.DONE, StepState.DONE]
    assert progress(steps, ())[0].state is StepState.OPEN


def test_sections_hold_every_step_with_its_box() -> None:
    steps = working_list(known_of(settings_of("dipper"), sheet_of("dipper")))
    parts = sections(progress(steps, ()))
    assert [one.step for part in parts for one in part.steps] == list(steps)
    assert {one.box for part in parts for one in part.steps} <= set(BOXES.values())


def test_a_port_s_step_says_what_the_plan_of_the_ports_says_of_its_device() -> None:
    sheet = """
[ports.a]
kind = "hardware"
[devices.receiver]
kind = "receiver"
port = "a"
protocol = "sbus"
[devices.video]
kind = "video_transmitter"
port = "b"
rate = 9600
framing = "8N1"
wires = "one_wire"
[ports.b]
kind = "hardware"
"""
    steps = steps_of(None, sheet)
    # an sbus link has 100,000 Bd 8E2 and an idle level turned round, whatever port it is on
    assert "(sbus, 100,000 Bd 8E2, inverted)" in steps["port-receiver"].do
    assert "(9,600 Bd 8N1, one wire)" in steps["port-video"].do


def test_a_servo_is_no_motor_and_has_a_step_of_its_own() -> None:
    steps = plain(
        "motors.rear.output = 1\nmotors.rear.spin = cw\nmotors.tail.output = 4\n"
        "motors.tail.servo = on\nreceiver.map.yaw = 4\n"
    )
    assert "motor-rear" in steps
    assert "motor-tail" not in steps
    assert "tail left" in steps["servo-tail"].expect
    assert steps["servo-tail"].do.startswith("Propellers off")

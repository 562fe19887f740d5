"""Areas A, C, E and H by way of the rules: what a build sheet and a dump say together.

The figures come from published tables and from hand calculations written out beside them.
"""

from collections.abc import Sequence

import pytest

from cfgaudit.audit.engine import Finding, audit
from cfgaudit.craft.sheet import read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.book import find

ARMS = ("front_left", "front_right", "rear_left", "rear_right")
RIGHT = ("cw", "ccw", "ccw", "cw")  # inward at the nose
SIGNS = {"cw": -1, "ccw": 1}  # of the mixer's yaw column, so that a command turns clockwise
ROLL, PITCH = (1, -1, 1, -1), (1, 1, -1, -1)


def found(rule_id: str, dump: str, sheet: str) -> list[Finding]:
    rule = find(rule_id)
    assert rule is not None
    return list(audit(read_plain(dump), (rule,), sheet=read_sheet(sheet.encode(), "b")).findings)


def matched(yaw_deg: float = 0) -> str:
    lines = ["frame.layout = quad_x", "board.rotation.roll = 0 deg", "board.rotation.pitch = 0 deg"]
    lines.append(f"board.rotation.yaw = {yaw_deg} deg")
    for arm, spin, roll, pitch in zip(ARMS, RIGHT, ROLL, PITCH, strict=True):
        lines += [f"motors.{arm}.spin = {spin}", f"motors.{arm}.mix.thrust = 1"]
        lines += [f"motors.{arm}.mix.roll = {roll}", f"motors.{arm}.mix.pitch = {pitch}"]
        lines += [f"motors.{arm}.mix.yaw = {SIGNS[spin]}"]
    return "\n".join(lines)


def seen(turns: Sequence[str]) -> str:
    pairs = zip(ARMS, turns, strict=True)
    return "\n".join(f'[motors.{arm}]\nturns = "{turn}"' for arm, turn in pairs)


def axes(findings: list[Finding]) -> list[str]:
    return [finding.message.split(maxsplit=1)[0] for finding in findings]


@pytest.mark.parametrize(
    ("turns", "wrong", "axis"),
    [
        (("cw", "ccw", "ccw", "cw"), 0, []),  # diagonals equal
        (("ccw", "cw", "cw", "ccw"), 4, ["Yaw"]),  # all reversed: the yaw row negated
        (("cw", "cw", "cw", "cw"), 2, ["Yaw"]),  # all alike: yaw has no authority
        (("cw", "ccw", "cw", "cw"), 1, []),  # one flipped: yaw halved, and rank misses it
    ],
)
def test_spin_patterns_end_as_checks_e_has_them(
    turns: Sequence[str], wrong: int, axis: list[str]
) -> None:
    """Hand calculation, area E: diag of E M is 4, 4, 4k; 0 all alike, 2k one flipped, -4k
    reversed."""
    mismatch = found("motor/reversal-mismatch", matched(), seen(turns))
    assert [dict(finding.figures)["wrong_arms"] for finding in mismatch] == [wrong] * (wrong > 0)
    assert axes(found("motor/control-sign", matched(), seen(turns))) == axis


def test_four_arms_wired_alike_have_two_wrong_on_one_diagonal() -> None:
    """Hand calculation: all turn as front left is seen to; front right and rear left are to turn
    the other way, and they stand across from each other."""
    alike = "\n".join(f'[motors.{a}]\nwires = "straight"\ndirection = "normal"' for a in ARMS)
    one_seen = alike.replace("[motors.front_left]", '[motors.front_left]\nturns = "cw"')
    (finding,) = found("motor/reversal-mismatch", matched(), one_seen)
    assert "2 of 4 propellers" in finding.message
    assert "on one diagonal: front_right clockwise and rear_left clockwise" in finding.message


@pytest.mark.parametrize("mounted", [90, 180])
def test_a_board_turned_without_saying_so_spoils_roll_and_pitch(mounted: int) -> None:
    """Hand calculation, area E: 90 degrees a purely imaginary pair, 180 degrees -4 and -4; yaw is
    left as it was."""
    turned = f"[board.turned]\nroll = 0\npitch = 0\nyaw = {mounted}"
    assert axes(found("motor/control-sign", matched(), turned)) == ["Pitch", "Roll"]
    assert found("motor/control-sign", matched(mounted), turned) == []


def test_orientations_that_are_one_turn_are_no_mismatch() -> None:
    """Published: MAVLink, MAV_SENSOR_ORIENTATION: roll 180 and yaw 180 is pitch 180 (area C)."""
    turned = "[board.turned]\nroll = 180\npitch = 0\nyaw = 180"
    dump = "board.rotation.roll = 0 deg\nboard.rotation.pitch = {} deg\nboard.rotation.yaw = 0 deg"
    assert found("sensor/board-rotation", dump.format(180), turned) == []
    (finding,) = found("sensor/board-rotation", dump.format(0), turned)
    assert dict(finding.figures)["apart_deg"] == pytest.approx(180)


@pytest.mark.parametrize(
    ("clock", "samples", "baud", "true", "per_cent"),
    [("36 MHz", 16, 115_200, 115_384.6, 0.16), ("8 MHz", 16, 115_200, 115_942.0, 0.64)],
)
def test_rows_of_the_reference_manuals_that_a_frame_forgives_are_silent(
    clock: str, samples: int, baud: int, true: float, per_cent: float
) -> None:
    """Published: ST RM0008; told of once the device is 5 % away from the same row."""
    dump = f"ports.u.roles = position\nports.u.baud = {baud} Bd"
    port = f'[ports.u]\nkind = "hardware"\nclock = "{clock}"\noversampling = {samples}\n'
    device = '[devices.g]\nkind = "position"\nport = "u"\nframing = "8N1"\nrate = '
    assert abs(per_cent) < 2
    assert found("serial/baud-mismatch", dump, f"{port}{device}{baud}") == []
    (finding,) = found("serial/baud-mismatch", dump, f"{port}{device}{baud / 1.05}")
    assert dict(finding.figures)["true_baud"] == pytest.approx(true, abs=0.05)


def test_the_row_of_921600_at_8_mhz_is_told() -> None:
    """Published: ST RM0090, OVER8 = 1: divider 1.125, 888,888.9 Bd, -3.55 %."""
    dump = "ports.u.roles = position\nports.u.baud = 921600 Bd"
    sheet = (
        '[ports.u]\nkind = "hardware"\nclock = "8 MHz"\noversampling = 8\n[devices.g]\n'
        'kind = "position"\nport = "u"\nframing = "8N1"\nrate = 921600'
    )
    (finding,) = found("serial/baud-mismatch", dump, sheet)
    figures = dict(finding.figures)
    assert figures["divider"] == 1.125
    assert figures["error_percent"] == pytest.approx(-3.55, abs=0.005)


def test_a_rail_is_told_from_four_fifths_on() -> None:
    """Hand calculation: 0.6 + 0.25 + 0.1 + 0.06 + 0.6 = 1.61 A of 2 A is 80.5 %; 1.6 A is 80 %."""
    rest = (("lights", 0.6), ("radio", 0.25), ("rx", 0.1), ("gnss", 0.06), ("cam", 0.6))
    parts = [f'[devices.{name}]\nrail = "5V"\ncurrent = {amps}' for name, amps in rest]
    sheet = "\n".join(["[rails.5V]\nrating = 2", *parts])
    (finding,) = found("power/rail-overloaded", "craft.name = x", sheet)
    assert finding.level.value == "warning"
    assert dict(finding.figures)["load_percent"] == pytest.approx(80.5)
    assert found("power/rail-overloaded", "craft.name = x", sheet.replace("0.06", "0.05")) == []


def test_a_current_sensor_of_13_2_millivolts_an_ampere_sees_100_amperes_both_ways() -> None:
    """Published: Allegro ACS759 at 3.3 V, 13.2 mV/A for 100 A both ways: zero stands at half of
    3.3 V, 1,650 mV. Hand calculation: 1,650 / 13.2 = 125 A to the very end of the input."""
    dump = (
        "battery.current_from = adc\nbattery.current_scale = 13.2 mV/A\n"
        "battery.current_offset = 1650 mV"
    )
    (finding,) = found("battery/current-saturates", dump, "[propulsion]\npeak_current = 126")
    assert dict(finding.figures)["full_scale_a"] == pytest.approx(125)
    assert found("battery/current-saturates", dump, "[propulsion]\npeak_current = 124") == []

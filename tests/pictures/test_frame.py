"""The craft from above: outputs and turns, as set and as they are."""

import pytest

from cfgaudit.pictures import frame
from cfgaudit.vocabulary.declare import NotStated
from tests.pictures.crafts import craft, sheet

QUAD = """
[frame]
layout = quad_x
[motors.front_right]
output = 1
spin = ccw
[motors.rear_right]
output = 2
spin = cw
[motors.rear_left]
output = 3
spin = ccw
[motors.front_left]
output = 4
spin = cw
"""


def arms(told: frame.FrameDrawing) -> dict[str, frame.Arm]:
    return {arm.name: arm for arm in told.arms}


def test_arms_stand_where_the_layout_has_them_clockwise_from_the_nose() -> None:
    told = frame.data(craft(QUAD), None)
    assert [arm.name for arm in told.arms] == [
        "front_right", "rear_right", "rear_left", "front_left"
    ]  # fmt: skip
    # hand calculation: 45 degrees on a circle of radius 1
    assert (told.arms[0].x, told.arms[0].y) == pytest.approx((0.7071, 0.7071), abs=1e-4)
    assert (told.arms[2].x, told.arms[2].y) == pytest.approx((-0.7071, -0.7071), abs=1e-4)


def test_without_a_sheet_no_turn_is_called_real() -> None:
    told = frame.data(craft(QUAD), None)
    assert {arm.real_turn for arm in told.arms} == {None}
    assert not any(arm.turns_otherwise for arm in told.arms)
    assert arms(told)["front_left"].fit == "clockwise propeller"


def test_a_motor_that_turns_the_other_way_gets_no_propeller() -> None:
    seen = sheet('[motors.front_left]\nturns = "ccw"\n[motors.rear_left]\nturns = "ccw"\n')
    told = arms(frame.data(craft(QUAD), seen))
    assert told["front_left"].turns_otherwise
    assert told["front_left"].fit == "none before it turns as set"
    assert not told["rear_left"].turns_otherwise
    assert "really turns anticlockwise" in frame.picture(craft(QUAD), seen).says


def test_an_output_that_drives_another_arm_is_told() -> None:
    told = arms(frame.data(craft(QUAD), sheet("[motors.rear_left]\noutput = 2\n")))
    assert told["rear_left"].wired_otherwise
    assert not told["front_left"].wired_otherwise


def test_a_turn_follows_from_another_motor_s_wires_and_direction() -> None:
    # Hand: swapping two of three wires turns a motor round, so does the reversed direction; both
    # together leave it. front_left, straight and normal, turns clockwise.
    told = frame.real_turns(
        sheet(
            '[motors.front_left]\nturns = "cw"\nwires = "straight"\ndirection = "normal"\n'
            '[motors.rear_left]\nwires = "swapped"\ndirection = "normal"\n'
            '[motors.rear_right]\nwires = "swapped"\ndirection = "reversed"\n'
            '[motors.front_right]\nwires = "straight"\n'
        )
    )
    assert told == {"front_left": (1, False), "rear_left": (-1, True), "rear_right": (1, True)}


def test_motors_that_contradict_one_another_let_nothing_be_worked_out() -> None:
    told = frame.real_turns(
        sheet(
            '[motors.front_left]\nturns = "cw"\nwires = "straight"\ndirection = "normal"\n'
            '[motors.rear_right]\nturns = "ccw"\nwires = "straight"\ndirection = "normal"\n'
            '[motors.rear_left]\nwires = "swapped"\ndirection = "normal"\n'
        )
    )
    assert told == {"front_left": (1, False), "rear_right": (-1, False)}


def test_a_layout_alone_is_drawn_without_outputs() -> None:
    told = frame.data(craft("[frame]\nlayout = octo_x\n"), None)
    assert len(told.arms) == 8
    assert {arm.output for arm in told.arms} == {None}
    assert arms(told)["front_left"].fit.startswith("not known")


def test_nothing_about_motors_or_layout_says_what_is_lacking() -> None:
    with pytest.raises(NotStated) as lack:
        frame.data(craft("[battery]\ncells = 4\n"), None)
    assert lack.value.path == "frame.layout"

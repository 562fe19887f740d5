"""The sequence of a lost link, computed over time; values worked out by hand."""

import pytest

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.link_loss import (
    LinkLoss,
    LossStage,
    arm_on_loss,
    closed,
    counting,
    drop,
    link_loss,
    off_centre,
)
from cfgaudit.craft.sheet import Sheet, read_sheet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.failsafe import lands_in_the_air
from cfgaudit.rules.rule import Fires, Level
from cfgaudit.vocabulary.declare import NotStated

DUMP = """
receiver.link = crsf
receiver.low = 1000 us
receiver.centre = 1500 us
receiver.high = 2000 us
receiver.map.roll = 1
receiver.map.pitch = 2
receiver.map.throttle = 3
receiver.map.yaw = 4
switches.arm = 5: 1700..2100 us
failsafe.detect_after = 0.4 s
failsafe.hold_for = 1 s
failsafe.land_for = 20 s
failsafe.action = return_home
failsafe.channels.1 = 1500 us
failsafe.channels.2 = hold
failsafe.channels.3 = hold
failsafe.channels.4 = 1500 us
failsafe.channels.5 = hold
home.altitude = 40 m
home.speed = 7 m/s
home.descent = 2 m/s
"""


def craft(*more: str, without: str = "") -> Craft:
    """The craft above, with lines in place of those that state the same path."""
    heads = [line.partition(" ")[0] for line in more] + ([without] if without else [])
    kept = [line for line in DUMP.split("\n") if line.partition(" ")[0] not in heads]
    return Craft(read_plain("\n".join([*kept, *more])))


def sheet(text: str) -> Sheet:
    return Sheet(read_sheet(text.encode(), "x.toml"))


def named(found: LinkLoss, what: str) -> LossStage:
    (stage,) = [stage for stage in found.stages if stage.what == what]
    return stage


def test_a_craft_that_comes_home_has_five_stages_one_behind_the_other() -> None:
    found = link_loss(craft())
    assert [(s.what, s.begins, s.lasts) for s in found.stages] == [
        ("last_inputs", 0.0, 0.4),
        ("channels", 0.4, 1.0),
        ("return_home", pytest.approx(1.4), None),  # how long the way is hangs on the flight
        ("land", None, 20.0),
        ("motors_off", None, None),
    ]
    assert [stage.wrong for stage in found.stages] == [()] * 5
    held = named(found, "channels")
    assert (held.throttle, held.arm, held.sticks) == ("held", "held", "centred, some held")


def test_the_silence_swallows_frames_and_the_craft_flies_on_blind() -> None:
    """Hand calculation: 0.4 s / 4 ms = 100 frames (crsf); 0.4 s at 7 m/s = 2.8 m."""
    figures = dict(named(link_loss(craft()), "last_inputs").figures)
    assert figures == {"frames_missed": pytest.approx(100), "distance_m": pytest.approx(2.8)}


def test_a_throttle_that_closes_for_a_second_falls_4_9_m() -> None:
    """Hand calculation: 9.80665 / 2 = 4.903325 m, at 9.80665 m/s."""
    stage = named(link_loss(craft("failsafe.channels.3 = 900 us")), "channels")
    assert stage.throttle == "closed (900 us)"
    assert dict(stage.figures) == pytest.approx({"fall_m": 4.903325, "fall_m_per_s": 9.80665})
    assert stage.wrong == ("it falls 4.9 m, to 9.81 m/s",)


def test_the_ground_ends_a_fall() -> None:
    """Hand calculation: 40 m are fallen through in sqrt(80 / 9.80665) = 2.856 s."""
    low = craft("failsafe.channels.3 = 900 us")
    assert drop(low, 2.8).height_m is None
    for lasts in (3.0, None):
        fell = drop(low, lasts)
        assert (fell.metres, fell.height_m) == (40, 40)
        assert fell.seconds == pytest.approx(2.85617, abs=1e-5)
    with pytest.raises(NotStated, match=r"home\.altitude"):
        drop(craft(without="home.altitude"), None)
    assert drop(craft(without="home.altitude"), 1.0).metres == pytest.approx(4.903325)


def test_motors_that_stop_need_no_stage_in_which_they_are_wrong() -> None:
    found = link_loss(craft("failsafe.action = motors_off", "failsafe.channels.3 = 900 us"))
    assert [stage.what for stage in found.stages] == ["last_inputs", "channels", "motors_off"]
    assert [stage.wrong for stage in found.stages] == [(), (), ()]
    # Hand calculation: sqrt(2 * 9.80665 * 40) = 28.0095 m/s.
    assert dict(named(found, "motors_off").figures)["fall_m_per_s"] == pytest.approx(28.0095)


def test_an_action_that_begins_at_once_leaves_no_stage_to_the_channels() -> None:
    found = link_loss(craft("failsafe.hold_for = 0 s", "failsafe.channels.3 = 900 us"))
    assert [stage.what for stage in found.stages][:2] == ["last_inputs", "return_home"]


def test_the_arm_channel_off_its_range_stops_the_motors_in_the_air() -> None:
    stage = named(link_loss(craft("failsafe.channels.5 = 1000 us")), "channels")
    assert (stage.arm, stage.wrong) == ("off", ("the arm channel stops the motors in the air",))
    stage = named(link_loss(craft("failsafe.channels.5 = 1700 us")), "channels")
    assert (stage.arm, stage.wrong) == ("on", ("the arm channel arms",))


def test_an_arm_channel_that_holds_stays_as_it_was() -> None:
    ((taken, on),) = arm_on_loss(craft())
    assert (taken.channel, taken.pulse, on) == (5, None, True)
    assert [on for _, on in arm_on_loss(craft("failsafe.channels.5 = 1699 us"))] == [False]


def test_a_stick_off_its_middle_is_told() -> None:
    stage = named(link_loss(craft("failsafe.channels.1 = 1700 us")), "channels")
    assert (stage.sticks, stage.wrong) == ("off centre", ("roll is off its middle: 1700 us",))
    assert off_centre(craft("failsafe.channels.1 = 1525 us"), "roll") is None
    assert off_centre(craft("failsafe.channels.1 = 1526 us"), "roll") is not None


def test_a_landing_shorter_than_the_way_down_ends_in_the_air() -> None:
    """Hand calculation: 40 / 2 = 20 s; in 15 s it comes down 30 m, and 10 m are left."""
    assert named(link_loss(craft()), "land").wrong == ()
    stage = named(link_loss(craft("failsafe.land_for = 15 s")), "land")
    assert stage.wrong == ("its motors stop 10 m above the ground",)
    assert dict(stage.figures)["left_m"] == 10


def test_a_landing_without_an_end_has_no_stage_behind_it() -> None:
    found = link_loss(craft("failsafe.land_for = 0 s"))
    assert (found.stages[-1].what, found.stages[-1].lasts) == ("land", None)


@pytest.mark.parametrize(
    ("throttle", "wrong"),
    [(1140, ("it falls",)), (1150, ()), (1330, ()), (1331, ("it climbs away",))],
)
def test_a_landing_by_throttle_lifts_what_the_hover_throttle_tells(
    throttle: int, wrong: tuple[str, ...]
) -> None:
    """Hand calculation: it hovers at 30 %; half of that is 15 %, a tenth more is 33 %."""
    lasts = "failsafe.land_for = 40 s"  # 1 m/s from its 40 m
    by = craft("failsafe.action = land", f"failsafe.throttle = {throttle} us", lasts)
    found = link_loss(by, sheet("[propulsion]\nhover_throttle = 30\n"))
    assert named(found, "land").wrong == wrong


def test_a_landing_has_its_times_where_the_flight_does_not_decide() -> None:
    found = link_loss(craft("failsafe.action = land", "failsafe.throttle = 1250 us"))
    assert named(found, "land").begins == pytest.approx(1.4)
    assert named(found, "motors_off").begins == pytest.approx(21.4)


def test_what_nothing_states_is_reckoned_and_said() -> None:
    found = link_loss(craft())
    assert [one.partition(":")[0] for one in found.reckoned] == [
        "The channels' own values count until the action begins",
        "The receiver falls silent, so that the board notices the loss",
    ]
    told = link_loss(
        craft("failsafe.channels_until = action"),
        sheet('[devices.rx]\nkind = "receiver"\non_loss = "silent"\n'),
    )
    assert (told.reckoned, told.lacks) == ((), ())


def test_channels_that_count_to_the_end_leave_nothing_to_time() -> None:
    until = craft("failsafe.channels_until = end", "failsafe.channels.3 = 900 us")
    assert counting(until).lasts is None
    stage = named(link_loss(until), "channels")
    assert stage.lasts is None
    assert stage.wrong == ("it falls 40 m, to 28.01 m/s",)
    assert named(link_loss(until), "return_home").begins is None


@pytest.mark.parametrize("how", ["hold", "preset"])
def test_a_receiver_that_goes_on_sending_is_the_whole_sequence(how: str) -> None:
    rx = sheet(f'[devices.rx]\nkind = "receiver"\non_loss = "{how}"\n')
    (stage,) = link_loss(craft("failsafe.channels.3 = 1300 us"), rx).stages
    assert (stage.what, stage.begins, stage.lasts) == ("hidden", 0.0, None)
    assert stage.throttle == ("held" if how == "hold" else "1300 us, 30 % of its travel")
    assert stage.wrong


def test_values_of_the_receiver_that_throw_the_failsafe_switch_tell_the_board() -> None:
    rx = sheet('[devices.rx]\nkind = "receiver"\non_loss = "preset"\n')
    thrown = ("switches.failsafe = 8: 1700..2100 us", "failsafe.channels.8 = 1700 us")
    found = link_loss(craft(*thrown), rx)
    assert [stage.what for stage in found.stages][:2] == ["last_inputs", "channels"]
    assert any("throw the failsafe switch" in said for said in found.reckoned)
    short = craft(thrown[0], "failsafe.channels.8 = 1699 us")
    assert [stage.what for stage in link_loss(short, rx).stages] == ["hidden"]


def test_what_is_not_stated_leaves_the_rest_told() -> None:
    found = link_loss(craft(without="failsafe.channels.3"))
    assert "failsafe.channels.3" in found.lacks
    assert named(found, "channels").throttle == ""
    assert named(found, "channels").arm == "held"
    with pytest.raises(NotStated, match=r"failsafe\.action"):
        link_loss(craft(without="failsafe.action"))


def test_a_throttle_counts_as_closed_up_to_a_twentieth_of_its_travel() -> None:
    assert closed(craft(), 1050)
    assert not closed(craft(), 1051)
    with pytest.raises(NotStated, match=r"receiver\.high"):
        closed(craft("receiver.high = 1000 us"), 1000)


def test_a_way_down_without_a_speed_is_lacking_and_no_fault_of_the_program() -> None:
    found = link_loss(craft("home.descent = 0 m/s"))
    assert "home.descent" in found.lacks


def test_how_fast_a_landing_by_throttle_sinks_is_not_made_up() -> None:
    # 40 m in 25 s are 1.6 m/s; the 0.5 m/s are of a way down that the firmware steers
    found = link_loss(craft("failsafe.action = land\nfailsafe.throttle = 1300 us\n"
                            "failsafe.land_for = 25 s\nhome.altitude = 40 m\n"
                            "home.descent = 0.5 m/s"))  # fmt: skip
    (down,) = [stage for stage in found.stages if stage.what == "land"]
    assert dict(down.figures) == {"height_m": 40, "wants_m_per_s": 1.6}
    assert "how fast it sinks at a fixed throttle is not known" in down.says
    assert not any("0.5" in said for said in down.says)
    assert "home.descent" not in found.lacks
    assert down.wrong == ()


def test_a_landing_by_throttle_that_would_have_to_fall_is_wrong() -> None:
    found = link_loss(craft("failsafe.action = land\nfailsafe.throttle = 1300 us\n"
                            "failsafe.land_for = 10 s\nhome.altitude = 40 m"))  # fmt: skip
    (down,) = [stage for stage in found.stages if stage.what == "land"]
    assert down.wrong == ("its motors stop in the air, unless it falls",)


@pytest.mark.parametrize(("lasts", "wrong"), [("20 s", False), ("5 s", True)])
def test_a_landing_is_wrong_where_its_rule_calls_it_more_than_a_note(
    lasts: str, wrong: bool
) -> None:
    """No way home without a position: how high it is flown the height of that does not tell."""
    one = craft(
        *("position.enabled = off", "failsafe.action = land", "failsafe.throttle = 1300 us"),
        *(f"failsafe.land_for = {lasts}", "home.altitude = 60 m"),
    )
    found = [fires for fires in lands_in_the_air.check(one) if isinstance(fires, Fires)]
    assert [fires.level is not Level.NOTE for fires in found] == [wrong]
    assert bool(named(link_loss(one), "land").wrong) is wrong

"""The sweep of the switches against a pass over every whole microsecond."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.switches import SwitchPosition, met, sweep, switch_table
from cfgaudit.dialects.plain import read_plain
from cfgaudit.vocabulary.dump import FUNCTIONS
from cfgaudit.vocabulary.kinds import SwitchRange

Ranges = dict[str, tuple[SwitchRange, ...]]

# Few channels and ends close to each other, so that ranges meet, touch and lie within another;
# some end between two whole pulses, some the wrong way round.
ENDS = st.one_of(
    st.integers(980, 1060).map(float),
    st.integers(3920, 4240).map(lambda quarters: quarters / 4),
    st.integers(500, 2500).map(float),
)
SPANS = st.builds(SwitchRange, st.integers(5, 6), ENDS, ENDS)
RANGES = st.dictionaries(st.sampled_from(FUNCTIONS), st.lists(SPANS, max_size=4).map(tuple))


def on_at(ranges: Ranges, channel: int, pulse: int) -> set[str]:
    """What is on at one pulse, by the definition alone."""
    found = set()
    for function, spans in ranges.items():
        for span in spans:
            empty = span.low >= span.high
            if span.channel == channel and not empty and span.low <= pulse <= span.high:
                found.add(function)
    return found


@given(RANGES, ENDS, ENDS)
def test_the_sweep_says_of_every_whole_microsecond_what_a_pass_over_all_says(
    ranges: Ranges, low: float, high: float
) -> None:
    positions = sweep(ranges, 5, low, high)
    told = {
        pulse: set(position.active)
        for position in positions
        for pulse in range(position.low, position.high + 1)
    }
    assert told == {
        pulse: on_at(ranges, 5, pulse) for pulse in range(400, 2600) if low <= pulse <= high
    }


@given(RANGES, ENDS, ENDS)
def test_positions_follow_each_other_and_neighbours_differ(
    ranges: Ranges, low: float, high: float
) -> None:
    positions = sweep(ranges, 5, low, high)
    assert all(position.low <= position.high for position in positions)
    for one, next_one in pairwise(positions):
        assert next_one.low == one.high + 1
        assert next_one.active != one.active


@given(RANGES)
def test_where_two_functions_meet_is_what_a_pass_over_all_says(ranges: Ranges) -> None:
    stretches = list(met(sweep(ranges, 5, 500.0, 2500.0), "arm", "self_right"))
    told = [pulse for low, high in stretches for pulse in range(low, high + 1)]
    both = {"arm", "self_right"}
    assert told == [pulse for pulse in range(500, 2501) if both <= on_at(ranges, 5, pulse)]
    for (_, high), (low, _) in pairwise(stretches):
        assert low > high + 1


def test_functions_of_a_position_stand_in_the_vocabularys_order() -> None:
    span = (SwitchRange(5, 1700.0, 2100.0),)
    ranges = {"buzzer": span, "self_level": span, "arm": span}
    (*_, last) = sweep(ranges, 5, 1000.0, 2000.0)
    assert last == SwitchPosition(1700, 2000, ("arm", "self_level", "buzzer"))


def test_a_range_between_two_whole_pulses_is_met_by_none() -> None:
    ranges = {"arm": (SwitchRange(5, 1500.2, 1500.8),)}
    assert sweep(ranges, 5, 1000.0, 2000.0) == (SwitchPosition(1000, 2000, ()),)


def test_a_travel_the_wrong_way_round_has_no_position() -> None:
    assert sweep({"arm": (SwitchRange(5, 1700.0, 2100.0),)}, 5, 2000.0, 1000.0) == ()


TABLE = """
receiver.channels = 8
receiver.low = 1000 us
receiver.high = 2000 us
receiver.ends.6.high = 1900 us
receiver.map.spare1 = 5
switches.arm = 5: 1700..2100 us
switches.buzzer = 6: 900..1100 us, 9: 1700..2100 us
switches.self_level = 6: 1300..2100 us
failsafe.channels.5 = 900 us
failsafe.channels.6 = 1050 us
failsafe.channels.9 = hold
"""


def test_the_table_has_rest_link_loss_and_control_of_every_switch() -> None:
    table = switch_table(Craft(read_plain(TABLE)))
    assert table.lacking == ()
    five, six, nine = table.switches
    assert (five.channel, five.control, five.rest, five.on_loss) == (5, "spare1", 1000, 900)
    assert (five.active_on_loss, five.carried) == ((), True)
    assert six.positions == (
        SwitchPosition(1000, 1100, ("buzzer",)),
        SwitchPosition(1101, 1299, ()),
        SwitchPosition(1300, 1900, ("self_level",)),
    )
    assert (six.on_loss, six.active_on_loss) == (1050, ("buzzer",))
    assert (nine.on_loss, nine.active_on_loss, nine.carried) == ("hold", (), False)


def test_a_switch_whose_travel_is_not_stated_is_named_with_what_it_lacks() -> None:
    dump = "switches.arm = 5: 1700..2100 us, 6: 1700..2100 us\nreceiver.ends.5.low = 1000 us\n"
    table = switch_table(Craft(read_plain(dump + "receiver.ends.5.high = 2000 us\n")))
    assert [switch.channel for switch in table.switches] == [5]
    assert table.switches[0].on_loss is None
    assert table.switches[0].carried is None
    assert table.lacking == ((6, "receiver.low"),)


def test_a_function_whose_ranges_cant_be_read_is_named() -> None:
    table = switch_table(Craft(read_plain("switches.arm = 5: high\nswitches.buzzer = none\n")))
    assert (table.switches, table.untrusted) == ((), ("arm",))


def test_a_dump_without_switches_has_an_empty_table() -> None:
    table = switch_table(Craft(read_plain("battery.cells = 4\n")))
    assert (table.switches, table.lacking) == ((), ())

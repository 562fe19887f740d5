"""How blind the audit is: which values are made wrong and how, and that it grows no blinder."""

import pytest

from cfgaudit.audit.blind import Blindness, Noticed, blindness, not_told, wrongs
from cfgaudit.audit.incremental import Auditor
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reports.wording import how_blind
from cfgaudit.rules.book import book
from cfgaudit.teach.words import ARMS
from cfgaudit.vocabulary.declare import Class
from cfgaudit.vocabulary.kinds import Value
from tests.audit.seeding import GOLDEN, counted, settings_of, sheet_of
from tests.benchmarks.blind import blindness_of, equivalents, left_over, reviewed, share

LEAST_SAFETY = 0.9


def made(text: str, path: str) -> dict[str, dict[str, Value]]:
    return {wrong.says: dict(wrong.put) for wrong in wrongs(read_plain(text), path)}


def test_a_number_is_made_wrong_within_its_limits_alone() -> None:
    """Hand calculation: 30 m; 300 m and 3 m, 60 m and 15 m, 0 m; minus 30 m no height can be."""
    found = made("home.altitude = 30 m\n", "home.altitude")
    assert {says: put["home.altitude"] for says, put in found.items()} == {
        "ten times": 300.0,
        "a tenth": 3.0,
        "twice": 60.0,
        "half": 15.0,
        "nothing": 0.0,
    }


def test_a_switch_gets_the_next_channel_the_mirrored_range_and_the_whole_travel() -> None:
    found = made("switches.arm = 5: 1700..2100 us\n", "switches.arm")
    assert found["the next channel"]["switches.arm"] == ((6, 1700.0, 2100.0),)
    assert found["mirrored"]["switches.arm"] == ((5, 900.0, 1300.0),)
    assert found["the whole travel"]["switches.arm"] == ((5, 900.0, 2100.0),)
    assert found["no range"]["switches.arm"] == ()


def test_siblings_change_places() -> None:
    text = "motors.front_left.output = 1\nmotors.rear_left.output = 3\nbattery.cells = 3\n"
    found = made(text, "motors.front_left.output")
    assert found["exchanged with motors.rear_left.output"] == {
        "motors.front_left.output": 3,
        "motors.rear_left.output": 1,
    }
    assert not any("battery" in says for says in found)


def test_a_word_gets_every_other_word_and_a_flag_is_turned_round() -> None:
    assert set(made("arming.by = switch\n", "arming.by")) == {"sticks in its place"}
    assert made("esc.reports = on\n", "esc.reports") == {"turned round": {"esc.reports": False}}


def test_what_nobody_declared_can_not_be_made_wrong() -> None:
    with pytest.raises(ValueError, match="there is no setting"):
        list(wrongs(read_plain("battery.cells = 3\n"), "battery.colour"))


def test_a_setting_that_no_rule_reads_is_told_and_so_is_what_none_would_notice() -> None:
    found = blindness(
        read_plain("craft.owner = river team\nbattery.cells = 4\n"),
        Auditor(book()).of_values,
        (Class.SAFETY,),
    )
    assert found.not_looked_at == ("craft.owner",)
    assert (found.stated, found.looked_at) == (2, 1)
    assert found.seen == {Class.SAFETY: Noticed(0, ())}


def test_what_was_noticed_once_is_tried_first_and_the_answer_stays_the_same() -> None:
    runs: list[str] = []
    rules = tuple(counted(rule, runs) for rule in book())
    made, taken = [], []
    for craft in ("dipper", "sandpiper", "dipper"):
        runs.clear()
        made.append(blindness(settings_of(craft), Auditor(rules, sheet=sheet_of(craft)).of_values))
        taken.append(len(runs))
    assert made == [blindness_of("dipper"), blindness_of("sandpiper"), made[0]]
    assert taken[2] < taken[0] * 2 / 3


def test_the_line_says_what_was_looked_at_and_what_would_be_noticed() -> None:
    """Hand calculation: 334 - 64 = 270 and 159 - 11 = 148; with the other craft 272 of 337."""
    found = Blindness(334, ("a",) * 64, 5, 0, {Class.SAFETY: Noticed(159, ("b",) * 11)})
    assert how_blind(found) == (
        "Looked at 270 of 334 settings; of 159 safety settings a wrong value would be noticed in "
        "148."
    )
    assert how_blind(found, hint="--blind lists the rest").endswith("148 (--blind lists the rest).")
    other = Blindness(3, ("a",), 0, 0, {Class.SAFETY: Noticed(1, ())})
    assert how_blind(found, other).startswith("Looked at 272 of 337 settings; of 160 safety")
    whole = Blindness(3, (), 0, 0, {Class.SAFETY: Noticed(1, ())})
    assert "lists" not in how_blind(whole, hint="--blind lists the rest")


@pytest.mark.parametrize("craft", GOLDEN)
def test_the_audit_grows_no_blinder(craft: str) -> None:
    found, least = blindness_of(craft), reviewed()["noticed"][craft]
    assert found.looked_at >= least["looked_at"]
    for cls, seen in found.seen.items():
        assert seen.noticed >= least[cls.name.lower()], cls


@pytest.mark.parametrize("craft", GOLDEN)
def test_of_the_safety_settings_a_wrong_value_is_noticed_in_nine_of_ten(craft: str) -> None:
    assert share(craft, Class.SAFETY) >= LEAST_SAFETY


@pytest.mark.parametrize("craft", GOLDEN)
def test_only_what_is_stated_and_goes_unnoticed_is_reviewed_as_equivalent(craft: str) -> None:
    unnoticed = {path for seen in blindness_of(craft).seen.values() for path in seen.unnoticed}
    assert set(equivalents(craft)) <= unnoticed
    assert set(equivalents(craft)) <= set(settings_of(craft).stated)
    assert all(why.strip() for why in equivalents(craft).values())


def test_each_safety_setting_left_over_is_reviewed_and_no_other() -> None:
    assert set(left_over()) == set(reviewed()["left"])
    assert all(why.strip() for why in reviewed()["left"].values())


def test_what_a_first_flight_hangs_on_is_told_where_lines_are_not_understood() -> None:
    text = "failsafe.action = land\nswitches.arm = 5: 1700..2100 us\n"
    motors = "".join(
        f"motors.{arm}.output = {n}\n" for n, arm in enumerate(("front_left", "rear_left"), 1)
    )
    assert not_told(read_plain(text)) == ()  # there is no line that might say more
    found = not_told(read_plain(f"{text}{motors}heron = 4\n"))
    assert found == (
        "which output drives which motor",
        "which way the motors turn",
        "what the pads are for",
        "what the ports carry",
        "which channel each stick has",
    )
    ports = "ports.uart1.roles = receiver\nheron 5 = uart2\n"
    assert "what the ports carry" in not_told(read_plain(f"{text}{motors}{ports}"))
    pads = "".join(f"pads.K{n}.use = motor {arm}\n" for n, arm in enumerate(ARMS[:3]))
    for third in ("motors.front_right.output = 3\n", pads):
        assert "which output drives which motor" not in not_told(
            read_plain(f"{text}{motors}{third}heron = 4\n")
        )


@pytest.mark.parametrize(("by", "told"), [("switch", False), ("sticks", True)])
def test_that_a_switch_arms_does_not_say_which(by: str, told: bool) -> None:
    found = not_told(read_plain(f"arming.by = {by}\nheron = 4\n"))
    assert ("which switch arms" not in found) == told


def slips_of(text: str) -> dict[str, tuple[tuple[str, ...], ...]]:
    settings = read_plain(text)
    found = blindness(settings, Auditor(book()).of_values, slips=True)
    return {slip.says: slip.settings for slip in found.slips}


_SOUND_PACK = """battery.cells = 4
battery.chemistry = lipo
battery.divider = 11
battery.adc_reference = 3.3 V
battery.voltage_from = adc
battery.full_cell = 4.2 V
"""


def test_a_divider_that_is_a_little_off_is_listed_as_unnoticed_though_half_of_it_is_noticed() -> (
    None
):
    # 16.8 V / 11 = 1.53 V of 3.3 V; at 4 the full pack would be 4.2 V, more than the input shows
    assert ("battery.divider",) in slips_of(_SOUND_PACK)[
        "a tenth more or less, of what is measured"
    ]


def test_sticks_that_change_places_in_the_map_are_listed_as_unnoticed() -> None:
    sticks = ("roll", "pitch", "throttle", "yaw")
    text = "".join(f"receiver.map.{stick} = {n}\n" for n, stick in enumerate(sticks, 1))
    changed = slips_of(f"{text}receiver.link = crsf\nreceiver.channels = 16\n")
    assert ("receiver.map.roll", "receiver.map.yaw") in changed["exchanged with each other"]


def test_gains_of_the_only_bank_are_listed_where_ten_times_as_much_goes_unnoticed() -> None:
    text = "".join(f"banks.1.gains.{a}.p = 45\n" for a in ("roll", "pitch"))
    found = slips_of(f"{text}banks.1.gains.roll.ff = 90\n")
    # ten times one axis' P is noticed beside the other; without a twin the feed-forward is not
    assert ("banks.1.gains.roll.ff",) in found["ten times as much"]
    assert ("banks.1.gains.roll.p",) not in found["ten times as much"]


def test_slips_are_tried_where_they_are_asked_for() -> None:
    assert blindness_of("dipper").slips == ()

"""Causes: changes that clear findings when taken back, and what could be at fault in one dump."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

from cfgaudit.audit.causes import Cause, Explained, likely, since
from cfgaudit.audit.guesses import Ground
from cfgaudit.audit.incremental import Auditor
from cfgaudit.dialects.opening import open_dump
from cfgaudit.rules.book import book
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.kinds import SwitchRange, Value
from tests.audit import sound
from tests.audit.seeding import CORPUS, dialects, settings_of, sheet_of

# What the repair did to the demo craft: the arm switch the other way up and its channel low on
# link loss, the throttle closed on link loss, two motors that changed places, telemetry without a
# port.
FAULTS = {
    frozenset({"switches.arm", "failsafe.channels.5"}),
    frozenset({"failsafe.channels.3"}),
    frozenset({"motors.front_left.spin", "motors.front_right.spin"}),
    frozenset({"ports.uart2.roles"}),
}


def repaired() -> Settings:
    data = (CORPUS / "faulty" / "dipper-after-repair.dump").read_bytes()
    return open_dump("dipper-after-repair.dump", data, dialects()).settings


def auditor() -> Auditor:
    return Auditor(book(), sheet=sheet_of("dipper")).of_values


def named(explained: Explained) -> set[frozenset[str]]:
    return {frozenset(cause.paths) for cause in explained.causes}


def changed(settings: Settings, **values: Value) -> Settings:
    """Settings with others in their place; `__` stands for the dot of a path."""
    stated: dict[str, Stated] = dict(settings.stated)
    for name, value in values.items():
        path = name.replace("__", ".")
        stated[path] = stated[path]._replace(value=value)
    return replace(settings, stated=stated)


def test_the_repair_has_four_causes_among_its_changes() -> None:
    explained = since(settings_of("dipper"), repaired(), auditor())
    assert named(explained) == FAULTS
    assert explained.left == ()
    assert {cause.ground for cause in explained.causes} == {Ground.WAS}


def test_the_repair_has_the_same_four_causes_where_no_earlier_dump_is_known() -> None:
    explained = likely(repaired(), auditor())
    assert named(explained) == FAULTS
    assert explained.left == ()


def test_each_finding_goes_with_one_cause() -> None:
    after = repaired()
    grave = [f for f in auditor().findings(after) if f.level.value != "note"]
    for explained in (likely(after, auditor()), since(settings_of("dipper"), after, auditor())):
        told = [(f.rule.id, f.paths) for cause in explained.causes for f in cause.findings]
        assert sorted(told) == sorted({(f.rule.id, f.paths) for f in grave})


def test_what_is_taken_back_clears_what_it_is_said_to_clear() -> None:
    after, own = repaired(), auditor()
    for cause in likely(after, own).causes:
        values = {turn.path.replace(".", "__"): turn.back for turn in cause.turns}
        left = own.findings(changed(after, **{k: v for k, v in values.items() if v is not None}))
        assert not {(f.rule.id, f.paths) for f in cause.findings} & {
            (f.rule.id, f.paths) for f in left
        }


def test_a_craft_in_order_has_no_cause() -> None:
    golden = settings_of("dipper")
    assert likely(golden, auditor()) == Explained((), (), 0)
    assert since(golden, golden, auditor()) == Explained((), (), 0)


def test_a_fault_that_was_there_before_is_not_laid_to_a_change() -> None:
    wrong = changed(settings_of("dipper"), battery__warn_cell=2.6)
    later = changed(wrong, battery__capacity=1300.0)
    assert since(wrong, later, auditor()) == Explained((), (), 0)


def test_two_settings_that_clear_a_finding_each_are_told_as_rivals() -> None:
    # the pack's warning at 3.4 V, below the empty one at 3.45 V: either could be wrong
    wrong = changed(settings_of("dipper"), battery__warn_cell=3.4, battery__empty_cell=3.45)
    (cause,) = [c for c in likely(wrong, auditor()).causes if "battery" in c.paths[0]]
    others = {turn.path for rival in cause.rivals for turn in rival}
    assert {*cause.paths, *others} >= {"battery.warn_cell", "battery.empty_cell"}


def test_the_stretch_that_clears_is_told_for_a_number() -> None:
    # the pack is called empty at 3.3 V a cell and full at 4.2 V; the call at 3.2 V comes too late
    wrong = changed(settings_of("dipper"), battery__warn_cell=3.2)
    (cause,) = [c for c in likely(wrong, auditor()).causes if c.paths == ("battery.warn_cell",)]
    assert cause.within is not None
    low, high = cause.within
    assert 3.3 < low < 3.5 < high < 4.2


def test_every_whole_number_of_a_stretch_that_clears_is_clean() -> None:
    # the cell's voltage put onto the speed's row; further rows have other elements in that column
    settings, sheet = sound.edited({"craft": "heron", "set": dict(ON_THE_SPEED)})
    own = Auditor(book(), sheet=sheet).of_values
    (cause,) = [c for c in likely(settings, own).causes if c.within is not None]
    (turn,) = cause.turns
    assert turn.path.endswith(".row")
    before = {f.key for f in own.findings(settings)} - {f.key for f in cause.findings}
    low, high = cause.within or (0.0, 0.0)
    for row in range(int(low), int(high) + 1):
        tried = changed(settings, **{turn.path.replace(".", "__"): row})
        assert {f.key for f in own.findings(tried)} <= before, row


def test_no_stretch_is_told_of_a_channel_that_a_stick_is_on() -> None:
    """From the trade: the transmitter sends yaw on one channel; the free ones are not others."""
    wrong = changed(settings_of("dipper"), receiver__map__yaw=3)
    (cause,) = likely(wrong, auditor()).causes
    assert (cause.paths, cause.within) == (("receiver.map.yaw",), None)


# overlay elements of one column: the cell's voltage belongs on row 13
ON_THE_SPEED = {"overlay.elements.cell_voltage.row": "3"}
OUTWARD = {
    "frame.rotation": "outward",
    "motors.front_left.spin": "ccw",
    "motors.front_right.spin": "cw",
    "motors.rear_left.spin": "cw",
    "motors.rear_right.spin": "ccw",
}


@pytest.mark.parametrize(
    ("craft", "wrong"),
    [
        # two that changed places, though another value of one alone would clear it as well
        ("smew", {"battery.warn_cell": "3.3 V", "battery.empty_cell": "3.5 V"}),
        # the channel map in another order: the rule names it before the link-loss values
        ("kingfisher", {"receiver.map.throttle": "2", "receiver.map.pitch": "3"}),
        # the sheet's word in one place, and all that hangs on it in others
        ("wigeon", OUTWARD),
        # two figures held against one of the sheet: each has its own finding
        (
            "plover",
            {"video.plan.powers": "1, 25, 600 mW", "video.transmitter.power": "600 mW"},
        ),
        # a first slip that brings something else, where a further one does not
        ("dunlin", {"receiver.signal_channel": "5"}),
        # the arm switch is thrown before every flight: the other one is amiss
        ("stilt", {"switches.return_home": "5: 1700..2100 us"}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_was_changed_is_named_and_nothing_else(craft: str, wrong: Mapping[str, str]) -> None:
    assert paths_at_fault(craft, wrong) == set(wrong)


def test_what_one_cause_brings_is_not_laid_to_the_next() -> None:
    # the motor's turn alone leaves its column of the mixer to be told of
    wrong = {
        "motors.front_left_lower.spin": "cw",
        "motors.front_left_lower.mix.yaw": "-1",
        "notches.tracking.low": "320 Hz",
        "notches.tracking.high": "60 Hz",
    }
    assert paths_at_fault("osprey", wrong) >= {"notches.tracking.low", "notches.tracking.high"}


def test_what_a_rule_looks_at_and_does_not_name_is_tried_for_what_is_left() -> None:
    assert paths_at_fault("moorhen", {"finder.by": "pad"}) == {"finder.by"}


def test_silencing_a_rule_from_afar_is_not_preferred_to_what_it_names() -> None:
    # a digital protocol would silence both rules, but two pulses that changed places are no less
    # wrong for it
    wrong = {
        "esc.pulse_min": "245 us",
        "esc.pulse_max": "132 us",
        "esc.reports": "on",
        "notches.motor.enabled": "on",
        "notches.motor.harmonics": "3",
        "notches.motor.low": "60 Hz",
        "notches.motor.q": "6",
    }
    assert paths_at_fault("bittern", wrong) >= {"esc.pulse_min", "esc.pulse_max"}


def test_a_mend_goes_before_a_guess_at_a_part_that_would_clear_a_warning_beside() -> None:
    # another link on this board's receiver would answer the rate, and telemetry that is sent twice
    wrong = {"ports.uart1.baud": "9600 Bd", "ports.uart2.roles": "telemetry"}
    settings, _ = sound.edited({"craft": "heron", "set": wrong})
    rate, twice = likely(settings, Auditor(book()).of_values).causes
    assert rate.paths == ("ports.uart1.baud",)
    assert rate.ground is Ground.MEND
    assert twice.paths == ("ports.uart2.roles",)


def test_no_guess_lets_a_switch_of_three_positions_arm_half_way() -> None:
    settings, _ = sound.edited({"craft": "heron", "set": {"switches.arm": "5: 900..1500 us"}})
    causes = likely(settings, Auditor(book()).of_values).causes
    backs = [turn.back for cause in causes for turn in cause.turns if turn.path == "switches.arm"]
    assert backs
    for back in backs:
        assert isinstance(back, tuple)
        assert not any(isinstance(one, SwitchRange) and one.low <= 1500 <= one.high for one in back)


def test_of_two_that_may_have_changed_places_either_alone_is_a_rival() -> None:
    (cause,) = causes_of("smew", {"battery.warn_cell": "3.3 V", "battery.empty_cell": "3.5 V"})
    assert cause.ground is Ground.SWAPPED
    rivals = {tuple(turn.path for turn in rival) for rival in cause.rivals}
    assert rivals == {("battery.warn_cell",), ("battery.empty_cell",)}


def test_no_rival_brings_more_than_it_clears() -> None:
    wrong = {"failsafe.channels.3": "988 us"}
    settings, sheet = sound.edited({"craft": "merganser", "set": wrong})
    own = Auditor(book(), sheet=sheet).of_values
    before = {(f.rule.id, f.paths) for f in own.findings(settings)}
    for cause in likely(settings, own).causes:
        for rival in cause.rivals:
            values = {turn.path.replace(".", "__"): turn.back for turn in rival}
            left = own.findings(
                changed(settings, **{k: v for k, v in values.items() if v is not None})
            )
            new = [f for f in left if (f.rule.id, f.paths) not in before]
            assert not any(f.level.value == "error" for f in new), rival


def test_what_clears_a_warning_beside_is_no_rival_of_what_clears_the_error() -> None:
    # pulses carry no report: an error; nor can motors run backward for its self-righting: a warning
    wrong = changed(settings_of("wagtail"), esc__protocol="pwm")
    (cause,) = likely(wrong, Auditor(book(), sheet=sheet_of("wagtail")).of_values).causes
    assert cause.paths == ("esc.protocol",)
    assert cause.rivals == ()


@pytest.mark.parametrize(
    ("craft", "wrong", "fact"),
    [
        ("moorhen", {"switches.self_right": "8: 900..1300 us"}, "receiver.ends.8.low"),
        ("snipe", {"banks.1.rates.roll.max": "2400 deg/s"}, "gyro.full_scale"),
        ("smew", {"switches.arm": "14: 1700..2100 us"}, "receiver.channels"),
    ],
)
def test_a_fact_of_the_craft_is_no_rival_of_a_slip(
    craft: str, wrong: Mapping[str, str], fact: str
) -> None:
    causes = causes_of(craft, wrong)
    assert [cause.paths for cause in causes] == [tuple(wrong)]
    assert fact not in {turn.path for rival in causes[0].rivals for turn in rival}


def test_of_two_changes_that_clear_alike_the_one_that_brings_no_note_is_the_cause() -> None:
    # 60 m home under a ceiling of 12 m: changed about, it would come home among the trees
    (cause,) = causes_of("curlew", {"home.ceiling": "12 m"})
    assert cause.paths == ("home.ceiling",)


def paths_at_fault(craft: str, wrong: Mapping[str, str]) -> set[str]:
    """The settings that are named where a sound craft has others in their place."""
    return {path for cause in causes_of(craft, wrong) for path in cause.paths}


def causes_of(craft: str, wrong: Mapping[str, str]) -> list[Cause]:
    """The causes of a sound craft with other settings, without those of what it says rightly."""
    settings, sheet = sound.edited({"craft": craft, "set": wrong})
    own = {(f.rule.id, f.paths) for f in sound.sound_audit(craft).findings}
    explained = likely(settings, Auditor(book(), sheet=sheet).of_values)
    return [
        cause
        for cause in explained.causes
        if any((f.rule.id, f.paths) not in own for f in cause.findings)
    ]


def test_a_mixer_that_does_not_fit_the_arms_is_changed_by_the_pair_and_not_by_one_arm() -> None:
    # front arms of 80 mm to the side, rear ones of 50 mm: of yaw the front pair should get 50 / 80
    sides = {
        "front_left": "-80 mm",
        "front_right": "80 mm",
        "rear_left": "-50 mm",
        "rear_right": "50 mm",
    }
    ahead = {
        "front_left": "50 mm",
        "front_right": "50 mm",
        "rear_left": "-50 mm",
        "rear_right": "-50 mm",
    }
    places = {f"frame.arms.{arm}.y": y for arm, y in sides.items()}
    places |= {f"frame.arms.{arm}.x": x for arm, x in ahead.items()}
    (cause,) = causes_of("gadwall", places)
    back = {turn.path: turn.back for turn in cause.turns}
    ends = {"motors.front_left.mix.yaw", "motors.front_right.mix.yaw"}
    assert back.keys() == ends
    assert {abs(value) for value in back.values() if isinstance(value, float)} == {0.625}


def test_gains_typed_ten_times_too_high_go_back_together_to_the_firmwares_own() -> None:
    wrong = changed(
        settings_of("dipper"), banks__1__gains__roll__p=450.0, banks__1__gains__pitch__p=480.0
    )
    (cause,) = likely(wrong, auditor()).causes
    back = {turn.path: turn.back for turn in cause.turns}
    assert back == {"banks.1.gains.roll.p": 42.0, "banks.1.gains.pitch.p": 45.0}


def test_of_a_gain_no_stretch_is_told_that_ends_just_below_a_limit() -> None:
    wrong = changed(settings_of("dipper"), banks__1__gains__yaw__p=420.0)
    (cause,) = likely(wrong, auditor()).causes
    assert (cause.paths, cause.ground) == (("banks.1.gains.yaw.p",), Ground.FACTORY)
    assert cause.within is None


def test_thresholds_for_another_packs_cells_go_back_together() -> None:
    # what lithium-ion cells want, on a LiPo pack whose firmware comes with 3.3 and 3.5 V
    wrong = changed(settings_of("wagtail"), battery__warn_cell=3.1, battery__empty_cell=2.8)
    own = Auditor(book(), sheet=sheet_of("wagtail")).of_values
    (cause,) = likely(wrong, own).causes
    back = {turn.path: turn.back for turn in cause.turns}
    assert back == {"battery.warn_cell": 3.5, "battery.empty_cell": 3.3}


def test_the_gains_that_others_are_held_against_are_not_told_to_be_changed() -> None:
    plain = replace(settings_of("dipper"), factory={})  # as in a dump that no dialect reads
    wrong = changed(plain, banks__1__gains__roll__p=450.0, banks__1__gains__pitch__p=450.0)
    explained = likely(wrong, auditor())
    assert {path for cause in explained.causes for path in cause.paths} <= {
        "banks.1.gains.roll.p",
        "banks.1.gains.pitch.p",
    }
    assert {f.rule.id for f in explained.left} == {"gain/lopsided"}

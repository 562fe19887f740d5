"""House limits: what each comparison takes, when the rule speaks, and what it says."""

import pytest

from cfgaudit.audit.engine import Audit, audit
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reading.text import Place
from cfgaudit.rules.house import (
    Condition,
    HouseLimit,
    Others,
    TermsError,
    clashes,
    condition,
    house_rule,
    related,
    setting_declared,
)
from cfgaudit.rules.rule import Edit, Level
from cfgaudit.vocabulary.paths import vocabulary

PLACE = Place("cfgaudit.toml", 3)


def limit(wanted: Condition, when: Condition | None = None) -> HouseLimit:
    return HouseLimit(wanted, when, Level.WARNING, "the club says so", PLACE)


def run(dump: str, wanted: Condition, when: Condition | None = None) -> Audit:
    return audit(read_plain(dump), (house_rule(limit(wanted, when)),))


def fired(dump: str, wanted: Condition, when: Condition | None = None) -> list[str]:
    outcome = run(dump, wanted, when)
    assert outcome.not_checked == ()
    return [finding.paths[0] for finding in outcome.findings]


def lacks(dump: str, wanted: Condition, when: Condition | None = None) -> list[str]:
    outcome = run(dump, wanted, when)
    return [path for entry in outcome.not_checked for path in entry.lacks]


CASES = [
    ("home.ceiling", "at_most", ["120 m"], "120 m", "120.1 m"),
    ("home.ceiling", "at_most", ["12000 cm"], "120 m", "121 m"),
    ("home.ceiling", "at_least", ["30 m"], "30 m", "29 m"),
    ("battery.cells", "at_most", ["4"], "4", "6"),
    ("battery.cells", "one_of", ["4", "6"], "6", "5"),
    ("battery.cells", "one_of", ["auto", "4"], "auto", "3"),
    ("battery.cells", "equals", ["auto"], "auto", "4"),
    ("video.transmitter.power", "equals", ["25 mW"], "0.025 W", "200 mW"),
    ("video.plan.powers", "at_most", ["25 mW"], "5, 25 mW", "25, 200 mW"),
    ("video.plan.powers", "one_of", ["25 mW", "5 mW"], "5 mW", "10, 25 mW"),
    ("telemetry.enabled", "equals", ["on"], "yes", "off"),
    ("failsafe.action", "one_of", ["land", "motors_off"], "land", "none"),
    ("arming.waived", "one_of", ["tilt", "load"], "load, tilt", "tilt, battery"),
    ("arming.waived", "equals", ["none"], "none", "tilt"),
    ("craft.name", "equals", ["Dipper"], '"Dipper"', '"Wagtail"'),
    ("firmware.version", "at_least", ["2.10"], "2.10.1", "2.9.4"),
    ("firmware.version", "at_most", ["2.4"], "2.4.0", "2.4.1"),
    ("filters.gyro", "equals", ["pt1 150 Hz"], "pt1 150 Hz", "pt1 90 Hz"),
]


@pytest.mark.parametrize(("setting", "word", "texts", "good", "bad"), CASES)
def test_a_comparison_is_quiet_at_its_limit_and_fires_beyond_it(
    setting: str, word: str, texts: list[str], good: str, bad: str
) -> None:
    wanted = condition(setting, word, texts)
    assert fired(f"{setting} = {good}\n", wanted) == []
    assert fired(f"{setting} = {bad}\n", wanted) == [setting]
    assert lacks("loop.rate = 4 kHz\n", wanted) == [setting]


def test_a_finding_has_figures_a_mend_and_the_reason() -> None:
    wanted = condition("home.ceiling", "at_most", ["120 m"])
    (finding,) = run("home.ceiling = 150 m\n", wanted).findings
    assert finding.message == "home.ceiling is 150 m; this house wants it at most 120 m."
    assert finding.figures == (("ceiling_m", 150.0), ("ceiling_at_most_m", 120.0))
    assert finding.mend == (Edit("home.ceiling", "120 m"),)
    assert finding.rule.doc.air == "the club says so."
    assert finding.rule.doc.source == "[[limit]] at cfgaudit.toml:3."


MENDS = [
    ("home.ceiling", "at_least", ["30 m"], "20 m", "30 m"),
    ("failsafe.action", "equals", ["land"], "none", "land"),
    ("failsafe.action", "one_of", ["land", "motors_off"], "none", None),
    ("video.plan.powers", "at_most", ["25 mW"], "25, 200 mW", None),
    ("firmware.version", "at_least", ["2.4.2"], "2.4.1", None),  # no setting of the firmware
]


@pytest.mark.parametrize(("setting", "word", "texts", "bad", "mend"), MENDS)
def test_a_mend_clears_the_finding_and_stands_only_where_one_value_is_sure(
    setting: str, word: str, texts: list[str], bad: str, mend: str | None
) -> None:
    wanted = condition(setting, word, texts)
    (finding,) = run(f"{setting} = {bad}\n", wanted).findings
    assert finding.mend == (() if mend is None else (Edit(setting, mend),))
    if mend is not None:
        assert fired(f"{setting} = {mend}\n", wanted) == []


def test_stated_fires_where_nothing_or_an_empty_text_is_stated() -> None:
    wanted = condition("craft.owner", "stated", [])
    assert fired("craft.owner = weir-team\n", wanted) == []
    assert fired("loop.rate = 4 kHz\n", wanted) == ["craft.owner"]
    (finding,) = run('craft.owner = ""\n', wanted).findings
    assert finding.message == "craft.owner is empty; this house wants it stated."


ADVICE = [
    ("home.ceiling", "at_most", ["120 m"], "150 m", "Set home.ceiling to at most 120 m."),
    ("battery.cells", "one_of", ["4", "6"], "5", "Set battery.cells to 4 or 6."),
    (
        "firmware.version",
        "at_least",
        ["2.4.2"],
        "2.4.1",
        "Bring firmware.version to at least 2.4.2.",  # no setting that one types in
    ),
    ("craft.owner", "stated", [], '""', "State craft.owner."),
    ("craft.owner", "equals", ["heron-club"], "weir-team", "Set craft.owner as the limit says."),
]


@pytest.mark.parametrize(("setting", "word", "texts", "bad", "advice"), ADVICE)
def test_the_advice_names_the_setting_and_what_is_wanted(
    setting: str, word: str, texts: list[str], bad: str, advice: str
) -> None:
    (finding,) = run(f"{setting} = {bad}\n", condition(setting, word, texts)).findings
    assert finding.advice == advice
    assert finding.rule.doc.mend == advice


def test_the_rule_tells_its_limit_and_when_it_counts() -> None:
    wanted = condition("battery.warn_cell", "at_least", ["3.6 V"])
    when = condition("battery.chemistry", "equals", ["lipo"])
    said = "A limit of this house: battery.warn_cell is to be at least 3.6 V"
    assert house_rule(limit(wanted)).doc.wrong == f"{said}."
    assert house_rule(limit(wanted, when)).doc.wrong == f"{said}, when battery.chemistry is lipo."


RATES = """
banks.active = 1
banks.1.rates.roll.max = 500 deg/s
banks.1.rates.yaw.max = 300 deg/s
banks.2.rates.yaw.max = 450 deg/s
"""


@pytest.mark.parametrize(
    ("setting", "paths"),
    [
        ("banks.N.rates.AXIS.max", ["banks.1.rates.roll.max", "banks.2.rates.yaw.max"]),
        ("banks.1.rates.AXIS.max", ["banks.1.rates.roll.max"]),
        ("banks.N.rates.yaw.max", ["banks.2.rates.yaw.max"]),
        ("banks.2.rates.yaw.max", ["banks.2.rates.yaw.max"]),
    ],
)
def test_a_pattern_looks_at_every_setting_it_stands_for(setting: str, paths: list[str]) -> None:
    assert fired(RATES, condition(setting, "at_most", ["400 deg/s"])) == paths


@pytest.mark.parametrize(
    ("setting", "text", "paths"),
    [
        ("failsafe.channels.N", "1000 us", ["failsafe.channels.5"]),
        ("failsafe.channels.3", "800 us", ["failsafe.channels.3"]),
        ("receiver.map.CONTROL", "8", ["receiver.map.spare1"]),
        ("video.plan.BAND", "5875 MHz", ["video.plan.reed"]),  # its powers are no band
    ],
)
def test_a_pattern_may_end_in_its_index(setting: str, text: str, paths: list[str]) -> None:
    dump = (
        "failsafe.channels.3 = 900 us\nfailsafe.channels.5 = 1800 us\n"
        "receiver.map.roll = 1\nreceiver.map.spare1 = 9\n"
        "video.plan.meadow = 5740, 5760 MHz\nvideo.plan.reed = 5800, 5900 MHz\n"
        "video.plan.powers = 9000 mW\n"
    )
    assert fired(dump, condition(setting, "at_most", [text])) == paths


def test_the_figures_of_a_numbered_channel_are_called_its_value() -> None:
    wanted = condition("failsafe.channels.N", "at_most", ["1000 us"])
    (finding,) = run("failsafe.channels.5 = 1800 us\n", wanted).findings
    assert finding.figures == (("value_us", 1800.0), ("value_at_most_us", 1000.0))
    assert finding.mend == (Edit("failsafe.channels.5", "1000 us"),)
    assert finding.advice == "Set failsafe.channels.5 to at most 1000 us."


def test_a_member_that_does_not_state_the_setting_is_not_checked() -> None:
    dump = "ports.uart1.baud = 115.2 kBd\nports.uart2.roles = telemetry\n"
    wanted = condition("ports.ID.baud", "at_most", ["100 kBd"])
    assert lacks(dump, wanted) == ["ports.uart2.baud"]
    assert [finding.paths for finding in run(dump, wanted).findings] == [("ports.uart1.baud",)]
    assert fired(dump, condition("ports.ID.baud", "stated", [])) == ["ports.uart2.baud"]


def test_settings_beside_a_group_are_none_of_its_members() -> None:
    dump = "motors.poles = 14\nmotors.front_left.spin = cw\nesc.idle = 5 %\n"
    assert fired(dump, condition("motors.ARM.spin", "equals", ["ccw"])) == [
        "motors.front_left.spin"
    ]
    assert lacks(dump, condition("esc.ARM.direction", "equals", ["normal"])) == [
        "esc.ARM.direction"
    ]


@pytest.mark.parametrize(("hold_s", "fires"), [("1.1", False), ("1.2", True)])
def test_a_limit_may_be_some_times_what_other_settings_make_together(
    hold_s: str, fires: bool
) -> None:
    """Hand calculation: 3 × (0.5 + 1.1) s = 4.8 s and 3 × (0.5 + 1.2) s = 5.1 s; 5 s are set."""
    others = Others(("failsafe.detect_after", "failsafe.hold_for"), 3)
    wanted = condition("failsafe.land_for", "at_least", ["1 s"])._replace(values=(), others=others)
    dump = f"failsafe.detect_after = 0.5 s\nfailsafe.hold_for = {hold_s} s\n"
    assert bool(fired(f"{dump}failsafe.land_for = 5 s\n", wanted)) is fires
    assert lacks("failsafe.land_for = 5 s\n", wanted) == ["failsafe.detect_after"]


def test_a_condition_must_hold_and_must_be_known() -> None:
    wanted = condition("battery.warn_cell", "at_least", ["3.6 V"])
    when = condition("battery.chemistry", "equals", ["lipo"])
    low = "battery.warn_cell = 3.4 V\n"
    assert fired(low + "battery.chemistry = lipo\n", wanted, when) == ["battery.warn_cell"]
    assert fired(low + "battery.chemistry = liion\n", wanted, when) == []
    assert lacks(low, wanted, when) == ["battery.chemistry"]
    (finding,) = run(low + "battery.chemistry = lipo\n", wanted, when).findings
    assert finding.paths == ("battery.warn_cell", "battery.chemistry")
    assert finding.message.endswith("at least 3.6 V when battery.chemistry is lipo.")


def test_a_condition_with_an_open_index_is_about_the_same_member() -> None:
    dump = (
        "ports.uart1.roles = telemetry\nports.uart1.baud = 57.6 kBd\n"
        "ports.uart2.roles = receiver\nports.uart2.baud = 115.2 kBd\n"
    )
    wanted = condition("ports.ID.baud", "at_most", ["50 kBd"])
    when = condition("ports.ID.roles", "equals", ["telemetry"])
    assert fired(dump, wanted, related(wanted, when)) == ["ports.uart1.baud"]
    with pytest.raises(TermsError, match=r"motors\.ARM\.spin leaves ARM open"):
        related(wanted, condition("motors.ARM.spin", "equals", ["cw"]))


def test_a_word_in_place_of_a_number_is_not_compared() -> None:
    dump = "battery.cells = auto\n"
    assert lacks(dump, condition("battery.cells", "at_most", ["4"])) == ["battery.cells"]


def test_a_secret_stays_out_of_all_that_is_said() -> None:
    wanted = condition("craft.owner", "equals", ["heron-club"])
    outcome = run("craft.owner = weir-team\n", wanted)
    (finding,) = outcome.findings
    assert "weir" not in str(finding) + finding.rule.id
    assert "heron" not in str(finding) + str(finding.rule)
    assert lacks('craft.owner = "(hidden)"\n', wanted) == ["craft.owner"]


REFUSED = [
    (
        "home.ceeling",
        "at_most",
        ["120 m"],
        "setting",
        "no setting 'home.ceeling'; did you mean home.ceiling?",
    ),
    ("ports.PORT.baud", "at_most", ["9.6 kBd"], "setting", "did you mean ports.ID.baud?"),
    ("switches.arn", "stated", [], "setting", "no setting 'switches.arn'"),
    ("switches.FUNCTION", "stated", [], "setting", "ends in FUNCTION; say which one"),
    (
        "home.ceiling",
        "at_most",
        ["120 s"],
        "at_most",
        "s measures time, where m (length) is wanted",
    ),
    (
        "home.ceiling",
        "at_most",
        ["120"],
        "at_most",
        'at_most for home.ceiling lacks its unit: say "120 m"',
    ),
    ("home.ceiling", "at_most", ["high"], "at_most", "'high' is not a number within 0..10000 m"),
    ("home.ceiling", "at_most", ["99 km"], "at_most", "99000 m is not a number within 0..10000 m"),
    (
        "failsafe.action",
        "at_most",
        ["land"],
        "at_most",
        "at_most wants a setting with a number; failsafe.action takes one of motors_off",
    ),
    ("failsafe.action", "equals", ["lant"], "equals", "'lant' is not one of motors_off"),
    ("battery.cells", "at_most", ["auto"], "at_most", "'auto' is not a whole number from 1 to 14"),
    ("battery.cells", "one_of", ["4", "6", "4"], "one_of", "says a value twice"),
    (
        "firmware.version",
        "at_least",
        ["newest"],
        "at_least",
        "'newest' is no version such as 2.4.1",
    ),
]


@pytest.mark.parametrize(("setting", "word", "texts", "key", "message"), REFUSED)
def test_terms_that_cannot_be_are_refused_with_the_key_at_fault(
    setting: str, word: str, texts: list[str], key: str, message: str
) -> None:
    with pytest.raises(TermsError) as refused:
        condition(setting, word, texts)
    assert message in str(refused.value)
    assert refused.value.key == key


def test_every_pattern_of_the_vocabulary_is_a_setting() -> None:
    for entry in vocabulary():
        assert setting_declared(entry.pattern) is entry


def test_ids_stay_while_values_move_and_tell_conditions_apart() -> None:
    lipo = condition("battery.chemistry", "equals", ["lipo"])
    liion = condition("battery.chemistry", "equals", ["liion"])

    def warn(text: str, when: Condition | None) -> HouseLimit:
        return limit(condition("battery.warn_cell", "at_least", [text]), when)

    assert warn("3.5 V", None).id == "house/battery-warn-cell-at-least"
    assert warn("3.6 V", None).id == warn("3.5 V", None).id
    both = [warn("3.5 V", lipo), warn("3.1 V", liion)]
    assert both[0].id == "house/battery-warn-cell-at-least-when-battery-chemistry-equals-lipo"
    assert list(clashes(both)) == []
    again = warn("3.7 V", lipo)
    assert list(clashes([*both, again])) == [(again, both[0])]


def test_settings_that_make_a_limit_are_named_together_where_there_are_several() -> None:
    assert str(Others(("failsafe.detect_after",), 2)) == "2 times failsafe.detect_after"
    both = Others(("failsafe.detect_after", "failsafe.hold_for"))
    assert str(both) == "failsafe.detect_after and failsafe.hold_for together"

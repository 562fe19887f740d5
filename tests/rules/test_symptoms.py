"""Symptoms: each grave rule is reached by one, in words that a builder says."""

import pytest

from cfgaudit.rules.book import every_rule
from cfgaudit.rules.rule import Level
from cfgaudit.rules.symptoms import SYMPTOMS, meant, reached

RULES = every_rule()


def test_every_rule_of_level_error_is_reached_by_a_symptom() -> None:
    grave = [rule for rule in RULES if rule.level is Level.ERROR]
    found = {rule.id for symptom in SYMPTOMS for rule in reached(symptom, grave)}
    assert [rule.id for rule in grave if rule.id not in found] == []


def test_every_rule_and_area_that_a_symptom_names_is_there() -> None:
    known = {rule.id for rule in RULES} | {rule.area for rule in RULES}
    named = {name for symptom in SYMPTOMS for name in symptom.rules}
    assert named <= known


def test_every_sign_is_said_by_some_rule() -> None:
    air = " ".join(rule.doc.air.lower() for rule in RULES)
    assert [sign for symptom in SYMPTOMS for sign in symptom.signs if sign not in air] == []


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("no picture", "no picture"),
        ("flips on take-off", "flips on take-off"),
        ("it flipped as I took off", "flips on take-off"),
        ("will not arm", "will not arm"),
        ("it won't arm!", "will not arm"),
        ("no telemetry", "no telemetry"),
        ("motors don't spin", "motors do not spin"),
        ("one motor twitches", "motors do not spin"),
        ("drifts", "drifts"),
        ("hot motors", "hot motors"),
        ("the motors get hot", "hot motors"),
        ("falls on link loss", "falls or flies away on link loss"),
        ("it starts by itself", "arms or starts by itself"),
        ("the goggles stay black", "no picture"),
        ("pictures", "no picture"),
        ("toilet bowls when it holds its position", "does not hold position"),
        ("drifts left", "drifts"),
        ("yaw slowly turns by itself", "turns by itself"),
        ("shakes on punch-out", "shakes at full throttle"),
        ("video cuts out", "picture cuts out in flight"),
        ("picture goes black when I give throttle", "picture cuts out in flight"),
        ("falls out of the sky when battery low", "no warning of an empty pack"),
        ("yaw washes out", "yaw gives way"),
        ("yaw washes out in turns", "yaw gives way"),
        ("bounces back after a flip", "bounces back after a flip"),
        ("wobbles in descents", "wobbles as it comes down"),
        ("oscillates in propwash", "wobbles as it comes down"),
        ("loses height when tilted", "sinks when it tilts"),
        ("twitches with radio off", "moves with the handset off"),
        ("motors twitch when the transmitter is off", "moves with the handset off"),
        ("arms itself", "arms or starts by itself"),
        ("motors won't stop", "arms or starts by itself"),
        ("disarms in flight", "stops in flight"),
        ("motor stops in flight", "stops in flight"),
        ("one motor hotter than the others", "hot motors"),
        ("battery shows 0 volts", "no warning of an empty pack"),
        ("battery percentage wrong", "no warning of an empty pack"),
        ("won't flip over after crash", "does not turn over after a crash"),
        ("gps never gets a fix", "no position"),
        ("altitude hold sinks", "sinks when it tilts"),
        ("craft jumps when I arm", "leaps as it arms"),
        ("buzzer never beeps", "buzzer is silent"),
        ("craft tilts to one side", "drifts"),
    ],
)
def test_what_a_builder_says_is_understood(said: str, name: str) -> None:
    assert meant(said)[0].name == name


def test_what_is_no_symptom_is_none() -> None:
    assert meant("the weather") == []
    assert meant("") == []


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("flips on take-off", "motor/output-twice"),
        ("will not arm", "serial/receiver-unassigned"),
        ("no telemetry", "telemetry/enabled-unassigned"),
        ("hot motors", "filter/none"),
        ("falls or flies away on link loss", "failsafe/throttle-closes"),
        ("arms or starts by itself", "switch/armed-at-failsafe-value"),
        ("drifts", "sensor/accelerometer-uncalibrated"),
    ],
)
def test_a_symptom_leads_to_the_rule_that_tells_of_it(name: str, rule: str) -> None:
    symptom = next(one for one in SYMPTOMS if one.name == name)
    assert rule in [one.id for one in reached(symptom, RULES)]


def test_of_the_rules_about_a_symptom_the_gravest_comes_first_among_the_declared() -> None:
    symptom = next(one for one in SYMPTOMS if one.name == "no picture")
    found = reached(symptom, RULES)
    declared = [rule.level for rule in found if rule.area in symptom.rules]
    assert declared == sorted(declared, key=[*Level].index)
    assert found[0].id == "video/plan-mismatch"

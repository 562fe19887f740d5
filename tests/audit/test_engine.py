"""How the engine runs the rules: crashes, lacks, fingerprints and order."""

import random
import re
from collections.abc import Iterator
from itertools import pairwise

import pytest

from cfgaudit.audit.engine import Finding, Unfit, audit
from cfgaudit.craft.craft import Craft
from cfgaudit.dialects.plain import read_plain
from cfgaudit.pictures.album import album
from cfgaudit.pictures.drawing import Missing
from cfgaudit.reports.wording import all_checked, unfit
from cfgaudit.rules.book import book, every_rule, find
from cfgaudit.rules.rule import (
    Fires,
    Lacks,
    Level,
    NotApplicable,
    Rule,
    Yielded,
    each,
    read_doc,
    rule,
)
from cfgaudit.vocabulary.kinds import Int, Quantity
from cfgaudit.vocabulary.paths import declared
from tests.audit.seeding import faults, seeded, settings_of
from tests.dialects.demo import CORPUS


@rule("trial/crash", Level.ERROR)
def crash(craft: Craft) -> Iterator[Yielded]:
    """Finds one thing, then crashes.

    In the air: nothing.
    Mend: nothing.
    Source: none, for a test alone.
    """
    yield Fires("One thing was found.", ("battery.cells",))
    raise ZeroDivisionError("by nought")


@rule("trial/lack", Level.NOTE)
def lack(craft: Craft) -> Iterator[Yielded]:
    """Finds one thing, then lacks a setting.

    In the air: nothing.
    Mend: nothing.
    Source: none, for a test alone.
    """
    yield Fires("One thing was found.", ("battery.cells",))
    yield Lacks("battery.divider")
    yield Lacks("battery.divider")
    yield Fires(f"Warned at {craft.battery.warn_cell} V.", ("battery.warn_cell",))


@rule("trial/each", Level.WARNING)
def one_by_one(craft: Craft) -> Iterator[Yielded]:
    """Looks at three settings, of which one is missing.

    In the air: nothing.
    Mend: nothing.
    Source: none, for a test alone.
    """

    def look(leaf: str) -> Iterator[Yielded]:
        yield Fires(f"{leaf}: {getattr(craft.battery, leaf)}.", (craft.battery.path(leaf),))

    yield from each(("cells", "warn_cell", "full_cell"), look)


@rule("trial/pulses", Level.WARNING)
def pulses(craft: Craft) -> Iterator[Yielded]:
    """Is about one battery alone, looked at from two sides.

    In the air: nothing.
    Mend: nothing.
    Source: none, for a test alone.
    """

    def look(leaf: str) -> Iterator[Yielded]:
        if craft.battery.cells == 4:
            raise NotApplicable("The craft has four cells.")
        yield Fires(f"{leaf} is looked at.", (craft.battery.path(leaf),))

    yield from each(("cells", "full_cell"), look)


@rule("trial/found-first", Level.WARNING)
def found_first(craft: Craft) -> Iterator[Yielded]:
    """Finds one thing before it sees that the rest is about other craft.

    In the air: nothing.
    Mend: nothing.
    Source: none, for a test alone.
    """

    def look(leaf: str) -> Iterator[Yielded]:
        if leaf == "cells":
            raise NotApplicable("No such cells.")
        yield Fires(f"{leaf}: {getattr(craft.battery, leaf)}.", (craft.battery.path(leaf),))

    yield from each(("cells", "full_cell", "warn_cell"), look)


DUMP = "battery.cells = 4\nbattery.full_cell = 4.2 V\n"


def test_a_rule_that_crashes_becomes_an_error_and_the_audit_goes_on() -> None:
    outcome = audit(read_plain(DUMP), (crash, one_by_one))
    told = [(f.rule.id, f.level.value) for f in outcome.findings]
    assert told.count(("trial/crash", "error")) == 2  # the one thing that it found, and its fault
    assert told.count(("trial/each", "warning")) == 2
    (fault,) = [f for f in outcome.findings if "failed" in f.message]
    assert "(ZeroDivisionError)" in fault.message
    assert fault.paths == ()
    assert outcome.checked_ids == {"trial/each"} - {e.rule.id for e in outcome.not_checked}


def test_what_a_rule_found_before_it_crashed_is_kept() -> None:
    outcome = audit(read_plain(DUMP), (crash,))
    assert [f.message for f in outcome.findings if not f.failed] == ["One thing was found."]


def test_what_a_rule_found_before_it_lacked_a_setting_is_kept() -> None:
    outcome = audit(read_plain(DUMP), (lack,))
    assert [finding.message for finding in outcome.findings] == ["One thing was found."]
    (unchecked,) = outcome.not_checked
    assert unchecked.rule is lack
    assert unchecked.lacks == ("battery.divider", "battery.warn_cell")
    assert outcome.checked == 0


def test_one_item_that_lacks_a_setting_does_not_hide_the_others() -> None:
    outcome = audit(read_plain(DUMP), (one_by_one,))
    assert [f.paths for f in outcome.findings] == [("battery.cells",), ("battery.full_cell",)]
    assert [u.lacks for u in outcome.not_checked] == [("battery.warn_cell",)]


def test_a_rule_that_is_not_about_such_a_craft_is_counted_apart_with_its_reason() -> None:
    outcome = audit(read_plain(DUMP), (pulses, one_by_one))
    assert outcome.not_applicable == (Unfit(pulses, "The craft has four cells."),)
    assert [entry.rule for entry in outcome.not_checked] == [one_by_one]
    assert (outcome.checked, outcome.rules) == (0, 2)
    assert "trial/pulses" in outcome.checked_ids  # no waiver of it waits for more to be stated
    other = audit(read_plain("battery.cells = 3"), (pulses,))
    assert (other.not_applicable, other.checked, other.rules) == ((), 1, 1)
    assert len(other.findings) == 2


def test_an_item_that_a_rule_is_not_about_leaves_what_it_says_of_the_others() -> None:
    outcome = audit(read_plain(DUMP), (found_first,))
    assert [finding.paths for finding in outcome.findings] == [("battery.full_cell",)]
    assert [entry.lacks for entry in outcome.not_checked] == [("battery.warn_cell",)]
    assert outcome.not_applicable == ()


FAULTY = """
[battery]
cells = 4
empty_cell = 3.5 V
warn_cell = 3.3 V
full_cell = 4.2 V
[ports]
uart1.roles = position, telemetry
uart2.roles = position
[receiver]
map.roll = 1
map.pitch = 1
channels = 8
[switches]
buzzer = 9 1700 us..2100 us
[failsafe]
action = none
"""


def faulty(text: str = FAULTY) -> tuple[Finding, ...]:
    return audit(read_plain(text)).findings


def prints(findings: tuple[Finding, ...]) -> list[tuple[str, str]]:
    return sorted((finding.rule.id, finding.fingerprint) for finding in findings)


def test_fingerprints_stay_when_lines_move() -> None:
    before = faulty()
    after = faulty("# a remark\n\n\n" + FAULTY.replace("[ports]", "\n\n# more\n[ports]"))
    assert len(before) > 5
    assert prints(before) == prints(after)
    assert [f.places for f in before] != [f.places for f in after]


def test_fingerprints_change_with_the_values_that_a_finding_is_about() -> None:
    def of(text: str) -> str:
        (finding,) = audit(read_plain(text), (chosen("battery/threshold-order"),)).findings
        return finding.fingerprint

    assert of(FAULTY) != of(FAULTY.replace("3.3 V", "3.4 V"))
    assert of(FAULTY) == of(FAULTY.replace("3.3 V", "3300 mV"))


def chosen(rule_id: str) -> Rule:
    found = find(rule_id)
    assert found is not None
    return found


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_findings_does_not_hang_on_the_order_of_the_rules(seed: int) -> None:
    rules = list(book())
    random.Random(seed).shuffle(rules)
    settings = read_plain(FAULTY)
    assert audit(settings, rules).findings == audit(settings).findings


def test_findings_come_gravest_first_and_no_two_stand_alike() -> None:
    rank = [Level.ERROR, Level.WARNING, Level.NOTE]
    for fault in faults()[::10]:
        findings = audit(settings_of(fault.dump, seeded(fault))).findings
        keys = [(rank.index(f.level), f.rule.id, f.paths, f.message) for f in findings]
        assert all(first[0] <= second[0] for first, second in pairwise(keys))
        assert len(set(keys)) == len(keys)
    keys = [(rank.index(f.level), f.rule.id, f.paths, f.message) for f in faulty()]
    assert len({level for level, *_ in keys}) > 1
    assert all(first[0] <= second[0] for first, second in pairwise(keys))


@pytest.mark.parametrize("one", every_rule(), ids=lambda one: one.id)
def test_a_rule_says_what_is_wrong_what_it_does_how_to_mend_it_and_who_says_so(one: Rule) -> None:
    for part in (one.doc.wrong, one.doc.air, one.doc.mend, one.doc.source):
        assert part.endswith("."), part
        assert part[0].isalnum(), part
        assert "\n" not in part


@pytest.mark.parametrize("one", every_rule(), ids=lambda one: one.id)
def test_a_rule_is_named_by_its_area_and_what_is_wrong(one: Rule) -> None:
    assert re.fullmatch(r"[a-z]+/[a-z]+(-[a-z]+)*", one.id)
    assert one.area == one.id.split("/")[0]
    assert find(one.id) is one


@pytest.mark.parametrize("left_out", ["In the air", "Mend", "Source"])
def test_a_rule_without_one_part_of_its_text_is_refused(left_out: str) -> None:
    parts = {"In the air": "nothing.", "Mend": "nothing.", "Source": "none."}
    text = "What is wrong.\n" + "\n".join(
        f"{name}: {words}" for name, words in parts.items() if name != left_out
    )
    with pytest.raises(ValueError, match=left_out):
        read_doc("trial/doc", text)


@pytest.mark.parametrize("rule_id", ["trial", "Trial/doc", "trial/two words", "trial/", "a/b/c"])
def test_an_id_of_another_form_is_refused(rule_id: str) -> None:
    with pytest.raises(ValueError, match="no rule id"):
        rule(rule_id, Level.NOTE)


def test_a_screen_tells_how_many_rules_are_not_about_such_a_craft() -> None:
    both = audit(read_plain(DUMP), (pulses, one_by_one))
    assert unfit(both) == " 1 more does not apply."
    alone = audit(read_plain(DUMP), (pulses,))
    assert all_checked(alone) == (
        "All 0 rules that apply could be checked; 1 does not apply to such a craft."
    )
    assert all_checked(audit(read_plain(DUMP), ())) == "All 0 rules could be checked."


def _at_the_ends(seed: int) -> str:
    """A sound craft of which every seventh number or so is the least, or the most, that can be."""
    drawn = random.Random(seed)
    lines = []
    for line in (CORPUS / "dipper.cfg").read_text(encoding="utf-8").splitlines():
        path, sign, value = line.partition(" = ")
        known = declared(path) if sign else None
        if known is not None and isinstance(known.kind, Int | Quantity) and drawn.random() < 0.15:
            end = drawn.choice((known.kind.low, known.kind.high))
            value = known.kind.spell(end)
        lines.append(f"{path}{sign}{value}")
    return "\n".join(lines)


@pytest.mark.parametrize("seed", range(30))
def test_no_rule_and_no_picture_crashes_where_values_are_at_their_limits(seed: int) -> None:
    settings = read_plain(_at_the_ends(seed), "a.cfg")
    assert [f.message for f in audit(settings).findings if f.failed] == []
    drawn = album(Craft(settings), None)
    assert [one.why for one in drawn if isinstance(one, Missing) and one.fault] == []

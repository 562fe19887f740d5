"""Every seeded fault is found, and nothing else; dumps that are right are left in peace."""

from collections import Counter, defaultdict
from functools import cache

import pytest

from cfgaudit.audit.engine import Audit, Finding, audit, new_and_cleared
from cfgaudit.rules.book import book, find
from cfgaudit.rules.rule import Level
from tests.audit.seeding import (
    GOLDEN,
    Fault,
    audit_after,
    audit_before,
    faults,
    golden_audit,
    opened,
    seeded,
    settings_of,
    sheet_of,
    text_of,
)
from tests.audit.sound import MISTAKES, edited_audit, sound_audit

GRAVE = (Level.ERROR, Level.WARNING)


def fault_id(fault: Fault) -> str:
    return f"{fault.dump}-{fault.rule}-{fault.old}-{fault.new or fault.add or 'taken out'}"


@cache
def new_findings(fault: Fault) -> tuple[Finding, ...]:
    """What the fault brings: errors and warnings, and notes too where a note is expected."""
    brought, _ = new_and_cleared(
        audit_before(fault.dump, fault.scene, sheet=fault.sheet, build=fault.build),
        audit_after(fault),
    )
    rule = find(fault.rule)
    assert rule is not None
    return tuple(f for f in brought if f.level in GRAVE or rule.level is Level.NOTE)


@pytest.mark.parametrize("dump", GOLDEN)
def test_a_dump_that_is_right_yields_no_error_and_no_warning(dump: str) -> None:
    outcome = golden_audit(dump)
    assert [f"{f.rule.id}: {f.message}" for f in outcome.findings if f.level in GRAVE] == []


@pytest.mark.parametrize("dump", GOLDEN)
def test_a_dump_that_is_right_is_checked_by_every_rule_of_the_book(dump: str) -> None:
    outcome = golden_audit(dump)
    assert outcome.not_checked == ()
    assert outcome.checked + len(outcome.not_applicable) == len(book())


@pytest.mark.parametrize("fault", faults(), ids=fault_id)
def test_a_seeded_fault_is_found_and_nothing_else(fault: Fault) -> None:
    findings = new_findings(fault)
    told = [f"{finding.rule.id}: {finding.message}" for finding in findings]
    assert {finding.rule.id for finding in findings} == {fault.rule, *fault.also}, told


SCENES = tuple(
    dict.fromkeys(
        (fault.dump, fault.scene, fault.sheet, fault.build)
        for fault in faults()
        if fault.scene or fault.build
    )
)


@pytest.mark.parametrize(("dump", "scene", "sheet", "build"), SCENES)
def test_a_scene_that_is_set_for_a_fault_is_right_in_itself(
    dump: str,
    scene: tuple[tuple[str, str], ...],
    sheet: bool,
    build: tuple[tuple[str, str], ...],
) -> None:
    outcome = audit_before(dump, scene, sheet=sheet, build=build)
    assert [f"{f.rule.id}: {f.message}" for f in outcome.findings if f.level in GRAVE] == []


def test_every_rule_of_the_book_has_a_seeded_fault_or_finds_a_mistake_with_a_sound_craft() -> None:
    """Some rules are about what the team's dialects have no word for, such as a servo."""
    seeded_for = {fault.rule for fault in faults()}
    left = {rule.id for rule in book()} - seeded_for
    assert seeded_for <= {rule.id for rule in book()}
    made = {
        finding.rule.id
        for edit in MISTAKES
        for finding in new_and_cleared(sound_audit(edit["craft"]), edited_audit(edit))[0]
    }
    assert left <= made
    assert len(left) < 0.03 * len(book())


def test_the_seeded_faults_stand_in_all_dialects_and_most_rules_in_two_or_more() -> None:
    dialect = {dump: opened(dump).dialect.name for dump in GOLDEN}
    where: dict[str, set[str]] = defaultdict(set)
    for fault in faults():
        where[fault.rule].add(dialect[fault.dump])
    assert set().union(*where.values()) == {"sedge", "osier", "marl"}
    assert sum(len(dialects) >= 2 for dialects in where.values()) > 0.9 * len(book())


def test_few_seeded_faults_are_expected_to_fire_more_than_one_rule() -> None:
    several = [fault for fault in faults() if fault.also]
    assert len(several) < 0.1 * len(faults())
    assert all(fault.why for fault in several)


def test_no_seeded_fault_stands_in_the_table_twice() -> None:
    edits = Counter(
        (f.dump, f.sheet, f.under, f.old, f.new, f.add, f.scene, f.build) for f in faults()
    )
    assert len(faults()) >= 75
    assert [edit for edit, times in edits.items() if times > 1] == []


def test_an_edit_that_does_not_find_its_line_is_refused() -> None:
    with pytest.raises(ValueError, match="0 times"):
        seeded(Fault("dump/unread", "dipper", "no such line", "x"))
    with pytest.raises(ValueError, match="times"):
        seeded(Fault("dump/unread", "dipper", "turns = sunwise", "turns = widdershins"))


@pytest.mark.long
def test_the_score_of_the_seeded_faults() -> None:
    found = wrong = 0
    for fault in faults():
        brought = {finding.rule.id for finding in new_findings(fault)}
        found += fault.rule in brought
        wrong += bool(brought - {fault.rule, *fault.also})
    print(
        f"seeded faults: {len(faults())} seeded, {found} found, {wrong} wrongly found; "
        f"{len({fault.rule for fault in faults()})} of {len(book())} rules, "
        f"{sum(bool(fault.also) for fault in faults())} faults with more than one rule"
    )
    assert (found, wrong) == (len(faults()), 0)


def joined_audit(esc_text: str) -> Audit:
    both = settings_of("wagtail").joined(settings_of("wagtail-esc", esc_text))
    return audit(both, sheet=sheet_of("wagtail"))


def test_a_dump_joined_with_that_of_its_speed_controllers_brings_nothing_new() -> None:
    outcome = joined_audit(text_of("wagtail-esc"))
    brought, cleared = new_and_cleared(golden_audit("wagtail"), outcome)
    assert (brought, cleared) == ((), ())
    assert outcome.not_checked == ()


@pytest.mark.parametrize(
    ("old", "new", "path"),
    [
        ("[drive aft_left]\nway: as_wound", "[drive aft_left]\nway: crosswound", "direction"),
        ("magnets: 14", "magnets: 12", "motors.poles"),
    ],
)
def test_speed_controllers_that_say_otherwise_are_an_error(old: str, new: str, path: str) -> None:
    text = text_of("wagtail-esc")
    assert text.count(old) == 1
    brought, cleared = new_and_cleared(joined_audit(text), joined_audit(text.replace(old, new)))
    assert cleared == ()
    (finding,) = [f for f in brought if f.level in GRAVE]
    assert (finding.rule.id, finding.level) == ("dump/said-twice", Level.ERROR)
    assert finding.paths[0].endswith(path)
    assert {place.file for place in finding.places} == {"wagtail.dump", "wagtail-esc.dump"}


def test_a_speed_controller_with_a_protocol_of_its_own_is_found_in_its_dump() -> None:
    text = text_of("wagtail-esc")
    old = "[drive aft_left]\nway: as_wound"
    assert text.count(old) == 1
    mixed = text.replace(old, f"{old}\nsignal: short_pulse")
    brought, _ = new_and_cleared(joined_audit(text), joined_audit(mixed))
    (finding,) = [f for f in brought if f.level in GRAVE]
    assert (finding.rule.id, finding.paths[0]) == ("esc/protocols-mixed", "esc.rear_left.protocol")
    assert finding.places[0].file == "wagtail-esc.dump"

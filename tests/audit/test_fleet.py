"""Several craft together: seeded clashes, and how the fleet rules are run."""

from collections.abc import Iterator, Sequence
from itertools import permutations

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.audit.fleet import FleetAudit, audit_fleet
from cfgaudit.craft.craft import Craft
from cfgaudit.dialects.plain import read_plain
from cfgaudit.rules.book import book, every_rule, find, fleet_book
from cfgaudit.rules.fleet import file_of
from cfgaudit.rules.rule import Fires, Lacks, Level, Yielded, moved, rule, usual_limits
from cfgaudit.settings import Origin, Settings, Stated
from tests.audit.seeding import GOLDEN, Fault, fleet_faults, opened, seeded, settings_of, sheet_of
from tests.audit.test_seeded_faults import fault_id

FREQUENCY = "video.transmitter.frequency"


def golden_fleet(fault: Fault | None = None) -> FleetAudit:
    """The golden craft together, one of them perhaps with a fault."""
    edited = {fault.dump: seeded(fault)} if fault else {}
    return audit_fleet([settings_of(dump, edited.get(dump)) for dump in GOLDEN])


def sending(*mhz: float) -> list[Settings]:
    return [read_plain(f"{FREQUENCY} = {f} MHz", f"{n}.cfg") for n, f in enumerate(mhz)]


def test_the_golden_craft_can_fly_together_and_are_wholly_checked() -> None:
    fleet = golden_fleet()
    assert fleet.findings == ()
    assert fleet.not_checked == ()
    assert fleet.names == ("dipper", "Wagtail 3", "Goosander", "sandpiper")


@pytest.mark.parametrize("fault", fleet_faults(), ids=fault_id)
def test_a_seeded_clash_is_found_and_nothing_else(fault: Fault) -> None:
    found = golden_fleet(fault).findings
    assert {finding.rule.id for finding in found} == {fault.rule, *fault.also}
    (finding,) = [one for one in found if one.rule.id == fault.rule]
    rule_of_it = find(fault.rule)
    assert finding.rule is rule_of_it
    assert finding.level is finding.rule.level
    files = [f"{GOLDEN[craft]}.dump" for craft in finding.crafts]
    assert f"{fault.dump}.dump" in files
    assert [place and place.file for place in finding.stated_at] == files


def test_every_fleet_rule_has_a_seeded_fault_in_three_dialects() -> None:
    where: dict[str, set[str]] = {}
    for fault in fleet_faults():
        where.setdefault(fault.rule, set()).add(opened(fault.dump).dialect.name)
    assert where == {one.id: {"sedge", "osier", "marl"} for one in fleet_book()}


def test_the_fleet_rules_are_in_the_whole_book_and_no_craft_is_audited_by_them_alone() -> None:
    assert every_rule() == (*book(), *fleet_book())
    assert {one.area for one in fleet_book()} == {"fleet"}
    assert "fleet" not in {one.area for one in book()}
    alone = audit(settings_of("dipper"), sheet=sheet_of("dipper"))
    assert alone.rules == len(book())


def test_joined_dumps_are_one_craft() -> None:
    joined = settings_of("wagtail").joined(settings_of("wagtail-esc"))
    fleet = audit_fleet([joined, settings_of("dipper")])
    assert fleet.names == ("Wagtail 3", "dipper")
    assert fleet.findings == ()


def test_a_limit_that_a_folder_moves_holds_for_a_fleet() -> None:
    narrow = moved(usual_limits(), {"fleet.channel_width": "9 MHz"}, "the club")
    crafts = sending(5800, 5810)
    assert [f.level for f in audit_fleet(crafts).findings] == [Level.ERROR]
    assert audit_fleet(crafts, limits=narrow).findings == ()


def test_a_fingerprint_hangs_neither_on_the_order_nor_on_the_files_but_on_the_craft() -> None:
    names = ("teal", "coot", "rail")

    def prints(order: Sequence[str], mhz: int = 5800) -> set[str]:
        texts = [f"craft.name = {name}\n{FREQUENCY} = {mhz} MHz" for name in order]
        crafts = [read_plain(text, f"{n}.cfg") for n, text in enumerate(texts)]
        return {finding.fingerprint for finding in audit_fleet(crafts).findings}

    assert len({frozenset(prints(order)) for order in permutations(names)}) == 1
    assert prints(names[:2]) != prints(names[1:])
    assert prints(names) != prints(names, 5801)


def test_a_factory_value_counts_and_has_no_place() -> None:
    stated = Stated(FREQUENCY, 5800.0, origin=Origin.FACTORY)
    (finding,) = audit_fleet([Settings({FREQUENCY: stated}), *sending(5800)]).findings
    assert finding.origins == (Origin.FACTORY, Origin.DUMP)
    assert finding.stated_at[0] is None
    assert finding.crafts == (0, 1)


def test_a_plan_that_shares_too_little_is_no_plan() -> None:
    plans = ("5740, 5760, 5800", "5745, 5765, 5800")
    texts = [f"{FREQUENCY} = 5800 MHz\nvideo.plan.a = {plan} MHz" for plan in plans]
    (finding,) = audit_fleet([read_plain(text) for text in texts]).findings
    assert finding.advice.endswith("they state no plan that all share.")


def test_two_dumps_of_one_craft_are_a_note_and_nothing_else() -> None:
    old, new = settings_of("dipper"), settings_of("dipper")
    (finding,) = audit_fleet([old, new]).findings
    assert (finding.rule.id, finding.level) == ("fleet/same-name", Level.NOTE)


@rule("trial/among", Level.ERROR)
def among(fleet: Sequence[Craft]) -> Iterator[Yielded]:
    """Lacks something of two craft, finds one thing, then crashes.

    In the air: nothing.
    Mend: nothing.
    Source: none, for a test alone.
    """
    yield Lacks("craft.name", 1)
    yield Lacks("craft.name", 1)
    yield Lacks("craft.name")
    yield Fires("One thing was found.", ("craft.name",), crafts=(1,))
    raise ZeroDivisionError(len(fleet))


def test_a_fleet_rule_that_crashes_becomes_an_error_and_what_it_lacks_is_kept_by_craft() -> None:
    outcome = audit_fleet(sending(5700, 5800), (among,))
    assert [(f.level, f.crafts) for f in outcome.findings] == [
        (Level.ERROR, ()),
        (Level.ERROR, (1,)),
    ]
    ((_, lacks),) = outcome.not_checked
    assert lacks == (Lacks("craft.name", 1), Lacks("craft.name", 0))


def test_a_craft_of_no_file_is_named_by_its_place_counted_from_one() -> None:
    nameless = Craft(Settings())
    assert [file_of(nameless, number) for number in (0, 1)] == ["craft 1", "craft 2"]

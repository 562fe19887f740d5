"""What another package's rule yields may be anything; the audit goes on and says so."""

from collections.abc import Iterator, Sequence
from typing import Any

import pytest

from cfgaudit.audit.engine import audit
from cfgaudit.audit.fleet import audit_fleet
from cfgaudit.dialects.plain import read_plain
from cfgaudit.reports.check import CheckReport, check_json
from cfgaudit.reports.data import dumped
from cfgaudit.rules.rule import Doc, Edit, Fires, Lacks, Level, Rule

GOOD = Fires("m", ("battery.cells",), (("n", 1.0),), (Edit("battery.cells", "4"),), "a", Level.NOTE)


def spoilt(**fields: Any) -> Any:
    return GOOD._replace(**fields)


WRONG: list[tuple[Any, str]] = [
    ("battery.cells", "it yielded what is of type str"),
    (None, "it yielded what is of type NoneType"),
    (("m", ("battery.cells",)), "it yielded what is of type tuple"),
    (spoilt(message=7), "wrong message"),
    (spoilt(advice=None), "wrong message"),
    (spoilt(paths="battery.cells"), "wrong paths"),
    (spoilt(paths=(1,)), "wrong paths"),
    (spoilt(figures={"n": 1}), "wrong figures"),
    (spoilt(figures=(("n", "1"),)), "wrong figures"),
    (spoilt(figures=(("n", float("nan")),)), "wrong figures"),
    (spoilt(mend=(("battery.cells", "4"),)), "wrong mend"),
    (spoilt(level="note"), "wrong level"),
    (spoilt(places=("3",)), "wrong places"),
    (spoilt(crafts=(0,)), "whose each path is"),
    (Lacks(7), "Lacks wants a path"),  # type: ignore[arg-type]
    (Lacks("battery.cells", 1), "Lacks wants a path"),
]


def made(yielded: object, *, fleet: bool = False) -> Rule:
    def check(craft: object) -> Iterator[Any]:
        yield yielded

    return Rule("otter/one", Level.ERROR, Doc("w", "a", "m", "s"), check, fleet=fleet)


@pytest.mark.parametrize(("yielded", "told"), WRONG, ids=[told for _, told in WRONG])
def test_what_a_report_could_not_work_with_becomes_a_finding(yielded: object, told: str) -> None:
    said = audit(read_plain("battery.cells = 4"), (made(yielded),))
    (finding,) = said.findings
    assert finding.failed
    assert told in finding.message
    assert dumped(check_json(CheckReport([said])))


def test_a_sound_finding_passes() -> None:
    (finding,) = audit(read_plain("battery.cells = 4"), (made(GOOD),)).findings
    assert (finding.message, finding.failed) == ("m", False)


@pytest.mark.parametrize("crafts", [(), (0, 1), (2,), (-1,), ("0",), [0]], ids=str)
def test_a_fleet_rule_must_say_whose_each_path_is(crafts: Sequence[Any]) -> None:
    two = [read_plain("battery.cells = 4"), read_plain("battery.cells = 3")]
    (finding,) = audit_fleet(two, (made(spoilt(crafts=crafts), fleet=True),)).findings
    assert finding.failed
    (right,) = audit_fleet(two, (made(spoilt(crafts=(1,)), fleet=True),)).findings
    assert not right.failed

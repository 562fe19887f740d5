"""Findings as JUnit XML: a test suite a dump, a test case a rule.

A finding at or above the level that fails is a failure, and so is a dump that was not audited;
what is below, waived or known to the baseline is told as the case's output. A rule that could not
be checked at all is skipped.
"""

from collections.abc import Iterable, Iterator, Mapping
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from cfgaudit.audit.engine import Finding, fails
from cfgaudit.reading.safe import safe
from cfgaudit.reports.check import ReviewedFinding
from cfgaudit.reports.review import Review, ReviewPart, lines_of
from cfgaudit.rules.rule import listed


def junit_text(review: Review, fail_on: str) -> str:
    """The whole file; `fail_on` is the lowest level that fails, or never."""
    suites = Element("testsuites", name="cfgaudit")
    for part in review.parts:
        suites.append(_suite(part, fail_on, review.also))
    indent(suites)
    body = tostring(suites, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


def _suite(part: ReviewPart, fail_on: str, also: Mapping[str, str]) -> Element:
    suite = Element("testsuite", name=safe(part.title))
    cases = [_case(part, rule, fail_on, also) for rule in part.rules]
    if part.not_audited:
        cases.insert(0, _not_audited_case(part))
    suite.extend(cases)
    counts = {
        "tests": len(cases),
        "failures": sum(case.find("failure") is not None for case in cases),
        "errors": 0,
        "skipped": sum(case.find("skipped") is not None for case in cases),
    }
    for name, count in counts.items():
        suite.set(name, str(count))
    _output(suite, [*part.notes, part.blind] if part.blind else part.notes)
    return suite


def _not_audited_case(part: ReviewPart) -> Element:
    case = Element("testcase", name="audited", classname=safe(part.title))
    failure = SubElement(case, "failure", type="not audited", message="The dump was not audited.")
    failure.text = safe(part.not_audited)
    return case


def _case(part: ReviewPart, rule: str, fail_on: str, also: Mapping[str, str]) -> Element:
    """One rule: its failures, else that it lacked settings; then what else it says."""
    case = Element("testcase", name=rule, classname=safe(part.title))
    told = [entry for entry in part.told if entry.finding.rule.id == rule]
    lacks = [path for entry in part.unchecked if entry.rule.id == rule for path in entry.lacks]
    failing = [entry for entry in told if entry.counts and fails(entry.finding.level, fail_on)]
    for entry in failing:
        _failure(case, entry.finding, also)
    said = list(_said((entry for entry in told if entry not in failing), also))
    if lacks:
        wants = f"not checked in full for want of {listed(lacks)}"
        if failing:
            said.append(wants)
        else:
            SubElement(case, "skipped", message=safe(wants))
    for unfit in (entry for entry in part.unfit if entry.rule.id == rule):
        SubElement(case, "skipped", message=safe(f"not applicable: {unfit.why}"))
    _output(case, said)
    return case


def _failure(case: Element, finding: Finding, also: Mapping[str, str]) -> None:
    level = finding.level.value
    failure = SubElement(case, "failure", type=level, message=safe(finding.message))
    failure.text = "\n".join(safe(line) for line in _lines(finding, also))


def _lines(finding: Finding, also: Mapping[str, str]) -> list[str]:
    message, air, *rest = lines_of(finding, also)
    settings = [f"Setting: {path}" for path in dict.fromkeys(finding.paths)]
    return [message, air, *settings, *(f"Where: {place}" for place in finding.places), *rest]


def _said(told: Iterable[ReviewedFinding], also: Mapping[str, str]) -> Iterator[str]:
    for finding, waived, known in told:
        by = f", waived until {waived.until}: {waived.because}" if waived else ""
        yield f"{finding.level.value}{by}{', in the baseline' if known else ''}"
        yield from _lines(finding, also)


def _output(element: Element, lines: Iterable[str]) -> None:
    """What is worth telling though nothing failed."""
    text = "\n".join(safe(line) for line in lines)
    if text:
        SubElement(element, "system-out").text = text

"""What a report for review tells, part by part, and the formats that it can be written in.

The longer of these have modules of their own; check and diff tell different things in Markdown.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple

from cfgaudit.audit.baseline import BaselineEntry
from cfgaudit.audit.blind import Blindness
from cfgaudit.audit.engine import Audit, Finding, Unchecked, Unfit
from cfgaudit.audit.fleet import FleetAudit
from cfgaudit.reading.safe import safe
from cfgaudit.reports.check import ReviewedFinding, in_one_order
from cfgaudit.reports.data import from_top
from cfgaudit.reports.screen import NO_NAMES, also_called
from cfgaudit.reports.wording import (
    counted_levels,
    how_blind,
    mends,
    not_audited,
    reading_notes,
    wanted,
)
from cfgaudit.rules.book import fleet_book
from cfgaudit.rules.rule import Level, listed

_MOST_PLACES = 3  # of a finding that is told in a line
_WORDS = {Level.ERROR: "error", Level.WARNING: "warning", Level.NOTE: "notice"}


class ReviewPart(NamedTuple):
    """What is told of one craft, or of several together.

    `file` is the dump that a finding without a place is told at; `unchecked` are the rules that
    could not be checked in full, each with what it lacked; `rules` are the ids of all that ran.
    """

    title: str
    file: str
    told: tuple[ReviewedFinding, ...]
    unchecked: tuple[Unchecked, ...]
    rules: tuple[str, ...]
    notes: tuple[str, ...] = ()
    not_audited: str = ""  # why it was not, or not all of it
    unfit: tuple[Unfit, ...] = ()  # the rules that are not about such a craft
    blind: str = ""  # how much was looked at, and what would be noticed, in one line


class Review(NamedTuple):
    """Everything that is told. `compared` says whether it is measured against something older.

    `cleared` are findings that a change clears, `gone` and `unsure` the baseline's entries that
    are found no more. `also` gives by name of a port or pad what else it is called.
    """

    parts: tuple[ReviewPart, ...]
    compared: bool = False
    cleared: tuple[Finding, ...] = ()
    gone: tuple[BaselineEntry, ...] = ()
    unsure: tuple[BaselineEntry, ...] = ()
    also: Mapping[str, str] = NO_NAMES

    @property
    def told(self) -> tuple[ReviewedFinding, ...]:
        """Every finding of every part."""
        return tuple(told for part in self.parts for told in part.told)


def names_in(finding: Finding, also: Mapping[str, str]) -> str:
    """What else the ports and pads of a finding are called, as a sentence; empty where none is."""
    return also_called((finding.message, *finding.paths, *mends(finding)), also)


def lines_of(finding: Finding, also: Mapping[str, str]) -> list[str]:
    """What every format tells of a finding: what, in the air, how to mend it, its other names."""
    called = names_in(finding, also)
    return [
        finding.message,
        f"In the air: {finding.in_the_air}",
        f"Mend: {'; '.join(mends(finding))}",
        *([called] if called else []),
    ]


def part_of(audit: Audit, blind: Blindness | None = None) -> ReviewPart:
    """What is told of one craft; `blind` is how blind its audit is."""
    dumps = audit.settings.dumps
    lacking = {entry.rule.id for entry in audit.not_checked}
    told = in_one_order(audit.findings, audit.waived, audit.known)
    return ReviewPart(
        title=", ".join(dump.file for dump in dumps),
        file=dumps[0].file if dumps else "",
        told=told,
        unchecked=tuple(
            entry._replace(lacks=tuple(map(wanted, entry.lacks))) for entry in audit.not_checked
        ),
        rules=tuple(sorted(audit.checked_ids | lacking | {t.finding.rule.id for t in told})),
        notes=tuple(reading_notes(audit.settings)),
        not_audited=not_audited(audit.settings, audit.findings),
        unfit=audit.not_applicable,
        blind="" if blind is None else how_blind(blind, hint="check --blind lists the rest"),
    )


def part_together(fleet: FleetAudit, file: str) -> ReviewPart:
    """What is told of several craft together."""
    return ReviewPart(
        title=f"{listed(list(fleet.names))} together",
        file=file,
        told=in_one_order(fleet.findings, fleet.waived, fleet.known),
        unchecked=tuple(
            Unchecked(
                entry.rule,
                tuple(f"{lack.path} of {fleet.names[lack.craft]}" for lack in entry.lacks),
            )
            for entry in fleet.not_checked
        ),
        rules=tuple(
            sorted({rule.id for rule in (*fleet_book(), *(e.rule for e in fleet.not_checked))})
        ),
    )


def review_of(
    audits: Sequence[Audit], fleet: FleetAudit | None, blind: Sequence[Blindness | None] = ()
) -> Review:
    """What check tells, without a baseline; `blind` is of each craft, where it is known."""
    parts = [part_of(*one) for one in zip_longest(audits, blind)]
    if fleet is not None:
        parts.append(part_together(fleet, parts[0].file))
    return Review(tuple(parts))


def review_of_change(
    audit: Audit,
    brought: Sequence[Finding],
    cleared: Sequence[Finding],
    blind: Blindness | None = None,
) -> Review:
    """What diff tells: of the new dump's audit just what the change brings, and what it clears."""
    part = part_of(audit, blind)._replace(
        told=tuple(ReviewedFinding(finding) for finding in brought)
    )
    return Review((part,), compared=True, cleared=tuple(cleared))


def review_text(form: str, review: Review, fail_on: str) -> str:
    """What is told as SARIF, JUnit XML (by what fails) or lines for GitHub; only that is loaded."""
    if form == "sarif":
        from cfgaudit.reports.sarif import sarif_text

        return sarif_text(review)
    if form == "junit":
        from cfgaudit.reports.junit import junit_text

        return junit_text(review, fail_on)
    if form == "github":
        return github_text(review)
    raise ValueError(form)


def github_text(review: Review) -> str:
    """The lines by which a job on GitHub puts notes beside the lines of a file.

    One a finding that nobody has looked at, then one a dump with what was not checked. Published:
    docs.github.com, "Workflow commands for GitHub Actions" (from memory: the escapes are those of
    the toolkit's own command.ts).
    """
    lines = [
        _finding_line(told.finding, part, review.also)
        for part in review.parts
        for told in part.told
        if told.counts
    ]
    for part in review.parts:
        lines += _part_lines(part)
    return "".join(f"{line}\n" for line in lines)


def _finding_line(finding: Finding, part: ReviewPart, also: Mapping[str, str]) -> str:
    where = {"file": _file(finding.places[0].file if finding.places else part.file)}
    if finding.places:
        where["line"] = str(finding.places[0].line)
        if finding.places[0].column:
            where["col"] = str(finding.places[0].column)
    where["title"] = finding.rule.id
    said = lines_of(finding, also)
    others = [str(place) for place in finding.places[1:]]
    more = len(others) - _MOST_PLACES
    others[_MOST_PLACES:] = [f"{more} more"] * (more > 0)
    if others:
        said.append(f"See also {listed(others)}")
    return command(_WORDS[finding.level], where, "\n".join(safe(line) for line in said))


def _part_lines(part: ReviewPart) -> Iterator[str]:
    def line(title: str, said: str, word: str = "notice") -> str:
        return command(word, {"file": _file(part.file), "title": title}, safe(said))

    for note in part.notes:
        yield line("how it was read", note)
    if part.not_audited:
        said = f"{part.title} was not audited. {part.not_audited}"
        yield line("not audited", said, "error")
        return
    known = [told.finding for told in part.told if told.known]
    if known:
        said = f"{part.title}: the baseline knows {counted_levels(known)} here, which stand."
        grave = any(finding.level is Level.ERROR for finding in known)
        yield line("in the baseline", said, "warning" if grave else "notice")
    if part.unchecked:
        many = f"{len(part.unchecked)} of {len(part.rules)}"
        yield line("not checked", f"{part.title}: {many} rules could not be checked in full.")
    if part.blind:
        yield line("looked at", f"{part.title}: {part.blind}")


def command(word: str, properties: dict[str, str], message: str) -> str:
    """One such line.

    >>> command("error", {"file": "a,b.dump", "line": "3"}, "5 %: two\\nlines")
    '::error file=a%2Cb.dump,line=3::5 %25: two%0Alines'
    """
    told = ",".join(f"{name}={_property(value)}" for name, value in properties.items())
    return f"::{word} {told}::{_data(message)}"


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")


def _file(name: str) -> str:
    """The file as seen from the top of the repository, with slashes."""
    return safe(from_top(name).as_posix())

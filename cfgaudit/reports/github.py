"""Findings as the lines by which a job on GitHub puts notes beside the lines of a file.

Published: docs.github.com, "Workflow commands for GitHub Actions" (from memory: the escapes are
those of the toolkit's own command.ts).
"""

from collections.abc import Iterator

from cfgaudit.reading.safe import safe
from cfgaudit.reports.data import from_top
from cfgaudit.reports.review import Review, ReviewedFinding, ReviewPart, names_in
from cfgaudit.reports.wording import counted_levels, mends
from cfgaudit.rules.rule import Level, listed

_MOST_PLACES = 3
_WORDS = {Level.ERROR: "error", Level.WARNING: "warning", Level.NOTE: "notice"}


def github_text(review: Review) -> str:
    """A line a finding that nobody has looked at, then one a dump with what was not checked."""
    lines = [
        _finding_line(told, part, names_in(told.finding, review.also))
        for part in review.parts
        for told in part.told
        if told.counts
    ]
    for part in review.parts:
        lines += _part_lines(part)
    return "".join(f"{line}\n" for line in lines)


def _finding_line(told: ReviewedFinding, part: ReviewPart, called: str) -> str:
    finding = told.finding
    where = {"file": _file(finding.places[0].file if finding.places else part.file)}
    if finding.places:
        where["line"] = str(finding.places[0].line)
        if finding.places[0].column:
            where["col"] = str(finding.places[0].column)
    where["title"] = finding.rule.id
    said = [
        finding.message,
        f"In the air: {finding.in_the_air}",
        f"Mend: {'; '.join(mends(finding))}",
    ]
    said += [called] if called else []
    others = [str(place) for place in finding.places[1:]]
    more = len(others) - _MOST_PLACES
    others[_MOST_PLACES:] = [f"{more} more"] * (more > 0)
    if others:
        said.append(f"See also {listed(others)}")
    return command(_WORDS[finding.level], where, "\n".join(safe(line) for line in said))


def _part_lines(part: ReviewPart) -> Iterator[str]:
    where = {"file": _file(part.file)}
    for note in part.notes:
        yield command("notice", {**where, "title": "how it was read"}, safe(note))
    if part.not_audited:
        said = safe(f"{part.title} was not audited. {part.not_audited}")
        yield command("error", {**where, "title": "not audited"}, said)
        return
    known = [told.finding for told in part.told if told.known]
    if known:
        said = f"{part.title}: the baseline knows {counted_levels(known)} here, which stand."
        grave = any(finding.level is Level.ERROR for finding in known)
        word = "warning" if grave else "notice"
        yield command(word, {**where, "title": "in the baseline"}, safe(said))
    if part.unchecked:
        many = f"{len(part.unchecked)} of {len(part.rules)}"
        told = safe(f"{part.title}: {many} rules could not be checked in full.")
        yield command("notice", {**where, "title": "not checked"}, told)
    if part.blind:
        told = safe(f"{part.title}: {part.blind}")
        yield command("notice", {**where, "title": "looked at"}, told)


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

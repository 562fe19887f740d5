"""Laws that hold of any two dumps, whatever bytes they are: what a fuzzer has for an oracle.

Of the whole way: read, audited, told, compared, written plainly, redacted, mended, merged, taught
and drawn as a page. A law raises BrokenLawError; any other exception is a fault of the program.
"""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Final

from cfgaudit.audit.engine import audit
from cfgaudit.changes.diff import apply, diff
from cfgaudit.craft.craft import Craft
from cfgaudit.dialects.dialect import Dialect, load_dialect
from cfgaudit.dialects.opening import Opened, bundled_dialects, open_dump, open_every
from cfgaudit.dialects.plain import CannotFormat, formatted, read_plain, write_plain
from cfgaudit.dialects.redaction import redact_whole
from cfgaudit.git.merge import Marks, merge_dumps
from cfgaudit.pictures.album import album
from cfgaudit.reading.safe import safe
from cfgaudit.reports.check import CheckReport, check_screen
from cfgaudit.reports.html import craft_html
from cfgaudit.settings import Origin
from cfgaudit.teach.write import draft_dialect, read_draft
from cfgaudit.work.mend import mend

CORPUS: Final = Path(__file__).parents[2] / "corpus"


class BrokenLawError(AssertionError):
    """A law does not hold."""


@cache
def dialects() -> tuple[Dialect, ...]:
    """The demo dialects and those of the program."""
    own = map(load_dialect, sorted((CORPUS / "dialects").glob("*.toml")))
    return (*own, *bundled_dialects())


def opened(data: bytes, name: str | None = None) -> Opened:
    """A dump of these bytes, in the dialect of that name if there is one."""
    chosen = next((dialect for dialect in dialects() if dialect.name == name), None)
    return open_dump("a.dump", data, dialects(), chosen)


def hold(law: str, holds: object) -> None:
    """See that a law holds. Raises BrokenLawError."""
    if not holds:
        raise BrokenLawError(law)


def reading(old: Opened, _: Opened) -> None:
    """What a dump holds is found again in the bytes that it prints back as."""
    data = old.document.text.to_bytes()
    hold("a dump prints back as it was read", opened(data).settings == old.settings)


def checking(old: Opened, _: Opened) -> None:
    """No rule fails, and nothing that acts on a terminal is told."""
    outcome = audit(old.settings)
    hold("no rule fails", not any(finding.failed for finding in outcome.findings))
    screen = check_screen(
        CheckReport([outcome]), width=80, unchecked=True, waived=True, every=True, most=None
    ).plain()
    hold("no letter acts", all(safe(line) == line for line in screen.split("\n")))


def comparing(old: Opened, new: Opened) -> None:
    """A dump does not differ from itself, and the changes lead from one to the other."""
    hold("diff(a, a) is empty", not list(diff(old.settings, old.settings)))
    made = apply(diff(old.settings, new.settings), old.settings)
    hold("apply(diff(a, b), a) is b", not list(diff(made, new.settings)))


def plainly(old: Opened, _: Opened) -> None:
    """The plain form says the same, and is the same when it is written again."""
    text = write_plain(old.settings)
    again = read_plain(text)
    stated = {p: e.value for p, e in old.settings.stated.items() if e.origin is not Origin.FACTORY}
    hold("plain(plain(x)) is plain(x)", write_plain(again) == text)
    hold("plain loses nothing", {p: e.value for p, e in again.stated.items()} == stated)
    try:
        once = formatted("a.cfg", text.encode())
    except CannotFormat:
        return
    hold("what plain writes is in order", once == text.encode())


def redacting(old: Opened, _: Opened) -> None:
    """What was hidden once stays as it is; every dump of the text is searched."""
    once = redact_whole(_every(old.document.to_bytes()), _every).data
    hold("redact(redact(x)) is redact(x)", redact_whole(_every(once), _every).data == once)


def _every(data: bytes) -> tuple[Opened, ...]:
    return open_every("a.dump", data, dialects())


def mending(old: Opened, _: Opened) -> None:
    """A mend brings no error that was not there."""

    done = mend((old,), audit)
    errors = [
        sum(finding.level.value == "error" for finding in one.findings)
        for one in (done.first, done.last)
    ]
    hold("a mend brings no error", errors[1] <= errors[0])


def merging(old: Opened, new: Opened) -> None:
    """What one side alone changed comes out as that side has it."""
    a, b = (side.document.text.to_bytes() for side in (old, new))
    merged = merge_dumps(a, a, b, Marks(), opened)
    hold("a merge does not fail", "internal fault" not in merged.why_text)
    text = merged.data is not None  # bytes that are no text are left to git, unmerged
    hold("merge(a, a, b) has no conflict", not a or not text or merged.conflicts == 0)


def teaching(old: Opened, _: Opened) -> None:
    """A dialect that is proposed can be loaded."""
    read_draft(draft_dialect(("a.dump",), (old.document.text,), "trial"))


def drawing(old: Opened, _: Opened) -> None:
    """A page is made, of every picture or of what it lacks."""
    outcome = audit(old.settings)
    drawn = album(Craft(old.settings), None)
    page = craft_html(outcome, drawn)
    hold("no picture fails", "a fault of the program" not in page)


LAWS: Final[tuple[Callable[[Opened, Opened], None], ...]] = (
    reading, checking, comparing, plainly, redacting, mending, merging, teaching, drawing,
)  # fmt: skip

"""What `mend` tells: what is mended by which edit, the lines, the audit after; screen and data."""

from collections.abc import Sequence
from typing import Any

from cfgaudit.audit.engine import Finding
from cfgaudit.dialects.editor import LineChange
from cfgaudit.dialects.opening import joined
from cfgaudit.dialects.plain import stated_text
from cfgaudit.reports.check import finding_json, findings_json, level_piece
from cfgaudit.reports.data import head
from cfgaudit.reports.lines import files_json, typed_changes
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import NOT_STATED, closing, counted_levels, has_dialect, headline
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.work.mend import Left, Mended, Taken


def mend_screen(
    mended: Mended, changes: Sequence[LineChange], written: Sequence[str], *, width: int
) -> Screen:
    """The whole screen."""
    screen = Screen(width)
    screen.say(headline(mended.first.settings))
    before = joined(mended.before)
    for taken in mended.taken:
        _taken(screen, taken, mended, before)
    for left in mended.left:
        _left(screen, left)
    typed_changes(screen, changes, written)
    _after(screen, mended)
    return screen


def _head(screen: Screen, word: str, finding: Finding) -> None:
    screen.blank()
    screen.line(word.ljust(8), Piece(finding.rule.id, "strong"), "  ", level_piece(finding))
    screen.paragraph(finding.message)


def _taken(screen: Screen, taken: Taken, mended: Mended, before: Settings) -> None:
    _head(screen, "MEND", taken.finding)
    said = []
    for edit in taken.edits:
        if edit.path not in mended.wanted:
            said.append(f"nothing more: the other edits clear it ({edit.path})")
            continue
        stated = before.stated.get(edit.path)
        was = NOT_STATED if stated is None else f"was {stated_text(stated)}"
        where = f", {stated.place}" if stated is not None and stated.place else ""
        said.append(f"{edit.path} = {edit.value}  ({was}{where})")
    screen.labelled("Set", said)


def _left(screen: Screen, left: Left) -> None:
    _head(screen, "LEFT", left.finding)
    screen.labelled("Not mended", [left.why])


def _after(screen: Screen, mended: Mended) -> None:
    """What the edited dump's audit says."""
    screen.blank()
    last = mended.last
    if not has_dialect(last.settings):
        screen.say("No dialect knows this dump, so nothing can be mended in it.")
        return
    if not mended.taken:
        screen.say("Nothing to mend: no finding has a mend that can be taken.")
    else:
        brought = counted_levels(mended.brought)
        screen.say(
            f"Audited again with the change in it: {counted_levels(mended.cleared)} cleared, "
            f"{f'{brought} new' if brought else 'nothing new'}."
        )
    told = {left.finding.key for left in mended.left}
    new = {finding.key for finding in mended.brought}
    rest = [
        finding
        for finding in last.findings
        if finding.key in new or (finding.level is not Level.NOTE and finding.key not in told)
    ]
    if rest:
        screen.title("Left, as no single change is sure to mend it")
        for finding in rest:
            mark = "  new" if finding.key in new else ""
            screen.table([(level_piece(finding, 7), finding.rule.id + mark)])
            screen.paragraph(finding.message, indent=11)
        screen.paragraph("`cfgaudit check` says how to go about each.", indent=2)
    screen.blank()
    screen.say(closing(last.findings))


def mend_json(
    mended: Mended, changes: Sequence[LineChange], written: Sequence[str]
) -> dict[str, Any]:
    """The whole output of mend."""
    return {
        **head(),
        "file": mended.before[0].document.name,
        "with": [dump.document.name for dump in mended.before[1:]],
        "dialect": mended.before[0].dialect.name or None,
        "mended": [
            {
                "finding": finding_json(taken.finding),
                "edits": [
                    {"path": edit.path, "value": edit.value, "needed": edit.path in mended.wanted}
                    for edit in taken.edits
                ],
            }
            for taken in mended.taken
        ],
        "left": [{"finding": finding_json(left.finding), "why": left.why} for left in mended.left],
        "files": files_json(changes, written),
        "findings_cleared": findings_json(mended.cleared),
        "findings_new": findings_json(mended.brought),
        "findings_after": findings_json(mended.last.findings),
    }

"""What `carry` tells: what is carried and what not, the lines, the audit after; screen and data."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from cfgaudit.audit.engine import Audit, new_and_cleared
from cfgaudit.dialects.editor import LineChange
from cfgaudit.dialects.plain import value_shown
from cfgaudit.reports.check import findings_json, level_piece
from cfgaudit.reports.data import entry_json, head, value_json
from cfgaudit.reports.diff import entry_text
from cfgaudit.reports.lines import files_json, typed_changes
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.wording import closing, counted_levels, headline
from cfgaudit.work.carry import Carried, Stays, is_tuned


class CarryReport(NamedTuple):
    """What is carried from one craft to another, and what the other's audit says of it."""

    names: tuple[str, str]
    carried: Carried
    changes: Sequence[LineChange]
    written: Sequence[str]
    audits: tuple[Audit, Audit]  # of the craft before and after


def carry_screen(report: CarryReport, width: int) -> Screen:
    """The whole screen."""
    screen = Screen(width)
    screen.say(f"From {report.names[0]} to {report.names[1]}.")
    screen.say(headline(report.audits[0].settings))
    _moves(screen, report.carried)
    _stays(screen, report.carried)
    _counts(screen, report.carried)
    typed_changes(screen, report.changes, report.written)
    _audited(screen, *report.audits)
    return screen


def _moves(screen: Screen, carried: Carried) -> None:
    if not carried.moves:
        return
    free = [move for move in carried.moves if not move.built]
    built = [move for move in carried.moves if move.built]
    for title, moves in (
        (f"Carried: {len(free)}", free),
        (f"Carried, and to be held against the craft as it is built: {len(built)}", built),
    ):
        if moves:
            screen.heading(title)
        for move in moves:
            old = entry_text(move.old, factory=False)
            screen.paragraph(
                f"{move.path}: {old} -> {value_shown(move.path, move.value)}", indent=4
            )
    if built:
        screen.paragraph(
            "These say what is soldered where and how the craft is put together; another craft "
            "may be built otherwise.",
            indent=4,
        )


def _stays(screen: Screen, carried: Carried) -> None:
    """What can't be carried, and what is left, by reason: one reason often holds for many."""
    for title, entries in (("Can't be carried", carried.stays), ("Left", carried.held)):
        if entries:
            screen.heading(f"{title}: {len(entries)}")
            _by_reason(screen, entries)


def _by_reason(screen: Screen, entries: Sequence[Stays]) -> None:
    reasons: dict[str, list[str]] = {}
    for entry in entries:
        reasons.setdefault(entry.why, []).append(
            f"{entry.path} = {value_shown(entry.path, entry.value)}"
        )
    for why, settings in reasons.items():
        screen.paragraph(f"{why}:", indent=4)
        for text in settings:
            screen.paragraph(text, indent=6)


def _counts(screen: Screen, carried: Carried) -> None:
    screen.blank()
    if not carried.moves:
        screen.say("Nothing to carry.")
    own = ", ".join(carried.own)
    were = "setting was" if carried.alike == 1 else "settings were"
    told = f"{carried.alike:,} {were} alike already."
    if own:
        told += f" Left alone, being each craft's own: {own}."
    screen.say(told)
    if not carried.one_size and any(is_tuned(move.path) for move in carried.moves):
        said = "They are not of one size, and what is tuned to it was asked for: "
        if carried.one_size is None:
            said = "Nothing says that both are of one size (propellers in both build sheets): "
        said += "gains, filters, idle and the landing's throttle of one are wrong for another."
        screen.say(said)
    if carried.left:
        screen.say(
            f"Left, as {len(carried.left)} belong to the craft as it is built (--only PATH carries "
            f"them): {', '.join(carried.left)}."
        )


def _audited(screen: Screen, before: Audit, after: Audit) -> None:
    brought, cleared = new_and_cleared(before, after)
    screen.blank()
    screen.say(
        f"Audited with the change in it: {counted_levels(brought) or 'nothing'} new, "
        f"{counted_levels(cleared) or 'nothing'} cleared."
    )
    for word, findings in (("new", brought), ("cleared", cleared)):
        for finding in findings:
            rule = Piece(finding.rule.id, "strong")
            screen.line("  ", word.ljust(9), level_piece(finding, 9), rule)
            screen.paragraph(finding.message, indent=11)
    screen.blank()
    screen.say(closing(after.findings))


def carry_json(report: CarryReport) -> dict[str, Any]:
    """The whole output of carry."""
    carried = report.carried
    brought, cleared = new_and_cleared(*report.audits)
    return {
        **head(),
        "from": report.names[0],
        "to": report.names[1],
        "carried": [
            {
                "path": move.path,
                "old": entry_json(move.old),
                "new": value_json(move.value),
                "built": move.built,
            }
            for move in carried.moves
        ],
        "not_carried": _stays_json(carried.stays),
        "held_back": _stays_json(carried.held),
        "one_size": carried.one_size,
        "alike": carried.alike,
        "craft_own": list(carried.own),
        "left_as_built": list(carried.left),
        "files": files_json(report.changes, report.written),
        "findings_new": findings_json(brought),
        "findings_cleared": findings_json(cleared),
        "findings_after": findings_json(report.audits[1].findings),
    }


def _stays_json(entries: Sequence[Stays]) -> list[dict[str, Any]]:
    return [
        {"path": entry.path, "value": value_json(entry.value), "why": entry.why}
        for entry in entries
    ]

"""The screen of `carry`: what is carried, what can't be and why, the lines, the audit after it."""

from collections.abc import Sequence

from cfgaudit.audit.engine import Audit, new_and_cleared
from cfgaudit.dialects.editor import LineChange
from cfgaudit.dialects.plain import stated_text
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_check import closing, counted_levels, headline
from cfgaudit.reports.terminal_lines import change_lines
from cfgaudit.vocabulary.kinds import Value, value_text
from cfgaudit.vocabulary.paths import declared
from cfgaudit.work.carry import Carried


def carry_screen(
    names: tuple[str, str],
    carried: Carried,
    changes: Sequence[LineChange],
    written: Sequence[str],
    audits: tuple[Audit, Audit],
    *,
    width: int,
) -> Screen:
    """The whole screen; `audits` are those of the craft before and after."""
    screen = Screen(width)
    screen.paragraph(f"From {names[0]} to {names[1]}.", indent=0)
    screen.paragraph(headline(audits[0].settings), indent=0)
    _moves(screen, carried)
    _stays(screen, carried)
    _counts(screen, carried)
    change_lines(screen, changes, written)
    _audited(screen, *audits)
    return screen


def spelled(path: str, value: Value) -> str:
    """A value in the plain form's spelling."""
    known = declared(path)
    return value_text(known.kind, value) if known else str(value)


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
            screen.blank()
            screen.line(Piece(title, "strong"))
        for move in moves:
            old = stated_text(move.old) if move.old else "not stated"
            screen.paragraph(f"{move.path}: {old} -> {spelled(move.path, move.value)}", indent=4)
    if built:
        screen.paragraph(
            "These say what is soldered where and how the craft is put together; another craft "
            "may be built otherwise. --only PATH carries some settings and not the rest.",
            indent=4,
        )


def _stays(screen: Screen, carried: Carried) -> None:
    """What can't be carried, by reason: one reason often holds for many."""
    if not carried.stays:
        return
    screen.blank()
    screen.line(Piece(f"Can't be carried: {len(carried.stays)}", "strong"))
    reasons: dict[str, list[str]] = {}
    for entry in carried.stays:
        reasons.setdefault(entry.why, []).append(
            f"{entry.path} = {spelled(entry.path, entry.value)}"
        )
    for why, settings in reasons.items():
        screen.paragraph(f"{why}:", indent=4)
        for text in settings:
            screen.paragraph(text, indent=6)


def _counts(screen: Screen, carried: Carried) -> None:
    screen.blank()
    if not carried.moves:
        screen.paragraph("Nothing to carry.", indent=0)
    own = ", ".join(carried.own)
    were = "setting was" if carried.alike == 1 else "settings were"
    told = f"{carried.alike:,} {were} alike already."
    if own:
        told += f" Left alone, being each craft's own: {own}."
    screen.paragraph(told, indent=0)


def _audited(screen: Screen, before: Audit, after: Audit) -> None:
    brought, cleared = new_and_cleared(before, after)
    screen.blank()
    screen.paragraph(
        f"Audited with the change in it: {counted_levels(brought) or 'nothing'} new, "
        f"{counted_levels(cleared) or 'nothing'} cleared.",
        indent=0,
    )
    for word, findings in (("new", brought), ("cleared", cleared)):
        for finding in findings:
            name = finding.level.value
            screen.line(
                "  ", word.ljust(9), Piece(name.ljust(9), name), Piece(finding.rule.id, "strong")
            )
            screen.paragraph(finding.message, indent=11)
    screen.blank()
    screen.paragraph(closing(after.findings, "Do not fly before the errors are cleared."), indent=0)

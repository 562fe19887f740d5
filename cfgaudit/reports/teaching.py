"""What `dialect teach` shows, and what `dialect new` tells of each field; screens and data."""

from collections.abc import Sequence
from math import exp

from cfgaudit.audit.blind import not_told
from cfgaudit.audit.engine import audit, is_secret
from cfgaudit.dialects.plain import value_shown
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.text import FileText
from cfgaudit.reports.data import head
from cfgaudit.reports.screen import Piece, Screen, wrapped
from cfgaudit.reports.wording import counted, counted_levels, not_told_of
from cfgaudit.settings import Stated
from cfgaudit.teach.asking import LineQuestion, Question, State, Taught, taught
from cfgaudit.teach.propose import Candidate, Proposal, plain_path
from cfgaudit.teach.write import Draft, read_draft
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.paths import declared

_TOO_FEW = 20  # lines for one that is read from which a dump counts as unread
_SHOWN = 6  # settings that an answer is shown to make


def question_screen(state: State, asked: Question, width: int) -> Screen:
    """A question: what it opens, the setting, the lines that may say it, what can be typed."""
    screen = Screen(width)
    screen.blank()
    screen.say(f"{_opens(state, asked)} ({_running(taught(state))})")
    for part in wrapped(f"{asked.path}: {asked.says}?", screen.width - 2):
        screen.line(Piece(f"  {part}", "strong"))
    for place, line in enumerate(asked.lines, 1):
        likeliest = "   most likely" if place == 1 else ""
        screen.paragraph(f"={place}  line {line.number:>5}  {line.text}{likeliest}", indent=4)
    if not asked.lines:
        screen.paragraph("No line seems to say it; q stops, and nothing known is lost.", indent=4)
    if asked.kin:
        others = ", ".join(asked.kin[:_SHOWN])
        screen.paragraph(
            f"Its like tells as much, typed as PATH = VALUE: {others}"
            f"{', ...' if len(asked.kin) > _SHOWN else ''}",
            indent=4,
        )
    lines = "=1 or line N, the line that says it" if asked.lines else "line N, the one that says it"
    screen.paragraph(
        f"its value · {lines} · ? I don't know · h what is that · b back · q stop", indent=4
    )
    return screen


def line_screen(state: State, asked: LineQuestion, width: int) -> Screen:
    """A question about a line: the line, what it may state, what can be typed."""
    screen = Screen(width)
    screen.blank()
    screen.say(f"{_opens(state, asked)} ({_running(taught(state))})")
    screen.line(Piece(f"  What does line {asked.line.number} say?", "strong"))
    for above in asked.above:
        screen.line(Piece(f"    {' '.join(above.split())}", "quiet"))
    screen.paragraph(asked.line.text, indent=4)
    for place, path in enumerate(asked.guesses, 1):
        screen.line(f"    {place}  {path}")
    example = "1 = VALUE or PATH = VALUE" if asked.guesses else "PATH = VALUE"
    screen.paragraph(
        f"{example}, more behind ; · n nothing of the craft · ? I don't know · h help · b back · "
        "q stop",
        indent=4,
    )
    return screen


def line_help(asked: LineQuestion, width: int) -> Screen:
    """What a question about a line wants to know."""
    screen = Screen(width)
    screen.paragraph(
        "Type the setting and what it is set to now, in plain units, for each value of the line, "
        "in their order: motors.front_left.mix.roll = 1; .yaw = -1. Type words instead "
        "of a path, and the settings that they may mean are told; `cfgaudit explain` lists all.",
        indent=4,
    )
    for path in asked.guesses:
        found = declared(path)
        if found is not None:
            screen.paragraph(f"{path}: {found.traits.says}; {found.kind.says}", indent=4)
    return screen


def _opens(state: State, asked: Question | LineQuestion) -> str:
    values = asked.settings if isinstance(asked, Question) else asked.like
    what = "setting" if isinstance(asked, Question) else "value"
    opens = counted(asked.rules, "rule") if asked.rules else counted(values, what)
    return f"Question {state.questions + 1}, opens {opens}"


def _running(made: Taught) -> str:
    return f"{made.checked} of {made.rules} rules can run"


def help_screen(asked: Question, width: int) -> Screen:
    """What a question wants to know."""
    screen = Screen(width)
    screen.paragraph(f"{asked.path} is {asked.says}; expected is {asked.expects}.", indent=4)
    return screen


def state_json(state: State, asked: Question | LineQuestion | None) -> dict[str, object]:
    """Where the asking stands, and the next question: in the words of its screen."""
    made = taught(state)
    told: dict[str, object] = {
        "name": made.draft.name,
        "checked": made.checked,
        "rules": made.rules,
        "running": _running(made),
        "not_told": list(not_told(made.settings)),
        "unplaced": [
            {"path": one.answer.path or one.answer.asked, "why": one.why} for one in made.unplaced
        ],
    }
    if asked is None:
        return {**told, "question": None}
    if not isinstance(asked, Question):
        of_line = {
            "line": asked.line.number,
            "opens": _opens(state, asked),
            "says": f"What does line {asked.line.number} say?",
            "expects": "PATH = VALUE for each of its values, in their order, parted by ;",
            "text": asked.line.text,
            "above": list(asked.above),
            "guesses": list(asked.guesses),
        }
        return {**told, "question": of_line}
    question = {
        "path": asked.path,
        "opens": _opens(state, asked),
        "says": f"{asked.path}: {asked.says}?",
        "expects": f"Expected is {asked.expects}.",
        "lines": [line.number for line in asked.lines],
    }
    return {**told, "question": question}


def effect_screen(before: State, after: State, width: int) -> Screen:
    """What an answer makes of the dump, before it is taken."""
    screen = Screen(width)
    for told in effect(before, after):
        screen.paragraph(told, indent=4)
    return screen


def effect(before: State, after: State) -> list[str]:
    """What an answer makes of the dump: each setting that it tells, and what can run then."""
    new = taught(after)
    fresh = changes(before, after)
    if not fresh:
        why = next((one.why for one in new.unplaced if one.answer == after.answers[-1]), "")
        return [f"Nothing changes: {why or 'it is read so already'}."]
    old = taught(before).settings
    told = []
    for path in fresh[:_SHOWN]:
        stated = new.settings.stated.get(path)
        was = old.stated.get(path)
        instead = f", not {_value(path, was)}{_at(was)} any more" if was and stated else ""
        if stated is None:
            told.append(f"NOT READ any more: {path}{_at(was) if was else ''}")
        else:
            told.append(f"{path} = {_value(path, stated)}{_at(stated)}{instead}")
    if len(fresh) > _SHOWN:
        told.append(f"and {counted(len(fresh) - _SHOWN, 'setting')} more")
    return [*told, _running(new)]


def _at(stated: Stated) -> str:
    """Where a setting is read; where no word of the line says it, that another one is not."""
    if stated.place is None:
        return ""
    if stated.place.column:
        return f" (line {stated.place.line})"
    return f" (line {stated.place.line}, word for word: another value there is not read yet)"


def changes(before: State, after: State) -> list[str]:
    """The settings that an answer makes other than they were; first those that are lost for it."""
    old, new = taught(before).settings, taught(after).settings
    lost = [p for p, stated in old.stated.items() if p not in new and stated.place is not None]
    other = [p for p in new if p in old and old[p].value != new[p].value]
    return [*lost, *other, *(p for p in new if p not in old)]


def _value(path: str, stated: Stated) -> str:
    return HIDDEN if is_secret(path, stated) else value_shown(path, stated.value)


def unread_screen(state: State, dump: str, file: str, width: int) -> Screen:
    """That next to nothing of a dump could be taken apart, and what to do; else nothing."""
    screen = Screen(width)
    made = taught(state)
    lines = sum(bool(line.strip()) for line in state.texts[0].lines)
    read = sum(1 for stated in made.settings.stated.values() if stated.place is not None)
    if read * _TOO_FEW > lines:
        return screen
    screen.blank()
    screen.say(
        f"Of {counted(lines, 'line')} of {dump} {read} could be read: the others have a shape that "
        "can't be taken apart, so questions about values will find no line for them."
    )
    screen.say(
        f"What to do: put a line of the dump into `map` of {file} with the setting in braces in "
        "the place of its value (`cell_low {battery.warn_cell: V}`; cfgaudit/dialects/README.md "
        "has one for each shape); or change one setting on the craft, dump again, and let "
        "`cfgaudit dialect learn BEFORE AFTER --set PATH=VALUE` write the line."
    )
    screen.say(f"Then see how far it goes: cfgaudit dialect try {dump} --dialect {file}")
    return screen


def end_screen(state: State, dump: str, file: str, width: int) -> Screen:
    """What came of it: settings, rules, findings, and the next command."""
    made = taught(state)
    found = audit(made.settings)
    screen = unread_screen(state, dump, file, width)
    screen.blank()
    screen.say(
        f"{counted(len(made.settings.stated), 'setting')} read, {made.checked} of {made.rules} "
        f"rules can run, after {counted(state.questions, 'answer')}."
    )
    for why in dict.fromkeys(one.why for one in made.unplaced):
        paths = dict.fromkeys(a.path or a.asked for a, said in made.unplaced if said == why)
        screen.say(f"Not used, since {why}: {', '.join(paths)}.")
    untold = not_told(made.settings)
    if untold:
        screen.say(not_told_of(untold), style="strong")
    said = counted_levels(found.findings) or "no finding"
    screen.say(f"Audited with {file}: {said}.")
    screen.say(f"Next: cfgaudit check {dump} --dialect {file}")
    return screen


def not_read(draft: Draft, name: str, text: FileText) -> tuple[str, ...]:
    """What a first flight hangs on and a draft does not read of its dump, in words."""
    dialect = read_draft(draft)
    return not_told(read_settings(Document(name, text, dialect.look), dialect))


def fields_json(draft: Draft, missing: Sequence[str]) -> dict[str, object]:
    """Each field of the dumps, with the settings that it may be, the likeliest first.

    `missing` is what a first flight hangs on and the draft does not read.
    """
    active = {id(made) for one in draft.mapped if one.active for made in one.proposals}
    return {
        **head(),
        "dialect": draft.text,
        "not_told": list(missing),
        "fields": [
            {
                "file": sample.place.file,
                "line": sample.place.line,
                "column": sample.place.column or 0,
                "text": sample.text,
                "at_work": id(made) in active and made.chosen is not None,
                "candidates": [
                    {
                        "path": plain_path(candidate.path(sample)),
                        "spec": candidate.fit.spec,
                        "sure": sure,
                    }
                    for candidate, sure in _sureness(made)
                ],
            }
            for made in draft.proposals
            for sample in made.seen.samples
        ],
    }  # fmt: skip


def _sureness(made: Proposal) -> list[tuple[Candidate, float]]:
    """The candidates with how sure each is; what the first leaves is shared by the others."""
    weights = [exp(1.6 * min(candidate.points, 20)) for candidate in made.candidates]
    rest = sum(weights[1:]) or 1.0
    first = (
        made.sure
        if made.chosen is not None
        else min(0.3, weights[0] / (1 + sum(weights)))
        if weights
        else 0.0
    )
    return [
        (candidate, round(first if place == 0 else (1 - first) * weight / rest * 0.9, 3))
        for place, (candidate, weight) in enumerate(zip(made.candidates, weights, strict=True))
    ]

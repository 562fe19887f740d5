"""`cfgaudit dialect teach`: asks a builder what a dump of an unknown firmware can't tell."""

import json
import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache, reduce
from pathlib import Path
from zlib import crc32

import click

from cfgaudit import __version__
from cfgaudit.cli import InputError, say
from cfgaudit.cli.files import refuse_own_input, write_atomically
from cfgaudit.cli.inputs import read_bytes
from cfgaudit.cli.output import screen_width
from cfgaudit.dialects.dialect import DialectError, load_dialect
from cfgaudit.dialects.opening import GENERIC, Opened, open_dump
from cfgaudit.dialects.plain import read_plain
from cfgaudit.dialects.raw import is_secret_path
from cfgaudit.dialects.reader import read_settings
from cfgaudit.dialects.redaction import redact
from cfgaudit.reading.document import Document
from cfgaudit.reading.private import HIDDEN, secret_parts
from cfgaudit.reading.text import FileText, bounded_bytes, read_text
from cfgaudit.reading.toml import parsed
from cfgaudit.reports import teaching as told
from cfgaudit.reports.screen import Screen, safe_lines
from cfgaudit.settings import Settings
from cfgaudit.teach.asking import (
    NOTHING_SAID,
    Answer,
    LineQuestion,
    Question,
    State,
    answered,
    begun,
    beside,
    checked,
    checked_of_line,
    in_place,
    mark_of,
    named_small,
    question,
    read_otherwise,
    taught,
    taught_from,
    undone,
    with_all,
)
from cfgaudit.teach.by_hand import HandEdits, by_hand
from cfgaudit.teach.telling import meant
from cfgaudit.teach.write import Draft, KnownWords, draft_dialect
from cfgaudit.vocabulary.kinds import BadValue
from cfgaudit.vocabulary.paths import declared

_MARK = "# told: "  # before an answer that the dialect file keeps
_DONT_KNOW = ("?", "s", "")
_SPELLED = {"help": "h", "back": "b"}
_SLOW = 5  # answers that take a while
_MANY = 1000  # questions; nobody answers so many


@click.command(short_help="Be asked for what a dump can't tell, and make a dialect of the answers.")
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@click.option("--name", metavar="NAME", default="", help="What to call the dialect.")
@click.option(
    "--output", metavar="FILE", help="The dialect file; NAME.toml, if not told otherwise."
)
@click.option(
    "--answers", metavar="KNOWN.cfg", help="Answer from this file, in the plain form; ask nobody."
)
@click.option("--most", metavar="N", type=click.IntRange(0), help="Stop after so many questions.")
@click.option(
    "--remember/--no-remember",
    default=None,
    help="Whether to write cfgaudit.toml, so that the dialect is found; asked, if not told.",
)
def teach(
    dumps: tuple[str, ...],
    name: str,
    output: str | None,
    answers: str | None,
    most: int | None,
    remember: bool | None,
) -> int:
    """Ask what DUMP can't tell, and write the dialect file as the answers come.

    A question is about one setting (what is it set to now, and which line says so?) or about a line
    (what does it say?). The question that opens most comes first. The file keeps the answers: with
    the same --output the asking goes on where it stopped. Several dumps of the firmware tell more.
    """
    if not answers and sys.stdin.isatty():
        say(f"{dumps[0]} is looked through, which takes up to half a minute.")
    state = begun_with(dumps, name)
    refuse_empty(taught(state).draft, state.names)
    file = Path(output or f"{name or taught(state).draft.name}.toml")
    refuse_own_input(str(file))
    state, edits = _taken_up(state, file, dumps, name)
    if not answers:
        _forget_typed()
        _write(state, file, edits)  # better now than behind the first answer, if it can't be
        _show(told.unread_screen(state, dumps[0], str(file), screen_width()))
    state = _from_file(state, answers, most) if answers else _asked(state, file, most, edits)
    _write(state, file, edits)
    _show(told.end_screen(state, dumps[0], str(file), screen_width()))
    remembered(file, Path(dumps[0]), remember, ask=answers is None)
    return 0


def _forget_typed() -> None:
    """Forget what was typed before the first question: it is no answer to it."""
    if sys.stdin.isatty():
        with suppress(ImportError, OSError):
            import termios  # not on every system

            termios.tcflush(sys.stdin, termios.TCIFLUSH)


def drafted(
    dumps: Sequence[str], name: str, stdin_name: str = "standard input"
) -> tuple[Draft, list[str], list[FileText]]:
    """The dialect that `dialect new` makes of some files, what they are called, and their texts.

    A dialect is made to be shared, so what looks private in the texts is hidden. Raises InputError.
    """
    read = [read_bytes(dump, stdin_name) for dump in dumps]
    names = [called for _, called in read]
    texts = [to_pass_on(called, data) for data, called in read]
    return draft_dialect(names, texts, name), names, texts


def refuse_empty(draft: Draft, names: Sequence[str]) -> None:
    """Raises InputError where no line of the dumps states anything."""
    if not draft.active + draft.doubtful + draft.unknown:
        raise InputError(f"{', '.join(names)}: no line states anything, so no dialect was made")


def begun_with(dumps: Sequence[str], name: str = "") -> State:
    """The state before the first question on some files. Raises InputError."""
    read = [read_bytes(dump, "standard input") for dump in dumps]
    texts = [_as_text(called, data).document.text for data, called in read]
    return begun([called for _, called in read], texts, name)


def answers_in(text: str) -> list[Answer]:
    """The answers that a dialect file keeps. Raises ValueError or TypeError where one is broken."""
    kept = [line.removeprefix(_MARK) for line in text.splitlines() if line.startswith(_MARK)]
    return [Answer(**json.loads(line)) for line in kept]


def to_pass_on(name: str, data: bytes) -> FileText:
    """A dump's text, what looks private hidden. Raises InputError for what is hardly a text."""
    opened = _as_text(name, data)
    for remark in opened.document.remarks:
        say(f"{name}: {remark}")
    return read_text(redact(opened).data)


def _as_text(name: str, data: bytes) -> Opened:
    """A dump of which at least half can be read. Raises InputError."""
    opened = open_dump("", data, (), GENERIC)
    if 2 * len(opened.document.unread) > len(opened.document.text.lines):
        raise InputError(f"{name}: most of its lines can't be read as text; is it a dump?")
    return opened


def _taken_up(state: State, file: Path, dumps: Sequence[str], name: str) -> tuple[State, HandEdits]:
    """The state with the answers that the dialect file keeps, and its changes by hand."""
    if not file.is_file():
        return state, HandEdits()
    try:
        text = bounded_bytes(file).decode("utf-8")
        answers = answers_in(text)
        if len(answers) >= _SLOW:
            say(f"{file}: {len(answers)} answers are taken up")
        state = replace(state, words=_words_in(text))
        kept, lost = _in_this_dump(state, answers, file)
    except (OSError, ValueError, TypeError) as error:
        raise InputError(f"{file}: its answers can't be taken up: {error}") from None
    state = reduce(answered, kept, state)
    if lost:
        said = "; ".join(f"{one.path or one.asked} = {one.value}" for one in lost)
        say(f"{dumps[0]} has no line any more that says so, and it is left out: {said}")
    fresh = dialect_text(state).splitlines()
    # else it may be as `dialect new` wrote it: nobody has put anything into that either
    written = fresh if kept or lost else safe_lines(drafted(dumps, name)[0].text).splitlines()
    if text.splitlines() in (fresh, written):
        return state, HandEdits()
    edits = by_hand(*(_but_told(lines) for lines in (written, text.splitlines())))
    known = not (kept or lost) or _mark_of_dumps(state) in text.splitlines()
    if edits is not None and known:
        say(f"{file} was changed by hand; what was changed stays")
        return state, edits
    if not kept and not lost:
        raise InputError(
            f"{file} is there, and not as `dialect new` or `teach` wrote it: what was changed by "
            "hand would be lost; name another file: --output"
        )
    before = file.with_name(f"{file.name}.before")
    write_atomically(before, text.encode("utf-8"))
    say(f"{file} was made of another dump, or changed; as it was it is kept in {before}")
    return state, HandEdits()


def _but_told(lines: Sequence[str]) -> list[str]:
    return [line for line in lines if not line.startswith(_MARK)]


def _mark_of_dumps(state: State) -> str:
    """The line by which a dialect file tells of which dumps it was asked, and by which program."""
    whole = "\n".join(line for text in state.texts for line in text.lines)
    return f"# asked of: {crc32(f'{__version__} {whole}'.encode('utf-8', 'backslashreplace')):08x}"


def _words_in(text: str) -> KnownWords:
    """The word lists of a dialect's text, which another dump may not have. Raises ValueError."""
    lists = parsed(text).get("words", {})
    tables = {name: words for name, words in lists.items() if isinstance(words, dict)}
    return tuple(
        (name, tuple((theirs, str(ours)) for theirs, ours in words.items()))
        for name, words in tables.items()
    )


def _in_this_dump(
    state: State, answers: Sequence[Answer], file: Path
) -> tuple[list[Answer], list[Answer]]:
    """The answers as they are true of the dump, and those that nothing in it says.

    Where a line was changed since, as by a mend, the dialect itself reads what it says now.
    """
    kept: list[Answer] = []
    lost: list[Answer] = []
    lines = state.texts[0].lines
    settings = None
    for answer in answers:
        found = None if answer.value == HIDDEN else in_place(answer, lines)
        if found is None and settings is None:
            dialect = load_dialect(file)
            document = Document(state.names[0], state.texts[0], dialect.look)
            settings = read_settings(document, dialect)
        path = answer.path or answer.asked
        own, stated = declared(path), settings.stated.get(path) if settings else None
        if found is None and own and stated is not None and stated.place is not None:
            line = stated.place.line
            value, seen = own.kind.spell(stated.value), mark_of(lines[line - 1])
            found = answer._replace(value=value, line=line, seen=seen)
        if found is not None:
            kept.append(found)
        elif answer.value:
            lost.append(answer)
    return kept, lost


def _from_file(state: State, answers: str, most: int | None) -> State:
    """The state after the questions that a file answers. Raises InputError."""
    data, called = read_bytes(answers, "")
    known = read_plain("\n".join(read_text(data).lines), called)
    for trouble in known.troubles:
        at = f":{trouble.place.line}" if trouble.place else ""
        say(f"{called}{at}: {trouble.message}")
    for key, raw in known.raw.items():
        at = f":{raw.place.line}" if raw.place else ""
        say(f"{called}{at}: {key} is no setting of the vocabulary, and left out")
    if not known.stated:
        raise InputError(f"{answers} states no setting; the plain form is expected: path = value")
    _refuse_others(state, known, called)
    state = taught_from(state, known, _MANY if most is None else most)
    return with_all(state, known) if most is None else state


_LEAST_BOTH, _MOST_OTHERWISE = 20, 0.25  # settings read before any answer, and those not as known


def _refuse_others(state: State, known: Settings, called: str) -> None:
    """Raise InputError where what is known is of another craft: it would teach what is not so."""
    read = taught(state).settings.stated
    both = [path for path in known.stated if path in read and not read[path].doubt]
    other = [path for path in both if known.stated[path].value != read[path].value]
    if len(both) >= _LEAST_BOTH and len(other) > _MOST_OTHERWISE * len(both):
        raise InputError(
            f"{called} is hardly of this dump's craft: of {len(both)} settings that both state "
            f"{len(other)} differ, such as {', '.join(other[:3])}"
        )


def _asked(state: State, file: Path, most: int | None, edits: HandEdits) -> State:
    """The state after a talk at the terminal; the file is written after each answer."""
    count, before_it = 0, ""
    while most is None or count < most:
        asked = question(state)
        if asked is None:
            click.echo("Nothing is left to ask.")
            break
        if isinstance(asked, Question) and asked.path == before_it:
            state = answered(state, Answer(before_it))  # the reply was about something else
            continue
        if isinstance(asked, LineQuestion):
            _show(told.line_screen(state, asked, screen_width()))
        else:
            _show(told.question_screen(state, asked, screen_width()))
        try:
            reply = _reply("> ")
            if reply == "b":
                before, state = state, undone(state)
                _say_undone(before.answers[len(state.answers) :])
                continue
            answers = (
                _of_line(state, asked, reply)
                if isinstance(asked, LineQuestion)
                else _answer(state, asked, reply)
            )
        except _Stopped:
            break
        except BadValue as error:  # the question is asked again
            _say(str(error))
            continue
        if answers is None:
            continue
        state = reduce(answered, answers, state)
        before_it = asked.path if isinstance(asked, Question) else ""
        _write(state, file, edits)
        count += 1
    return state


def _say_undone(answers: Sequence[Answer]) -> None:
    """Say what is taken back, so that nobody takes it for kept."""
    told = [f"{one.path or one.asked} = {one.value}" for one in answers if one.value]
    unknown = [one.asked or f"line {one.line}" for one in answers if not one.value]
    said = [*told, *(f"I don't know of {one}" for one in unknown)]
    _say(f"Taken back: {'; '.join(said)}" if said else "Nothing was answered yet.")


def _of_line(state: State, asked: LineQuestion, reply: str) -> list[Answer] | None:
    """The answers to a question about a line, if the builder wants them so.

    Raises _Stopped, and BadValue for what can't be so.
    """
    seen = mark_of(asked.line.text)
    if reply == "h":
        _show(told.line_help(asked, screen_width()))
        return None
    if reply == "n":
        return [Answer("", path=NOTHING_SAID, line=asked.line.number, seen=seen)]
    if reply in _DONT_KNOW:
        return [Answer("", line=asked.line.number, seen=seen)]
    answers = checked_of_line(state, asked, reply)
    after = reduce(answered, answers, state)
    ask = "Is that right?" if told.changes(state, after) else "Keep the answer all the same?"
    return answers if _right(state, after, ask) == "y" else None


def _show(screen: Screen) -> None:
    click.echo(screen.plain(), nl=False)


def _say(text: str) -> None:
    screen = Screen(screen_width())
    screen.paragraph(text)
    _show(screen)


def _right(
    state: State, after: State, ask: str = "Is that right?", *, unknown: bool = False
) -> str:
    """What is typed once it is shown what answers make: y, n or, where `unknown` is an answer, ?.

    Asked again until it is one of these. Raises _Stopped.
    """
    _show(told.effect_screen(state, after, screen_width()))
    more, choices = (", ? I don't know", "yn?") if unknown else ("", "yn")
    while True:
        said = _reply(f"  {ask} (y, n{more}) ").casefold() or "y"
        if said[0] in choices and said in ("y", "yes", "n", "no", "?"):
            return said[0]


class _Stopped(Exception):  # noqa: N818 (the builder's wish, no error)
    """The builder typed q, at whatever was asked, or the input ended."""


def _reply(prompt: str) -> str:
    """What the builder typed. Raises _Stopped."""
    click.echo(prompt, nl=False)
    try:
        line = sys.stdin.readline()
    except KeyboardInterrupt:
        click.echo()
        raise _Stopped from None
    said = line.strip()
    if not line or said.casefold() in ("q", "quit", "exit"):
        raise _Stopped
    return _SPELLED.get(said.casefold(), said)


def _answer(state: State, asked: Question, reply: str) -> list[Answer] | None:
    """The answer that a reply and the value make, if the builder wants it so.

    Raises _Stopped, and BadValue for what can't be so.
    """
    unknown = Answer(asked.path)
    if reply in _DONT_KNOW:
        return [unknown]
    if reply == "h":
        _show(told.help_screen(asked, screen_width()))
        return None
    several = [part.strip() for part in reply.split(";") if part.strip()]
    if len(several) > 1 and all("=" in part for part in several[1:]):
        return _answers(state, asked, several)
    path, value = _told_of_kin(asked, reply)
    path = named_small(path)
    line = _line_told(asked, reply)
    texts = state.texts[0].lines
    fault = f"there is no such line: {reply}" if _names_no_line(reply, line, len(texts)) else ""
    if line and not fault:
        value = _reply("  What is it set to now? (? I don't know) ")
        if value in _DONT_KNOW:
            return [unknown]
    if fault:
        _say(fault)
        return None
    seen = mark_of(texts[line - 1]) if line else ""
    answer = checked(state, Answer(path, value, line=line, seen=seen))
    placed = _placed(state, asked, answer, insists=meant(value)[1])
    if placed is None:
        return [unknown]
    after = answered(state, placed)
    if not told.changes(state, after):
        return [placed]
    return {"y": [placed], "n": None, "?": [unknown]}[_right(state, after, unknown=True)]


def _answers(state: State, asked: Question, replies: Sequence[str]) -> list[Answer] | None:
    """The answers of a reply about several settings, if the builder wants them so.

    Raises BadValue for a setting or a value that can't be.
    """
    answers: list[Answer] = []
    for reply in replies:
        path, value = _told_of_kin(asked, reply)
        if value == reply and "=" in reply:  # of no setting, or of one beside the last
            path, _, value = (part.strip() for part in reply.partition("="))
            path = beside(answers[-1].asked, path) if answers and path.startswith(".") else path
        answers.append(checked(state, Answer(named_small(path), value)))
    return answers if _right(state, reduce(answered, answers, state)) == "y" else None


def _placed(state: State, asked: Question, answer: Answer, *, insists: bool) -> Answer | None:
    """The answer with the line that says it, asked for while nothing comes of it; None: not known.

    Without one where no line does. Raises BadValue where the line says another value.
    """
    texts = state.texts[0].lines
    while not told.changes(state, answered(state, answer)):
        why = told.effect(state, answered(state, answer))[0]
        _say(f"{why} Which line says it? (=1 or N; ? I don't know; Enter: none does)")
        said = _reply("  > ")
        if said == "?":
            return None
        if said in ("", "n", "none"):
            break
        line = int(said) if re.fullmatch(r"\d{1,7}", said) else _line_told(asked, said)
        if not 0 < line <= len(texts):
            _say(f"there is no such line: {said}")
            continue
        fault = read_otherwise(state, answer.path or answer.asked, answer.value, line)
        if fault and not insists:
            raise BadValue(fault)
        answer = answer._replace(line=line, seen=mark_of(texts[line - 1]))
    return answer


def _told_of_kin(asked: Question, reply: str) -> tuple[str, str]:
    """The setting that a reply is about, and its value: of what is asked, or `PATH = VALUE`."""
    path, _, value = (part.strip() for part in reply.partition("="))
    own = path in asked.kin or path == asked.path or (value and declared(path) is not None)
    return (path, value) if own else (asked.path, reply)


def _names_no_line(reply: str, line: int, last: int) -> bool:
    """Whether a reply is about a line, and there is none."""
    about = re.fullmatch(r"= ?\d*|=? ?line ?\d*", reply) is not None
    return (about and not line) or line > last


def _line_told(asked: Question, reply: str) -> int:
    """The number of the line that a reply names: `=2`, one that is shown, or `line 212`; else 0.

    A bare number is a value, whatever lines are shown.
    """
    shown = re.fullmatch(r"= ?(\d{1,2})", reply)
    if shown:
        place = int(shown[1])
        return asked.lines[place - 1].number if 0 < place <= len(asked.lines) else 0
    named = re.fullmatch(r"line ?(\d{1,7})", reply)
    return int(named[1]) if named else 0


def _write(state: State, file: Path, edits: HandEdits) -> None:
    """Write the dialect with what was changed by hand, or without it where none would read it."""
    text = dialect_text(state)
    try:
        whole = edits.put_into(text)
    except DialectError as error:
        whole, before = text, file.with_name(f"{file.name}.before")
        if not before.exists():
            write_atomically(before, bounded_bytes(file))
        say(f"{file}: what was changed by hand does not go with the new text: {error}")
        say(f"it is left out, and kept in {before}")
    write_atomically(file, whole.encode("utf-8"))


_CRAFT = "craft.name"  # which the dump itself tells again


def dialect_text(state: State) -> str:
    """The dialect file, with the answers that are nobody's secret."""
    kept = [
        a._replace(value=HIDDEN) if a.value and (a.path or a.asked) == _CRAFT else a
        for a in state.answers
        if not is_secret_path(a.path or a.asked, ())
    ]
    notes = [_MARK + json.dumps(answer._asdict(), ensure_ascii=False) for answer in kept]
    notes += [_mark_of_dumps(state)] if notes else []
    made = [*notes, *taught(state).draft.text.split("\n")]
    private = _private(state)
    return safe_lines("\n".join(line for one in made for line in _passed_on(one, private)))


def _passed_on(line: str, private: Sequence[str]) -> Iterator[str]:
    """A dialect's line as it may be passed on; none where it goes by somebody's own words."""
    found = [text for text in private if text in line]
    if found and not line.lstrip().startswith("#"):
        return
    for text in found:
        line = line.replace(text, HIDDEN)
    yield line


@lru_cache(maxsize=4)
def _private_of(text: FileText) -> tuple[str, ...]:
    """What `redact` hides in a text, the longest first."""
    hidden = read_text(redact(_as_text("", text.to_bytes())).data).lines
    found: set[str] = set()
    for own, after in zip(text.lines, hidden, strict=False):
        if own != after:
            around = "(.+)".join(map(re.escape, after.split(HIDDEN)))
            cut = re.fullmatch(around, own)
            for group in cut.groups() if cut else ():
                found |= {*secret_parts(group), *re.findall(r"\d{4,}", group)}
    return tuple(sorted(found, key=lambda one: (-len(one), one)))


def _private(state: State) -> list[str]:
    return [one for text in state.texts for one in _private_of(text)]


def remembered(file: Path, dump: Path, remember: bool | None, *, ask: bool) -> None:
    """Write cfgaudit.toml beside the dump, unless there is one, so that the dialect is found."""
    settings = dump.resolve().parent / "cfgaudit.toml"
    try:  # as every clone of the folder has it
        name = Path(os.path.relpath(file.resolve(), settings.parent)).as_posix()
    except ValueError:  # on another drive
        name = file.resolve().as_posix()
    line = f'[cfgaudit]\ndialects = ["{name}"]\n'
    if settings.exists():
        if f'"{name}"' in settings.read_text(encoding="utf-8", errors="replace"):
            return
        say(f"{settings} is there; add the dialect to its `dialects`: {file}")
        return
    if remember is None and ask:
        try:
            said = _reply(f"Write {settings}, so that the dialect is found? y/n ")
        except _Stopped:
            return
        remember = said in ("y", "yes")
    if remember:
        write_atomically(settings, line.encode("utf-8"), was=None)
        say(f"written: {settings}")

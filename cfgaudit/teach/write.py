"""Writes the dialect that was worked out, and puts lines into one that is there."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from types import MappingProxyType
from typing import NamedTuple

from cfgaudit.dialects.dialect import Dialect, DialectError, build_dialect
from cfgaudit.dialects.raw import is_secret_path
from cfgaudit.dialects.reader import read_settings
from cfgaudit.reading.document import Document
from cfgaudit.reading.private import is_private_key, may_be_somebodys
from cfgaudit.reading.shapes import (
    Assignment,
    Comment,
    Directive,
    Look,
    Opener,
    Row,
    Section,
)
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import FileText
from cfgaudit.reading.toml import Page, TomlError, parsed, quoted
from cfgaudit.settings import BAD_VALUE
from cfgaudit.teach.exact import (
    ExactLine,
    Reach,
    SaidOfLine,
    ToldLine,
    exact_lines,
    names_told,
)
from cfgaudit.teach.fit import HIDDEN_ROW, NO_SWITCH
from cfgaudit.teach.indices import HOLE
from cfgaudit.teach.keys import Family, families_of
from cfgaudit.teach.labels import NOTHING
from cfgaudit.teach.lines import Mapped, WordTables, is_sure, is_told, mapped_families
from cfgaudit.teach.look import Outlook, outlook
from cfgaudit.teach.propose import SIGNS, Proposal, plain_path, propose, reasons_for
from cfgaudit.teach.scoped import Scope, scopes_within
from cfgaudit.teach.scopes import filled, scopes_of
from cfgaudit.teach.trying import (
    has_rows_of_names,
    signs_to_try,
    starts_to_try,
    titles_to_try,
    with_title,
)
from cfgaudit.teach.words import CONTROLS, chunks, ideas_of, pair_up, tokens
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.kinds import Bool, Value

_GUESS = 1 / 3  # how sure a candidate must be to be shown as a guess
_WORTH_A_LOOK = 1.0  # points from which a candidate is worth the builder's look


@dataclass(frozen=True)
class Draft:
    """A dialect file that was worked out from dumps, and what it is made of."""

    name: str
    text: str
    proposals: tuple[Proposal, ...]
    mapped: tuple[Mapped, ...]

    @property
    def active(self) -> int:
        """Lines that are at work."""
        return sum(len(mapped.lines) for mapped in self.mapped if mapped.active)

    @property
    def doubtful(self) -> int:
        """Fields with candidates, none of them sure."""
        return sum(1 for made in self._left() if worth_a_look(made))

    @property
    def unknown(self) -> int:
        """Fields without any candidate."""
        return sum(1 for made in self._left() if not worth_a_look(made))

    def _left(self) -> Iterator[Proposal]:
        for mapped in self.mapped:
            if not mapped.active:
                yield from mapped.proposals


def worth_a_look(made: Proposal) -> bool:
    """Whether a field has a candidate worth telling."""
    return bool(made.candidates) and made.candidates[0].points >= _WORTH_A_LOOK


@dataclass(frozen=True)
class DumpSurvey:
    """Dumps of one firmware, cut into families, and what their fields may be."""

    seen: Outlook
    documents: tuple[Document, ...]
    proposals: tuple[Proposal, ...]
    roots: tuple[Scope, ...]
    columns: Mapping[int, frozenset[int]]  # where values seem to stand on the first dump's lines


def read_dumps(names: Sequence[str], texts: Sequence[FileText]) -> DumpSurvey:
    """Read dumps of one firmware as nobody knows it. `names` are the dumps' own.

    Where little is understood in the look that their lines have, others are tried; the look is
    kept in which most is understood.
    """
    made = _survey(names, texts, outlook(texts))
    if _understood(made)[1] >= _ENOUGH:
        return made
    part = [text._replace(lines=text.lines[:_SAMPLE]) for text in texts]

    def tried(signs: Look | None, *, headed: bool = False) -> "_Tried":
        survey = _survey(names, part, outlook(part, signs)._replace(headed=headed))
        return _Tried(*_understood(survey), signs, headed)

    usual = tried(None)
    parted = sorted(map(tried, signs_to_try(part)), key=_read)
    best = max((*parted, usual), key=_read)
    bare = dict.fromkeys((best.signs or Look(), Look()))
    for title in dict.fromkeys(title for look in bare for title in titles_to_try(part, look)):
        best = _better(best, [tried(with_title(best.signs or Look(), title))])
    if best.share < _ENOUGH:
        best = _better(best, map(tried, starts_to_try(part)))
    if best.share < _ENOUGH:
        looks = dict.fromkeys((best.signs, None, *(one.signs for one in parted[-_LIKELIEST:])))
        found = (signs for signs in looks if has_rows_of_names(part, signs or Look()))
        best = _better(best, [tried(signs, headed=True) for signs in found])
    if best.read <= _MUCH_MORE * usual.read:
        return made
    return _survey(names, texts, outlook(texts, best.signs)._replace(headed=best.headed))


_LIKELIEST = 2  # of the signs that were tried, with which rows of names are tried as well


class _Tried(NamedTuple):
    """How much is understood in a look that was tried; no signs where it is the lines' own."""

    read: float
    share: float
    signs: Look | None
    headed: bool


def _read(one: _Tried) -> float:
    return one.read


def _better(best: _Tried, others: Iterable[_Tried]) -> _Tried:
    """The best of others where much more is understood in it, else the one there is."""
    most = max(others, key=_read, default=best)
    return most if most.read > _MUCH_MORE * best.read else best


_ENOUGH = 0.5  # of the values, from which on no other look is tried
_MUCH_MORE = 1.2  # times as much must be understood in another look
_SAMPLE = 150  # lines by which looks are held against each other


def _understood(survey: DumpSurvey) -> tuple[float, float]:
    """How many settings a draft reads of the first dump, and for each value that seems there."""
    own = survey.documents[0]
    try:
        known = read_settings(own, read_draft(draft_of(survey, survey.proposals))).stated
    except DialectError:  # of such lines a draft can't be made
        return 0, 0
    every = own.texts if own.look.starts else own.text.lines
    lines = [line for line in every if line.strip()]
    full = [line for line in lines if not isinstance(parse_line(line), Comment)]
    if len(full) < len(lines) / 2:  # the mark of remarks is none there
        full = lines
    # where nothing is known, lines cut into words are better
    read = len(known) + _A_CUT * len(survey.proposals)
    return read, read / max(1, sum(max(1, len(_VALUE.findall(line))) for line in full))


_A_CUT = 0.001  # of a setting that is read: what a field counts of which nothing is known


# Behind a sign, or a number by itself.
_VALUE = re.compile(r"(?<!=)=\s*[^\s=]|(?<![\w.=])(?<!= )[+-]?\d")


def _survey(names: Sequence[str], texts: Sequence[FileText], seen: Outlook) -> DumpSurvey:
    """Dumps of one firmware, read in one look."""
    noise = [line for line in (*seen.look.ignore, seen.look.end, seen.head) if line]
    documents = [Document(n, text, seen.look) for n, text in zip(names, texts, strict=True)]
    roots = [scopes_of(document, noise, headed=seen.headed) for document in documents]
    proposals = tuple(propose(families_of(roots)))
    columns: dict[int, set[int]] = {}
    for place in (sample.place for made in proposals for sample in made.seen.samples):
        if place.file == names[0] and place.column:
            columns.setdefault(place.line, set()).add(place.column)
    seem = {line: frozenset(own) for line, own in columns.items()}
    return DumpSurvey(seen, tuple(documents), proposals, tuple(roots), seem)


def draft_dialect(names: Sequence[str], texts: Sequence[FileText], name: str = "") -> Draft:
    """Work out a dialect from dumps of one firmware. `names` are the dumps' own."""
    reading = read_dumps(names, texts)
    return draft_of(reading, reading.proposals, name)


KnownWords = tuple[tuple[str, tuple[tuple[str, str], ...]], ...]  # lists by name: theirs, ours
NONE_KNOWN: Mapping[str, Value] = MappingProxyType({})
NOTHING_SAID: Mapping[int, ToldLine] = MappingProxyType({})


def draft_of(
    reading: DumpSurvey,
    proposals: Sequence[Proposal],
    name: str = "",
    values: Mapping[str, Value] = NONE_KNOWN,
    said: Mapping[int, ToldLine] = NOTHING_SAID,
    words: KnownWords = (),
) -> Draft:
    """The dialect file that proposals for the fields of some dumps make.

    `values` are what the first dump is known to state: what reads one otherwise is left out, as a
    list in part.
    `said` is what lines of the first dump state, by their numbers: one that is not read so has a
    mapping line of its own, before all others; how far it tells of its like is its reach.
    `words` are the lists that are known already, from other dumps: they stay.
    """
    seen, documents = reading.seen, reading.documents
    orders = dict(_stick_orders(reading.roots[0], proposals))
    orders |= dict(_loss_channels(reading.roots[0], proposals))
    said = {**orders, **said}
    others = [made for made in proposals if not {*made.family.lines} <= orders.keys()]
    dropped: set[int] = set()
    for _ in range(4):  # a line that reads its own dump with trouble is not sure after all
        tables = WordTables({name: dict(pairs) for name, pairs in words})
        mapped = mapped_families(others, tables)
        before, behind = _exact(reading, mapped, said, tables)
        mapped = [*before, *_narrow_first(mapped), *behind]
        for number, one in enumerate(mapped):
            one.active = one.active and number not in dropped
        called = name or name_told(proposals) or seen.firmware or "unnamed"
        text = _text(called, reading, mapped, tables)
        bad = _troubled(text, documents, mapped) or _otherwise(text, documents[0], mapped, values)
        if not bad:
            break
        dropped |= bad
    return Draft(called, text, tuple(proposals), tuple(mapped))


def _narrow_first(mapped: Sequence[Mapped]) -> list[Mapped]:
    """The mappings, those of `FILT1FREQ` before that of `FILT1`, whose number may be any word."""
    place = {id(one): (n, 1, n) for n, one in enumerate(mapped)}
    for number, one in enumerate(mapped):
        head, chain = one.family.head, one.family.chain
        if not (head.endswith(HOLE) and head[-2:-1].isalnum()):
            continue
        for n, other in enumerate(mapped[number + 1 :], number + 1):
            longer = other.family.head
            if longer.startswith(head) and longer != head and other.family.chain == chain:
                place[id(other)] = (number, 0, n)
    return sorted(mapped, key=lambda one: place[id(one)])


def _exact(
    reading: DumpSurvey,
    mapped: Sequence[Mapped],
    said: Mapping[int, ToldLine],
    tables: WordTables,
) -> tuple[list[Mapped], list[Mapped]]:
    """A mapping for each line that somebody told of, and for its like, where it says that.

    What goes before all that is inferred, and what goes behind it.
    """
    apart = Family((), Directive, "", (), ())
    contexts = dict.fromkeys(under for one in mapped if one.active for under, _ in one.entries)
    top = reading.roots[0]
    names = names_told(top, {line: told.said for line, told in said.items()}, reading.columns)
    own: dict[ExactLine, None] = {}  # lines of one list say it all, each of them
    foremost: dict[ExactLine, None] = {}
    last: dict[ExactLine, None] = {}
    for line, told in said.items():
        columns = reading.columns.get(line, ())
        for one in exact_lines(top, line, told.said, tables, contexts, columns, names):
            if not one.like:
                own |= {one: None} if told.idle else {}
            elif told.reach is not Reach.ALONE:
                (foremost if told.reach is Reach.FOREMOST else last)[one] = None
    before = {one.entry: None for one in (*own, *foremost)}
    behind = {one.entry: None for one in last}
    made = [
        [Mapped(apart, [], [entry], active=True) for entry in part] for part in (before, behind)
    ]
    return made[0], made[1]


def _stick_orders(top: Scope, proposals: Sequence[Proposal]) -> Iterator[tuple[int, ToldLine]]:
    """Lines that name the sticks in the order of their channels, and nothing but what is behind.

    `stick order: roll pitch throttle yaw aux1 aux2`; common practice: of A, E, T and R each is
    one's letter.
    """
    sure = (made for made in proposals if made.chosen and is_sure(made))
    if any(made.chosen and made.chosen.goal.target.startswith("receiver.map.") for made in sure):
        return
    for scope in scopes_within(top):
        for entry in scope.entries:
            line = entry.document.lines[entry.statement.first]
            others = _OTHERS.findall(line)
            behind = [f"aux{n}" for n in _NUMBER.findall(others[0])] if others else []
            words = [word.casefold() for word, _ in chunks(_OTHERS.sub("", line))]
            words = words[:-1] if words[-1:] == ["1234"] else words
            letters = re.fullmatch("[aetr]{4}", words[-1]) if words else None
            named = [_LETTERS[one] for one in words[-1]] if letters else words[-len(CONTROLS) :]
            ours = pair_up(named, CONTROLS)
            if len({*named}) == len(ours) == len(CONTROLS) and _ORDER & {*words}:
                every = (*(ours[word] for word in named), *behind)
                told = [SaidOfLine(f"receiver.map.{w}", f"{n}") for n, w in enumerate(every, 1)]
                yield entry.statement.line, ToldLine(told, Reach.ALONE, idle=True)


def _loss_channels(top: Scope, proposals: Sequence[Proposal]) -> Iterator[tuple[int, ToldLine]]:
    """Lines that list what each channel does when the link is lost, from the first one on.

    `loss channels hold,1500,1500,1000`: pulses, and a word for those that stay as they are, or
    another number where a remark says that it does.
    """
    sure = (made for made in proposals if made.chosen and is_sure(made))
    if any(made.chosen and made.chosen.goal.target.startswith(_LOSS) for made in sure):
        return
    for scope in scopes_within(top):
        for entry in scope.entries:
            named = [*tokens(entry.head), *(t for word in scope.cut for t in tokens(word))]
            about = {idea for t in named for idea, weight in ideas_of(t).items() if weight > 0.6}
            if not {"failsafe", "channel"} <= about or HOLE in entry.head:
                continue
            texts = re.findall(r"[^\s,;|\[\]{}()]+", " ".join(span.text for span in entry.parts))
            other = _HELD.search(entry.remark.casefold())
            held = {*_HOLDS, other[1] if other else "hold"}
            pulses = [text for text in texts if text not in held]
            if len(texts) < _FEWEST_CHANNELS or not all(map(_is_pulse, pulses)) or not pulses:
                continue
            told = [
                SaidOfLine(f"{_LOSS}{n}", "hold" if text in held else f"{text} us")
                for n, text in enumerate(texts, 1)
            ]
            yield entry.statement.line, ToldLine(told, Reach.ALONE, idle=True)


def _is_pulse(text: str) -> bool:
    return re.fullmatch(r"[12]?\d{3}", text) is not None and 750 <= int(text) <= 2250


_LOSS = "failsafe.channels."
_FEWEST_CHANNELS = 4
_HOLDS = frozenset({"hold", "holds", "keep", "keeps", "stay", "stays", "held", "last"})
_HELD = re.compile(r"(?<![\d.])(-?\d+) ?(?:=|is|means|for)? ?(?:hold|keep|stay|last)")
_OTHERS = re.compile(r"(?:[,;|/ \t]*\baux[ _-]?\d+)+[^A-Za-z0-9]*$", re.IGNORECASE)
_NUMBER = re.compile(r"\d+")
_LETTERS = {"a": "roll", "e": "pitch", "t": "throttle", "r": "yaw"}
_ORDER = frozenset({"order", "sequence", "map", "mapping", "arrangement"})


def name_told(proposals: Sequence[Proposal]) -> str:
    """The firmware's name, as a line of the dump says it; empty where none does."""
    for made in proposals:
        if made.chosen and made.chosen.goal.target == "firmware.name" and made.seen.samples:
            text = made.seen.samples[0].text.strip('"').casefold()
            few = sum(map(str.isdigit, text)) <= _FEW_DIGITS  # a machine's number has more
            return text if few and re.fullmatch(r"[^\W\d_][\w.-]*", text) else ""
    return ""


_FEW_DIGITS = 3


def _troubled(text: str, documents: Sequence[Document], mapped: Sequence[Mapped]) -> set[int]:
    """The numbers of the mappings whose lines can't be used, or read their dump with trouble."""
    try:
        dialect = build_dialect(parsed(text), "draft")
        dialect.root  # noqa: B018 (the mapping lines are compiled when they are first wanted)
    except (DialectError, TomlError):
        return _unusable(mapped)
    lines: set[int] = set()
    paths: set[str] = set()
    for document in documents:
        for trouble in read_settings(document, dialect).troubles:
            if trouble.place and trouble.kind in BAD_VALUE:
                lines.add(trouble.place.line)
                paths.add(trouble.path)
    return {
        n
        for n, one in enumerate(mapped)
        if one.active
        and not is_told(one)
        and (lines & set(one.family.lines) or paths & set(_paths_of(one)))
    }


def _otherwise(
    text: str, document: Document, mapped: Sequence[Mapped], values: Mapping[str, Value]
) -> set[int]:
    """The numbers of the mappings that read a setting otherwise than it is known to be."""
    if not values:
        return set()
    read = read_settings(document, build_dialect(parsed(text), "draft"))
    other = {p for p, value in values.items() if p in read and read[p].value != value}
    return {
        number
        for number, one in enumerate(mapped)
        if one.active
        for path in map(plain_path, _paths_of(one))
        if other & {path, path.rpartition(".")[0]}
    }


def _paths_of(one: Mapped) -> Iterator[str]:
    """The settings that the lines of a family are taken for."""
    for made in one.proposals:
        if made.chosen is not None:
            yield from (made.chosen.path(sample) for sample in made.seen.samples)


def _unusable(mapped: Sequence[Mapped]) -> set[int]:
    """The mappings that can't be compiled, tried one by one."""
    bad: set[int] = set()
    for number, one in enumerate(mapped):
        entries = [{"under": list(under), "map": [line]} for under, line in one.entries]
        try:
            build_dialect({"name": "draft", "lines": entries}, "draft").root  # noqa: B018
        except DialectError:
            bad.add(number)
    return bad


def _text(name: str, reading: DumpSurvey, mapped: Sequence[Mapped], tables: WordTables) -> str:
    seen = reading.seen
    body = [line for block in _blocks(mapped) for line in block]
    body += _idle_rows(reading.roots[0])
    text = "\n".join([*_top(name, seen, mapped), *_lists(tables, body), *body, ""])
    sign = seen.look.cells  # where it stood tabs are read
    if not sign:
        return text
    glued = sign != "|"  # a bar parts cells between blanks alone
    return _TABS.sub(
        lambda tab: tab[0].replace(_TAB, sign) if glued or " " in tab[0] else f" {sign} ", text
    )


_TAB = "\\u0009"  # as it is quoted
_TABS = re.compile(r" ?\\u0009 ?")


def _top(name: str, seen: Outlook, mapped: Sequence[Mapped]) -> Iterator[str]:
    off = {s.text for m in mapped if m.active for made in m.proposals for s in made.seen.samples
           if s.text.casefold() in NOTHING and made.chosen
           and s.text not in dict(made.chosen.fit.words)
           and not isinstance(made.chosen.goal.kind, Bool)}  # fmt: skip
    off |= {theirs for m in mapped if m.active for made in m.proposals if made.chosen
            for theirs, ours in made.chosen.fit.stands
            if ours not in (HIDDEN_ROW, NO_SWITCH)}  # fmt: skip
    yield f"# How {clean(name)} writes its dump: a draft, worked out from the dump itself. Lines at"
    yield "# work are sure by words, values and neighbours; lines behind # want a builder's eye."
    yield f"name = {quoted(name)}"
    yield f"about = {quoted(f'{name}, a draft')}"
    yield ""
    yield "[look]"
    look = seen.look
    families = [one.family for one in mapped]
    headers = dict.fromkeys(
        family.header
        for family in families
        if family.header and family.header not in [kin.line for kin in family.chain]
    )
    look = look._replace(ignore=(*look.ignore, *headers))
    for key, texts in (("prompts", look.prompts), ("opens", look.opens), ("closes", look.closes),
                       ("ignore", look.ignore), ("titles", look.titles),
                       ("remarks", look.remarks), ("fillers", look.fillers),
                       ("starts", look.starts)):  # fmt: skip
        if texts:
            yield f"{key} = [{', '.join(quoted(text) for text in texts)}]"
    for key, text in (("lead", look.lead), ("continues", look.continues), ("end", look.end),
                      ("blanks", look.blanks), ("edges", look.edges),
                      ("cells", look.cells)):  # fmt: skip
        if text:
            yield f"{key} = {quoted(text)}"
    if look.colons:
        yield "colons = true"
    if off:
        yield f"off = [{', '.join(quoted(text) for text in sorted(off))}]"
    own = seen.head or _line_of_name(mapped)
    if own:
        yield f"head = [{quoted(own)}]"
    yield ""
    called = next((made.seen.samples[0].text for _, made in _names(mapped)), seen.firmware)
    called = called.strip('"')
    if own and called:
        yield from ("[given]", f'"firmware.name" = {quoted(called)}', "")


def _line_of_name(mapped: Sequence[Mapped]) -> str:
    """The line that says the firmware's name: by it the dialect is recognised."""
    for family, made in _names(mapped):
        value = made.seen.samples[0].text
        if family.form is Assignment:
            return f"{family.head}{' = ' if family.spaced else family.sign}{value}"
        if family.form is Row:
            return f"{family.head}{family.between}{value}{family.tail}"
        return f"{family.lead}{family.head} {value}"
    return ""


def _names(mapped: Sequence[Mapped]) -> Iterator[tuple[Family, Proposal]]:
    """The values that surely are the firmware's name."""
    for one in mapped:
        for made in one.proposals:
            if made.chosen and made.chosen.goal.target == "firmware.name" and is_sure(made):
                yield one.family, made


def _lists(tables: WordTables, body: Sequence[str]) -> Iterator[str]:
    at_work = " ".join(line for line in body if not line.lstrip().startswith("#"))
    for name, words in tables.lists.items():
        if f" words {name}}}" in at_work:
            yield f"[words.{name}]"
            yield from (f"{quoted(theirs)} = {quoted(ours)}" for theirs, ours in words.items())
            yield ""
    for name, bits in tables.flags.items():
        if f": flags {name}}}" in at_work:
            yield f"[flags.{name}]"
            yield from (f"{ours} = {bit}" for ours, bit in bits.items())
            yield ""


def _idle_rows(scope: Scope, under: tuple[str, ...] = ()) -> Iterator[str]:
    """The lines of rows that are of nothing, as known ones, where a dialect can say them."""
    for line, known in scope.idle.items():
        lines = {"under": [*map(clean, (*under, line))], "known": [*map(clean, known)]}
        try:
            build_dialect({"name": "draft", "lines": [lines]}, "draft").root  # noqa: B018
        except DialectError:
            continue
        yield "[[lines]]"
        yield from (f"{key} = [{', '.join(map(quoted, said))}]" for key, said in lines.items())
        yield ""
    for below in scope.inner:
        yield from _idle_rows(below, (*under, below.line))


def _blocks(mapped: Sequence[Mapped]) -> Iterator[list[str]]:
    """A table of lines for each context, with what is known of the lines that are not at work."""
    runs: dict[tuple[str, ...], tuple[list[str], list[str]]] = {}
    for one in mapped:
        for under, line in one.entries if one.active else ():
            said, rest = runs.setdefault(under, ([], []))
            said.append(f"  {quoted(line)},")
            rest += [remark for remark in _turned(line) if remark not in rest]
    for one in mapped:
        if not one.active:
            shown = tuple(kin.line.replace("\0", "*") for kin in one.family.chain)
            under = next((own for own in runs if _is_sort(own, shown)), shown)
            said, rest = runs.setdefault(under, ([], []))
            rest.extend(remarks(one))
            guard = _guard(one.family, said)
            said += [guard] if guard and guard not in said else []
    known = {under[: n + 1] for under, (said, _) in runs.items() if said for n in range(len(under))}
    for one in mapped:  # a title that no line says would leave its lines to the title above
        for under in titles_of(one.family):
            if under not in known and not any(_is_sort(under, _starred(own)) for own in known):
                known.add(under)
                runs.setdefault(under, ([], []))[0].insert(0, "")
    for under, (said, rest) in runs.items():
        lead = "" if said else "# "
        block = [f"{lead}[[lines]]"]
        if under:
            texts = ", ".join(quoted(clean(line)) for line in under)
            block.append(f"{lead}under = [{texts}]")
        block += [
            f"{lead}map = [",
            *_longest_first(list(filter(None, said))),
            *rest,
            f"{lead}]",
            "",
        ]
        yield block


def _turned(line: str) -> Iterator[str]:
    """What a builder has to look at: numbers that are read with the other sign."""
    for target in SIGNS:
        if f"{{{target}: -" in line:
            yield f"  # turned: {target} is read with the other sign, as every motor has it so;"
            yield "  #         right where this craft flew, else look at each: propellers off"


def _guard(family: Family, said: Sequence[str]) -> str:
    """A line that states nothing, for lines that a shorter key's `...` would take; or nothing."""
    head = f"{family.lead}{family.head}".replace("\0", "*").split()
    if family.form is not Directive or any(sign in family.head for sign in '{}"'):
        return ""
    for line in said:
        front, brace, _ = line.strip(' ",').partition(" {")
        own = front.split()
        if brace and line.endswith(' ...",') and own == head[: len(own)] != head:
            return f"  {quoted(' '.join([*head, '...']))},"
    return ""


def _longest_first(lines: Sequence[str]) -> list[str]:
    """Lines in their order, but `dead yaw {...}` before `dead {...} ...`: the first one wins.

    >>> _longest_first(["set {banks.active} ...", "set {N} gains {banks.N.gains.roll.p}"])[0]
    'set {N} gains {banks.N.gains.roll.p}'
    """
    found: list[str] = []
    heads: list[list[str]] = []
    for line in lines:
        head = re.split(r"\{|\.\.\.", line, maxsplit=1)[0].split()
        pieces = _pieces(line)
        at = next(
            (
                n
                for n, own in enumerate(heads)
                if own == head[: len(own)] and (own != head or _would_take(found[n], pieces))
            ),
            len(found),
        )
        found.insert(at, line)
        heads.insert(at, head)
    return found


def _pieces(line: str) -> list[str]:
    """The words of a mapping line, with a star for each that holds what is stated."""
    words = re.sub(r"\{[^{}]*\}", "\0", line.strip().rstrip(",").strip('"')).split()
    return ["*" if "\0" in word else word for word in words]


def _would_take(line: str, pieces: Sequence[str]) -> bool:
    """Whether a line with `...` at its end would read lines that another one is for."""
    own = _pieces(line)
    if own[-1:] != ["..."] or len(pieces) < len(own) or pieces[-1:] == ["..."]:
        return False
    return all(one in ("*", other) for one, other in zip(own[:-1], pieces, strict=False))


def titles_of(family: Family) -> Iterator[tuple[str, ...]]:
    """The contexts of a family that only its lines tell of: no section heads, no blocks."""
    if any(kin.form not in (Section, Opener) for kin in family.chain):
        words = [list(dict.fromkeys(word for word, _ in kin.members)) for kin in family.chain]
        for chosen in product(*words):
            yield tuple(
                filled(kin.line, word) for kin, word in zip(family.chain, chosen, strict=True)
            )


def _starred(under: Sequence[str]) -> tuple[str, ...]:
    return tuple(re.sub(r"\{[^{}]+\}", "*", line) for line in under)


def _is_sort(under: Sequence[str], shown: Sequence[str]) -> bool:
    """Whether contexts are of the sort that is shown with a star for what varies."""
    if len(under) != len(shown):
        return False
    for one, other in zip(under, shown, strict=True):
        before, _, behind = other.partition("*")
        if not (one.startswith(before) and one.endswith(behind)):
            return False
    return True


def remarks(one: Mapped) -> Iterator[str]:
    """What is known of a family that is not at work: its fields, their values, candidates."""
    for made in one.proposals:
        values = clean(_values(made))
        label = clean(" ".join(dict.fromkeys(n for n in made.seen.names if n)))
        label = label or clean(one.family.head)
        if not worth_a_look(made) or made.sure < _GUESS:
            yield f"  # unknown: {label} ({values})"
            continue
        first = made.candidates[0]
        spec = f": {first.fit.spec}" if first.fit.spec else ""
        goal = f"{{{first.goal.target}{spec}}}"
        yield f"  # perhaps: {label} ({values}) -> {goal}, {made.sure:.0%} sure"
        reasons = clean("; ".join(reasons_for(made, first)[:3]))
        if reasons:
            yield f"  #          {reasons}"
        others = ", ".join(c.goal.target for c in made.candidates[1:3])
        if others:
            yield f"  #          or {others}"


def _values(made: Proposal) -> str:
    """The values that were seen, in short; none of what is somebody's own: a draft is passed on."""
    words = [name.rpartition("/")[2] for name in (made.family.head, *made.seen.names) if name]
    first = made.candidates[0].goal.target if made.candidates and worth_a_look(made) else ""
    own = (
        is_private_key(word, sample.text) or may_be_somebodys(word, sample.text)
        for word in words
        for sample in made.seen.samples
    )
    if first == "craft.name" or is_secret_path(first, ()) or any(own):
        return HIDDEN
    texts = ('"..."' if s.text.startswith('"') else s.text for s in made.seen.samples[:40])
    values = ", ".join(dict.fromkeys(texts))
    return values if len(values) <= 40 else values[:37] + "..."


def clean(text: str) -> str:
    """The text on one line, without anything that a comment can't hold."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def read_draft(draft: Draft) -> Dialect:
    """The draft as a dialect. Raises DialectError."""
    return build_dialect(parsed(draft.text), "draft")


def put_lines(page: Page, under: Sequence[str], lines: Sequence[str]) -> None:
    """Add mapping lines to a dialect as an entry of `lines`, however that is written."""
    says = f"map = [{', '.join(quoted(line) for line in lines)}]"
    above = f"under = [{', '.join(quoted(line) for line in under)}]" if under else ""
    if page.has_list("lines"):
        page.put_item("lines", f"{{ {', '.join(filter(None, (above, says)))} }}")
    else:
        page.put_behind(["[[lines]]", *([above] if above else []), says])

"""Works out how a dump looks: prompt, lead word, continued lines, blocks, end mark, head line."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby, takewhile
from typing import NamedTuple

from cfgaudit.dialects.template import can_be_mapped
from cfgaudit.reading.document import (
    COUNT,
    Document,
    Statement,
    front,
    joined_lines,
    parted,
    repaired,
)
from cfgaudit.reading.shapes import (
    Assignment,
    Closer,
    Comment,
    Directive,
    Look,
    Row,
    Section,
    titled,
    without_comment,
)
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import FileText
from cfgaudit.teach.measures import unit_of
from cfgaudit.teach.words import arms_of, chunks, is_word

_PROMPT = re.compile(r"(?P<prompt>[A-Za-z][\w.-]{0,20}(?:>|\$(?=\s)))(?:\s|$)")
_VERSION = re.compile(r"(?<![+-])\b[vV]?(?P<version>\d+\.\d+(?:\.\d+)*)\b")
_DATE = re.compile(r"\b\d{4}-\d\d-\d\d\b")
# A date that is the firmware's, and not the day on which the dump was written.
_BUILT = re.compile(
    r"(?:\b(?:built|build|made|compiled|released?|dated|of)\W+(?:on\W+)?|\d\.\d+ \(?)"
    r"(?P<date>\d{4}-\d\d-\d\d)\b",
    re.IGNORECASE,
)
_PAIR_OF_BOARD = re.compile(
    r"\bboard ?[=:] ?(?P<board>[\w.-]+(?: \d{1,3}(?![\w.:/-]))?)", re.IGNORECASE
)
# What the next dump of the firmware has otherwise: names in quotes, what stands behind a sign,
# dates, times.
_OF_THIS_DUMP = (
    re.compile(r'"[^"]*"'),
    re.compile(r"(?<=[=])[^\s;,=]+"),
    re.compile(r"\b\d{4}-\d\d-\d\d\b"),
    re.compile(r"\b(?:\d{1,2}\.? [A-Z][a-z]{2,8}\.?|[A-Z][a-z]{2,8}\.? \d{1,2},) \d{4}\b"),
    re.compile(r"\b\d{1,2}:\d\d(?::\d\d)?(?:\.\d+)?\b"),
)
_BOARD = re.compile(
    r"\b(?:for board|board|upon|on|for)\s+(?P<board>[A-Z][\w-]*(?: [\w-]*\d[\w-]*)?)"
)
_REVISION = re.compile(r"\b(?:rev|revision|issue|mark|r)\.?\s+(?P<revision>[A-Za-z0-9]{1,4})\b")
_SENTENCE = re.compile(r"[.!?]$")
_TOP = 12
# A line that says nothing besides these before its version is a setting, no head.
_OWN_KEY = frozenset(
    {"firmware", "version", "fw", "ver", "release", "fwversion", "firmwareversion", "v", "build"}
)
# What any firmware may call itself beside its name.
_ANY_FIRMWARE = frozenset(
    {"autopilot", "flight", "controller", "software", "system", "code", "program", "build",
     "edition"}
)  # fmt: skip
# A mark of its own before a remark, or a word and a rule: `say ----- pads`.
_REMARK = re.compile(
    r"(?P<mark>[!*$&@^~>|'+/-]{1,3}|(?:[a-z]+ )?([-=*_~])\2{2,}|\.{3,})\s+"
    r"(?:[A-Za-z]|\d+:? [\da-z]).*"  # `! 0 none, 1 all`, too
)
# A label, and dots that lead to its value: `action ........ land`. It is a setting.
LED_BY_DOTS = re.compile(r"(?P<key>[^.\s].* \.+) (?P<value>\S.*)")


class Outlook(NamedTuple):
    """The look that was worked out, and what names the firmware."""

    look: Look
    head: str  # the head line with placeholders; empty where none shows a version
    firmware: str  # the word before the version; empty where none
    headed: bool = False  # words a single blank apart may head the rows of a table


def outlook(texts: Sequence[FileText], signs: Look | None = None) -> Outlook:
    """The look that several dumps of one firmware share.

    `signs` are those that part words, where they are to be tried; else the lines tell them. What
    counts the lines is taken off then, too.
    """
    texts = [text._replace(lines=as_read(text)) for text in texts]
    if signs is not None and signs.starts:
        texts = [text._replace(lines=joined_lines(text.lines, signs)) for text in texts]
    lines = [line for text in texts for line in text.lines]
    prompts = _prompts(lines)
    bare = [_without(line, prompts) for line in lines]
    usual = signs is None
    if signs is None:
        sign = _glued_cells(bare)
        blanks = "" if sign else _parting(bare)
        signs = Look(blanks=blanks, cells="" if blanks else sign or _parting_cells(bare))
    bare = [parted(line, signs).strip() for line in bare]
    if not usual:
        signs = signs._replace(fillers=_fillers(bare, signs.titles))
        bare = [parted(line, signs).strip() for line in bare]
    counted = () if usual else counts_before(bare)
    prompts += counted
    bare = [_without(line, counted) for line in bare]
    top = [_without(line, prompts) for line in texts[0].lines]
    head, firmware = _head(
        [
            line
            for line in top
            if not set(signs.parts.replace(".", "")) & set(line) and can_be_mapped(line)
        ]
    )
    # in others they would stand again
    opens, closes = _blocks(bare[: len(texts[0].lines)], texts[0].lines)
    end = _end([_without(line, prompts) for line in texts[0].lines])
    look = Look(
        prompts=prompts,
        lead=_lead(bare, signs.titles),
        starts=signs.starts,
        continues="\\" if any(line.rstrip().endswith(" \\") for line in bare) else "",
        opens=opens,
        closes=closes,
        end=end,
        titles=tuple(dict.fromkeys((*_decorated(lines, bare), *signs.titles))),
        blanks=signs.blanks,
        edges=signs.edges,
        fillers=signs.fillers,
        remarks=signs.remarks,
        cells=signs.cells,
        colons=_are_words(bare),
    )
    ignored = tuple(
        filter(can_be_mapped, (*_noise(texts, look, head), *_ends_of(bare, signs.titles)))
    )
    return Outlook(look._replace(ignore=ignored), head, firmware)


def as_read(text: FileText) -> tuple[str, ...]:
    """The lines of a text, what pasting put into them taken off."""
    made = repaired(text.lines, _prompts(text.lines))
    return text.lines if made is None else tuple(line.text for line in made.lines)


def _without(line: str, prompts: Sequence[str]) -> str:
    return line[front(line, Look(prompts=tuple(prompts))) :].strip()


def _prompts(lines: Sequence[str]) -> tuple[str, ...]:
    counts = Counter(m["prompt"] for line in lines if (m := _PROMPT.match(line)))
    return tuple(sorted(counts))


_FIRST_COUNT = re.compile(
    rf"(?P<before>\D{{0,12}}?)(?P<count>{COUNT})(?P<behind>\S*)\s+(?P<rest>.*)"
)


def counts_before(lines: Sequence[str]) -> tuple[str, ...]:
    """What stands before nearly every line and counts it, or tells its time: `[*]`, `* LET`."""
    full = [line for line in lines if line and not is_rule(line)]
    found = [one for line in full if (one := _FIRST_COUNT.fullmatch(line))]
    kinds = Counter((one["before"], one["behind"]) for one in found)
    (before, behind), count = kinds.most_common(1)[0] if kinds else (("", ""), 0)
    own = [one for one in found if (one["before"], one["behind"]) == (before, behind)]
    counts = [[int(figure, 16) for figure in _FIGURES.findall(one["count"])] for one in own]
    if count < max(_FEWEST_PARTED, MOST_PARTED * len(full)) or counts != sorted(counts):
        return ()
    rests = [one["rest"] for one in own]
    named = sum(_NAMED_LINE.match(rest) is not None for rest in rests)
    if len({*map(tuple, counts)}) < len(own) / 2 or named < MOST_PARTED * count:
        return ()
    same = takewhile(lambda own: len(set(own)) == 1, zip(*map(str.split, rests), strict=False))
    return (" ".join([f"{before}*{behind}", *(own[0] for own in same)]),)


_FIGURES = re.compile(r"(?:0[xX])?([0-9A-Fa-f]+)")
_NAMED_LINE = re.compile(r"[^\w\s]*[A-Za-z_]{2}")  # a name follows, by which lines differ


def _fillers(lines: Sequence[str], titles: Sequence[str]) -> tuple[str, ...]:
    """Words that nearly every line has, so that they tell none from another: `key a_b value 4`."""
    full = [set(line.split()) for line in lines if " " in line and not titled(line, titles)]
    counts = Counter(word for own in full for word in own if _WORDS_ONLY.fullmatch(word))
    least = max(_FEWEST_PARTED, MOST_PARTED * len(full))
    return tuple(sorted(word for word, count in counts.items() if count >= least))


def _lead(lines: Sequence[str], titles: Sequence[str] = ()) -> str:
    """The word that stands before nearly every assignment, or the words before every line.

    With titles to be tried one before every other line is enough.
    """
    full = [line for line in lines if line and not isinstance(parse_line(line), Comment | Section)]
    if titles:
        full = [line for line in full if " " in line and not titled(line, titles)]
    for count in (2, 1) if titles else (2,):
        begins = Counter(" ".join(line.split()[:count]) for line in full)
        first, often = begins.most_common(1)[0] if begins else ("", 0)
        if often >= max(_FEWEST_PARTED, MOST_PARTED * len(full)) and _WORDS_ONLY.fullmatch(first):
            return first
    keys = [s.key.text.split() for line in lines if isinstance(s := parse_line(line), Assignment)]
    firsts = Counter(key[0] for key in keys if len(key) > 1)
    if not firsts:
        return ""
    word, count = firsts.most_common(1)[0]
    return word if count >= 5 and count >= 0.8 * len(keys) else ""


_WORDS_ONLY = re.compile(r"[A-Za-z]\w*(?: [A-Za-z]\w*)?")


def _blocks(lines: Sequence[str], whole: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words that begin and end a block: they take turns, with lines of settings in between.

    `whole` are the lines with their blanks: none in between is less indented than the two are.
    """
    heads = [
        (number, s.body.text.split())
        for number, line in enumerate(lines)
        if isinstance(s := parse_line(line), Directive)
    ]
    places: dict[str, list[int]] = {}
    for number, parts in heads:
        places.setdefault(parts[0], []).append(number)
    alone = Counter(parts[0] for _, parts in heads if len(parts) == 1)
    lonely = set(alone)
    repeated = {word: at for word, at in places.items() if len(at) >= 2}
    for close in sorted(lonely & repeated.keys()):
        if alone[close] < len(repeated[close]):
            continue  # `Overlay`, and `Overlay off`: titles
        for opening, at in repeated.items():
            if opening == close or len(at) != len(repeated[close]) or opening in lonely:
                continue
            pairs = list(zip(at, repeated[close], strict=True))
            nested = all(one + 1 < other and _is_around(whole, one, other) for one, other in pairs)
            if nested and all(pairs[i][1] < pairs[i + 1][0] for i in range(len(pairs) - 1)):
                return (opening,), (close,)
    return (), ()


def _is_around(lines: Sequence[str], first: int, last: int) -> bool:
    """Whether two lines are indented alike, and those between them no less."""
    depth = _indent(lines[first])
    inner = [_indent(line) for line in lines[first : last + 1] if line.strip()]
    return _indent(lines[last]) == depth == min(inner)


_FEWEST_PARTED = 12
MOST_PARTED = 0.8  # of the lines, at least
# By which lines signs part words: the words of a path, a module in brackets, two columns in bars.
_PARTED = (
    ("[]", re.compile(r"\[[^\[\]]+\] +[^\s=\[].*")),
    ("<>", re.compile(r"<[^<>]+> +[^\s=<].*")),
    ("(),", re.compile(r"\w[\w.-]*\((?:\"[^\"]*\"|[^()\"])*\)")),  # `motor(2, front right, cw)`
    ("|", re.compile(r"\|[^|]+\|[^|]+\|")),
    ("|", re.compile(r"\w[^|\s]*(?:\|[^|]*)+")),
    (";", re.compile(r"\w[^;\s]*(?:;[^;]+)+;?")),
    (":", re.compile(r"\w[^:\s]*(?::[^:\s]+)+|\w[\w-]*: [\w.-]+ ?=.*")),
    ('",{}', re.compile(r'"[^"]+"\s*:\s*\S.*|\{ ?".*\},?|[{}\[\]]+,?')),
)
# A record, whose pairs commas part: `[port s1] role=receiver, baud=100000`.
_RECORD = re.compile(r"\[[^\[\]]+\] +[\w.-]+=[^,]*(?:, *[\w.-]+=(?:\"[^\"]*\"|[^,]*))+")
_TALKS = 0.6  # of the lines, which end with a full stop: it is all that they end with
_PATH_OF_CELLS = re.compile(r"(\w[\w-]*),([A-Za-z0-9][\w-]*)(?:,[^,]*)+")


def _parting(lines: Sequence[str]) -> str:
    """The signs that part the words of most lines; none where blanks, signs or cells do."""
    full = [s for s in lines if s and not isinstance(parse_line(s), Comment)]
    if len(full) < _FEWEST_PARTED:
        return ""
    least = MOST_PARTED * len(full)
    if sum(line.endswith(".") for line in full) > _TALKS * len(full):
        return "."
    for signs, pattern in _PARTED:
        if sum(pattern.fullmatch(line) is not None for line in full) >= least:
            pairs = sum(_RECORD.fullmatch(line) is not None for line in full)
            return f"{signs}," if signs == "[]" and 2 * pairs > len(full) else signs
    cut = [found for line in full if (found := _PATH_OF_CELLS.fullmatch(line))]
    firsts = {found[1] for found in cut}
    longest = {line.count(",") for line in full}
    several = len(cut) >= max(least, 3 * len(firsts)) and len(longest) > 1
    return "," if several else ""


def _ends_of(lines: Sequence[str], titles: Sequence[str]) -> Iterator[str]:
    """What ends the part below each of some titles, and nothing else: `end`, `;`."""
    at = [number for number, line in enumerate(lines) if line and titled(line, titles)]
    last = [next((line for line in reversed(lines[:number]) if line), "") for number in at[1:]]
    said, count = Counter(last).most_common(1)[0] if last else ("", 0)
    if count > LEAST_TITLES - 2 and lines.count(said) in (len(at), len(at) - 1):
        yield said


def _glued_cells(lines: Sequence[str]) -> str:
    """The sign that parts the cells of most lines with no blank beside it, where some are empty.

    As blanks do it would lose the empty ones, and with them which cell is which.
    """
    full = [line for line in lines if line and not line.startswith(("#", "//", "/*", "%"))]
    if len(full) < _FEWEST_PARTED:
        return ""
    counts = Counter(line.count(";") for line in full if re.match(r"\w[^;\s]*;", line))
    usual, rows = max(counts.items(), key=lambda item: item[1], default=(0, 0))
    empty = sum(";;" in line for line in full)
    return ";" if usual > 1 and rows >= MOST_PARTED * len(full) and empty >= LEAST_ROWS else ""


LEAST_ROWS = 3


def _parting_cells(lines: Sequence[str]) -> str:
    """The bar that parts the cells of tables: rows of as many follow each other.

    Their first cells tell them apart; where several do, they are a key of several words.
    """
    rows = [line.strip("|").strip() for line in lines if not set(line) <= set("-=+:| ")]
    runs = [list(run) for count, run in groupby(rows, lambda row: row.count(" | ")) if count]
    tables = [
        [row.split(" | ")[0].strip() for row in run] for run in runs if len(run) >= LEAST_ROWS
    ]
    distinct = sum(len(set(firsts)) for firsts in tables)
    return "|" if distinct > _DISTINCT * sum(map(len, tables)) else ""


_DISTINCT = 0.9  # of the rows, at least


_FEWEST_COLONS = 12


def _are_words(lines: Sequence[str]) -> bool:
    """Whether a word with a colon begins most lines, few such words many, and words follow."""
    pairs = [s for line in lines if isinstance(s := parse_line(line), Assignment)]
    own = [pair for pair in pairs if pair.sign == ":" and " " not in pair.key.text]
    several = sum(" " in pair.value.text for pair in own)
    named = len({pair.key.text for pair in own})
    many = len(own) >= max(_FEWEST_COLONS, 3 * named) and named > 1
    return many and len(own) >= 0.8 * len(pairs) and several >= 0.8 * len(own)


_DECORATED = re.compile(
    r"(?P<before>([^\w\s\"'\[\]{},])\2*)?(?P<gap>\s*)(?P<name>[A-Za-z](?:[\w /&',.+-]*\w)?)\s*"
    r"(?P<behind>([^\w\s\"'\[\]{},])\6*)?"
)
_MIRRORED = {"(": ")", "<": ">", "/": "\\"}
LEAST_TITLES = 3
_REMARKS = "#;/-%"  # signs that marks of remarks begin with


def _decorated(whole: Sequence[str], lines: Sequence[str]) -> tuple[str, ...]:
    """Ornaments around words alone, by which lines are section heads: `-- * --`, `*** *`, `*:`.

    Other lines follow nearly each, and none that is indented further, which tells more than a sign
    on one side; but below what a mark of remarks stands before, `## Ports`, which is a title where
    no other line begins so. `whole` are the lines with their blanks and prompts.
    """
    found: dict[str, list[int]] = {}
    for number, line in enumerate(lines):
        style = _ornament(line) or _ornament(without_comment(line))
        if style and not isinstance(parse_line(line), Section):
            found.setdefault(style, []).append(number)
    kept = []
    for style, at in found.items():
        below = [next((m for m in range(n + 1, len(lines)) if lines[m]), n) for n in at]
        remark = style[:1] in _REMARKS and style.endswith("*")
        flat = not remark and style.endswith(("*", "*:"))
        held = sum(
            n != m
            and _ornament(without_comment(lines[m])) != style
            and not (flat and _indent(whole[m]) > _indent(whole[n]))
            for n, m in zip(at, below, strict=True)
        )
        said = sum(line.startswith(style.rstrip("*")) for line in lines) if remark else len(at)
        if said == len(at) >= LEAST_TITLES and held >= 0.8 * len(at):
            kept.append(style)
    return tuple(kept)


def _ornament(line: str) -> str:
    """The ornament of a line that may be a title, with a star for the words; else nothing."""
    found = _DECORATED.fullmatch(line)
    if found is None or len(found["name"].split()) > 6:
        return ""
    before, behind = found["before"] or "", found["behind"] or ""
    mirrored = behind[:1] == _MIRRORED.get(before[:1], before[:1])
    if before and behind and mirrored and (len(before) > 1 or before in _MIRRORED):
        sign, other = (before, behind) if len(before) == 1 else (before[:2], behind[:2])
        return f"{sign} * {other}" if found["gap"] else f"{sign}*{other}"
    few = re.fullmatch(r"[A-Z]\w*(?: \w+){0,2}", found["name"]) is not None
    if len(before) > 1 and not behind and found["gap"] and (few or before[:1] not in _REMARKS):
        return f"{before[:2]} *"
    rowed = which_one(found["name"])[1]  # `motor 1:` says which one of a row is meant
    return "*:" if behind == ":" and not before and not rowed else ""


def which_one(said: str) -> tuple[str, str]:
    """The sort of a thing and which one it is: `motor 1`, `front left motor`; else nothing."""
    counted = _COUNTED.fullmatch(said)
    if counted:
        return counted[1], counted[2]
    words = said.split()
    for count in (2, 1) if len(words) <= _LONGEST_NAME else ():
        for begin in (0, len(words) - count):
            name = words[max(0, begin) : begin + count]
            if len(name) == count and all(arms_of([word]) for word in name):
                return " ".join([*words[:begin], "", *words[begin + count :]]), " ".join(name)
    return "", ""


_LONGEST_NAME = 5  # words of a title that says which one of a row is meant
_COUNTED = re.compile(r"([A-Za-z][A-Za-z -]*?)[ _-]?(\d{1,2}|(?<= )[A-Z])")


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _end(lines: Sequence[str]) -> str:
    """The last line of all, where it holds words and no figures."""
    full = [line for line in lines if line]
    last = full[-1] if full else ""
    shape = parse_line(last)
    ends = isinstance(shape, Closer) and len(last.split()) > len(("end", "name"))  # of no block
    plain = ends or isinstance(shape, Comment | Directive | Section)
    plain = plain and not re.search(r"\d", last)
    plain = (
        plain
        and re.search(r"\b(?:end|ends|done|finis\w*|complete\w*|eof|over|bye)\b", last, re.I)
        is not None
    )
    return last if plain and len(last) > 3 and lines.count(last) == 1 else ""


_HOLES = re.compile(r"[{}*]")  # in a mapping line these stand for something else


def _head(lines: Sequence[str]) -> tuple[str, str]:
    """The line near the top that has a version in it, with placeholders; the firmware's name."""
    for top in lines[:_TOP]:
        line = top
        found = _VERSION.search(_DATE.sub(lambda m: "\0" * len(m.group()), line))
        before = re.findall(r"[A-Za-z][\w-]*", line[: found.start()]) if found else []
        if not found or _states(line, found, before):
            continue
        spans = [(found.span("version"), "{firmware.version}")]
        told: tuple[tuple[re.Pattern[str], int | str, str], ...] = (
            (_BUILT, "date", "{firmware.built}"),
            (_PAIR_OF_BOARD, "board", "{board.name}"),
            (_BOARD, "board", "{board.name}"),
            (_REVISION, "revision", "{board.revision}"),
            *((pattern, 0, "*") for pattern in (*_OF_THIS_DUMP, *_told_below(lines, before[-1]))),
        )
        for pattern, group, path in told:
            for other in pattern.finditer(line):
                start, stop = other.span(group)
                apart = all(stop < begin or end < start for (begin, end), _ in spans)
                if apart and (path == "*" or path not in [text for _, text in spans]):
                    spans.append(((start, stop), path))
        for (start, stop), text in sorted(spans, reverse=True):
            line = f"{line[:start]}{text}{line[stop:]}"
        names = [word.lower() for word in before if word.casefold() not in _OWN_KEY]
        names = [name for name in names if name not in _ANY_FIRMWARE]
        return line, names[-1] if names else ""
    return "", ""


def _states(line: str, version: re.Match[str], before: Sequence[str]) -> bool:
    """Whether what seems to be a version is a setting's value, by the line and the words before."""
    if isinstance(parse_line(line), Assignment) or _HOLES.search(line):
        return True
    behind = re.match(r"[\s,;]*([^\s\d,;]+)", line[version.end() :])
    if LED_BY_DOTS.fullmatch(line) or (behind and unit_of(behind[1]) is not None):
        return True
    if _DOTTED_KEY.search(line[: version.start()]):
        return True
    if all(word.casefold() in _OWN_KEY for word in before):
        return True
    named = [word for word in before if unit_of(word) is None]
    said = {part for word in named for part, _ in chunks(word) if part.isalpha()}
    joint = any("_" in word for word in named)  # `battery_warn_cell [V]: 3.5`
    return joint and not said & (_OWN_KEY | _ANY_FIRMWARE) and all(map(is_word, said))


_DOTTED_KEY = re.compile(r"(?:^|\s)[A-Za-z]\w*(?:[._]\w+)+\s+$")  # of a setting: `gain.roll.p 48.0`


def _told_below(lines: Sequence[str], firmware: str) -> Iterator[re.Pattern[str]]:
    """Names that a line of the dump states, for where its head line has them too."""
    for line in lines:
        shape = parse_line(line)
        text = shape.value.text.strip('"') if isinstance(shape, Assignment) else ""
        if re.fullmatch(r"[A-Z][\w .-]{2,40}", text) and text.casefold() != firmware.casefold():
            yield re.compile(rf"(?<!\w){re.escape(text)}(?!\w)")


_RULE = re.compile(r"([-=~_+#.:^])\1{2,}")


def is_rule(line: str) -> bool:
    """Whether a line is drawn of one sign, as below a title; it says nothing."""
    return _RULE.fullmatch(line.strip()) is not None


def remark_mark(line: str) -> str:
    """The mark before a remark, where it is none of the usual ones; else nothing."""
    found = _REMARK.fullmatch(line)
    if found is None or (found["mark"] == "|" and line.count("|") > 1):
        return ""  # nothing, or a row of cells
    return found["mark"]


def bracketed_remark(line: str) -> str:
    """What a line says that brackets hold: `(rows count from 0)`; nothing of another."""
    found = re.fullmatch(r"\((\w[^()]*)\)", line)
    return found[1] if found and " " in found[1] else ""


def _is_list_mark(mark: str, text: FileText) -> bool:
    """Whether most lines behind a mark are a key and a value: they are the items of a list.

    No list is marked so that begins with an exclamation mark or a quote.
    """
    if mark[0] in "!'":
        return False
    lines = [
        line.strip()[len(mark) :] for line in text.lines if line.strip().startswith(f"{mark} ")
    ]
    return sum(bool(re.match(r"[^:=]*\w\s*[:=]\s*\S", line)) for line in lines) > len(lines) / 2


def _rules(text: FileText, shapes: Sequence[Statement]) -> Iterator[str]:
    """Patterns for the lines drawn of one sign that would be taken for more than a remark."""
    signs = {
        line[:3]
        for shape in shapes
        if not isinstance(shape.shape, Comment) and is_rule(line := text.lines[shape.first].strip())
    }
    for sign in sorted(signs):
        own = [line.strip() for line in text.lines if line.strip().startswith(sign)]
        yield from (f"{sign}*",) if all(map(is_rule, own)) else filter(is_rule, own)


# The end of what an earlier line began: `bank 1 end`, behind `bank 1 begin "survey"`.
_END_OF = re.compile(r"(?P<of>[A-Za-z][\w-]*(?: \d+)?) (?:end|done)")


def _noise(texts: Sequence[FileText], look: Look, head: str) -> tuple[str, ...]:
    """Lines that say nothing: echoed commands, greetings, counts of lines."""
    found: dict[str, None] = {}
    for text in texts:
        shapes = Document("", text, look).statements
        found |= dict.fromkeys(_rules(text, shapes))
        echoed = {
            text.lines[s.first].removeprefix(p).strip()
            for s in shapes
            for p in look.prompts
            if text.lines[s.first].startswith(p)
        }
        begins: list[str] = []
        for statement in shapes:
            line = parted(_without(text.lines[statement.first], look.prompts), look)
            if not isinstance(statement.shape, Directive | Row) or line in (look.end, head):
                continue
            said = _SENTENCE.search(line) and " " in line
            if bracketed_remark(line):
                found["(*)"] = None
                continue
            mark = remark_mark(line)
            if mark and not _is_list_mark(mark, text):
                found[line if "*" in mark else f"{mark} *"] = None  # `* *` is any two words
                continue
            counted = re.fullmatch(r"\D*\blines?\b(?! (?:a|each|per) )\D*:? \d+", line)
            ended = _END_OF.fullmatch(line)
            begun = ended and any(one.strip().startswith(f"{ended['of']} ") for one in begins)
            if not begun:
                begins.append(text.lines[statement.first])
            if line in echoed or said or counted or begun:
                found[re.sub(r"\d+", "*", line)] = None
    return tuple(line for line in found if line and line != head)

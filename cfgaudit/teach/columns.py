"""Takes lines apart whose columns blanks or bars part, as a head row names them."""

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from cfgaudit.reading.shapes import (
    Assignment,
    Directive,
    Row,
    Span,
    cells,
    words,
)
from cfgaudit.teach.indices import beside_numbered
from cfgaudit.teach.legends import titles_of
from cfgaudit.teach.measures import measure_of, unit_of
from cfgaudit.teach.scoped import Scope, ScopedLine
from cfgaudit.teach.words import (
    are_elements,
    chunks,
    ideas_of,
    is_channel,
    is_choice,
    is_closed_list,
    tokens,
)
from cfgaudit.vocabulary.declare import HIDDEN


def bars_as_words(entry: ScopedLine) -> ScopedLine:
    """A line parted by bars as words: a comma in one of its cells makes no cells of its own."""
    return _as_words(entry) if " | " in entry.line else entry


def keyed_rows_as_words(entries: Sequence[ScopedLine]) -> list[ScopedLine]:
    """The lines, those as words whose commas part the values behind a key: `mixer fl 1,-1,0.9`.

    Behind a key that other rows have as well the first number tells which one a row is. Where
    most lines are a key and what stands behind it, a list of words is one, too: `order thr,roll`.
    """
    keyed = sum(isinstance(entry.shape, Directive) for entry in entries)
    cut: dict[int, list[str]] = {}
    for number, entry in enumerate(entries):
        if isinstance(entry.shape, Row) and "," in entry.line and not entry.statement.joints:
            first, *others = cells(entry.shape.body)
            if not any(" " in cell.text for cell in others):
                cut[number] = re.split(r"\s+(?=\S*$)", first.text)
    keys = Counter(key for key, *_ in cut.values())
    found = list(entries)
    for number, (key, *behind) in cut.items():
        if (
            key.lstrip("/")[:1].isalpha()
            and keys[key] == 1
            and behind
            and (re.search(r"\d", behind[0]) or (keyed > _MOSTLY * len(entries) and " " not in key))
        ):
            found[number] = _as_words(entries[number])
    return found


_MOSTLY = 0.6


def _as_words(entry: ScopedLine) -> ScopedLine:
    if not isinstance(entry.shape, Row):
        return entry
    first, *rest = words(entry.shape.body)
    return replace(entry, shape=Directive(entry.shape.body), head=first.text, parts=tuple(rest))


def title_below_remarks(scope: Scope) -> None:
    """Name the values of rows of one key by the words that a remark above has over each.

    `#    item       col row shown` above `show pack-volts 1 11 yes`. Rows whose first value does
    not tell them apart are left.
    """
    at = 0
    while at < len(scope.entries):
        run = list(_of_one_key(scope.entries[at:]))
        titles = _titles_above(run[0], [entry.parts for entry in run]) if len(run) > 1 else ()
        firsts = [entry.parts[0].text for entry in run if entry.parts]
        if titles and len(set(firsts)) == len(run):
            for number, entry in enumerate(run, at):
                scope.entries[number] = replace(entry, titles=titles[1:], indexed=True)
        at += max(1, len(run))


def cut_rows_below_titles(scope: Scope) -> None:
    """Take rows apart below a remark that has a title right over each of their columns.

    `#  out  spin  x` above `front_left  1  cw  76mm`: what a row is of may have no title.
    """
    at = 0
    while at < len(scope.entries):
        head, run = scope.entries[at], [scope.entries[at]]
        while at + len(run) < len(scope.entries):
            entry = scope.entries[at + len(run)]
            if entry.statement.first != head.statement.first + len(run):
                break
            run.append(entry)
        if len(run) > 1 and all(map(_is_plain, run)):
            rows = [columns_of(_body(entry)) for entry in run]
            spans = [[_joined_span(cell) for cell in row] for row in rows]
            titles = _titles_above(head, spans)
            if not titles and len({row[0].text for row in spans}) == len(run):
                titles = _titles_above(head, [row[1:] for row in spans])
                titles = ("name", *titles) if titles else ()
            if titles:
                scope.entries[at : at + len(run)] = _cut_rows(run, titles, "", whole=True)
        at += len(run)


def cut_rows_below_remarks(scope: Scope) -> None:
    """Take the rows of a scope apart as the remark above its title lists their columns.

    `# arms: output, corner, turn (cw or ccw), thrust` above the title `ARMS` and four rows.
    """
    rows = [e for e in scope.entries if isinstance(e.shape, Directive) and not e.is_cut]
    cuttings: tuple[_Cutting, ...] = (columns_of, _words_apart)
    for cutting in cuttings:
        titles = _titles_listed(scope.remark, bare=cutting is _words_apart)
        counts = Counter(len(cutting(_body(row), ())) for row in rows)
        usual = counts.most_common(1)[0][0] if counts else 0
        if cutting is _words_apart and not titles:
            titles = _titles_within(scope.line, usual)
        if usual == len(titles) + 1:  # what the rows are of is not among them
            titles = ("name", *titles)
        full = [row for row in rows if len(cutting(_body(row), ())) == len(titles)]
        if len(titles) >= _TITLED and 1 < len(full) >= _FULL * len(scope.entries):
            break
    else:
        return
    at = _value_column(titles)
    made = (
        _cut_rows(full, titles, "", whole=cutting is columns_of, cutting=cutting)
        if at is None
        else (_keyed_row(row, cutting(_body(row), ()), at) for row in full)
    )
    cut = {row.statement.first: row for row in made}
    scope.entries = [cut.get(entry.statement.first, entry) for entry in scope.entries]


def _keyed_row(entry: ScopedLine, row: Sequence[Sequence[Span]], at: int) -> ScopedLine:
    """A row as a key and its value, which stands `at` a column, with its unit behind it."""
    key = " ".join(span.text for cell in row[:at] for span in cell)
    parts = tuple(span for cell in row[at : at + 2] for span in cell)
    return replace(entry, head=key, parts=parts, negated=False, before="", barred=True)


_Cutting = Callable[[Span, Sequence[int]], tuple[tuple[Span, ...], ...]]


def _words_apart(body: Span, _: Sequence[int] = ()) -> tuple[tuple[Span, ...], ...]:
    """The words of a line, each a column."""
    return tuple((word,) for word in words(body))


def _titles_listed(remark: str, *, bare: bool = False) -> tuple[str, ...]:
    """The titles of columns that a remark lists behind a name and a colon; else none.

    With `bare` it is words with nothing but blanks between them.

    >>> _titles_listed("arms: out, turn (cw, ccw), slew in hundredths; as flown")
    ('out', 'turn', 'slew in hundredths')
    >>> _titles_listed("columns: out  turn (cw, ccw)  slew", bare=True)
    ('out', 'turn', 'slew')
    """
    plain = re.sub(r" *\([^()]*\)", "", remark)
    if bare:
        names = plain.rpartition("; ")[2].rpartition(": ")[2].split()
        several = len(names) >= _TITLED
        return tuple(names) if several and all(map(_COLUMN_NAME.fullmatch, names)) else ()
    told = plain.partition("; ")[0]
    name, sign, listed = told.rpartition(": ")
    names = [title.strip() for title in listed.split(",")]
    sound = sign and re.match(r"[A-Za-z]", name) and all(map(_LISTED_TITLE.fullmatch, names))
    return tuple(names) if sound else ()


def _titles_within(line: str, count: int) -> tuple[str, ...]:
    """The titles of so many columns that stand behind a title's own word, or two; else none.

    >>> _titles_within("table port   port_id  duty  baud", 3)
    ('port_id', 'duty', 'baud')
    """
    names = line.split()
    sound = len(names) - 2 <= count < len(names) and all(map(_COLUMN_NAME.fullmatch, names))
    return tuple(names[-count:]) if sound and count >= _TITLED else ()


_LISTED_TITLE = re.compile(r"[A-Za-z%][\w%/-]*(?: [\w%/-]+){0,4}")


def title_by_usage(scope: Scope) -> None:
    """Name the values of lines as the remark above says how such a line is written.

    `; ports: open <port> <baud> <roles...>` above `open ser1 9600 video`.
    """
    rows: dict[tuple[str, tuple[str, ...]], list[tuple[int, tuple[Span, ...]]]] = {}
    for number, entry in enumerate(scope.entries):
        if entry.is_cut or not isinstance(entry.shape, Directive):
            continue
        first, *own = words(entry.shape.body)
        verbs, titles = _usage(entry.remark)
        listed = titles[-1:] and titles[-1].endswith("...")
        if first.text in verbs and len(own) > 1 and (len(own) <= len(titles) or listed):
            rows.setdefault((first.text, titles), []).append((number, tuple(own)))
    for (verb, titles), lines in rows.items():
        if len({own[0].text for _, own in lines}) < max(2, len(lines)):
            continue
        names = [title.rstrip(".") for title in titles]
        for number, parts in lines:
            told = tuple(names[min(at, len(names) - 1)] for at in range(1, len(parts)))
            entry = scope.entries[number]
            if entry.before:  # the verb says on or off of what is named behind it
                scope.entries[number] = replace(entry, titles=told[: len(entry.parts)])
                continue
            scope.entries[number] = replace(
                entry, head=verb, parts=parts, negated=False, titles=told, indexed=True
            )


_USAGE = re.compile(r"(?:^|[:;] *|\s)(?P<verbs>[a-z]+(?:\|[a-z]+)*)(?P<rest>(?: <[^<>]+>){2,})$")


def _usage(remark: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The words that lines begin with, and the names of what stands behind, as a remark has them.

    >>> _usage("overlay: show|hide <item> <row> <col>")
    (('show', 'hide'), ('item', 'row', 'col'))
    """
    found = _USAGE.search(remark.strip())
    if found is None:
        return (), ()
    return tuple(found["verbs"].split("|")), tuple(re.findall(r"<([^<>]+)>", found["rest"]))


def _of_one_key(entries: Sequence[ScopedLine]) -> Iterator[ScopedLine]:
    """The lines from the first on that follow each other and begin with its word, as their head.

    Whatever else it may say of each: `show amps 9 11 yes` is a row, too.
    """
    first, head = entries[0].statement.first, ""
    for number, entry in enumerate(entries):
        follows = entry.statement.first == first + number
        if entry.is_cut or not follows or not isinstance(entry.shape, Directive):
            return
        own = words(entry.shape.body)
        head = head or own[0].text
        if own[0].text != head or len(own) < _TITLED:
            return
        yield replace(entry, head=head, parts=own[1:], before="", negated=False)


def _titles_above(entry: ScopedLine, rows: Sequence[Sequence[Span]]) -> tuple[str, ...]:
    """The words of the remark above some rows, where each stands over a column of theirs."""
    above = entry.document.lines[entry.statement.first - 1] if entry.statement.first else ""
    mark = _REMARK_ABOVE.match(above)
    if mark is None:
        return ()
    titles = words(Span(above[mark.end() :], mark.end()))
    full = [row for row in rows if len(row) == len(titles)]
    if len(titles) < _TITLED or len(full) < _FULL * len(rows):
        return ()
    if not all(_COLUMN_NAME.fullmatch(title.text) for title in titles):
        return ()
    over = [
        sum(_stands_over(title, row[at]) for row in full) >= _FULL * len(full)
        for at, title in enumerate(titles)
    ]
    return tuple(title.text for title in titles) if all(over) else ()


_REMARK_ABOVE = re.compile(r"\s*(?:#+|;+|//|--|%|!)(?=\s)")
_COLUMN_NAME = re.compile(r"[A-Za-z%][A-Za-z%/_-]*")
_TITLED, _FULL = 3, 0.8  # titles at least, and the share of rows and of cells that fit them


def _stands_over(title: Span, cell: Span) -> bool:
    return title.start < cell.end and cell.start < title.end


def cut_columns(scope: Scope, *, headed: bool = False) -> None:
    """Take rows of blanks or bars apart as the head row above them names their columns.

    Where lines are `headed`, words a single blank apart may head rows of as many, too.
    """
    kept: list[ScopedLine] = []
    table: Scope | None = None  # the last that stands between other lines
    at = 0
    while at < len(scope.entries):
        entry = scope.entries[at]
        at += 1
        titles = _titles(entry)
        below: list[ScopedLine] = []
        while titles and at + len(below) < len(scope.entries):
            row = scope.entries[at + len(below)]
            row = _as_words(row) if _is_ruled(entry) else row
            if not isinstance(row.shape, Directive) or row.whole or _is_ruled(row):
                break
            below.append(row)
        value = _value_column(titles)
        if value is None:
            below = below[: _unbroken(entry, below)]
            other = (n for n, row in enumerate(below) if _value_column(_titles(row)) is not None)
            below = below[: next(other, len(below))]
        if value is not None:
            below = below[: _in_column(entry, below, value)]
            scope.inner += _titled(entry, titles, below, value, kept)
        elif record := _record(entry, scope.entries[at : at + 2]):
            scope.inner.append(record)
            below = scope.entries[at : at + 1]
        elif aligned := _aligned(entry, scope.entries[at:]):
            table = _aligned_table(entry, aligned)
            scope.inner.append(table)
            below = aligned
        elif headed and (rows := _words_below(entry, scope.entries[at:])):
            scope.inner.append(_table_of_words(entry, rows))
            below = rows
        elif not _says_again(titles, below) and _heads_columns(
            titles, below, ruled=_is_ruled(entry), spaced=_widest_gap(entry)
        ):
            kept += _cut_rows(below, titles, entry.line)
        else:
            own = table is not None and _begins_as_a_row(entry, table)
            (table.entries if table is not None and own else kept).append(entry)
            continue
        at += len(below)
    scope.entries = _cut_at_bars(kept)


def _aligned(head: ScopedLine, below: Sequence[ScopedLine]) -> list[ScopedLine]:
    """The rows of a table whose cells stand below the titles of a head row, each below its own.

    None where the line is no head row: it has three titles or more, wide apart and without
    figures of their own, and below them stand figures, yes or no, or many rows are full. Its rows
    are all that are full but for their last cells, up to a line of another kind.
    """
    if not isinstance(head.shape, Directive) or head.is_cut or "|" in head.line:
        return []
    if head.statement.joints or _widest_gap(head) < 2:
        return []
    row = _but_aside(columns_of(head.shape.body))
    if (
        len(row) < (2 if _ruled_columns(head) else 3)
        or any(_has_number(cell) for cell in row)
        or not _is_title(row[0][0].text)
    ):
        return []
    if not all(any(map(str.isalpha, span.text)) for cell in row for span in cell[:1]):
        return []
    starts = [cell[0].start for cell in row]
    ruled = _ruled_columns(head)
    if ruled and len(ruled) != len(row):
        return []
    found: list[ScopedLine] = []
    for number, row_below in enumerate(below, 1 + bool(ruled)):
        entry = row_below if row_below.is_cut else _as_words(row_below)
        shape = entry.shape
        follows = entry.statement.first == head.statement.first + number
        if not follows or not isinstance(shape, Directive) or entry.is_cut:
            break
        cells = columns_of(shape.body, () if ruled else starts)
        own = [cell[0].start for cell in cells]
        if len(own) < 2 or (not ruled and not _are_below(cells, row)):
            break
        if ruled and not all(map(_overlap, cells, ruled)):
            break
        found.append(entry)
    told = [entry for entry in found if any(map(_tells, columns_of(_body(entry))))]
    full = [entry for entry in found if len(columns_of(_body(entry))) == len(row)]
    sure = ruled or 2 * len(told) >= len(found) or len(full) == len(found) >= _NO_CHANCE
    return found if full and sure else []


def _words_below(head: ScopedLine, below: Sequence[ScopedLine]) -> list[ScopedLine]:
    """The rows of a table whose words stand a single blank apart, as many as its head row has.

    Each begins with another word, and there are columns of numbers below the words of the head.
    """
    if not _is_plain(head) or not _heads_words(head):
        return []
    names = [word.text for word in words(_body(head))]
    rows: list[ScopedLine] = []
    for number, entry in enumerate(below, 1):
        cut = [word.text for word in words(_body(entry))]
        follows = entry.statement.first == head.statement.first + number
        if not follows or not _is_plain(entry) or len(cut) != len(names) or cut[0] == names[0]:
            break
        if not any(map(_begins_with_figure, cut[1:])) and _heads_words(entry):
            break
        rows.append(entry)
    columns = list(zip(*([word.text for word in words(_body(row))] for row in rows), strict=True))
    figures = [all(map(_begins_with_figure, column)) for column in columns[1:]]
    alone = len(rows) == 1 and len(names) > 1
    sure = sum(figures) > 0 and (len(rows) > 1 or sum(figures) > 1 or alone)
    return rows if sure else []


def _is_plain(entry: ScopedLine) -> bool:
    return isinstance(entry.shape, Directive) and not entry.is_cut and not entry.statement.joints


def _heads_words(head: ScopedLine) -> bool:
    names = [word.text for word in words(_body(head))]
    plain = all(_COLUMN_TITLE.fullmatch(name) for name in names)
    return len(names) > 1 and plain and not any(map(_is_yes_or_no, names[1:]))


_COLUMN_TITLE = re.compile(r"[A-Za-z%#][A-Za-z%/_.-]*(?:\[[\w%/]+\]|\([\w%/]+\))?")


def _begins_with_figure(text: str) -> bool:
    return re.match(r"[+-]?\.?\d", text) is not None


def _table_of_words(head: ScopedLine, rows: Sequence[ScopedLine]) -> Scope:
    names = [word.text for word in words(_body(head))]
    titles = titles_of(names, len(names))
    table = Scope(Directive, head.line, tuple(titles[0].split()), head.remark)
    table.entries += _cut_rows(rows, titles, head.line, whole=True, cutting=_words_apart)
    return table


def _record(head: ScopedLine, below: Sequence[ScopedLine]) -> Scope | None:
    """The one row below a head row as a scope of its own, each value below its title.

    `ESC  PROTOCOL  IDLE[%]` above `     dshot600  5.0`: the first title is what they are of. Titles
    are in capitals, which values are not, or say units.
    """
    if not below or not isinstance(head.shape, Directive) or head.is_cut or "|" in head.line:
        return None
    titles, entry = columns_of(head.shape.body), below[0]
    row = entry if entry.is_cut else _as_words(entry)
    follows = row.statement.first == head.statement.first + 1
    more = len(below) > 1 and below[1].statement.first == row.statement.first + 1
    if len(titles) < _TITLED or not follows or more or not isinstance(row.shape, Directive):
        return None
    starts = [title[0].start for title in titles]
    cells = columns_of(row.shape.body, starts)
    at = [starts.index(cell[0].start) for cell in cells if cell[0].start in starts]
    whole = at == list(range(len(titles))) or at == list(range(1, len(titles)))
    if row.is_cut or len(at) < len(cells) or not whole or not _are_capitals(titles, cells):
        return None
    names = titles_of([" ".join(span.text for span in cell) for cell in titles], len(titles))
    record = Scope(Directive, head.line, tuple(names[0].split()), head.remark)
    values = [_joined_span(cell) for cell in cells]
    record.entries.append(
        replace(row, head="", parts=tuple(values), negated=False, before="", header=head.line,
                titles=tuple(names[number] for number in at))
    )  # fmt: skip
    return record


def _are_capitals(titles: Sequence[Sequence[Span]], cells: Sequence[Sequence[Span]]) -> bool:
    """Whether titles are in capitals and not all words below them are, or one says a unit."""
    told = [span.text for title in titles for span in title]
    said = [span.text for cell in cells for span in cell]
    if any(re.search(r"\[[^\]]+\]$", text) for text in told):
        return True
    return all(text.isupper() for text in told) and not all(map(str.isupper, said))


def _are_below(cells: Sequence[Sequence[Span]], titles: Sequence[Sequence[Span]]) -> bool:
    """Whether cells begin or end where their titles do; a number may end with its column."""
    return all(
        cell[0].start == title[0].start
        or cell[-1].end == title[-1].end
        or (is_fraction(cell[-1].text) and _overlap(cell, (title[0].start, title[-1].end)))
        for cell, title in zip(cells, titles, strict=False)
    )


_NO_CHANCE = 5  # full rows that don't stand below three titles by chance


def _ruled_columns(head: ScopedLine) -> list[tuple[int, int]]:
    """Where the columns of a table begin and end by the dashes below its head row, if any."""
    lines = head.document.lines
    below = lines[head.statement.line] if head.statement.line < len(lines) else ""
    if not re.fullmatch(r"\s*-{2,}(?:\s+-{2,})+\s*", below):
        return []
    return [found.span() for found in re.finditer("-+", below)]


def _overlap(cell: Sequence[Span], column: tuple[int, int]) -> bool:
    return cell[0].start < column[1] and cell[-1].end > column[0]


def _begins_as_a_row(entry: ScopedLine, table: Scope) -> bool:
    """Whether a line begins with the key of a row of the table above, and goes on otherwise.

    It must be told there, before the row: else the row's mapping line would take it.
    """
    rows = [row for row in table.entries if row.header]
    heads = [row.parts[0].text if row.indexed else row.head for row in rows]
    directive = isinstance(entry.shape, Directive)
    return directive and any(entry.line.startswith(f"{head} ") for head in heads if head)


def _but_aside(row: tuple[tuple[Span, ...], ...]) -> tuple[tuple[Span, ...], ...]:
    """The titles of a head row without what stands behind them in brackets: `(from 0)`."""
    last = " ".join(span.text for span in row[-1]) if row else ""
    return row[:-1] if re.fullmatch(r"\([^()]+\)", last) else row


def _aligned_table(head: ScopedLine, rows: Sequence[ScopedLine]) -> Scope:
    """The rows of such a table as a scope of their own, which its head row opens."""
    whole = columns_of(_body(head))
    row = _but_aside(whole)
    aside = " ".join(span.text for cell in whole[len(row) :] for span in cell).strip("()")
    rows = [replace(entry, remark=joined(entry.remark, aside)) for entry in rows]
    titles = titles_of([" ".join(span.text for span in cell) for cell in row], len(row))
    table = Scope(Directive, head.line, tuple(titles[0].split()), joined(head.remark, aside))
    starts = () if _ruled_columns(head) else _starts(head)
    table.entries += _cut_rows(rows, titles, head.line, starts, whole=True)
    return table


def _cut_at_bars(entries: list[ScopedLine]) -> list[ScopedLine]:
    """Lines whose cells bars part: the key is the fewest cells that tell the lines apart."""
    rows = {
        number: columns_of(entry.shape.body)
        for number, entry in enumerate(entries)
        if isinstance(entry.shape, Directive) and not entry.is_cut and " | " in entry.line
    }
    if len(rows) < 3 or len(rows) < 0.6 * len(entries):
        return entries
    texts = [tuple(" ".join(span.text for span in cell) for cell in row) for row in rows.values()]
    widest = max(map(len, texts))
    told = (n for n in range(1, widest) if len({t[:n] for t in texts}) >= 0.95 * len(texts))
    keys = next(told, widest - 1)
    found = list(entries)
    for number, row in rows.items():
        if len(row) > keys:
            found[number] = _cut_at_bar(entries[number], row, keys)
    return found


def _cut_at_bar(entry: ScopedLine, row: Sequence[Sequence[Span]], keys: int) -> ScopedLine:
    first, last = row[keys][0], row[keys][-1]
    behind = "; ".join(" ".join(span.text for span in cell) for cell in row[keys + 1 :])
    return replace(
        entry,
        head=" ".join(s.text for s in words(_body(entry)) if s.end <= first.start),
        parts=tuple(s for s in words(_body(entry)) if first.start <= s.start <= last.start),
        negated=False,
        before="",
        barred=True,
        more=len(row) > keys + 1,
        unit=behind if measure_of(behind) else "",
        remark=joined(entry.remark, behind),
        behind=behind,
    )


def _joined_span(cell: Sequence[Span]) -> Span:
    return Span(" ".join(span.text for span in cell), cell[0].start)


def _titles(entry: ScopedLine) -> tuple[str, ...]:
    """The cells of a line that may be the head row of a table; empty where it is none."""
    if not isinstance(entry.shape, Directive) or entry.is_cut:
        return ()
    row = columns_of(entry.shape.body)
    titles = tuple(" ".join(span.text for span in cell) for cell in row)
    named_ = len(titles) > 1 and all(_is_title(title) for title in titles)
    return titles if named_ and not any(_has_number(cell) for cell in row) else ()


def _is_ruled(entry: ScopedLine) -> bool:
    """Whether a line of dashes stands right below: the line is the head row of a table."""
    lines = entry.document.lines
    below = lines[entry.statement.line] if entry.statement.line < len(lines) else ""
    rule = below.strip("#;| \t")
    part = 2 * len(rule) < len(entry.line) and not set(rule) & set(" |+")
    return _RULE.fullmatch(rule) is not None and not part  # `--` parts blocks of lines


_RULE = re.compile(r"[-=+:]{2,}([-=+:| \t]+)?")


def _in_column(head: ScopedLine, below: Sequence[ScopedLine], value: int) -> int:
    """How many of the lines below a head row are of its table.

    They have their values in one column, or stand as a title above a line that has. All of them
    are where there is no such column.
    """
    fits = _fits_column(head, below, value)
    if not _is_column(fits) or "|" in head.line:
        return len(below)
    stop = (n for n, fit in enumerate(fits) if not fit and not any(fits[n + 1 : n + 2]))
    return next(stop, len(fits))


def _fits_column(head: ScopedLine, below: Sequence[ScopedLine], value: int) -> list[bool]:
    """Whether lines have their values where most of them have: they begin or end there."""
    rows = [columns_of(_body(entry), _starts(head)) for entry in below]
    cells = [row[value] if len(row) > value else () for row in rows]
    sides: list[list[int]] = [
        [cell[0].start if cell else -1 for cell in cells],
        [cell[-1].end if cell else -1 for cell in cells],
    ]
    best: list[bool] = []
    for side in sides:
        first = next((at for at in side if at >= 0), -1)
        hidden = [HIDDEN in entry.line for entry in below]
        fits = [h or at == first >= 0 for at, h in zip(side, hidden, strict=True)]
        best = max(best, fits, key=sum)
    return best


def _is_column(fits: Sequence[bool]) -> bool:
    """Whether values stand in one column, and not in one by chance."""
    return sum(fits[:4]) >= min(3, len(fits)) and sum(fits) >= 2


def _titled(
    head: ScopedLine,
    titles: Sequence[str],
    below: Sequence[ScopedLine],
    value: int,
    kept: list[ScopedLine],
) -> Iterator[Scope]:
    """The rows of a table of settings: `kept` those above the first title, in scopes the others."""
    fits = _fits_column(head, below, value)
    group: Scope | None = None
    for fit, row in zip(fits, below, strict=True):
        titled = not fit and "|" not in row.line and _is_column(fits)
        if titled and len(columns_of(_body(row))) <= 2:
            if group is not None:
                yield group
            cut = tuple(word for word in re.split(r"[\s.:/]+", row.line) if word)
            group = Scope(Directive, row.line, cut, row.remark)
            continue
        (kept if group is None else group.entries).append(_cut_item(row, titles, value, head))
    if group is not None:
        yield group


def _starts(head: ScopedLine) -> tuple[int, ...]:
    return tuple(cell[0].start for cell in columns_of(_body(head)))


def _body(entry: ScopedLine) -> Span:
    return entry.shape.value if isinstance(entry.shape, Assignment) else entry.shape.body


def _cut_item(entry: ScopedLine, titles: Sequence[str], value: int, head: ScopedLine) -> ScopedLine:
    """A row that is a setting: its name, up to its value; what stands behind tells of the unit."""
    row = columns_of(_body(entry), _starts(head))
    if len(row) <= value:
        return entry
    header = head.line
    spans = words(_body(entry))
    name = _name_column(titles)
    own = row[name][-1].end
    front = [span.text for span in spans if span.end <= own]
    if "|" not in front:  # else the bars stay
        counted = ["*" for cell in row[:name] for _ in cell]  # the rows' own numbers
        front = [*counted, *(span.text for span in row[name])]
    texts = [_joined_span(cell) for cell in row]
    table = CellTable(tuple(titles), (), header, items=True, value=value, name=name)
    unit, step = table.unit_and_step(texts)
    return replace(
        entry,
        head=" ".join(front),
        parts=tuple(span for span in spans if own <= span.start < row[value][-1].end),
        negated=False,
        before="",
        more=len(row) > value + 1,
        header=header,
        unit=unit,
        step=step,
        remark=joined(entry.remark, "; ".join(text.text for text in texts[value + 1 :])),
    )


def joined(one: str, other: str) -> str:
    """Two remarks as one; either may be empty."""
    return "; ".join(text for text in (one, other) if text)


def _cut_rows(
    rows: Sequence[ScopedLine],
    titles: Sequence[str],
    header: str,
    starts: Sequence[int] = (),
    *,
    whole: bool = False,
    cutting: "_Cutting | None" = None,
) -> Iterator[ScopedLine]:
    """Rows of which each has several values, named by the titles of their columns.

    The words of a cell are one value where they are `whole`, but for a number and its unit.
    `starts` are where the titles begin, where each value begins below its own.
    """
    cut = [(cutting or columns_of)(_body(row), starts) for row in rows]
    full = [row for row in cut if len(row) == len(titles)]
    seconds = [" ".join(span.text for span in row[1]) for row in full]
    firsts = [" ".join(span.text for span in row[0]) for row in full]
    numbered = all(text.isdigit() or (len(text) == 1 and text.isalpha()) for text in firsts)
    once = len(set(seconds)) == len(full)
    channels = whole and is_channel(titles[0])  # they tell which, and not how many
    counted = (
        all(text.isdigit() for text in firsts) and once and is_closed_list(seconds)
    ) and not channels  # the second column names the row
    counted |= (
        all(text.isdigit() for text in firsts)
        and len(set(firsts)) == len(full)
        and (1 < len(set(seconds)) < len(full) and all(map(_is_filtered, seconds)))
    )
    pairs = set(zip(firsts, seconds, strict=True))
    several = numbered and len(pairs) == len(full) > len(set(firsts)) and not once
    keys = 2 if counted or several else 1
    listed = keys == 1 and len(set(firsts)) == len(full) and (channels or is_closed_list(firsts))
    told = {idea for token in tokens(titles[0]) for idea in ideas_of(token)}
    alone = beside_numbered({text: {"": ""} for text in firsts}, least=1)
    named_so = bool(told & {"port", "pad"}) or are_elements(firsts) or bool(alone)
    below = whole or cutting is not None
    listed = listed or bool(below and keys == 1 and len(set(firsts)) == len(firsts) and named_so)
    for entry, row in zip(rows, cut, strict=True):
        if not keys < len(row) <= len(titles):
            yield entry
            continue
        head = [" ".join(span.text for span in cell) for cell in row[:keys]]
        if listed:
            head = [""]
        parts = [
            (titles[at], span)
            for at, cell in enumerate(row[keys:], keys)
            for span in ((_joined_span(cell),) if whole and _is_one(cell, at, cut) else cell)
        ]
        yield replace(
            entry,
            head=" ".join(["*", *head[1:]] if counted else head),
            parts=(*([_joined_span(row[0])] if listed else []), *(span for _, span in parts)),
            indexed=listed,
            count=head[0] if counted else "",
            negated=False,
            before="",
            header=header,
            titles=tuple(title for title, _ in parts),
        )


def _is_filtered(text: str) -> bool:
    """Whether a word says what a filter is for: the gyro, or the gains' D term."""
    ideas = {idea for token in tokens(text) for idea in ideas_of(token)}
    return bool(ideas & {"gyro", "derivative"})


def _is_one(cell: Sequence[Span], at: int, rows: Sequence[Sequence[Sequence[Span]]]) -> bool:
    """Whether the words of a cell are one value: a number and its unit where others are words."""
    if not is_fraction(cell[0].text):
        return True
    beside = [row[at] for row in rows if len(row) > at]
    last = all(len(row) <= at + 1 for row in rows)
    return last and not all(map(_has_number, beside))


def columns_of(body: Span, starts: Sequence[int] = ()) -> tuple[tuple[Span, ...], ...]:
    """The words of a line by its columns, which bars part, or two blanks or more.

    A line whose words all stand one blank apart has a column a word. A word that stands where a
    title of the head row does begins a column (`starts`), however near the one before it is.
    """
    found: list[list[Span]] = []
    spans = words(body)
    barred = any(span.text == "|" for span in spans)
    wide = any(b.start - a.end > 1 for a, b in pairwise(spans))
    last: Span | None = None
    for span in spans:
        if span.text == "|":
            last = None
            continue
        near = last is not None and (barred or (wide and span.start - last.end == 1))
        near = near and (barred or span.start not in starts)
        if near:
            found[-1].append(span)
        else:
            found.append([span])
        last = span
    return tuple(tuple(cell) for cell in found)


def _unbroken(entry: ScopedLine, below: Sequence[ScopedLine]) -> int:
    """How many of the lines below a line follow it without a blank line."""
    if not below:  # as below most lines
        return 0
    lines = entry.document.lines
    blank = (at for at in range(entry.statement.line, len(lines)) if not lines[at].strip())
    stop = next(blank, len(lines))
    return sum(row.statement.first < stop for row in below)


def _widest_gap(entry: ScopedLine) -> int:
    """The most blanks between two words of a line, but for signs that are read as blanks."""
    gaps = [(a.end, b.start) for a, b in pairwise(words(_body(entry)))]
    if entry.document.look.parts and len(entry.statement.joints) > 1:
        return 0  # signs and ends of lines stand in them
    if entry.document.look.parts and not entry.statement.joints:
        line = entry.document.text.lines[entry.statement.first]
        return max((line.count(" ", *gap) for gap in gaps), default=0)
    return max((stop - start for start, stop in gaps), default=0)


def _says_again(titles: Sequence[str], below: Sequence[ScopedLine]) -> bool:
    """Whether a line below has the words of titles in their places: it is a row like the others."""
    rows = [columns_of(_body(entry)) for entry in below if isinstance(entry.shape, Directive)]
    texts = ([" ".join(span.text for span in cell) for cell in row] for row in rows)
    return any(sum(map(str.__eq__, titles, own)) > 1 for own in texts)


def _heads_columns(
    titles: Sequence[str], below: Sequence[ScopedLine], *, ruled: bool, spaced: int
) -> bool:
    """Whether words name the columns of the lines below them: as many cells, numbers in most."""
    if len(titles) < 2 or (not ruled and any(_is_yes_or_no(title) for title in titles[1:])):
        return False
    if not ruled and (spaced < 2 or any(" | " in entry.line for entry in below)):
        return False  # it is a row like the others
    rows = [columns_of(entry.shape.body) for entry in below if isinstance(entry.shape, Directive)]
    fits = [row for row in rows if len(row) == len(titles)]
    if not ruled and len(titles) == _A_PAIR and _are_pairs_like(titles, fits):
        return False
    told = [
        row
        for row in fits
        if any(_tells(cell) for cell in row[1:]) or any(c.isdigit() for c in row[0][-1].text)
    ]
    least = 1 if ruled else 2
    return (
        len(fits) >= least
        and len(fits) >= 0.6 * len(rows)
        and (ruled or len(told) >= 0.5 * len(fits))
    )


_A_PAIR = 2


def _are_pairs_like(titles: Sequence[str], rows: Sequence[Sequence[Sequence[Span]]]) -> bool:
    """Whether two words are a key and its value, as the lines below them are: `kind  lipo`.

    Keys have no figures, and a head row of such is in other letters, or says that it is one.
    """
    key, value = titles
    if key.casefold() in _NAME_TITLES or value.casefold() in _VALUE_TITLES:
        return False
    keys = [" ".join(span.text for span in row[0]) for row in rows]
    plain = not any(letter.isdigit() for text in keys for letter in text)
    return plain and not (key[:1].isupper() and any(text[:1].islower() for text in keys))


def _tells(cell: Sequence[Span]) -> bool:
    return _has_number(cell) or any(_is_yes_or_no(span.text) for span in cell)


_NAME_TITLES = frozenset(
    {"name", "key", "setting", "parameter", "param", "item", "field", "variable", "option", "entry"}
)


_VALUE_TITLES = frozenset(
    {"value", "val", "now", "current", "set", "setting", "content", "stored", "present", "reading"}
)


_UNIT_TITLES = frozenset({"unit", "units", "measure", "in", "dimension"})


_STEP_TITLES = frozenset({"step", "steps", "scale", "factor", "per", "resolution"})


@dataclass(frozen=True)
class CellTable:
    """The rows of one scope, the titles of their columns, and what sort of table it is."""

    header: tuple[str, ...]
    rows: tuple[ScopedLine, ...]
    title: str  # the head row as it stands, empty where there is none
    items: bool  # each row is a setting of its own: a name and a value
    value: int = 1  # the column of an item's value
    name: int = 0  # the column of its name

    def unit_and_step(self, cells: Sequence[Span]) -> tuple[str, str]:
        """The unit and the step that an item's further cells state."""
        unit, step = "", ""
        for number, span in enumerate(cells[1:], 1):
            title = self.header[number].casefold() if number < len(self.header) else ""
            if number == self.value or (
                self.is_headed and title not in _UNIT_TITLES | _STEP_TITLES
            ):
                continue
            measure = measure_of(span.text)
            if measure and title not in _STEP_TITLES and not unit:
                unit = span.text
            elif title not in _UNIT_TITLES and is_fraction(span.text) and not step:
                step = span.text if not span.text.startswith("-") else ""
        return unit, step

    @property
    def is_headed(self) -> bool:
        """Whether the head row names the column of the values: what else a row has is its own."""
        return _value_column(self.header) is not None


def _value_column(titles: Sequence[str]) -> int | None:
    """The column of the values, where titles name that and begin with the name of a setting."""
    low = [title.casefold() for title in titles]
    named = next((number for number, title in enumerate(low) if title in _NAME_TITLES), None)
    if named is None or named > 1:
        return None
    return next((at for at, title in enumerate(low) if at > named and title in _VALUE_TITLES), None)


def _name_column(titles: Sequence[str]) -> int:
    """The column of the names of settings: the first, but for one that counts the rows."""
    low = [title.casefold() for title in titles]
    return 1 if len(low) > 2 and low[0] not in _NAME_TITLES and low[1] in _NAME_TITLES else 0


def table_of(rows: Sequence[ScopedLine]) -> CellTable | None:
    """The table that rows make, or None where there are too few to say, or commas part clauses."""
    if not rows or "." in rows[0].document.look.blanks:
        return None
    first = rows[0].parts
    alike = len(rows) > 1 and (len(first) == len(rows[1].parts) or _has_number(rows[1].parts))
    titled = alike and not _has_number(first) and all(_is_title(span.text) for span in first)
    titled = titled and not any(_is_yes_or_no(span.text) for span in first[1:])
    titled = titled and not any(map(_differ_in_figures, first, rows[1].parts))
    titled = titled and not (len(first) == _A_PAIR and is_choice(first[1].text))
    titled = titled and not _begin_alike(first[0].text, rows[1].parts[0].text)
    header = tuple(span.text for span in first) if titled else ()
    body = tuple(rows[1:]) if titled else tuple(rows)
    title = rows[0].line if titled else ""
    value = _value_column(header)
    if value is not None:  # rows without a value say nothing
        body = tuple(row for row in body if len(row.parts) > value and row.parts[value].text)
        body = tuple(replace(row, head=row.parts[_name_column(header)].text) for row in body)
    items = value is not None or _are_items(header, body)
    name = 0 if value is None else _name_column(header)
    return CellTable(header, body, title, items, value or 1, name) if body else None


def _begin_alike(one: str, other: str) -> bool:
    """Whether two keys of several words begin with the same one: neither is the other's title."""
    mine, theirs = chunks(one), chunks(other)
    return min(len(mine), len(theirs)) > 1 and mine[0][0] == theirs[0][0]


def _differ_in_figures(one: Span, other: Span) -> bool:
    """Whether two cells say the same but for figures in them: neither is the other's title."""
    figures = any(letter.isdigit() for letter in one.text)
    return figures and re.sub(r"\d+", "", one.text) == re.sub(r"\d+", "", other.text)


def _has_number(cells: Sequence[Span]) -> bool:
    return any(is_fraction(span.text) for span in cells)


def _is_title(text: str) -> bool:
    return bool(text) and text[0].isalpha()


def _are_items(header: tuple[str, ...], rows: Sequence[ScopedLine]) -> bool:
    titles = {title.casefold() for title in header}
    if titles & _UNIT_TITLES:
        return True
    units = sum(any(unit_of(span.text) for span in row.parts[2:]) for row in rows)
    rest = [span.text for row in rows for span in row.parts[2:]]
    if units * 3 > len(rows) or (units and all(not text or unit_of(text) for text in rest)):
        return True
    seconds = [row.parts[1].text for row in rows if len(row.parts) > 1]
    kinds = {"yes or no" if _is_yes_or_no(text) else word_kind(text) for text in seconds}
    kinds -= {"nothing"}
    if len(rows[0].parts) != 2 or len(rows) < 3:
        return False
    named = sum(len(chunks(row.head)) > 1 for row in rows) > 0.6 * len(rows)
    return len(kinds) >= 2 or (len(rows) >= 10 and named)


def word_kind(text: str) -> str:
    """`number`, `word`, or `nothing` for what says that there is no value."""
    if text[:1] == '"' or text.casefold() in ("", "none", "off", "-", "~", "nil"):
        return "nothing"
    return "number" if re.match(r"[+-]?\.?\d", text) or text.startswith("[") else "word"


def _is_yes_or_no(text: str) -> bool:
    return text.casefold() in ("yes", "no", "on", "off", "true", "false", "y", "n")


def is_fraction(text: str) -> bool:
    """Whether a text is a number, as `3/4` is one."""
    try:
        Fraction(text)
    except (ValueError, ZeroDivisionError):
        return False
    return True

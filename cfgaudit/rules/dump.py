"""The whole dump: what it says twice, what can't be, and what could not be read."""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Final, TypeVar

from cfgaudit.craft.craft import Craft
from cfgaudit.reading.safe import readable, unsafe_letters, unsafe_names
from cfgaudit.reading.text import Place
from cfgaudit.rules.rule import Fires, Level, NotApplicable, Yielded, in_groups, listed, rule
from cfgaudit.settings import Raw, Settings, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.declare import HIDDEN, Class, NotStated
from cfgaudit.vocabulary.paths import declared, nearest
from cfgaudit.vocabulary.units import number_text

L = TypeVar("L", Raw, Trouble)
_GRAVE: Final = (Class.SAFETY, Class.POWER)
ANY = "PATH"  # what a whole-dump rule lacks where nothing at all is stated
_NAMED = 5  # keys or lines that a grouped finding names; the rest is counted


def _need_settings(craft: Craft) -> None:
    """Raise NotStated for a dump of which no setting is understood."""
    settings = craft.settings
    if not settings.stated and not any(trouble.path for trouble in settings.troubles):
        raise NotStated(ANY)


def _need_lines(craft: Craft) -> None:
    """Raise NotStated for a dump without a line that says anything."""
    settings = craft.settings
    if not (settings.stated or settings.raw or settings.troubles):
        raise NotStated(ANY)


@rule("dump/identity-missing", Level.NOTE)
def identity_missing(craft: Craft) -> Iterator[Yielded]:
    """The dump does not name the firmware or the board.

    In the air: nothing by itself; but defaults, upgrades and the board's limits can't be judged.
    Mend: make the dump anew with its head lines, or state firmware.name and board.name.
    Source: common practice.
    """
    _need_settings(craft)
    wanted = {"firmware": craft.firmware, "board": craft.board}
    missing = [word for word, part in wanted.items() if not part.states("name")]
    if missing:
        yield Fires(
            f"The dump names no {' and no '.join(missing)}: factory values and upgrades can't be "
            f"judged.",
            tuple(wanted[word].path("name") for word in missing),
            (("missing", len(missing)),),
            advice="Make the dump anew with its head lines, or state the names by hand.",
        )


@rule("dump/truncated", Level.ERROR)
def truncated(craft: Craft) -> Iterator[Yielded]:
    """The dump stops inside a block or a line, or lacks the end mark that its dialect promises.

    In the air: what the missing part would have set is at its old or factory value, whatever
    the builder meant.
    Mend: make the dump anew, and wait for its last line before the terminal is closed.
    Source: common practice.
    """
    _need_lines(craft)
    for trouble in _of_kind(craft, TroubleKind.TRUNCATED):
        yield _fires(trouble, "Make the dump anew, to its last line.")


_FEWEST_MOTORS, _STICKS = 3, 4
# What a first flight hangs on: in words, and the settings of which it wants one, or one a motor.
# Behind a blank stands the value. Of some a row is wanted whole: the group, and the setting.
_OUTPUTS: Final = r"motors\..+\.output .*|pads\..+\.use motor .*"
ARMS: Final = "which switch arms"
LOSS: Final = "what happens when the link is lost"
BASICS: Final = (
    (ARMS, 1, r"(?:switches\.arm .*|arming\.by (?!switch$).*)", ()),
    ("which output drives which motor", _FEWEST_MOTORS, _OUTPUTS, ()),
    ("which way the motors turn", _FEWEST_MOTORS, r"motors\..+\.spin .*", ()),
    ("what the pads are for", 1, r"pads\..+\.use .*", ("pads", "use")),
    ("what the ports carry", 1, r"ports\..+\.roles .*", ("ports", "roles")),
    ("which channel each stick has", _STICKS, r"receiver\.map\..+", ()),
    (LOSS, 1, r"failsafe\.action .*", ()),
)
_ONE_SETTING: Final = {ARMS: "switches.arm", LOSS: "failsafe.action"}


_OF: Final = ("switches.", "arming.", "motors.", "pads.", "ports.", "receiver.", "failsafe.")


def basics_missing(settings: Settings) -> Iterator[str]:
    """What a first flight hangs on and no line of a dump states, in words."""
    stated = [f"{path} {s.value}" for path, s in settings.stated.items() if path.startswith(_OF)]
    for says, least, pattern, _ in BASICS:
        if sum(re.fullmatch(pattern, one) is not None for one in stated) < least:
            yield says


_FRAGMENT = 60  # settings: who shows fewer than that shows a part on purpose
_MAY_BE_LEFT_OUT = (
    "which way the motors turn",
    "what the pads are for",
    "which channel each stick has",
)


@rule("dump/incomplete", Level.WARNING)
def incomplete(craft: Craft) -> Iterator[Yielded]:
    """The dump states nothing of what a first flight hangs on.

    A part of a dump that states fewer than 60 settings is taken for one that was meant. Where lines
    are not understood, one of those may state it: the end of the audit names it then.

    In the air: what is not in the dump was not looked at; it is as it was on the craft, right or
    wrong.
    Mend: make the dump anew, to its last line; where the firmware leaves out what is at its factory
    value, audit a dump of all settings.
    Source: common practice.
    """
    _need_lines(craft)
    settings = craft.settings
    if len(settings.stated) < _FRAGMENT:
        raise NotApplicable(f"Fewer than {_FRAGMENT} settings are stated: it is a part of a dump.")
    if any(settings.not_understood(dump.file) for dump in settings.dumps):
        raise NotApplicable("Lines that are not understood may state what is missing.")
    left_out = {*_MAY_BE_LEFT_OUT, *([ARMS] if craft.arming.states("by") else [])}
    missing = [says for says in basics_missing(settings) if says not in left_out]
    if missing:  # that a switch is to arm, and none does, is switch/no-arm
        yield Fires(
            f"Nothing says {listed(missing)}.",
            tuple(path for says, path in _ONE_SETTING.items() if says in missing),
            (("missing", float(len(missing))),),
            advice="Look whether the dump was cut off, and make it anew to its last line. Where "
            "the firmware prints only what was changed, make one of all settings.",
        )


@rule("dump/unread", Level.WARNING)
def unread(craft: Craft) -> Iterator[Yielded]:
    """Lines could not be read; what they state is missing from the audit.

    Of an arm that the dialect has no word for nothing is known, nor of all motors together. An
    error where lines were wrapped and could not be put together.

    In the air: unknown, since the audit does not know what these lines set.
    Mend: look at each line; make the dump anew if it was damaged on the way.
    Source: common practice.
    """
    _need_lines(craft)
    for troubles in _by_file(_of_kind(craft, TroubleKind.UNREAD)):
        yield Fires(
            f"{_count(troubles, 'line')} could not be read: {_reasons(troubles)}.",
            _paths(troubles),
            (("lines", len(troubles)),),
            advice=f"Look at {'this line' if len(troubles) == 1 else 'these lines'}; make the dump "
            "anew if it was damaged on the way.",
            places=_places(troubles),
        )
    for troubles in _by_file(_of_kind(craft, TroubleKind.WRAPPED)):
        yield Fires(
            f"{_count(troubles, 'line')} seem{'s' * (len(troubles) == 1)} to be wrapped and could "
            "not be put together: what they state was not read, or not all of it.",
            (),
            (("lines", float(len(troubles))),),
            advice="Paste the dump again without wrapping, or take the file itself.",
            level=Level.ERROR,
            places=_places(troubles[:_NAMED]),
        )
    for troubles in _by_file(_of_kind(craft, TroubleKind.NO_WORD)):
        arms = dict.fromkeys(readable(trouble.path).partition(".")[2] for trouble in troubles)
        yield Fires(
            f"{_count(arms, 'arm')} could not be read: the dialect has no word for "
            f"{listed(list(arms))}. Nothing that is reckoned over all motors is checked.",
            _paths(troubles),
            (("arms", len(arms)),),
            advice="Add each such word to the dialect's list, with the arm of the frame that it "
            "is; where the frame has no such arm, look whose dump this is.",
            places=_places(troubles),
        )


@rule("dump/merge-unfinished", Level.ERROR)
def merge_unfinished(craft: Craft) -> Iterator[Yielded]:
    """A merge was left unfinished: the dump holds both sides' lines, with the marks between them.

    In the air: unknown: whichever line comes last may hold, or the firmware reads neither.
    Mend: choose one side of each conflict and take the marks out, before all else.
    Source: common practice. Until then no other change is sure, and none is written.
    """
    _need_lines(craft)
    for troubles in _by_file(_of_kind(craft, TroubleKind.CONFLICT_MARKER)):
        yield Fires(
            f"A merge was left unfinished: {_count(troubles, 'conflict mark')}, "
            f"{_reasons(troubles)}.",
            _paths(troubles),
            (("marks", len(troubles)),),
            advice="Choose one side of each conflict and take the marks out, before all else.",
            places=_places(troubles),
        )


@rule("dump/said-twice", Level.WARNING)
def said_twice(craft: Craft) -> Iterator[Yielded]:
    """A setting is stated more than once; an error where the values differ.

    Where a quarter of all are, two dumps stand in one file: that is told once. The same value on
    lines of which each states something else as well, as on each motor's, is no fault.

    In the air: which of the values holds depends on the firmware and on the order of the lines.
    Mend: keep one line; of two dumps make two files.
    Source: common practice.
    """
    _need_settings(craft)
    groups: dict[str, dict[Stated, None]] = {}
    beside = _stated_beside(craft.settings)
    for pair in craft.settings.repeats:
        groups.setdefault(pair[0].path, {}).update(dict.fromkeys(pair))
    if len(groups) >= _MANY_TWICE and 4 * len(groups) >= len(craft.settings.stated):
        yield _two_dumps(craft, groups)
        return
    for path, members in groups.items():
        group = list(members)
        differ = any(stated.value != group[0].value for stated in group)
        if not differ and all(beside.get(_line_of(stated), {path}) - {path} for stated in group):
            continue
        times = "twice" if len(group) == 2 else f"{len(group)} times"
        group.sort(key=lambda stated: stated.place or Place("", 0))
        files = {stated.place.file for stated in group if stated.place}
        values = _some([_told(stated, len(files) > 1) for stated in group[:_NAMED]], len(group))
        told = f": {values}" if differ else ", with the same value"
        yield Fires(
            f"{path} is stated {times}{told}.",
            (_setting(craft, path),),
            (("times", len(group)),),
            advice=_keep_one(path, group, beside),
            level=Level.ERROR if differ else Level.WARNING,
            places=_places(group),
        )


def _line_of(stated: Stated) -> tuple[str, int]:
    return (stated.place.file, stated.place.line) if stated.place else ("", 0)


def _stated_beside(settings: Settings) -> dict[tuple[str, int], set[str]]:
    """The settings that each line states."""
    found: dict[tuple[str, int], set[str]] = {}
    for one in (*settings.stated.values(), *chain.from_iterable(settings.repeats)):
        found.setdefault(_line_of(one), set()).add(one.path)
    return found


def _keep_one(
    path: str, group: Sequence[Stated], beside: Mapping[tuple[str, int], set[str]]
) -> str:
    """What to do with the lines that say it; one that says more is not taken out."""
    if any(beside.get(_line_of(stated), {path}) - {path} for stated in group):
        return "Find out which value is meant, and write it in each place; their lines say more."
    return f"Keep the line that is meant and take out the other{'s' if len(group) > 2 else ''}."


_MANY_TWICE: Final = 10  # settings: so many no slip of a pen repeats


def _two_dumps(craft: Craft, groups: Mapping[str, Iterable[Stated]]) -> Fires:
    """One finding for a file in which settings are stated over again."""
    again = (place for group in groups.values() for place in sorted(_places(group))[1:2])
    second = min(again, default=None)
    differ = len(craft.settings.contested)
    return Fires(
        f"{len(groups)} settings are stated more than once, {differ} of them with different "
        "values: two dumps seem to stand in one file"
        + (f", the second from about line {second.line} on." if second else "."),
        tuple(_setting(craft, path) for path in list(groups)[:_NAMED]),
        (("settings", float(len(groups))), ("different", float(differ))),
        advice="Put each into a file of its own, and audit it alone.",
        level=Level.ERROR if differ else Level.WARNING,
        places=() if second is None else (second,),
    )


def _setting(craft: Craft, path: str) -> str:
    """The setting that a path names; for a part of a list's element, the list."""
    whole = path.partition("[")[0]
    above = whole.rpartition(".")[0]
    return above if whole not in craft.settings and above in craft.settings else whole


def _told(stated: Stated, with_file: bool) -> str:
    """A value and its line, with its file where there are several; a secret value stays hidden."""
    found = declared(stated.path)
    if _is_secret(stated):
        value = "a hidden value"
    elif found is not None:
        value = found.kind.spell(stated.value)
    else:
        value = stated.text
    if not stated.place:
        return readable(value)
    file = f"{readable(stated.place.file)} " if with_file else ""
    return f"{readable(value)} ({file}line {stated.place.line})"


@rule("dump/unknown-setting", Level.NOTE)
def unknown_setting(craft: Craft) -> Iterator[Yielded]:
    """Keys that the dialect does not know: a spelling mistake, or a setting outside its scope.

    A warning in the plain form, where the nearest key is one of safety that is stated nowhere.

    In the air: a setting with its key misspelt stays at its old or factory value.
    Mend: compare the key with the nearest known one.
    Source: common practice.
    """
    _need_lines(craft)
    told_apart = {raw.key for raw in craft.settings.unclear.values()}  # words-not-understood
    unknown = (raw for raw in craft.settings.raw.values() if not raw.known)
    for group in _by_file(raw for raw in unknown if raw.key not in told_apart):
        named = [_key_and_nearest(craft, raw) for raw in group[:_NAMED]]
        keys = f"{_count(group, 'key')} {'is' if len(group) == 1 else 'are'}"
        told = "" if _is_plain_form(craft) else f" {_NEW_IN_IT}"
        if not told and any(map(_is_below_a_head, group)):
            told = " Whole paths belong above the first section's head."
        yield Fires(
            f"{keys} not known: {_some(named, len(group))}.",
            (),
            (("keys", len(group)),),
            advice=f"Compare the keys with the nearest known ones.{told}",
            level=Level.WARNING if any(_hides_safety(craft, raw) for raw in group) else None,
            places=_places(group[:_NAMED]),
        )


@rule("dump/words-not-understood", Level.NOTE)
def words_not_understood(craft: Craft) -> Iterator[Yielded]:
    """A line is one of the dialect's but for words: what it says of a setting is not known.

    A warning where it would state what the craft flies or stops by, or its power.

    In the air: nothing was judged that hangs on it; whatever the line says holds.
    Mend: compare the line with the dialect's; teach the dialect its words, or correct them.
    Source: common practice.
    """
    _need_lines(craft)
    lines: dict[str, tuple[Raw, list[str]]] = {}
    for path, raw in craft.settings.unclear.items():
        lines.setdefault(raw.key, (raw, []))[1].append(path)
    for raw, paths in lines.values():
        found = [own for path in paths if (own := declared(path)) is not None]
        grave = any(own.cls in (Class.SAFETY, Class.POWER) for own in found)
        yield Fires(
            f"What {readable(raw.key)} says is not understood: it would state "
            f"{_some(paths[:_NAMED], len(paths))}.",
            tuple(paths[:_NAMED]),
            (("settings", len(paths)),),
            advice="Look what the line says. If it is right, the dialect lacks its words: "
            "`cfgaudit dialect teach` asks for them.",
            level=Level.WARNING if grave else None,
            places=(raw.place,) if raw.place else (),
        )


def _hides_safety(craft: Craft, raw: Raw) -> bool:
    """Whether a key of the plain form is nearly that of a setting of safety that is not stated."""
    if not _is_plain_form(craft):
        return False
    near = _nearest_path(raw)
    found = declared(near) if near else None
    grave = found is not None and found.cls in _GRAVE
    return grave and (near not in craft.settings.stated or _is_below_a_head(raw))


def _nearest_path(raw: Raw) -> str:
    """The setting that a key of the plain form was meant for, as far as that can be told."""
    if _is_below_a_head(raw):
        return raw.key.rpartition("/")[2]
    return next(iter(nearest(raw.key.replace("/", "."))), "")


def _is_below_a_head(raw: Raw) -> bool:
    """Whether a whole path stands below a section's head, to which it would be added."""
    head, _, own = raw.key.rpartition("/")
    return bool(head) and "." in own and declared(own) is not None


_NEW_IN_IT: Final = (
    "What is new belongs into the dialect; one that `cfgaudit dialect teach` wrote it goes on "
    "with: `cfgaudit dialect teach DUMP --output FILE`."
)


def _key_and_nearest(craft: Craft, raw: Raw) -> str:
    near = raw.near
    if not near and _is_plain_form(craft):  # there the keys are neutral paths
        near = _nearest_path(raw)
    other = near and readable(near) != readable(raw.key)  # its first words may be a known key
    return readable(raw.key) + (f" (nearest: {readable(near)})" if other else "")


@rule("dump/value-impossible", Level.ERROR)
def value_impossible(craft: Craft) -> Iterator[Yielded]:
    """A value is out of its setting's range, or not of its kind.

    Or the dialect does not know it: a word that it lacks, another scale. A warning where the
    dialect's list of words has not all of ours either, and for what is for comfort, such as the
    camera's standard.

    In the air: the firmware may clamp it, refuse it or take it for something else.
    Mend: correct the value, or the dialect that reads it.
    Source: the vocabulary's limits; common practice.
    """
    _need_settings(craft)
    advice = "Correct the value." if _is_plain_form(craft) else _OR_THE_DIALECT
    mends = {TroubleKind.IMPOSSIBLE: advice, TroubleKind.NOT_LISTED: _ADD_THE_WORD}
    for trouble in craft.settings.troubles:
        if trouble.kind not in mends:
            continue
        known = declared(trouble.path)
        light = known is not None and known.cls in (Class.COMFORT, Class.IDENTITY)
        light = light or trouble.kind is TroubleKind.NOT_LISTED
        found = _fires(trouble, mends[trouble.kind])
        yield found._replace(level=Level.WARNING if light else None)


_OR_THE_DIALECT = (
    "Correct the value; if it is the firmware's own, the dialect lacks that word, or takes the "
    "number for another one: put it right there."
)
_ADD_THE_WORD = (
    "Look up what the firmware means by it. If it is right, the dialect lacks that word: add it to "
    "the dialect's list; nothing says then that the craft is set wrong."
)


def _is_plain_form(craft: Craft) -> bool:
    """Whether it is written in neutral paths, which no dialect reads."""
    return any(facts.dialect == "plain" for facts in craft.settings.dumps)


@rule("dump/unit-suspect", Level.WARNING)
def unit_suspect(craft: Craft) -> Iterator[Yielded]:
    """A value fits its setting only if its unit is off by a power of ten.

    Either a decimal point moved in the dump, or its dialect takes the unit for another one. An
    error for what safety or the pack hangs on: nothing that looks at it could.

    In the air: a threshold ten times off never warns, or always.
    Mend: put the decimal point right, or the unit in the dialect.
    Source: the vocabulary's limits; common practice.
    """
    _need_settings(craft)
    for trouble in _of_kind(craft, TroubleKind.UNIT):
        known = declared(trouble.path)
        grave = known is not None and known.cls in _GRAVE
        found = _fires(
            trouble,
            f"Look whether its decimal point moved{_first_that_fits(trouble)}, and put it right; "
            "if the dump is right, the dialect has another unit than the firmware: put that right.",
        )
        yield found._replace(level=Level.ERROR if grave else None)


def _first_that_fits(trouble: Trouble) -> str:
    """What a number would be with its point moved as far as it must, and further; no list's.

    The first that fits is not always the one that was meant: of an idle of 550 % it is 55, and 5.5
    is flown.
    """
    value, known = dict(trouble.figures).get("value"), declared(trouble.path)
    if value is None or known is None:
        return ""
    power = known.kind.likely_power(value)
    further = power - 1 if power < 0 else power + 1
    fits = [number_text(round(value * 10.0**by, 6)) for by in (power, further)]
    return f" ({fits[0]} fits, and so may {fits[1]}: an older dump tells which was meant)"


@rule("dump/unsafe-text", Level.WARNING)
def unsafe_text(craft: Craft) -> Iterator[Yielded]:
    """A text holds control, bidirectional or escape characters.

    In the air: nothing; but on a screen the dump may look other than it is, or drive the
    terminal that shows it.
    Mend: write the text anew with letters alone.
    Source: Unicode UTS 39 and CVE-2021-42574 for the bidirectional marks (published).
    """
    _need_lines(craft)
    seen: set[tuple[str, int]] = set()
    settings = craft.settings
    if _is_plain(settings):
        return
    for path, stated in settings.stated.items():
        letters = unsafe_letters(_texts(stated))
        if letters:
            seen |= _lines([stated.place])
            yield _unsafe(path, letters, (path,), stated.place)
    for raw in settings.raw.values():
        letters = unsafe_letters((raw.key, raw.value))
        if letters:
            seen |= _lines([raw.place])
            yield _unsafe(readable(raw.key), letters, (), raw.place)
    unread = [
        trouble
        for trouble in _of_kind(craft, TroubleKind.UNSAFE)
        if not _lines([trouble.place]) & seen
    ]
    for group in _by_file(unread):
        yield _unsafe_lines(group)


def _is_plain(settings: Settings) -> bool:
    """Whether no text at all holds more than printable ASCII, as in most dumps: one look tells."""
    values = [stated.value for stated in settings.stated.values()]
    texts = [value for value in values if isinstance(value, str)]
    texts += [text for value in values if isinstance(value, frozenset) for text in value]
    texts += [text for raw in settings.raw.values() for text in raw[:2]]  # key and value
    whole = "".join(texts)
    unsafe = any(trouble.kind is TroubleKind.UNSAFE for trouble in settings.troubles)
    return whole.isascii() and whole.isprintable() and not unsafe


def _unsafe_lines(troubles: list[Trouble]) -> Fires:
    """Lines of one file that are not read for the characters in them."""
    count = len(troubles)
    lines = "A line that can't be read holds" if count == 1 else f"{count:,} lines hold"
    names = list(dict.fromkeys(name for t in troubles for name in t.message.split(", ")))
    return Fires(
        f"{lines} unsafe characters: {_some(names[:_NAMED], len(names))}.",
        (),
        (("lines", count),),
        advice="Write the lines anew, with letters alone.",
        places=_places(troubles[:_NAMED]),
    )


def _texts(stated: Stated) -> tuple[str, ...]:
    if isinstance(stated.value, str):
        return (stated.value,)
    return tuple(sorted(stated.value)) if isinstance(stated.value, frozenset) else ()


def _unsafe(name: str, letters: str, paths: tuple[str, ...], place: Place | None) -> Fires:
    many = "an unsafe character" if len(letters) == 1 else f"{len(letters):,} unsafe characters"
    return Fires(
        f"The text of {name} holds {many}: {unsafe_names(letters)}.",
        paths,
        (("characters", len(letters)),),
        advice="Write the text anew, with letters alone.",
        places=(place,) if place else (),
    )


@rule("dump/secret-present", Level.NOTE)
def secret_present(craft: Craft) -> Iterator[Yielded]:
    """The dump tells whose the craft is, its serial number or where home is.

    No audit can know which dump will be passed on, so this is said of every one that tells it.

    In the air: nothing; but a dump that is posted or put under version control tells strangers
    whose craft it is, and where it is kept.
    Mend: keep this dump to yourself, and pass on one in which these values are hidden.
    Source: common practice.
    """
    _need_settings(craft)
    settings = craft.settings
    told = [
        path
        for path, stated in settings.stated.items()
        if stated.value not in ("", HIDDEN) and _is_secret(stated)
    ]
    # a line that says more than that its values are hidden
    own = [r for r in settings.raw.values() if r.secret and r.value.replace(HIDDEN, "").strip()]
    names = [*told, *(readable(raw.key) for raw in own)]
    count = len(names)
    if names:
        some = listed(names) if count <= _NAMED else _some(names, count)
        yield Fires(
            f"The dump tells {some}: hide {'it' if count == 1 else 'them'} before it is passed on.",
            tuple(told),
            (("secrets", float(count)),),
            advice=f"Pass on a copy with {HIDDEN} in place of each value.",
            places=_places(own[:_NAMED]),
        )


def _is_secret(stated: Stated) -> bool:
    found = declared(stated.path)
    return stated.secret or (found is not None and found.traits.secret)


def _of_kind(craft: Craft, kind: TroubleKind) -> list[Trouble]:
    return [trouble for trouble in craft.settings.troubles if trouble.kind is kind]


def _fires(trouble: Trouble, advice: str) -> Fires:
    """One trouble as a finding, under its path where it has one."""
    message = _reason(trouble)
    return Fires(
        f"{trouble.path}: {message}." if trouble.path else f"{message[:1].upper()}{message[1:]}.",
        _paths([trouble]),
        trouble.figures,
        advice=advice,
        places=_places([trouble]),
    )


def _by_file(lines: Iterable[L]) -> Iterable[list[L]]:
    return in_groups(lines, lambda line: line.place.file if line.place else "").values()


def _reasons(troubles: list[Trouble]) -> str:
    """Each reason once. Line numbers stay out: with them a finding would not be known again."""
    reasons = list(dict.fromkeys(map(_reason, troubles)))
    return _some(reasons[:_NAMED], len(reasons))


def _reason(trouble: Trouble) -> str:
    return readable(trouble.message).removeprefix("can't be read: ").rstrip(".")


def _paths(troubles: Iterable[Trouble]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(trouble.path for trouble in troubles if trouble.path))


def _places(lines: Iterable[Raw | Stated | Trouble]) -> tuple[Place, ...]:
    return tuple(line.place for line in lines if line.place)


def _lines(places: Iterable[Place | None]) -> set[tuple[str, int]]:
    return {(place.file, place.line) for place in places if place}


def _count(members: Collection[object], what: str) -> str:
    """`1 line`, `1,234 lines`."""
    return f"{len(members):,} {what}{'s' * (len(members) != 1)}"


def _some(names: list[str], count: int) -> str:
    """The first few of `count` names, and how many more there are."""
    more = count - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more:,} more" if more > 0 else "")


RULES = (
    identity_missing,
    truncated,
    incomplete,
    unread,
    merge_unfinished,
    said_twice,
    unknown_setting,
    words_not_understood,
    value_impossible,
    unit_suspect,
    unsafe_text,
    secret_present,
)

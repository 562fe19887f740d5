"""Makes a dialect's mapping lines and word lists of proposals: active where they are sure."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import NamedTuple

from cfgaudit.reading.shapes import Assignment, Directive, Opener, Section, unquoted
from cfgaudit.teach.fit import HIDDEN_ROW, NO_SWITCH, Goal, is_part
from cfgaudit.teach.indices import HOLE
from cfgaudit.teach.keys import Family
from cfgaudit.teach.labels import NOTHING
from cfgaudit.teach.measures import unit_of
from cfgaudit.teach.propose import Candidate, Proposal, signs_of, yaw_sign
from cfgaudit.teach.scoped import LIST_ITEM
from cfgaudit.teach.scopes import OFF_VERBS, VERBS
from cfgaudit.teach.words import arms_of, chunks, ideas_of, is_word, root, tokens
from cfgaudit.vocabulary.kinds import Bool, Either, Quantities, Quantity, Words, WordSet
from cfgaudit.vocabulary.paths import declared

_NAMES = {
    "ARM": "arms", "AXIS": "axes", "CONTROL": "controls", "FUNCTION": "functions",
    "NAME": "elements", "N": "banks", "SLOT": "slots", "BAND": "bands",
}  # fmt: skip


@dataclass
class WordTables:
    """Lists by name; those asked for grow by what is new, unless they contradict themselves."""

    lists: dict[str, dict[str, str]] = field(default_factory=dict)
    flags: dict[str, dict[str, int]] = field(default_factory=dict)

    def names(self, index: str, target: str, words: Mapping[str, str]) -> str:
        """The name of the list of an index's words."""
        name = target.split(".")[0] if index == "ID" else _NAMES.get(index, index.lower())
        return self.put(name, words, once=True)

    def values(self, target: str, words: Mapping[str, str]) -> str:
        """The name of the list of a setting's words: all motors have one."""
        own = declared(target)
        target = own.pattern if own is not None else target
        parts = [p for p in target.replace("[", ".").replace("]", "").split(".") if p.islower()]
        return self.put("_".join(parts[-2:]), {unquoted(t): ours for t, ours in words.items()})

    def bits(self, target: str, bits: Mapping[str, int]) -> str:
        """The name of the table of a setting's flags."""
        name = target.split(".")[-1]
        self.flags.setdefault(name, {}).update(bits)
        return name

    def put(self, name: str, words: Mapping[str, str], *, once: bool = False) -> str:
        """The name of the list that has these words: this one, or one like it with a number.

        With `once` no two words of it may mean the same, as 1 and `front-left` would in `motor 1 at
        front-left`: one alone is written back.
        """
        number, free = 1, name
        while not self._agree(self.lists.get(free, {}), words) or (
            once and self._says_otherwise(self.lists.get(free, {}), words)
        ):
            number += 1
            free = f"{name}_{number}"
        self.lists.setdefault(free, {}).update(words)
        return free

    @staticmethod
    def _says_otherwise(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
        """Whether a list has other words for the same."""
        ours = {meant: word for word, meant in one.items()}
        return any(ours.get(meant, word) != word for word, meant in other.items())

    @staticmethod
    def _agree(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
        return all(one.get(word, ours) == ours for word, ours in other.items())


SURE = 0.85
_BOTH_WORDS = 2.0  # points of a key that says the setting's own word and what it is of
_AMONG_ITS_OWN = 0.5  # points for neighbours that are of the same group


@dataclass
class Mapped:
    """One family's mapping: its lines, each with the context lines above, whether they work."""

    family: Family
    proposals: list[Proposal]
    entries: list[tuple[tuple[str, ...], str]] = field(default_factory=list)
    active: bool = False

    @property
    def lines(self) -> list[str]:
        """The mapping lines."""
        return [line for _, line in self.entries]


def mapped_families(
    proposals: Sequence[Proposal], tables: WordTables, sure: float = SURE
) -> list[Mapped]:
    """A mapping for each family, in the order of the dump."""
    spins = _spins(proposals, sure)
    grouped: dict[int, Mapped] = {}
    for made in proposals:
        grouped.setdefault(id(made.family), Mapped(made.family, [])).proposals.append(made)
    found = list(grouped.values())
    whole = _whole_elements(proposals, sure)
    for mapped in found:
        _make(mapped, tables, spins, whole)
    for mapped in found:
        mapped.active = mapped.active and not _is_one_of_a_row(mapped, found)
        mapped.active = mapped.active and not _contradicts_itself(mapped)
    _whole_lists(found)
    return found


def _whole_lists(found: Sequence[Mapped]) -> None:
    """A list is read whole or not: none of it where a line that likely is of it is not read."""
    idle = {
        made.candidates[0].goal.target.partition("[")[0]
        for mapped in found
        if not mapped.active
        for made in mapped.proposals
        if made.candidates and made.sure >= _LIKELY and _tells_of_list(made)
    }
    for mapped in found:
        own = [made.chosen.goal.target for made in mapped.proposals if made.chosen]
        part = any("[" in path and path.partition("[")[0] in idle for path in own)
        mapped.active = mapped.active and (is_told(mapped) or not part)


_LIKELY = 0.4


def _tells_of_list(made: Proposal) -> bool:
    """Whether its likeliest setting is an element's, and it says more than nothing."""
    target = made.candidates[0].goal.target
    said = any(sample.text.strip("0.") for sample in made.seen.samples)
    return target.startswith("filters.") and "[" in target and said


def _contradicts_itself(mapped: Mapped) -> bool:
    """Whether lines of a family would say a setting in two ways, and none tells which is so."""
    values: dict[tuple[str, str], set[str]] = {}
    for made in mapped.proposals:
        for sample in made.seen.samples if made.chosen and not made.told else ():
            assert made.chosen is not None
            path = made.chosen.path(sample)
            own = declared(path)
            if own is not None and not isinstance(own.kind, Quantities):
                values.setdefault((sample.place.file, path), set()).add(sample.text)
    return any(len(texts) > 1 for texts in values.values())


def _is_one_of_a_row(mapped: Mapped, found: Sequence[Mapped]) -> bool:
    """Whether lines tell of the one port that has a name, and their like of others say nothing.

    Or of slots of a list, and others of the same key say nothing: `filter 1 pt1 100`, `filter 2
    notch 180 q 3`. A row that is read in part would be judged as all that there is.
    """
    goals = [made.chosen.goal for made in mapped.proposals if made.chosen]
    family, own = mapped.family, _head_words(mapped.family)
    if is_told(mapped):
        return False
    idle = [
        other
        for other in found
        if not other.active
        and [id(kin) for kin in other.family.chain] == [id(kin) for kin in family.chain]
    ]
    if any("[" in goal.target for goal in goals):
        return any(
            _head_words(other.family) == own or _differ_in_a_letter(other.family, family)
            for other in idle
        )
    return "usb" in {goal.spelled for goal in goals} and any(
        len(theirs := _head_words(other.family)) == len(own)
        and [mine for mine, his in zip(own, theirs, strict=True) if mine != his] == ["usb"]
        for other in idle
    )


def _differ_in_a_letter(one: Family, other: Family) -> bool:
    """Whether two keys differ in a letter or a number alone: `d_soft_a_hz`, `d_soft_b_hz`."""
    mine, theirs = (re.split(r"[\W_]+", family.head) for family in (one, other))
    odd = [pair for pair in zip(mine, theirs, strict=False) if pair[0] != pair[1]]
    return len(mine) == len(theirs) and len(odd) == 1 and max(map(len, odd[0])) == 1


def _head_words(family: Family) -> list[str]:
    return [word.casefold() for word in re.findall(r"\w+", family.head)]


def is_sure(made: Proposal, sure: float = SURE) -> bool:
    """Whether a proposal may be put to work as it is."""
    chosen = made.chosen
    return (
        chosen is not None
        and (made.told or made.sure >= sure)
        and (made.told or not chosen.fit.lacks)
        and (
            made.told
            or (_fits(chosen) and (is_told_by_words(chosen) or _is_told_by_unit(made, chosen)))
        )
        and all(match.sure for _, _, match in chosen.matches)
    )


def _is_told_by_unit(made: Proposal, chosen: Candidate) -> bool:
    """Whether it is a number of bauds: nothing but a port's rate is told in these."""
    kind, said = chosen.goal.kind, unit_of(made.seen.unit)
    return isinstance(kind, Quantity) and said is not None and said.unit == kind.unit == "Bd"


def _are_its_words(chosen: Candidate) -> bool:
    """Whether words stand there that are its choices, several or a telling one; the key agrees."""
    kind = chosen.goal.kind
    named = isinstance(kind, Words | WordSet) and not isinstance(kind, Bool)
    told = len(chosen.fit.words) >= 2 or chosen.fit.points >= _TELLING
    return named and told and not chosen.fit.lacks and chosen.alike >= 0.8


_TELLING = 1.4  # points of a word that hardly another setting is set to


def _fits(chosen: Candidate) -> bool:
    """Whether the values don't speak against it, or the key says just what the setting is."""
    said = chosen.alike >= 3.5 and chosen.explained >= 0.9
    return chosen.fit.points > (-1.6 if said else -0.6)


def is_told(mapped: "Mapped") -> bool:
    """Whether the builder told what some of the family's fields are."""
    return any(made.told for made in mapped.proposals)


def is_told_by_words(chosen: Candidate) -> bool:
    """Whether the key's words, or those of its values, tell of the setting and of nothing else."""
    if chosen.goal.target in ("pads.ID.timer", "pads.ID.dma"):  # any short word may be either
        return chosen.alike >= _BOTH_WORDS
    if chosen.goal.joins == "CONTROL":  # the sticks are its values, each once
        return chosen.alike > 0
    if chosen.fit.coded >= 2 and chosen.near >= _AMONG_ITS_OWN:
        return True  # a remark lists its very choices
    if chosen.fit.spec == "words" and chosen.near >= 0.8 and _are_its_words(chosen):
        return True
    if isinstance(chosen.goal.kind, Bool) and chosen.fit.points < 0:  # 0 and 1 may be numbers
        return chosen.explained >= 0.6
    return (chosen.alike >= 1.0 and chosen.explained >= 0.4) or chosen.explained >= 0.6


def _spins(proposals: Sequence[Proposal], sure: float) -> dict[str, str]:
    """Which way each arm's motor turns, where that was found."""
    for made in proposals:
        chosen = made.chosen
        if chosen is not None and chosen.goal.target == "motors.ARM.spin" and is_sure(made, sure):
            ours = dict(chosen.fit.words)
            return {chosen.path(s).split(".")[1]: ours.get(s.text, "") for s in made.seen.samples}
    return {}


_NEEDED = {
    "switches": frozenset({"channel", "low", "high"}),
    "filters": frozenset({"kind", "cutoff"}),
}


# Sure proposals, each with the functions that are not to be told.
WholeElements = Mapping[int, frozenset[str]]


def _whole_elements(proposals: Sequence[Proposal], sure: float) -> WholeElements:
    """The sure proposals, without parts of elements of which another part is not sure.

    Half of an element says nothing. Where that is so of a few functions alone, and each has its
    own lines, theirs are left out: one with two ranges, `900us to 1250us, 1400us to 1600us`.
    """
    found = [made for made in proposals if is_sure(made, sure)]
    parts: dict[tuple[str, str], set[str]] = {}
    for made in found:
        chosen = made.chosen
        if chosen is not None and is_part(chosen.goal):
            for sample in made.seen.samples:
                above, _, part = _plain_part(chosen.path(sample), made.family).rpartition(".")
                parts.setdefault((above, ""), set()).add(part)
    kept: dict[int, frozenset[str]] = {}
    for made in found:
        chosen = made.chosen
        assert chosen is not None  # those that are sure have one
        lacking: frozenset[str] = frozenset()
        if is_part(chosen.goal):
            need = _NEEDED[chosen.goal.target.split(".")[0]]
            lists = [
                _plain_part(chosen.path(s), made.family).rpartition(".")[0]
                for s in made.seen.samples
                if s.text.casefold() not in NOTHING  # a function that no channel switches
            ]
            known = [path for path in lists if not path.endswith(".")]  # of a word that is known
            lacking = frozenset(path for path in known if not need <= parts[(path, "")])
            own_lines = any(_is_spelled(made.family, chosen.goal, *m[:2]) for m in chosen.matches)
            if not known or len(lacking) > (_MOST_LACKING * len(set(known)) if own_lines else 0):
                continue
        kept[id(made)] = lacking
    return kept


_MOST_LACKING = 0.25  # of the functions


def _plain_part(path: str, family: Family) -> str:
    return path.replace("[]", f"[{slot_label(family)}]")


class _Index(NamedTuple):
    """How one index is written: the placeholder, or the words that it is written out as."""

    name: str  # our index; empty where the word is taken as it stands
    holder: str
    spelled: tuple[tuple[str, str], ...]  # their word, ours; empty for a placeholder


def _make(
    mapped: Mapped, tables: WordTables, spins: Mapping[str, str], whole: WholeElements
) -> None:
    family = mapped.family
    sure = [made for made in mapped.proposals if id(made) in whole]
    used: list[tuple[Proposal, str]] = []
    leading = max(sure, key=lambda made: (made.told, made.sure), default=None)
    for made in sure:
        assert made.chosen is not None
        assert leading is not None
        assert leading.chosen is not None
        if _ways(made.chosen) != _ways(leading.chosen):
            continue
        text = _placeholder(mapped, made, tables, spins)
        if text:
            used.append((made, text))
    if not used or any("{" in text or "}" in text for text in _literals(family)):
        return  # a head with a brace is no head
    first = used[0][0].chosen
    assert first is not None  # those that are sure have one
    indices = [_index(family, first, depth, tables) for depth in range(len(family.indices))]
    spelled = [index.spelled or (("", ""),) for index in indices]
    for words in product(*spelled):
        texts = [
            theirs if index.spelled else index.holder
            for index, (theirs, _) in zip(indices, words, strict=True)
        ]
        names = {
            index.name: ours
            for index, (_, ours) in zip(indices, words, strict=True)
            if index.spelled and index.name
        }
        under = _under(family, texts)
        half = any(f"switches.{names.get('FUNCTION')}" in whole[id(made)] for made, _ in used)
        lines = [] if half else list(_lines(family, used, texts, names))
        said = list(_word_lines(used, lines, names))
        lines = [] if said and _stand_for_words(used) else lines
        said += _motors_of_pads(family, used, lines, tables)
        for made, text in used:
            if made.chosen and made.chosen.goal.joins:
                joint = _joint(made.chosen.goal, names)
                lines = [f"{line}{joint}" if text in line else line for line in lines]
            if made.chosen and HIDDEN_ROW in dict(made.chosen.fit.stands).values():
                shown = _sibling(_named(text, names), HIDDEN_ROW.replace("off", "on"))
                lines = [f"{line}{shown}" for line in lines]
        for line in (*said, *lines):
            mapped.entries.append((under, line))
    mapped.active = bool(mapped.entries)


def _motors_of_pads(
    family: Family, used: Sequence[tuple[Proposal, str]], lines: Sequence[str], tables: WordTables
) -> Iterator[str]:
    """Lines of pads for a motor, where another word tells which: `use motor arm front_left`."""
    for made, holder in used:
        words = dict(made.chosen.fit.words) if made.chosen else {}
        theirs = next((text for text, ours in words.items() if ours == "motor"), "")
        if not theirs or not made.chosen or made.chosen.goal.target != "pads.ID.use":
            continue
        for other in family.fields:
            texts = list(dict.fromkeys(sample.text for sample in other.samples))
            arms = arms_of(texts)
            label = f" {other.names[0]} *" if other.names else ""
            if other is made.seen or len(arms) < len(texts) or len(texts) < _FEWEST_ARMS:
                continue
            which = f"{{ARM: words {tables.names('ARM', 'pads.ID.use', arms)}}}"
            for line in lines:
                bare = re.sub(r"(?<= )\[(?=[^\]]*\]$)|\]$", "", line)
                if holder in line and label in bare:
                    own = bare.replace(holder, theirs).replace(label, f"{label[:-1]}{which}")
                    yield f"{own} {{pads.ID.use = motor ARM}}"


_FEWEST_ARMS = 3


def _stand_for_words(used: Sequence[tuple[Proposal, str]]) -> bool:
    """Whether no text of the one field says a number: each stands for a word."""
    ((made, _), *others) = used
    stands = dict(made.chosen.fit.stands) if made.chosen else {}
    return not others and all(sample.text in stands for sample in made.seen.samples)


def _word_lines(
    used: Sequence[tuple[Proposal, str]], lines: Sequence[str], names: Mapping[str, str]
) -> Iterator[str]:
    """Lines for texts that stand for a word where others are numbers."""
    for made, text in used:
        chosen = made.chosen
        assert chosen is not None  # it is used
        holder = _named(text, names)
        target = re.split(r"[:}]", holder.strip("{"), maxsplit=1)[0]
        if chosen.goal.joins == "CONTROL":
            yield from _channel_of_signal(chosen, lines, holder)
        for theirs, ours in () if made.family.ways else chosen.fit.stands:
            for line in lines:
                if holder in line and ours == NO_SWITCH:
                    rest = re.sub(r"\{switches\.[^}]*\}[a-z]*", "*", line.replace(holder, theirs))
                    function = target.rpartition(".")[0]
                    yield f"{rest} {{{function} = none}}" if "{" in line else line
                elif holder in line and ours == HIDDEN_ROW:
                    yield f"{line.replace(holder, theirs)}{_sibling(holder, ours)}"
                elif holder in line:
                    yield f"{line.replace(holder, theirs)} {{{target} = {ours}}}"


def _channel_of_signal(chosen: Candidate, lines: Sequence[str], holder: str) -> Iterator[str]:
    """The row of the channel that carries no control, but how strong the radio is received."""
    for theirs, ours in chosen.fit.words:
        if ours.startswith("spare") and ideas_of(tokens(theirs)[-1]).get("strength", 0.0) >= 0.7:
            for line in lines:
                yield re.sub(r"\{N[^}]*\}", f"{{{_SIGNAL}}}", line.replace(holder, theirs))


_SIGNAL = "receiver.signal_channel"


def _sibling(holder: str, says: str) -> str:
    """What a line states of another part of the same thing: `{overlay.elements.N.shown = on}`."""
    target = re.split(r"[:}]", holder.strip("{"), maxsplit=1)[0]
    return f"{{{target.rpartition('.')[0]}.{says}}}"


def _joint(goal: Goal, names: Mapping[str, str]) -> str:
    """What a line states by an index that its value is: `{pads.ID.use = motor ARM}`."""
    arm = names.get("ARM", "ARM")
    return f" {{{goal.target} = {goal.joined.replace('ARM', arm)}}}"


def _ways(chosen: Candidate) -> list[tuple[str, int]]:
    return [match[:2] for match in chosen.matches]


def _literals(family: Family) -> list[str]:
    return [
        "" if family.ways else family.head,  # a sentence may be a block
        family.tail,
        *(kin.line.removesuffix("{") for kin in family.chain),
    ]


def _index(family: Family, chosen: Candidate, depth: int, tables: WordTables) -> _Index:
    """How one of the family's indices is written."""
    words = family.indices[depth]
    entry = next((entry for entry in chosen.matches if entry[1] == depth), None)
    if entry is None:  # the only word that stands there
        return _Index("", "", ((words[0], words[0]),))
    index, _, match = entry
    clear = {word: mine for word, mine in match.words.items() if word not in match.unclear}
    ours = {w: chosen.ours(index, match, w) for w in words if w not in match.unclear}
    if _is_spelled(family, chosen.goal, index, depth):
        known = tuple((word, mine) for word, mine in ours.items() if mine)
        return _Index(index, "", known)
    if clear:
        name = tables.names(index, chosen.goal.target, clear)
        return _Index(index, f"{{{index}: words {name}}}", ())
    titles = [kin for kin in family.chain for _ in range(kin.line.count(HOLE))][depth : depth + 1]
    free = titles and titles[0].form not in (Section, Opener) and titles[0].line.startswith(HOLE)
    if free:  # else it would take every title
        name = tables.names(index, chosen.goal.target, ours)
        return _Index(index, f"{{{index}: words {name}}}", ())
    holder = f"{{{index}: from {match.base}}}" if match.base != 1 else f"{{{index}}}"
    return _Index(index, holder, ())


def _is_spelled(family: Family, goal: Goal, index: str, depth: int) -> bool:
    """Whether each word of an index has lines of its own."""
    return goal.spelled_out(index) or _must_spell(family, depth, family.indices[depth])


def holes_above(family: Family) -> int:
    """How many indices the contexts of a family hold."""
    return sum(kin.line.count(HOLE) for kin in family.chain)


def _must_spell(family: Family, depth: int, words: Sequence[str]) -> bool:
    """Whether a placeholder could not take the words of an index: they are written out."""
    if any(" " in word for word in words):
        return True
    inner = depth - holes_above(family)
    if inner < 0:
        return False
    pieces = family.head.split(HOLE)
    if inner + 1 >= len(pieces):
        return False
    behind = pieces[inner + 1]
    if not behind:
        return inner + 2 < len(pieces)  # another index right behind
    word = behind.split(" ")[0]
    return bool(word) and any(word in text for text in words)


def _goals_of(mapped: Mapped) -> list[Goal]:
    return [made.chosen.goal for made in mapped.proposals if made.chosen]


def _placeholder(
    mapped: Mapped, made: Proposal, tables: WordTables, spins: Mapping[str, str]
) -> str:
    """The placeholder for a field, or nothing where its specification can't be told after all."""
    chosen = made.chosen
    assert chosen is not None  # those that are sure have one
    if chosen.goal.joins and chosen.fit.words:
        name = tables.names(chosen.goal.joins, chosen.goal.target, dict(chosen.fit.words))
        return f"{{{chosen.goal.joins}: words {name}}}"
    if chosen.goal.joins:
        return f"{{{chosen.goal.joins}}}"
    turned = chosen.fit.turned
    if chosen.goal.target == "motors.ARM.mix.yaw" and not made.told:
        _, depth, match = next(entry for entry in chosen.matches if entry[0] == "ARM")
        told = yaw_sign(signs_of(made.seen, depth, match.words), spins)
        if not told:
            return ""
        turned = told < 0
    spec = chosen.fit.spec
    if spec == "words":
        spec = f"words {tables.values(chosen.goal.target, dict(chosen.fit.words))}"
    elif spec == "bits":
        return "".join(f"{{{target}: bit {bit}}}" for bit, target in chosen.fit.words)
    elif spec == "flags":
        bits = {ours: int(bit) for bit, ours in chosen.fit.words}
        spec = f"flags {tables.bits(chosen.goal.target, bits)}"
    elif turned:
        spec = f"-{spec}" if spec[:1].isdigit() else f"-1 {spec}".rstrip()
    spec = _as_list(made, spec)
    one_line = sum(is_part(m) for m in _goals_of(mapped)) >= 2
    label = "" if one_line else f"[{slot_label(made.family)}]"  # its line tells one from another
    target = chosen.goal.target.replace("[]", label)
    labelled = "[" in target or _on_one_line(made)
    if is_part(chosen.goal) and target.startswith("switches.") and not labelled:
        above, _, part = target.rpartition(".")
        target = f"{above}[{_range_label(made.family)}].{part}"
    return f"{{{target}: {spec}}}" if spec else f"{{{target}}}"


def _as_list(made: Proposal, spec: str) -> str:
    """A spec; for words behind a key of several, which a colon ends, one that takes them all."""
    assert made.chosen is not None  # the caller looked
    family = made.family
    last = family.form is Directive and family.head.endswith(":") and len(family.fields) == 1
    words = isinstance(made.chosen.goal.kind, WordSet) and spec.split(" ")[0] in ("", "words")
    return f"list {spec}".rstrip() if last and words else spec


def _on_one_line(made: Proposal) -> bool:
    """Whether the three parts of a range stand on one line."""
    return len(made.family.fields) >= 3


def _range_label(family: Family) -> str:
    return "only"


def slot_label(family: Family) -> str:
    """What tells one filter from another where no index does: the key but for its last word."""
    head = family.head.replace(HOLE, "_")
    found = chunks(head)
    if len(family.fields) < 2 and len(found) > 1:
        head = head[: found[-1][1]]
    elif len(family.fields) < 2 and family.chain and family.chain[-1].form in (Section, Opener):
        head = ""  # its section tells
    return "".join(c if c.isalnum() else "_" for c in head).strip("_") or "only"


def _under(family: Family, texts: Sequence[str]) -> tuple[str, ...]:
    found: list[str] = []
    depth = 0
    for kin in family.chain:
        line = kin.line
        while HOLE in line:
            line = line.replace(HOLE, texts[depth], 1)
            depth += 1
        found.append(line)
    return tuple(found)


def _lines(
    family: Family,
    used: Sequence[tuple[Proposal, str]],
    texts: Sequence[str],
    names: Mapping[str, str],
) -> Iterator[str]:
    """The lines of a family with its indices written so."""
    own = texts[-1] if family.own_index else ""
    front = f"{family.lead}{family.head}"
    head = re.sub(r"[{}]", lambda sign: f'{{"{sign.group()}"}}', front)
    depth = holes_above(family)
    for text in texts[depth : len(texts) - family.own_index]:
        head = head.replace(HOLE, text, 1)
    by_field = {
        number: _named(text, names)
        for number, seen in enumerate(family.fields)
        for made, text in used
        if made.seen is seen
    }
    if family.form is Directive:
        if not family.ways:
            by_field |= dict(_constants(family, by_field))
        yield from _directive(family, head, own, by_field, used, names, texts)
        return
    if family.form is Assignment:
        sign = " = " if family.sign == "=" else f"{family.sign} "
        yield from _empty_list(family, f"{head}{sign}", used, names)
        shown = _shown(family, used, names, head)
        lines = list(_assignment(family, head, sign, by_field, shown))
        for made, text in used:
            if any(sample.text == "" for sample in made.seen.samples):  # `use: []` in a block
                holder = _named(text, names)
                path = re.split(r"[:}]", holder.strip("{"), maxsplit=1)[0]
                yield from (f"{line.replace(holder, '')} {{{path} = none}}" for line in lines)
        yield from lines
        yield from _off_switch(family, f"{head}{family.sign}", used, names)
        return
    parts = [(name, _filled(template, by_field)) for name, template in family.parts]
    cells = [
        *["*"] * family.before_name,
        own or head,
        *["*"] * family.between_name,
        *(text for _, text in parts),
    ]
    yield family.between.join(cells) + family.tail
    yield from _off_switch(family, f"{own or head}{family.between}", used, names)


def _empty_list(
    family: Family, front: str, used: Sequence[tuple[Proposal, str]], names: Mapping[str, str]
) -> Iterator[str]:
    """The line with nothing between the brackets, where the dump has such a one of a list."""
    target = next((made.chosen.goal.target for made, _ in used if made.chosen), "")
    path = "switches.FUNCTION" if target.startswith("switches.") else target.partition("[")[0]
    kinds = {type(made.chosen.goal.kind) for made, _ in used if made.chosen}
    listed = path != target or kinds <= {WordSet, Quantities}
    template = family.parts[0][1] if len(family.parts) == 1 else ()
    signs = [piece for piece in (*template[:1], *template[-1:]) if isinstance(piece, str)]
    full = {sample.place.line for seen in family.fields for sample in seen.samples}
    if listed and "".join(signs).replace(" ", "") == "[]" and {*family.lines} - full:
        yield f"{front}{escaped(''.join(signs))} {_named(f'{{{path} = none}}', names)}"


def _off_switch(
    family: Family, front: str, used: Sequence[tuple[Proposal, str]], names: Mapping[str, str]
) -> Iterator[str]:
    """The line of a function that no channel switches."""
    first = used[0][0].chosen
    if family.switched_off and first and first.goal.target.startswith("switches."):
        yield f"{front}{family.switched_off}{_named('{switches.FUNCTION = none}', names)}"


def _constants(family: Family, by_field: Mapping[int, str]) -> Iterator[tuple[int, str]]:
    """Words before a placeholder that say no setting, and are the same in each line."""
    last = max(by_field, default=0)
    for number, seen in enumerate(family.fields[:last]):
        texts = {sample.text for sample in seen.samples}
        if number not in by_field and len(texts) == 1 and is_word(min(texts)):
            yield number, min(texts)


def _assignment(
    family: Family, head: str, sign: str, by_field: Mapping[int, str], shown: str
) -> Iterator[str]:
    """The lines of an assignment. A word that no placeholder takes is written out before one."""
    if shown and family.switched_off:
        yield f"{head}{sign}{family.switched_off} {shown.replace('= on', '= off')}"
    ((_, template), *_) = family.parts
    last = max((at for at, piece in enumerate(template) if piece in by_field), default=0)
    idle = [piece for piece in template[:last] if isinstance(piece, int) and piece not in by_field]
    texts = [list(dict.fromkeys(s.text for s in family.fields[n].samples)) for n in idle]
    few = all(len(own) <= _FEW and all(text[:1].isalpha() for text in own) for own in texts)
    for words in product(*texts) if few else ((),):
        said = {**by_field, **{n: escaped(w) for n, w in zip(idle, words, strict=False)}}
        value = _filled(template, said)
        if _readable(value):
            yield f"{head}{sign}{value} {shown}".rstrip()


_FEW = 4  # words of one place that are written out


def _shown(
    family: Family, used: Sequence[tuple[Proposal, str]], names: Mapping[str, str], front: str
) -> str:
    """What a line states besides that has an element's place: it says so, or others say off.

    `front` is what stands before the place.
    """
    parts = {made.chosen.goal.target.rpartition(".")[2] for made, _ in used if made.chosen}
    items = [name for kin in family.chain if LIST_ITEM.fullmatch(kin.line) for name in kin.names]
    words = {*front.split(), *map(root, items)}
    off = not words.isdisjoint(OFF_VERBS)
    says = family.switched_off or off or "shown" in words or not words.isdisjoint(VERBS)
    if not says or parts != {"row", "column"} or len(family.fields) != len(used):
        return ""
    target = used[0][0].chosen.goal.target if used[0][0].chosen else ""
    said = f"{target.rpartition('.')[0]}.shown = {'off' if off else 'on'}"
    return _named(f"{{{said}}}", names)


def _named(text: str, names: Mapping[str, str]) -> str:
    """A placeholder with those of its indices filled in that are written out."""
    found = re.fullmatch(r"(\{[^:= }]+)(.*)", text)
    assert found is not None  # it was made here
    target, rest = found.groups()
    for index, ours in names.items():
        target = re.sub(rf"(?<![A-Za-z_]){index}(?![A-Za-z_])", ours, target, count=1)
    return target + rest


def _readable(value: str) -> bool:
    """Whether an assignment's value can be read: `*` may stand at its end only."""
    return "*" not in value.rstrip("*") and "{" in value


def _filled(template: Sequence[str | int], by_field: Mapping[int, str]) -> str:
    if any(isinstance(p, int) for p in template) and not any(p in by_field for p in template):
        return "*"  # nothing of it is a setting
    return "".join(escaped(p) if isinstance(p, str) else by_field.get(p, "*") for p in template)


def escaped(text: str) -> str:
    """Text of a dump as a mapping line says it: signs with a meaning of their own in quotes."""
    return re.sub(r"[]{}*]", lambda sign: f'{{"{sign.group()}"}}', text)


def _directive(  # noqa: C901 (a sort of line a case)
    family: Family,
    head: str,
    own: str,
    by_field: Mapping[int, str],
    used: Sequence[tuple[Proposal, str]],
    names: Mapping[str, str],
    index: Sequence[str],
) -> Iterator[str]:
    """The lines of a directive: with its values; and, where some are negated, with that before."""
    front = f"{head} {own}".strip()
    before_on = next((text for off, text in family.before if not off), "")
    before_off = next((text for off, text in family.before if off), "")
    if before_off and not before_on:
        before_on = on_before(before_off)
    if before_on and not before_off:
        before_off = off_before(before_on)
    switch = next((made for made, _ in used if made.seen.switch), None)
    if family.ways:
        for way in family.ways:
            yield from _sentence(family, front, way, by_field, used, index)
        first = used[0][0].chosen
        if family.switched_off and first and first.goal.target.startswith("switches."):
            yield f"{front} {family.switched_off} {_named('{switches.FUNCTION = none}', names)}"
        return
    first = used[0][0].chosen
    if family.off_row and first and first.goal.target.startswith("switches."):
        yield f"{front} {family.off_row} {_named('{switches.FUNCTION = none}', names)}"
    element = first is not None and first.goal.target.startswith("overlay.elements.NAME.")
    if family.parts and element and before_on and family.negated:
        for before, says in ((before_on, "on"), (before_off, "off")):  # both have their places
            shown = _named(f"{{overlay.elements.NAME.shown = {says}}}", names)
            whole = _with_values(family, f"{before}{front}", by_field, used, names)
            yield from (f"{line} {shown}" for line in whole)
        return
    if family.parts:
        whole = _with_values(
            family, front if family.bare else f"{before_on}{front}", by_field, used, names
        )
        yield from _with_verb(list(whole), used)
    elif switch is not None and switch.chosen is not None:
        yield f"{before_on}{front} {_constant(switch, True, names)}"
    off = _constant_off(family, switch, used, names)
    if off and (before_off or family.negated):
        yield f"{before_off or 'no '}{front} {off}"


def _with_verb(lines: Sequence[str], used: Sequence[tuple[Proposal, str]]) -> Iterator[str]:
    """Lines with values behind a verb that says on or off, which is a setting of its own.

    `enable telemetry --rate 5` says that telemetry is on; `hide speed at row 3`, beside those that
    are shown, that it is not.
    """
    groups = {made.chosen.goal.target.rpartition(".")[0] for made, _ in used if made.chosen}
    path = f"{min(groups)}.enabled" if len(groups) == 1 else ""
    known = declared(path) is not None and not any(f"{{{path}" in line for line in lines)
    for line in lines:
        verb, _, rest = line.partition(" ")
        if verb in VERBS and "{" not in verb and known:
            yield f"{line} {{{path} = on}}"
            front = re.split(r" --?[a-z]| \{", rest, maxsplit=1)[0]
            yield f"{VERBS[verb]} {front} ... {{{path} = off}}"
            continue
        yield line
        if verb in VERBS and line.endswith(".shown = on}"):
            off = line.removesuffix("= on}") + "= off}"
            yield off.replace(verb, VERBS[verb], 1)


def on_before(off: str) -> str:
    """What stands before a line that is on, where this stands before one that is off."""
    word = off.strip()
    if word in OFF_VERBS:
        return f"{OFF_VERBS[word]} "
    return off.rstrip("!~") if word[-1:] in "!~" else ""


def off_before(on: str) -> str:
    """What stands before a line that is off, where this stands before one that is on."""
    other = VERBS.get(on.strip())
    return f"{other} " if other else f"{on}!"


def _with_values(
    family: Family,
    front: str,
    by_field: Mapping[int, str],
    used: Sequence[tuple[Proposal, str]],
    names: Mapping[str, str],
) -> Iterator[str]:
    for idle in _not_applying(family, used):
        said = {number: "-" if number in idle else text for number, text in by_field.items()}
        left = [one for one in used if all(family.fields[n] is not one[0].seen for n in idle)]
        for widths in _widths(family, said):
            yield from _with_widths(family, front, said, left, names, widths)


def _not_applying(family: Family, used: Sequence[tuple[Proposal, str]]) -> Iterator[frozenset[int]]:
    """The fields that have a dash on a line, where others answer yes or no: it does not apply.

    Each set of such fields that lines have, and none at last.
    """
    flags = [m.seen for m, _ in used if m.chosen and isinstance(m.chosen.goal.kind, Bool)]
    answers = [
        number
        for number, seen in enumerate(family.fields)
        if any(seen is one for one in flags) and len({sample.text for sample in seen.samples}) > 1
    ]
    rows = zip(*([s.text == "-" for s in family.fields[n].samples] for n in answers), strict=False)
    sets = [frozenset(n for n, dash in zip(answers, row, strict=True) if dash) for row in rows]
    yield from dict.fromkeys(one for one in sets if one)
    yield frozenset()


def _widths(family: Family, by_field: Mapping[int, str]) -> Iterator[Mapping[int, int]]:
    """How many words the one value has that no placeholder takes, where that differs: by field."""
    idle = {
        number: sorted({len(sample.text.split()) or 1 for sample in seen.samples})
        for number, seen in enumerate(family.fields)
        if number not in by_field and (number,) in [template for _, template in family.parts]
    }
    several = {number: counts for number, counts in idle.items() if counts[-1] > 1}
    if len(several) != 1:
        yield {}
        return
    ((number, counts),) = several.items()
    yield from ({number: count} for count in counts)


def _with_widths(
    family: Family,
    front: str,
    by_field: Mapping[int, str],
    used: Sequence[tuple[Proposal, str]],
    names: Mapping[str, str],
    widths: Mapping[int, int],
) -> Iterator[str]:
    words: list[str] = []
    for name, template in family.parts:
        text = _filled(template, by_field)
        wide = widths.get(template[0], 1) if isinstance(template[0], int) else 1
        text = " ".join([text] * wide) if text == "*" else text
        words.append(f"{name}{family.sign}{text}" if name else text)
    while words and words[-1].endswith("*"):
        words.pop()
    optional = words[family.required :]
    required = words[: family.required]
    tail = " ..." if len(words) < len(family.parts) or family.more else ""
    for made, text in used:  # words that go over several of the line's are written out
        holder = _named(text, names)
        wide = any(" " in s.text and s.text[0] not in "\"'" for s in made.seen.samples)
        if holder in required and wide:
            at = required.index(holder)
            for theirs, says in _spelled_out(made, holder):
                line = " ".join([front, *required[:at], theirs, *required[at + 1 :]])
                yield f"{line}{_optional(optional)}{tail} {{{says}}}"
            return
    yield from _empty_list(family, f"{front} ", used, names)
    shown = _shown(family, used, names, front)
    if shown and family.switched_off:
        yield f"{front} {family.switched_off} {shown.replace('= on', '= off')}"
    if shown:
        line = f"{' '.join([front, *words])}{tail} {shown}"
    else:
        line = " ".join([front, *required]) + _optional(optional) + tail
    if "{" in " ".join(words):
        yield line


_MOST_WRITTEN_OUT = 12  # texts of one value that no placeholder can take


def _spelled_out(made: Proposal, holder: str) -> Iterator[tuple[str, str]]:
    """Each text of several words that a field has, and what a line states that has it."""
    chosen = made.chosen
    assert chosen is not None  # it is used
    words = dict(chosen.fit.words)
    target = holder.strip("{}").partition(":")[0]
    if chosen.goal.joins == "CONTROL":
        for theirs, ours in words.items():
            yield theirs, f"{chosen.goal.target.replace('CONTROL', ours)} = {chosen.goal.joined}"
    elif isinstance(chosen.goal.kind, WordSet):
        for text in dict.fromkeys(sample.text for sample in made.seen.samples):
            parts = [words.get(part, "") for part in _SET.split(text)]
            if all(parts):
                yield text, f"{target} = {', '.join(parts)}"
    else:
        yield from ((theirs, f"{target} = {ours}") for theirs, ours in words.items())


_SET = re.compile(r" *[,+|] *")


def _sentence(
    family: Family,
    front: str,
    way: Sequence[str | int],
    by_field: Mapping[int, str],
    used: Sequence[tuple[Proposal, str]],
    index: Sequence[str],
) -> Iterator[str]:
    """The lines for one wording of a sentence. What no placeholder can take is written out."""
    chosen = {n: made.chosen for made, _ in used for n, seen in enumerate(family.fields)
              if made.seen is seen and made.chosen}  # fmt: skip
    targets = [one.goal.target for one in chosen.values()]
    listed = any("[" in target or target.startswith("switches.") for target in targets)
    idle = [family.fields[n] for n in way if isinstance(n, int) and n not in chosen]
    if listed and any(seen.numbers for seen in idle):
        return  # the list goes on: `channel 6, 900 to 1200 us and 1201 to 1700 us`
    if idle and any(isinstance(one.goal.kind, WordSet) for one in chosen.values()):
        return  # of `compass, position` the one is not all
    apart = "," not in "".join(piece for piece in way if isinstance(piece, str)) and " " in front
    found: list[tuple[str, str]] = [("", "")]  # a line's text, and what it states besides
    for piece in way:
        options: list[tuple[str, str]]
        if isinstance(piece, str):
            options = [(escaped(piece).replace(HOLE, "".join(index[-1:])), "")]
        elif piece in family.flags:
            holder = by_field.get(piece, "")
            said = "off" if holder and chosen[piece].fit.spec == "not" else "on"
            options = [(family.flags[piece], holder and _set_to(holder, said))]
        else:
            options = _options(family, way, piece, by_field, chosen, index, apart)
        found = [(one + text, two + more) for one, two in found for text, more in options]
    shown = _told_shown(front, way, [by_field[n] for n in chosen])
    if len(found) <= _MOST_WRITTEN_OUT:
        for text, more in found:
            if "{" in f"{text}{more}":
                yield f"{front} {text}{more and ' ' + more}{shown}".lstrip()


def _options(
    family: Family,
    way: Sequence[str | int],
    piece: int,
    by_field: Mapping[int, str],
    chosen: Mapping[int, Candidate],
    index: Sequence[str],
    apart: bool,
) -> list[tuple[str, str]]:
    """How one value of a wording may be written, each with what the line states besides."""
    texts = dict.fromkeys(
        sample.text for sample in family.fields[piece].samples
        if sample.place.line in family.ways[tuple(way)]
        if all(w == at or at[:1] == "{" for w, at in zip(sample.under, index, strict=True))
    )  # fmt: skip
    holder = by_field.get(piece, "")
    if holder and (tuple(way), piece) in family.turned:
        holder = _other_way(holder)
    written = _written_out(chosen[piece], list(texts), apart) if holder else {}
    if holder and apart:  # whatever other wordings have
        seen = dict.fromkeys(sample.text for sample in family.fields[piece].samples)
        written |= {t: o for t, o in chosen[piece].fit.words if t in seen and " " in t}
    options = [(escaped(text), _set_to(holder, said)) for text, said in written.items()]
    if not holder:
        at = way.index(piece)
        labelled = at and f"{way[at - 1]}".endswith((":", "="))
        named = labelled and all(map(_is_figure, texts))
        options = [("*", "")] if named else [(escaped(text), "") for text in texts]
    elif not written.keys() >= texts.keys():
        options.append((holder, ""))
    return options


def _is_figure(text: str) -> bool:
    return re.fullmatch(r"[+-]?\d+(?:\.\d+)?", text) is not None


def _other_way(holder: str) -> str:
    """A placeholder for numbers that count the other way round.

    >>> _other_way("{frame.arms.ARM.x: 0.001 m}"), _other_way("{frame.arms.ARM.x: m}")
    ('{frame.arms.ARM.x: -0.001 m}', '{frame.arms.ARM.x: -1 m}')
    """
    target, _, spec = holder.strip("{}").partition(": ")
    spec = spec[1:] if spec[:1] == "-" else f"-{spec}" if spec[:1].isdigit() else f"-1 {spec}"
    return f"{{{target}: {spec.rstrip()}}}"


def _told_shown(front: str, way: Sequence[str | int], holders: Sequence[str]) -> str:
    """Whether an element is shown, where the word before it says so, or the verb behind its name.

    `{show: speed, at: 3/2}`, `Speed is shown at column 2, row 3`.
    """
    verb = root(re.sub(r"[^A-Za-z]", "", f"{way[0]}"))
    verb = "show" if re.search(r" (?:is|are) shown\b", front) else verb
    parts = {re.split(r"[:}]", holder)[0].rpartition(".")[2] for holder in holders}
    if verb not in ("show", "hide") or parts != {"row", "column"}:
        return ""
    return " " + _sibling(holders[0], f"shown = {'on' if verb == 'show' else 'off'}")


def _written_out(chosen: Candidate, texts: Sequence[str], apart: bool) -> dict[str, str]:
    """Texts that no placeholder can take, or that stand where others are numbers, with our words.

    `apart`: the line is cut into words, so that none of several words can be taken.
    """
    ours = dict(chosen.fit.words)
    written = {theirs: said for theirs, said in chosen.fit.stands if theirs in texts}
    return written | {t: ours.get(t, t) for t in texts if apart and " " in t}


def _set_to(holder: str, value: str) -> str:
    """What a line states by being there: `{ports.ID.half_duplex = on}`."""
    return f"{{{holder.strip('{}').partition(':')[0]} = {value}}}"


def _optional(words: Sequence[str]) -> str:
    return f" [{' '.join(words)}]" if words else ""


def _constant(switch: Proposal, on: bool, names: Mapping[str, str]) -> str:
    assert switch.chosen is not None  # the caller looked
    turned = switch.chosen.fit.spec == "not"
    target = _named(f"{{{switch.chosen.goal.target}}}", names).strip("{}")
    return f"{{{target} = {'on' if on is not turned else 'off'}}}"


def _constant_off(
    family: Family,
    switch: Proposal | None,
    used: Sequence[tuple[Proposal, str]],
    names: Mapping[str, str],
) -> str:
    """What a negated line states."""
    if switch is not None and switch.chosen is not None:
        return _constant(switch, False, names) if isinstance(switch.chosen.goal.kind, Bool) else ""
    if not family.negated:
        return ""
    for made, _ in used:
        goal = made.chosen.goal if made.chosen else None
        if goal and goal.target.startswith("switches."):
            return _named("{switches.FUNCTION = none}", names)
        if goal and isinstance(goal.kind, Either) and goal.kind.words == ("hold",):
            return _named(f"{{{goal.target} = hold}}", names)
    return ""

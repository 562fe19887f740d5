"""Makes a dialect's mapping lines and word lists of proposals: active where they are sure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from cfgaudit.reading.shapes import Assignment, Directive
from cfgaudit.teach.fit import is_part
from cfgaudit.teach.keys import Family
from cfgaudit.teach.propose import Candidate, Proposal, signs_of, yaw_sign
from cfgaudit.vocabulary.kinds import Bool, Either

_NAMES = {
    "ARM": "arms", "AXIS": "axes", "CONTROL": "controls", "FUNCTION": "functions",
    "NAME": "elements", "ID": "ports", "N": "banks", "SLOT": "slots", "BAND": "bands",
}  # fmt: skip


@dataclass
class WordTables:
    """Lists by name; those asked for grow by what is new, unless they contradict themselves."""

    lists: dict[str, dict[str, str]] = field(default_factory=dict)

    def names(self, index: str, target: str, words: Mapping[str, str]) -> str:
        """The name of the list of an index's words."""
        return self._put(_NAMES.get(index, index.lower()), words)

    def values(self, target: str, words: Mapping[str, str]) -> str:
        """The name of the list of a setting's words."""
        parts = [p for p in target.replace("[", ".").replace("]", "").split(".") if p.islower()]
        return self._put("_".join(parts[-2:]), words)

    def _put(self, name: str, words: Mapping[str, str]) -> str:
        number, free = 1, name
        while not self._agree(self.lists.get(free, {}), words):
            number += 1
            free = f"{name}_{number}"
        self.lists.setdefault(free, {}).update(words)
        return free

    @staticmethod
    def _agree(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
        return all(one.get(word, ours) == ours for word, ours in other.items())


SURE = 0.85


@dataclass
class Mapped:
    """One family's mapping: the context lines above, its lines, whether they are active."""

    family: Family
    proposals: list[Proposal]
    under: tuple[str, ...] = ()
    lines: list[str] = field(default_factory=list)
    active: bool = False
    given: dict[str, str] = field(default_factory=dict)


def mapped_families(proposals: Sequence[Proposal], tables: WordTables) -> list[Mapped]:
    """A mapping for each family, in the order of the dump."""
    spins = _spins(proposals)
    grouped: dict[int, Mapped] = {}
    for made in proposals:
        grouped.setdefault(id(made.family), Mapped(made.family, [])).proposals.append(made)
    found = list(grouped.values())
    leaders = _index_leaders(found)
    for mapped in found:
        _make(mapped, tables, spins, leaders)
    return found


def is_sure(made: Proposal) -> bool:
    """Whether a proposal may be put to work as it is."""
    chosen = made.chosen
    return (
        chosen is not None
        and made.sure >= SURE
        and not chosen.fit.lacks
        and chosen.fit.points > -0.5
        and all(match.sure for _, _, match in chosen.matches)
    )


def _spins(proposals: Sequence[Proposal]) -> dict[str, str]:
    """Which way each arm's motor turns, where that was found."""
    for made in proposals:
        chosen = made.chosen
        if chosen is not None and chosen.goal.target == "motors.ARM.spin" and is_sure(made):
            ours = dict(chosen.fit.words)
            return {chosen.path(s).split(".")[1]: ours.get(s.text, "") for s in made.seen.samples}
    return {}


def _index_leaders(found: Sequence[Mapped]) -> dict[tuple[str, ...], tuple[str, ...]]:
    """For each sort of scope the indices that most of its fields want: a context line has one."""
    votes: dict[tuple[str, ...], dict[tuple[str, ...], float]] = {}
    for mapped in found:
        for made in mapped.proposals:
            if made.chosen is not None and is_sure(made):
                counts = votes.setdefault(scope_key(mapped.family), {})
                names = scope_indices(mapped.family, made.chosen)
                counts[names] = counts.get(names, 0.0) + made.sure
    return {key: max(counts, key=lambda n: (counts[n], n)) for key, counts in votes.items()}


def scope_key(family: Family) -> tuple[str, ...]:
    """The context lines of a family, as they tell one sort of scope from another."""
    return tuple(kin.line for kin in family.chain)


def scope_indices(family: Family, chosen: Candidate) -> tuple[str, ...]:
    """The names of the indices that the contexts bind."""
    by_depth = {depth: index for index, depth, _ in chosen.matches}
    count = sum(kin.varies for kin in family.chain)
    return tuple(by_depth[depth] for depth in range(count))


def _make(
    mapped: Mapped,
    tables: WordTables,
    spins: Mapping[str, str],
    leaders: Mapping[tuple[str, ...], tuple[str, ...]],
) -> None:
    family = mapped.family
    wanted = leaders.get(scope_key(family))
    sure = [
        made
        for made in mapped.proposals
        if is_sure(made)
        and made.chosen is not None
        and scope_indices(family, made.chosen) == wanted
        and _same_indices(mapped, made)
    ]
    sure = _whole_elements(mapped, sure)
    texts = {id(made): _placeholder(made, tables, spins) for made in sure}
    used = [made for made in sure if texts[id(made)]]
    if not used or any("{" in text or "}" in text for text in _literals(family)):
        return
    first = used[0].chosen
    assert first is not None  # those that are sure have one
    mapped.under = _under(family, first, tables)
    mapped.lines = _lines(mapped, used, texts, tables)
    mapped.active = bool(mapped.lines)


def _literals(family: Family) -> list[str]:
    pieces = [p for _, template in family.parts for p in template if isinstance(p, str)]
    return [
        family.head,
        family.tail,
        *pieces,
        *(kin.line.removesuffix("{") for kin in family.chain),
    ]


def _same_indices(mapped: Mapped, made: Proposal) -> bool:
    """Whether a field wants the same indices as the surest field of its line."""
    best = max(mapped.proposals, key=lambda other: other.sure)
    return (
        made.chosen is not None
        and best.chosen is not None
        and ([match[:2] for match in made.chosen.matches] == [m[:2] for m in best.chosen.matches])
    )


def _whole_elements(mapped: Mapped, sure: list[Proposal]) -> list[Proposal]:
    """Leave out elements of lists of which not every part is sure: half of one says nothing."""
    found: list[Proposal] = []
    for made in sure:
        assert made.chosen is not None  # those that are sure have one
        goal = made.chosen.goal
        if is_part(goal):
            above = goal.target.rpartition(".")[0]
            others = {m.chosen.goal.target.rpartition(".")[2] for m in sure
                      if m.chosen and m.chosen.goal.target.startswith(above)}  # fmt: skip
            need = (
                {"channel", "low", "high"} if above.startswith("switches") else {"kind", "cutoff"}
            )
            if not need <= others:
                continue
        found.append(made)
    return found


def _placeholder(made: Proposal, tables: WordTables, spins: Mapping[str, str]) -> str:
    """The placeholder for a field, or nothing where its specification can't be told after all."""
    chosen = made.chosen
    assert chosen is not None  # those that are sure have one
    turned = chosen.turned
    if chosen.goal.target == "motors.ARM.mix.yaw":
        _, depth, match = chosen.matches[0]
        told = yaw_sign(signs_of(made.seen, depth, match.words), spins)
        if not told:
            return ""
        turned = told < 0
    spec = chosen.fit.spec
    if spec == "words":
        spec = f"words {tables.values(chosen.goal.target, dict(chosen.fit.words))}"
    elif turned:
        spec = f"-{spec}" if spec[:1].isdigit() else f"-1 {spec}".rstrip()
    target = _labelled(chosen.goal.target, made.family.head)
    return f"{{{target}: {spec}}}" if spec else f"{{{target}}}"


def _labelled(target: str, head: str) -> str:
    label = "".join(letter if letter.isalnum() else "_" for letter in head)
    return target.replace("[]", f"[{label}]")


def _index(chosen: Candidate, depth: int, tables: WordTables) -> str:
    """The placeholder of an index."""
    index, _, match = next(entry for entry in chosen.matches if entry[1] == depth)
    if match.words:
        return f"{{{index}: words {tables.names(index, chosen.goal.target, match.words)}}}"
    return f"{{{index}: from 0}}" if match.base == 0 else f"{{{index}}}"


def _under(family: Family, chosen: Candidate, tables: WordTables) -> tuple[str, ...]:
    found: list[str] = []
    depth = 0
    for kin in family.chain:
        line = kin.line
        if kin.varies:
            line = line.replace("\0", _index(chosen, depth, tables))
            depth += 1
        found.append(line)
    return tuple(found)


def _lines(
    mapped: Mapped, used: list[Proposal], texts: Mapping[int, str], tables: WordTables
) -> list[str]:
    family, first = mapped.family, used[0].chosen
    assert first is not None  # those that are sure have one
    own = f"{_index(first, len(family.indices) - 1, tables)}" if family.own_index else ""
    by_field = {
        number: texts[id(made)]
        for number, seen in enumerate(family.fields)
        for made in used
        if made.seen is seen
    }
    if family.form is Directive:
        return _directive(family, own, by_field, used)
    parts = [(name, _filled(template, by_field)) for name, template in family.parts]
    if family.form is Assignment:
        sign = " = " if family.sign == "=" else f"{family.sign} "
        value = parts[0][1]
        return [f"{family.head}{sign}{value}"] if _readable(value) else []
    cells = [own or family.head, *(text for _, text in parts)]
    lines = [family.between.join(cells) + family.tail]
    if family.switched_off and first.goal.target.startswith("switches."):
        nothing = next(s.text for m in used for s in m.seen.samples if not s.text[:1].isdigit())
        lines.append(f"{own}{family.between}{nothing}{{switches.FUNCTION = none}}")
    return lines


def _readable(value: str) -> bool:
    """Whether an assignment's value can be read: `*` may stand at its end only."""
    return "*" not in value.rstrip("*") and "{" in value


def _filled(template: Sequence[str | int], by_field: Mapping[int, str]) -> str:
    return "".join(p if isinstance(p, str) else by_field.get(p, "*") for p in template)


def _directive(
    family: Family, own: str, by_field: Mapping[int, str], used: Sequence[Proposal]
) -> list[str]:
    """The lines of a directive: with its values; and, where some are negated, with `no` before."""
    front = f"{family.head} {own}".rstrip()
    words: list[str] = []
    for name, template in family.parts:
        text = _filled(template, by_field)
        words.append(f"{name}={text}" if name else text)
    while words and words[-1].endswith("*"):
        words.pop()
    optional = words[family.required :]
    line = " ".join([front, *words[: family.required]])
    if optional:
        line += f" [{' '.join(optional)}]"
    if len(words) < len(family.parts):
        line += " ..."
    switch = next((made for made in used if made.seen.switch), None)
    off = _constant_off(family, switch, used)
    on = ""
    if (
        switch is not None
        and switch.chosen is not None
        and isinstance(switch.chosen.goal.kind, Bool)
    ):
        turned = switch.chosen.fit.spec == "not"
        on = f" {{{switch.chosen.goal.target} = {'off' if turned else 'on'}}}"
    found = [line + on] if "{" in line + on else []
    return [*found, f"no {front} {off}"] if off else found


def _constant_off(family: Family, switch: Proposal | None, used: Sequence[Proposal]) -> str:
    """What a negated line states."""
    if switch is not None and switch.chosen is not None:
        turned = switch.chosen.fit.spec == "not"
        return f"{{{switch.chosen.goal.target} = {'on' if turned else 'off'}}}"
    if not family.negated:
        return ""
    for made in used:
        goal = made.chosen.goal if made.chosen else None
        if goal and goal.target.startswith("switches."):
            return "{switches.FUNCTION = none}"
        if goal and isinstance(goal.kind, Either) and goal.kind.words == ("hold",):
            return f"{{{goal.target} = hold}}"
    return ""

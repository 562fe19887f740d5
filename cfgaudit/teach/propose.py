"""Proposes, for every field of a dump, the settings that it may be, the likeliest first."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import permutations
from math import exp, log
from typing import NamedTuple

from cfgaudit.teach.fit import Goal, ValueFit, counts, goals, hint_for, value_fit
from cfgaudit.teach.keys import Family, Field, Sample
from cfgaudit.teach.words import NO, Match, about, ideas_of, index_match, likeness, merged, tokens
from cfgaudit.vocabulary.kinds import Quantity
from cfgaudit.vocabulary.units import number_text

# For each setting of an arm, the sign that each arm has by the vocabulary's axes; common practice
# for an x frame: roll right lifts the left arms, nose up lifts the front ones.
_FRONT = {"front_left": 1, "front_right": 1, "rear_left": -1, "rear_right": -1}
_LEFT = {"front_left": 1, "front_right": -1, "rear_left": 1, "rear_right": -1}
_CROSS = {"front_left": 1, "front_right": -1, "rear_left": -1, "rear_right": 1}
_SAME = dict.fromkeys(_FRONT, 1)
SIGNS: Mapping[str, Mapping[str, int]] = {
    "frame.arms.ARM.x": _FRONT,
    "frame.arms.ARM.y": {arm: -sign for arm, sign in _LEFT.items()},
    "motors.ARM.mix.thrust": _SAME,
    "motors.ARM.mix.roll": _LEFT,
    "motors.ARM.mix.pitch": _FRONT,
    "motors.ARM.mix.yaw": _CROSS,
    "motors.ARM.output": _SAME,
}


def signs_of(seen: Field, depth: int, words: Mapping[str, str]) -> dict[str, int]:
    """The sign of each arm's number."""
    found: dict[str, int] = {}
    for sample in seen.samples:
        arm = words.get(sample.under[depth], "")
        try:
            number = float(sample.text)
        except ValueError:
            continue
        found[arm] = (number > 0) - (number < 0)
    return found


def agreement(target: str, signs: Mapping[str, int]) -> int:
    """1 where the signs are those of the setting, -1 where all are turned, 0 where neither."""
    wanted = SIGNS.get(target)
    if wanted is None or not signs or any(arm not in wanted for arm in signs):
        return 0
    if all(not sign for sign in signs.values()):
        return 0
    if target == "motors.ARM.output":
        return 1 if all(sign >= 0 for sign in signs.values()) else 0
    if all(signs[arm] == wanted[arm] for arm in signs):
        return 1
    return -1 if all(signs[arm] == -wanted[arm] for arm in signs) else 0


def yaw_sign(signs: Mapping[str, int], spins: Mapping[str, str]) -> int:
    """How the yaw column counts, where the spins are known: an arm that turns ccw yaws clockwise.

    1 where those arms are positive, -1 where they are negative, 0 where nobody can tell.
    """
    told: Sequence[int] = [
        sign if spins[arm] == "ccw" else -sign for arm, sign in signs.items() if arm in spins
    ]
    if len(told) < 3:
        return 0
    return 1 if all(t > 0 for t in told) else -1 if all(t < 0 for t in told) else 0


_KEPT = 24  # candidates a field
_FLOOR = 1.2  # points from which a candidate is likelier than none
_NEIGHBOURS = 1.7  # points for standing among settings of the same group
_IN_ORDER = 0.35  # points for following the setting before as in the vocabulary
_SAME_LINE, _SAME_SCOPE = 2.5, 0.6  # how much fields of the same line, section count
_WINDOW = 4  # lines to either side that count as neighbours


class Candidate(NamedTuple):
    """A setting that a field may be, and what speaks for it."""

    goal: Goal
    points: float
    fit: ValueFit
    matches: tuple[tuple[str, int, Match], ...]  # our index, the family's, how they match
    alike: float  # points for the words
    turned: bool = False  # the numbers have the other sign
    near: float = 0.0  # points for the neighbours

    def path(self, sample: Sample) -> str:
        """The setting that one sample states."""
        path = self.goal.target
        before, bracket, rest = path.partition("[")
        parts = before.split(".")
        for index, depth, match in self.matches:
            word = sample.under[depth]
            ours = match.words.get(word, "" if match.words and index not in ("NAME",) else word)
            if match.base == 0 and word.isdigit():
                ours = str(int(word) + 1)
            parts = [ours if part == index else part for part in parts]
        return ".".join(parts) + bracket + rest

    @property
    def key(self) -> str:
        """What no two fields can be at once."""
        return self.goal.target


@dataclass
class Proposal:
    """What one field may be."""

    family: Family
    seen: Field
    position: int  # of the family among all
    candidates: list[Candidate] = field(default_factory=list)
    chosen: Candidate | None = None
    sure: float = 0.0


def propose(families: Sequence[Family]) -> list[Proposal]:
    """Proposals for every field, each setting given out once."""
    found: list[Proposal] = []
    lists = _fullest_lists(families)
    for position, family in enumerate(families):
        for seen in family.fields:
            made = Proposal(family, seen, position)
            made.candidates = sorted(_candidates(family, seen, lists), key=_rank)[:_KEPT]
            found.append(made)
    for _ in range(3):
        _listen_to_neighbours(found)
    _give_out(found)
    _count_alike(found)
    return found


def _count_alike(found: Sequence[Proposal]) -> None:
    """Where one number of a section shows what it counts from, the others beside it do so too."""
    from_zero = {
        _beside_key(made)
        for made in found
        if made.chosen is not None and made.chosen.fit.spec == "from 0"
    }
    for made in found:
        chosen = made.chosen
        if chosen is None or not counts(chosen.goal) or chosen.fit.spec or not made.family.chain:
            continue
        if _beside_key(made) in from_zero:
            fit = chosen.fit._replace(spec="from 0", lacks="")
            made.chosen = chosen._replace(fit=fit)
            made.candidates = [made.chosen if c is chosen else c for c in made.candidates]


def _beside_key(made: Proposal) -> tuple[object, ...]:
    """What numbers that count alike have in common: the section, and the group of settings."""
    group = made.chosen.goal.target.split(".")[0] if made.chosen else ""
    return (group, *(kin.line for kin in made.family.chain))


def _rank(candidate: Candidate) -> tuple[float, int]:
    return (-candidate.points, candidate.goal.order)


def _fullest_lists(families: Sequence[Family]) -> dict[tuple[str, ...], tuple[str, ...]]:
    """For each list of index words the longest one that holds them all: they mean the same."""
    lists = {tuple(words) for family in families for words in family.indices}
    named = sorted(
        (words for words in lists if not all(word.isdigit() for word in words)),
        key=lambda words: (-len(words), words),
    )
    return {
        words: next((full for full in named if set(words) <= set(full)), words) for words in lists
    }


def _candidates(
    family: Family, seen: Field, lists: Mapping[tuple[str, ...], tuple[str, ...]]
) -> Iterator[Candidate]:
    ideas = field_ideas(family, seen)
    own = {idea for name in seen.names for t in tokens(name) for idea in ideas_of(t)}
    hint = hint_for(family, seen)
    words = [(tuple(listed), lists[tuple(listed)]) for listed in family.indices]
    for goal in goals():
        if goal.spelled and not own & {goal.spelled, f"={goal.spelled}"}:
            continue
        matched = _match_indices(words, goal)
        if matched is None:
            continue
        fit = value_fit(goal, seen, hint)
        if fit.points <= -4:
            continue
        turned, told = _signs(goal, family, seen, matched)
        alike = _alike(ideas, goal)
        spelled = 0.6 if goal.spelled else 0.0
        points = alike + fit.points + sum(m.points for _, _, m in matched) + told + spelled
        yield Candidate(goal, points, fit, matched, alike, turned)


def field_ideas(family: Family, seen: Field) -> dict[str, float]:
    """What a field is about, by its names, its contexts and the remarks above."""
    named = [name for name in seen.names if name]
    parts = [about(tokens(name), 1.0 if n == 0 else 0.75) for n, name in enumerate(named)]
    parts.append(about((t for name in family.context for t in tokens(name)), 0.5))
    parts.append(about((t for text in family.remarks for t in tokens(text)), 0.25))
    return merged(*parts)


@cache
def _rarity() -> Mapping[str, float]:
    """How telling each idea is: 1 for one that few settings have, less for common ones."""
    counts: dict[str, int] = {}
    for goal in goals():
        for idea in goal.ideas:
            counts[idea] = counts.get(idea, 0) + 1
    most = log(len(goals()))
    return {idea: 1 - log(count) / most for idea, count in counts.items()}


@cache
def _rare_ideas() -> Mapping[str, Mapping[str, float]]:
    """What each goal is about, by its target, each idea weighed by how telling it is."""
    rarity = _rarity()
    return {
        goal.target: {idea: weight * rarity[idea] for idea, weight in goal.ideas.items()}
        for goal in goals()
    }


def _alike(ideas: Mapping[str, float], goal: Goal) -> float:
    return min(4.0, 1.1 * likeness(ideas, _rare_ideas()[goal.target]))


def _match_indices(
    lists: Sequence[tuple[tuple[str, ...], tuple[str, ...]]], goal: Goal
) -> tuple[tuple[str, int, Match], ...] | None:
    """How the family's indices serve as the goal's: the best of all ways, None if there is none."""
    depth = len(lists)
    if depth != len(goal.indices):
        return None
    best: tuple[tuple[str, int, Match], ...] | None = None
    most = -5.0
    for order in permutations(range(depth)):
        made = []
        for index, number in zip(goal.indices, order, strict=True):
            names = goal.choices.get(index, ())
            own, fullest = lists[number]
            match = index_match(index, goal.target, fullest, names)
            if match is NO or (index == "AXIS" and own != fullest):
                match = index_match(index, goal.target, own, names)
            made.append((index, number, match))
        points = sum(match.points for _, _, match in made)
        if points > most and all(match is not NO for _, _, match in made):
            best, most = tuple(made), points
    return best


def _signs(
    goal: Goal, family: Family, seen: Field, matched: tuple[tuple[str, int, Match], ...]
) -> tuple[bool, float]:
    """Whether the numbers are turned round, and points for their signs."""
    if goal.target not in SIGNS or not matched:
        return False, 0.0
    _, depth, match = matched[0]
    told = agreement(goal.target, signs_of(seen, depth, match.words))
    if goal.target == "motors.ARM.output":
        return False, 0.0 if told else -4.0
    weight = 0.3 if goal.target.endswith("thrust") else 1.2
    return told < 0, weight if told else -1.5


def _shares(made: Proposal) -> dict[str, float]:
    """How likely each group of the vocabulary is for a field."""
    weights = [(c.goal.group, exp(1.6 * (c.points - _FLOOR))) for c in made.candidates[:8]]
    total = 1 + sum(weight for _, weight in weights)
    found: dict[str, float] = {}
    for group, weight in weights:
        found[group] = found.get(group, 0.0) + weight / total
    return found


@dataclass
class _Sums:
    """Group shares of several fields added up."""

    count: int = 0
    loose: bool = False  # of lines that stand in no section
    shares: dict[str, float] = field(default_factory=dict)

    def add(self, share: Mapping[str, float], weight: float = 1.0) -> None:
        """Add one field's shares."""
        for group, part in share.items():
            self.shares[group] = self.shares.get(group, 0.0) + weight * part


def _listen_to_neighbours(found: Sequence[Proposal]) -> None:
    """Raise the candidates of the groups that a field's neighbours seem to belong to."""
    shares = [_shares(made) for made in found]
    heads = [made.candidates[0].goal.order if made.candidates else -1 for made in found]
    by_family: dict[int, _Sums] = {}
    by_scope: dict[tuple[int, ...], _Sums] = {}
    for made, share in zip(found, shares, strict=True):
        for sums in (
            by_family.setdefault(made.position, _Sums()),
            by_scope.setdefault(_scope(made), _Sums()),
        ):
            sums.count += 1
            sums.loose = not made.family.chain
            sums.add(share)
    for number, made in enumerate(found):
        family, scope = by_family[made.position], by_scope[_scope(made)]
        near = _Sums()
        near.add(family.shares, _SAME_LINE)
        near.add(shares[number], -_SAME_LINE)
        total = 0.3 + _SAME_LINE * (family.count - 1)
        if made.family.chain:
            near.add(scope.shares, _SAME_SCOPE)
            near.add(family.shares, -_SAME_SCOPE)
            total += _SAME_SCOPE * (scope.count - family.count)
        else:
            total += _hear_window(near, made, by_family)
        before, after = _side(found, heads, number, -1), _side(found, heads, number, 1)
        made.candidates = sorted(
            (_heard(c, near, total, before, after) for c in made.candidates), key=_rank
        )


def _scope(made: Proposal) -> tuple[int, ...]:
    """What tells one sort of scope from another."""
    return tuple(id(kin) for kin in made.family.chain)


def _hear_window(near: _Sums, made: Proposal, by_family: Mapping[int, _Sums]) -> float:
    """Add what the lines nearby seem to be, where nothing puts lines into sections."""
    total = 0.0
    for away in (*range(-_WINDOW, 0), *range(1, _WINDOW + 1)):
        sums = by_family.get(made.position + away)
        if sums is not None and sums.loose:
            near.add(sums.shares, _SAME_SCOPE / abs(away))
            total += _SAME_SCOPE / abs(away) * sums.count
    return total


def _heard(
    candidate: Candidate,
    near: _Sums,
    total: float,
    before: tuple[int, float],
    after: tuple[int, float],
) -> Candidate:
    order = candidate.goal.order
    points = _NEIGHBOURS * _group_share(near.shares, candidate.goal.group) / total
    points += before[1] * _next(before[0], order) + after[1] * _next(order, after[0])
    return _nearer(candidate, points)


def _side(
    found: Sequence[Proposal], heads: Sequence[int], number: int, step: int
) -> tuple[int, float]:
    """What the field to one side seems to be, and the points for following in order."""
    other = number + step
    if not 0 <= other < len(found):
        return -100, 0.0
    if found[other].family is found[number].family:
        return heads[other], 2 * _IN_ORDER
    loose = not found[number].family.chain
    apart = abs(found[other].position - found[number].position)
    beside = _scope(found[other]) == _scope(found[number]) and (apart == 1 or not loose)
    return (heads[other], _IN_ORDER) if beside else (-100, 0.0)


def _next(one: int, other: int) -> float:
    """1 where a setting comes right behind another in the vocabulary."""
    return 1.0 if 0 < other - one <= 10 else 0.4 if 10 < other - one <= 20 else 0.0


def _group_share(near: Mapping[str, float], group: str) -> float:
    """A group's share, and half the share of those that have its first word in common."""
    top = group.split(".")[0]
    own = near.get(group, 0.0)
    kin = sum(part for other, part in near.items() if other.split(".")[0] == top and other != group)
    return own + 0.5 * kin


def _nearer(candidate: Candidate, near: float) -> Candidate:
    return candidate._replace(points=candidate.points - candidate.near + near, near=near)


class _Bid(NamedTuple):
    """What a field stands to lose by waiting, and the settings that this hangs on."""

    regret: float
    first: Candidate
    keys: tuple[str, ...]


def _bid(made: Proposal, taken: set[str]) -> _Bid | None:
    """The bid of a field for the likeliest setting that is free; None where none is likely."""
    free = [c for c in made.candidates if c.key not in taken][:2]
    if not free or free[0].points < _FLOOR:
        return None
    second = max(free[-1].points if len(free) > 1 else _FLOOR, _FLOOR)
    regret = free[0].points - second + 0.3 * free[0].points
    return _Bid(regret, free[0], tuple(c.key for c in free))


def _give_out(found: Sequence[Proposal]) -> None:
    """Give each setting to one field: those first that would lose most by waiting."""
    taken: set[str] = set()
    bids = {n: bid for n, made in enumerate(found) if (bid := _bid(made, taken)) is not None}
    while bids:
        best = max(bids, key=lambda n: (bids[n].regret, -n))
        chosen = bids.pop(best).first
        found[best].chosen = chosen
        taken.add(chosen.key)
        for number in [n for n, bid in bids.items() if chosen.key in bid.keys]:
            bid = _bid(found[number], taken)
            if bid is None:
                del bids[number]
            else:
                bids[number] = bid
    for made in found:
        made.sure = _sureness(made, taken)
        _order(made, taken)


def _sureness(made: Proposal, taken: set[str]) -> float:
    """How sure the chosen setting is, by what is left besides."""
    chosen = made.chosen
    if chosen is None:
        return 0.0
    rivals = [c.points for c in made.candidates if c is not chosen and c.key not in taken]
    margin = chosen.points - max([_FLOOR, *rivals])
    margin -= 0.5 * (not all(match.sure for _, _, match in chosen.matches))
    return 1 / (1 + exp(-2 * margin)) * (1 - exp(-max(0.0, chosen.points - _FLOOR)))


def _order(made: Proposal, taken: set[str]) -> None:
    """The chosen one first, those that nobody took next."""
    chosen = made.chosen
    rest = [c for c in made.candidates if c is not chosen]
    rest.sort(key=lambda c: (c.key in taken, *_rank(c)))
    made.candidates = rest if chosen is None else [chosen, *rest]


def reasons_for(made: Proposal, candidate: Candidate) -> list[str]:
    """What speaks for a candidate, the most telling first."""
    found: list[str] = []
    common = common_words(made, candidate.goal)
    if common:
        found.append("words: " + ", ".join(common[:4]))
    if made.seen.unit:
        found.append(f"its line says {made.seen.unit}")
    if candidate.fit.words:
        found.append("values: " + ", ".join(f"{a} = {b}" for a, b in candidate.fit.words[:3]))
    elif candidate.fit.points >= 0.5 and made.seen.numbers:
        found.append(f"values fit {usual_text(candidate.goal)}")
    if any(match.words for _, _, match in candidate.matches):
        found.append(f"{len(candidate.matches[0][2].words)} names as of {candidate.matches[0][0]}")
    if candidate.near >= 0.6:
        found.append(f"neighbours belong to {candidate.goal.group}")
    if candidate.fit.lacks:
        found.append(candidate.fit.lacks)
    return found


def common_words(made: Proposal, goal: Goal) -> list[str]:
    """The words of a key and its contexts that tell of a setting."""
    names = [name for name in (*made.seen.names, *made.family.context) if name]
    seen = dict.fromkeys(token for name in names for token in tokens(name))
    return [word for word in seen if likeness(about([word]), goal.ideas) > 0.15]


def usual_text(goal: Goal) -> str:
    """What values a setting usually has, in words."""
    unit = goal.kind.unit if isinstance(goal.kind, Quantity) else ""
    if goal.usual is not None:
        ends = f"{number_text(goal.usual[0])}..{number_text(goal.usual[1])}"
        return f"the usual {ends} {unit}".rstrip()
    return f"its usual values in {unit}" if unit else "its usual values"

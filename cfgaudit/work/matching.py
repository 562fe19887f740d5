"""Who goes where, each place once: the best matching, and who competes where none is whole.

The matching is networkx's (Galil 1986); it is loaded when it is first asked for.
"""

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations
from typing import Final, NamedTuple

Graph = Mapping[str, Sequence[str]]  # who: the places that would do
Cost = Callable[[str, str], tuple[int, ...]]  # who, where: gravest first, each 0..99
_LEVEL: Final = 100
_MOST_TRIED: Final = 16  # so many make 65,535 sets to look at


class Competing(NamedTuple):
    """Those who want fewer places than they are many, and these places."""

    who: tuple[str, ...]
    places: tuple[str, ...]


def best_matching(graph: Graph, cost: Cost) -> dict[str, str]:
    """As many as can be, each in a place of their own, at the least cost; place by who.

    The sums of the costs count level by level. What is still alike is settled by the order of
    `graph` and of its places, so that the answer is always the same one. Raises
    ModuleNotFoundError without networkx.
    """
    import networkx as nx

    who, places = list(graph), list(dict.fromkeys(p for some in graph.values() for p in some))
    weights = _weights(graph, places, cost)
    net = nx.Graph()
    net.add_nodes_from(("who", i) for i in range(len(who)))
    net.add_nodes_from(("place", j) for j in range(len(places)))
    net.add_weighted_edges_from(
        (("who", i), ("place", j), weights[one, place])
        for i, one in enumerate(who)
        for j, place in enumerate(places)
        if (one, place) in weights
    )
    found = {}
    for pair in nx.max_weight_matching(net, maxcardinality=True):
        one, place = sorted(pair, key=lambda node: node[0] == "place")
        found[one[1]] = place[1]
    return {who[i]: places[found[i]] for i in sorted(found)}


def _weights(graph: Graph, places: Sequence[str], cost: Cost) -> dict[tuple[str, str], int]:
    """Whole numbers, the greater the better, of which no two matchings have the same sum.

    Each of `who` has a digit of their own in which the place's number is written, and to have no
    place is the worst digit of all; the levels of cost stand above these digits, each with room
    for the sum over all.
    """
    base = len(places) + 1
    ties = base ** len(graph)
    room = _LEVEL * (len(graph) + 1)
    made = {}
    for i, (one, some) in enumerate(graph.items()):
        for place in some:
            worse = 0
            for level in cost(one, place):
                worse = worse * room + level
            digit = (places.index(place) - len(places)) * base ** (len(graph) - 1 - i)
            made[one, place] = -(worse * ties + digit)
    return made


def deficiency(graph: Graph) -> int:
    """How many are left without a place in the best case. Needs no networkx.

    By augmenting paths (Berge 1957).
    """
    taken: dict[str, str] = {}

    def seat(one: str, seen: set[str]) -> bool:
        for place in graph[one]:
            if place not in seen:
                seen.add(place)
                if place not in taken or seat(taken[place], seen):
                    taken[place] = one
                    return True
        return False

    return sum(not seat(one, set()) for one in graph)


def smallest_competing(graph: Graph) -> Competing | None:
    """The fewest who want fewer places than they are many (Hall 1935); None where all find one.

    Among sets of one size the first in the order of `graph`. Of more than 16 who compete, a set
    from which none can be left out, which need not be the very smallest.
    """
    if not deficiency(graph):
        return None
    core = _shrunk(graph)
    if len(graph) <= _MOST_TRIED:
        for size in range(1, len(core)):
            for who in combinations(graph, size):
                if len(_places(graph, who)) < size:
                    return Competing(who, _places(graph, who))
    return Competing(core, _places(graph, core))


def _shrunk(graph: Graph) -> tuple[str, ...]:
    """Everybody but those without whom some still go short."""
    left = dict(graph)
    for one in reversed(list(graph)):
        fewer = {name: places for name, places in left.items() if name != one}
        if deficiency(fewer):
            left = fewer
    return tuple(left)


def _places(graph: Graph, who: Sequence[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(place for one in who for place in graph[one]))

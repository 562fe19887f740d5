"""Area P and the UART rows of area A: sizes of matchings, competing sets, ports that fit.

Reference library: networkx, hopcroft_karp_matching. Matchings are not unique, so sizes are
compared, and that each is one.
"""

from itertools import combinations, permutations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.craft.sheet import Sheet, read_sheet
from cfgaudit.work.allot import Want, fit
from cfgaudit.work.matching import best_matching, deficiency, smallest_competing

# Area P.
P = {"rx": ("1", "2"), "position": ("2",), "video": ("2", "3"), "telemetry": ("3",)}

GRAPHS = st.dictionaries(
    st.sampled_from("abcdef"),
    st.lists(st.sampled_from("123456"), unique=True, max_size=4).map(tuple),
    min_size=1,
    max_size=6,
)


def no_cost(_who: str, _place: str) -> tuple[int, ...]:
    """Every place is as good as another."""
    return ()


def size_by_networkx(graph: dict[str, tuple[str, ...]]) -> int:
    net = nx.Graph()
    net.add_nodes_from(("who", one) for one in graph)
    net.add_edges_from((("who", one), ("at", p)) for one, ports in graph.items() for p in ports)
    top = [("who", one) for one in graph]
    return len(nx.bipartite.hopcroft_karp_matching(net, top_nodes=top)) // 2


def size_by_force(graph: dict[str, tuple[str, ...]]) -> int:
    ports = sorted({p for some in graph.values() for p in some})
    padded = [*ports, *[""] * len(graph)]
    return max(
        sum(p in graph[one] for one, p in zip(graph, order, strict=True))
        for order in set(permutations(padded, len(graph)))
    )


def test_the_set_of_area_p_has_three_ports_for_four() -> None:
    """Published with the case: size 3, so not possible."""
    assert size_by_networkx(P) == 3
    assert len(best_matching(P, no_cost)) == 3
    assert deficiency(P) == 1
    competing = smallest_competing(P)
    assert competing is not None
    assert (competing.who, competing.places) == (("position", "video", "telemetry"), ("2", "3"))


@given(GRAPHS)
def test_sizes_are_those_of_hopcroft_and_karp(graph: dict[str, tuple[str, ...]]) -> None:
    found = best_matching(graph, no_cost)
    assert len(found) == size_by_networkx(graph) == len(graph) - deficiency(graph)
    assert all(place in graph[one] for one, place in found.items())
    assert len(set(found.values())) == len(found)


@given(
    st.dictionaries(
        st.sampled_from("abcd"),
        st.lists(st.sampled_from("123"), unique=True, max_size=3).map(tuple),
        min_size=1,
        max_size=4,
    )
)
def test_sizes_are_those_found_by_trying_every_order(graph: dict[str, tuple[str, ...]]) -> None:
    assert len(best_matching(graph, no_cost)) == size_by_force(graph)


@given(GRAPHS)
def test_a_competing_set_is_the_smallest_there_is(graph: dict[str, tuple[str, ...]]) -> None:
    """Hall 1935: all find a place exactly where no set wants fewer places than it has members."""
    violating = [
        size
        for size in range(1, len(graph) + 1)
        for who in combinations(graph, size)
        if len({p for one in who for p in graph[one]}) < size
    ]
    found = smallest_competing(graph)
    assert (found is None) == (not violating) == (size_by_networkx(graph) == len(graph))
    if found is not None:
        assert len(found.who) == min(violating)
        assert set(found.places) == {p for one in found.who for p in graph[one]}
        assert len(found.places) == len(found.who) - 1


@given(GRAPHS, st.data())
def test_the_cheapest_of_all_whole_matchings_is_taken(
    graph: dict[str, tuple[str, ...]], data: st.DataObject
) -> None:
    """By trying every one of them."""
    costs = {
        (one, p): (data.draw(st.integers(0, 2)), data.draw(st.integers(0, 2)))
        for one, ports in graph.items()
        for p in ports
    }
    found = best_matching(graph, lambda one, p: costs[one, p])

    def total(matching: dict[str, str]) -> tuple[int, ...]:
        levels = [costs[pair] for pair in matching.items()]
        return tuple(map(sum, zip(*levels, strict=True))) if levels else ()

    def every(names: tuple[str, ...], taken: frozenset[str]) -> list[dict[str, str]]:
        if not names:
            return [{}]
        rest = every(names[1:], taken)
        for p in graph[names[0]]:
            if p not in taken:
                rest = rest + [{names[0]: p, **m} for m in every(names[1:], taken | {p})]
        return rest

    whole = [m for m in every(tuple(graph), frozenset()) if len(m) == len(found)]
    assert total(found) == min(total(m) for m in whole)


@pytest.mark.parametrize(
    ("clock", "sampling", "rate", "says"),
    [
        ("36 MHz", 16, 115_200, ""),
        ("8 MHz", 16, 115_200, ""),
        ("8 MHz", 8, 921_600, "888,888.89 Bd (divider 1.125), 3.55 % off where 8N1 forgives 2.0 %"),
    ],
)
def test_a_port_fits_or_not_as_the_manuals_table_has_it(
    clock: str, sampling: int, rate: float, says: str
) -> None:
    """Published: ST RM0008 and RM0090, rows of area A; Microchip's recommended ±2.0 %."""
    text = (
        f'[ports.a]\nkind = "hardware"\nhighest_rate = "2 MBd"\nclock = "{clock}"\n'
        f"oversampling = {sampling}\ninverter = false\none_wire = false\n"
    )
    port = Sheet(read_sheet(text.encode(), "x.toml")).ports["a"]
    want = Want("telemetry", "telemetry", rate, "8N1", inverted=False, one_wire=False)
    found = fit(want, port)
    assert found.lacks == ()
    assert [bar.kind for bar in found.bars] == (["rate-off"] if says else [])
    assert all(says in bar.says for bar in found.bars)

"""Laws of the merge, on drawn dumps: as settings, since only the order of lines may differ."""

from collections.abc import Hashable, Mapping

import pytest
from hypothesis import example, given
from hypothesis import settings as budget
from hypothesis import strategies as st

from cfgaudit.dialects.plain import write_plain
from tests.git.demo import merged, says, text_of
from tests.git.random_merges import losses, three_sides
from tests.strategies import settings_pair

KEYS = ("reed", "rush", "sedge 1", "sedge 2", "willow", "alder")
VALUES = ("1", "2", "on", '"pale blue"')


@st.composite
def dumps(draw: st.DrawFn) -> str:
    """A dump of no dialect: a few keys, some of them twice, in sections that come in any order."""
    parts = []
    for name in draw(st.lists(st.sampled_from(("", "weir", "pool")), unique=True, max_size=3)):
        lines = draw(
            st.lists(st.tuples(st.sampled_from(KEYS), st.sampled_from(VALUES)), max_size=5)
        )
        notes = draw(st.lists(st.sampled_from(("# a note", "", "  # another")), max_size=2))
        rows = [f"{key} = {value}" for key, value in lines] + notes
        parts.append((name, draw(st.permutations(rows))))
    parts.sort(key=lambda part: part[0] != "")  # lines without a head stand before every head
    text = "\n".join(
        line for name, rows in parts for line in ([f"[{name}]"] if name else []) + list(rows)
    )
    return text + draw(st.sampled_from(("", "\n")))


@st.composite
def plain_dumps(draw: st.DrawFn) -> tuple[str, str, str]:
    """Three dumps in the plain form that have much in common."""
    base, ours = draw(settings_pair())
    stated = {
        path: draw(st.sampled_from((entry, ours.stated.get(path, entry))))
        for path, entry in base.stated.items()
    }
    keep = draw(st.sets(st.sampled_from(sorted(stated) or ["none"])))
    theirs = type(base)(stated={p: e for p, e in stated.items() if p in keep or len(p) % 3})
    return write_plain(base), write_plain(ours), write_plain(theirs)


triples = st.one_of(st.tuples(dumps(), dumps(), dumps()), plain_dumps())


def said(text: str) -> dict[str, Hashable]:
    return says(text.encode())


def three_way(
    base: Mapping[str, Hashable], ours: Mapping[str, Hashable], theirs: Mapping[str, Hashable]
) -> tuple[dict[str, Hashable], set[str]]:
    """The merge of three mappings, by its definition: outcome, and the keys that clash.

    What means one thing together comes out as one of the sides has it, or clashes.
    """
    outcome: dict[str, Hashable] = {}
    clashes: set[str] = set()
    for key in {*base, *ours, *theirs}:
        was, mine, other = (side.get(key) for side in (base, ours, theirs))
        held = mine if other in (was, mine) else other
        if mine not in (was, other) and other != was:
            clashes.add(key)
        elif held is not None:
            outcome[key] = held
    for one in {_one_thing(key) for key in {*ours, *theirs}} - {""}:
        parts = [
            {k: v for k, v in m.items() if _one_thing(k) == one} for m in (outcome, ours, theirs)
        ]
        if parts[0] not in parts[1:]:
            clashes.add(one)
    return outcome, clashes


def _one_thing(key: str) -> str:
    """What a setting means something together with others of; empty where it stands alone."""
    words = key.split(".")
    if words[0] == "switches" or (words[0] == "ports" and words[2] in ("roles", "baud")):
        return ".".join(words[:2])
    tuned = words[:2] == ["video", "transmitter"] and words[2] in ("band", "channel", "frequency")
    return "video.transmitter" if tuned else ""


@given(dumps(), dumps())
@budget(max_examples=60)
def test_what_only_one_side_changed_comes_out_as_that_side_has_it(base: str, other: str) -> None:
    assert text_of(merged(base, other, base)) == other
    assert said(text_of(merged(base, base, other))) == said(other)


@given(plain_dumps())
@budget(max_examples=60)
def test_the_merge_of_plain_dumps_is_the_merge_of_their_settings(
    three: tuple[str, str, str],
) -> None:
    outcome = merged(*three)
    assert outcome.why_text == ""
    if outcome.why_apart:
        names = [(one.get("craft.serial"), one.get("craft.name")) for one in map(said, three[1:])]
        assert names[0][0] != names[1][0] or names[0][1] != names[1][1]
        return
    wanted, clashes = three_way(*map(said, three))
    assert bool(outcome.clashes) is bool(clashes)
    if not clashes:
        assert said(text_of(outcome)) == wanted


@example(three=("", "# a note", "# a note\n# a note"))
@example(three=("", "reed = 1\nreed = 1\nreed = 1", "reed = 1\nrush = 1\nreed = 1"))
@example(three=("", "[weir]\nreed = 1", "[weir]\nreed = 1\nrush = 1\nreed = 1\n# a note\nreed = 1"))
@example(three=("# a note", "# a note\n# a note", ""))
@example(three=("[pool]\n# a note", "reed = 2\n[pool]\n# a note\n# a note", ""))
@example(three=("[pool]\n# a note\n# another", "", "[pool]\n# another\n# another"))
@example(three=("x = 1", "x = 1\n# a note\n# a note", "x = 1\n# a note"))
@given(triples)
@budget(max_examples=60)
def test_the_sides_may_change_places(three: tuple[str, str, str]) -> None:
    base, ours, theirs = three
    one, other = merged(base, ours, theirs), merged(base, theirs, ours)
    assert bool(one.why_text) == bool(other.why_text)
    assert bool(one.conflicts) == bool(other.conflicts)
    if not (one.why_text or one.conflicts):
        assert said(text_of(one)) == said(text_of(other))


@given(triples)
@budget(max_examples=60)
def test_nothing_that_either_side_changed_is_lost_without_a_mark(
    three: tuple[str, str, str],
) -> None:
    base, ours, theirs = three
    outcome = merged(base, ours, theirs)
    text = text_of(outcome)
    if outcome.conflicts:
        assert "<<<<<<< ours" in text
        assert text.count("<<<<<<<") == text.count(">>>>>>>") == text.count("=======")
        return
    was, now = said(base), said(text)
    for side in map(said, (ours, theirs)):
        for key in {*was, *side}:
            if side.get(key) != was.get(key):
                assert now.get(key) == side.get(key)


@given(st.tuples(st.binary(max_size=60), st.binary(max_size=60), st.binary(max_size=60)))
@budget(max_examples=60)
def test_any_bytes_merge_or_are_said_to_conflict(three: tuple[bytes, bytes, bytes]) -> None:
    from tests.git.demo import merged_bytes

    outcome = merged_bytes(*three)
    assert outcome.data is not None or outcome.conflicts


@pytest.mark.parametrize("start", range(0, 80, 20))
def test_of_random_edits_of_demo_dumps_nothing_is_lost_without_a_mark(start: int) -> None:
    for seed in range(start, start + 20):
        three = three_sides(seed)
        assert list(losses(*three, merged(*three))) == [], seed

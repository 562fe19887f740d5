"""One setting of a demo dump gets another value, however the file is dressed: that, no more."""

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cfgaudit.dialects.editor import edit
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.patch import hunks
from cfgaudit.reading.shapes import Comment
from cfgaudit.settings import Settings, Stated
from cfgaudit.vocabulary.kinds import Int, Quantity, Value
from cfgaudit.vocabulary.paths import declared
from cfgaudit.work.confirm import CountStep, steps_of
from tests.dialects.demo import CORPUS, DUMPS, FACTORY, dialects, opened
from tests.strategies import values

FILES = (*DUMPS, *FACTORY, *sorted((CORPUS / "upgrades").glob("*.dump")))
DRESSES = (
    ("utf-8", b""),
    ("utf-8", b"\xef\xbb\xbf"),
    ("utf-16-le", b"\xff\xfe"),
    ("utf-16-be", b"\xfe\xff"),
)


@st.composite
def dressed(draw: st.DrawFn, path: Path) -> bytes:
    """A demo dump with comments behind some lines, in another encoding or with other line ends."""
    lines = path.read_text(encoding="utf-8").splitlines()
    filled = [number for number, line in enumerate(lines) if line.strip() and "\t" not in line]
    for number in draw(st.lists(st.sampled_from(filled[20:-3]), max_size=6, unique=True)):
        if not lines[number].endswith("\\"):
            lines[number] += draw(st.sampled_from(("  # seen", " ; seen", "   // seen")))
    encoding, bom = draw(st.sampled_from(DRESSES))
    end = draw(st.sampled_from(("\n", "\r\n", "\r")))
    text = end.join(lines) + end * draw(st.booleans())
    return bom + text.encode(encoding)


@st.composite
def legal(draw: st.DrawFn, stated: Stated, steps: tuple[CountStep, ...]) -> Value:
    """A value within the setting's limits; a number mostly on the dialect's own steps."""
    known = declared(stated.path)
    assert known is not None
    if len(steps) == 1 and isinstance(known.kind, Int | Quantity) and draw(st.integers(0, 4)):
        value = _on_a_step(draw(st.integers(-300, 300)), steps[0], stated.value)
    else:
        value = draw(values(known.kind))
    assume(not known.kind.beyond(value))
    return value


def _on_a_step(count: int, step: CountStep, value: Value) -> Value:
    assert isinstance(value, int | float)
    moved = Fraction(str(value)) + count * step.size
    return int(moved) if isinstance(value, int) else float(moved)


def comments(of: Opened) -> Counter[str]:
    whole = "\n".join(of.document.text.lines)
    own = [s.shape.body.text for s in of.document.statements if isinstance(s.shape, Comment)]
    return Counter(own) + Counter({"behind a line": whole.count(" seen")})


def troubles(of: Settings) -> Counter[tuple[str, str]]:
    return Counter((trouble.kind.value, trouble.message) for trouble in of.troubles)


@settings(max_examples=100)
@given(data=st.data())
def test_reading_back_gives_this_one_change(data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(FILES))
    before = open_dump(path.name, data.draw(dressed(path)), dialects())
    assert {p: s.value for p, s in before.settings.stated.items()} == {
        p: s.value for p, s in opened(path).settings.stated.items()
    }
    stated = before.settings[data.draw(st.sampled_from(sorted(before.settings.stated)))]
    value = data.draw(legal(stated, steps_of(before).get(stated.path, ())))
    done = edit(before, {stated.path: value})
    after = open_dump(path.name, done.opened.document.to_bytes(), dialects(), before.dialect)
    old, new = (
        {p: (s.value, s.doubt) for p, s in of.settings.stated.items()} for of in (before, after)
    )
    if done.refused:
        assert done.refused[stated.path]
        assert after.document.to_bytes() == before.document.to_bytes()
        return
    assert new == {**old, stated.path: (value, "")}
    raw = [{key: one.value for key, one in of.settings.raw.items()} for of in (before, after)]
    assert raw[0] == raw[1]
    assert troubles(after.settings) <= troubles(before.settings)
    assert len(after.settings.repeats) == len(before.settings.repeats)
    assert comments(after) == comments(before)
    assert after.document.text.bom == before.document.text.bom
    assert after.document.text.encoding == before.document.text.encoding
    made = hunks(before.document.text, after.document.text)
    size = sum(max(len(hunk.old), len(hunk.new)) for hunk in made)
    elements = max(len(one) if isinstance(one, tuple) else 1 for one in (value, stated.value))
    assert size <= 6 + elements  # a line or two, and the heads of a place that is not there


@pytest.mark.parametrize("name", ["dipper", "wagtail", "goosander", "sandpiper"])
def test_every_number_can_be_moved_by_a_step_of_its_dialect(name: str) -> None:
    before = opened(CORPUS / f"{name}.dump")
    wanted: dict[str, Value] = {}
    for path, steps in steps_of(before).items():
        known, value = declared(path), before.settings[path].value
        if known is not None and len(steps) == 1 and isinstance(value, int | float):
            moved = _on_a_step(1, steps[0], value)
            if not known.kind.beyond(moved):
                wanted[path] = moved
    assert len(wanted) > 80
    done = edit(before, wanted)
    assert done.refused == {}
    assert {path: done.opened.settings[path].value for path in wanted} == wanted

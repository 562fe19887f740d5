"""The drawing module: text that stays text, numbers that stay short, arrows that turn right."""

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.craft.craft import Craft
from cfgaudit.pictures.album import PicturePair, album, album_of_change
from cfgaudit.pictures.drawing import (
    LETTER,
    Axis,
    Drawing,
    Missing,
    NumberTable,
    Picture,
    Scale,
    as_svg,
    fitting,
    log_marks,
    marks,
    number,
    spread,
    text,
    turn_arrow,
    wrapped,
)
from tests.pictures.crafts import corpus_craft, corpus_sheet, craft


def test_markup_in_a_label_stays_text() -> None:
    assert "<b>" not in text((0, 0), "<b>&\"'</b>")
    assert "&lt;b&gt;&amp;" in text((0, 0), "<b>&</b>")


def test_marks_that_turn_the_writing_round_are_shown_escaped() -> None:
    shown = text((0, 0), "a\u202eb\u2066c\x00")
    assert "\u202e" not in shown
    assert "\\u202e" in shown
    assert "\\x00" in shown


@given(st.text(max_size=60))
def test_any_text_gives_well_formed_svg(said: str) -> None:
    drawing = Drawing(10, 10, text((1, 2), said))
    table = NumberTable(("a",), (("b",),))
    picture = Picture("name", said, said, drawing, table)
    root = ElementTree.fromstring(as_svg(picture))
    assert root.tag == "svg"
    assert len(root) == 3


@given(st.floats(-1e6, 1e6))
def test_a_coordinate_is_short_and_has_no_exponent(value: float) -> None:
    shown = number(value)
    assert re.fullmatch(r"-?\d+(\.\d)?", shown)
    assert abs(float(shown) - value) <= 0.05 + 1e-9
    assert shown != "-0"


def test_an_arrow_for_clockwise_goes_the_way_of_the_clock() -> None:
    # Hand calculation, y downwards: from -60 degrees through 250 to 190 degrees, sweep flag 1.
    # cos(-60) = 0.5, sin(-60) = -0.866: x 5, y -8.7; cos 190 = -0.985, sin 190 = -0.174: -9.8, -1.7
    assert 'd="M 5 -8.7 A 10 10 0 1 1 -9.8 -1.7"' in turn_arrow((0, 0), 10, 1, "x")


def test_an_arrow_for_anticlockwise_is_its_mirror_image() -> None:
    assert 'd="M 5 8.7 A 10 10 0 1 0 -9.8 1.7"' in turn_arrow((0, 0), 10, -1, "x")


def test_a_scale_by_logarithm_puts_the_middle_of_two_decades_at_the_first() -> None:
    # hand calculation: log10(100 / 10) / log10(1000 / 10) = 1 / 2
    assert Scale(10, 1000, 0, 200, by_log=True).at(100) == pytest.approx(100)


def test_a_scale_holds_what_lies_beyond_at_its_end() -> None:
    assert Scale(0, 10, 0, 100).at(12) == 100
    assert Scale(0, 10, 100, 0).at(-3) == 100


def test_marks_are_round_and_no_more_than_asked_for() -> None:
    assert marks(2.75, 4.55, 6) == (3.0, 3.5, 4.0, 4.5)
    assert log_marks(10, 2000) == (10, 20, 50, 100, 200, 500, 1000, 2000)


@given(st.lists(st.floats(0, 100), min_size=1, max_size=5))
def test_labels_that_are_spread_keep_their_order_and_their_distance(wanted: list[float]) -> None:
    placed = spread(wanted, 20, 0, 100)
    ordered = sorted(placed)
    assert all(b - a >= 20 - 1e-9 for a, b in pairwise(ordered))
    assert all(-1e-9 <= place <= 100 + 1e-9 for place in placed)


def test_a_long_text_is_cut_with_a_mark() -> None:
    assert fitting("short", 200) == "short"
    assert fitting("a very long name indeed", 60).endswith("…")


def test_a_picture_s_text_keeps_a_figure_with_its_unit_and_cuts_a_word_too_long() -> None:
    for room in range(80, 320):
        said = wrapped("frames are missed. 2.8 m flown blind at 7 m/s", room)
        assert all(not line.endswith(("2.8", "7")) for line in said)
    assert max(map(len, wrapped("x" * 60, 13 * LETTER * 20))) == 20


@pytest.mark.parametrize("name", ["dipper", "goosander", "sandpiper", "wagtail"])
def test_every_picture_of_the_corpus_is_drawn_twice_alike(name: str) -> None:
    craft, sheet = corpus_craft(name), corpus_sheet(name)
    once, again = album(craft, sheet), album(craft, sheet)
    assert once == again
    assert not [one for one in once if isinstance(one, Missing)]


@pytest.mark.parametrize("name", ["dipper", "goosander", "sandpiper", "wagtail"])
def test_a_picture_has_a_title_words_and_a_table_as_wide_as_its_head(name: str) -> None:
    for one in album(corpus_craft(name), corpus_sheet(name)):
        assert isinstance(one, Picture)
        root = ElementTree.fromstring(as_svg(one, "side-"))
        assert root.attrib["role"] == "img"
        labels = root.attrib["aria-labelledby"].split()
        assert [root[0].attrib["id"], root[1].attrib["id"]] == labels
        assert root[0].text
        assert len(root[1].text or "") > 40
        assert one.table.rows
        assert {len(row) for row in one.table.rows} == {len(one.table.head)}


def test_without_a_sheet_only_the_rails_are_missing() -> None:
    made = album(corpus_craft("dipper"), None)
    assert [one.name for one in made if isinstance(one, Missing)] == ["rails"]


BOTH = """
[receiver]
low = 1000
high = 2000
[receiver.map]
spare1 = 5
spare2 = 6
[battery]
chemistry = lipo
cells = 4
full_cell = 4.2 V
"""
OLD = (
    BOTH + "warn_cell = 3.5 V\n[switches]\narm = 5: 1700..2000\nself_level = 6: 1500..2000\n"
    "[banks.1.rates.roll]\ncentre = 200\nmax = 600\nexpo = 0\n"
)
NEW = (
    OLD.replace("warn_cell = 3.5 V", "warn_cell = 2.4 V")
    .replace("arm = 5: 1700", "arm = 5: 1600")
    .replace("max = 600", "max = 1200")
)


def pairs(old: Craft, new: Craft) -> dict[str, PicturePair]:
    return {pair.new.name: pair for pair in album_of_change((old, None), (new, None))}


def test_a_picture_has_one_scale_before_and_after() -> None:
    found = pairs(craft(OLD), craft(NEW))
    top = 1200 * 1.05  # of the steeper curve, with the picture's room of a twentieth above it
    for name, axis in (
        ("rates", Axis("rate", 0, top)),
        ("battery", Axis("volts a cell", 2.15, 4.55)),
    ):
        for side in (found[name].old, found[name].new):
            assert isinstance(side, Picture)
            assert side.drawing.axes[0].name == axis.name
            assert side.drawing.axes[0][1:] == pytest.approx(
                axis[1:]
            )  # 2.4 less 0.25, 4.2 and 0.35
    alone = found["rates"].whole
    assert isinstance(alone, Picture)
    assert alone.drawing.axes[0].high == top
    old = album(craft(OLD), None)
    assert next(one for one in old if one.name == "rates") != found["rates"].old


def test_of_rows_before_and_after_those_that_are_alike_are_left_out() -> None:
    pair = pairs(craft(OLD), craft(NEW))["switches"]
    assert pair.alike == ("channel 6 (spare2)",)
    for side in (pair.old, pair.new):
        assert isinstance(side, Picture)
        assert [name for name, _ in side.drawing.rows] == ["channel 5 (spare1)"]
        assert {row[1] for row in side.table.rows} == {"arm"}
    assert isinstance(pair.whole, Picture)
    assert len(pair.whole.drawing.rows) == 2


def test_a_row_that_one_side_alone_has_stands_among_all_of_the_other_s() -> None:
    more = OLD.replace("arm = 5", "buzzer = 7: 1700..2000\narm = 5")
    pair = pairs(craft(OLD), craft(more))["switches"]
    assert pair.alike == ()
    sides = [side.drawing.rows for side in (pair.old, pair.new) if isinstance(side, Picture)]
    assert [len(rows) for rows in sides] == [2, 3]

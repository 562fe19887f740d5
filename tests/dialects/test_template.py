"""The language of mapping lines and head lines: what it refuses, where, and that it never idles.

Columns are counted off the line by hand, from 0.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.opening import open_dump
from cfgaudit.dialects.reader import read_settings
from cfgaudit.dialects.spec import Holder, Spec, SpecError, SpecForm
from cfgaudit.dialects.template import compile_template, match, match_text, text_pieces
from cfgaudit.dialects.template_language import TEMPLATES, parse_spec
from cfgaudit.reading.document import Document
from cfgaudit.reading.grammars import reader
from cfgaudit.reading.shapes import Directive, Look, Opener, Row, Span, cells, words
from cfgaudit.reading.statements import parse_line
from cfgaudit.reading.text import read_text
from cfgaudit.vocabulary.units import unit


def refusal(line: str, look: Look | None = None) -> tuple[int, str]:
    """Where and why a mapping line is refused."""
    with pytest.raises(SpecError) as caught:
        compile_template(line, look or Look())
    assert str(caught.value).startswith(repr(line))
    return caught.value.at, str(caught.value)


@pytest.mark.parametrize(
    ("text", "spec"),
    [
        ("", Spec()),
        (" list ", Spec(many=True)),
        (" words turn", Spec(SpecForm.WORDS, table="turn")),
        ("list words turn", Spec(SpecForm.WORDS, table="turn", many=True)),
        (" words words", Spec(SpecForm.WORDS, table="words")),
        (" flags jobs ", Spec(SpecForm.FLAGS, table="jobs")),
        (" not", Spec(SpecForm.NOT)),
        (" from -1", Spec(SpecForm.FROM, base=-1)),
        (" V", Spec(SpecForm.SCALED, "V")),
        (" 0.01 V", Spec(SpecForm.SCALED, "V", Fraction(1, 100))),
        (" 1/8 deg", Spec(SpecForm.SCALED, "deg", Fraction(1, 8))),
        (" -0.001", Spec(SpecForm.SCALED, "", Fraction(-1, 1000))),
        (" 25 us + 900 us", Spec(SpecForm.SCALED, "us", Fraction(25), Fraction(900))),
        (" us + 900", Spec(SpecForm.SCALED, "us", Fraction(1), Fraction(900))),
        (" + 5", Spec(SpecForm.SCALED, "", Fraction(1), Fraction(5))),
        ("list 1e1 mW", Spec(SpecForm.SCALED, "mW", Fraction(10), many=True)),
    ],
)
def test_a_spec_says_how_a_value_is_written(text: str, spec: Spec) -> None:
    assert parse_spec(text) == spec


@pytest.mark.parametrize(
    ("line", "at", "said"),
    [
        ("low = {battery.warn_cell: 0 V}", 26, "a scale and a unit are expected"),
        ("low = {battery.warn_cell: 1/0 V}", 26, "divided by 0"),
        ("low = {battery.warn_cell: 0.01 Volt}", 31, "unknown unit 'Volt'"),
        ("low = {battery.warn_cell: word turn}", 26, "did you mean words?"),
        ("low = {battery.warn_cell: words}", 31, "the name of a table is expected"),
        ("low = {battery.warn_cell: words a b}", 34, "} is expected"),
        ("low = {battery.cells: from x}", 27, "a whole number is expected"),
        ("low = {esc.pulse_min: 5 us + 3 V}", 31, "an offset in the same unit"),
        ("low = {esc.pulse_min: 5 us + us}", 29, "a number is expected"),
        ("low = {esc.pulse_min: 5us}", 22, "a number, a unit, words NAME"),
        ("low = {pack}", 7, "pack: in braces, a setting's path or an index in capitals"),
        ("low = {}", 7, "a setting's path or an index in capitals"),
        ("low = {a b}", 7, "a setting's path or an index in capitals"),
        ("low = {battery.cells", 6, "a brace without its partner"),
        ("low = battery.cells}", 19, "a brace without its partner"),
        ("low = {a{battery.cells}", 6, "a brace without its partner"),
        ('low "{battery.cells}', 4, 'a closing " before the end of the line'),
        ('{ID} "{battery.cells}', 5, 'a closing " before the end of the line'),
        ("# low {battery.cells}", 0, "it says nothing"),
        ("low \ue000 {battery.cells}", 4, "a letter that no one else uses"),
    ],
)
def test_a_slip_is_told_with_its_place_and_what_was_expected(line: str, at: int, said: str) -> None:
    found, message = refusal(line)
    assert said in message
    assert found == at


@pytest.mark.parametrize(
    ("line", "at", "said"),
    [
        ("port {ID}{battery.cells}", 9, "nothing tells where {ID} ends and {battery.cells} begins"),
        ("port {ID}{esc.reports = on}{N}", 27, "nothing tells where {ID} ends and {N} begins"),
        ("port *{ID} 3", 6, "nothing tells where * ends and {ID} begins"),
        ("low = {battery.warn_cell: V} [V]", 29, "hold no placeholder"),
        ("say hi [there]", 7, "hold no placeholder"),
        ("low = {battery.warn_cell} [{battery.cells}]", 26, "a value is one text"),
        ("a {ID} [x={battery.cells}] b [{N}]", 27, "put it in brackets"),
        ("link {ID} [{ports.ID.baud}, {ports.ID.inverted}]", 10, "a comma makes cells of this"),
        ("link {ID} [, {ports.ID.baud}]", 10, "without its optional part the line reads other"),
        ("end x [a={battery.cells}]", 6, "without its optional part the line reads otherwise"),
        ("tunes {video.plan.powers: list mW} {battery.cells}", 35, "a list takes the rest"),
        ("tunes,{video.plan.powers: list mW},", 35, "a list takes the rest"),
        ("x a={battery.cells} a={motors.poles}", 20, "a= stands twice"),
        ("a {battery.cells} [b[0]={motors.poles}]", 18, "hold no placeholder"),
    ],
)
def test_a_line_that_would_never_be_found_or_lose_its_brackets_is_refused(
    line: str, at: int, said: str
) -> None:
    found, message = refusal(line)
    assert said in message
    assert found == at


def test_a_comma_in_a_line_that_opens_a_block_is_refused() -> None:
    look = Look(opens=("group",), closes=("done",))
    assert refusal("group {N}, gains", look) == (
        9,
        "'group {N}, gains': group opens or closes a block, and a line of cells does neither",
    )
    assert compile_template("group {N} gains", look).form is Opener


def test_a_head_line_refuses_what_takes_no_text_or_all_of_it() -> None:
    with pytest.raises(SpecError, match=r"nothing tells where \{firmware.version\} ends"):
        text_pieces("reed {firmware.version}{board.name}")
    with pytest.raises(SpecError, match="a constant has no place here") as caught:
        text_pieces("reed {finder.buzzer = on}")
    assert caught.value.at == 5


@pytest.mark.parametrize(
    "line", ["reed [1] of {N} [x] and", "{ reed", "reed }", "[reed]", "a [b] c]", "reed {"]
)
def test_brackets_and_lone_braces_are_text_in_a_head_line(line: str) -> None:
    bound = match_text(text_pieces(line), line.replace("{N}", "7"))
    assert bound is not None
    assert [span.text for _, span in bound] == ["7"] * line.count("{N}")


@given(st.text(st.sampled_from("ab01 .,=:;#\"-\t/'<>"), max_size=20))
def test_a_line_without_braces_and_brackets_is_text_for_the_grammar_too(line: str) -> None:
    assert "".join(reader(TEMPLATES, "line")(line)) == line


def test_optional_words_may_lack_and_literal_ones_may_not() -> None:
    line = "link {ID} [{ports.ID.baud: Bd} turned={ports.ID.inverted}]"
    template = compile_template(line, Look())
    assert [slot.optional for slot in template.slots] == [False, False, True, True]
    for dump, count in (
        ("link 2", 1),
        ("link 2 9600", 2),
        ("link 2 turned=on", 2),
        ("port 2", None),
    ):
        shape = parse_line(dump)
        assert isinstance(shape, Directive)
        bound = match(template, shape, words(shape.body))
        assert (None if bound is None else len(bound)) == count


def test_an_optional_cell_may_lack() -> None:
    line = "{SLOT},{filters.gyro[SLOT].cutoff: Hz}, [{filters.gyro[SLOT].q}]"
    template = compile_template(line, Look())
    for dump, count in (("first,90", 2), ("first,90,3", 3)):
        shape = parse_line(dump)
        assert isinstance(shape, Row)
        bound = match(template, shape, cells(shape.body))
        assert bound is not None
        assert len(bound) == count


def test_a_placeholder_knows_where_it_stands() -> None:
    template = compile_template("gain {N} x{motors.poles} {finder.buzzer = on}", Look())
    assert [(h.target, h.at) for h in template.holders] == [("N", 5), ("motors.poles", 10)]
    assert template.constants == (Holder("finder.buzzer", Spec(), "on", 25),)


def test_an_index_is_filled_in_in_a_constant_too() -> None:
    of = build_dialect(
        {
            "name": "reed",
            "words": {"deeds": {"wake": "arm"}},
            "lines": [{"map": ["no when {FUNCTION: words deeds} {switches.FUNCTION = none}"]}],
        },
        "reed.toml",
    )
    found = open_dump("a.dump", b"no when wake\n", [of], of)
    assert found.settings["switches.arm"].value == ()


def test_a_unit_of_the_table_can_stand_in_a_spec() -> None:
    for symbol in ("V", "deg/s", "%", "°", "mV/A", "rpm/V"):
        assert parse_spec(f" 0.5 {symbol}").unit == unit(symbol).symbol


@pytest.mark.parametrize("head", ["reed speaks", "# reed: [1] *"])
def test_a_dialect_is_recognised_by_a_head_line_without_a_placeholder(head: str) -> None:
    of = build_dialect({"name": "reed", "look": {"head": [head]}}, "reed.toml")
    found = open_dump("a.dump", f"{head.replace('*', 'so')}\nlow = 3\n".encode(), [of])
    assert found.dialect.name == "reed"


def test_a_span_of_a_masked_line_is_told_where_it_stands_in_the_line() -> None:
    at, message = refusal('say {finder.buzzer = on} {battery.cells} "so')
    assert (at, 'a closing "' in message) == (41, True)
    assert Span("so", at + 1).end == len('say {finder.buzzer = on} {battery.cells} "so')


def test_any_text_twice_is_any_text_in_a_head_line() -> None:
    for line in ("reed ** of {N}", "reed * of {N}"):
        bound = match_text(text_pieces(line), "reed and rush of 7")
        assert bound is not None
        assert [span.text for _, span in bound] == ["7"]


def test_a_setting_whose_path_is_one_word_is_mapped_like_others() -> None:
    content = {
        "name": "reed",
        "words": {"both": {"AND": "all", "OR": "any"}},
        "lines": [{"map": ["two channels {switches_join: words both}"]}],
    }
    dialect = build_dialect(content, "reed.toml")
    document = Document("a.dump", read_text(b"two channels AND\n"), dialect.look)
    assert read_settings(document, dialect)["switches_join"].value == "all"

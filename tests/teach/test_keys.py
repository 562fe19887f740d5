from cfgaudit.reading.document import read_document
from cfgaudit.reading.shapes import Assignment, Directive, Row
from cfgaudit.teach.keys import Family, families_of
from cfgaudit.teach.scopes import scopes_of


def families(text: str) -> list[Family]:
    return families_of([scopes_of(read_document("a.dump", text.encode()), ())])


def test_sections_that_differ_in_a_word_are_one_sort_with_an_index() -> None:
    found = families("[port a]\nspeed = 96\n[port b]\nspeed = 1152\n[pack]\nlow = 3\n")
    assert [(f.head, f.indices) for f in found] == [("speed", [["a", "b"]]), ("low", [])]
    assert [(s.text, s.under) for s in found[0].fields[0].samples] == [
        ("96", ("a",)),
        ("1152", ("b",)),
    ]


def test_the_first_word_that_tells_directives_apart_is_an_index() -> None:
    [gain] = families("gain roll 45 80\ngain pitch 48 84\ngain yaw 40 82\n")
    assert gain.form is Directive
    assert gain.indices == [["roll", "pitch", "yaw"]]
    assert [[s.text for s in field.samples] for field in gain.fields] == [
        ["45", "48", "40"],
        ["80", "84", "82"],
    ]


def test_lines_that_repeat_behind_a_numbered_word_make_groups_of_it() -> None:
    found = families("bank 1\np = 4\ni = 5\nbank 2\np = 6\ni = 7\n")
    assert [(f.chain[0].line, f.head, f.indices) for f in found] == [
        ("bank \0", "p", [["1", "2"]]),
        ("bank \0", "i", [["1", "2"]]),
    ]


def test_a_table_with_units_has_items_and_another_one_has_records() -> None:
    items = families("begin x\nitem,value,unit\nlow,3,V\nrate,50,Hz\nend x\n")
    assert [(f.head, f.fields[0].unit) for f in items] == [("low", "V"), ("rate", "Hz")]
    [records] = families("begin y\narm,outlet,turn\nfl,1,cw\nfr,2,ccw\nend y\n")
    assert records.form is Row
    assert records.indices == [["fl", "fr"]]
    assert [field.names[0] for field in records.fields] == ["outlet", "turn"]


def test_a_value_with_letters_and_a_range_is_cut_into_its_numbers() -> None:
    [works] = families("[lever a]\nw = ch5 60-80\n[lever b]\nw = ch6 40-80\n[lever c]\nw = never\n")
    assert works.form is Assignment
    assert works.parts == [("", ("ch", 0, " ", 1, "-", 2))]
    assert [[s.text for s in field.samples] for field in works.fields] == [
        ["5", "6"],
        ["60", "40"],
        ["80", "80"],
    ]


def test_a_negated_word_is_a_switch() -> None:
    found = families("no hunting\nanswers\n")
    assert [(f.head, f.fields[0].switch, f.fields[0].samples[0].text) for f in found] == [
        ("hunting", True, "off"),
        ("answers", True, "on"),
    ]


def test_a_section_ends_what_indented_titles_have_opened() -> None:
    found = families("one:\n  a: 1\ntwo:\n  b: 2\nthree:\n  c: 3\n[four]\nd = 4\ne = 5\n")
    assert [(f.chain[-1].line, f.head) for f in found[-2:]] == [("[four]", "d"), ("[four]", "e")]

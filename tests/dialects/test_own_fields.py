"""What a mapping passes over is the dump's own: it is read as a part of its line, and it stays."""

import pytest

from cfgaudit.changes.diff import Changed, diff
from cfgaudit.dialects.dialect import Dialect, build_dialect
from cfgaudit.dialects.editor import Edited, edit
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.git.merge import Marks, MergeResult, merge_dumps
from cfgaudit.vocabulary.kinds import Value
from cfgaudit.work.upgrade import review

MAP = [
    "arm {ARM: words arms} {motors.ARM.output} {motors.ARM.spin: words turn} *",
    "link {ID} {ports.ID.roles: flags jobs} * [{ports.ID.baud: Bd} turned={ports.ID.inverted}]",
    "voice {telemetry.protocol} ...",
]


def small(*lines: str, **more: object) -> Dialect:
    words = {
        "arms": {"bow": "front_left", "stern": "rear_left"},
        "turn": {"sun": "cw", "moon": "ccw"},
    }
    flags = {"jobs": {"telemetry": 4, "receiver": 1}}
    data = {"name": "small", "lines": [{"map": list(lines)}], "words": words, "flags": flags}
    return build_dialect({**data, **more}, "small.toml")


OF = small(*MAP)


def dump(text: str, of: Dialect = OF) -> Opened:
    return open_dump("a.dump", text.encode(), (), of)


def edited(text: str, of: Dialect = OF, **values: Value) -> Edited:
    """An edit; a double underscore stands for a dot."""
    return edit(dump(text, of), {path.replace("__", "."): v for path, v in values.items()})


def text_of(done: Edited) -> str:
    assert done.refused == {}
    return done.opened.document.to_bytes().decode()


def merged(base: str, ours: str, theirs: str) -> MergeResult:
    was, mine, others = (side.encode() for side in (base, ours, theirs))
    return merge_dumps(
        was, mine, others, Marks(), lambda data, _: open_dump("a.dump", data, (), OF)
    )


def test_a_field_that_is_passed_over_is_a_raw_part_of_its_line() -> None:
    raw = dump("arm bow 1 sun 85\nvoice mavlink 8 pitch=3\n").settings.raw
    assert {key: (entry.value, entry.known, entry.part) for key, entry in raw.items()} == {
        "arm bow/field 5": ("85", True, True),
        "voice/field 3": ("8", True, True),
        "voice/pitch": ("3", True, True),
    }
    place = raw["arm bow/field 5"].place
    assert place is not None
    assert (place.line, place.column, place.end) == (1, 15, 17)


def test_a_change_of_such_a_field_is_a_change_of_the_dump() -> None:
    before, after = dump("arm bow 1 sun 100\n"), dump("arm bow 1 sun 85\n")
    (change,) = diff(before.settings, after.settings)
    assert isinstance(change, Changed)
    assert (change.path, change.raw) == ("arm bow/field 5", True)


def test_one_sides_field_and_the_other_sides_value_of_one_line_merge() -> None:
    base, ours, theirs = "arm bow 1 sun 100\n", "arm bow 1 sun 85\n", "arm bow 2 sun 100\n"
    assert merged(base, ours, theirs)[:2] == (b"arm bow 2 sun 85\n", 0)
    assert merged(base, theirs, ours)[:2] == (b"arm bow 2 sun 85\n", 0)


def test_both_sides_fields_of_one_line_are_a_conflict() -> None:
    done = merged("arm bow 1 sun 100\n", "arm bow 1 sun 85\n", "arm bow 1 sun 90\n")
    assert (done.conflicts, done.clashes) == (1, ("arm bow/field 5",))


def test_a_line_that_is_written_anew_keeps_the_fields_that_its_mapping_passes_over() -> None:
    done = edited("link stern 1 8\n", ports__stern__baud=57600.0)
    assert text_of(done) == "link stern 1 8 57600\n"


def test_without_such_a_line_to_take_them_from_the_edit_is_refused() -> None:
    done = edited("link bow 4 8 9600\n", ports__stern__roles=frozenset({"receiver"}))
    (why,) = done.refused.values()
    assert "more fields than its mapping names" in why
    assert done.opened.document.to_bytes() == b"link bow 4 8 9600\n"


def test_an_upgrade_brings_a_value_back_in_the_line_that_is_there() -> None:
    old = dump("link stern 1 8 57600 turned=yes\narm bow 1 sun 100\n")
    new = dump("link stern 1 8 9600 turned=yes\narm bow 1 moon 100\n")
    assert review(old, new).lines.text == "link stern 1 8 57600 turned=yes\narm bow 1 sun 100\n"


def test_a_field_that_an_upgrade_lost_is_brought_back_too() -> None:
    found = review(dump("arm bow 1 sun 85\n"), dump("arm bow 1 sun 100\n"))
    assert found.lines.text == "arm bow 1 sun 85\n"
    assert found.lines.brings == ("arm bow/field 5",)


BOOLS = small(
    "set quiet {telemetry.enabled}",
    "set loud {finder.buzzer}",
    "set glass {overlay.enabled}",
    "port {ID} turned={ports.ID.inverted} crossed={ports.ID.pins_swapped}",
    "hidden {NAME} {overlay.elements.NAME.shown: not}",
)


@pytest.mark.parametrize(
    ("line", "path", "value", "new"),
    [
        (
            "port bow turned=no crossed=0",
            "ports.bow.inverted",
            True,
            "port bow turned=yes crossed=0",
        ),
        (
            "port bow turned=no crossed=0",
            "ports.bow.pins_swapped",
            True,
            "port bow turned=no crossed=1",
        ),
        ("hidden volts disabled", "overlay.elements.volts.shown", False, "hidden volts enabled"),
    ],
)
def test_a_boolean_is_said_in_the_words_of_its_own_line(
    line: str, path: str, value: bool, new: str
) -> None:
    others = "set quiet on\nset loud off\nset glass on\n"
    done = edit(dump(others + line + "\n", BOOLS), {path: value})
    assert text_of(done) == others + new + "\n"


def test_in_a_new_line_a_boolean_is_said_as_in_the_lines_beside_it() -> None:
    text = "set quiet on\nset loud off\nset glass on\nport bow turned=no crossed=1\n"
    done = edited(text, BOOLS, ports__stern__inverted=True, ports__stern__pins_swapped=False)
    assert text_of(done) == text + "port stern turned=yes crossed=0\n"


def test_a_word_of_ours_does_not_go_where_the_dialect_has_a_line_of_its_own_for_it() -> None:
    of = small("tongue = {telemetry.protocol}", "mute = yes {telemetry.protocol = none}")
    assert text_of(edited("tongue = mavlink\n", of, telemetry__protocol="none")) == "mute = yes\n"


def test_a_word_of_ours_does_not_go_where_the_dialect_has_a_word_for_nothing() -> None:
    of = small("asked = {video.transmitter.control}", look={"off": ["nil"]})
    done = edited("asked = pad\n", of, video__transmitter__control="none")
    assert text_of(done) == "asked = nil\n"


def test_a_word_of_ours_does_not_go_into_a_number_in_steps() -> None:
    of = small("gives {N} {failsafe.channels.N: us}")
    done = edited("gives 3 900\n", of, failsafe__channels__3="hold")
    assert "no word for hold" in done.refused["failsafe.channels.3"]
    # where the dump itself says it so, it can be said so
    done = edited("gives 3 900\ngives 4 hold\n", of, failsafe__channels__3="hold")
    assert text_of(done) == "gives 3 hold\ngives 4 hold\n"


def test_of_two_mappings_that_fit_a_line_the_first_one_acts_alone() -> None:
    of = small("low = {battery.warn_cell: V}", "low = {battery.empty_cell: V}")
    assert set(dump("low = 3.4\n", of).settings.stated) == {"battery.warn_cell"}
    of = small("{ID} {ports.ID.baud: Bd}", "bow {motors.poles}")
    assert set(dump("bow 14\n", of).settings.stated) == {"ports.bow.baud"}

"""A craft of several dumps: each value goes where it is stated, into all of them or none."""

from cfgaudit.dialects.dialect import build_dialect
from cfgaudit.dialects.editor import edit_dumps
from cfgaudit.dialects.opening import Opened, joined, open_dump
from cfgaudit.vocabulary.kinds import Value
from tests.dialects.demo import CORPUS, opened


def dump(name: str, line: str, text: str) -> Opened:
    """A dump of one line in a dialect of that line."""
    of = build_dialect({"name": name, "lines": [{"map": [line]}]}, f"{name}.toml")
    return open_dump(f"{name}.dump", text.encode(), (), of)


FINE = dump("fine", "low = {battery.warn_cell: 0.01 V}", "low = 350\n")
COARSE = dump("coarse", "warn = {battery.warn_cell: 0.1 V}", "warn = 35\n")


def texts(dumps: tuple[Opened, ...]) -> list[bytes]:
    return [one.document.to_bytes() for one in dumps]


def test_a_value_that_two_dumps_state_is_changed_in_both() -> None:
    done = edit_dumps((FINE, COARSE), {"battery.warn_cell": 3.4})
    assert done.refused == {}
    assert texts(done.dumps) == [b"low = 340\n", b"warn = 34\n"]


def test_what_one_of_two_dumps_can_t_say_is_written_into_none() -> None:
    for dumps in ((FINE, COARSE), (COARSE, FINE)):
        done = edit_dumps(dumps, {"battery.warn_cell": 3.45})
        assert "not a whole number of steps" in done.refused["battery.warn_cell"]
        assert texts(done.dumps) == texts(dumps)


def test_a_value_that_one_dump_states_and_another_has_from_the_factory_goes_into_that_one() -> None:
    sandpiper = opened(CORPUS / "sandpiper.dump")
    assert sandpiper.settings["loop.rate"].place is None  # the factory's
    other = dump("other", "loop = {loop.rate: kHz}", "loop = 8\n")
    wanted: dict[str, Value] = {"loop.rate": 2000.0}
    done = edit_dumps((sandpiper, other), wanted)
    assert done.refused == {}
    assert texts(done.dumps) == [sandpiper.document.to_bytes(), b"loop = 2\n"]
    assert joined(done.dumps)["loop.rate"].value == 2000.0


def test_a_value_that_no_dump_states_goes_into_the_first_that_has_a_line_for_it() -> None:
    bare = dump("bare", "cells = {battery.cells}", "cells = 4\n")
    other = dump("other", "loop = {loop.rate: kHz}", "# nothing yet\n")
    done = edit_dumps((bare, other), {"loop.rate": 4000.0})
    assert done.refused == {}
    assert texts(done.dumps) == [b"cells = 4\n", b"loop = 4\n# nothing yet\n"]


def test_what_stands_on_one_line_is_written_together_where_the_dump_states_one_of_it() -> None:
    """Of the line that stood there, `off` alone is stated; the other one wants all three."""
    lines = [
        "show {overlay.elements.satellites.row} {overlay.elements.satellites.column} "
        "{overlay.elements.satellites.shown = on}",
        "no show {overlay.elements.satellites.shown = off}",
    ]
    of = build_dialect({"name": "stars", "lines": [{"map": lines}]}, "stars.toml")
    hidden = open_dump("stars.dump", b"no show\n", (), of)
    star = "overlay.elements.satellites"
    wanted: dict[str, Value] = {f"{star}.shown": True, f"{star}.row": 2, f"{star}.column": 3}
    for paths in (list(wanted), list(reversed(wanted))):
        done = edit_dumps((hidden,), {path: wanted[path] for path in paths})
        assert (done.refused, texts(done.dumps)) == ({}, [b"show 2 3\n"])

"""What merges by setting, what conflicts, and what stays to the byte."""

from pathlib import Path

import pytest

from cfgaudit.git.merge import Marks, merge_dumps
from tests.cli.calling import CORPUS
from tests.git.demo import HEAD, clean, merged, merged_bytes, says, sedge, text_of

PACK = ("[pack]", "cells = 4  # counted", "cell_low = 350", "cell_dry = 330")


def pack(low: str = "cell_low = 350", dry: str = "cell_dry = 330") -> str:
    return sedge("[pack]", "cells = 4  # counted", *([low] if low else []), *([dry] if dry else []))


def test_a_change_on_one_side_is_taken() -> None:
    assert clean(pack(), pack(), pack("cell_low = 345")) == pack("cell_low = 345")
    assert clean(pack(), pack("cell_low = 345"), pack()) == pack("cell_low = 345")


def test_the_same_change_on_both_sides_is_one_change() -> None:
    other = pack("cell_low = 345")
    assert clean(pack(), other, other) == other


def test_one_value_spelled_in_two_ways_is_no_conflict() -> None:
    base = "[ports.uart2]\nbaud = 38400 Bd\n[battery]\ncells = 4\n"
    ours = base.replace("38400 Bd", "57.6 kBd")
    assert clean(base, ours, base.replace("38400 Bd", "57600 Bd")) == ours


def test_changes_of_neighbouring_lines_merge() -> None:
    # git merge-file calls this a conflict
    both = clean(pack(), pack("cell_low = 345"), pack(dry="cell_dry = 320"))
    assert both == pack("cell_low = 345", "cell_dry = 320")


def test_two_values_of_one_line_merge() -> None:
    line = "roll = 42 78 28 90"
    base = sedge("[hand]", "gains of bank 0", line)
    ours, theirs = base.replace("42", "44"), base.replace("28", "26")
    assert clean(base, ours, theirs) == base.replace(line, "roll = 44 78 26 90")


def test_the_same_setting_changed_differently_conflicts_around_that_setting_alone() -> None:
    outcome = merged(pack(), pack("cell_low = 345"), pack("cell_low = 340", "cell_dry = 320"))
    assert (outcome.conflicts, outcome.clashes) == (1, ("battery.warn_cell",))
    wanted = "<<<<<<< ours\ncell_low = 345\n=======\ncell_low = 340\n>>>>>>> theirs"
    assert text_of(outcome) == pack(wanted, "cell_dry = 320")


def test_marks_have_the_length_and_the_names_asked_for_and_the_base_if_wanted() -> None:
    marks = Marks(9, "HEAD", "base", "weir-trial", show_base=True)
    outcome = merged(pack(), pack("cell_low = 345"), pack("cell_low = 340"), marks)
    wanted = (
        "<<<<<<<<< HEAD\ncell_low = 345\n||||||||| base\ncell_low = 350\n"
        "=========\ncell_low = 340\n>>>>>>>>> weir-trial"
    )
    assert text_of(outcome) == pack(wanted)


def test_two_settings_in_conflict_are_marked_one_by_one() -> None:
    outcome = merged(pack(), pack("cell_low = 345", "cell_dry = 325"), pack("cell_low = 340", ""))
    assert outcome.clashes == ("battery.warn_cell", "battery.empty_cell")
    assert text_of(outcome).count("<<<<<<< ours\n") == 2


def test_delete_against_change_conflicts_both_ways_round() -> None:
    outcome = merged(pack(), pack(""), pack("cell_low = 340"))
    assert text_of(outcome) == pack("<<<<<<< ours\n=======\ncell_low = 340\n>>>>>>> theirs")
    outcome = merged(pack(), pack("cell_low = 340"), pack(""))
    assert text_of(outcome) == pack("<<<<<<< ours\ncell_low = 340\n=======\n>>>>>>> theirs")


def test_delete_against_nothing_deletes() -> None:
    assert clean(pack(), pack(), pack("")) == pack("")
    assert clean(pack(), pack(""), pack(dry="cell_dry = 320")) == pack("", "cell_dry = 320")


def test_a_file_that_both_sides_added_merges_without_a_base() -> None:
    ours, theirs = pack(dry=""), pack(low="")
    assert text_of(merged("", ours, theirs)) == pack()
    outcome = merged("", pack(), pack("cell_low = 340"))
    assert outcome.clashes == ("battery.warn_cell",)


def test_a_whole_new_section_comes_with_its_comment_before_the_end_mark() -> None:
    more = ("", "# the levers", "[lever wake]", "works = ch4 60-80")
    assert clean(sedge(*PACK), sedge(*PACK), sedge(*PACK, *more)) == sedge(*PACK, *more)


def test_both_sides_may_add_to_one_new_section() -> None:
    base = sedge(*PACK)
    ours = sedge(*PACK, "[drive]", "magnets = 14")
    theirs = sedge(*PACK, "[drive]", "speech = digits_600")
    both = clean(base, ours, theirs)
    assert both.count("[drive]") == 1
    assert says(both.encode()) == says(ours.encode()) | says(theirs.encode())


def test_a_section_that_one_side_took_out_goes_head_and_all() -> None:
    drive = ("[drive]", "magnets = 14")
    assert clean(sedge(*PACK, *drive), sedge(*PACK, *drive), sedge(*PACK)) == sedge(*PACK)


def test_what_they_add_to_a_section_that_we_took_out_brings_its_head_back() -> None:
    base = sedge(*PACK, "[drive]", "magnets = 14")
    theirs = sedge(*PACK, "[drive]", "magnets = 14", "speech = digits_600")
    assert clean(base, sedge(*PACK), theirs) == sedge(*PACK, "[drive]", "speech = digits_600")


def test_reordered_sections_do_not_conflict_with_changes_in_them() -> None:
    drive = ("[drive]", "magnets = 14", "speech = digits_600")
    base, turned = sedge(*PACK, *drive), sedge(*drive, *PACK)
    theirs = base.replace("350", "345").replace("14", "12")
    assert clean(base, turned, theirs) == turned.replace("350", "345").replace("14", "12")
    assert says(clean(base, theirs, turned).encode()) == says(theirs.encode())


def test_a_list_changed_on_both_sides_conflicts_and_on_one_side_is_taken() -> None:
    def levers(*works: str) -> str:
        return sedge(*(line for work in works for line in ("[lever horn]", f"works = {work}")))

    base = levers("ch4 60-80", "ch5 20-40")
    assert clean(base, base, levers("ch5 20-40")) == levers("ch5 20-40")
    # each side took out another one: neither outcome is what both meant
    assert merged(base, levers("ch4 60-80"), levers("ch5 20-40")).clashes


def test_comments_of_both_sides_are_kept() -> None:
    base = sedge("[pack]", "# by the book", "cells = 4")
    ours = base.replace("# by the book", "# by the book\n# weighed in spring")
    theirs = base.replace("# by the book", "# by the blue book").replace("= 4", "= 3")
    both = clean(base, ours, theirs)
    assert "# weighed in spring\n# by the blue book\ncells = 3\n" in both


def test_a_comment_behind_a_setting_is_merged_apart_from_its_value() -> None:
    base = pack()
    assert clean(base, base.replace("# counted", "# sure"), base.replace("= 4", "= 3")) == (
        base.replace("cells = 4  # counted", "cells = 3  # sure")
    )


def test_two_comments_behind_one_setting_are_a_conflict_too() -> None:
    outcome = merged(pack(), pack().replace("counted", "sure"), pack().replace("counted", "felt"))
    assert (outcome.conflicts, outcome.clashes) == (1, ("battery.cells",))


def test_layout_of_ours_is_kept_where_theirs_changes_a_value() -> None:
    base = sedge("[pack]", "cells = 4", "cell_low = 350")
    ours = base.replace("cells = 4", "\tcells   =   4   # four")
    assert clean(base, ours, base.replace("= 4", "= 3")) == ours.replace("=   4", "=   3")


def test_line_ends_of_ours_are_kept_whatever_theirs_are() -> None:
    base, theirs = pack(), pack("cell_low = 345").replace("cells = 4", "cells = 3")
    ours = pack(dry="cell_dry = 320").replace("\n", "\r\n")
    wanted = pack("cell_low = 345", "cell_dry = 320").replace("cells = 4", "cells = 3")
    assert clean(base, ours, theirs) == wanted.replace("\n", "\r\n")


def test_marks_have_the_line_ends_of_ours() -> None:
    base, ours, theirs = (
        pack(low).replace("\n", "\r\n") for low in ("cell_low = 350", "cell_low = 345", "")
    )
    text = text_of(merged(base, ours, theirs))
    assert "=======\r\n" in text
    assert text.count("\n") == text.count("\r\n")


def test_a_missing_last_newline_stays_missing() -> None:
    base = "a = 1\nb = 2"
    assert clean(base, "a = 1\nb = 3", "a = 2\nb = 2") == "a = 2\nb = 3"


def test_a_line_behind_a_missing_newline_gets_a_line_of_its_own() -> None:
    assert clean("a = 1", "a = 1", "a = 1\nb = 2\n") == "a = 1\nb = 2\n"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_the_encoding_of_ours_is_kept(encoding: str) -> None:
    base = sedge("[craft]", "greeting = grüß", "[pack]", "cells = 4", "cell_low = 350")
    ours, theirs = base.replace("= 4", "= 3"), base.replace("350", "345")
    outcome = merged_bytes(base.encode(encoding), ours.encode(encoding), theirs.encode(encoding))
    assert not outcome.why_text
    assert outcome.data == ours.replace("350", "345").encode(encoding)


def test_a_dump_of_no_known_dialect_merges_by_its_own_keys() -> None:
    base = "rope 1 blue\nrope 2 red\nset reach = 7\nset depth = 2\n"
    ours, theirs = base.replace("blue", "green"), base.replace("red", "grey").replace("7", "8")
    assert clean(base, ours, theirs) == "rope 1 green\nrope 2 grey\nset reach = 8\nset depth = 2\n"
    assert merged(base, ours, base.replace("blue", "pink")).clashes == ("rope 1",)


def test_a_head_line_is_a_setting_like_any_other() -> None:
    theirs = pack().replace("2.4.1", "2.4.2")
    assert clean(pack(), pack("cell_low = 345"), theirs) == (
        pack("cell_low = 345").replace("2.4.1", "2.4.2")
    )


@pytest.mark.parametrize(
    ("base", "ours", "theirs", "why"),
    [
        (
            pack(),
            pack().replace(HEAD, "osier 7.2.0 made on 2026-09-04 for board Lock 4 rev B\n"),
            pack("cell_low = 345"),
            "different dialects",
        ),
        (pack(), pack("<<<<<<< ours\n=======\n>>>>>>> theirs"), pack(), "unfinished merge"),
        (pack(), pack('x = "y'), pack('x = "z'), "can't be read"),
    ],
    ids=["dialects", "marks", "unread"],
)
def test_what_can_not_be_merged_by_setting_is_merged_as_text(
    base: str, ours: str, theirs: str, why: str
) -> None:
    assert why in merged(base, ours, theirs).why_text


def test_a_fault_of_ours_leaves_the_marks_that_git_puts() -> None:
    def broken(data: bytes, name: str | None) -> object:
        raise RuntimeError("a plank is loose")

    outcome = merge_dumps(b"a = 1\n", b"a = 2\n", b"a = 3\n", Marks(8), broken)  # type: ignore[arg-type]
    assert outcome.data == b"<<<<<<<< ours\na = 2\n========\na = 3\n>>>>>>>> theirs\n"
    assert outcome.conflicts == 1
    assert "(RuntimeError)" in outcome.why_text
    assert "plank" not in outcome.why_text  # it could hold a value of a dump


def test_without_git_both_sides_stand_whole_between_marks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    outcome = merged_bytes(b"\0", b"a\0\n", b"b\0\n")
    assert outcome.data == b"<<<<<<< ours\na\0\n=======\nb\0\n>>>>>>> theirs\n"


def test_binary_files_are_left_alone_and_said_to_conflict() -> None:
    outcome = merged_bytes(b"\0\1", b"\0\2", b"\0\3")
    assert (outcome.data, outcome.conflicts) == (None, 1)


@pytest.mark.parametrize("path", sorted(CORPUS.rglob("*.dump")), ids=lambda path: path.name)
def test_a_file_merged_with_itself_is_itself_to_the_byte(path: Path) -> None:
    data = path.read_bytes()
    assert merged_bytes(data, data, data).data in (data, None)


def test_what_is_said_twice_holds_as_the_side_that_said_so_had_it() -> None:
    # the last one of a kind holds: theirs put another value above the one that is in force
    base = "a = 1\nb = 2\nc = 3\n"
    theirs = "b = 9\na = 1\nb = 2\nc = 3\n"
    both = clean(base, base.replace("c = 3", "c = 4"), theirs)
    assert says(both.encode()) == says(theirs.replace("c = 3", "c = 4").encode())
    base = sedge("[lantern 1]", "hue = reed", "[lantern 2]", "hue = dusk")
    theirs = sedge(
        "[lantern 2]", "hue = chalk", "[lantern 1]", "hue = reed", "[lantern 2]", "hue = dusk"
    )
    outcome = merged(base, base.replace("reed", "sky"), theirs)
    assert text_of(outcome).rindex("hue = dusk") > text_of(outcome).rindex("hue = chalk")


def test_a_comment_above_what_the_other_side_took_out_is_kept() -> None:
    noted = pack().replace("cell_low", "# weighed in spring\ncell_low")
    wanted = pack("# weighed in spring")
    assert clean(pack(), noted, pack("")) == wanted
    assert clean(pack(), pack(""), noted) == wanted


def test_a_comment_in_a_section_that_the_other_side_took_out_is_kept() -> None:
    drive = ("[drive]", "magnets = 14")
    base, without = sedge(*PACK, *drive), sedge(*PACK)
    for noted in (
        sedge(*PACK, "[drive]", "# counted twice", "magnets = 14"),
        sedge(*PACK, "# counted twice", *drive),
    ):
        assert clean(base, noted, without) == sedge(*PACK, "# counted twice")
        assert clean(base, without, noted) == sedge(*PACK, "# counted twice")
    more = ("# counted twice", *drive, "speech = digits_600")
    back = sedge(*PACK, "# counted twice", "[drive]", "speech = digits_600")
    assert clean(base, without, sedge(*PACK, *more)) == back


ARMS = ("begin arms", "tail-left,3,counter-sun,straight,100", "end arms")  # the last is no setting


def marl(row: str = ARMS[1]) -> str:
    head = "# marl 1.12.0 upon Ark 2, issue C, laid down 2026-02-02"
    return "\n".join([head, ARMS[0], row, ARMS[2], "marl has no more to tell", ""])


def test_a_field_without_a_setting_merges_with_a_setting_of_the_same_line() -> None:
    trimmed, moved = marl(ARMS[1].replace("100", "85")), marl(ARMS[1].replace("3", "7"))
    both = marl("tail-left,7,counter-sun,straight,85")
    assert clean(marl(), trimmed, moved) == clean(marl(), moved, trimmed) == both


def test_a_field_without_a_setting_that_both_sides_changed_is_a_conflict() -> None:
    ours, theirs = (marl(ARMS[1].replace("100", trim)) for trim in ("85", "77"))
    outcome = merged(marl(), ours, theirs)
    assert (outcome.conflicts, outcome.clashes) == (1, ("arms/tail-left/field 5",))


DRIVE = ("# the motors", "[drive]", "magnets = 14", "speech = digits_600", "soft_start = 3")


@pytest.mark.parametrize("edit", [("= 14", "= 12"), ("start = 3", "start = 4")])
def test_a_section_that_one_side_took_out_and_the_other_edited_is_one_conflict(
    edit: tuple[str, str],
) -> None:
    base, without = sedge(*PACK, *DRIVE), sedge(*PACK)
    edited = base.replace(*edit)
    whole = "\n".join(DRIVE[1:]).replace(*edit)
    for ours, theirs, marked in (
        (without, edited, f"<<<<<<< ours\n=======\n{whole}\n>>>>>>> theirs"),
        (edited, without, f"<<<<<<< ours\n{whole}\n=======\n>>>>>>> theirs"),
    ):
        outcome = merged(base, ours, theirs)
        assert outcome.conflicts == 1
        assert text_of(outcome) == sedge(*PACK, DRIVE[0], marked)


def test_a_comment_behind_a_head_is_merged_or_marked() -> None:
    base = sedge("[drive]  # by Ines", "magnets = 14")
    ours, theirs = base.replace("Ines", "Jo"), base.replace("Ines", "Ann")
    assert clean(base, base, theirs) == clean(base, theirs, base) == theirs
    outcome = merged(base, ours, theirs)
    assert (outcome.conflicts, outcome.clashes) == (1, ("drive",))
    assert "# by Jo\n=======\n[drive]  # by Ann\n" in text_of(outcome)


@pytest.mark.parametrize("line", ["cell_low = 350", "[pack]"])
def test_a_comment_behind_what_the_other_side_took_out_is_kept(line: str) -> None:
    base, gone = pack(), pack("") if line != "[pack]" else sedge()
    noted = base.replace(line, f"{line}  # CRACKED")
    for outcome in (clean(base, noted, gone), clean(base, gone, noted)):
        assert "# CRACKED\n" in outcome
        assert says(outcome.encode()) == says(gone.encode())


def test_a_comment_said_once_more_is_kept() -> None:
    base = sedge("[pack]", "# a", "cells = 4")
    twice = base.replace("# a", "# a\n# a")
    text = text_of(merged(base, twice, base.replace("= 4", "= 3")))
    assert text.count("# a\n") == 2
    assert text_of(merged(base, base.replace("= 4", "= 3"), twice)).count("# a\n") == 2


def test_a_list_over_several_rows_or_sections_is_one_conflict() -> None:
    def levers(last: str, first: str = "60-80") -> str:
        works = (f"ch4 {first}", "ch5 20-40", f"ch6 {last}")
        return sedge(*(line for work in works for line in ("[lever horn]", f"works = {work}")))

    outcome = merged(levers("10-20"), levers("10-20", "60-90"), levers("10-30"))
    assert outcome.conflicts == text_of(outcome).count("<<<<<<<") == 1
    assert "[lever horn]\nworks = ch4 60-90\n" in text_of(outcome)
    doubled = sedge("[pack]", "cells = 4", "cells = 4", "cell_low = 350")
    outcome = merged(doubled, doubled.replace("cells = 4\n", "", 1), doubled.replace("= 4", "= 3"))
    assert text_of(outcome).count("[pack]") == outcome.conflicts == 1


def demo(name: str, *pairs: tuple[str, str]) -> str:
    """A demo craft's dump with some of its text replaced."""
    text = (CORPUS / f"{name}.dump").read_text("utf-8")
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def stands_whole(base: str, ours: str, theirs: str) -> str:
    """Why both sides stand whole between the marks; the same with the sides exchanged."""
    for one, other in ((theirs, ours), (ours, theirs)):
        outcome = merged(base, one, other)
        wanted = f"<<<<<<< ours\n{one.strip()}\n=======\n{other.strip()}\n>>>>>>> theirs\n"
        assert (outcome.conflicts, text_of(outcome)) == (1, wanted)
    return outcome.why_apart


def test_a_side_that_was_cut_off_conflicts_whole() -> None:
    base = demo("dipper")
    ours = base.replace("called = dipper", "called = ouzel")
    cut = "".join(base.splitlines(keepends=True)[:100])
    assert "theirs lacks the mark at the end" in stands_whole(base, ours, cut)


def test_a_side_without_its_last_settings_conflicts_whole_where_no_mark_tells_the_end() -> None:
    rows = [f"reed {number} = {number}\n" for number in range(40)]
    base, ours = "".join(rows), "".join(["reed 0 = 7\n", *rows[1:]])
    assert "lacks the last 25 settings" in stands_whole(base, ours, "".join(rows[:15]))
    few = merged(base, ours, "".join(rows[:25]))  # as many as somebody may take out
    assert (few.conflicts, text_of(few)) == (0, "".join(["reed 0 = 7\n", *rows[1:25]]))


def test_the_dumps_of_two_craft_conflict_whole() -> None:
    base = demo("dipper")
    ours = base.replace("works = ch5 60-80", "works = ch7 60-80")
    renamed = base.replace("called = dipper", "called = plover")
    other = renamed.replace("RS-0412", "RS-0413")
    why = stands_whole(base, ours, other)
    assert why == "the sides are of different craft, by craft.serial and craft.name"
    assert clean(base, ours, renamed) == ours.replace("called = dipper", "called = plover")


@pytest.mark.parametrize(
    ("craft", "old", "mine", "other"),
    [
        # of one plan and place 6, or of another plan: no place of that
        ("dipper", "band = raster\nplace = 4", "band = raster\nplace = 6",
         "band = meadow\nplace = 4"),
        ("wagtail", "picture_at raster 1", "picture_at raster 2", "picture_at meadow 1"),
        ("goosander", "wake,4,32,48", "wake,5,32,48", "wake,4,40,48"),
        ("wagtail", "when wake ch5 32 48", "when wake ch6 32 48", "when wake ch5 40 48"),
        ("dipper", "[port brook3]\njobs = 4\nspeed = 1152", "[port brook3]\njobs = 2\nspeed = 1152",
         "[port brook3]\njobs = 4\nspeed = 576"),
    ],
)  # fmt: skip
def test_what_means_one_thing_together_conflicts_where_each_side_changed_a_part(
    craft: str, old: str, mine: str, other: str
) -> None:
    base = demo(craft)
    ours, theirs = demo(craft, (old, mine)), demo(craft, (old, other))
    outcome = merged(base, ours, theirs)
    assert len(outcome.clashes) == 2
    assert [pick.decode() for pick in outcome.picks] == [ours, theirs]


def test_what_one_side_changed_together_and_the_other_in_part_is_no_conflict() -> None:
    base = demo("dipper")
    part = demo("dipper", ("place = 4", "place = 6"))
    both = demo("dipper", ("place = 4\ntuned = 5815", "place = 6\ntuned = 5855"))
    assert clean(base, part, both) == clean(base, both, part) == both

import pytest

from cfgaudit.reading.text import read_text
from cfgaudit.teach.look import Outlook, outlook
from cfgaudit.teach.write import draft_dialect, read_draft


def look_of(text: str) -> Outlook:
    return outlook([read_text(text.encode())])


def test_a_prompt_and_the_commands_behind_it_are_found() -> None:
    found = look_of("reed> tell me\n# reed 1.2.3\nlow = 3\nreed>\n")
    assert found.look.prompts == ("reed>",)
    assert "tell me" in found.look.ignore or found.look.ignore == ()


def test_the_head_line_gives_firmware_version_board_and_date() -> None:
    found = look_of("# reed 1.2.3 on Sluice 2 rev B, built 2026-01-02\na = 1\n")
    assert found.firmware == "reed"
    assert found.head == (
        "# reed {firmware.version} on {board.name} rev {board.revision}, built {firmware.built}"
    )


@pytest.mark.parametrize(
    "line", ["reed 7.2*0 of 2026-09-04", "reed {7.2.0}", "reed } 7.2.0", "reed \ue000 7.2.0"]
)
def test_a_line_that_no_mapping_line_can_spell_is_no_head(line: str) -> None:
    read_draft(draft_dialect(("a.dump",), (read_text(f"{line}\ncells = 4\n".encode()),), "trial"))


@pytest.mark.parametrize(
    "line",
    ["Osier listens. Ask \ue000.", "[\ue000]", "*** \ue000 ***", "\ue000> tell", "put \ue000 = 4"],
)
def test_a_letter_that_stands_for_a_placeholder_is_left_out_of_a_draft(line: str) -> None:
    text = "\n".join([line, "cells = 4", line, "warn = 3.5", line, "low = 3.3", ""])
    read_draft(draft_dialect(("a.dump",), (read_text(text.encode()),), "trial"))


def test_a_list_that_is_not_closed_names_no_numbers() -> None:
    text = "".join(f"gain = [{number}, {number + 1}\n" for number in range(4))
    read_draft(draft_dialect(("a.dump",), (read_text(text.encode()),), "trial"))


def test_a_lead_word_is_one_that_stands_before_nearly_every_assignment() -> None:
    assert look_of("".join(f"put key{n} = {n}\n" for n in "abcdef")).look.lead == "put"
    assert look_of("my key = 1\nyour key = 2\nother = 3\n").look.lead == ""


def test_words_that_take_turns_around_lines_begin_and_end_blocks() -> None:
    found = look_of("open one\na = 1\nshut\nopen two\na = 2\nshut\n")
    assert found.look.opens == ("open",)
    assert found.look.closes == ("shut",)


def test_the_last_words_of_a_dump_are_its_end_mark_unless_they_are_a_setting() -> None:
    assert look_of("a = 1\n-- so it ends --\n").look.end == "-- so it ends --"
    assert look_of("a = 1\nb = 2\n").look.end == ""


def test_an_empty_dump_has_the_usual_look() -> None:
    assert look_of("") == look_of("\n")


@pytest.mark.parametrize(
    ("line", "head"),
    [
        (
            '# reed 1.2.3 on Sluice 2, settings of "Heron", printed 2026-03-04 18:02',
            "# reed {firmware.version} on {board.name}, settings of *, printed * *",
        ),
        (
            "REED 1.2.3; board=Sluice-2; craft=Heron",
            "REED {firmware.version}; board={board.name}; craft=*",
        ),
        ("# reed 1.2.3, of Heron at 9:05:33", "# reed {firmware.version}, of * at *"),
        ("reed 1.2.3, built 11 Feb 2026", "reed {firmware.version}, built *"),
        ("# reed 1.2.3 (2026-01-02)", "# reed {firmware.version} ({firmware.built})"),
    ],
)  # fmt: skip
def test_what_the_next_dump_says_otherwise_is_no_text_of_the_head_line(
    line: str, head: str
) -> None:
    """A name, the day and the hour of printing; a date behind the version is the firmware's."""
    assert look_of(f"{line}\nname = Heron\na = 1\n").head == head


def test_a_row_that_is_like_the_next_but_for_figures_is_no_head_row() -> None:
    rows = [
        f"show {name}: row {n}, column 3" for n, name in enumerate(("volts", "amps", "name"), 2)
    ]
    draft = draft_dialect(("a.dump",), (read_text("\n".join(rows).encode()),), "trial")
    assert "ignore" not in draft.text
    assert sum(len(made.seen.samples) for made in draft.proposals) >= 6


def test_a_setting_that_dots_lead_to_is_neither_noise_nor_the_firmwares_head() -> None:
    found = look_of("board ........ Sluice\nboard rev .... 1.3\naction ....... land\n")
    assert (found.look.ignore, found.head) == ((), "")


def test_a_last_line_between_two_rules_is_the_end_and_no_section() -> None:
    found = look_of("==== report ====\nlow = 3\n==== end of report ====\n")
    assert found.look.end == "==== end of report ===="


def test_titles_of_a_second_dump_open_no_blocks_of_the_first() -> None:
    lines = ["title Heron", "", "BATTERY", "cells 4", "warn 3.5", "", "GAINS", "roll 45"]
    text = read_text("\n".join(lines).encode())
    assert outlook([text, text]).look == outlook([text]).look


def test_a_head_line_has_text_between_its_holes() -> None:
    head = 'osier 7.2"new aft arm at 170 outings"'
    made = outlook([read_text(f"{head}\nloop = 4000\n".encode())])
    assert "}*" not in made.head
    assert "*{" not in made.head


def test_full_stops_that_most_lines_end_with_are_no_part_of_their_values() -> None:
    lines = [f"Channel {n} is held for {n} s." for n in range(1, 20)]
    assert look_of("\n".join(["Hello.", *lines])).look.blanks == "."

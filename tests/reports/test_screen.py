"""A screen: what wraps, what stays together, what lines up."""

from cfgaudit.reports.screen import Piece, Screen, cells, wrapped


def printed(screen: Screen) -> list[str]:
    return screen.plain().splitlines()


def test_a_figure_and_its_unit_stay_on_one_line() -> None:
    for width in range(31, 70):
        screen = Screen(width)
        screen.paragraph("the notch at 95 Hz is late by 1.09 ms, 640 deg/s of 2,000 deg/s, 8 %, so")
        said = printed(screen)
        assert all(not line.rstrip().endswith(tuple("0123456789")) for line in said)
        assert " ".join(line.strip() for line in said).count("1.09 ms, 640 deg/s") == 1


def test_a_figure_before_a_word_that_is_no_unit_may_end_a_line() -> None:
    assert wrapped("channel 5 goes", 9) == ["channel 5", "goes"]


def test_what_is_longer_than_the_screen_goes_on_below_further_in() -> None:
    screen = Screen(50)
    screen.paragraph(
        "a-long-name-of-a-dump.dump:214:17  receiver.map.throttle",
        label="Where", hang=12, further=2,
    )  # fmt: skip
    assert printed(screen) == [
        "  Where       a-long-name-of-a-dump.dump:214:17",
        "                receiver.map.throttle",
    ]


def test_a_label_is_made_safe_as_its_text_is() -> None:
    screen = Screen(60)
    screen.paragraph("text", label="a\x1b[31m\u202eb", hang=4)
    assert printed(screen) == [r"  a\x1b[31m\u202ebtext"]


def test_columns_line_up_whatever_letters_a_dump_has() -> None:
    screen = Screen(60)
    screen.table([("河烏", "1"), ("e\u0301tang", "2"), ("weir", "3")])
    ends = [line[:-1] for line in printed(screen)]
    assert [cells(end) for end in ends] == [9, 9, 9]  # 2, the widest name's 5, and 2


def test_a_column_that_may_wrap_does_so_before_the_table_leaves_the_screen() -> None:
    screen = Screen(44)
    rows = [("plan.meadow", "5733 MHz, 5752 MHz, 5771 MHz, 5790 MHz", Piece("line 465", "quiet"))]
    screen.table([*rows, ("plan.powers", "1 mW", "line 4")], wraps=1)
    assert printed(screen) == [  # 44 less 2 + 11 + 2 + 2 + 8 leaves 19 places
        "  plan.meadow  5733 MHz, 5752 MHz,  line 465",
        "               5771 MHz, 5790 MHz",
        "  plan.powers  1 mW                 line 4",
    ]


def test_a_table_without_a_column_that_can_wrap_has_its_cells_below_each_other() -> None:
    screen = Screen(40)
    screen.table(
        [("overlay.elements.altitude", "by the stick", Piece("line 465", "quiet")), ("", "4", "")],
        head=("setting", "value", "where"),
    )
    assert printed(screen) == [  # 2 + 25 + 2 + 12 is 41; each cell has its column's head
        "  overlay.elements.altitude",
        "      value by the stick  where line 465",
        "      value 4",
    ]


def test_a_last_cell_that_is_too_long_stands_below_its_row_alone() -> None:
    screen = Screen(40)
    screen.table(
        [("battery.divider", "11", "line 347"), ("battery.cells", "4", "of-pack.dump:340")]
    )
    assert printed(screen) == [  # 2 + 15 + 2 + 2 + 2 leave 17 places; the second row's 16 fit
        "  battery.divider  11  line 347",
        "  battery.cells    4   of-pack.dump:340",
    ]
    screen = Screen(38)
    screen.table(
        [("battery.divider", "11", "line 347"), ("battery.cells", "4", "of-pack.dump:340")]
    )
    assert printed(screen) == [
        "  battery.divider  11  line 347",
        "  battery.cells    4",
        "      of-pack.dump:340",
    ]


def test_a_text_stands_below_its_label_where_little_room_is_left_beside_it() -> None:
    said = "it falls, as deep as the figure says, before the motors pull again"
    for width in range(40, 60):
        screen = Screen(width)
        screen.paragraph(said, label="In the air", hang=12)
        lines = printed(screen)
        assert " ".join(" ".join(lines).split()) == f"In the air {said}"
        assert max(map(len, lines)) <= width
        assert (lines[0] == "  In the air") == (width < 44)  # 2 + 12 leave fewer than 30


def test_a_table_that_fits_is_left_as_it_is() -> None:
    screen = Screen(44)
    screen.table([("a", "b c d", "line 1")], wraps=1)
    assert printed(screen) == ["  a  b c d  line 1"]


def test_an_entry_stands_beside_its_head_or_below_it_where_there_is_no_room() -> None:
    wide, narrow = Screen(80), Screen(50)
    for screen in (wide, narrow):
        screen.entries([("receiver/centre-off", "lacks receiver.map.roll, receiver.map.yaw")])
    assert printed(wide) == ["  receiver/centre-off  lacks receiver.map.roll, receiver.map.yaw"]
    assert printed(narrow) == [
        "  receiver/centre-off",
        "      lacks receiver.map.roll, receiver.map.yaw",
    ]

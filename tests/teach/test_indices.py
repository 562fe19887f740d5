from cfgaudit.teach.words import NO, index_match


def test_a_long_row_of_words_is_no_index_of_ours_and_is_not_compared() -> None:
    """No craft has two hundred pads: such lines are somebody's table, however many it has."""
    words = tuple(f"pad{n}" for n in range(200))
    assert index_match("ID", "pads.ID.timer", words[:20], ()) is not NO
    assert index_match("ID", "pads.ID.timer", words, ()) is NO

"""What an answer without a line is taken to be about: the one line that fits it, or none."""

from cfgaudit.settings import Settings
from cfgaudit.teach.asking import Answer, State, answered, taught, unplaced
from tests.teach.test_shapes import asked


def told(state: State, **answers: str) -> State:
    for path, value in answers.items():
        state = answered(state, Answer(path.replace("__", "."), value))
    return state


def stated(state: State) -> Settings:
    return taught(state).settings


def test_a_stick_is_not_tied_to_a_line_that_is_another_channel_by_its_words() -> None:
    """4 is the video channel; that it would be the yaw stick's too is chance."""
    state = asked("video_channel = 4", "video_power_mw = 25", "stick_map = TAER")
    state = told(state, receiver__map__roll="2", receiver__map__yaw="4")
    assert not [path for path in stated(state) if path.startswith("receiver.map.")]
    assert [one.answer.asked for one in unplaced(state)] == [
        "receiver.map.roll",
        "receiver.map.yaw",
    ]
    found = stated(told(state, video__transmitter__channel="4"))
    assert found["video.transmitter.channel"].value == 4


def test_of_two_lines_with_one_value_none_is_taken_unless_their_words_tell() -> None:
    lines = ["failsafe_stork = 1.0", "failsafe_heron = 1.0"]
    state = told(asked(*lines), failsafe__hold_for="1 s")
    assert "failsafe.hold_for" not in stated(state)
    assert [str(one.why) for one in unplaced(state)] == ["lines 1 and 2 fit it equally well"]
    state = told(asked(*lines, "failsafe_hold = 1.0"), failsafe__hold_for="1 s")
    place = stated(state)["failsafe.hold_for"].place
    assert place is not None
    assert place.line == 3
    assert not unplaced(state)


def test_the_line_that_the_builder_tells_is_taken_whatever_else_fits() -> None:
    state = asked("failsafe_stork = 1.0", "failsafe_heron = 1.0")
    found = stated(answered(state, Answer("failsafe.hold_for", "1 s", line=2)))
    place = found["failsafe.hold_for"].place
    assert place is not None
    assert place.line == 2


def test_a_number_that_is_none_of_a_few_codes_stands_for_no_word() -> None:
    """450 is a frequency: that it would stand for the kind of a filter is no reading."""
    state = asked("gyro_filter_1 = 0", "gyro_filter_2 = 450")
    state = told(state, filters__gyro="pt1 450 Hz")
    assert "pt1" not in taught(state).draft.text

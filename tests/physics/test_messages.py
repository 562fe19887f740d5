import pytest

from cfgaudit.physics.serial import (
    LOG_RECORD_BYTES,
    RECEIVER_LINKS,
    load_fraction,
    log_fills_after_s,
    mavlink_messages,
    position_messages,
    pulse_train_gap_s,
    receiver_frame_period_s,
    receiver_link,
)


def test_position_protocols_have_their_own_messages() -> None:
    assert position_messages("nmea", 5) == ((82.0, 5),) * 6
    assert position_messages("ubx", 10) == ((100.0, 10),)
    with pytest.raises(ValueError, match="protocol"):
        position_messages("smoke", 1)


def test_a_message_of_unknown_size_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="RIPPLE"):
        mavlink_messages({"HEARTBEAT": 1, "RIPPLE": 2})


@pytest.mark.parametrize("link", sorted(RECEIVER_LINKS))
def test_every_receiver_link_fits_its_own_wire(link: str) -> None:
    known = receiver_link(link)
    assert known is not None
    assert (
        0 < load_fraction([(known.frame_bytes, 1 / known.period_s)], known.baud, known.framing) < 1
    )
    assert receiver_frame_period_s(link) == known.period_s


def test_links_without_fixed_frames_are_not_guessed() -> None:
    assert receiver_link("mavlink") is None
    assert receiver_frame_period_s("mavlink") is None
    assert receiver_link("ppm") is None
    assert receiver_frame_period_s("ppm") == 0.020


def test_ten_channels_leave_no_gap_in_a_pulse_train() -> None:
    assert pulse_train_gap_s(10) <= 0
    with pytest.raises(ValueError, match="channels"):
        pulse_train_gap_s(0)


def test_a_bare_log_record_is_44_bytes() -> None:
    """Hand calculation, two bytes a number: time 4, gyro 3 × 2, sticks 4 × 2, terms 9 × 2,
    motors 4 × 2."""
    assert LOG_RECORD_BYTES == 4 + 6 + 8 + 18 + 8


def test_16_megabytes_at_500_records_a_second_last_twelve_minutes() -> None:
    """Hand calculation: 16 000 000 / (44 × 500) = 727.27 s, 12 min 7 s."""
    assert log_fills_after_s(16e6, 500) == pytest.approx(727.2727, abs=1e-3)
    assert log_fills_after_s(0, 500) == 0


def test_a_log_without_records_never_fills() -> None:
    with pytest.raises(ValueError, match="rate_hz"):
        log_fills_after_s(16e6, 0)

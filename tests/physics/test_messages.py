import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.serial import (
    LOG_RECORD_BYTES,
    RECEIVER_LINKS,
    log_fills_after_s,
    mavlink_bytes,
    mavlink_messages,
    nmea_messages,
    packed_channels,
    position_messages,
    pulse_train_gap_s,
    receiver_frame_period_s,
    receiver_link,
)


def test_an_unknown_sentence_counts_with_the_longest_length() -> None:
    assert nmea_messages(5, ["GGA", "ZZZ"]) == ((67.0, 5), (82.0, 5))


def test_position_protocols_have_their_own_messages() -> None:
    assert len(position_messages("nmea", 1)) == 6
    assert position_messages("ubx", 10) == ((100.0, 10),)
    with pytest.raises(ValueError, match="protocol"):
        position_messages("smoke", 1)


def test_a_payload_of_one_byte_and_of_255_are_messages() -> None:
    # hand calculation: 1 + 12 and 255 + 12 bytes on the wire (mavlink.io, version 2, unsigned)
    assert (mavlink_bytes(1), mavlink_bytes(255)) == (13, 267)


@pytest.mark.parametrize(("payload", "version", "signed"), [(0, 2, False), (256, 2, False)])
def test_a_payload_beyond_a_byte_s_count_is_refused(
    payload: int, version: int, signed: bool
) -> None:
    with pytest.raises(ValueError, match="payload_bytes"):
        mavlink_bytes(payload, version, signed)


def test_version_3_and_a_signed_version_1_are_refused() -> None:
    with pytest.raises(ValueError, match="version"):
        mavlink_bytes(9, 3)
    with pytest.raises(ValueError, match="signature"):
        mavlink_bytes(9, 1, signed=True)


def test_a_message_of_unknown_size_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="RIPPLE"):
        mavlink_messages({"HEARTBEAT": 1, "RIPPLE": 2})


@pytest.mark.parametrize("link", sorted(RECEIVER_LINKS))
def test_every_receiver_link_fits_its_own_wire(link: str) -> None:
    known = receiver_link(link)
    assert known is not None
    assert 0 < known.load < 1
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


@given(st.lists(st.integers(0, 2047), min_size=16, max_size=16))
def test_packed_channels_can_be_read_back_bit_by_bit(values: list[int]) -> None:
    bits = [byte >> k & 1 for byte in packed_channels(values) for k in range(8)]
    back = [sum(bits[11 * n + k] << k for k in range(11)) for n in range(16)]
    assert back == values


def test_fifteen_channels_or_a_twelve_bit_value_are_refused() -> None:
    with pytest.raises(ValueError, match="16 values"):
        packed_channels([0] * 15)
    with pytest.raises(ValueError, match="16 values"):
        packed_channels([2048] * 16)


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

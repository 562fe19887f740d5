"""Area B: the load of a position receiver's link."""

import pynmea2
import pytest

from cfgaudit.physics.serial import (
    BINARY_POSITION_BYTES,
    NMEA_LONGEST_BYTES,
    NMEA_SENTENCES,
    load_fraction,
    position_messages,
)


@pytest.mark.parametrize(
    ("rate_hz", "baud", "per_cent"),
    [(1, 9600, 51.25), (5, 9600, 256.25), (10, 38_400, 128.1), (10, 115_200, 42.7)],
)
def test_six_longest_sentences_load_the_link(rate_hz: float, baud: int, per_cent: float) -> None:
    """Hand calculation: 6 * 82 bytes * 10 bits = 4920 bits a fix; 4920 / 9600 = 51.25 %."""
    load = load_fraction(position_messages("nmea", rate_hz), baud)
    assert load * 100 == pytest.approx(per_cent, abs=0.05)


def test_the_binary_position_message_overloads_9600_baud_at_10_hz() -> None:
    """Published: u-blox UBX-18010854, 92 + 8 bytes. 100 * 10 * 10 / 9600 = 104.2 %."""
    assert BINARY_POSITION_BYTES == 100
    load = load_fraction(position_messages("ubx", 10), 9600)
    assert load * 100 == pytest.approx(104.17, abs=0.005)


@pytest.mark.parametrize(
    ("sentence", "fields"),
    [
        ("GGA", "123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"),
        ("RMC", "123519.00,A,4807.03800,N,01131.00000,E,22.44,084.44,230394,003.1,W,A"),
        ("GSA", "A,3,04,05,,09,12,,,24,,,,,2.5,1.3,2.1"),
        ("GSV", "2,1,08,01,40,083,46,02,17,308,41,12,07,344,39,14,22,228,45"),
        ("VTG", "054.7,T,034.4,M,005.5,N,010.2,K"),
        ("GLL", "4916.45,N,12311.12,W,225444,A"),
    ],
)
def test_sentences_that_a_library_writes_are_at_most_the_standard_s_82_characters(
    sentence: str, fields: str
) -> None:
    """Reference library: pynmea2 1.19 counts the characters. Published (secondary): NMEA 0183, at
    most 82 with $ and CRLF."""
    assert sentence in NMEA_SENTENCES
    written = getattr(pynmea2, sentence)("GP", sentence, tuple(fields.split(",")))
    assert 40 < len(str(written) + "\r\n") <= NMEA_LONGEST_BYTES == 82


def test_a_precise_receiver_may_write_a_longer_sentence_than_the_table() -> None:
    """Reference library: pynmea2 1.19. Seven decimals and a full field set pass 82 characters."""
    fields = "123519.000,4807.0380000,N,01131.0000000,E,1,08,0.900,545.400,M,46.900,M,1.000,0000"
    written = pynmea2.GGA("GP", "GGA", tuple(fields.split(",")))
    assert len(str(written) + "\r\n") > NMEA_LONGEST_BYTES

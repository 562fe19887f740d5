import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.serial import (
    BITS_PER_BYTE,
    allowed_error,
    bits_per_byte,
    load_fraction,
    nearest_divider,
    rate_error,
    receiver_link,
)


@given(st.integers(1200, 2_000_000), st.sampled_from([8, 16]))
def test_no_neighbouring_divider_is_clearly_nearer(baud: int, samples: int) -> None:
    clock_hz = 48e6
    made = nearest_divider(clock_hz, baud, samples)
    assert abs(made.steps - clock_hz / baud) <= 0.5 or made.steps in (samples, 0xFFFF)


def test_a_rate_above_the_clock_s_reach_gets_the_fastest_one() -> None:
    made = nearest_divider(16e6, 3_000_000, 16)
    assert (made.divider, made.true_baud) == (1.0, 1e6)
    assert made.error == pytest.approx(-2 / 3)


def test_a_rate_below_the_clock_s_reach_gets_the_slowest_one() -> None:
    assert nearest_divider(100e6, 300).steps == 0xFFFF


def test_the_error_of_two_rates_is_signed() -> None:
    assert rate_error(98, 100) == pytest.approx(-0.02)
    assert rate_error(102, 100) == pytest.approx(0.02)


@pytest.mark.parametrize("framing", sorted(BITS_PER_BYTE))
def test_the_recommended_error_stays_below_an_ideal_end_s(framing: str) -> None:
    """Hand calculation: the middle of the last bit is sampled half a bit before the frame's end and
    may be half a bit off, both ends together: 0.5 / 9.5 = 5.26 % for 8N1, 2.63 % an end."""
    both_ends = 0.5 / (bits_per_byte(framing) - 0.5)
    assert 0 < allowed_error(framing) < both_ends / 2


@pytest.mark.parametrize(
    ("link", "size"),
    [
        ("sbus", 1 + 22 + 1 + 1),
        ("ibus", 2 + 14 * 2 + 2),
        ("sumd", 3 + 12 * 2 + 2),
        ("crsf", 3 + 22 + 1),
    ],
)
def test_a_receiver_s_frame_is_as_long_as_its_parts(link: str, size: int) -> None:
    """Head, channels and checksum or tail, as the table tells of each."""
    facts = receiver_link(link)
    assert facts is not None
    assert facts.frame_bytes == size


def test_an_unknown_framing_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="7Z9"):
        bits_per_byte("7Z9")
    with pytest.raises(ValueError, match="framing"):
        allowed_error("")


@pytest.mark.parametrize("baud", [0, -9600, float("nan"), float("inf")])
def test_a_nonsense_baud_is_refused(baud: float) -> None:
    with pytest.raises(ValueError, match="baud"):
        load_fraction([(100, 1)], baud)
    with pytest.raises(ValueError, match="baud"):
        nearest_divider(48e6, baud)


def test_seven_samples_a_bit_are_refused() -> None:
    with pytest.raises(ValueError, match="samples_per_bit"):
        nearest_divider(48e6, 9600, 7)


def test_a_link_without_messages_has_no_load() -> None:
    assert load_fraction([], 9600) == 0


def test_a_negative_message_is_refused() -> None:
    with pytest.raises(ValueError, match="bytes"):
        load_fraction([(-1, 5)], 9600)


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(0, 100)), max_size=8))
def test_load_adds_up_over_messages(messages: list[tuple[float, float]]) -> None:
    each = sum(load_fraction([message], 57_600) for message in messages)
    assert load_fraction(messages, 57_600) == pytest.approx(each)

"""What tells who or where somebody is: found in its usual spellings, and not seen in settings."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cfgaudit.reading import private
from cfgaudit.reading.private import Repeats, is_private_key, private_stretches, secret_parts

# invented, all of it: one bank of one beck, and numbers kept for stories (Ofcom's 01632 960xxx,
# published) and for examples (RFC 2606's .example)
TOLD = {
    "decimal degrees": ("seen at 53.43841, -2.52430 today", "53.43841, -2.52430"),
    "decimal degrees with a slash": ("53.43841/-2.52430", "53.43841/-2.52430"),
    "one decimal angle": ("lat 53.43841 N", "53.43841 N"),
    "a letter in front": ("N53.43841", "N53.43841"),
    "degrees and minutes": ("bank 53\u00b0 26.305' N", "53\u00b0 26.305' N"),
    "degrees, minutes, seconds": (
        "53\u00b026'18.3\"N 2\u00b031'27.5\"W",
        "53\u00b026'18.3\"N 2\u00b031'27.5\"W",
    ),
    "minutes behind a letter": ("N 53 26.305 W 2 31.458", "N 53 26.305 W 2 31.458"),
    "an NMEA sentence": (
        "$GPGGA,081530,5326.305,N,00231.458,W,1,09,0.9,41.0,M,48.1,M,,*5E",
        "5326.305,N,00231.458,W",
    ),
    "a geo URI": ("geo:53.4384,-2.5243", "geo:53.4384,-2.5243"),
    "ISO 6709": ("+53.4384-002.5243/", "+53.4384-002.5243/"),
    "an open grid code": ("at 9C5VCFQG+9M.", "9C5VCFQG+9M"),
    "a short grid code": ("CFQG+9M Alder Bridge", "CFQG+9M"),
    "a military grid": ("30U WE 12345 67890", "30U WE 12345 67890"),
    "an e-mail address": ("ask m.thorn@alder-beck.example", "m.thorn@alder-beck.example"),
    "a number abroad": ("ring +44 1632 960 961", "+44 1632 960 961"),
    "a number at home": ("ring (01632) 960961", "(01632) 960961"),
    "a network address": ("00:1A:2B:3C:4D:5E", "00:1A:2B:3C:4D:5E"),
    "an identifier": (
        "6f1c0a52-8d0e-4b1e-9a44-0a1b2c3d4e5f",
        "6f1c0a52-8d0e-4b1e-9a44-0a1b2c3d4e5f",
    ),
    "a shell's prompt": ("thorn@bench:~/becks$ cat a.dump", "thorn@bench"),
}
UNTOLD = [
    "reach = 78 -78",
    "tunes = 5733 5752 5771 5790",
    "spans = 1000..2000",
    "works = ch5 60-80",
    "arm = 5: 1700..2100 us",
    "sedge 2.4.1 on HB-7 rev C, built 2026-03-18",
    "twist 0.9981 0.0012 1.0020",
    "gain 0.125 0.250",
    "lantern E 3 5",
    "sits = 10 20 30 E",
    "crc 4D5E",
    "pulse 1060 2000 1000",
    "hue+tone",
    "2468+22",
    "see the blue book, page 4",
]


@pytest.mark.parametrize("name", TOLD)
def test_it_is_found_and_nothing_beside_it(name: str) -> None:
    text, private = TOLD[name]
    found = list(private_stretches(text))
    assert found
    start = min(each.start for each in found)
    stop = max(each.stop for each in found)
    assert text[start:stop] == private


@pytest.mark.parametrize("text", UNTOLD)
def test_settings_and_words_are_not_taken_for_it(text: str) -> None:
    assert list(private_stretches(text)) == []


@pytest.mark.parametrize(
    "key",
    ["owner", "pilot_name", "serial_no", "homeLat", "home_position", "radio_uid", "bind_phrase",
     "BindingID", "wifi password", "registration", "e-mail", "latitude"],
)  # fmt: skip
def test_a_key_says_that_its_value_is_somebodys_own(key: str) -> None:
    assert is_private_key(key)


@pytest.mark.parametrize(
    "key",
    ["bind_wait", "home_height", "home_near", "place", "serially", "link 2",
     "horn_key", "learn_key", "eye_key_ms", "name_shown", "pinned", "latency", "platelets"],
)  # fmt: skip
def test_a_key_of_other_words_does_not(key: str) -> None:
    assert not is_private_key(key)


WORDS = st.sampled_from(["Heron", "heron", "her", "on", "HERON", "cafés", "İris", "ΟΔΟΣ", "odos"])
TEXTS = st.lists(st.lists(WORDS, max_size=3).map(" ".join), max_size=6)


@given(secrets=st.lists(WORDS, max_size=3), texts=TEXTS)
def test_secrets_are_found_in_many_texts_at_once_as_in_each_alone(
    secrets: list[str], texts: list[str]
) -> None:
    again = Repeats(secrets)
    alone = {number for number, text in enumerate(texts) if any(again.within(text))}
    assert again.lines_with(texts) == alone


def test_no_part_of_a_private_value_takes_a_quotation_s_mark_along() -> None:
    parts = set(secret_parts('"Alder survey, M. Thorn",-,-'))
    assert "M. Thorn" in parts
    assert not [part for part in parts if part[-1] == '"']


@pytest.mark.parametrize(
    ("key", "value"),
    [
        *(("serial", text) for text in ("usb", "2", "1: receiver and telemetry at 420000")),
        ("home place", "30"),
        ("latitude", "hidden, 1, 1"),
    ],
)
def test_what_can_be_no_place_and_no_number_of_a_machine_is_not_private(
    key: str, value: str
) -> None:
    assert not is_private_key(key, value)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("serial", "OP-0533"),
        ("serial", "4 ABC-778"),
        ("craft serial", "1: radio at 9600"),
        ("home lat", "53.1"),
        ("lat", "534384100"),
        ("owner", "usb"),
    ],
)
def test_what_may_be_one_is(key: str, value: str) -> None:
    assert is_private_key(key, value)


@pytest.mark.parametrize(("_", "signs", "pattern"), private._PATTERNS)
def test_no_text_that_a_pattern_finds_is_without_all_of_its_signs(
    _: str, signs: str, pattern: str
) -> None:
    @settings(max_examples=25, suppress_health_check=list(HealthCheck))
    @given(st.from_regex(pattern))
    def has_one(text: str) -> None:
        assert not set(text).isdisjoint(signs)

    has_one()


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("phrase", "reeds-in-the-mist"),
        ("bind phrase", "reeds"),
        ("bind", "reeds-in-the-morning-mist"),
        ("pairing_key", "a1b2c3"),
        ("radio.key", "a1b2c3"),
        ("linkPass", "reeds"),
        ("key-phrase", "reeds"),
        ("pin", "4711"),
        ("pin_code", "004711"),
    ],
)
def test_what_binds_a_handset_is_private(key: str, value: str) -> None:
    assert is_private_key(key, value)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("Pin", "m1 serves job:motor1"),
        ("pin", "7"),
        ("pin", "PA08"),
        ("pin_number", "12"),
        ("bind", "1"),
        ("bind", "button"),
        ("low_pass", "90"),
        ("pass", "120 Hz"),
    ],
)
def test_a_pin_of_a_board_and_a_filter_s_pass_are_not(key: str, value: str) -> None:
    assert not is_private_key(key, value)

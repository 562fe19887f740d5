import tomllib
from pathlib import Path

import pytest

from cfgaudit.teach.words import about, ideas_of, likeness, pair_up, root, tokens
from tests.cli.calling import CORPUS


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("thrMax", ("throttle", "most")),
        ("stick_lpf_freq", ("stick", "low", "pass", "filter", "frequency")),
        ("uart2.baud", ("port", "2", "baud")),
        ("RX_loss", ("receiver", "loss")),
    ],
)
def test_a_name_is_split_and_its_short_forms_spelled_out(name: str, words: tuple[str, ...]) -> None:
    assert tokens(name) == words


def test_endings_of_number_and_time_go_and_short_words_stay() -> None:
    assert [root(w) for w in ("lamps", "counted", "batteries", "glass", "bus")] == [
        "lamp",
        "count",
        "battery",
        "glass",
        "bus",
    ]


def test_words_for_one_thing_are_alike_and_others_are_not() -> None:
    assert likeness(about(tokens("warn_volts")), about(["voltage"])) > 0.5
    assert likeness(about(["rudder"]), about(["yaw"])) > 0
    assert likeness(about(["magnets"]), about(["telemetry"])) == 0


def test_a_word_written_almost_alike_counts_as_the_one_known() -> None:
    assert set(ideas_of("acelerometer")) & set(ideas_of("accelerometer"))


def test_the_table_of_short_forms_holds_no_word_of_the_corpus_alone() -> None:
    """A short form is a short form anywhere: none is one of the corpus firmwares' index words."""
    folder = Path(__file__).parents[2] / "cfgaudit" / "teach"
    short = tomllib.loads((folder / "abbreviations.toml").read_text(encoding="utf-8"))
    for file in (CORPUS / "dialects").glob("*.toml"):
        ports = tomllib.loads(file.read_text(encoding="utf-8"))["words"].get("ports", {})
        assert not ports.keys() & short.keys()


def test_a_word_that_is_ours_but_for_its_letters_size_is_that_one() -> None:
    assert pair_up(["LiPo", "LiIon"], ("lihv", "liion", "lipo")) == {
        "LiPo": "lipo",
        "LiIon": "liion",
    }

"""The bench's record: a TOML file that only ever grows."""

import tomllib
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.craft.sheet import record_name
from cfgaudit.work.record import (
    RecordEntry,
    RecordError,
    StepOutcome,
    latest,
    read_record,
    with_entry,
)

AT = datetime(2026, 11, 25, 15, 5, tzinfo=UTC)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
ENTRIES = st.builds(
    RecordEntry,
    TEXTS.filter(bool),
    st.datetimes(
        datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)
    ).map(lambda at: at.replace(microsecond=0)),
    st.sampled_from(StepOutcome),
    TEXTS,
    TEXTS,
    TEXTS,
)  # fmt: skip


@given(st.lists(ENTRIES, max_size=4))
def test_what_is_recorded_reads_back_in_order(entries: list[RecordEntry]) -> None:
    text = ""
    for entry in entries:
        before, text = text, with_entry(text, entry)
        assert text.startswith(before)
    assert list(read_record(text)) == entries


@given(ENTRIES)
def test_no_letter_of_an_entry_can_act_on_a_screen(entry: RecordEntry) -> None:
    text = with_entry("", entry)
    assert all(letter.isprintable() or letter == "\n" for letter in text)


def test_own_comments_and_a_missing_last_newline_are_kept() -> None:
    mine = '# mine\n[[entry]]\nstep = "a"  # cold day\nat = 2026-01-01T10:00:00Z\noutcome = "done"'
    text = with_entry(mine, RecordEntry("b", AT, StepOutcome.DONE))
    assert text.startswith(mine + "\n")
    assert [entry.step for entry in read_record(text)] == ["a", "b"]


def test_times_are_written_in_utc() -> None:
    at = datetime(2026, 11, 25, 16, 5, 9, 77, tzinfo=timezone(timedelta(hours=1)))
    (table,) = tomllib.loads(with_entry("", RecordEntry("a", at, StepOutcome.DONE)))["entry"]
    assert table["at"] == datetime(2026, 11, 25, 15, 5, 9, tzinfo=UTC)


def test_the_last_entry_of_a_step_counts_unless_it_is_undone() -> None:
    def entry(step: str, outcome: StepOutcome, value: str = "") -> RecordEntry:
        return RecordEntry(step, AT, outcome, value)

    found = latest(
        [
            entry("a", StepOutcome.FAILED, "1"),
            entry("b", StepOutcome.DONE),
            entry("a", StepOutcome.DONE, "2"),
            entry("b", StepOutcome.UNDONE),
            entry("c", StepOutcome.DONE),
        ]
    )
    counting = {name: one.entry.value for name, one in found.items() if one.entry is not None}
    assert counting == {"a": "2", "c": ""}
    assert {name: one.taken_back for name, one in found.items()} == {"a": 0, "b": 3, "c": -1}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[entry]", "no TOML"),
        ("[other]", "something else"),
        ("entry = 3", "something else"),
        ('[[entry]]\nstep = "a"\nat = 2026-01-01\noutcome = "done"', "entry 1: at"),
        ('[[entry]]\nstep = "a"\nat = 2026-01-01T10:00:00\noutcome = "done"', "entry 1: at"),
        ('[[entry]]\nat = 2026-01-01T10:00:00Z\noutcome = "done"', "step is missing"),
        ('[[entry]]\nstep = "a"\nat = 2026-01-01T10:00:00Z\noutcome = "good"', "one of done"),
        ('[[entry]]\nstep = 3\nat = 2026-01-01T10:00:00Z\noutcome = "done"', "must be a text"),
    ],
)
def test_a_record_that_can_t_be_read_says_where(text: str, says: str) -> None:
    with pytest.raises(RecordError, match=says):
        read_record(text)


def test_the_record_is_called_after_the_sheet() -> None:
    assert record_name("dipper.build.toml") == "dipper.bench.toml"
    assert record_name("a/b.toml") == "a/b.bench.toml"
    assert record_name("plain") == "plain.bench.toml"

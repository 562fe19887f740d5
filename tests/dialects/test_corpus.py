"""The demo craft: dump and plain form say the same; older dumps; dumps that came to harm."""

from pathlib import Path

import pytest

from cfgaudit.dialects.collect import FactoryValues
from cfgaudit.dialects.dialect import Dialect, build_dialect
from cfgaudit.dialects.opening import GENERIC, open_dump, recognise
from cfgaudit.dialects.plain import PLAIN, read_plain
from cfgaudit.reading.document import read_document
from cfgaudit.settings import Origin, TroubleKind
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.kinds import Value
from tests.dialects.demo import (
    BROKEN,
    CORPUS,
    DUMPS,
    FACTORY,
    dialect,
    dialects,
    dumped,
    opened,
    read,
)

PAIRS = tuple(dump for dump in DUMPS if dump.with_suffix(".cfg").exists())
WHOLE = tuple(dump for dump in DUMPS if not dump.stem.endswith("-esc"))


@pytest.mark.parametrize("dump", PAIRS, ids=lambda dump: dump.stem)
def test_a_dump_states_what_its_plain_form_states(dump: Path) -> None:
    found = opened(dump).settings
    plain = read_plain(dump.with_suffix(".cfg").read_text(encoding="utf-8"))
    assert not plain.troubles
    assert {
        path: found[path].value for path in found if found[path].origin is not Origin.FACTORY
    } == {path: plain[path].value for path in plain}


def test_three_craft_have_a_plain_form() -> None:
    assert {dump.stem for dump in PAIRS} >= {"dipper", "goosander", "wagtail"}


@pytest.mark.parametrize("dump", WHOLE, ids=lambda dump: dump.stem)
def test_a_golden_dump_is_mapped_to_at_least_150_settings_without_trouble(dump: Path) -> None:
    found = opened(dump).settings
    assert len(dumped(found)) >= 150
    assert not found.troubles
    assert not found.repeats
    assert [key for key, raw in found.raw.items() if not raw.known] == []


def test_factory_values_stand_in_where_a_sparse_dump_is_silent() -> None:
    found = opened(CORPUS / "sandpiper.dump").settings
    standing_in = {path for path in found if found[path].origin is Origin.FACTORY}
    # by hand, out of the dialect's file: 2.3's table, but 2.4 moved the protocol
    expected: dict[str, Value] = {"esc.protocol": "dshot600", "arming.max_tilt": 25.0,
                                  "gyro.sample_rate": 8000.0}  # fmt: skip
    for path, value in expected.items():
        assert path in standing_in
        assert (found[path].value, found[path].place) == (value, None)
    assert found["craft.name"].origin is Origin.DUMP
    assert found["craft.name"].value == "sandpiper"


def test_factory_values_do_not_stand_in_for_a_version_that_is_not_known() -> None:
    text = (CORPUS / "sandpiper.dump").read_text(encoding="utf-8")
    sedge = dialect("sedge")
    assert "# sedge 2.4.1 on" in text
    for version in ("9.0.0", "2.9", "1.0", "unknown"):
        found = read(text.replace("# sedge 2.4.1 on", f"# sedge {version} on"), sedge)
        assert not [path for path in found if found[path].origin is Origin.FACTORY], version
        assert "esc.protocol" not in found


def test_factory_values_are_on_record_beside_what_the_dump_states() -> None:
    found = opened(CORPUS / "sandpiper.dump").settings
    # by hand, out of the dialect's file: 2.3 has 4.5 % and 2.4 has 5 %; the dump states 44 for roll
    assert found.need_factory("esc.idle") == 5.0
    assert found.need_factory("banks.1.gains.roll.p") == 42.0
    assert found["banks.1.gains.roll.p"].value == 44.0
    assert set(found.factory) >= {p for p in found if found[p].origin is Origin.FACTORY}


def test_a_version_that_is_not_known_and_the_plain_form_have_no_factory_values() -> None:
    text = (CORPUS / "sandpiper.dump").read_text(encoding="utf-8")
    later = read(text.replace("# sedge 2.4.1 on", "# sedge 9.0.0 on"), dialect("sedge"))
    for settings in (later, read_plain("loop.rate = 4 kHz")):
        assert not settings.factory
        with pytest.raises(NotStated, match=r"factory\.loop\.rate"):
            settings.need_factory("loop.rate")


@pytest.mark.parametrize("entry", dialects(), ids=lambda entry: entry.name)
def test_every_factory_value_of_a_dialect_can_be_read(entry: Dialect) -> None:
    for version in entry.factory:
        values = FactoryValues(entry.factory_for(version))
        assert len(values) == len(dict(values.items()))


@pytest.mark.parametrize(
    ("name", "old_key", "path"),
    [
        ("sedge-2.3.0", "cell_murmur", "battery.warn_cell"),
        ("marl-1.11.0", "low-cell", "battery.warn_cell"),
        ("osier-6.9.0", "grumble_at", "battery.warn_cell"),
    ],
)
def test_an_older_dump_is_read_by_its_older_names(name: str, old_key: str, path: str) -> None:
    found = opened(CORPUS / "factory" / f"{name}.dump")
    line = found.settings[path].place
    assert line is not None
    assert found.document.text.lines[line.line - 1].strip().startswith(old_key)
    assert not [key for key, raw in found.settings.raw.items() if not raw.known]


def test_an_older_name_is_unknown_to_a_newer_firmware() -> None:
    lines = "# sedge {} on HB-7 rev C, built 2026-05-02\n[pack]\ncell_murmur = 350\n"
    assert read(lines.format("2.3.9"), dialect("sedge"))["battery.warn_cell"].value == 3.5
    newer = read(lines.format("2.4.0"), dialect("sedge"))
    assert "pack/cell_murmur" in newer.raw
    assert newer.stated.get("battery.warn_cell", None) is None or (
        newer["battery.warn_cell"].origin is Origin.FACTORY
    )


@pytest.mark.parametrize("dump", [*DUMPS, *FACTORY], ids=lambda dump: dump.stem)
def test_a_dump_is_recognised_by_its_head_line(dump: Path) -> None:
    names = {"dipper": "sedge", "sandpiper": "sedge", "wagtail": "osier", "goosander": "marl",
             "wagtail-esc": "alder"}  # fmt: skip
    expected = names.get(dump.stem, dump.stem.partition("-")[0])
    assert opened(dump).dialect.name == expected


def test_a_dump_without_its_head_line_is_recognised_by_its_settings() -> None:
    text = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith("# sedge ")]
    found = open_dump("cut.dump", "\n".join(kept).encode(), dialects())
    assert found.dialect.name == "sedge"


def test_a_short_dialect_is_recognised_by_its_lines_though_the_dump_has_many_more() -> None:
    # as a draft is: a third of the settings have a line, and a dump that says one of them otherwise
    # is of the same firmware
    keys = [f"battery.{key}" for key in ("cells", "warn_cell", "empty_cell", "full_cell")]
    keys += [f"receiver.map.{control}" for control in ("roll", "pitch", "yaw", "throttle")]
    keys += ["receiver.low", "receiver.high", "receiver.centre", "loop.rate"]
    lines = [f"k{number}: {{{key}}}" for number, key in enumerate(keys)]
    short = build_dialect({"name": "short", "lines": [{"map": lines}]}, "short.toml")
    said = [f"k{number}: 4" for number in range(len(keys))]
    others = [f"more{number}: {number}" for number in range(2 * len(keys))]
    whole = open_dump("a.dump", "\n".join([*said, *others]).encode(), [short])
    assert whole.dialect is short
    part = open_dump("a.dump", "\n".join([*said[1:], *others]).encode(), [short])
    assert part.dialect is short
    few = open_dump("a.dump", "\n".join([*said[5:], *others]).encode(), [short])
    assert few.dialect is GENERIC


def test_the_plain_form_is_recognised_by_its_paths() -> None:
    document = read_document("a.cfg", b"[battery]\nwarn_cell = 3.5 V\nempty_cell = 3.3 V\nend\n")
    assert recognise(document, dialects()) is PLAIN


def test_a_dump_of_no_known_firmware_gives_raw_settings() -> None:
    found = opened(CORPUS / "broken" / "no-dialect.dump")
    assert found.dialect is GENERIC
    assert not found.settings.stated
    raw = {key: entry.value for key, entry in found.settings.raw.items()}
    assert raw["hull/mark"] == "7"
    assert raw["hull/tare"] == "312 g"
    assert raw["hull/wire 2"] == "listen 115200"
    assert raw["shove/blade 3"] == "right"
    assert raw["cistern/dry"] == "3.3 V"
    assert all(entry.place is not None for entry in found.settings.raw.values())


@pytest.mark.parametrize("file", BROKEN, ids=lambda file: file.name)
def test_a_broken_file_is_read_and_prints_back_byte_for_byte(file: Path) -> None:
    data = file.read_bytes()
    for chosen in (None, *dialects(), PLAIN, GENERIC):
        assert open_dump(file.name, data, dialects(), chosen).document.to_bytes() == data


@pytest.mark.parametrize("dump", DUMPS, ids=lambda dump: dump.stem)
def test_a_dump_cut_anywhere_is_said_to_be_truncated(dump: Path) -> None:
    data = dump.read_bytes()
    of = opened(dump).dialect
    for share in (0.2, 0.5, 0.9):
        cut = open_dump(dump.name, data[: int(len(data) * share)], dialects(), of)
        assert TroubleKind.TRUNCATED in [trouble.kind for trouble in cut.settings.troubles]

"""The sound craft and the mistakes made with them are well-formed; no audit is run here.

What makes a craft sound and an edit a mistake is the trade's knowledge, written beside each.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

import pytest

from cfgaudit.craft.sheet import sheet_value
from cfgaudit.dialects.plain import read_plain
from cfgaudit.vocabulary.paths import declared_anywhere, matching

SOUND: Final = Path(__file__).parents[2] / "corpus" / "sound"
CRAFT: Final = tuple(sorted(file.stem for file in SOUND.glob("*.cfg")))
EDITS: Final[list[dict[str, Any]]] = tomllib.loads(
    (Path(__file__).parent / "mistakes.toml").read_text(encoding="utf-8")
)["edit"]
MISTAKES: Final = [edit for edit in EDITS if not edit.get("harmless")]
HARMLESS: Final = [edit for edit in EDITS if edit.get("harmless")]

# Words that the sound craft need and that the vocabulary may not declare yet, with their values.
_BOOL: Final = ("on", "off", "true", "false")
ADDITIONS: Final[Mapping[str, tuple[str, ...]]] = {
    "switches_join": ("any", "all"),
    "esc.brushed": _BOOL,
    "motors.ARM.servo": _BOOL,
    "receiver.ends_are": ("measured", "set"),
    "failsafe.channels_until": ("action", "end"),
    "overlay.grid.columns": (),  # a number
    "overlay.grid.rows": (),
    "finder.by": ("pad", "motors"),
    "sheet.devices.NAME.wires": ("tx_to_rx", "tx_to_tx", "one_wire"),
    "sheet.devices.NAME.on_loss": ("silent", "hold", "preset"),
    "sheet.rails.NAME.sources": (),  # a list of tables
}


def addition(path: str) -> str | None:
    """The pattern of an addition that a path falls under, or None."""
    words = path.split(".")
    return next((p for p in ADDITIONS if matching(words, p.split("."), ())), None)


def known(path: str) -> bool:
    return declared_anywhere(path) is not None or addition(path) is not None


@cache
def plain_of(craft: str) -> Mapping[str, str]:
    """Every setting of a sound craft's plain file, as its text by path."""
    settings = read_plain((SOUND / f"{craft}.cfg").read_text(encoding="utf-8"), f"{craft}.cfg")
    texts = {path: stated.text for path, stated in settings.stated.items()}
    texts |= {raw.key.replace("/", "."): raw.value for raw in settings.raw.values()}
    return texts


@cache
def sheet_of(craft: str) -> Mapping[str, object]:
    """Every setting of a sound craft's build sheet, as TOML gave it, by path below `sheet`."""
    text = (SOUND / f"{craft}.build.toml").read_text(encoding="utf-8")
    return dict(_leaves(tomllib.loads(text), "sheet"))


def _leaves(table: Mapping[str, Any], above: str) -> Iterator[tuple[str, object]]:
    for name, value in table.items():
        path = f"{above}.{name}"
        if isinstance(value, dict):
            yield from _leaves(value, path)
        else:
            yield path, value


def meaning(path: str, value: object) -> object:
    """What a value means; raises ValueError where it can't stand there."""
    found = declared_anywhere(path)
    if found is not None and path.startswith("sheet."):
        return sheet_value(found.kind, value)
    if found is not None:
        return found.kind.read(str(value))
    words = ADDITIONS[addition(path) or ""]
    if words and str(value).lower() not in words:
        raise ValueError(f"{path}: {value!r} is none of {', '.join(words)}")
    return value


def told(edit: Mapping[str, Any]) -> str:
    return f"{edit['craft']}: {edit['name']}"


def test_there_are_as_many_craft_mistakes_and_harmless_edits_as_were_asked_for() -> None:
    assert len(CRAFT) >= 22
    assert len(MISTAKES) >= 130
    assert len(HARMLESS) >= 40


@pytest.mark.parametrize("craft", CRAFT)
def test_a_sound_craft_is_read_whole_and_begins_with_what_it_is(craft: str) -> None:
    text = (SOUND / f"{craft}.cfg").read_text(encoding="utf-8")
    lines = text.splitlines()
    head = next(n for n, line in enumerate(lines) if not line.startswith("#"))
    settings = read_plain(text, f"{craft}.cfg")
    assert 3 <= head <= 8
    assert not settings.troubles
    assert not settings.repeats
    assert len(settings.stated) >= 150
    assert [path for path in plain_of(craft) if not known(path)] == []


@pytest.mark.parametrize("craft", CRAFT)
def test_every_value_of_a_sound_craft_and_its_sheet_can_stand_where_it_stands(craft: str) -> None:
    for path, value in (*plain_of(craft).items(), *sheet_of(craft).items()):
        assert known(path), path
        meaning(path, value)


@pytest.mark.parametrize("craft", CRAFT)
def test_a_sheet_is_of_its_craft(craft: str) -> None:
    plain, sheet = plain_of(craft), sheet_of(craft)
    for mine, theirs in (("craft.name", "craft.name"), ("board.name", "board.name")):
        assert plain[mine].strip('"') == sheet[f"sheet.{theirs}"]
    assert plain["frame.layout"] == sheet["sheet.frame.layout"]


def test_the_sound_craft_are_unlike_each_other() -> None:
    def of(path: str) -> set[str]:
        return {plain_of(craft).get(path, "").strip('"') for craft in CRAFT}

    assert of("frame.layout") == {
        "quad_x", "quad_plus", "hex_x", "hex_plus", "octo_x", "custom",
    }  # fmt: skip
    assert of("receiver.link") == {"ppm", "sbus", "ibus", "sumd", "crsf", "mavlink", "none"}
    assert of("battery.chemistry") == {"lipo", "lihv", "liion"}
    assert of("failsafe.action") == {"motors_off", "land", "return_home"}
    assert of("position.protocol") >= {"nmea", "ubx"}
    cells = {sheet_of(craft)["sheet.battery.cells"] for craft in CRAFT}
    assert cells == {1, 2, 3, 4, 5, 6, 8}
    losses = {sheet_of(craft)["sheet.devices.receiver.on_loss"] for craft in CRAFT}
    assert losses == {"silent", "hold", "preset"}
    roll = of("board.rotation.roll")
    yaw = of("board.rotation.yaw")
    assert roll >= {"0 deg", "180 deg"}
    assert yaw >= {"0 deg", "45 deg", "90 deg", "180 deg"}


def test_hardly_a_sound_craft_deserves_a_warning() -> None:
    owned = [
        craft for craft in CRAFT if "\n# true: " in (SOUND / f"{craft}.cfg").read_text("utf-8")
    ]
    assert len(owned) <= 5
    for craft in owned:
        said = re.search(r"^# true: (.*?): ", (SOUND / f"{craft}.cfg").read_text("utf-8"), re.M)
        assert said is not None
        stated = {*plain_of(craft), *sheet_of(craft)}
        assert set(said[1].split(", ")) <= stated, said[1]


@pytest.mark.parametrize("edit", EDITS, ids=told)
def test_an_edit_names_a_craft_and_settings_that_exist_and_changes_each(
    edit: dict[str, Any],
) -> None:
    craft = edit["craft"]
    assert craft in CRAFT
    now: Mapping[str, object] = {**plain_of(craft), **sheet_of(craft)}
    put: dict[str, object] = {**edit.get("set", {}), **edit.get("sheet", {})}
    assert all(not path.startswith("sheet.") for path in edit.get("set", {}))
    assert all(path.startswith("sheet.") for path in edit.get("sheet", {}))
    assert put or edit.get("remove")
    for path, value in put.items():
        assert known(path), path
        wanted = meaning(path, value)
        assert path not in now or wanted != meaning(path, now[path]), path
    for path in edit.get("remove", []):
        assert path in now, path
        assert path not in put


@pytest.mark.parametrize("edit", MISTAKES, ids=told)
def test_a_mistake_tells_what_happens_how_grave_it_is_and_whose_fault_it_is(
    edit: dict[str, Any],
) -> None:
    words = {"craft", "name", "level", "happens", "paths", "set", "sheet", "remove"}
    assert edit.keys() <= words
    assert edit["level"] in ("error", "warning")
    assert edit["happens"].strip()
    assert edit["paths"]
    craft = edit["craft"]
    stated = {*plain_of(craft), *sheet_of(craft), *edit.get("set", {}), *edit.get("sheet", {})}
    assert set(edit["paths"]) <= stated


@pytest.mark.parametrize("edit", HARMLESS, ids=told)
def test_a_harmless_edit_has_no_level_and_no_fault(edit: dict[str, Any]) -> None:
    assert edit.keys() <= {"craft", "name", "harmless", "set", "sheet", "remove"}
    assert edit["harmless"] is True


def test_no_edit_stands_there_twice() -> None:
    names = Counter(told(edit) for edit in EDITS)
    deeds = Counter(
        str((edit["craft"], edit.get("set"), edit.get("sheet"), edit.get("remove")))
        for edit in EDITS
    )
    assert [name for name, times in names.items() if times > 1] == []
    assert [deed for deed, times in deeds.items() if times > 1] == []


def test_mistakes_are_made_with_every_craft() -> None:
    assert {edit["craft"] for edit in MISTAKES} == set(CRAFT)

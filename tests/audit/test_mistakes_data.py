"""The sound craft and the mistakes made with them are well-formed; no audit is run here.

What makes a craft sound and an edit a mistake is the trade's knowledge, written beside each.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Mapping
from functools import cache
from typing import Any

import pytest

from cfgaudit.dialects.plain import read_plain
from cfgaudit.vocabulary.paths import declared_anywhere
from tests.audit.sound import (
    CRAFT,
    EDITS,
    HARMLESS,
    MISTAKES,
    SOUND,
    dump_of,
    leaves,
    leaves_of,
    meaning,
    told,
)


@cache
def plain_of(craft: str) -> Mapping[str, str]:
    """Every setting of a sound craft's plain file, as its text by path."""
    return {path: stated.text for path, stated in dump_of(craft).stated.items()}


@cache
def sheet_texts(craft: str) -> Mapping[str, object]:
    """Every setting of a sound craft's build sheet, as TOML gave it, by path below `sheet`."""
    text = (SOUND / f"{craft}.build.toml").read_text(encoding="utf-8")
    return dict(leaves(tomllib.loads(text), "sheet"))


def known(path: str) -> bool:
    return declared_anywhere(path) is not None


def is_below(path: str, one: str) -> bool:
    return one == path or one.startswith(f"{path}.")


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
    for path, value in (*plain_of(craft).items(), *sheet_texts(craft).items()):
        assert known(path), path
        meaning(path, value)


@pytest.mark.parametrize("craft", CRAFT)
def test_a_sheet_is_of_its_craft(craft: str) -> None:
    plain, sheet = plain_of(craft), sheet_texts(craft)
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
    cells = {sheet_texts(craft)["sheet.battery.cells"] for craft in CRAFT}
    assert cells == {1, 2, 3, 4, 5, 6, 8}
    losses = {sheet_texts(craft)["sheet.devices.receiver.on_loss"] for craft in CRAFT}
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
        stated = {*plain_of(craft), *sheet_texts(craft)}
        assert set(said[1].split(", ")) <= stated, said[1]


@pytest.mark.parametrize("edit", EDITS, ids=told)
def test_an_edit_names_a_craft_and_settings_that_exist_and_changes_each(
    edit: dict[str, Any],
) -> None:
    craft = edit["craft"]
    assert craft in CRAFT
    now: Mapping[str, object] = {**plain_of(craft), **sheet_texts(craft)}
    put = dict(leaves_of({**edit.get("set", {}), **edit.get("sheet", {})}))
    assert all(not path.startswith("sheet.") for path in edit.get("set", {}))
    assert all(path.startswith("sheet.") for path in edit.get("sheet", {}))
    assert put or edit.get("remove")
    for path, value in {**edit.get("set", {}), **edit.get("sheet", {})}.items():
        parts = dict(leaves_of({path: value}))
        assert all(known(part) for part in parts), path
        assert any(
            part not in now or meaning(part, said) != meaning(part, now[part])
            for part, said in parts.items()
        ), path
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
    stated = {*plain_of(craft), *sheet_texts(craft), *edit.get("set", {}), *edit.get("sheet", {})}
    assert all(any(is_below(path, one) for one in stated) for path in edit["paths"])


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

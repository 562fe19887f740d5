"""The bench page in a real browser, worked by keys, by thumbs and by ear."""

from collections.abc import Iterator
from typing import Final, Literal

import pytest
from playwright.sync_api import Browser

from cfgaudit.vocabulary.paths import declared
from tests.reports.bench_pages import DIPPER, FAULTY, BenchPage, ShownPage, UnknownDump
from tests.reports.browser import faults_by_axe

SCREENS: Final[tuple[tuple[int, Literal["light", "dark"]], ...]] = ((1280, "light"), (390, "dark"))


def shown_at(made: ShownPage, width: int, scheme: Literal["light", "dark"]) -> None:
    made.page.set_viewport_size({"width": width, "height": 900})
    made.page.emulate_media(color_scheme=scheme)


def test_teaching_is_worked_by_keys_by_thumbs_and_by_ear(
    chromium: Browser, bench: BenchPage, unknown: UnknownDump
) -> None:
    made = ShownPage(chromium, bench.file)
    made.give(unknown.dump)
    made.page.get_by_role("button", name="Ask me what is missing").press("Enter")
    made.page.locator("form.question").wait_for()
    passed = 0  # up to the first question about a setting that a line may say
    while not made.page.locator("form.question input[type=radio]").count():
        passed += 1
        made.page.get_by_role("button", name="I don't know it").press("Enter")
        made.page.locator(".question h3", has_text=f"Question {passed + 1},").wait_for()
    path = made.page.locator("form.question").get_attribute("data-path")
    assert made.page.evaluate("document.activeElement.name") == "value"
    asked = declared(path or "")
    assert asked is not None  # the page asked for it
    made.page.keyboard.type(asked.kind.spell(asked.kind.samples()[0]))
    made.page.keyboard.press("Tab")  # to the lines
    assert made.page.evaluate("document.activeElement.type") == "radio"
    made.page.keyboard.press("ArrowUp")  # round to the last one
    assert made.page.evaluate("document.activeElement.value") == "other"
    made.page.keyboard.press("Tab")
    made.page.keyboard.type("149")  # by hand: a line with that figure
    lines = made.page.get_by_role("listbox", name="The dump's lines")
    assert lines.input_value() == "149"
    made.page.get_by_label(f"{path}:").focus()
    made.page.keyboard.press("Enter")
    made.page.locator(".effect li").first.wait_for()
    assert made.page.evaluate("document.activeElement.textContent") == "That is right"
    targets = made.page.locator("#b-teach button, #b-teach input[type=text], #b-teach .choice")
    for width, scheme in SCREENS:
        shown_at(made, width, scheme)
        boxes = [one.bounding_box() for one in targets.all()]
        assert len(boxes) > 8
        assert [box for box in boxes if box is None or min(box["height"], box["width"]) < 44] == []
        assert made.page.evaluate("document.documentElement.scrollWidth") <= width
        assert faults_by_axe(made.page) == []
    made.page.keyboard.press("Enter")
    made.page.locator(".question h3", has_text=f"Question {passed + 2},").wait_for()
    assert made.page.evaluate("document.activeElement.name") == "value"
    made.page.get_by_role("button", name="Back to the question before").press("Enter")
    made.page.locator(".question h3", has_text=f"Question {passed + 1},").wait_for()
    assert made.console == []
    made.page.close()


@pytest.fixture(scope="module")
def failed(chromium: Browser, bench: BenchPage) -> Iterator[ShownPage]:
    """The page with two dumps and a step that failed, and all open that can be opened."""
    made = ShownPage(chromium, bench.file)
    made.give(DIPPER, FAULTY)
    made.page.get_by_role("button", name="It is not so (propellers-off)").click()
    made.page.locator("[data-step=propellers-off].failed").wait_for()
    opened = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"
    made.page.evaluate(opened)
    made.page.locator("#b-licences details").first.wait_for()
    yield made
    made.page.close()


@pytest.mark.parametrize(("width", "scheme"), SCREENS)
def test_axe_finds_no_fault(
    failed: ShownPage, width: int, scheme: Literal["light", "dark"]
) -> None:
    """Reference library: axe-core, as axe-playwright-python brings it."""
    shown_at(failed, width, scheme)
    assert faults_by_axe(failed.page) == []
    assert failed.page.evaluate("document.documentElement.scrollWidth") <= width


def test_it_can_be_worked_by_keys_alone(chromium: Browser, bench: BenchPage) -> None:
    made = ShownPage(chromium, bench.file)
    made.page.keyboard.press("Tab")
    made.page.keyboard.press("Enter")  # the link past the head
    made.page.keyboard.press("Tab")
    assert made.page.evaluate("document.activeElement.id") == "b-files"
    made.page.keyboard.press("Tab")
    made.page.keyboard.insert_text("[battery]\ncells = 4\n")
    made.page.keyboard.press("Tab")
    made.page.keyboard.press("Enter")
    made.answered()
    assert "pasted.dump" in made.text("#b-given")
    made.page.close()

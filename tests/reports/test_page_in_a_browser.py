"""The page in a real browser: quiet, readable, worked by keyboard, fit for a screen reader."""

from pathlib import Path
from typing import Any, NamedTuple

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Request

from cfgaudit.reports.html import TickedStep, WorkingList, list_html
from tests.reports.browser import faults_by_axe
from tests.reports.pages import hostile, page

FAULTY = "faulty/dipper-after-repair.dump"
WIDTHS = (1280, 390)


class Shown(NamedTuple):
    """A page in the browser, what it put on the console and what it asked for."""

    page: Page
    console: list[str]
    requests: list[str]


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    evil = tmp_path_factory.mktemp("evil")
    with pytest.MonkeyPatch.context() as patch:
        beside = ("--beside", "goosander.dump", "--beside", "wagtail.dump")
        sheet = ("--build", "dipper.build.toml")
        texts = {
            "craft": page(patch, "dipper.dump"),
            "faulty": page(patch, FAULTY, *sheet, *beside),
            "change": page(patch, "dipper.dump", FAULTY, *sheet),
            "named": page(patch, "goosander.dump"),
            "partial": page(patch, "broken/bom.dump"),
            "hostile": hostile(patch, evil),
        }
    steps = tuple(TickedStep(f"Do thing {n}", "and look", n < 3) for n in range(1, 16))
    texts["list"] = list_html(WorkingList("Dipper", "At the bench", steps, "Propellers off."))
    for name, text in texts.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in texts}


def shown(chromium: Browser, file: Path, width: int = 1280, **more: Any) -> Shown:
    made = chromium.new_page(viewport={"width": width, "height": 900}, **more)
    console: list[str] = []
    requests: list[str] = []

    def said(message: ConsoleMessage) -> None:
        console.append(message.text)

    def asked(request: Request) -> None:
        requests.append(request.url)

    made.on("console", said)
    made.on("pageerror", lambda error: console.append(str(error)))
    made.on("request", asked)
    made.on("dialog", lambda dialog: console.append(f"dialog: {dialog.message}"))
    made.goto(file.as_uri())
    return Shown(made, console, requests)


NAMES = ["craft", "faulty", "change", "hostile", "list"]


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_quiet_and_asks_for_nothing(
    chromium: Browser, files: dict[str, Path], name: str
) -> None:
    made = shown(chromium, files[name])
    assert made.console == []
    assert made.requests == [files[name].as_uri()]
    made.page.close()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_wider_than_the_screen(
    chromium: Browser, files: dict[str, Path], name: str, width: int
) -> None:
    made = shown(chromium, files[name], width).page
    assert made.evaluate("document.documentElement.scrollWidth") <= width
    made.close()


_BOXES = """() => [...document.querySelectorAll('svg.picture')].map((svg) => {
  const whole = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll('text')].map((t) => t.getBoundingClientRect());
  const size = parseFloat(getComputedStyle(svg.querySelector('text')).fontSize);
  return {name: svg.querySelector('title').textContent, width: whole.width, height: whole.height,
    texts: texts.length, letters: size * whole.width / svg.viewBox.baseVal.width,
    outside: texts.filter((b) => b.left < whole.left - 1 || b.right > whole.right + 1
      || b.top < whole.top - 1 || b.bottom > whole.bottom + 1).length};
})"""


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["craft", "faulty", "change"])
def test_pictures_have_size_and_text_within_them(
    chromium: Browser, files: dict[str, Path], name: str, width: int
) -> None:
    made = shown(chromium, files[name], width).page
    boxes = made.evaluate(_BOXES)
    assert len(boxes) >= 6
    for box in boxes:
        assert box["width"] > 250, box
        assert box["height"] > 40, box  # one row has 53 on a phone
        assert box["texts"] > 3, box
        assert box["outside"] == 0, box
        assert box["letters"] >= 9.5, box  # pixels: what can be read at arm's length
    made.close()


_OVER_ONE_ANOTHER = """() => {
  const texts = [...document.querySelectorAll('#picture-switches svg text')];
  const boxes = texts.map((t) => [t.textContent, t.getBoundingClientRect()]);
  return boxes.flatMap(([one, a], n) => boxes.slice(n + 1).filter(([_, b]) =>
    a.left < b.right + 3 && b.left < a.right + 3 && a.top < b.bottom - 3 && b.top < a.bottom - 3
  ).map(([other]) => [one, other]));
}"""


@pytest.mark.parametrize("width", [1280, 390, 360])
def test_the_words_of_a_switch_picture_do_not_lie_over_one_another(
    chromium: Browser, files: dict[str, Path], width: int
) -> None:
    made = shown(chromium, files["named"], width).page
    assert made.locator("#picture-switches svg text").count() > 20
    assert made.evaluate(_OVER_ONE_ANOTHER) == []
    made.close()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["faulty", "change"])
def test_each_cause_has_a_button_that_a_thumb_hits_and_that_leads_to_it(
    chromium: Browser, files: dict[str, Path], name: str, width: int
) -> None:
    made = shown(chromium, files[name], width).page
    buttons = made.locator(".causes-nav a").all()
    assert len(buttons) == made.locator(".cause").count() == 4
    for number, button in enumerate(buttons, 1):
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44  # CSS px: WCAG 2.2, 2.5.5 (published)
        button.click()
        cause = made.locator(f"#cause-{number}").bounding_box()
        nav = made.locator(".causes-nav").bounding_box()
        assert cause is not None
        assert nav is not None
        assert nav["y"] + nav["height"] <= cause["y"] + 1  # not hidden below the buttons
        assert cause["y"] < 900


def test_each_cause_stands_beside_its_own_picture_with_what_is_wrong_marked_in_it(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["faulty"]).page
    # arm's range hatched, two motors' words, a broken wire, a hatched bar
    marks = (".arming", ".wrong", ".broken", ".wrong")
    for number, mark in enumerate(marks, 1):
        picture = made.locator(f"#cause-{number} svg.picture")
        assert picture.count() == 1
        assert picture.locator(mark).count() >= 1
        text, beside = made.locator(f"#cause-{number} .told").bounding_box(), picture.bounding_box()
        assert text is not None
        assert beside is not None
        assert beside["x"] >= text["x"] + text["width"]


def test_the_filter_finds_a_number_with_and_without_its_comma(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["faulty"]).page
    counts = []
    for number in ("1500", "1,500"):
        made.locator("#search").fill(number)
        counts.append(made.locator(".finding:not([hidden])").count())
    assert counts[0] == counts[1] > 0


def test_a_number_in_a_table_is_not_broken_on_a_narrow_page(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["change"], 390).page
    made.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    broken = made.evaluate("""() => {
      const found = [];
      for (const cell of document.querySelectorAll('td')) {
        const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
        for (let text = walk.nextNode(); text; text = walk.nextNode()) {
          for (const number of text.data.matchAll(/[\\d.,]*\\d/g)) {
            const range = document.createRange();
            range.setStart(text, number.index);
            range.setEnd(text, number.index + number[0].length);
            if (range.getClientRects().length > 1) found.push(cell.textContent);
          }
        }
      }
      return [document.querySelectorAll('td').length, found];
    }""")
    assert broken[0] > 100
    assert broken[1] == []
    made.close()


@pytest.mark.parametrize("scripts", [True, False])
def test_on_paper_the_rules_that_could_not_be_checked_are_listed(
    chromium: Browser, files: dict[str, Path], scripts: bool
) -> None:
    made = shown(chromium, files["partial"], java_script_enabled=scripts).page
    row = made.locator("#not-checked tr", has_text="switch/no-kill")
    seen = "one => one.checkVisibility()"
    assert not row.evaluate(seen)
    made.emulate_media(media="print")
    assert row.evaluate(seen)
    made.close()


def test_on_a_narrow_page_a_place_that_goes_on_below_is_seen_to_belong_to_it(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["faulty"], 360).page
    place = made.locator(".finding dd li", has_text="motors.front_left.spin").first
    first, last = (
        place.locator("code").nth(n).evaluate("one => [...one.getClientRects()].at(-1).left")
        for n in (0, 1)
    )
    start = place.evaluate("one => one.getBoundingClientRect().left")
    assert place.locator("code").nth(0).evaluate("one => one.getClientRects()[0].left") == start
    assert min(first, last) > start + 8
    made.close()


def test_the_filter_is_worked_by_keys_alone(chromium: Browser, files: dict[str, Path]) -> None:
    made = shown(chromium, files["faulty"]).page
    made.keyboard.press("/")
    assert made.evaluate("document.activeElement.id") == "search"
    made.keyboard.type("Enabled-Unassigned telemetry")
    seen = [one.inner_text().lower() for one in made.locator(".finding:visible").all()]
    assert seen
    assert all("enabled-unassigned" in one and "telemetry" in one for one in seen)
    assert made.locator("#count").inner_text().startswith(f"{len(seen)} of ")
    assert made.locator("#level-note").is_hidden()
    made.keyboard.press("Escape")
    every = made.locator(".finding").count()
    assert made.locator(".finding:visible").count() == every
    made.keyboard.press("Tab")
    assert made.evaluate("document.activeElement.dataset.for") == "error"
    made.keyboard.press("Space")
    left = made.locator(".finding:visible").count()
    assert 0 < left < every
    assert made.locator(".finding.error:visible").count() == 0
    made.close()


def test_single_keys_step_through_the_findings_and_can_be_switched_off(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["faulty"]).page
    first, second = made.locator(".finding").evaluate_all("all => all.map((one) => one.id)")[:2]
    for key, wanted in (("n", first), ("n", second), ("p", first), ("p", first)):
        made.keyboard.press(key)
        assert made.evaluate("document.activeElement.id") == wanted
    made.locator("#keys").uncheck()
    made.locator("#main").focus()
    made.keyboard.press("/")
    assert made.evaluate("document.activeElement.id") == "main"
    made.close()


def test_an_address_brings_back_a_finding_that_the_filter_hides(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["faulty"]).page
    made.locator("#search").fill("no such words")
    assert made.locator(".finding:visible").count() == 0
    made.evaluate("location.hash = '#telemetry/enabled-unassigned'")
    article = made.locator("[id='telemetry/enabled-unassigned']")
    article.wait_for(state="visible")
    assert article.evaluate("one => one.matches(':target')")
    made.close()


def test_without_its_script_the_page_shows_everything(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["faulty"], java_script_enabled=False).page
    assert made.locator(".finding").first.is_visible()
    assert made.locator("#tools").is_hidden()
    made.close()


# by turns: the style sheet is one, and each page has its own parts
@pytest.mark.parametrize(
    ("name", "width", "scheme"),
    [(name, *((1280, "light"), (390, "dark"))[n % 2]) for n, name in enumerate(NAMES)],
)
def test_axe_finds_no_fault(
    chromium: Browser, files: dict[str, Path], name: str, width: int, scheme: str
) -> None:
    """Reference library: axe-core, as axe-playwright-python brings it."""
    made = shown(chromium, files[name], width, color_scheme=scheme).page
    made.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert faults_by_axe(made) == []
    made.close()


def _colour(made: Page, of: str, what: str = "backgroundColor") -> str:
    value = made.locator(of).first.evaluate(f"one => getComputedStyle(one).{what}")
    assert isinstance(value, str)
    return value


def test_dark_and_light_differ_and_print_is_always_light(
    chromium: Browser, files: dict[str, Path]
) -> None:
    made = shown(chromium, files["faulty"], color_scheme="light").page
    light = _colour(made, "body"), _colour(made, ".picture text", "fill")
    made.emulate_media(color_scheme="dark")
    dark = _colour(made, "body"), _colour(made, ".picture text", "fill")
    assert light[0] != dark[0]
    assert light[1] != dark[1]
    made.emulate_media(media="print", color_scheme="dark")
    assert _colour(made, "body") == "rgb(255, 255, 255)"
    assert _colour(made, ".picture text", "fill") == light[1]
    assert all(nav.is_hidden() for nav in made.locator("nav").all())
    assert made.locator("#tools").is_hidden()
    made.close()


def _sheets(data: bytes) -> int:
    return data.count(b"/Type /Page") - data.count(b"/Type /Pages")


def test_a_working_list_prints_on_one_sheet(chromium: Browser, files: dict[str, Path]) -> None:
    made = shown(chromium, files["list"]).page
    assert _sheets(made.pdf(prefer_css_page_size=True)) == 1
    made.emulate_media(media="print")
    assert made.locator(".tick-box").count() == 15
    assert _colour(made, ".tick-box", "borderTopWidth") == "2px"
    made.close()


@pytest.mark.parametrize("name", ["faulty", "change"])
def test_printed_text_is_no_smaller_than_8_points(
    chromium: Browser, files: dict[str, Path], name: str
) -> None:
    # A4 less its margins is 182 mm wide: 688 px of 1/96 inch (CSS, published), a point being 4/3 px
    made = shown(chromium, files[name], 688).page
    made.emulate_media(media="print")
    letters = made.evaluate(_BOXES)
    assert len(letters) > 6
    smallest = made.evaluate("""Math.min(...[...document.querySelectorAll('svg.picture text')].map(
      (t) => parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a))""")
    assert smallest * 0.75 >= 8
    texts = "[...document.querySelectorAll('main :not(svg *)')].filter((e) => e.innerText?.trim())"
    sizes = made.evaluate(f"{texts}.map((e) => parseFloat(getComputedStyle(e).fontSize))")
    assert min(sizes) * 0.75 >= 8
    made.close()


def test_it_prints_on_a_few_sheets_of_a4(chromium: Browser, files: dict[str, Path]) -> None:
    made = shown(chromium, files["faulty"]).page
    data = made.pdf(prefer_css_page_size=True)
    assert 3 <= _sheets(data) <= 10
    # A4 (ISO 216, published): 210 × 297 mm are 595 × 842 points
    assert b"/MediaBox [0 0 595" in data or b"/MediaBox [0 0 594.9" in data
    made.close()

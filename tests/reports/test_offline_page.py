"""The bench page in a real browser: it says what the command line says, and asks for nothing."""

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

import pytest
from playwright.sync_api import Browser

from tests.cli.calling import CORPUS, call
from tests.reports.bench_pages import DIPPER, DUMPS, FAULTY, BenchPage, ShownPage
from tests.reports.pages import HOSTILE

MOST_BYTES: Final = 12_000_000  # what a file may have that is sent to a telephone


@pytest.fixture(scope="module")
def worked(chromium: Browser, bench: BenchPage) -> Iterator[ShownPage]:
    """The page with a dump and the one before it."""
    made = ShownPage(chromium, bench.file)
    made.give(DIPPER, FAULTY)
    yield made
    made.page.close()


@pytest.fixture(scope="module")
def going_on(chromium: Browser, bench: BenchPage) -> Iterator[ShownPage]:
    """A page that is given one thing after another, by tests that don't mind what came before."""
    made = ShownPage(chromium, bench.file)
    yield made
    made.page.close()


def test_it_is_one_file_of_a_size_that_can_be_sent(bench: BenchPage) -> None:
    size = bench.file.stat().st_size
    print(f"\nthe bench page has {size:,} bytes")
    assert size <= MOST_BYTES


class Both(NamedTuple):
    """One output, by the page and by the command line."""

    name: str
    page: bytes
    terminal: bytes


@pytest.mark.parametrize("width", [pytest.param(1280, marks=pytest.mark.long), 390])
def test_page_and_command_line_say_the_same_to_the_byte(
    chromium: Browser, bench: BenchPage, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """Check value: the command line's own output, for every dump, and for it and the one before."""
    made = ShownPage(chromium, bench.file, width)
    compared: list[Both] = []
    before = ""
    dumps = DUMPS if width == 1280 else DUMPS[::6]  # the output hangs on no width
    for dump in dumps:
        made.give(dump)
        check = made.saved("Save the audit as JSON")
        said = call(monkeypatch, ["check", "--format", "json", dump.name], cwd=bench.folder)
        compared.append(Both(dump.name, check, said.out.encode()))
        if before:
            change = made.saved("Save the changes as JSON")
            said = call(
                monkeypatch, ["diff", "--format", "json", before, dump.name], cwd=bench.folder
            )
            compared.append(Both(f"{before} to {dump.name}", change, said.out.encode()))
        before = dump.name
    assert len(compared) == 2 * len(dumps) - 1
    assert len(DUMPS) > 30
    assert [one.name for one in compared if one.page != one.terminal] == []
    assert made.page.evaluate("document.documentElement.scrollWidth") <= width
    assert made.console == []
    assert made.asked == [bench.file.as_uri()]
    made.page.close()


ASKED: Final = """
window.asked = [];
const sent = Worker.prototype.postMessage;
Worker.prototype.postMessage = function (message) {
  if (message.request) window.asked.push(message.request.do);
  sent.apply(this, arguments);
};
"""


def test_what_is_given_before_it_is_ready_is_answered_first_and_how_soon_is_told(
    chromium: Browser, bench: BenchPage
) -> None:
    made = ShownPage(chromium, bench.file, script=ASKED)
    made.page.set_input_files("#b-files", FAULTY)
    made.page.locator("#b-result .verdict").first.wait_for()
    first = time.monotonic() - made.begun
    made.answered()
    made.give(DIPPER)
    later = made.page.locator("#b-result").get_attribute("data-last")
    print(f"\nfirst result after {first:.2f} s, a later check in {later} s")
    assert made.page.evaluate("window.asked").index("report") == 1  # and nothing is warmed up
    assert made.console == []
    made.page.close()


def test_a_finding_has_the_dump_s_own_line_beside_its_place(worked: ShownPage) -> None:
    # by hand, from the dump: its line 320 is `gives = 900`
    assert FAULTY.read_text(encoding="utf-8").splitlines()[319].strip() == "gives = 900"
    place = worked.page.locator("#findings .finding li", has_text=f"{FAULTY.name}:320").first
    assert "gives = 900" in place.inner_text()


def test_the_lines_beside_places_hide_what_is_private(going_on: ShownPage) -> None:
    going_on.give(DIPPER)
    place = going_on.page.locator(
        "[id='dump/secret-present'] li", has_text=f"{DIPPER.name}:9:"
    ).first
    shown = place.locator(".own-line").inner_text()
    _, _, private = DIPPER.read_text(encoding="utf-8").splitlines()[8].partition("= ")
    assert private.strip()
    assert "hidden" in shown
    assert private.strip() not in going_on.page.content()


def test_a_second_dump_shows_what_changed_and_what_that_brings(worked: ShownPage) -> None:
    told = worked.text("#b-changes")
    assert f"What changed from {DIPPER.name} to {FAULTY.name}" in told
    assert "battery.capacity" in told
    link = worked.page.locator("#b-changes .told a", has_text="failsafe/throttle-closes").first
    assert link.get_attribute("href") == "#failsafe/throttle-closes"
    causes = worked.page.locator("#b-changes .cause a")
    assert causes.count() > 3
    leads = causes.evaluate_all("all => all.map((one) => one.getAttribute('href').slice(1))")
    assert [one for one in leads if not worked.page.locator(f"[id='{one}']").count()] == []


def test_the_lines_of_a_mend_can_be_copied(worked: ShownPage) -> None:
    # README shows the first four; the others by hand, from the dump's lines 161 and 318 to 320
    lines = worked.text("#b-mends .copied >> nth=0").split("\n")
    motors = ["[arm bow_port]", "turns = sunwise", "[arm bow_starboard]", "turns = widdershins"]
    throttle = ["[lost channel 3]", "freezes = yes"]
    assert lines == ["[port brook2]", "jobs = 2", *motors, *throttle]
    worked.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    worked.page.get_by_role("button", name="Copy the change").click()
    worked.page.get_by_text("Copied.").wait_for()
    assert worked.page.evaluate("navigator.clipboard.readText()").split("\n") == lines


def test_roles_can_be_changed_about(going_on: ShownPage) -> None:
    going_on.give(DIPPER, FAULTY)
    going_on.page.get_by_label(f"What {DIPPER.name} is").select_option("now")
    going_on.answered()
    assert f"What changed from {FAULTY.name} to {DIPPER.name}" in going_on.text("#b-changes")
    going_on.page.get_by_label(f"What {FAULTY.name} is").select_option("aside")
    going_on.answered()
    assert going_on.page.locator("#b-changes").count() == 0


def test_the_report_s_filter_and_keys_work_and_leave_the_page_s_fields_alone(
    going_on: ShownPage,
) -> None:
    going_on.give(FAULTY)
    going_on.page.locator("#b-text").fill("")
    going_on.page.locator("#b-text").press_sequentially("n/p")
    assert going_on.page.locator("#b-text").input_value() == "n/p"
    going_on.page.locator("#search").fill("throttle-closes")
    assert going_on.page.locator("#findings .finding:visible").count() == 1
    going_on.page.locator("#search").fill("")
    going_on.page.locator("#keys").focus()
    going_on.page.keyboard.press("n")
    first = going_on.page.locator("#findings .finding").first.get_attribute("id")
    assert going_on.page.evaluate("document.activeElement.id") == first


# What comes before the first step that asks for a value, the voltage of a switched rail.
OPENING: Final = (
    "propellers-off", "joints", "antenna-video", "antenna-receiver", "bridge-video", "polarity",
    "continuity", "motor-screws", "bells", "propeller-balance",
)  # fmt: skip


def test_what_is_private_is_hidden_before_a_dump_is_passed_on(
    worked: ShownPage, bench: BenchPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked.page.get_by_role("button", name="Hide what is private").click()
    data = worked.saved("Save the redacted dump")
    said = call(monkeypatch, ["redact", FAULTY.name], cwd=bench.folder)
    assert data == said.out.encode()
    assert data != FAULTY.read_bytes()


def test_the_causes_come_first_with_their_own_lines(worked: ShownPage) -> None:
    # by hand, from the dump: the four lines to change are 37, 150 with 161, 245 or 326, and 320
    first = worked.page.locator("#b-report section").first
    assert first.get_attribute("id") == "causes"
    text = FAULTY.read_text(encoding="utf-8").splitlines()
    for line in (150, 161, 326, 320, 37):
        quoted = worked.page.locator("#causes .lines li", has_text=f"line {line} ").first
        assert quoted.locator("code").inner_text() == text[line - 1].strip()
        # laid out as in the report: number, line and meaning beside each other
        assert quoted.evaluate("one => getComputedStyle(one.parentElement).whiteSpace") == "normal"
    assert worked.text("#b-state").count("9 errors") == 1
    assert "could be checked" not in worked.text("#b-state")


def test_each_dump_of_a_paste_can_be_chosen(going_on: ShownPage) -> None:
    going_on.give(CORPUS / "pasted" / "several.dump")
    going_on.page.get_by_label("What several.dump#2 is").select_option("now")
    going_on.answered()
    assert "this is number 2" in going_on.text("#b-report")


def test_pasted_text_is_checked(going_on: ShownPage) -> None:
    going_on.page.locator("#b-text").fill(FAULTY.read_text(encoding="utf-8"))
    going_on.page.get_by_role("button", name="Check the pasted text").click()
    going_on.answered()
    assert "9 errors" in going_on.text("#b-report .verdict >> nth=0")


def test_hostile_text_stays_text(going_on: ShownPage, bench: BenchPage, tmp_path: Path) -> None:
    evil = tmp_path / "<img src=x onerror=alert(1)>.cfg"
    evil.write_text(HOSTILE, encoding="utf-8")
    going_on.page.on("dialog", lambda dialog: going_on.console.append(f"dialog: {dialog.message}"))
    going_on.give(evil, DIPPER)
    assert going_on.page.locator("#b-result script, #b-result img, #b-given img").count() == 0
    assert going_on.page.locator("#b-result b[onmouseover]").count() == 0
    assert "<img src=x onerror=alert(1)>" in going_on.text("#b-given")
    assert going_on.console == []
    assert going_on.asked == [bench.file.as_uri()]


def test_the_policy_forbids_the_network_even_to_the_page_s_own_script(worked: ShownPage) -> None:
    tried = """async () => {
      const told = new Promise((done) => addEventListener("securitypolicyviolation", done));
      const answer = await fetch("https://example.com/").catch(() => "refused");
      return [answer, (await told).effectiveDirective];
    }"""
    before = len(worked.console)
    assert worked.page.evaluate(tried) == ["refused", "connect-src"]
    del worked.console[before:]  # the browser's own word on this try
    assert not [url for url in worked.requests if url.startswith("http")]


def test_it_prints_the_report_and_not_the_ways_to_give_files(worked: ShownPage) -> None:
    worked.page.emulate_media(media="print", color_scheme="dark")
    assert worked.page.locator("#b-give").is_hidden()
    assert worked.page.locator("#findings").is_visible()
    colour = "getComputedStyle(document.body).backgroundColor"
    assert worked.page.evaluate(colour) == "rgb(255, 255, 255)"
    worked.page.emulate_media(media="screen", color_scheme="light")

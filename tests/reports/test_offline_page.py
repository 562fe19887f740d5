"""The bench page in a real browser: it says what the command line says, and asks for nothing."""

import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from cfgaudit.work.record import read_record
from tests.cli.calling import CORPUS, call
from tests.reports.browser import browser
from tests.reports.pages import HOSTILE
from tests.reports.runtime import runtime
from tests.reports.test_page_in_a_browser import AXE

MOST_BYTES: Final = 12_000_000  # what a file may have that is sent to a telephone
PATIENCE: Final = 90_000  # ms; how quick it is is printed, and nothing hangs on it
DUMPS: Final = sorted(file for file in CORPUS.rglob("*") if file.suffix in (".dump", ".cfg"))
FAULTY: Final = CORPUS / "faulty" / "dipper-after-repair.dump"
DIPPER: Final = CORPUS / "dipper.dump"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as made:
        yield made


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as the page has one: settings, dialects, sheets, and the dumps beside them."""
    made = tmp_path_factory.mktemp("team")
    shutil.copytree(CORPUS / "dialects", made / "dialects")
    for file in (CORPUS / "cfgaudit.toml", *CORPUS.glob("*.build.toml"), *DUMPS):
        shutil.copy(file, made)
    return made


@pytest.fixture(scope="module")
def file(folder: Path, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("page") / "bench.html"
    with runtime() as given, pytest.MonkeyPatch.context() as patch:
        told = call(
            patch, ["page", ".", "--output", str(made), "--runtime", str(given)], cwd=folder
        )
    assert told.status == 0, told.err
    return made


class Shown:
    """The page in the browser, what it put on the console and what it asked for."""

    def __init__(self, chromium: Browser, file: Path, width: int = 1280, **more: Any) -> None:
        self.page: Page = chromium.new_page(viewport={"width": width, "height": 900}, **more)
        self.console: list[str] = []
        self.requests: list[str] = []
        self.rounds = 0
        self.page.set_default_timeout(PATIENCE)
        self.page.on("console", lambda message: self.console.append(message.text))
        self.page.on("pageerror", lambda error: self.console.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.begun = time.monotonic()
        self.page.goto(file.as_uri())

    def give(self, *files: Path) -> None:
        """Give files one after the other, and wait for each one's answers."""
        for one in files:
            self.page.set_input_files("#b-files", one)
            self.answered()

    def answered(self) -> None:
        self.rounds += 1
        self.page.locator(f"#b-result[data-round='{self.rounds}']").wait_for()

    def saved(self, button: str) -> bytes:
        """What a button saves."""
        with self.page.expect_download() as download:
            self.page.get_by_role("button", name=button).click()
        return Path(download.value.path()).read_bytes()

    def text(self, of: str) -> str:
        return self.page.locator(of).inner_text()


@pytest.fixture(scope="module")
def worked(chromium: Browser, file: Path) -> Iterator[Shown]:
    """The page with a dump and the one before it."""
    made = Shown(chromium, file)
    made.give(DIPPER, FAULTY)
    yield made
    made.page.close()


def test_it_is_one_file_of_a_size_that_can_be_sent(file: Path) -> None:
    size = file.stat().st_size
    print(f"\nthe bench page has {size:,} bytes")
    assert size <= MOST_BYTES


class Both(NamedTuple):
    """One output, by the page and by the command line."""

    name: str
    page: bytes
    terminal: bytes


@pytest.mark.parametrize("width", [1280, 390])
def test_page_and_command_line_say_the_same_to_the_byte(
    chromium: Browser, file: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    """Check value: the command line's own output, for every dump, and for it and the one before."""
    made = Shown(chromium, file, width)
    compared: list[Both] = []
    before = ""
    for dump in DUMPS:
        made.give(dump)
        check = made.saved("Save the audit as JSON")
        said = call(monkeypatch, ["check", "--format", "json", dump.name], cwd=folder)
        compared.append(Both(dump.name, check, said.out.encode()))
        if before:
            change = made.saved("Save the changes as JSON")
            said = call(monkeypatch, ["diff", "--format", "json", before, dump.name], cwd=folder)
            compared.append(Both(f"{before} to {dump.name}", change, said.out.encode()))
        before = dump.name
    assert len(compared) == 2 * len(DUMPS) - 1 > 60
    assert [one.name for one in compared if one.page != one.terminal] == []
    assert made.page.evaluate("document.documentElement.scrollWidth") <= width
    assert made.console == []
    assert _asked(made) == [file.as_uri()]
    made.page.close()


def _asked(made: Shown) -> list[str]:
    """What was asked for, but for what the page has made itself: its thread, what it saves."""
    return [url for url in made.requests if not url.startswith("blob:")]


def test_what_is_given_before_it_is_ready_is_answered_and_how_soon_is_told(
    chromium: Browser, file: Path
) -> None:
    made = Shown(chromium, file)
    made.page.set_input_files("#b-files", FAULTY)
    made.page.locator("#b-result .verdict").first.wait_for()
    first = time.monotonic() - made.begun
    made.answered()
    made.give(DIPPER)
    later = made.page.locator("#b-result").get_attribute("data-last")
    print(f"\nfirst result after {first:.2f} s, a later check in {later} s")
    assert made.console == []
    made.page.close()


def test_a_finding_has_the_dump_s_own_line_beside_its_place(worked: Shown) -> None:
    # by hand, from the dump: its line 320 is `freezes = yes`
    assert FAULTY.read_text(encoding="utf-8").splitlines()[319].strip() == "freezes = yes"
    place = worked.page.locator("#findings .finding li", has_text=f"{FAULTY.name}:320").first
    assert "freezes = yes" in place.inner_text()


def test_the_lines_beside_places_hide_what_is_private(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.give(DIPPER)
    place = made.page.locator("[id='dump/secret-present'] li", has_text=f"{DIPPER.name}:9:").first
    shown = place.locator(".own-line").inner_text()
    _, _, private = DIPPER.read_text(encoding="utf-8").splitlines()[8].partition("= ")
    assert private.strip()
    assert "hidden" in shown
    assert private.strip() not in made.page.content()
    made.page.close()


def test_a_second_dump_shows_what_changed_and_what_that_brings(worked: Shown) -> None:
    told = worked.text("#b-changes")
    assert f"What changed from {DIPPER.name} to {FAULTY.name}" in told
    assert "battery.capacity" in told
    link = worked.page.locator("#b-changes .told a", has_text="failsafe/throttle-held").first
    assert link.get_attribute("href") == "#failsafe/throttle-held"


def test_the_lines_of_a_mend_can_be_copied(worked: Shown) -> None:
    # README shows the same four lines
    lines = worked.text("#b-mends .lines >> nth=0").split("\n")
    assert lines == ["[port brook2]", "jobs = 2", "[lost channel 3]", "gives = 1000"]
    worked.page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    worked.page.get_by_role("button", name="Copy the change").click()
    worked.page.get_by_text("Copied.").wait_for()
    assert worked.page.evaluate("navigator.clipboard.readText()").split("\n") == lines


def test_roles_can_be_changed_about(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.give(DIPPER, FAULTY)
    made.page.get_by_label(f"What {DIPPER.name} is").select_option("now")
    made.answered()
    assert f"What changed from {FAULTY.name} to {DIPPER.name}" in made.text("#b-changes")
    made.page.get_by_label(f"What {FAULTY.name} is").select_option("aside")
    made.answered()
    assert made.page.locator("#b-changes").count() == 0
    made.page.close()


def test_the_report_s_filter_and_keys_work_and_leave_the_page_s_fields_alone(
    chromium: Browser, file: Path
) -> None:
    made = Shown(chromium, file)
    made.give(FAULTY)
    made.page.locator("#b-text").press_sequentially("n/p")
    assert made.page.locator("#b-text").input_value() == "n/p"
    made.page.locator("#search").fill("throttle-held")
    assert made.page.locator("#findings .finding:visible").count() == 1
    made.page.locator("#search").fill("")
    made.page.locator("#keys").focus()
    made.page.keyboard.press("n")
    first = made.page.locator("#findings .finding").first.get_attribute("id")
    assert made.page.evaluate("document.activeElement.id") == first
    made.page.close()


def test_the_list_is_recorded_saved_and_gone_on_with_in_another_page(
    chromium: Browser, file: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    made = Shown(chromium, file)
    made.give(DIPPER)
    made.page.get_by_role("button", name="It is so (propellers-off)").click()
    made.page.locator("[data-step=propellers-off].done").wait_for()
    made.page.get_by_role("button", name="It is not so (joints)").click()
    made.page.locator("[data-step=joints].failed").wait_for()
    record = tmp_path / "dipper.bench.toml"
    record.write_bytes(made.saved("Save the record"))
    made.page.close()
    found = [(entry.step, entry.outcome.value) for entry in read_record(record.read_text())]
    assert found == [("propellers-off", "done"), ("joints", "failed")]
    again = Shown(chromium, file)
    again.give(DIPPER)
    again.give(record)
    assert again.page.locator("[data-step=joints].failed").count() == 1
    again.page.get_by_role("button", name="Take back (joints)").click()
    again.page.locator("[data-step=joints].open").wait_for()
    again.page.close()
    # the command line reads the same record to the same end
    work = tmp_path / "work"
    shutil.copytree(folder, work)
    shutil.copy(record, work)
    said = call(
        monkeypatch, ["bench", "--format", "json", "dipper.build.toml", "dipper.dump"], cwd=work
    )
    assert '"failed": 1' in said.out


def test_a_measured_value_is_asked_for_and_judged(
    chromium: Browser, file: Path, tmp_path: Path
) -> None:
    record = tmp_path / "dipper.bench.toml"
    with pytest.MonkeyPatch.context() as patch:
        work = tmp_path / "work"
        work.mkdir()
        shutil.copy(CORPUS / "dipper.build.toml", work)
        for step in ("propellers-off", "joints", "antenna-video", "antenna-receiver"):
            call(patch, ["bench", "dipper.build.toml", "--done", step], cwd=work)
        for step in ("bridge-video", "polarity", "continuity", "limiter"):
            call(patch, ["bench", "dipper.build.toml", "--done", step], cwd=work)
        shutil.copy(work / record.name, record)
    made = Shown(chromium, file)
    made.give(DIPPER)
    made.give(record)
    asks = made.page.locator(".bench li.open", has=made.page.locator("input[type=text]")).first
    asks.locator("input").fill("no idea")
    asks.get_by_role("button", name="Record").click()
    asks.get_by_role("alert").filter(has_text="no idea").wait_for()
    asks.locator("input").fill("-99999")
    id_of = asks.get_attribute("data-step")
    asks.get_by_role("button", name="Record").click()
    made.page.locator(f"[data-step='{id_of}'].failed").wait_for()
    made.page.close()


def test_what_is_private_is_hidden_before_a_dump_is_passed_on(
    worked: Shown, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked.page.get_by_role("button", name="Hide what is private").click()
    data = worked.saved("Save the redacted dump")
    said = call(monkeypatch, ["redact", FAULTY.name], cwd=folder)
    assert data == said.out.encode()
    assert data != FAULTY.read_bytes()


def test_a_dropped_dialect_and_sheet_are_used(
    chromium: Browser, tmp_path: Path, folder: Path
) -> None:
    """A page made for an empty folder learns both from what it is given."""
    (tmp_path / "empty").mkdir()
    page = tmp_path / "bench.html"
    with runtime() as given, pytest.MonkeyPatch.context() as patch:
        options = ["--output", str(page), "--runtime", str(given)]
        told = call(patch, ["page", *options], cwd=tmp_path / "empty")
        assert told.status == 0, told.err
        wanted = call(patch, ["check", "--format", "json", FAULTY.name], cwd=folder).out
    made = Shown(chromium, page)
    made.give(FAULTY)
    assert "No dialect" in made.text("#b-report")
    made.give(CORPUS / "dialects" / "sedge.toml")
    assert "sedge 2.4.1" in made.text("#b-report")
    assert "No build sheet" in made.text("#b-report")
    made.give(CORPUS / "dipper.build.toml")
    assert made.saved("Save the audit as JSON").decode() == wanted
    made.page.close()


def test_each_dump_of_a_paste_can_be_chosen(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.give(CORPUS / "pasted" / "several.dump")
    made.page.get_by_label("What several.dump#2 is").select_option("now")
    made.answered()
    assert "this is number 2" in made.text("#b-report")
    made.page.close()


def test_pasted_text_is_checked(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
    made.page.locator("#b-text").fill(FAULTY.read_text(encoding="utf-8"))
    made.page.get_by_role("button", name="Check the pasted text").click()
    made.answered()
    assert "8 errors" in made.text("#b-report .verdict >> nth=0")
    made.page.close()


def test_hostile_text_stays_text(chromium: Browser, file: Path, tmp_path: Path) -> None:
    evil = tmp_path / "<img src=x onerror=alert(1)>.cfg"
    evil.write_text(HOSTILE, encoding="utf-8")
    made = Shown(chromium, file)
    made.page.on("dialog", lambda dialog: made.console.append(f"dialog: {dialog.message}"))
    made.give(evil, DIPPER)
    assert made.page.locator("#b-result script, #b-result img, #b-given img").count() == 0
    assert made.page.locator("#b-result b[onmouseover]").count() == 0
    assert "<img src=x onerror=alert(1)>" in made.text("#b-given")
    assert made.console == []
    assert _asked(made) == [file.as_uri()]
    made.page.close()


def test_the_policy_forbids_the_network_even_to_the_page_s_own_script(worked: Shown) -> None:
    tried = """async () => {
      const told = new Promise((done) => addEventListener("securitypolicyviolation", done));
      const answer = await fetch("https://example.com/").catch(() => "refused");
      return [answer, (await told).effectiveDirective];
    }"""
    before = len(worked.console)
    assert worked.page.evaluate(tried) == ["refused", "connect-src"]
    del worked.console[before:]  # the browser's own word on this try
    assert not [url for url in worked.requests if url.startswith("http")]


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_finds_no_fault(chromium: Browser, file: Path, width: int, scheme: str) -> None:
    """Reference library: axe-core, as axe-playwright-python brings it."""
    made = Shown(chromium, file, width, color_scheme=scheme)
    made.give(DIPPER, FAULTY)
    made.page.get_by_role("button", name="It is not so (propellers-off)").click()
    made.page.locator("[data-step=propellers-off].failed").wait_for()
    opened = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"
    made.page.evaluate(opened)
    made.page.locator("#b-licences details").first.wait_for()
    answer = Axe().run(made.page, options=AXE)
    faults = [
        (one["impact"], one["id"], one["nodes"][0]["html"][:160])
        for one in answer.response["violations"]
    ]
    assert faults == []
    assert len(answer.response["passes"]) > 20
    assert made.page.evaluate("document.documentElement.scrollWidth") <= width
    made.page.close()


def test_it_can_be_worked_by_keys_alone(chromium: Browser, file: Path) -> None:
    made = Shown(chromium, file)
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


def test_it_prints_the_report_and_not_the_ways_to_give_files(worked: Shown) -> None:
    worked.page.emulate_media(media="print", color_scheme="dark")
    assert worked.page.locator("#b-give").is_hidden()
    assert worked.page.locator("#findings").is_visible()
    colour = "getComputedStyle(document.body).backgroundColor"
    assert worked.page.evaluate(colour) == "rgb(255, 255, 255)"
    worked.page.emulate_media(media="screen", color_scheme="light")

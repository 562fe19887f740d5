"""Firefox for the tests of the page, driven by Marionette, its own remote protocol.

Where there is none the tests are skipped and say so; where CFGAUDIT_NEEDS_BROWSER is set they fail.
"""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pytest

if TYPE_CHECKING:
    from marionette_driver.marionette import Marionette

HOW: Final = "no Firefox: install Debian's firefox-esr"
PATIENCE: Final = 120  # s


class Firefox:
    """The browser, and the folder that it saves to."""

    def __init__(self, driver: "Marionette", saved: Path) -> None:
        self.driver, self.saved = driver, saved

    def told(self, script: str) -> Any:
        """What a script returns in the page."""
        return self.driver.execute_script(script)

    def give(self, field: str, file: Path) -> None:
        """Give a file to a field of the page."""
        self.driver.find_element("css selector", field).send_keys(str(file))

    def press(self, button: str) -> None:
        """Press the button that says so."""
        self.driver.execute_script(
            "[...document.querySelectorAll('button')]"
            ".find((one) => one.textContent.trim() === arguments[0]).click()",
            script_args=[button],
        )

    def until(self, found: Callable[[], Any]) -> Any:
        """What is found in the end."""
        patient_to = time.monotonic() + PATIENCE
        while time.monotonic() < patient_to:
            if got := found():
                return got
            time.sleep(0.1)
        raise AssertionError(f"not found in {PATIENCE} s")

    def download(self) -> bytes:
        """What the page has saved, once it is whole; it is taken away."""

        def whole() -> list[Path]:
            files = list(self.saved.iterdir())
            return (
                []
                if any(file.suffix == ".part" or not file.stat().st_size for file in files)
                else files
            )

        (file,) = self.until(whole)
        data: bytes = file.read_bytes()
        file.unlink()
        return data


def _preferences(port: int, saved: Path) -> str:
    wanted = {
        "marionette.port": port,
        "browser.shell.checkDefaultBrowser": "false",
        "browser.download.folderList": 2,
        "browser.download.dir": f'"{saved}"',
        "browser.download.useDownloadDir": "true",
        "browser.download.alwaysOpenPanel": "false",
        "browser.helperApps.neverAsk.saveToDisk": '"application/json,text/plain"',
    }
    return "".join(f'user_pref("{name}", {value});\n' for name, value in wanted.items())


@contextmanager
def firefox() -> Iterator[Firefox]:
    """Firefox without a window, with a new profile."""
    module = pytest.importorskip("marionette_driver.marionette", exc_type=ImportError)
    found = shutil.which("firefox") or shutil.which("firefox-esr")
    if found is None:
        if os.environ.get("CFGAUDIT_NEEDS_BROWSER"):
            pytest.fail(HOW)
        pytest.skip(HOW)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        profile, saved = Path(name, "profile"), Path(name, "saved")
        profile.mkdir()
        saved.mkdir()
        with socket.create_server(("127.0.0.1", 0)) as free:
            port = free.getsockname()[1]
        (profile / "user.js").write_text(_preferences(port, saved), encoding="utf-8")
        begun = [
            found,
            "--headless",
            "--marionette",
            "--remote-allow-system-access",
            "--profile",
            str(profile),
        ]
        process = subprocess.Popen(begun, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            _answers(port)
            driver = module.Marionette(host="127.0.0.1", port=port)
            driver.start_session()
            driver.set_context("content")
            yield Firefox(driver, saved)
        finally:
            process.terminate()
            process.wait(30)


def _answers(port: int) -> None:
    """Wait until the browser listens."""
    patient_to = time.monotonic() + PATIENCE
    while time.monotonic() < patient_to:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
        except OSError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError(f"Firefox does not answer in {PATIENCE} s")

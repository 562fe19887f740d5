"""What audits a fleet's dumps in each process: by the settings of the folder that a dump is in."""

from datetime import date
from pathlib import Path

from cfgaudit import __version__
from cfgaudit.audit.engine import Audit, audit
from cfgaudit.audit.record import Desk, Record, digest_of, stamp_of
from cfgaudit.cli.building import sheets
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.settings import FolderSettings
from cfgaudit.rules.book import book
from cfgaudit.rules.rule import Rule, usual_limits
from cfgaudit.settings import Settings


class FolderDesks:
    """A desk for each folder's settings; what a worker process is given."""

    def __init__(self, dialect: str | None, today: date) -> None:
        self._inputs = Inputs(dialect)
        self._dialect, self._today = dialect, today
        self._desks: dict[object, Desk] = {}
        self._of_folder: dict[str, Desk] = {}

    def stamp(self, source: str) -> str:
        """As Auditing does: of the program, the rules, the dialects and the folder's settings."""
        return self._desk(source).stamp(source)

    def record(self, source: str, data: bytes) -> Record:
        """As Auditing does. What is wrong with a folder's settings is the reason."""
        try:
            desk = self._desk(source)
        except Exception as error:  # the settings file of one folder must not stop the others
            return Record(source, digest_of(data), reason=f"its folder's settings: {error}")
        return desk.record(source, data)

    def _desk(self, source: str) -> Desk:
        folder = str(Path(source).parent)
        found = self._of_folder.get(folder)
        if found is None:
            if len(self._of_folder) > 10_000:
                self._of_folder.clear()
            settings = self._inputs.folder(source)
            key = _key(settings)
            found = self._desks.get(key)
            if found is None:
                found = self._desks[key] = self._made(source, settings)
            self._of_folder[folder] = found
        return found

    def _made(self, source: str, folder: FolderSettings) -> Desk:
        house = self._inputs.house(source)
        rules = (*book(), *self._inputs.plugins().single, *(house.rules if house else ()))
        limits = house.limits if house else usual_limits()
        dialects, chosen = self._inputs.known(source)
        texts = [path.read_text("utf-8", "backslashreplace") for path in folder.dialects]
        texts += [part.text for part in (folder.house, folder.craft) if part is not None]
        if house and house.waivers:
            texts.append(self._today.isoformat())  # by which they run out
        return Desk(
            dialects,
            rules,
            limits,
            chosen,
            stamp_of(__version__, rules, limits, [*texts, self._dialect or ""]),
            lambda of, settings: self._whole(of, settings, folder, rules),
        )

    def _whole(
        self, source: str, settings: Settings, folder: FolderSettings, rules: tuple[Rule, ...]
    ) -> Audit | None:
        """The audit of a craft with a build sheet, or with waivers; None for any other."""
        house = self._inputs.house(source)
        waivers = house.waivers if house else ()
        if folder.craft is None and not waivers:
            return None
        (sheet,) = sheets(self._inputs, [source], [settings], ())
        if sheet is None and not waivers:
            return None
        made = audit(settings, rules, house.limits if house else None, sheet)
        if waivers:
            from cfgaudit.audit.waivers import waive

            (made,) = waive([made], waivers, self._today, tell=False)
        return made


def _key(folder: FolderSettings) -> object:
    """What is the same for folders whose dumps are audited alike."""
    files = tuple(part.file for part in (folder.house, folder.craft) if part is not None)
    return folder.dialects, files

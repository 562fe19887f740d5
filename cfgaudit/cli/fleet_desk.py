"""What audits a fleet's dumps in each process: by the settings of the folder that a dump is in."""

from pathlib import Path

from cfgaudit import __version__
from cfgaudit.audit.engine import Audit
from cfgaudit.audit.record import Desk, Record, digest_of, stamp_of
from cfgaudit.cli.auditing import audited, day_of, rules_of
from cfgaudit.cli.folder import FolderSettings, named_sheets
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import JudgedBy, ReadBy
from cfgaudit.rules.rule import usual_limits
from cfgaudit.settings import Settings


class FolderDesks:
    """A desk for each folder's settings; what a worker process is given."""

    def __init__(self, reading: ReadBy, judging: JudgedBy) -> None:
        self._inputs, self._reading, self._judging = Inputs(reading), reading, judging
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
        rules, moved = rules_of(self._inputs, source)
        limits = usual_limits() if moved is None else moved
        dialects, chosen = self._inputs.known(source)
        files = [*folder.dialects, *_sheets(folder)]
        texts = [path.read_text("utf-8", "backslashreplace") for path in files]
        texts += [part.text for part in (folder.house, folder.craft) if part is not None]
        house = self._inputs.house(source)
        if house and house.waivers:
            texts.append(day_of(self._judging).isoformat())  # by which they run out
        return Desk(
            dialects,
            rules,
            limits,
            chosen,
            stamp_of(__version__, rules, limits, [*texts, self._reading.dialect or ""]),
            self._whole,
        )

    def _whole(self, source: str, settings: Settings) -> Audit | None:
        """The audit of a craft with a build sheet, or with waivers; None for any other."""
        house = self._inputs.house(source)
        waives = house is not None and bool(house.waivers)
        if self._inputs.folder(source).craft is None and not waives:
            return None
        sheets = self._inputs.sheets((source,), (settings,), (), tell=False)
        if sheets == [None] and not waives:
            return None
        (made,) = audited(
            self._inputs, (source,), (settings,), self._judging, sheets=sheets, tell=False
        )
        return made


def _sheets(folder: FolderSettings) -> list[Path]:
    """The build sheets that a folder's settings name, as far as they are there."""
    if folder.craft is None:
        return []
    named = named_sheets(folder.craft)
    files = dict.fromkeys((named.usual, *named.of_craft.values()))
    paths = [folder.craft.file.parent / file for file in files if file]
    return [path for path in paths if path.is_file()]


def _key(folder: FolderSettings) -> object:
    """What is the same for folders whose dumps are audited alike."""
    files = tuple(part.file for part in (folder.house, folder.craft) if part is not None)
    return folder.dialects, files

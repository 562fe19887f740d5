"""Hides what nobody else should read: in every report, unless it is asked for.

Apart from the wording of reports, so that `plain` and git's text filter load no rule.
"""

from dataclasses import replace
from typing import TypeVar

from cfgaudit.settings import Raw, Settings, Stated
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.paths import declared_anywhere

E = TypeVar("E", bound=Stated | Raw | None)


def is_secret(entry: Stated | Raw) -> bool:
    """Whether a value is nobody else's business, by the vocabulary or by the dialect."""
    if entry.secret or isinstance(entry, Raw):
        return entry.secret
    found = declared_anywhere(entry.path)
    return found is not None and found.traits.secret


def mask(entry: E) -> E:
    """The entry with its value hidden, if it is secret."""
    return hide(entry) if entry is not None and is_secret(entry) else entry


def hide(entry: E) -> E:
    """The entry with its value hidden, whatever it is."""
    if isinstance(entry, Raw):
        return entry._replace(value=HIDDEN)
    return entry._replace(value=HIDDEN, text=HIDDEN) if isinstance(entry, Stated) else entry


def masked_settings(settings: Settings) -> Settings:
    """The settings with every secret hidden, those that were overruled too."""
    return replace(
        settings,
        stated={path: mask(entry) for path, entry in settings.stated.items()},
        raw={key: mask(entry) for key, entry in settings.raw.items()},
        repeats=tuple((mask(one), mask(other)) for one, other in settings.repeats),
    )

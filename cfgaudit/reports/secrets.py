"""Hides what nobody else should read: in every report, unless it is asked for.

Apart from the wording of reports, so that `plain` and git's text filter load no rule.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from hashlib import blake2s
from typing import TypeVar

from cfgaudit.settings import Annotation, Raw, Settings, Stated
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.paths import declared_anywhere

E = TypeVar("E", bound=Stated | Raw | None)
S = TypeVar("S", Stated, Raw)


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


def hidden_together(entries: Sequence[E]) -> list[E]:
    """The entries, all of them hidden where one is a secret: one tells what the others may be."""
    secret = any(entry is not None and is_secret(entry) for entry in entries)
    return [hide(entry) for entry in entries] if secret else list(entries)


def masked_settings(settings: Settings, salt: str = "") -> Settings:
    """The settings with every secret hidden, those that were overruled too, and in comments.

    With a salt, one that nobody else knows, it shows whether a secret is another one now.
    """

    def sign(entry: Stated | Raw) -> str:
        return blake2s(f"{salt} {entry.value!r}".encode(), digest_size=4).hexdigest()

    def hidden(entry: S) -> S:
        made = mask(entry)
        told = salt and made is not entry
        return made._replace(value=f"{HIDDEN} {sign(entry)}") if told else made

    values = secret_texts([settings])
    return replace(
        settings,
        stated={path: hidden(entry) for path, entry in settings.stated.items()},
        raw={key: hidden(entry) for key, entry in settings.raw.items()},
        repeats=tuple((hidden(one), hidden(other)) for one, other in settings.repeats),
        annotations=tuple(masked_note(note, values) for note in settings.annotations),
    )


def secret_texts(crafts: Iterable[Settings]) -> frozenset[str]:
    """What craft keep secret, as it might stand in a comment."""
    entries: list[Stated | Raw] = []
    for craft in crafts:
        entries += craft.stated.values()
        entries += craft.raw.values()
    texts = (str(entry.value) for entry in entries if is_secret(entry))
    return frozenset(text for text in texts if len(text) > 2)


def masked_note(note: Annotation, values: Iterable[str]) -> Annotation:
    """A comment, what is private in it hidden."""
    text = note.text
    for value in sorted(values, key=len, reverse=True):
        text = text.replace(value, HIDDEN)
    if any(letter.isdigit() or letter == "@" for letter in text):
        from cfgaudit.reading.private import private_stretches  # most comments need none of it

        for found in sorted(private_stretches(text), reverse=True):
            text = text[: found.start] + HIDDEN + text[found.stop :]
    return note._replace(text=text)

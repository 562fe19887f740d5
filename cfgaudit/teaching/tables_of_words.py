"""The word lists of a dialect that is being written: each list once, under a name of its own."""

from collections.abc import Mapping
from dataclasses import dataclass, field

_NAMES = {
    "ARM": "arms", "AXIS": "axes", "CONTROL": "controls", "FUNCTION": "functions",
    "NAME": "elements", "ID": "ports", "N": "banks", "SLOT": "slots", "BAND": "bands",
}  # fmt: skip


@dataclass
class WordTables:
    """Lists by name; those asked for grow by what is new, unless they contradict themselves."""

    lists: dict[str, dict[str, str]] = field(default_factory=dict)

    def names(self, index: str, target: str, words: Mapping[str, str]) -> str:
        """The name of the list of an index's words."""
        return self._put(_NAMES.get(index, index.lower()), words)

    def values(self, target: str, words: Mapping[str, str]) -> str:
        """The name of the list of a setting's words."""
        parts = [p for p in target.replace("[", ".").replace("]", "").split(".") if p.islower()]
        return self._put("_".join(parts[-2:]), words)

    def _put(self, name: str, words: Mapping[str, str]) -> str:
        number, free = 1, name
        while not self._agree(self.lists.get(free, {}), words):
            number += 1
            free = f"{name}_{number}"
        self.lists.setdefault(free, {}).update(words)
        return free

    @staticmethod
    def _agree(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
        return all(one.get(word, ours) == ours for word, ours in other.items())

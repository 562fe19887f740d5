"""The typed craft: every setting of a dump, and what rules ask of several at once."""

from cfgaudit.settings import Settings
from cfgaudit.vocabulary.dump import Dump, Pad, Port


class Craft(Dump):
    """A typed craft. Reading a setting that the dump does not state raises NotStated."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings, "")
        self.settings = settings  # for rules about the dump itself

    def ports_with(self, role: str) -> list[Port]:
        """The ports that carry a role, in the dump's order. Raises NotStated without any port.

        A port whose roles are not stated carries none.
        """
        return [port for port in self.ports if port.states("roles") and role in port.roles]

    def pads_for(self, use: str) -> list[Pad]:
        """The pads with a use, in the dump's order. Raises NotStated without any pad."""
        return [pad for pad in self.pads if pad.states("use") and pad.use.split()[0] == use]

"""What a claim is made of: single things that a craft's settings say, or do not.

Each has `holds` (raises NotStated where it can't be told) and `paths`, the settings that say so.
"""

from typing import NamedTuple

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.settings import NotStated
from cfgaudit.craft.values import Value
from cfgaudit.physics.messages import receiver_link
from cfgaudit.rules.wiring import carrying, pads_used_for, unreadable


class Says(NamedTuple):
    """A setting that has one of these values."""

    path: str
    values: tuple[Value, ...]

    def holds(self, craft: Craft) -> bool:
        """Raises NotStated."""
        return craft.settings.need(self.path) in self.values

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """The setting, where it is stated."""
        return (self.path,) if self.path in craft.settings else ()


class OnPort(NamedTuple):
    """Some port carries this role."""

    role: str

    def holds(self, craft: Craft) -> bool:
        """Raises NotStated."""
        return bool(carrying(craft, self.role))

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """The roles of every port that carries it."""
        return tuple(port.path("roles") for port in carrying(craft, self.role))


class OnPad(NamedTuple):
    """Some pad has this use."""

    use: str

    def holds(self, craft: Craft) -> bool:
        """Raises NotStated."""
        return bool(pads_used_for(craft, self.use))

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """The use of every pad that has it."""
        return tuple(pad.path("use") for pad in pads_used_for(craft, self.use))


class OnLink(NamedTuple):
    """The receiver link itself takes telemetry back, in the protocol that telemetry has."""

    def holds(self, craft: Craft) -> bool:
        """A link that is not stated is not counted on. Raises NotStated for the protocol."""
        if not craft.receiver.states("link"):
            return False
        link = craft.receiver.link
        known = receiver_link(link)
        two_way = known.two_way if known is not None else link == "mavlink"
        return two_way and craft.telemetry.protocol.lower() == link

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """The link, where it is stated."""
        return ("receiver.link",) if craft.receiver.states("link") else ()


class OnSwitch(NamedTuple):
    """Some channel range switches this function on."""

    function: str

    def holds(self, craft: Craft) -> bool:
        """Raises NotStated where no switch is stated, or this one can't be trusted."""
        path = craft.switches.path_of(self.function)
        if path in unreadable(craft):
            raise NotStated(path)
        return bool(craft.switches.of(self.function))

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """The function's ranges."""
        return (craft.switches.path_of(self.function),)


class AnyOf(NamedTuple):
    """At least one of these holds."""

    terms: "tuple[Term, ...]"

    def holds(self, craft: Craft) -> bool:
        """Raises NotStated where none does and one can't be told."""
        return any_holds(craft, self.terms)

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """What those state which are known to hold."""
        return tuple(
            path for term in self.terms if _known(craft, term) for path in term.paths(craft)
        )


Term = Says | OnPort | OnPad | OnLink | OnSwitch | AnyOf


def any_holds(craft: Craft, terms: tuple[Term, ...]) -> bool:
    """Whether one of them holds. Raises NotStated where none does and one can't be told."""
    lacks: list[NotStated] = []
    for term in terms:
        try:
            if term.holds(craft):
                return True
        except NotStated as lack:
            lacks.append(lack)
    if lacks:
        raise lacks[0]
    return False


def _known(craft: Craft, term: Term) -> bool:
    try:
        return term.holds(craft)
    except NotStated:
        return False

"""What rules ask of ports and pads, with the care that an absent value needs."""

from typing import TypeVar

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.declare import Part
from cfgaudit.craft.ports import Pad, Port
from cfgaudit.craft.settings import NotStated

P = TypeVar("P", bound=Part)


def ports_by_roles(craft: Craft) -> list[Port]:
    """The ports that state what they carry. Raises NotStated where none does."""
    ports = [craft.ports[name] for name in craft.ports.names()]
    return _stating(ports, "roles", "ports.ID.roles")


def carrying(craft: Craft, role: str) -> list[Port]:
    """The ports that carry a role, in the dump's order.

    Raises NotStated where no port states its roles, or where none carries the role but what
    one of them carries is not stated or can't be trusted.
    """
    ports = [port for port in ports_by_roles(craft) if role in port.roles]
    return ports or _none_trusted(craft, "ports", "roles")


def pads_by_use(craft: Craft) -> list[Pad]:
    """The pads that state their use. Raises NotStated where none does."""
    return _stating([craft.pads[name] for name in craft.pads.names()], "use", "pads.ID.use")


def pads_used_for(craft: Craft, use: str) -> list[Pad]:
    """The pads with a use, in the dump's order. Raises NotStated as `carrying` does."""
    pads = [pad for pad in pads_by_use(craft) if pad.use.split()[0] == use]
    return pads or _none_trusted(craft, "pads", "use")


def _stating(parts: list[P], leaf: str, pattern: str) -> list[P]:
    stating = [part for part in parts if part.states(leaf)]
    if not stating:
        raise NotStated(pattern)
    return stating


def _none_trusted(craft: Craft, group: str, leaf: str) -> list[P]:
    """No part, unless what one says is missing or can't be trusted: then NotStated is raised."""
    for path in unreadable(craft):
        if path.startswith(f"{group}.") and path.endswith(f".{leaf}"):
            raise NotStated(path)
    for name in craft.settings.below(group):  # one that says other things, as a short dump does
        craft.settings.need(f"{group}.{name}.{leaf}")
    return []


def unreadable(craft: Craft) -> list[str]:
    """Paths that the dump states with a value that can't be read or trusted."""
    settings = craft.settings
    troubled = [trouble.path for trouble in settings.troubles if trouble.path not in settings]
    return [*settings.doubted, *filter(None, troubled)]


def give_a_port(craft: Craft, role: str) -> str:
    """Advice that names the ports that carry nothing yet; USB, without pins, only for a console."""
    free = [
        port.name
        for port in ports_by_roles(craft)
        if not port.roles and (role == "console" or not port.name.startswith("usb"))
    ]
    if free:
        return f"Give a free port the {role} role: {', '.join(free)}."
    return f"No port is free: take a role off one, then give it the {role} role."

"""Machine output of show: what each position of each switch has on."""

from typing import Any

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.switches import Switch, switch_table
from cfgaudit.settings import Settings


def switch_table_json(settings: Settings) -> dict[str, Any]:
    """The truth table of all switches, whatever paths were asked for."""
    table = switch_table(Craft(settings))
    return {
        "channels": [_switch_json(switch) for switch in table.switches],
        "not_tabulated": [{"channel": channel, "lacks": path} for channel, path in table.lacking],
        "untrusted": list(table.untrusted),
        "armed_by_switch": table.armed_by_switch,
    }


def _switch_json(switch: Switch) -> dict[str, Any]:
    return {
        "channel": switch.channel,
        "control": switch.control or None,
        "carried": switch.carried,
        "rest": switch.rest,
        "link_loss": switch.on_loss,
        "active_on_link_loss": list(switch.active_on_loss),
        "positions": [
            {
                "low": position.low,
                "high": position.high,
                "active": list(position.active),
                "rest": switch.rests_in(position),
                "link_loss": switch.lost_in(position),
            }
            for position in switch.positions
        ],
    }

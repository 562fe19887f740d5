"""Said here, missing there: what is switched on must be carried, and the other way."""

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from cfgaudit.craft.craft import Asked, Craft, if_stated
from cfgaudit.physics.serial import receiver_link
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level, Rule, Yielded, listed, rule
from cfgaudit.rules.wiring import carrying, give_a_port, pads_used_for, unreadable
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.dump import DIGITAL, PULSE, Port
from cfgaudit.vocabulary.kinds import Value

if TYPE_CHECKING:
    from cfgaudit.craft.sheet import Sheet


class Says(NamedTuple):
    """A setting that has one of these values; `unstated` is what counts where it has none."""

    path: str
    values: tuple[Value, ...]
    unstated: bool | None = None

    def holds(self, craft: Craft) -> bool:
        """Raises NotStated where nothing counts in place of the setting."""
        if self.unstated is not None and self.path not in craft.settings:
            return self.unstated
        return craft.settings.need(self.path) in self.values

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """The setting, where it is stated."""
        return (self.path,) if self.path in craft.settings else ()


class OnPort(NamedTuple):
    """Some port carries this role; `apart` from another one where that is named."""

    role: str
    apart: str = ""

    def ports(self, craft: Craft) -> list[Port]:
        """Every such port. Raises NotStated."""
        return [port for port in carrying(craft, self.role) if self.apart not in port.roles]

    def holds(self, craft: Craft) -> bool:
        """Raises NotStated."""
        return bool(self.ports(craft))

    def paths(self, craft: Craft) -> tuple[str, ...]:
        """The roles of every port that carries it."""
        return tuple(port.path("roles") for port in self.ports(craft))


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
    """The receiver link itself takes telemetry back, unless that has another protocol.

    `named` where only a protocol that is stated counts.
    """

    named: bool = False

    def holds(self, craft: Craft) -> bool:
        """A link that is not stated is not counted on."""
        if not craft.receiver.states("link"):
            return False
        link = craft.receiver.link
        known = receiver_link(link)
        two_way = known.two_way if known is not None else link == "mavlink"
        if not two_way or not craft.telemetry.states("protocol"):
            return (
                two_way and not self.named
            )  # the link's own telemetry, unless another protocol is asked for
        return craft.telemetry.protocol.lower() in (link, "auto")

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


class AtLeastOne(NamedTuple):
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


Term = Says | OnPort | OnPad | OnLink | OnSwitch | AtLeastOne


def any_holds(craft: Craft, terms: tuple[Term, ...]) -> bool:
    """Whether one of them holds. Raises NotStated where none does and one can't be told."""
    asked = Asked()
    if any(asked.of(partial(term.holds, craft)) for term in terms):
        return True
    if asked.lacks:
        raise NotStated(asked.lacks[0])
    return False


def _known(craft: Craft, term: Term) -> bool:
    return if_stated(lambda: term.holds(craft), False)


class Claim(NamedTuple):
    """Where all of `when` holds, one of `needs` must.

    `{where}` in the message stands for the ports of `when`. `port` is the role that a free port
    could take; the advice then names the free ones.
    """

    when: tuple[Term, ...]
    needs: tuple[Term, ...]
    message: str
    mend: tuple[Edit, ...] = ()
    advice: str = ""
    port: str = ""
    level: Level | None = None  # the rule's own
    unless: "tuple[Term, ...]" = ()  # where one of these is stated, nothing is claimed
    air: str = ""  # the rule's own


def _on(path: str) -> Says:
    return Says(path, (True,))


_FINDER_IN_USE: Final = AtLeastOne(
    (_on("finder.buzzer"), _on("finder.buzzer_on_link_loss"), OnSwitch("buzzer"))
)
_BY_MOTORS: Final = Says("finder.by", ("motors",), unstated=False)


def _claimed(
    rule_id: str, level: Level, doc: str, *claims: Claim, sheet: Literal["", "wanted"] = ""
) -> Rule:
    """A rule of claims, with its docstring; what several of them lack is said once."""

    def check(craft: Craft, sheet: "Sheet | None" = None) -> Iterator[Yielded]:
        asked = Asked()
        for claim in claims:
            broken = asked.of(partial(_broken, craft, claim, sheet))
            if broken is not None:
                yield broken
        yield from map(Lacks, dict.fromkeys(asked.lacks))

    check.__doc__ = doc
    return rule(rule_id, level, sheet=sheet or False)(check)


def _broken(craft: Craft, claim: Claim, sheet: "Sheet | None") -> Fires | None:
    if any(_known(craft, term) for term in claim.unless):
        return None
    if not all(term.holds(craft) for term in claim.when) or any_holds(craft, claim.needs):
        return None
    terms = (*claim.when, *claim.needs)
    there = [term for term in claim.when if isinstance(term, OnPort)]
    ports = [port.name for term in there for port in term.ports(craft)]
    return Fires(
        claim.message.format(where=listed(ports)) if ports else claim.message,
        tuple(dict.fromkeys(path for term in terms for path in term.paths(craft))),
        mend=claim.mend,
        advice=give_a_port(craft, claim.port, sheet) if claim.port else claim.advice,
        level=claim.level,
        air=claim.air,
    )


RULES = (
    _claimed(
        "telemetry/enabled-unassigned",
        Level.ERROR,
        """Telemetry is switched on, and neither a port nor the receiver link carries it.

        In the air: the handset shows no pack voltage and gives no low-battery call.
        Mend: give the telemetry role to the port that the radio is wired to, or switch telemetry
        off.
        Source: common practice.
        """,
        Claim(
            (_on("telemetry.enabled"),),
            (OnPort("telemetry"), OnLink()),
            "Telemetry is on, but no port carries it.",
            port="telemetry",
        ),
        sheet="wanted",
    ),
    _claimed(
        "telemetry/assigned-disabled",
        Level.WARNING,
        """A port carries telemetry, and telemetry is switched off; or it is on, at a rate of 0.

        In the air: nothing is sent: the handset shows no pack voltage and gives no low-battery
        call.
        Mend: switch telemetry on, or free the port.
        Source: common practice.
        """,
        Claim(
            (OnPort("telemetry"),),
            (_on("telemetry.enabled"),),
            "Telemetry is given to {where}, but it is switched off.",
            mend=(Edit("telemetry.enabled", "on"),),
        ),
        Claim(
            (_on("telemetry.enabled"), Says("telemetry.rate", (0.0,), unstated=False)),
            (),
            "Telemetry is on, and its rate is 0: nothing is sent.",
            advice="Set a rate of some hertz, or switch telemetry off.",
        ),
    ),
    _claimed(
        "telemetry/sent-twice",
        Level.WARNING,
        """Telemetry goes back on the receiver link, and a port carries it as well.

        In the air: one of the two is not the one that somebody listens to; a port with nothing on
        it is missing elsewhere.
        Mend: free the port, unless a second radio hangs on it.
        Source: common practice.
        """,
        Claim(
            (_on("telemetry.enabled"), OnLink(named=True), OnPort("telemetry", apart="receiver")),
            (),
            "Telemetry goes back on the receiver link, and {where} carries it a second time.",
            advice="Free the port, unless a second radio hangs on it.",
        ),
    ),
    _claimed(
        "position/enabled-unassigned",
        Level.ERROR,
        """Position is switched on, and no port carries it.

        In the air: there is never a position: the way home and position hold do not work.
        Mend: give the position role to the port that the position receiver is wired to.
        Source: common practice.
        """,
        Claim(
            (_on("position.enabled"),),
            (OnPort("position"),),
            "Position is on, but no port carries it.",
            port="position",
        ),
        sheet="wanted",
    ),
    _claimed(
        "position/assigned-disabled",
        Level.WARNING,
        """A port carries position, and position is switched off.

        In the air: the position receiver talks and nobody listens: the way home does not work.
        Mend: switch position on, or free the port.
        Source: common practice.
        """,
        Claim(
            (OnPort("position"),),
            (_on("position.enabled"),),
            "Position is given to {where}, but it is switched off.",
            mend=(Edit("position.enabled", "on"),),
        ),
    ),
    _claimed(
        "video/control-unassigned",
        Level.WARNING,
        """The video transmitter is to be controlled over a port, and no port carries that.

        In the air: channel and power stay what they last were, which may be another pilot's
        channel.
        Mend: give the video_control role to the port that the transmitter is wired to.
        Source: common practice.
        """,
        Claim(
            (Says("video.transmitter.control", ("serial",)),),
            (OnPort("video_control"),),
            "The video transmitter is told what to do over a port, but no port carries that.",
            port="video_control",
        ),
        sheet="wanted",
    ),
    _claimed(
        "video/control-disabled",
        Level.WARNING,
        """A port carries the video transmitter's control, and the settings do not use it.

        The control is set to none or to a pad, or the transmitter is switched off.

        In the air: channel and power stay what they last were, which may be another pilot's
        channel.
        Mend: set the control to serial, or free the port.
        Source: common practice.
        """,
        Claim(
            (OnPort("video_control"),),
            (Says("video.transmitter.control", ("serial", "pad")),),
            "The video transmitter's control is given to {where}, but it is set to none.",
            mend=(Edit("video.transmitter.control", "serial"),),
        ),
        Claim(
            (OnPort("video_control"), Says("video.transmitter.control", ("pad",), unstated=False)),
            (),
            "The video transmitter's control is given to {where}, but it is set to go over a pad.",
            mend=(Edit("video.transmitter.control", "serial"),),
        ),
        Claim(
            (
                OnPort("video_control"),
                Says("video.transmitter.enabled", (False,), unstated=False),
            ),
            (),
            "The video transmitter's control is given to {where}, but the transmitter is switched "
            "off.",
            advice="Free the port if the craft sends no picture. If it does, switch the "
            "transmitter on, its antenna screwed on first.",
            air="no picture, where the controller switches the transmitter; else its channel and "
            "power stay what they last were.",
        ),
    ),
    _claimed(
        "camera/control-unassigned",
        Level.WARNING,
        """The camera's menu is to be worked over a pad or a port, and there is none for it.

        In the air: nothing, but the camera can't be set up from the handset.
        Mend: give the pad or the port that the camera is wired to its use, or set the control to
        none.
        Source: common practice.
        """,
        Claim(
            (Says("camera.control", ("pad",)),),
            (OnPad("camera_key"),),
            "The camera's menu is worked by a pad, but no pad is its key.",
            advice="Give the camera_key use to the pad that the camera is wired to.",
        ),
        Claim(
            (Says("camera.control", ("serial",)),),
            (OnPort("camera_control"),),
            "The camera's menu is worked over a port, but no port carries camera_control.",
            port="camera_control",
        ),
        sheet="wanted",
    ),
    _claimed(
        "log/enabled-without-device",
        Level.WARNING,
        """The flight log is switched on, and it has nothing to be written to.

        In the air: nothing is kept: after a crash there is no record to read.
        Mend: name the log's device; for a serial one, give a port the flight_log role.
        Source: common practice.
        """,
        Claim(
            (_on("flight_log.enabled"),),
            (Says("flight_log.device", ("flash", "card", "serial")),),
            "The flight log is on, but its device is none.",
            advice="Name the device that the log is kept on, or switch the log off.",
        ),
        Claim(
            (_on("flight_log.enabled"), Says("flight_log.device", ("serial",))),
            (OnPort("flight_log"),),
            "The flight log is kept over a port, but no port carries flight_log.",
            port="flight_log",
        ),
        sheet="wanted",
    ),
    _claimed(
        "log/device-idle",
        Level.NOTE,
        """There is a device or a port for the flight log, and nothing is written to it.

        In the air: nothing is kept: after a crash there is no record to read.
        Mend: switch the log on, or free the device or the port.
        Source: common practice.
        """,
        Claim(
            (Says("flight_log.device", ("flash", "card", "serial")),),
            (_on("flight_log.enabled"),),
            "The flight log has a device, but it is switched off.",
            advice="Switch the log on, or set its device to none.",
        ),
        Claim(
            (_on("flight_log.enabled"), Says("flight_log.rate", (0.0,), unstated=False)),
            (),
            "The flight log is on, and its rate is 0: nothing is written.",
            advice="Set the rate that the log is to be written at, or switch it off.",
        ),
        Claim(
            (OnPort("flight_log"),),
            (Says("flight_log.device", ("serial",)),),
            "The flight log is given to {where}, but its device is another one.",
            advice="Set flight_log.device to serial, or free the port.",
        ),
    ),
    _claimed(
        "esc/reports-unassigned",
        Level.WARNING,
        """Notches or the pack's voltage hang on the speed controllers' reports, and nothing
        reports.

        An error where it is the pack's voltage that is to come with the reports.

        In the air: the notches rest where they are and the motors' noise reaches the control
        loop: hot motors, shaking. Without the pack's voltage nothing warns of an empty one.
        Mend: switch on reports on the signal wires, or give a port the esc_reports role.
        Source: common practice.
        """,
        Claim(
            (_on("notches.motor.enabled"),),
            (_on("esc.reports"), OnPort("esc_reports")),
            "Notches are to follow the motors' speed, but no speed is reported: neither on the "
            "signal wires nor on a port.",
            advice="Switch on esc.reports where the speed controllers can send them, or give "
            "the esc_reports role to the port that they are wired to.",
        ),
        Claim(
            (Says("battery.voltage_from", ("esc",), unstated=False),),
            (_on("esc.reports"), OnPort("esc_reports")),
            "The pack's voltage is to come with the speed controllers' reports, and they send "
            "none: neither on the signal wires nor on a port.",
            advice="Switch on esc.reports where the speed controllers can send them, or give "
            "the esc_reports role to the port that they are wired to.",
            level=Level.ERROR,
        ),
        sheet="wanted",
    ),
    _claimed(
        "battery/measured-without-pad",
        Level.ERROR,
        """What is to be read off a pad is on none; a warning where it is the current.

        In the air: the voltage shown is that of a bare pin: nothing warns of an empty pack, which
        is flown until the craft falls.
        Mend: give the use to the pad that measures the pack, or name what else measures it.
        Source: common practice.
        """,
        Claim(
            (Says("battery.voltage_from", ("adc",)),),
            (OnPad("voltage_sense"),),
            "The pack's voltage is to be read off a pad, and no pad carries it.",
            advice="Give the voltage_sense use to the pad that measures the pack, or say what "
            "else measures it.",
        ),
        Claim(
            (Says("battery.current_from", ("adc",)),),
            (OnPad("current_sense"),),
            "The current is to be read off a pad, and no pad carries it.",
            advice="Give the current_sense use to the pad that the sensor is wired to, or say "
            "what else measures it.",
            level=Level.WARNING,
        ),
    ),
    _claimed(
        "alarm/buzzer-without-pad",
        Level.WARNING,
        """The buzzer is in use, and neither a pad nor the motors can sound it.

        Motors sound where finder.by says so, the protocol is digital and they are not brushed. It
        is in use where it is switched on, sounds when the link is lost, or has a switch.

        In the air: no low-battery call, and no sound from the long grass after a landing out of
        sight.
        Mend: give the buzzer use to the pad that it is soldered to.
        Source: common practice.
        """,
        Claim(
            (_FINDER_IN_USE,),
            (OnPad("buzzer"),),
            "The buzzer is in use, but no pad carries it.",
            advice="Give the buzzer use to the pad that the buzzer is wired to.",
            unless=(_BY_MOTORS,),
        ),
        Claim(
            (_FINDER_IN_USE, _BY_MOTORS),
            (Says("esc.protocol", DIGITAL),),
            "The motors are to sound as a buzzer, and only a digital protocol can ask that of "
            "them.",
            advice="Use a digital protocol if the speed controllers know one, or fit a buzzer.",
        ),
        Claim(
            (_FINDER_IN_USE, _BY_MOTORS),
            (Says("esc.brushed", (False,), unstated=True),),
            "The motors are to sound as a buzzer, and brushed ones can't.",
            advice="Fit a buzzer, or switch the finder off.",
            unless=(Says("esc.protocol", PULSE),),
        ),
    ),
    _claimed(
        "finder/lights-without-pad",
        Level.NOTE,
        """The lights are in use, and no pad carries them.

        In the air: no lights: nobody sees which way the craft flies, nor where it lies in the dusk.
        Mend: give the led_strip use to the pad that they are soldered to, or switch them off.
        Source: common practice.
        """,
        Claim(
            (_on("finder.led"),),
            (OnPad("led_strip"),),
            "The lights are in use, but no pad carries them.",
            advice="Give the led_strip use to the pad that the lights are soldered to, or switch "
            "them off.",
        ),
    ),
)

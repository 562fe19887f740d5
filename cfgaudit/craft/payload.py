"""Video, camera, overlay, telemetry, finding the craft again, and the flight log."""

from cfgaudit.craft.declare import Class, Group, Part, Sub
from cfgaudit.craft.fields import flag, number, numbers, numbers_by, text, whole, word

_R, _C = Class.RADIO, Class.COMFORT


class Transmitter(Part):
    """The video transmitter."""

    enabled = flag(_R, "the video transmitter is in use")
    control = word(_R, "how it is told what to do", "serial", "pad", "none")
    half_duplex = flag(_R, "its control uses one wire for both directions")
    band = text(_R, "the band of its frequency plan")
    channel = whole(_R, "the channel within the band", 1, 64)
    frequency = number(_R, "its frequency", "MHz", 100, 10000)
    power = number(_R, "its power", "mW", 0, 10000)
    standby_power = number(_R, "its power before arming", "mW", 0, 10000)


class Plan(Part):
    """The frequency plan that the dump carries."""

    powers = numbers(_R, "the powers that the transmitter has", "mW", 0, 10000)
    bands = numbers_by("BAND", _R, "the frequencies of a band", "MHz", 100, 10000, leaf="")


class Video(Part):
    """The video side."""

    transmitter = Sub(Transmitter)
    plan = Sub(Plan)


class Camera(Part):
    """The camera."""

    standard = word(_C, "the picture's standard", "pal", "ntsc")
    control = word(_C, "how the camera's menu is worked", "none", "pad", "serial")


class Element(Part):
    """One element of the overlay."""

    shown = flag(_C, "the element is shown")
    row = whole(_C, "its row, from 1 at the top", 1, 64)
    column = whole(_C, "its column, from 1 at the left", 1, 128)
    width = whole(_C, "characters that it takes, where the catalogue's number is wrong", 1, 128)


class Overlay(Part):
    """What is written over the picture."""

    enabled = flag(_C, "the overlay is in use")
    standard = word(_C, "the overlay's standard", "pal", "ntsc", "auto")
    elements = Group("NAME", Element)


class Telemetry(Part):
    """What the craft sends back."""

    enabled = flag(Class.SAFETY, "telemetry is sent")
    protocol = text(Class.SAFETY, "how telemetry talks")
    half_duplex = flag(Class.SAFETY, "telemetry uses one wire for both directions")
    inverted = flag(Class.SAFETY, "telemetry's idle level is turned round")
    rate = number(Class.SAFETY, "reports a second", "Hz", 0, 1000)


class Finder(Part):
    """What helps to find the craft again."""

    buzzer = flag(_C, "the buzzer is in use")
    buzzer_on_link_loss = flag(_C, "the buzzer sounds when the link is lost")
    led = flag(_C, "the lights show where it lies")


class FlightLog(Part):
    """The flight log."""

    enabled = flag(_C, "a log is kept in flight")
    device = word(_C, "where it is kept", "none", "flash", "card", "serial")
    rate = number(_C, "records a second", "Hz", 0, 64000)
    size = number(_C, "how much it holds", "MB", 0, 1000000)

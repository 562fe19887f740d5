"""The typed craft: every setting of a dump."""

from cfgaudit.settings import Settings
from cfgaudit.vocabulary.dump import Dump


class Craft(Dump):
    """A typed craft. Reading a setting that the dump does not state raises NotStated."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings, "")
        self.settings = settings  # for rules about the dump itself


def is_servo(craft: Craft, arm: str) -> bool:
    """Whether an output is stated to turn a servo, no propeller."""
    motor = craft.motors.arms[arm]
    return motor.states("servo") and motor.servo

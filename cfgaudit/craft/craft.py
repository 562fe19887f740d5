"""The typed craft: every setting of a dump."""

from collections.abc import Callable
from typing import TypeVar

from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import Members, NotStated, Part
from cfgaudit.vocabulary.dump import Dump

T = TypeVar("T")
U = TypeVar("U")
P = TypeVar("P", bound=Part)


class Craft(Dump):
    """A typed craft. Reading a setting that the dump does not state raises NotStated."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings, "")
        self.settings = settings  # for rules about the dump itself


def is_servo(craft: Craft, arm: str) -> bool:
    """Whether an output is stated to turn a servo, no propeller."""
    motor = craft.motors.arms[arm]
    return motor.states("servo") and motor.servo


def if_stated(read: Callable[[], T], missing: U) -> T | U:
    """What this reads of a craft; `missing` where a setting that it asks for is not stated."""
    try:
        return read()
    except NotStated:
        return missing


class Asked:
    """Answers to what may not be stated, and the paths of the settings that were lacking."""

    def __init__(self) -> None:
        self.lacks: list[str] = []

    def of(self, read: Callable[[], T]) -> T | None:
        """What this reads of a craft; None, and the path is noted, where a setting is lacking."""
        try:
            return read()
        except NotStated as lack:
            self.lacks.append(lack.path)
            return None


def there(members: Members[P]) -> list[P]:
    """The parts of a group that are stated; perhaps none."""
    return [members[name] for name in members.names()]

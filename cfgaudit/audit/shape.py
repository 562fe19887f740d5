"""Whether what a rule yields is what the engine and the reports can work with."""

from cfgaudit.reading.place import Place
from cfgaudit.rules.rule import Edit, Fires, Lacks, Level


def well_formed(yielded: object, crafts: int | None) -> None:
    """Raise TypeError, with what is wrong, for anything but a sound Fires or Lacks.

    `crafts` is how many craft a fleet rule looked at; None for a rule over one craft. Rules of
    other packages come without our type checks.
    """
    if isinstance(yielded, Lacks):
        if not isinstance(yielded.path, str) or not _counted((yielded.craft,), crafts or 1):
            raise TypeError("Lacks wants a path, and a craft that it looked at")
    elif isinstance(yielded, Fires):
        _fires(yielded, crafts)
    else:
        raise TypeError(f"it yielded what is of type {type(yielded).__name__}")


def _fires(fires: Fires, crafts: int | None) -> None:
    sound = {
        "message": isinstance(fires.message, str) and isinstance(fires.advice, str),
        "paths": _all(fires.paths, str),
        "figures": _all(fires.figures, tuple) and all(_is_figure(pair) for pair in fires.figures),
        "mend": _all(fires.mend, Edit),
        "level": fires.level is None or isinstance(fires.level, Level),
        "places": _all(fires.places, Place),
    }
    for part, holds in sound.items():
        if not holds:
            raise TypeError(f"its Fires has a wrong {part}")
    owners = 0 if crafts is None else len(fires.paths)
    if not isinstance(fires.crafts, tuple) or len(fires.crafts) != owners:
        raise TypeError("its Fires wants in crafts whose each path is, if it looks at several")
    if not _counted(fires.crafts, crafts or 0):
        raise TypeError("its Fires names a craft that it did not look at")


def _all(members: object, kind: type) -> bool:
    return isinstance(members, tuple) and all(isinstance(member, kind) for member in members)


def _is_figure(pair: tuple[object, ...]) -> bool:
    """Whether it is a name and a number that JSON can write."""
    if len(pair) != 2 or isinstance(pair[1], bool) or not isinstance(pair[1], int | float):
        return False
    return isinstance(pair[0], str) and abs(pair[1]) < float("inf")


def _counted(numbers: tuple[object, ...], crafts: int) -> bool:
    return all(isinstance(number, int) and 0 <= number < crafts for number in numbers)

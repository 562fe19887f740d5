"""Firmware versions: compared by their numbers, not as text."""


def version_numbers(text: str) -> tuple[int, ...]:
    """The numbers that a dotted version begins with, as spelled; empty where there are none.

    >>> version_numbers("v2.10.1-reed")
    (2, 10, 1)
    """
    numbers: list[int] = []
    for part in text.strip().lstrip("vV").split("."):
        digits = part[: len(part) - len(part.lstrip("0123456789"))]
        if not digits:
            break
        numbers.append(int(digits[:9]))
        if digits != part:
            break
    return tuple(numbers)


def settled_numbers(numbers: tuple[int, ...]) -> tuple[int, ...]:
    """The numbers in the one way that compares: 2.4 and 2.4.0 are one version.

    >>> settled_numbers((2, 4, 0)) == settled_numbers((2, 4)), settled_numbers((2, 10)) > (2, 9)
    (True, True)
    """
    while numbers and numbers[-1] == 0:
        numbers = numbers[:-1]
    return numbers


def is_older(numbers: tuple[int, ...], than: tuple[int, ...]) -> bool:
    """Whether one version came before another.

    >>> is_older((2,), (2, 0)), is_older((2, 9), (2, 10))
    (False, True)
    """
    return settled_numbers(numbers) < settled_numbers(than)


def is_of(numbers: tuple[int, ...], series: tuple[int, ...]) -> bool:
    """Whether a version is one of a series: 2.4.1 is of 2.4, and 2 is of 2.0.

    >>> is_of((2, 4, 1), (2, 4)), is_of((2,), (2, 0)), is_of((2, 5), (2, 4))
    (True, True, False)
    """
    return (numbers + (0,) * len(series))[: len(series)] == series


def version_meaning(text: str) -> tuple[tuple[int, ...], str]:
    """A key that is equal for two spellings of one version; what follows the numbers counts.

    >>> version_meaning("2.4") == version_meaning("v2.4.0")
    True
    >>> version_meaning("2.4-reed") == version_meaning("2.4")
    False
    """
    bare = text.strip().lstrip("vV")
    return settled_numbers(version_numbers(text)), bare.lstrip("0123456789.")

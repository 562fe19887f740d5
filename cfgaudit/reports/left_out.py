"""What is said where a report has more to tell than anybody reads."""


def left_out(more: int, what: str) -> str:
    """How many are left out, and how to see them; empty where none is.

    >>> left_out(1200, "finding")
    '1,200 more findings left out, the least grave; --no-limits reports them all'
    >>> left_out(0, "finding")
    ''
    """
    if more <= 0:
        return ""
    return (
        f"{more:,} more {what}{'s' * (more > 1)} left out, the least grave; "
        "--no-limits reports them all"
    )

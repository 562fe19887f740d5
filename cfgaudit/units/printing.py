"""How numbers are printed: shortest exact decimal, never an exponent."""


def number_text(value: float) -> str:
    """The shortest decimal text that reads back as the same number, without an exponent.

    >>> number_text(3.50), number_text(57600.0), number_text(1e-7)
    ('3.5', '57600', '0.0000001')
    """
    if isinstance(value, int) or value.is_integer():
        return str(int(value))
    text = repr(value)
    if "e" not in text:
        return text
    from decimal import Decimal

    return format(Decimal(text), "f")

"""Settings drawn from the vocabulary, for tests that state a law; shared by all of them."""

from hypothesis import strategies as st

from cfgaudit.reading.text import Place
from cfgaudit.settings import Raw, Settings, Stated
from cfgaudit.vocabulary.kinds import (
    FILTER_KINDS,
    Between,
    Bool,
    Either,
    Filter,
    Filters,
    Int,
    Kind,
    OneOf,
    PadUse,
    Quantities,
    Quantity,
    SwitchRange,
    SwitchRanges,
    Value,
    Words,
    WordSet,
)
from cfgaudit.vocabulary.paths import Declared, vocabulary
from cfgaudit.vocabulary.paths import declared as find

ARMS = ("front_left", "front_right", "rear_left", "rear_right")
NAMES = {
    "ID": ("uart1", "uart2", "uart10", "usb"),
    "ARM": ARMS,
    "AXIS": ("roll", "pitch", "yaw"),
    "N": ("1", "2", "3", "10"),
    "ROLE": ("telemetry", "position"),
    "CONTROL": ("roll", "pitch", "throttle", "yaw"),
    "NAME": ("pack_voltage", "flight_time"),
    "BAND": ("a", "b", "river"),
}
MARKS = "\"'#;%=,:\t"
LETTERS = "abcdefghijkmnopqrsuvwxyzABXZÄößéñжあ0123456789 -_./"


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers within limits, of at most three decimals, as a dump may have them."""
    return st.floats(low, high).map(lambda number: round(number, 3) + 0.0)


def ranges() -> st.SearchStrategy[SwitchRange]:
    """Switch ranges of a few channels, so that some share one."""
    ends = st.lists(st.integers(800, 2200), min_size=2, max_size=2, unique=True).map(sorted)
    return st.builds(
        lambda channel, ends: SwitchRange(channel, float(ends[0]), float(ends[1])),
        st.integers(5, 9),
        ends,
    )


def stages() -> st.SearchStrategy[Filter]:
    """Filter stages; only a notch has a quality."""
    return st.builds(
        lambda kind, cutoff, q: Filter(kind, cutoff, q if kind == "notch" else 0.0),
        st.sampled_from(FILTER_KINDS),
        numbers(0, 1000),
        numbers(0.5, 20),
    )


def texts() -> st.SearchStrategy[str]:
    """Text, quotes and marks of comments among it, with a letter at both ends."""
    return st.text(LETTERS + MARKS, min_size=1, max_size=12).map(lambda text: f"x{text}x")


def values(kind: Kind) -> st.SearchStrategy[Value]:
    """The values that a kind of setting takes, within its limits."""
    if isinstance(kind, SwitchRanges):
        return st.lists(ranges(), max_size=4).map(tuple)
    if isinstance(kind, Filters):
        return st.lists(stages(), max_size=4).map(tuple)
    if isinstance(kind, Quantities):
        return st.lists(numbers(max(kind.low, 0), min(kind.high, 6000)), max_size=8).map(tuple)
    if isinstance(kind, WordSet):
        return st.frozensets(st.sampled_from(kind.choices or ("reed", "sedge", "rush")))
    if isinstance(kind, Between):
        ends = st.lists(numbers(max(kind.low, 0), min(kind.high, 6000)), min_size=2, max_size=2)
        return ends.map(lambda drawn: tuple(sorted(drawn)))
    if isinstance(kind, OneOf):
        return st.sampled_from(kind.listed)
    return plain_values(kind)


def plain_values(
    kind: Kind,
) -> st.SearchStrategy[Value]:
    """The values of the kinds that have one value."""
    if isinstance(kind, Bool):
        return st.booleans()
    if isinstance(kind, Int):
        return st.integers(kind.low, kind.high)
    if isinstance(kind, Quantity):
        return numbers(kind.low, kind.high)
    if isinstance(kind, PadUse):
        return st.sampled_from((*kind.choices, *(f"motor {arm}" for arm in ARMS)))
    if isinstance(kind, Words):
        return st.sampled_from(kind.choices)
    if isinstance(kind, Either):
        return st.one_of(st.sampled_from(kind.words), plain_values(kind.other))
    return texts()


def paths(declared: Declared) -> st.SearchStrategy[str]:
    """Paths that fall under a declaration, each index replaced by one of a few names."""
    closed = dict(declared.choices)
    words = [
        st.sampled_from(closed.get(word) or NAMES[word]) if word.isupper() else st.just(word)
        for word in declared.pattern.split(".")
    ]
    return st.tuples(*words).map(".".join)


@st.composite
def stated(draw: st.DrawFn, declared: Declared | None = None) -> Stated:
    """One setting of the vocabulary, stated somewhere."""
    known = declared or draw(st.sampled_from(vocabulary()))
    place = Place("drawn.dump", draw(st.integers(1, 900)), 1, 5)
    return Stated(draw(paths(known)), draw(values(known.kind)), place)


def raws() -> st.SearchStrategy[Raw]:
    """Lines that no mapping covers, of a few near and far names and few values."""
    keys = st.sampled_from(
        ("soft_start", "soft_starts", "softstart", "murmur", "hours_flown", "a/b~c", "chime", "x 1")
    )
    return st.builds(Raw, keys, st.sampled_from(("0", "1", "1.0", "on", "pale blue")))


@st.composite
def settings(draw: st.DrawFn, *, max_size: int = 12, raw: bool = True) -> Settings:
    """Settings of all kinds in any order, and some raw ones where `raw`."""
    entries = draw(st.lists(stated(), max_size=max_size))
    rest = draw(st.lists(raws(), max_size=6)) if raw else []
    return Settings(
        stated={entry.path: entry for entry in entries}, raw={entry.key: entry for entry in rest}
    )


@st.composite
def settings_pair(draw: st.DrawFn) -> tuple[Settings, Settings]:
    """Two sets of settings that share many paths, some of them with the same value."""
    old, other = draw(settings()), draw(settings())
    new: dict[str, Stated] = {}
    for path, entry in old.stated.items():
        fate = draw(st.sampled_from(("kept", "gone", "set")))
        if fate == "kept":
            new[path] = entry
        elif fate == "set":
            known = find(path)
            assert known is not None
            new[path] = Stated(path, draw(values(known.kind)), entry.place)
    return old, Settings(stated=new | dict(other.stated), raw=other.raw)

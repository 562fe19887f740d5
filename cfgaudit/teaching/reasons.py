"""Says in a few words why a setting is proposed for a field."""

from cfgaudit.craft.kinds import Quantity
from cfgaudit.teaching.goals import Goal
from cfgaudit.teaching.propose import Candidate, Proposal
from cfgaudit.teaching.words import about, likeness, tokens
from cfgaudit.units import number_text


def reasons_for(made: Proposal, candidate: Candidate) -> list[str]:
    """What speaks for a candidate, the most telling first."""
    found: list[str] = []
    common = common_words(made, candidate.goal)
    if common:
        found.append("words: " + ", ".join(common[:4]))
    if made.seen.unit:
        found.append(f"its line says {made.seen.unit}")
    if candidate.fit.words:
        found.append("values: " + ", ".join(f"{a} = {b}" for a, b in candidate.fit.words[:3]))
    elif candidate.fit.points >= 0.5 and made.seen.numbers:
        found.append(f"values fit {usual_text(candidate.goal)}")
    if any(match.words for _, _, match in candidate.matches):
        found.append(f"{len(candidate.matches[0][2].words)} names as of {candidate.matches[0][0]}")
    if candidate.near >= 0.6:
        found.append(f"neighbours belong to {candidate.goal.group}")
    if candidate.fit.lacks:
        found.append(candidate.fit.lacks)
    return found


def common_words(made: Proposal, goal: Goal) -> list[str]:
    """The words of a key and its contexts that tell of a setting."""
    names = [name for name in (*made.seen.names, *made.family.context) if name]
    seen = dict.fromkeys(token for name in names for token in tokens(name))
    return [word for word in seen if likeness(about([word]), goal.ideas) > 0.15]


def usual_text(goal: Goal) -> str:
    """What values a setting usually has, in words."""
    unit = goal.kind.unit if isinstance(goal.kind, Quantity) else ""
    if goal.usual is not None:
        ends = f"{number_text(goal.usual[0])}..{number_text(goal.usual[1])}"
        return f"the usual {ends} {unit}".rstrip()
    return f"its usual values in {unit}" if unit else "its usual values"

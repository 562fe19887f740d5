"""The whole working list of one craft, in order, made from its build sheet and its dump."""

from cfgaudit.bench.work import Known, Step
from cfgaudit.bench.work_flight import after_hover, hover
from cfgaudit.bench.work_measure import measuring, video
from cfgaudit.bench.work_motors import motors, propellers
from cfgaudit.bench.work_ports import failsafe, ports, switches
from cfgaudit.bench.work_power import before_power, first_power


def working_list(known: Known) -> tuple[Step, ...]:
    """Every step. Each step's `after` names steps that stand before it, so it can be worked down.

    The propellers go on once every step before that is done.
    """
    cold = list(before_power(known))
    first = list(first_power(known, _ids(cold)))
    port = list(ports(known, tuple(s.id for s in first if s.id.startswith(("rail-", "warm")))))
    switch = list(switches(known))
    steps = [*cold, *first, *port, *switch]
    arming = [s.id for s in switch if s.id.startswith(("switch-", "stick-"))]
    steps += failsafe(known, ("sticks", *arming))
    steps += motors(known)
    steps += measuring(known)
    steps += video(known)
    steps += propellers(known, _ids(steps))
    steps += hover(known)
    steps += after_hover(known)
    return tuple(steps)


def _ids(steps: list[Step]) -> tuple[str, ...]:
    return tuple(step.id for step in steps)

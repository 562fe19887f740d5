"""The curves in the pictures against scipy and hand calculations."""

import numpy as np
import pytest
from scipy import signal

from cfgaudit.pictures import filters, rates
from tests.pictures.crafts import craft, sheet

GYRO_HZ, LOOP_HZ = 8000.0, 4000.0
FILTERS = """
[gyro]
sample_rate = 8000 Hz
[loop]
rate = 4000 Hz
[filters]
gyro = pt1 150 Hz, notch 200 Hz q 3.5
dterm = biquad 100 Hz, pt2 300 Hz
[notches]
tracking.enabled = off
motor.enabled = off
"""
Poly = tuple[list[float], list[float], float]


def _pt1(cutoff: float, rate: float) -> Poly:
    """Common practice: y += k (x - y), k = dt / (RC + dt)."""
    turn = 2 * np.pi * cutoff / rate
    k = turn / (1 + turn)
    return [float(k)], [1.0, float(k - 1)], rate


def _cookbook_notch(centre: float, rate: float, q: float) -> Poly:
    """scipy's iirnotch, given the quality that makes it the cookbook's: w0 / (2 atan alpha)."""
    w0 = 2 * np.pi * centre / rate
    alpha = np.sin(w0) / (2 * q)
    b, a = signal.iirnotch(centre, w0 / (2 * np.arctan(alpha)), fs=rate)
    return list(b), list(a), rate


def _chain(hz: float, stages: list[Poly]) -> tuple[float, float]:
    """dB and ms of stages in series at one frequency, by scipy."""
    gain, late = 1.0 + 0j, 0.0
    for b, a, rate in stages:
        _, response = signal.freqz(b, a, worN=[hz], fs=rate)
        _, samples = signal.group_delay((b, a), w=[hz], fs=rate)
        gain *= complex(response[0])
        late += float(samples[0]) / rate * 1000
    return 20 * np.log10(abs(gain)), late


def _stages() -> tuple[list[Poly], list[Poly]]:
    b, a = signal.butter(2, 100, fs=LOOP_HZ)
    # hand calculation: two equal one-poles are -3 dB at 1 / sqrt(sqrt(2) - 1) = 1.5538 of theirs
    twice = _pt1(300 * 1.553773974, LOOP_HZ)
    gyro = [_pt1(150, GYRO_HZ), _cookbook_notch(200, GYRO_HZ, 3.5)]
    return gyro, [(list(b), list(a), LOOP_HZ), twice, twice]


@pytest.mark.parametrize("hz", [20.0, 50.0, 100.0, 400.0])
def test_what_is_left_over_and_the_delay_agree_with_scipy(hz: float) -> None:
    """Reference library: scipy.signal (butter, iirnotch, freqz, group_delay)."""
    told = filters.data(craft(FILTERS), None)
    point = next(p for p in told.points if p.hz == hz)
    gyro, dterm = _stages()
    assert (point.rate_db, point.rate_ms) == pytest.approx(_chain(hz, gyro), rel=1e-5, abs=1e-5)
    assert (point.dterm_db, point.dterm_ms) == pytest.approx(
        _chain(hz, gyro + dterm), rel=1e-5, abs=1e-5
    )


def test_every_point_of_the_drawn_curve_agrees_with_scipy() -> None:
    """Reference library: scipy.signal."""
    gyro, dterm = _stages()
    points = filters.data(craft(FILTERS), None).points
    assert len(points) > 90
    for point in points:
        if point.hz == 200:  # the notch's own zero, where scipy's delay is not defined
            continue
        left, late = _chain(point.hz, gyro + dterm)
        assert point.dterm_db == pytest.approx(left, rel=1e-4, abs=1e-4)
        assert point.dterm_ms == pytest.approx(late, rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("centre", [187, 1234])
def test_a_curve_has_a_point_at_each_notch_s_own_centre(centre: int) -> None:
    # published (W3C Audio EQ Cookbook): the notch lets nothing of its centre through
    made = craft(FILTERS.replace("notch 200 Hz", f"notch {centre} Hz"))
    lowest = min(filters.data(made, None).points, key=lambda point: point.rate_db)
    assert lowest.hz == pytest.approx(centre)
    assert lowest.rate_db < -120


def test_the_drawing_s_floor_is_no_value() -> None:
    # 200 Hz is the notch's centre. At 400 Hz, by hand: a one-pole of 40 Hz in three is one of 78 Hz
    # thrice, 42 dB; with 24 dB of the biquad and 9 dB of the gyro's pole that is below -60 dB
    deep = FILTERS.replace("pt2 300 Hz", "pt3 40 Hz")
    made = filters.picture(craft(deep), None)
    rows = {row[0]: row for row in made.table.rows}
    assert rows["200 Hz"][1] == "nothing left"
    assert float(rows["400 Hz"][3]) == pytest.approx(-75, abs=4)
    assert "-60.0" not in {cell for row in made.table.rows for cell in row}


def test_the_curve_ends_below_half_of_the_slowest_rate() -> None:
    told = filters.data(craft(FILTERS), None)
    assert told.points[0].hz == 10
    assert told.points[-1].hz == pytest.approx(LOOP_HZ / 2 * 0.98)


def test_the_motors_band_by_the_sheet_is_kv_times_volts() -> None:
    # Hand calculation: four lipo cells, 12.0 V empty and 16.8 V full, 1750 rpm/V. Hovering at 31 %
    # on an empty pack: 1750 × 12 × 0.31 / 60 = 108.5 Hz; full: 1750 × 16.8 / 60 = 490 Hz; three
    # blades pass three times as often.
    built = sheet(
        "[propulsion]\nkv = 1750\nblades = 3\nhover_throttle = 31\n"
        '[battery]\nchemistry = "lipo"\ncells = 4\n'
    )
    motors, blades = filters.bands(craft(FILTERS), built)
    assert (motors.low_hz, motors.high_hz) == pytest.approx((108.5, 490.0))
    assert (blades.low_hz, blades.high_hz) == pytest.approx((325.5, 1470.0))


RATES = """
[banks]
active = 1
1.rates.roll.centre = 100 deg/s
1.rates.roll.max = 700 deg/s
1.rates.roll.expo = 0.5
1.rates.yaw.centre = 200 deg/s
1.rates.yaw.max = 200 deg/s
1.rates.yaw.expo = 0
"""


def test_the_stick_curve_is_as_worked_out_by_hand() -> None:
    # Hand calculation, rate = centre·x + (max − centre)·x·((1 − expo)·|x| + expo·x²), at x = 0.5:
    # 50 + 600 × 0.5 × (0.5 × 0.5 + 0.5 × 0.25) = 50 + 300 × 0.375 = 162.5; at x = 1: 700.
    # A centre as high as the end is a straight line: 100 at half stick.
    roll, yaw = rates.data(craft(RATES)).curves
    assert roll.rates[50] == pytest.approx(162.5)
    assert roll.rates[100] == pytest.approx(700)
    assert yaw.rates[50] == pytest.approx(100)
    assert roll.rates[0] == 0

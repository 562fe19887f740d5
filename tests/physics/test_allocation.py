from itertools import permutations
from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.physics.allocation import (
    AXES,
    BEARINGS_DEG,
    RATE_AXES,
    alternating_spins,
    arm_names,
    arm_positions,
    classify_axes,
    couplings,
    decoupled_mixer,
    effectiveness,
    lone_sign_fault,
    matched_mixer,
    mixer_rank,
    odd_corner_sign,
    rate_shares,
    response_shares,
    room_beside_yaw,
    sign_test,
    thrusts_for_wrench,
)
from cfgaudit.physics.matrices import Matrix, believed_rates, rotation_matrix

LAYOUTS = sorted(BEARINGS_DEG)
LEVEL = rotation_matrix(0, 0, 0)


def craft(layout: str, lever_m: float = 0.016, radius_m: float = 0.1) -> tuple[Matrix, Matrix]:
    places = list(arm_positions(layout, radius_m).values())
    spins = list(alternating_spins(layout, 1).values())
    return effectiveness(places, spins, lever_m), matched_mixer(places, spins)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_matched_mixer_commands_every_axis_of_every_layout(layout: str) -> None:
    effect, mixer = craft(layout)
    assert mixer_rank(effect, mixer) == 4
    assert all(value.real > 0 and value.imag == 0 for value in sign_test(effect, mixer))
    assert np.allclose(response_shares(effect, mixer), np.eye(4), atol=1e-12)
    assert [(v.state, v.partner) for v in classify_axes(effect, mixer)] == [("ok", None)] * 3
    assert couplings(effect, mixer) == ()


@pytest.mark.parametrize("layout", LAYOUTS)
def test_all_spins_reversed_reverse_yaw_alone(layout: str) -> None:
    _, mixer = craft(layout)
    places = list(arm_positions(layout, 0.1).values())
    effect = effectiveness(places, list(alternating_spins(layout, -1).values()))
    assert [v.state for v in classify_axes(effect, mixer)] == ["ok", "ok", "reversed"]


@given(st.floats(1e-4, 1.0))
def test_a_small_yaw_lever_does_not_read_as_weak(lever_m: float) -> None:
    effect, mixer = craft("quad_x", lever_m)
    assert classify_axes(effect, mixer)[2].share == pytest.approx(1.0)


@given(st.floats(0.01, 100.0), st.sampled_from(LAYOUTS))
def test_shares_do_not_depend_on_the_mixer_s_size(size: float, layout: str) -> None:
    effect, mixer = craft(layout)
    larger = [[size * v for v in row] for row in mixer]
    assert np.allclose(rate_shares(effect, larger), np.eye(3), atol=1e-12)


def test_one_flipped_spin_halves_yaw_and_couples_into_it() -> None:
    places = list(arm_positions("quad_x", sqrt(2)).values())
    spins = list(alternating_spins("quad_x", -1).values())
    effect = effectiveness(places, [-spins[0], *spins[1:]])
    verdict = classify_axes(effect, matched_mixer(places, spins))[2]
    assert verdict.state == "ok"
    assert verdict.share == pytest.approx(0.5)
    assert {c.axis for c in couplings(effect, matched_mixer(places, spins))} == {"yaw"}


@pytest.mark.parametrize("order", [p for p in permutations(range(4)) if p != (0, 1, 2, 3)])
def test_no_crossing_of_a_quad_s_outputs_goes_unnoticed(order: tuple[int, ...]) -> None:
    effect, mixer = craft("quad_x")
    verdicts = classify_axes(effect, [mixer[i] for i in order])
    assert any(v.state != "ok" for v in verdicts)


def test_a_mixer_without_yaw_has_no_authority_there() -> None:
    effect, mixer = craft("quad_x")
    verdicts = classify_axes(effect, [[*row[:3], 0.0] for row in mixer])
    assert [v.state for v in verdicts] == ["ok", "ok", "no authority"]
    assert mixer_rank(effect, [[*row[:3], 0.0] for row in mixer]) == 3


@pytest.mark.parametrize(
    ("turned", "states"),
    [
        ((0, 0, 0), ["ok", "ok", "ok"]),
        ((0, 0, 45), ["ok", "ok", "ok"]),
        ((0, 0, 90), ["exchanged", "exchanged", "ok"]),
        ((0, 0, 180), ["reversed", "reversed", "ok"]),
        ((180, 0, 0), ["ok", "reversed", "reversed"]),
        ((0, 180, 0), ["reversed", "ok", "reversed"]),
        ((90, 0, 0), ["ok", "exchanged", "exchanged"]),
        ((0, 90, 0), ["exchanged", "ok", "exchanged"]),
    ],
)
def test_a_turned_board_spoils_the_axes_it_moves(
    turned: tuple[float, float, float], states: list[str]
) -> None:
    effect, mixer = craft("quad_x")
    turn = believed_rates(LEVEL, rotation_matrix(*turned))
    assert [v.state for v in classify_axes(effect, mixer, turn)] == states


def test_an_exchanged_axis_names_its_partner_and_sign() -> None:
    """Mounted yawed right by 90 degrees and unsaid: a true roll right (about x) is seen by the
    board as -y, nose down."""
    effect, mixer = craft("quad_x")
    roll, pitch, _ = classify_axes(effect, mixer, believed_rates(LEVEL, rotation_matrix(0, 0, 90)))
    assert (roll.partner, pitch.partner) == ("pitch", "roll")
    assert (roll.partner_share, pitch.partner_share) == pytest.approx((-1.0, 1.0))


def test_strong_coupling_that_turns_an_eigenvalue_negative_is_not_called_ok() -> None:
    """Shares ((.6, .8), (.8, .6)): every diagonal is positive, but 0.6 - 0.8 < 0."""
    effect, mixer = craft("quad_x")
    mixed = [
        [row[0], 0.6 * row[1] + 0.8 * row[2], 0.8 * row[1] + 0.6 * row[2], row[3]] for row in mixer
    ]
    assert "exchanged" in {v.state for v in classify_axes(effect, mixed)}
    softer = [
        [row[0], 0.8 * row[1] + 0.6 * row[2], 0.6 * row[1] + 0.8 * row[2], row[3]] for row in mixer
    ]
    assert [v.state for v in classify_axes(effect, softer)] == ["ok", "ok", "ok"]


def test_of_axes_that_work_in_each_other_the_two_that_do_most_are_named() -> None:
    """Hand calculation: columns (.5, -.45, -.49), (-.45, .5, -.3), (-.1, -.3, .5) over their norms
    .833, .736, .592 are (.601, -.541, -.589), (-.611, .679, -.408), (-.169, -.507, .845): each is
    strongest on its own axis. Roll and pitch share .541 x .611 = .330, pitch and yaw .408 x .507 =
    .207, roll and yaw .589 x .169 = .099. The eigenvalues sum to 2.12, and one is below
    nought (reference library, numpy: -0.242).
    """
    effect, mixer = craft("quad_x")
    columns = [(0.5, -0.45, -0.49), (-0.45, 0.5, -0.3), (-0.1, -0.3, 0.5)]
    mixed = [
        [row[0], *(sum(a * b for a, b in zip(column, row[1:], strict=True)) for column in columns)]
        for row in mixer
    ]
    verdicts = classify_axes(effect, mixed)
    assert [v.state for v in verdicts] == ["ok", "exchanged", "ok"]
    assert verdicts[1].partner == "roll"


def test_couplings_come_strongest_first() -> None:
    """Hand calculation: a roll command with 0.3 of pitch's, a pitch command with 0.1 of roll's."""
    effect, mixer = craft("quad_x")
    mixed = [[row[0], row[1] + 0.3 * row[2], row[2] + 0.1 * row[1], row[3]] for row in mixer]
    found = couplings(effect, mixed)
    assert [(c.command, c.axis) for c in found] == [("roll", "pitch"), ("pitch", "roll")]
    assert [c.share for c in found] == [pytest.approx(0.3), pytest.approx(0.1)]


def test_verdicts_come_in_the_order_roll_pitch_yaw() -> None:
    assert tuple(v.axis for v in classify_axes(*craft("hex_x"))) == RATE_AXES == AXES[1:]


@given(st.floats(0.5, 8), st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(-0.02, 0.02))
def test_thrusts_make_the_wrench_they_were_asked_for(
    thrust: float, roll: float, pitch: float, yaw: float
) -> None:
    effect, _ = craft("hex_x")
    thrusts = thrusts_for_wrench(effect, (thrust, roll, pitch, yaw))
    made = np.array(effect) @ np.array(thrusts)
    assert np.allclose(made, (thrust, roll, pitch, yaw), atol=1e-9)
    least = np.linalg.pinv(np.array(effect)) @ np.array((thrust, roll, pitch, yaw))
    assert np.allclose(thrusts, least, atol=1e-8)


def test_a_wrench_that_the_arms_cannot_make_is_refused() -> None:
    places = list(arm_positions("quad_x").values())
    with pytest.raises(ValueError, match="no inverse"):
        thrusts_for_wrench(effectiveness(places, [1, 1, 1, 1]), (4, 0, 0, 0.1))


def test_full_yaw_leaves_no_room_in_a_unit_mixer_and_some_in_a_gentler_one() -> None:
    """Hand calculation: yaw 0.3 spreads 0.6 of 2; roll adds 2 a unit, so 0.7 of it fits."""
    _, mixer = craft("quad_x")
    assert room_beside_yaw(mixer, "roll", 1.0) == pytest.approx(0.0)
    gentle = [[*row[:3], 0.3 * row[3]] for row in mixer]
    assert room_beside_yaw(gentle, "roll", 1.0) == pytest.approx(0.7)
    assert room_beside_yaw([[*row[:3], 1.5 * row[3]] for row in mixer], "pitch", 1.0) == 0


def test_a_part_of_a_yaw_command_leaves_the_rest_of_the_room() -> None:
    """Hand calculation: 0.4 of yaw spreads 0.8 of 2; 1.2 / 2 of roll fits. 0 leaves all of it."""
    _, mixer = craft("quad_x")
    assert room_beside_yaw(mixer, "roll", 0.4) == pytest.approx(0.6)
    assert room_beside_yaw(mixer, "pitch", 0.0) == 1


def turned(mixer: Matrix, arm: int, column: int) -> Matrix:
    rows = [list(row) for row in mixer]
    rows[arm][column] = -rows[arm][column]
    return tuple(tuple(row) for row in rows)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_each_lone_wrong_sign_is_seen_and_named(layout: str) -> None:
    """As a coupling above a tenth; or, where two arms alone make an axis, as a lost axis."""
    effect, mixer = craft(layout)
    for arm, row in enumerate(mixer):
        for column, axis in enumerate(AXES):
            if abs(row[column]) > 1e-9:
                wrong = turned(mixer, arm, column)
                strong = {c.command for c in couplings(effect, wrong) if abs(c.share) > 0.1}
                lost = {v.axis for v in classify_axes(effect, wrong) if v.state != "ok"}
                assert strong | lost == {axis}
                assert lone_sign_fault(effect, wrong, 0.1) == (arm, axis)


def test_two_wrong_signs_are_no_lone_one() -> None:
    effect, mixer = craft("quad_x")
    assert lone_sign_fault(effect, turned(turned(mixer, 0, 1), 2, 2), 0.1) is None


def test_where_either_of_two_signs_would_do_as_well_none_is_named() -> None:
    """On six arms roll is half as strong fore and aft as abeam. With both arms of one side fore and
    aft wrong, turning either leaves the other: by symmetry they do equally well."""
    effect, exact = craft("hex_x")
    mixer = tuple(tuple(round(value, 9) for value in row) for row in exact)
    wrong = turned(turned(mixer, 0, 1), 2, 1)
    assert abs(mixer[0][1]) == pytest.approx(abs(mixer[2][1]))
    assert lone_sign_fault(effect, turned(mixer, 0, 1), 0.4) == (0, "roll")
    assert lone_sign_fault(effect, wrong, 0.4) is None


def test_spins_and_positions_must_pair_up() -> None:
    with pytest.raises(ValueError, match="spins"):
        effectiveness([(0.1, 0.1)], [1, -1])
    with pytest.raises(ValueError, match=r"\+1 or -1"):
        effectiveness([(0.1, 0.1)], [0])
    with pytest.raises(ValueError, match="yaw_lever_m"):
        effectiveness([(0.1, 0.1)], [1], 0)
    with pytest.raises(ValueError, match="arm"):
        effectiveness([(float("nan"), 0.1)], [1])


def test_a_mixer_of_another_shape_is_refused() -> None:
    effect, mixer = craft("quad_x")
    with pytest.raises(ValueError, match="mixer"):
        response_shares(effect, mixer[:3])
    with pytest.raises(ValueError, match="mixer"):
        sign_test(effect, [row[:3] for row in mixer])


def test_arms_on_one_line_leave_an_axis_without_authority() -> None:
    places = [(0.1, 0.0), (0.2, 0.0), (-0.1, 0.0), (-0.2, 0.0)]
    spins = [1, -1, -1, 1]
    verdicts = classify_axes(effectiveness(places, spins), matched_mixer(places, spins))
    assert verdicts[0].state == "no authority"
    assert len(arm_names("quad_x")) == len(places)


def test_a_decoupled_mixer_moves_each_axis_alone() -> None:
    # front arms 62 mm out and 44 mm ahead, rear ones 50 mm out and 48 mm behind: of yaw the front
    # pair gets 50 / 62, of thrust the rear one 44 / 48
    places = [(0.044, -0.062), (0.044, 0.062), (-0.048, -0.050), (-0.048, 0.050)]
    effect = effectiveness(places, [1, -1, -1, 1])
    mixer = decoupled_mixer(effect)
    assert [row[3] for row in mixer] == pytest.approx([-50 / 62, 50 / 62, 1, -1])
    assert [row[0] for row in mixer] == pytest.approx([1, 1, 44 / 48, 44 / 48])
    assert couplings(effect, mixer) == ()


def test_on_arms_that_stand_evenly_a_decoupled_mixer_is_the_matched_one() -> None:
    places, spins = [(1, -1), (1, 1), (-1, -1), (-1, 1)], [1, -1, -1, 1]
    even = matched_mixer(places, spins)
    for own, other in zip(even, decoupled_mixer(effectiveness(places, spins)), strict=True):
        assert own == pytest.approx(other)


def test_of_four_rows_the_one_sign_that_is_off_is_found_wherever_it_is() -> None:
    """Hand calculation: left arms roll +, front arms pitch +, yaw their product's opposite."""
    sound = [(1.0, roll, pitch, -roll * pitch) for roll in (1.0, -0.7) for pitch in (1.0, -0.4)]
    assert odd_corner_sign(sound) is None
    for arm in range(4):
        for number, axis in enumerate(("roll", "pitch", "yaw"), 1):
            rows = [list(row) for row in sound]
            rows[arm][number] *= -1
            assert odd_corner_sign(rows) == (arm, axis)


def test_of_other_than_four_corners_no_sign_is_odd() -> None:
    sound = [[1.0, roll, pitch, -roll * pitch] for roll in (1.0, -1.0) for pitch in (1.0, -1.0)]
    plus = [[1.0, *row] for row in ((0, 1, 1), (-1, 0, -1), (0, -1, 1), (1, 0, -1))]
    two_off = [[*row[:2], -row[2], row[3]] for row in sound[:2]] + sound[2:]
    for rows in (plus, two_off, sound[:3], [*sound, sound[0]]):
        assert odd_corner_sign(rows) is None

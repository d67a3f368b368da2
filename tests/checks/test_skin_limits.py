"""What joints and skin bear, pinned: a tenth more or less of any of these numbers is seen here."""

from collections.abc import Callable
from itertools import product
from typing import Any

import numpy as np
import pytest

from print3d.checks.finding import Finding
from print3d.checks.joints import check_joints
from print3d.checks.limits import limits_of_case
from print3d.checks.passive_range import FITTED_DEG, KeptAngle, passive_range
from print3d.checks.pressure import check_pressure, gentler_force_n
from print3d.checks.skin_limits import hours_borne, hyperextension_limit, peak_limit, pull_limit, skin_limits
from print3d.errors import InputError
from print3d.inputs.options import MOST_END_FORCE_N, MOST_PULL_G, MOST_TORQUE_N_MM
from print3d.kinds.registry import KINDS
from print3d.limb.joint_id import JointId
from print3d.mechanics import loads
from print3d.mechanics.bearing import PEAK_AREA_MM2, Bed, most_pressed
from print3d.mechanics.three_point import grams_of_force

MakeCase = Callable[..., Any]
MAY_COME_OFF = {"code": "PY-001", "side": "right", "finger": "middle", "protected": False}
BARE: dict[str, Any] = {"marking": {"style": "none"}, "vents": {"grid": "none"}}
KEYS = {
    ("pip", "least"): ("pip_passive_extension_deficit_deg", 25.0, 25.0),
    ("pip", "most"): ("pip_max_flexion_deg", 40.0, 40.0),
    ("dip", "least"): ("dip_passive_hyperextension_deg", 15.0, -15.0),
    ("dip", "most"): ("dip_max_flexion_deg", 50.0, 50.0),
    ("mcp", "most"): ("mcp_max_flexion_deg", 70.0, 70.0),
}
"""Measured end of a joint -> its key, the number in the file, and the same as flexion."""


def case_with(
    make_case: MakeCase, finger: dict[str, float], options: dict[str, Any] | None = None, **tables: Any
) -> Any:
    measured = {
        "sex": "man",
        "hand_length_mm": 193.0,
        "middle": {"pip_girth_mm": 66.0, "dip_girth_mm": 56.0, **finger},
    }
    return make_case({"kind": "mallet", **(options or {})}, measured=measured, **tables)


# past what the joint gives --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("joint", "end"), list(KEYS))
def test_an_angle_past_the_joint_fails_and_one_within_the_goniometers_error_is_watched(
    make_case: MakeCase, joint: Any, end: Any
) -> None:
    key, number, flexion = KEYS[joint, end]
    inwards, allowed = (
        (1.0 if end == "least" else -1.0),
        {"allow": ["past_passive"], "reason": "by the surgeon"},
    )
    verdicts = {}
    for lifted, inside in product((False, True), (-0.5, 0.0, 4.9, 5.1)):
        case = case_with(make_case, {key: number}, **({"override": allowed} if lifted else {}))
        angle = KeptAngle(
            "joints.passive",
            JointId("middle", joint),
            flexion + inwards * inside,
            ("least", "most"),
            (),
            None,
        )
        (found,) = passive_range(case).findings(angle)
        verdicts[lifted, inside] = found.verdict
    inside_of = {0.0: "watch", 4.9: "watch", 5.1: "holds"}
    for lifted in (False, True):
        assert {inside: verdicts[lifted, inside] for inside in inside_of} == inside_of
    assert (verdicts[False, -0.5], verdicts[True, -0.5]) == ("fails", "watch")
    assert FITTED_DEG == 0.1


def test_what_was_not_measured_has_no_passive_range(make_case: MakeCase) -> None:
    angle = KeptAngle("joints.passive", JointId("middle", "pip"), 90.0, ("least", "most"), (), None)
    assert list(passive_range(case_with(make_case, {})).findings(angle)) == []


PAST = [
    ("pip_extension", {"pip_flexion_deg": 24.9}, ("pip", "least")),
    ("pip_extension", {"pip_flexion_deg": 40.1}, ("pip", "most")),
    ("figure_of_eight", {"blocks": "flexion", "pip_flexion_deg": 24.9}, ("pip", "least")),
    ("figure_of_eight", {"blocks": "extension", "pip_flexion_deg": 40.1}, ("pip", "most")),
    ("mallet", {"dip_hyperextension_deg": 15.1}, ("dip", "least")),
    ("mallet_with_pip_block", {"dip_hyperextension_deg": 15.1}, ("dip", "least")),
    ("mallet_with_pip_block", {"pip_flexion_deg": 40.1}, ("pip", "most")),
    ("dorsal_blocking", {"mcp_flexion_deg": 70.1}, ("mcp", "most")),
    ("dorsal_blocking", {"middle_mcp_flexion_deg": 70.1}, ("mcp", "most")),
]


@pytest.mark.parametrize(("kind", "options", "end"), PAST)
def test_every_kind_that_is_asked_past_a_joint_needs_an_override(
    make_case: MakeCase, kind: str, options: dict[str, Any], end: tuple[str, str]
) -> None:
    key, number, _ = KEYS[end]
    allow = ["past_passive", *(["dip_hyperextension"] if end[0] == "dip" else [])]
    dip = {"override": {"allow": allow[1:], "reason": "by the surgeon"}} if allow[1:] else {}
    with pytest.raises(InputError, match="past_passive"):
        case_with(make_case, {key: number}, {"kind": kind, **options}, **dip)
    case_with(
        make_case,
        {key: number},
        {"kind": kind, **options},
        override={"allow": allow, "reason": "by the surgeon"},
    )


def of(findings: list[Finding], key: str) -> Finding:
    return next(each for each in findings if each.key == key)


def test_the_held_angle_is_measured_on_the_shell(make_case: MakeCase) -> None:
    """A PIP held at just what the joint gives is watched, 6 degrees inside it holds."""
    for asked, verdict in ((25.0, "watch"), (31.0, "holds")):
        case = case_with(
            make_case,
            {"pip_passive_extension_deficit_deg": 25.0},
            {"kind": "pip_extension", "pip_flexion_deg": asked, **BARE},
        )
        found = of(check_joints(KINDS["pip_extension"].build(case), limits_of_case(case)), "joints.passive")
        assert found.verdict == verdict
        assert found.measured == pytest.approx(asked, abs=0.3)


# skin over the DIP ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("finger", "most", "watch"),
    [
        ({}, 5.0, 0.0),
        ({"dip_passive_hyperextension_deg": 15.0}, 5.0, 10.0 / 3.0),
        ({"dip_passive_hyperextension_deg": 30.0}, 10.0, 25.0 / 3.0),
        ({"dip_passive_hyperextension_deg": 3.0}, 1.0, 0.0),
        ({"dip_passive_hyperextension_deg": 15.0, "dip_blanch_hyperextension_deg": 11.0}, 10.0, 6.0),
        ({"dip_passive_hyperextension_deg": 15.0, "dip_blanch_hyperextension_deg": 4.0}, 3.0, 0.0),
        ({"dip_blanch_hyperextension_deg": 0.0}, -1.0, 0.0),
    ],
)
def test_hyperextension_of_a_dip_by_what_was_measured(
    make_case: MakeCase, finger: dict[str, float], most: float, watch: float
) -> None:
    found = hyperextension_limit(case_with(make_case, finger))
    assert found.limit.value == pytest.approx(most)
    assert found.watch == pytest.approx(watch)


# pull at a finger -----------------------------------------------------------------------------------------------------


def test_two_hundred_grams_are_the_most_at_a_finger() -> None:
    """Punsola-Izard et al. 2023, J Clin Med 12:2855; 27 mm is a long middle phalanx."""
    assert MOST_PULL_G == 200.0
    assert 199.0 < grams_of_force(MOST_END_FORCE_N) <= MOST_PULL_G
    assert pytest.approx(MOST_END_FORCE_N * 27.0, rel=0.005) == MOST_TORQUE_N_MM


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_refuses_more_without_an_override(make_case: MakeCase, kind: str) -> None:
    least = (
        {"mcp_difference_deg": 15.0, "injured_finger": "more_extended"} if kind == "relative_motion" else {}
    )
    for option, value in (("end_force_n", 2.0), ("joint_torque_nmm", 54.0)):
        with pytest.raises(InputError, match=rf"{option} = {value:g}: at most .* without \[override\]"):
            make_case({"kind": kind, **least, option: value})


def test_a_pull_above_two_hundred_grams_is_found_on_the_shell_and_no_more_is_advised(
    make_case: MakeCase,
) -> None:
    """50 N mm are allowed, but at the end of a short lever they are more than 200 g."""
    options = {"kind": "pip_extension", "joint_torque_nmm": 50.0, "wear_hours_per_day": 2.0, **BARE}
    case = make_case(options)
    orthosis = KINDS["pip_extension"].build(case)
    found = of(check_pressure(orthosis, limits_of_case(case)), "pressure.pull")
    assert found.verdict == "fails"
    assert found.measured > 210.0
    lifted = make_case(options, override={"allow": ["joint_torque"], "reason": "by the surgeon"})
    assert of(check_pressure(orthosis, limits_of_case(lifted)), "pressure.pull").verdict == "watch"
    assert pull_limit(lifted).is_lifted
    assert gentler_force_n(5.0, 10.0, 20.0) <= MOST_END_FORCE_N


# pressure by hours ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hours", "most"),
    [(0.25, 32.0), (1.0, 32.0), (1.5, 20.5), (1.75, 14.75), (2.0, 9.0), (8.0, 9.0), (24.0, 9.0)],
)
def test_a_peak_is_borne_by_the_hours_in_one_piece(hours: float, most: float) -> None:
    """Muscle of rats, Linder-Ganz et al. 2006, J Biomech: 32 kPa up to an hour, 9 kPa from two hours on; watched from half."""
    found = peak_limit(hours)
    assert (found.limit.value, found.watch) == pytest.approx((most, most / 2.0))


@pytest.mark.parametrize(
    ("peak", "hours"),
    [(32.1, None), (32.0, 1.0), (20.5, 1.5), (20.4, 1.5), (14.8, 1.5), (9.1, 1.75), (9.0, 2.0)],
)
def test_hours_that_a_peak_is_borne_for(peak: float, hours: float | None) -> None:
    assert hours_borne(peak) == hours
    if hours is not None:
        assert peak_limit(hours).limit.value >= peak


@pytest.mark.parametrize(("hours", "most", "watch"), [(8.0, 20.0, 4.903), (8.1, 10.0, 4.266)])
def test_a_mean_is_borne_by_the_hours_a_day(hours: float, most: float, watch: float) -> None:
    """Watched: 50 g/cm2, by which hand therapists design; day and night 32 mmHg, the usual capillary closing pressure."""
    found = skin_limits(hours)
    assert (found.pressure_kpa.value, found.watch_kpa.value) == pytest.approx((most, watch), abs=0.005)


def test_hours_at_once_are_those_of_the_day_unless_asked_and_never_more(make_case: MakeCase) -> None:
    def at_once(**hours: float) -> float:
        return float(loads.pull_of_case(make_case({"kind": "figure_of_eight", **hours})).hours_at_once)

    assert at_once() == 16.0
    assert at_once(wear_hours_per_day=5.0) == 5.0
    assert at_once(wear_hours_per_day=5.0, wear_hours_at_once=2.0) == 2.0
    assert at_once(wear_hours_at_once=20.0) == 16.0
    with pytest.raises(
        InputError, match=r"wear_hours_at_once = 3: at most 2, the hours of wear_hours_per_day"
    ):
        at_once(wear_hours_per_day=2.0, wear_hours_at_once=3.0)


@pytest.mark.parametrize("cut_mm", [0.7, 1.0, 2.0, 3.0])
def test_a_peak_is_that_of_25_square_millimetres_however_finely_the_skin_is_cut(cut_mm: float) -> None:
    """A cone of 40 kPa, 10 mm wide at its foot: over a disc of 25 mm2, whose radius is 2.82 mm, it is 40 (1 - 2/3 2.82 / 5) = 25."""
    places = np.arange(-9.0, 9.0, cut_mm) + 0.1
    x, y = (each.ravel() for each in np.meshgrid(places, places))
    points = np.column_stack([x, y, np.zeros_like(x)])
    pressed = 0.04 * np.maximum(0.0, 1.0 - np.hypot(x, y) / 5.0)
    bed = Bed(points, points, np.full(len(x), cut_mm**2), points, np.zeros(len(x), dtype=np.int64))
    peak, patch = most_pressed(bed, pressed, x > -20.0)
    assert peak == pytest.approx(25.0, rel=0.07)
    assert np.hypot(*points[patch, :2]) < 1.5 * cut_mm
    one = np.arange(len(x)) == int(np.argmax(pressed))
    assert most_pressed(bed, pressed, one)[0] == pytest.approx(1000.0 * pressed.max())
    assert PEAK_AREA_MM2 == 25.0


def test_straps_and_shell_have_peaks_of_their_own_and_long_wear_of_a_firm_pull_fails(
    make_case: MakeCase,
) -> None:
    """The same force, worn for 8 hours in one piece, in spells of an hour and a half, and of an hour."""
    options = {
        "kind": "pip_extension",
        "form": "dorsal",
        "end_force_n": 1.5,
        "wear_hours_per_day": 8.0,
        **BARE,
    }
    orthosis = KINDS["pip_extension"].build(make_case(options))
    peaks = {}
    for at_once in (8.0, 1.0):
        found = check_pressure(
            orthosis, limits_of_case(make_case({**options, "wear_hours_at_once": at_once}, case=MAY_COME_OFF))
        )
        peaks[at_once] = {dict(each.about.of)["zone"]: each for each in found if each.key == "pressure.peak"}
    assert list(peaks[8.0]) == ["shell", "strap_1", "strap_2"]
    assert peaks[8.0]["shell"].verdict == "fails"
    assert peaks[1.0]["shell"].holds
    means = {dict(each.about.of)["zone"]: each for each in found if each.key == "pressure.zone"}
    assert all(peaks[8.0][zone].measured > means[zone].measured for zone in means)


# effort ---------------------------------------------------------------------------------------------------------------


def test_effort_is_the_largest_mean_and_the_largest_pull_is_watched() -> None:
    """Kursa et al. 2006, J Orthop Res 24:763: means of 1.3 to 8.5 N; Schuind et al. 1992: up to 3.5 kgf, at rest half of the least of 1 to 6 N."""
    assert (loads.REST_N, loads.EFFORT_N) == (0.5, 8.5)
    assert pytest.approx(3.5 * 9.80665, rel=0.03) == loads.MOST_EFFORT_N


@pytest.mark.parametrize("kind", [kind for kind, of in KINDS.items() if of.options.protects != "always"])
def test_spells_are_to_be_written_down(make_case: MakeCase, kind: str) -> None:
    """The verdict rests on the breaks, so somebody must tell the wearer."""
    header = (
        MAY_COME_OFF if KINDS[kind].options.protects == "by_case" else {**MAY_COME_OFF, "protected": None}
    )
    (said,) = loads.spells_of(make_case({"kind": kind, "wear_hours_at_once": 1.5}, case=header))
    assert "1.5 h" in said.said("en")
    assert list(loads.spells_of(make_case({"kind": kind}))) == []


@pytest.mark.parametrize("kind", [kind for kind, of in KINDS.items() if of.options.protects != "never"])
def test_what_heals_is_never_let_go_for_the_sake_of_the_skin(make_case: MakeCase, kind: str) -> None:
    """Spells of wear are refused for all that its wearer never takes off alone; what a case leaves open counts so."""
    with pytest.raises(InputError, match=r"orthosis\.wear_hours_at_once = 1\.5"):
        make_case({"kind": kind, "wear_hours_at_once": 1.5})

"""Fingers from what was measured: published proportions, and consistency whatever was measured."""

import math
from itertools import combinations

import numpy as np
import pytest

from print3d.limb.estimates import (
    PALMAR_KEYS,
    Estimate,
    FingerMeasures,
    estimate_finger,
    estimate_hand,
)
from print3d.limb.finger import build_finger
from print3d.limb.finger_norms import (
    GIRTHS,
    SEGMENTS,
    adult_joint_centres,
    adult_palmar_lengths_mm,
    girth_norm,
)
from print3d.limb.norms import table

FINGERS = ("index", "middle", "ring", "little")
MAN = estimate_hand({"hand_length_mm": 193.0}, "man")
WRIST = estimate_hand({"hand_length_mm": 193.0, "wrist_girth_mm": 176.0}, "man")


def lengths(measures: FingerMeasures) -> list[float]:
    return [getattr(measures, f"{segment}_mm").value for segment in SEGMENTS]


def palmar(finger: str, factor: float = 1.0) -> dict[str, float]:
    return dict(zip(PALMAR_KEYS, factor * adult_palmar_lengths_mm(finger), strict=True))


# --- creases, joint lines, joint centres ---------------------------------------------------------------------


def test_creases_are_not_joints() -> None:
    """Bugbee and Botte 1993 (notes 2): creases 17 distal (MCP), 2.5 and 7.5 proximal; condyle radii 8, 4, 2.5 from memory."""
    centres = adult_joint_centres()
    assert centres.mcp_proximal_of_web_crease_mm == 17 + 8
    assert centres.pip_proximal_of_crease_mm == 4 - 2.5
    assert centres.dip_distal_of_crease_mm == 7.5 - 2.5


@pytest.mark.parametrize(
    ("finger", "expected", "turkey"),
    [
        ("index", (20.3, 17.4, 27.2, 64.8), 63.9),
        ("middle", (25.1, 21.3, 28.9, 75.3), 70.7),
        ("ring", (21.9, 20.7, 28.8, 71.3), 65.5),
        ("little", (13.2, 13.1, 27.2, 53.5), 53.3),
    ],
)
def test_bones_and_creases_give_the_palmar_lengths_people_have(
    finger: str, expected: tuple[float, ...], turkey: float
) -> None:
    """Consistency test: bones of Buryanov and Kotiuk 2010, creases of Bugbee and Botte 1993.

    Measured totals: Chatzioglou, Pinar and Govsa 2024 (51 adults); within about 6 mm.
    """
    found = adult_palmar_lengths_mm(finger)
    np.testing.assert_allclose([*found, found.sum()], expected, atol=0.051)
    assert found.sum() == pytest.approx(turkey, abs=6.0)
    if finger == "middle":  # ANSUR II 2012, hand length less palm length, men and women
        assert found.sum() == pytest.approx((76.8 + 72.4) / 2, abs=3.0)


@pytest.mark.parametrize("finger", FINGERS)
def test_joint_centre_lengths_follow_bones_by_the_condyle_radii(finger: str) -> None:
    """A centre lies one radius proximal of the joint line: proximal phalanx + 8 - 4, middle + 4 - 2.5, tip + 2.5."""
    bones = table("fingers")["bones"]
    found = lengths(estimate_finger(finger, palmar(finger), MAN))
    expected = [
        bones["proximal_mm"][finger][0] + 8 - 4,
        bones["middle_mm"][finger][0] + 4 - 2.5,
        bones["distal_mm"][finger][0] + bones["soft_tip_mm"][finger][0] + 2.5,
    ]
    np.testing.assert_allclose(found, expected, atol=1e-9)


@pytest.mark.parametrize("finger", FINGERS)
def test_uncertain_ends_of_a_segment_add_as_independent_ones(finger: str) -> None:
    """SD of proximal, middle, distal length: of two joint centres each, of one at the tip (1.6, 1.0, 1.0 mm; from memory)."""
    measures = estimate_finger(finger, palmar(finger), MAN)
    found = [getattr(measures, f"{segment}_mm").sd for segment in SEGMENTS]
    size = measures.web_station_mm.value / adult_joint_centres().mcp_proximal_of_web_crease_mm
    least = np.array([math.hypot(1.6, 1.0), math.hypot(1.0, 1.0), 1.0]) * size
    assert (np.array(found) >= least - 1e-9).all()
    np.testing.assert_allclose(found, least, rtol=0.1)
    for at, key in enumerate(
        PALMAR_KEYS
    ):  # one measured alone: the finger's size is uncertain too, and adds to it
        alone = estimate_finger(finger, {key: palmar(finger)[key]}, MAN)
        grown = alone.web_station_mm.value / adult_joint_centres().mcp_proximal_of_web_crease_mm
        assert getattr(alone, f"{SEGMENTS[at]}_mm").sd > 1.0001 * least[at] / size * grown


def test_given_offsets_of_an_adult_finger() -> None:
    """Proximal = P + 23.5, middle = M + 6.5, distal = D - 5, web 25 distal of the MCP centre, at the adult mean."""
    values = palmar("middle")
    measures = estimate_finger("middle", values, MAN)
    np.testing.assert_allclose(np.array(lengths(measures)) - [*values.values()], [23.5, 6.5, -5.0])
    assert measures.web_station_mm.value == pytest.approx(25.0)
    assert all(getattr(measures, f"{segment}_mm").is_measured for segment in SEGMENTS)
    assert not measures.web_station_mm.is_measured


def test_measured_lengths_keep_the_spread_of_the_joint_centres() -> None:
    """SD of a centre against its crease: MCP 1.6 (range 14 to 20 of Bugbee and Botte 1993), PIP and DIP 1.0 from memory."""
    measures = estimate_finger("little", palmar("little"), MAN)
    spreads = [getattr(measures, f"{segment}_mm").sd for segment in SEGMENTS]
    np.testing.assert_allclose(spreads, [math.hypot(1.6, 1.0), math.hypot(1.0, 1.0), 1.0])
    assert measures.web_station_mm.sd == pytest.approx(1.6)


@pytest.mark.parametrize("finger", FINGERS)
def test_a_finger_of_another_size_is_the_same_finger_scaled(finger: str) -> None:
    full, small = (estimate_finger(finger, palmar(finger, size), MAN) for size in (1.0, 0.6))
    np.testing.assert_allclose(lengths(small), 0.6 * np.array(lengths(full)))
    assert small.web_station_mm.value == pytest.approx(0.6 * full.web_station_mm.value)
    assert small.web_station_mm.sd == pytest.approx(0.6 * full.web_station_mm.sd)


# --- lengths that were not measured --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hand_length", "finger", "expected"),
    [
        (193.3, "index", (47.4, 27.6, 18.7)), (193.3, "middle", (51.4, 32.9, 20.9)),
        (193.3, "ring", (47.2, 31.9, 20.7)), (193.3, "little", (39.4, 22.6, 18.0)),
        (181.1, "index", (44.4, 25.9, 17.6)), (181.1, "middle", (48.2, 30.8, 19.6)),
        (181.1, "ring", (44.2, 29.9, 19.4)), (181.1, "little", (36.9, 21.2, 16.8)),
    ],
)  # fmt: skip
def test_segments_from_hand_length(hand_length: float, finger: str, expected: tuple[float, ...]) -> None:
    """Buchholz, Armstrong and Goldstein 1992, lengths computed from their shares of hand length; SD 6 percent from memory."""
    measures = estimate_finger(finger, {}, estimate_hand({"hand_length_mm": hand_length}, "man"))
    np.testing.assert_allclose(lengths(measures), expected, atol=0.08)
    for segment in SEGMENTS:
        estimate = getattr(measures, f"{segment}_mm")
        assert estimate.sd == pytest.approx(0.06 * estimate.value)
        assert estimate.method.said("en") == "estimated from hand length"


@pytest.mark.parametrize("finger", FINGERS)
def test_two_sources_agree_on_the_web(finger: str) -> None:
    """Hand-length shares (Buchholz) and bones with creases (Buryanov, Bugbee) put the web at 25 mm, for a mean adult."""
    mean = estimate_hand({}, None)
    assert estimate_finger(finger, {}, mean).web_station_mm.value == pytest.approx(25.0, abs=0.6)


@pytest.mark.parametrize("finger", FINGERS)
def test_lengths_do_not_depend_on_which_of_them_were_measured(finger: str) -> None:
    """The palmar lengths of the estimated finger, given as if measured, in any choice, give the same finger."""
    whole = estimate_finger(finger, {}, MAN)
    size = whole.web_station_mm.value / 25.0
    like_measured = np.array(lengths(whole)) - size * adult_joint_centres().added_to_palmar()
    for count in range(4):
        for chosen in combinations(range(3), count):
            given = {PALMAR_KEYS[at]: float(like_measured[at]) for at in chosen}
            found = estimate_finger(finger, given, MAN)
            np.testing.assert_allclose(lengths(found), lengths(whole))
            assert found.web_station_mm.value == pytest.approx(whole.web_station_mm.value)
            assert found.web_station_mm.sd <= whole.web_station_mm.sd + 1e-9


def test_an_uncertain_hand_makes_uncertain_segments() -> None:
    sure, unsure = (
        estimate_finger("ring", {}, hand).proximal_mm
        for hand in (MAN, estimate_hand({"stature_mm": 1756.0}, "man"))
    )
    assert unsure.sd == pytest.approx(
        math.hypot(0.244 * 7.36, 0.06 * unsure.value), rel=0.01
    )  # residual of the regression on stature, ANSUR II 2012
    assert unsure.sd > sure.sd
    assert "stature" in unsure.method.said("en")


# --- girths --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("finger", "pip", "dip"), [("index", 57.0, 48.0), ("middle", 59.2, 49.1)])
def test_girth_shares_are_those_of_the_measured_women(finger: str, pip: float, dip: float) -> None:
    """Nag, Nag and Desai 2003, Tables II and IV: wrist 143.6, hand length 169.6 (their means and spreads, second-hand)."""
    given = {"hand_length_mm": 169.6, "wrist_girth_mm": 143.6}
    from_wrist = estimate_finger(finger, {}, estimate_hand(given, "woman"))
    from_length = estimate_finger(finger, {}, estimate_hand({"hand_length_mm": 169.6}, "woman"))
    for measures in (from_wrist, from_length):
        assert measures.pip_girth_mm.value == pytest.approx(pip, abs=0.1)
        assert measures.dip_girth_mm.value == pytest.approx(dip, abs=0.15)
    assert from_wrist.pip_girth_mm.method.said("en") == "estimated from wrist girth"
    assert from_wrist.pip_girth_mm.sd == pytest.approx(
        3.5
    )  # spread within a sex of Nag et al. 2003, second-hand
    assert from_length.pip_girth_mm.method.said("en") == "estimated from hand length"


def test_an_uncertain_hand_makes_uncertain_girths() -> None:
    """Hand length from stature leaves 7.36 mm (regression on the public rows of ANSUR II 2012), the share of hand length itself 4 mm."""
    found = estimate_finger("middle", {}, estimate_hand({"stature_mm": 1756.0}, "man")).pip_girth_mm
    assert found.sd == pytest.approx(math.hypot(0.349 * 7.36, 4.0), rel=0.002)
    assert found.method.said("en") == "estimated from hand length, itself estimated from stature (man)"


@pytest.mark.parametrize(
    ("finger", "pip_sd", "dip_sd"), [("index", 3.1, (51 - 42) / 3.29), ("middle", 3.6, (54 - 45) / 3.29)]
)
def test_spread_of_dip_girth_follows_from_published_spreads(
    finger: str, pip_sd: float, dip_sd: float
) -> None:
    """Nag et al. 2003: SD of PIP and P5 to P95 of DIP; correlation 0.74 assumed, as of hand and wrist girth (ANSUR II)."""
    share = table("fingers")["dip_girth"]["share_of_pip"][finger]
    variance = dip_sd**2 + (share * pip_sd) ** 2 - 2 * 0.74 * dip_sd * share * pip_sd
    told = estimate_finger(finger, {"pip_girth_mm": 60.0}, MAN).dip_girth_mm
    assert told.sd == pytest.approx(math.sqrt(variance), abs=0.15)
    assert told.value == pytest.approx(60.0 * share)


@pytest.mark.parametrize("finger", ["ring", "little"])
def test_guessed_fingers_keep_one_proportion_of_wrist_and_hand_length(finger: str) -> None:
    """PIP over wrist against PIP over hand length: 1.18 for both published fingers."""
    shares = table("fingers")["pip_girth"]
    wrist, length = shares["share_of_wrist"], shares["share_of_hand_length"]
    assert wrist[finger] / length[finger] == pytest.approx(wrist["index"] / length["index"], rel=0.005)
    assert wrist["little"] < wrist["ring"] < wrist["index"] < wrist["middle"]


def test_other_girths_from_both_joints() -> None:
    given = {"pip_girth_mm": 66.0, "dip_girth_mm": 56.0}
    measures = estimate_finger("middle", given, WRIST)
    expected = {
        "web_girth_mm": (1.04 * 66, "estimated from PIP girth"),
        "proximal_girth_mm": (0.97 * 66, "estimated from PIP girth"),
        "middle_girth_mm": (0.96 * 61, "estimated from PIP girth and DIP girth"),
        "nail_fold_girth_mm": (0.96 * 56, "estimated from DIP girth"),
    }
    for key, (value, method) in expected.items():
        estimate: Estimate = getattr(measures, key)
        assert (estimate.value, estimate.sd) == pytest.approx((value, 2.0)), key
        assert estimate.method.said("en") == method
    assert {key for key in GIRTHS if getattr(measures, key).is_measured} == set(given)


def test_two_witnesses_of_the_pip_girth_are_weighed_by_their_spreads() -> None:
    """Only the DIP measured: precision-weighted mean of DIP / share and of what the wrist says."""
    share, dip = 0.829, 56.0
    wrist, wrist_sd = 0.412 * 176.0, 3.5
    witness, witness_sd = dip / share, 2.0 / share
    weight = wrist_sd**-2 + witness_sd**-2
    found = estimate_finger("middle", {"dip_girth_mm": dip}, WRIST).pip_girth_mm
    assert found.value == pytest.approx((wrist / wrist_sd**2 + witness / witness_sd**2) / weight)
    assert found.sd == pytest.approx(weight**-0.5)
    assert found.method.said("en") == "estimated from DIP girth and wrist girth"


@pytest.mark.parametrize("finger", FINGERS)
def test_measured_girths_stay_and_more_of_them_never_widen_the_rest(finger: str) -> None:
    true = dict(
        zip(GIRTHS, girth_norm(finger, 62.0, 3.5).mean + np.array([2.0, -1, 1, 3, -2, 0]), strict=True)
    )
    for count in range(7):
        for chosen in combinations(GIRTHS, count):
            found = estimate_finger(finger, {key: true[key] for key in chosen}, WRIST)
            fewer = estimate_finger(finger, {key: true[key] for key in chosen[1:]}, WRIST)
            for key in GIRTHS:
                estimate: Estimate = getattr(found, key)
                assert estimate.is_measured == (key in chosen)
                if key in chosen:
                    assert (estimate.value, estimate.sd) == (true[key], 0.0)
                else:
                    assert 0.0 < estimate.sd <= getattr(fewer, key).sd + 1e-9


def test_girths_that_fit_each_other_leave_the_rest_where_it_was() -> None:
    """Measuring exactly what was expected changes no estimate."""
    expected = estimate_finger("ring", {}, WRIST)
    for key in GIRTHS:
        found = estimate_finger("ring", {key: getattr(expected, key).value}, WRIST)
        for other in GIRTHS:
            assert getattr(found, other).value == pytest.approx(getattr(expected, other).value)


def test_girths_of_simulated_fingers_lie_in_their_68_percent_intervals() -> None:
    norm = girth_norm("middle", 0.412 * 176.0, 3.5)
    people = np.random.default_rng(3).multivariate_normal(norm.mean, norm.covariance, 600)
    hits = []
    for girths in people:
        true = dict(zip(norm.keys, girths, strict=True))
        given = {key: true[key] for key in ("middle_girth_mm", "dip_girth_mm")}
        found = estimate_finger("middle", given, WRIST)
        rest = [key for key in norm.keys if key not in given]
        hits.append([abs(getattr(found, key).value - true[key]) <= getattr(found, key).sd for key in rest])
    np.testing.assert_allclose(100 * np.mean(hits, axis=0), 68.3, atol=6.0)


# --- words ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("finger", FINGERS)
def test_every_estimate_names_itself_and_its_source(finger: str) -> None:
    for hand in (MAN, WRIST, estimate_hand({}, None), estimate_hand({"age_years": 6.0}, None)):
        for given in ({}, {"pip_girth_mm": 60.0}, palmar(finger)):
            for name, each in vars(estimate_finger(finger, given, hand)).items():
                assert each.value > 0.0, name
                assert len(each.source) > 3
                assert each.method.said("en").startswith("measured" if each.is_measured else "estimated")
                assert each.sd > 0.0 or each.method.key == "estimates.method.measured"
                assert "_" not in each.method.said("en")


def test_estimated_lists_what_nobody_measured() -> None:
    measures = estimate_finger("index", {"pip_girth_mm": 60.0, **palmar("index")}, MAN)
    measured = {"pip_girth_mm", "proximal_mm", "middle_mm", "distal_mm"}
    assert set(measures.estimated()) == set(vars(measures)) - measured


# --- children ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("hand_length", "middle_finger"), [(118.0, 50.0), (144.0, 62.0), (166.5, 71.0)])
def test_childrens_fingers_are_as_long_as_published(hand_length: float, middle_finger: float) -> None:
    """DINED Kima 1993: middle finger 50 at 4, 62 at 8, 71 at 12 years (their means and spreads, second-hand)."""
    hand = estimate_hand({"hand_length_mm": hand_length, "age_years": 9.0}, None)
    measures = estimate_finger("middle", {}, hand)
    total = sum(lengths(measures)) - measures.web_station_mm.value
    assert total == pytest.approx(middle_finger, abs=4.0)


@pytest.mark.parametrize("finger", FINGERS)
@pytest.mark.parametrize(
    "given",
    [{"age_years": 2.0}, {"age_years": 4.0}, {"hand_length_mm": 118.0}, {"hand_length_mm": 145.0}, {"hand_length_mm": 239.0}],
    ids=str,
)  # fmt: skip
def test_a_finger_can_be_made_for_everybody(finger: str, given: dict[str, float]) -> None:
    """From a small child to the largest hand of 6,068 adults (ANSUR II 2012)."""
    measures = estimate_finger(finger, {}, estimate_hand(given, None))
    girths = [
        getattr(measures, f"{place}_girth_mm").value for place in ("web", "pip", "middle", "dip", "nail_fold")
    ]
    assert girths == sorted(girths, reverse=True)
    assert build_finger(finger, measures).proximal_mm == pytest.approx(measures.proximal_mm.value)


def test_a_childs_finger_grows_with_the_hand() -> None:
    grown = []
    for age in (2.0, 4.0, 6.0, 9.0, 12.0, 15.0, 17.0):
        measures = estimate_finger("index", {}, estimate_hand({"age_years": age}, "woman"))
        grown.append([each.value for each in vars(measures).values()])
    assert (np.diff(grown, axis=0) > 0.0).all()

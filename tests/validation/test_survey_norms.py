"""Estimates against the published survey: Gordon et al., 2012 Anthropometric Survey of U.S. Army Personnel, NATICK/TR-15/007.

Means, percentiles, regressions, correlations and the six subjects are computed from its public
rows; children are DINED Kima 1993.
"""

from itertools import combinations
from statistics import NormalDist

import numpy as np
import pytest

from print3d.inputs.measured import Measured
from print3d.limb.estimates import estimate_hand, hand_norm
from print3d.limb.fellows import measurement_warnings
from print3d.limb.norms import (
    SEXES,
    Norm,
    adult_norm,
    is_unusual,
    mixture,
    norm_of,
    percentile,
    table,
    usual_range_mm,
)
from tests.validation.survey_tables import (
    CORRELATIONS,
    COUNTS,
    HB,
    HC,
    HL,
    KEYS,
    LEVELS,
    PUBLISHED,
    REGRESSIONS,
    STATURE,
    SUBJECTS,
    WC,
)


def norm(sex: str) -> Norm:
    """The norm of a sex, or of the survey's people as they were counted."""
    if sex != "pooled":
        return adult_norm(sex)
    counts = np.array([COUNTS[each] for each in SEXES], dtype=float)
    return mixture([adult_norm(each) for each in SEXES], counts / counts.sum())


def person(subject: str) -> tuple[str, dict[str, float]]:
    sex, *values = SUBJECTS[subject]
    return sex, dict(zip(KEYS, map(float, values), strict=True))


# --- the tables ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("sex", "key"), PUBLISHED)
def test_means_and_spreads_are_the_published_ones(sex: str, key: str) -> None:
    mean, sd, *_ = PUBLISHED[sex, key]
    at = adult_norm(sex).keys.index(key)
    assert adult_norm(sex).mean[at] == pytest.approx(mean, abs=1e-9)
    assert adult_norm(sex).sd[at] == pytest.approx(sd, abs=1e-9)


@pytest.mark.parametrize("sex", SEXES)
def test_correlations_are_the_published_ones_and_hang_together(sex: str) -> None:
    spread = adult_norm(sex)
    correlation = spread.covariance / np.outer(spread.sd, spread.sd)
    np.testing.assert_allclose(correlation[:8, :8], CORRELATIONS[sex], atol=5.5e-4)
    np.testing.assert_array_equal(correlation, correlation.T)
    np.testing.assert_allclose(np.diag(correlation), 1.0, atol=1e-12)
    assert np.linalg.eigvalsh(correlation).min() > 0.0
    # hand length from stature, R2 0.453 and 0.418
    assert correlation[0, 8] ** 2 == pytest.approx({"man": 0.453, "woman": 0.418}[sex], abs=6e-4)


@pytest.mark.parametrize(("sex", "key"), PUBLISHED)
def test_percentiles_are_the_published_ones(sex: str, key: str) -> None:
    values = PUBLISHED[sex, key][2:9]
    found = [percentile(key, value, sex) for value in values]
    np.testing.assert_allclose(found, LEVELS, atol=0.2, rtol=0.02)


@pytest.mark.parametrize(("sex", "key"), PUBLISHED)
def test_percentiles_rise_with_the_value_and_stay_near_the_normal(sex: str, key: str) -> None:
    """The columns are close to normal, but for the readings in whole mm and some skewness."""
    mean, sd = PUBLISHED[sex, key][:2]
    values = np.linspace(mean - 6 * sd, mean + 6 * sd, 400)
    found = np.array([percentile(key, value, sex) for value in values])
    assert (np.diff(found) >= 0).all()
    assert 0 <= found[0] < 0.01
    assert 99.99 < found[-1] <= 100
    normal = [100 * NormalDist(mean, sd).cdf(value) for value in values]
    half_a_mm = 0.5 * 100 * 0.4 / sd  # times the density in the middle
    assert np.abs(found - normal).max() < 2.5 + half_a_mm


@pytest.mark.parametrize(("sex", "key"), PUBLISHED)
def test_unusual_is_rarer_than_one_in_a_thousand(sex: str, key: str) -> None:
    mean, _, *_, lowest, highest = PUBLISHED[sex, key]
    low, high = usual_range_mm(key, sex)
    assert lowest <= low < mean < high <= highest
    assert percentile(key, low, sex) == pytest.approx(0.1, abs=1e-9)
    assert percentile(key, high, sex) == pytest.approx(99.9, abs=1e-9)
    assert is_unusual(key, lowest - 1, sex)
    assert is_unusual(key, highest + 1, sex)
    assert not is_unusual(key, mean, sex)


def test_where_the_sex_is_not_told_a_man_and_a_woman_are_both_usual() -> None:
    for key in KEYS:
        (woman_low, woman_high), (man_low, man_high) = (usual_range_mm(key, sex) for sex in SEXES)
        assert usual_range_mm(key, None) == (min(woman_low, man_low), max(woman_high, man_high))
    assert is_unusual(HB, 68, "man")
    assert not is_unusual(HB, 68, None)
    assert percentile(HB, 80, None) == pytest.approx(
        (percentile(HB, 80, "man") + percentile(HB, 80, "woman")) / 2
    )


# --- estimates ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("target", "predictors", "sex", "intercept", "slopes", "residual_sd"), REGRESSIONS)
def test_conditional_normal_gives_the_published_regressions(
    target: str, predictors: list[str], sex: str, intercept: float, slopes: list[float], residual_sd: float
) -> None:
    """Within the rounding of the table: 0.00005 of each slope, and of the correlations behind ours."""
    people = norm(sex)
    at = people.places(predictors)
    for shift in (-2.0, 0.0, 2.0):
        given = dict(zip(predictors, people.mean[at] + shift * people.sd[at], strict=True))
        published = intercept + float(np.dot(slopes, [*given.values()]))
        found = people.conditional(given)
        place = people.keys.index(target)
        assert found.mean[place] == pytest.approx(published, abs=0.0006 * published)
        assert found.sd[place] == pytest.approx(residual_sd, abs=0.006 + 0.001 * residual_sd)
        if sex != "pooled":
            estimate = estimate_hand(given, sex)[target]
            assert (estimate.value, estimate.sd) == pytest.approx((found.mean[place], found.sd[place]))
            assert not estimate.is_measured


@pytest.mark.parametrize(
    ("sex", "mean", "sd", "intercept", "slope", "residual_sd"),
    [("man", 76.82, 6.27, -20.2275, 0.5021, 3.78), ("woman", 72.39, 6.02, -18.9819, 0.5046, 3.24)],
)
def test_middle_finger_length_comes_from_the_covariance(
    sex: str, mean: float, sd: float, intercept: float, slope: float, residual_sd: float
) -> None:
    """Hand length less palm length, whose SD needs the covariance of the two."""

    def finger(people: Norm) -> tuple[float, float]:
        step = np.array([1.0, -1.0, 0, 0, 0, 0, 0, 0, 0])
        return float(step @ people.mean), float(np.sqrt(step @ people.covariance @ step))

    assert finger(hand_norm({}, sex)) == pytest.approx((mean, sd), abs=0.011)
    given_length = finger(hand_norm({HL: 190.0}, sex))
    assert given_length == pytest.approx((intercept + slope * 190.0, residual_sd), abs=0.02)


def test_the_worked_check_of_subject_10027() -> None:
    wrist = estimate_hand({HL: 193.0, HC: 214.0}, "man")[WC]
    assert wrist.value == pytest.approx(176.92, abs=0.02)
    assert 175.0 - wrist.value == pytest.approx(-1.92, abs=0.02)
    assert (175.0 - wrist.value) / wrist.sd == pytest.approx(-0.34, abs=0.005)
    assert wrist.method.said("en") == "estimated from hand length and hand girth (man)"


def derived(sex: str, predictors: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Of the published means, SDs and correlations: all means (8,), slopes (8, n) on the predictors, and residual SDs (8,).

    Conditional normal: slopes S12 S22^-1, residual covariance S11 - S12 S22^-1 S21 (Anderson, An Introduction to Multivariate
    Statistical Analysis).
    """
    mean, sd = np.array([PUBLISHED[sex, key][:2] for key in KEYS[:8]]).T
    covariance = np.array(CORRELATIONS[sex]) * np.outer(sd, sd)
    at = [KEYS.index(key) for key in predictors]
    slopes = covariance[:, at] @ np.linalg.inv(covariance[np.ix_(at, at)])
    residual = covariance - slopes @ covariance[at]
    return mean, slopes, np.sqrt(np.maximum(np.diag(residual), 0.0))


MEASURED_SETS = [(HL,), (HB,), (HL, HB), (HL, HC), (HL, WC), (HL, HB, HC, WC)]


@pytest.mark.parametrize("predictors", MEASURED_SETS, ids=str)
@pytest.mark.parametrize("subject", SUBJECTS)
def test_the_six_subjects_get_the_conditional_estimate_of_the_published_tables(
    subject: str, predictors: tuple[str, ...]
) -> None:
    """Correlations are published to three digits: that is a few tenths of a millimetre where hand girth and breadth go together."""
    sex, measured = person(subject)
    mean, slopes, sd = derived(sex, predictors)
    off = np.array([measured[key] - PUBLISHED[sex, key][0] for key in predictors])
    found = estimate_hand({key: measured[key] for key in predictors}, sex)
    for at, key in enumerate(KEYS[:8]):
        if key not in predictors:
            assert found[key].value == pytest.approx(mean[at] + slopes[at] @ off, abs=0.02 * sd[at] + 0.02)
            assert found[key].sd == pytest.approx(sd[at], rel=0.01)


@pytest.mark.parametrize("subject", SUBJECTS)
def test_the_six_subjects_lie_where_their_estimates_say(subject: str) -> None:
    sex, measured = person(subject)
    for target in KEYS:
        given = {key: value for key, value in measured.items() if key != target}
        estimate = estimate_hand(given, sex)[target]
        assert abs(measured[target] - estimate.value) < 3.5 * estimate.sd


def test_the_six_subjects_scatter_as_widely_as_told() -> None:
    """Root mean square of their 54 residuals in SD, each dimension left out in turn; 1 is expected."""
    residuals = []
    for subject in SUBJECTS:
        sex, measured = person(subject)
        for target in KEYS:
            estimate = estimate_hand({key: measured[key] for key in KEYS if key != target}, sex)[target]
            residuals.append((measured[target] - estimate.value) / estimate.sd)
    assert 0.7 < np.sqrt(np.mean(np.square(residuals))) < 1.4


@pytest.mark.parametrize("subject", SUBJECTS)
def test_real_people_are_not_asked_to_measure_again(subject: str) -> None:
    """With every number of the survey that a case takes; it has no use for the elbow."""
    sex, everything = person(subject)
    measured = {key: value for key, value in everything.items() if key in Measured.model_fields}
    assert everything.keys() - measured.keys() == {"elbow_to_fingertip_mm"}
    assert measurement_warnings(Measured(sex=sex, **measured)) == []
    assert measurement_warnings(Measured(**measured)) == []


@pytest.mark.parametrize("sex", [*SEXES, None])
def test_a_measured_number_stays_as_it_is_and_more_of_them_never_widen_the_rest(sex: str | None) -> None:
    _, measured = person("10038")
    for count in range(4):
        for few in combinations((HL, HB, WC), count):
            hand = estimate_hand({key: measured[key] for key in few}, sex)
            for key in KEYS:
                assert hand[key].is_measured == (key in few)
                if key in few:
                    assert (hand[key].value, hand[key].sd) == (measured[key], 0.0)
                elif sex is not None:
                    rest = (estimate_hand({each: measured[each] for each in few[1:]}, sex))[key]
                    assert hand[key].sd <= rest.sd + 1e-9


def test_nothing_measured_gives_the_mean_of_the_survey() -> None:
    for sex in SEXES:
        hand = estimate_hand({}, sex)
        for key in KEYS:
            mean, sd, *_ = PUBLISHED[sex, key]
            assert (hand[key].value, hand[key].sd) == pytest.approx((mean, sd))


def test_sex_not_told_adds_the_spread_between_women_and_men() -> None:
    """Variance of a mixture of equal parts: mean of the variances plus the square of half the difference."""
    hand = estimate_hand({}, None)
    for key in KEYS:
        (woman, woman_sd), (man, man_sd) = (PUBLISHED[sex, key][:2] for sex in SEXES)
        assert hand[key].value == pytest.approx((woman + man) / 2)
        assert hand[key].sd ** 2 == pytest.approx((woman_sd**2 + man_sd**2) / 2 + ((man - woman) / 2) ** 2)


@pytest.mark.parametrize("breadth", [76.0, 82.0, 83.0, 88.0])
def test_sexes_are_weighed_by_how_likely_they_make_the_measurement(breadth: float) -> None:
    """One hand breadth: Bayes' rule with the published means and SDs, women and men equally many."""
    likely = [NormalDist(*PUBLISHED[sex, HB][:2]).pdf(breadth) for sex in SEXES]
    each = [estimate_hand({HB: breadth}, sex)[WC] for sex in SEXES]
    weights = np.array(likely) / sum(likely)
    mean = float(weights @ [one.value for one in each])
    variance = float(weights @ [one.sd**2 + (one.value - mean) ** 2 for one in each])
    found = estimate_hand({HB: breadth}, None)[WC]
    assert (found.value, found.sd) == pytest.approx((mean, np.sqrt(variance)))


def test_sex_not_told_is_read_from_the_measurements() -> None:
    _, large = person("10033")
    _, small = person("10037")
    for measured, sex in ((large, "man"), (small, "woman")):
        given = {key: measured[key] for key in (HL, HB, HC, STATURE)}
        found, told = estimate_hand(given, None)[WC], estimate_hand(given, sex)[WC]
        assert found.value == pytest.approx(told.value, abs=1.0)
        assert found.sd == pytest.approx(told.sd, rel=0.25)


@pytest.mark.parametrize("sex", SEXES)
def test_68_percent_intervals_and_covariances_hold_on_simulated_people(sex: str) -> None:
    people = np.random.default_rng(11).multivariate_normal(
        adult_norm(sex).mean, adult_norm(sex).covariance, 1200
    )
    hits, distances = [], []
    for values in people:
        given = dict(zip((HL, HC), values[[0, 3]], strict=True))
        found = hand_norm(given, sex)
        rest = [at for at, key in enumerate(KEYS) if key not in given]
        surprise = values[rest] - found.mean[rest]
        hits.append(np.abs(surprise) <= found.sd[rest])
        distances.append(surprise @ np.linalg.solve(found.covariance[np.ix_(rest, rest)], surprise))
    np.testing.assert_allclose(100 * np.mean(hits, axis=0), 68.3, atol=4.0)
    assert np.mean(distances) == pytest.approx(len(rest), rel=0.05)


# --- children: DINED Kima 1993 ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("age", "length", "breadth", "sexes"),
    [(4, 118, 55, ("woman",)), (8, 143, 65, ("woman",)), (8, 145, 66, ("man",)), (12, 166, 72, ("woman",)), (12, 167, 74, ("man",))],
)  # fmt: skip
def test_children_have_the_published_hands(
    age: float, length: float, breadth: float, sexes: tuple[str, ...]
) -> None:
    by_age = estimate_hand({"age_years": age}, sexes[0])
    assert by_age[HL].value == pytest.approx(length, abs=1.0)
    assert 6.0 < by_age[HL].sd < 11.0  # published 7 to 11
    by_length = estimate_hand({"age_years": age, HL: float(length)}, sexes[0])
    assert by_length[HB].value == pytest.approx(breadth, abs=1.0)
    assert "child" in by_length[HB].method.said("en")
    assert "DINED" in by_length[HB].source


@pytest.mark.parametrize("sex", SEXES)
def test_a_child_of_adult_size_is_estimated_as_an_adult(sex: str) -> None:
    length = float(adult_norm(sex).mean[0])
    child, adult = (estimate_hand({"age_years": age, HL: length}, sex) for age in (16.0, 17.0))
    for key in KEYS:
        assert child[key].value == pytest.approx(adult[key].value)


@pytest.mark.parametrize("sex", SEXES)
def test_everything_grows_with_a_childs_hand(sex: str) -> None:
    lengths = np.arange(90.0, 181.0, 7.0)
    hands = np.array([norm_of({"age_years": 9.0, HL: length}, sex).mean for length in lengths])
    assert (np.diff(hands, axis=0) > 0).all()
    np.testing.assert_allclose(hands[:, 0], lengths)


def test_age_decides_who_is_a_child_and_hand_length_where_age_is_not_told() -> None:
    assert "child" in estimate_hand({HL: 140.0}, "woman")[HB].method.said("en")
    assert "child" not in estimate_hand({HL: 140.0, "age_years": 40.0}, "woman")[HB].method.said("en")
    assert "child" in estimate_hand({HL: 170.0, "age_years": 12.0}, "woman")[HB].method.said("en")


# --- the data files -----------------------------------------------------------------------------------------


def marks_of(group: dict[str, object], where: str) -> list[str]:
    """The marks of a table: one, one for each finger, or one for each row of its lists."""
    mark = group["mark"]
    if isinstance(mark, dict):
        assert all(set(each) == set(mark) for each in group.values() if isinstance(each, dict) and "mark" not in each
                   and set(each) & set(mark)), where  # fmt: skip
        return [*mark.values()]
    if isinstance(mark, list):
        assert all(len(each) == len(mark) for each in group.values() if isinstance(each, list)), where
        return mark
    return [str(mark)]


def test_guesses_are_not_called_read() -> None:
    """Girths of ring and little finger were found nowhere; the children of 4 years were girls."""
    for name in ("pip_girth", "dip_girth"):
        mark = table("fingers")[name]["mark"]
        assert mark["ring"] == mark["little"] == "memory"
        assert mark["index"] == mark["middle"] == "computed"
    children = table("children")
    assert children["people"][0] == "girls"
    assert children["mark"][0] == "seen, 2nd-hand"
    assert table("forearm")["wrist"]["adult"]["mark"] == "computed"


@pytest.mark.parametrize("name", ["survey", "children", "fingers", "forearm"])
def test_every_published_number_has_a_source_and_a_mark(name: str) -> None:
    def walk(group: dict[str, object], is_sourced: bool, where: str) -> None:
        if "source" in group or "mark" in group:
            for mark in marks_of(group, where):
                assert mark in ("seen", "seen, 2nd-hand", "computed", "memory"), where
            assert len(str(group["source"])) > 8, where
            is_sourced = True
        for key, value in group.items():
            if isinstance(value, dict):
                walk(value, is_sourced, f"{where}.{key}")
            elif key not in ("source", "mark"):
                assert is_sourced, f"{where}.{key} has no source"

    walk(dict(table(name)), False, name)

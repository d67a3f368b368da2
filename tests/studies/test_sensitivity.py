"""How surely an orthosis fits: what is drawn, how it is put on, what is measured, and what follows from it."""

import csv
import io
import json
import os
import signal
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from scipy.stats import norm

from print3d import flow
from print3d.checks.finding import Limit
from print3d.checks.gap import check_gap
from print3d.checks.joints import check_joints
from print3d.checks.limits import CheckLimits, limits_of_case, loosest_of
from print3d.checks.motion import check_motion
from print3d.checks.stops import check_stops
from print3d.errors import InputError
from print3d.forms.limb_of_case import finger_of_case
from print3d.forms.orthosis import Orthosis, Part
from print3d.geometry.nearest import Surface
from print3d.inputs.case import Case
from print3d.kinds.registry import KINDS
from print3d.language.message import as_it_stands
from print3d.limb import finger as finger_module
from print3d.limb import finger_sections
from print3d.limb.estimates import estimate_hand, girths_from_hand
from print3d.limb.finger import FingerLimb, FingerPose
from print3d.limb.uncertainty import FingerUnknowns, Source, Spreads, spreads_of_case, unknowns_of_case
from print3d.limb.unrolled import UnrolledJoint
from print3d.mechanics.placement import FACET_MM, place_on_finger, printed, with_larger_facets
from print3d.output.studies.sensitivity_files import (
    clearances_csv,
    draws_csv,
    files_of,
    findings_csv,
    verdict,
)
from print3d.shell.curves import edge
from print3d.shell.definition import ShellDefinition
from print3d.shell.drape import Extent, drape
from print3d.shell.mesh import FaceKind, build_mesh
from print3d.shell.pattern import Pattern
from print3d.studies import sensitivity as study_module
from print3d.studies.fit import as_fit, goes_on, measure_fit
from print3d.studies.run import Run
from print3d.studies.sensitivity import StudyPlan, probability, study, usual_clearances_mm, variance_shares
from print3d.studies.store import Store
from print3d.workers import Workers

CASES = Path(__file__).parents[2] / "params" / "cases"
TWO = Workers(n_workers=2)
STRAIGHT = FingerPose()


def case_of(name: str) -> Case:
    return flow.read(CASES / f"{name}.toml")


def built(case: Case) -> tuple[Orthosis, FingerLimb]:
    orthosis = KINDS[case.orthosis.kind].build(case)
    assert isinstance(orthosis.limb, FingerLimb)
    return orthosis, orthosis.limb


def unknowns_of(name: str) -> FingerUnknowns:
    case = case_of(name)
    return unknowns_of_case(case, spreads_of_case(case))


def one_off(unknowns: FingerUnknowns, key: str, by_mm: float) -> Any:
    """A draw in which only one number is off."""
    return np.array([by_mm if source.key == key else 0.0 for source in unknowns.sources])


# what is drawn ------------------------------------------------------------------------------------------------


def test_a_draw_without_deviations_is_the_finger_of_the_case() -> None:
    for name in ("mallet", "figure_of_eight", "mallet_little_small_woman"):
        unknowns, finger = unknowns_of(name), finger_of_case(case_of(name))
        true = unknowns.true_finger(np.zeros(len(unknowns.sources)), STRAIGHT)
        assert true.landmarks == pytest.approx(finger.landmarks, abs=1e-9)
        np.testing.assert_allclose(true.half_breadths_mm, finger.half_breadths_mm, rtol=1e-12)


def test_draws_have_the_stated_spreads_and_what_goes_together_goes_together() -> None:
    """Unmeasured girths against the conditional normal distribution (any text on multivariate statistics)."""
    data = json.loads(flow_text("figure_of_eight"))
    data["measured"]["index"] = {"pip_girth_mm": 59.0}
    case = study_module.case_from_data(
        data, {name: kind.options for name, kind in KINDS.items()}, Path("x.toml")
    )
    unknowns = unknowns_of_case(case, spreads_of_case(case, tape_mm=0.7))
    keys = [source.key for source in unknowns.sources]
    draws = unknowns.draw(4096, seed=3)
    np.testing.assert_allclose(draws.std(axis=0), [source.sd_mm for source in unknowns.sources], rtol=0.01)
    assert unknowns.sources[keys.index("pip_girth_mm")] == Source("pip_girth_mm", "tape", 0.7)
    hand = estimate_hand(case.measured.hand_measures(), case.measured.sex)
    conditional = girths_from_hand("index", hand).conditional({"pip_girth_mm": 59.0})
    pair = [keys.index("dip_girth_mm"), keys.index("nail_fold_girth_mm")]
    places = conditional.places(["dip_girth_mm", "nail_fold_girth_mm"])
    expected = conditional.covariance[np.ix_(places, places)]
    np.testing.assert_allclose(np.cov(draws[:, pair].T), expected, rtol=0.03)
    assert expected[0, 1] > 0.5 * expected[0, 0]  # they do go together
    tape = np.corrcoef(draws[:, [keys.index("pip_girth_mm"), pair[0]]].T)[0, 1]
    assert abs(tape) < 0.03


def flow_text(name: str) -> str:
    from print3d.inputs.case import canonical_text

    return canonical_text(case_of(name))


def test_draws_are_seeded_and_a_longer_study_begins_with_a_shorter_one() -> None:
    unknowns = unknowns_of("mallet")
    np.testing.assert_array_equal(unknowns.draw(64, 5)[:20], unknowns.draw(20, 5))
    assert np.abs(unknowns.draw(20, 5) - unknowns.draw(20, 6)).max() > 0.1


def test_each_number_moves_what_it_should() -> None:
    unknowns, finger = unknowns_of("mallet"), finger_of_case(case_of("mallet"))

    def true(key: str, by_mm: float) -> FingerLimb:
        return unknowns.true_finger(one_off(unknowns, key, by_mm), STRAIGHT)

    at_pip = np.array([finger.landmarks["pip"]])
    assert true("pip_girth_mm", 2.0).girth_mm(at_pip) == pytest.approx(
        finger.girth_mm(at_pip) + 2.0, abs=1e-6
    )
    swollen = true("swelling", 2.0)
    np.testing.assert_allclose(
        swollen.half_depths_mm / finger.half_depths_mm, 1.0 + 2.0 / finger.girth_mm(at_pip)[0], rtol=1e-6
    )
    longer = true("pip_crease_to_dip_crease_mm", 1.5)
    assert longer.middle_mm > finger.middle_mm + 1.4
    for joint, segment in (("pip", "proximal_mm"), ("dip", "middle_mm")):
        moved = true(joint, 1.0)  # the centre lies further distally, the crease where it was
        assert getattr(moved, segment) == pytest.approx(getattr(finger, segment) + 1.0, abs=1e-9)
        assert moved.landmarks[f"{joint}_crease"] == pytest.approx(
            finger.landmarks[f"{joint}_crease"], abs=1e-9
        )
    moved = true("mcp", 1.0)  # the proximal end of it: the segment is shorter, and its web nearer
    assert moved.proximal_mm == pytest.approx(finger.proximal_mm - 1.0, abs=1e-9)
    assert moved.landmarks["web"] == pytest.approx(finger.landmarks["web"] - 1.0, abs=1e-9)
    assert unknowns.print_offset_mm(one_off(unknowns, "print", -0.3)) == -0.15


# putting on ---------------------------------------------------------------------------------------------------


def test_on_its_own_finger_an_orthosis_stays_where_it_is() -> None:
    orthosis, limb = built(case_of("mallet"))
    placed = place_on_finger(orthosis, limb, limb)
    moved = placed.orthosis.parts[0].shell.mesh.vertices - orthosis.parts[0].shell.mesh.vertices
    assert np.linalg.norm(moved, axis=1).max() < 0.03


def test_it_is_put_on_at_the_crease_and_a_shifted_one_finds_back() -> None:
    orthosis, limb = built(case_of("pip_extension"))
    unknowns = unknowns_of("pip_extension")
    longer = unknowns.true_finger(one_off(unknowns, "web_crease_to_pip_crease_mm", 2.0), limb.pose)
    placed = place_on_finger(orthosis, limb, longer)
    shift = (placed.orthosis.parts[0].shell.mesh.vertices - orthosis.parts[0].shell.mesh.vertices).mean(
        axis=0
    )
    assert shift[0] == pytest.approx(longer.landmarks["pip_crease"] - limb.landmarks["pip_crease"], abs=0.05)
    lifted = replace(orthosis, parts=tuple(raised(part, 0.4) for part in orthosis.parts))
    back = place_on_finger(lifted, limb, limb).gaps_mm[0] - place_on_finger(orthosis, limb, limb).gaps_mm[0]
    assert np.abs(back).max() < 0.002


def raised(part: Part, by_mm: float) -> Part:
    mesh = replace(part.shell.mesh, vertices=part.shell.mesh.vertices + [0.0, 0.0, by_mm])
    return replace(part, shell=replace(part.shell, mesh=mesh))


def test_a_print_that_is_too_fat_takes_from_the_gap_what_its_surface_gains() -> None:
    """A ring cannot give way as an open shell can."""
    orthosis, limb = built(case_of("figure_of_eight"))
    planned, fat = (
        place_on_finger(each, limb, limb).gaps_mm[0] for each in (orthosis, printed(orthosis, 0.2))
    )
    assert np.median(planned - fat) == pytest.approx(0.2, abs=0.01)
    assert printed(orthosis, 0.0) is orthosis


def test_larger_facets_lie_as_near_to_the_shell_and_keep_its_plan() -> None:
    orthosis, limb = built(case_of("mallet"))
    (fine,), (coarse,) = orthosis.parts, with_larger_facets(orthosis).parts
    assert len(coarse.shell.mesh.faces) < 0.7 * len(fine.shell.mesh.faces)
    middles = coarse.shell.mesh.corners().mean(axis=1)
    plain = coarse.shell.face_kind != FaceKind.MARK
    off = np.abs(Surface(fine.shell.mesh).signed(middles[plain]))
    assert off.max() < FACET_MM + 0.006
    kept = [
        place_on_finger(each, limb, limb).gaps_mm[0] - each.parts[0].planned_gap_mm
        for each in (orthosis, with_larger_facets(orthosis))
    ]
    assert [each.mean() for each in kept] == pytest.approx([0.0, 0.0], abs=0.005)
    assert kept[1].std() == pytest.approx(kept[0].std(), abs=0.005)


# measuring ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["mallet", "figure_of_eight"])
def test_the_fit_agrees_with_the_full_checks_on_fingers_it_was_not_built_for(name: str) -> None:
    """Fine meshes, every angle, small steps: 0.03 mm, 0.35 degrees and a percent, and the same verdict away from the limit."""
    case = case_of(name)
    (orthosis, limb), unknowns, limits = built(case), unknowns_of(name), limits_of_case(case)
    for deviation in unknowns.draw(4, seed=11)[1:2]:
        finger = unknowns.true_finger(deviation, limb.pose)
        coarse = with_larger_facets(orthosis)
        fast = measure_fit(coarse, limb, finger, limits, loosest_of(0.5, None))
        worn = place_on_finger(orthosis, limb, finger).orthosis
        exact = [*check_gap(worn, limits)[:1], *check_joints(worn, limits), *check_stops(worn, limits)]
        exact_fits = {each.what: each for each in (*map(as_fit, exact), *goes_on(worn, limits))}
        fast_gap = next(each for each in fast if each.what.key == "studies.fit.part.presses_nowhere")
        assert fast_gap.measured == pytest.approx(check_gap(worn, limits)[0].measured, abs=0.03)
        common = [(each, exact_fits[each.what]) for each in fast if each.what in exact_fits]
        assert len(common) >= 3
        for each, other in common:
            assert each.measured == pytest.approx(
                other.measured, abs=0.35 if each.unit == "deg" else 0.03, rel=0.01
            )
        free = [each.holds for each in fast if each.what.key == "studies.fit.free"]
        assert free == [each.holds for each in check_motion(worn, limits)]


# the closed form ----------------------------------------------------------------------------------------------

GIRTH_MM, CLEARANCE_MM, SQUEEZE_MM = 60.0, 0.05, 0.1
LENGTHS = {"web_station_mm": 25.0, "proximal_mm": 48.0, "middle_mm": 26.0, "distal_mm": 24.0}


@pytest.fixture
def round_finger(monkeypatch: pytest.MonkeyPatch) -> FingerUnknowns:
    """A finger whose sections are circles of 60 mm girth from the web to the DIP; nothing is known to be off."""
    for module in (finger_module, finger_sections):
        monkeypatch.setattr(module, "SECTION_EXPONENT", 2.0)
        monkeypatch.setattr(module, "DEPTH_RATIO", dict.fromkeys(finger_module.DEPTH_RATIO, 1.0))
    girths = ("web", "proximal", "pip", "middle", "dip", "nail_fold")
    given = {f"{place}_girth_mm": GIRTH_MM for place in girths}
    given |= {
        "web_crease_to_pip_crease_mm": 23.0,
        "pip_crease_to_dip_crease_mm": 21.0,
        "dip_crease_to_tip_mm": 24.0,
    }
    hand = estimate_hand({"hand_length_mm": 180.0}, "woman")
    return FingerUnknowns("index", given, hand, (), np.eye(0))


def round_ring(limb: FingerLimb) -> Orthosis:
    """A plain ring around the PIP, 6 mm wide, at an even clearance."""
    skin = UnrolledJoint(limb, 0.0, 12.0)
    girth, middle = skin.reference_girth_mm, skin.along(limb.landmarks["pip"], 0.0)
    extent = Extent(
        (middle - 4.0, middle + 4.0),
        (-girth / 2, girth / 2),
        shapely.box(middle - 3, -girth, middle + 3, girth),
        girth,
    )
    inner, outer = drape(
        skin.points, extent, lambda a, _: np.full(len(a), CLEARANCE_MM), lambda a, _: np.full(len(a), 2.0)
    )
    ends = (edge(lambda around: np.full(len(around), middle + 3.0), girth, 0.4, is_distal=True),
            edge(lambda around: np.full(len(around), middle - 3.0), girth, 0.4, is_distal=False))  # fmt: skip
    definition = ShellDefinition(Pattern(ends, (), (), girth), inner, outer, 2.0, 0.9)
    mesh = build_mesh(definition)
    around = np.linspace(-girth / 2, girth / 2, 241)[:-1]
    line = np.column_stack([np.full(240, middle), around])
    planned = np.full(len(mesh.inner_vertices), CLEARANCE_MM)
    part = Part("ring", definition, mesh, planned, mesh.inner_vertices, (line,))
    return Orthosis("figure_of_eight", limb, (part,), "middle", {}, ())


def ring_limits() -> CheckLimits:
    limits = limits_of_case(case_of("figure_of_eight"))
    return replace(limits, donning_compression_mm=Limit(SQUEEZE_MM, as_it_stands("planted")))


def test_the_round_finger_is_round(round_finger: FingerUnknowns) -> None:
    limb = round_finger.true_finger(np.empty(0), STRAIGHT)
    np.testing.assert_allclose(limb.half_breadths_mm, GIRTH_MM / (2.0 * np.pi), rtol=1e-9)
    np.testing.assert_allclose(limb.half_depths_mm, limb.half_breadths_mm, rtol=1e-9)


def share_that_goes_on(unknowns: FingerUnknowns, n_draws: int) -> float:
    """Draw the PIP girth, measure on each finger whether the ring goes on, and return the share."""
    limb, limits = (
        replace(unknowns, sources=(), correlation=np.eye(0)).true_finger(np.empty(0), STRAIGHT),
        ring_limits(),
    )
    orthosis = round_ring(limb)
    holds = []
    for deviation in unknowns.draw(n_draws, seed=4):
        placed = replace(orthosis, limb=unknowns.true_finger(deviation, STRAIGHT))
        holds.append(
            next(
                fit.holds for fit in goes_on(placed, limits) if fit.what.key == "studies.fit.part.ring_girth"
            )
        )
    return probability(np.array(holds)).share


SHARE_THAT_GOES_ON = float(norm.cdf(2.0 * np.pi * (CLEARANCE_MM + SQUEEZE_MM) / 0.8))
"""Closed form: a ring of girth 60 + 2 pi c passes a girth of 60 + e if e is at most 2 pi (c + s), e normal with SD 0.8."""


def with_one_source(unknowns: FingerUnknowns, source: Source) -> FingerUnknowns:
    return replace(unknowns, sources=(source,), correlation=np.eye(1))


@pytest.mark.slow(in_ci=True)
def test_a_ring_on_a_round_finger_goes_on_as_often_as_the_normal_integral_says(
    round_finger: FingerUnknowns,
) -> None:
    off = with_one_source(round_finger, Source("pip_girth_mm", "tape", 0.8))
    assert 0.85 < SHARE_THAT_GOES_ON < 0.9
    assert share_that_goes_on(off, 256) == pytest.approx(SHARE_THAT_GOES_ON, abs=0.01)


@pytest.mark.slow
def test_the_same_at_ten_thousand_draws(round_finger: FingerUnknowns) -> None:
    off = with_one_source(round_finger, Source("pip_girth_mm", "tape", 0.8))
    assert share_that_goes_on(off, 10_000) == pytest.approx(SHARE_THAT_GOES_ON, abs=0.01)


@pytest.mark.slow(in_ci=True)
def test_a_ring_presses_as_often_as_the_normal_integral_says(round_finger: FingerUnknowns) -> None:
    """Closed form: all girths grow by e in 60; the gap is c - e / 2 pi and may be -0.05 mm."""
    off = with_one_source(round_finger, Source("swelling", "swelling", 0.8))
    limb = round_finger.true_finger(np.empty(0), STRAIGHT)
    orthosis, holds = round_ring(limb), []
    for deviation in off.draw(128, seed=2):
        (gaps,) = place_on_finger(orthosis, limb, off.true_finger(deviation, STRAIGHT)).gaps_mm
        holds.append(gaps.min() >= -0.05)
    expected = float(norm.cdf(2.0 * np.pi * (CLEARANCE_MM + 0.05) / 0.8))
    assert np.mean(holds) == pytest.approx(expected, abs=0.01)


# what follows -------------------------------------------------------------------------------------------------


def test_variance_shares_of_a_sum_of_normals() -> None:
    """Closed form: the rank of 0.6 a + 0.8 b has shares 6 / pi asin(rho^2 / 2), as Spearman's 6 / pi asin(rho / 2) (Pearson 1907)."""
    rng = np.random.default_rng(0)
    a, b, idle = rng.standard_normal((3, 20_000))
    shares = variance_shares(np.column_stack([a, b, idle]), 0.6 * a + 0.8 * b)
    expected = [6.0 / np.pi * np.arcsin(rho**2 / 2.0) for rho in (0.6, 0.8, 0.0)]
    np.testing.assert_allclose(shares, expected, atol=0.012)
    curved = variance_shares(
        np.column_stack([a, b]), 10.0 + a**3 + 0.0 * b
    )  # a bent but rising answer is all a's
    assert curved[0] == pytest.approx(1.0, abs=0.02)
    assert variance_shares(np.column_stack([a, b]), np.ones(20_000)).tolist() == [0.0, 0.0]


def test_the_interval_of_a_probability() -> None:
    """Wilson 1927; 81 of 263: 0.2553 to 0.3662 (worked example in Newcombe 1998, Stat Med 17:857, from memory)."""
    found = probability(np.arange(263) < 81)
    assert (found.low, found.high) == (pytest.approx(0.2553, abs=5e-4), pytest.approx(0.3662, abs=5e-4))
    assert probability(np.ones(10, dtype=bool)).high == pytest.approx(1.0)


def small_plan(case: Case, **other: Any) -> StudyPlan:
    asked = {"n_draws": 12, "n_scan": 4, "seed": 7, "clearances_mm": ()} | other
    return StudyPlan(spreads_of_case(case), loosest_of(case.orthosis.clearance_mm, None), **asked)


@pytest.mark.slow(in_ci=True)
def test_a_study_names_what_decides_and_the_clearance(tmp_path: Path) -> None:
    """Planted: only the middle segment's length is uncertain, so that nothing else can decide."""
    case = case_of("mallet")
    spreads = Spreads(girth_mm=0.0, length_mm=2.0, swelling_mm=0.0, print_mm=0.0)
    plan = replace(small_plan(case, n_draws=24, clearances_mm=(0.0, 0.4)), spreads=spreads)
    found = study(case, plan, Run(Store(tmp_path), TWO))
    assert {source.origin for source in found.sources} == {"tape", "not measured", "joint centre"}
    assert found.measure_first[0][0].key == "pip_crease_to_dip_crease_mm"
    assert any("Repeat first: PIP crease to DIP crease" in line for line in verdict(found))
    assert found.best_clearance_mm == 0.4  # at nought every finger presses somewhere or nearly so
    assert found.fit_by_clearance[0.0].share <= found.fit_by_clearance[0.4].share
    files = files_of(found)
    assert {"sensitivity.html", "findings.csv", "clearances.csv", "draws.csv", "sensitivity.json"} <= set(
        files.contents
    )
    rows = list(csv.DictReader(io.StringIO(findings_csv(found))))
    data = json.loads(files.contents["sensitivity.json"])
    assert float(rows[-1]["probability"]) == pytest.approx(data["fit"]["share"])
    assert len(list(csv.reader(io.StringIO(draws_csv(found))))) == 25
    told = list[int]()
    study(case, plan, Run(Store(tmp_path), TWO, lambda done, of: told.append(done)))
    assert told == [32]  # all kept


def test_a_kind_on_several_fingers_is_refused(tmp_path: Path) -> None:
    case = case_of("relative_motion_extension")
    with pytest.raises(InputError, match="for orthoses on one finger"):
        study(case, small_plan(case), Run(Store(tmp_path), TWO))


def test_usual_clearances_lie_around_the_asked_one_and_not_below_nought() -> None:
    assert usual_clearances_mm(0.2) == (0.0, 0.1, 0.2, 0.3, 0.4, 0.55, 0.7)


# on a cluster -------------------------------------------------------------------------------------------------


@pytest.mark.slow(in_ci=True)
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_cluster_that_loses_a_worker_gives_the_same_tables(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(study_module, "DRAWS_A_JOB", 2)
    case = case_of("mallet")
    plan = small_plan(case, n_draws=8, clearances_mm=(0.6,))
    here = study(case, plan, Run(Store(tmp_path / "here"), TWO))
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as cluster:
        lost = list[int]()

        def kill_one(done: int, of: int) -> None:
            if done > 0 and not lost:
                lost.append(next(iter(cluster.workers.values())).process.pid)
                os.kill(lost[0], signal.SIGKILL)

        there = study(
            case, plan, Run(Store(tmp_path / "there"), Workers(cluster.scheduler_address), kill_one)
        )
    assert lost
    for table in (findings_csv, draws_csv, clearances_csv):
        assert table(there) == table(here)


def test_a_scheduler_that_is_not_there_is_one_message(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("print3d.workers.CONNECT_S", 1.0)
    case = case_of("mallet")
    with pytest.raises(InputError, match="no scheduler answers there"):
        study(case, small_plan(case), Run(Store(tmp_path), Workers("tcp://127.0.0.1:9")))

"""Straps lie on the skin from slot to slot, are as long as the girth asks for, and are mirrored with the hand."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from print3d.built import Built, shape_case
from print3d.forms.straps import CUT_STEP_MM, OVERLAP_PER_WIDTH, place_on_finger, strapping_of, straps_of
from print3d.geometry.frames import mirrored
from print3d.geometry.nearest import skin_surface
from print3d.inputs.case import Case
from print3d.language.catalogue import LANGUAGES, text
from print3d.limb.finger import FingerLimb
from tests.conftest import is_closed

MakeCase = Callable[..., Case]
GUTTERS: dict[str, dict[str, Any]] = {
    "PIP, palm side": {"kind": "pip_extension"},
    "PIP, back": {"kind": "pip_extension", "form": "dorsal"},
    "PIP, sleeve": {"kind": "pip_extension", "form": "sleeve"},
    "PIP held at 35": {"kind": "pip_extension", "pip_flexion_deg": 35.0},
    "DIP, palm side": {"kind": "mallet"},
    "DIP, back": {"kind": "mallet", "form": "dorsal"},
    "DIP and PIP block": {"kind": "mallet_with_pip_block"},
    "wrapped": {"kind": "pip_extension", "straps": {"style": "wrap"}},
}


@pytest.fixture(scope="module", params=GUTTERS)
def built(request: pytest.FixtureRequest, make_case: MakeCase) -> Built:
    """A finger orthosis that is strapped on."""
    return shape_case(make_case(GUTTERS[request.param]))


def test_each_pair_of_slots_has_a_strap_cut_to_its_way_over_the_skin(built: Built) -> None:
    """It is as long as the way and two folded ends, to a full step, and its body is as large as width, way and thickness."""
    straps, asked = built.straps, built.case.orthosis.straps
    for strap in straps:
        folds = 1.0 if strap.closure == "wrap" else 2.0
        spare = strap.cut_mm - strap.over_mm - folds * OVERLAP_PER_WIDTH * strap.width_mm
        assert 0.0 <= spare < CUT_STEP_MM
        assert strap.cut_mm % CUT_STEP_MM == 0.0
        assert is_closed(strap.body)
        assert strap.body.volume_mm3() == pytest.approx(
            strap.width_mm * strap.over_mm * asked.thickness_mm, rel=0.25
        )
    if asked.style == "slots":
        assert [(strap.place, strap.width_mm) for strap in straps] == [
            (strap.place, strap.width_mm) for part in built.modelled.parts for strap in part.straps
        ]
    else:
        assert len(straps) == 2


def test_straps_lie_outside_the_skin_and_touch_it(built: Built) -> None:
    """No strap runs through the skin, and each lies on it over much of its way."""
    for strap in straps_of(built.modelled, strapping_of(built.case.orthosis.straps)):
        gap = skin_surface(built.modelled.limb).signed(strap.body.vertices)
        assert gap.min() > -0.6  # its ends run straight beside slots that follow a bend
        assert np.mean(gap < 0.6) > 0.1


def test_strap_and_shell_go_once_around(make_case: MakeCase) -> None:
    """The way over the back and the shell below it are the girth at that place: by a tape on the model, within a tenth."""
    built = shape_case(make_case({"kind": "pip_extension"}))
    limb = built.modelled.limb
    assert isinstance(limb, FingerLimb)
    for strap in built.straps:
        station = float(strap.body.vertices[:, 0].mean())
        girth = float(limb.girth_mm(np.array([station]))[0])
        shell = built.modelled.parts[0].definition.pattern
        slots = [loop.points[:, 1].mean() for loop in shell.rimmed if loop.kind == "slot"]
        below = (max(slots) - min(slots)) * girth / float(limb.girth_mm(np.array([limb.landmarks["pip"]]))[0])
        assert strap.over_mm + below == pytest.approx(girth, rel=0.1)


def test_straps_of_a_left_hand_are_those_of_the_right_mirrored(make_case: MakeCase) -> None:
    """Same lengths, bodies mirrored."""
    head = {"code": "PY-001", "finger": "middle"}
    bare = {"kind": "mallet", "marking": {"style": "none"}}
    right, left = (shape_case(make_case(bare, case={**head, "side": side})) for side in ("right", "left"))
    for one, other in zip(right.straps, left.straps, strict=True):
        assert (one.place, one.cut_mm) == (other.place, other.cut_mm)
        assert np.allclose(mirrored(one.body.vertices), other.body.vertices)
        assert other.body.volume_mm3() == pytest.approx(one.body.volume_mm3())


@pytest.mark.parametrize("kind", ["figure_of_eight", "relative_motion"])
def test_rings_and_bands_have_no_straps(kind: str, make_case: MakeCase) -> None:
    """They hold by their shape."""
    assert not shape_case(make_case({"kind": kind})).straps


@pytest.mark.slow(in_ci=True)
def test_straps_of_a_forearm_cross_the_palm_side(make_case: MakeCase) -> None:
    """Each lies on the palm side of the shell, and the thumb lies beside it, not under it."""
    forearm = {"sex": "man", "hand_length_mm": 193.0, "forearm_length_mm": 268.0}
    built = shape_case(make_case({"kind": "dorsal_blocking"}, measured=forearm))
    assert sorted(strap.place for strap in built.straps) == ["forearm", "palm", "wrist"]
    shells = {part.name: part.shell.mesh.vertices for part in built.modelled.parts}
    for strap in built.straps:
        at = np.median(strap.body.vertices, axis=0)
        shell = shells[strap.part]
        beside = shell[np.abs(shell[:, 0] - at[0]) < strap.width_mm / 2.0]
        assert at[2] < beside[:, 2].mean() - 10.0


def test_every_place_has_words(middle_finger: FingerLimb) -> None:
    """Wherever a strap of a finger may lie, each language names the place."""
    stations = np.linspace(10.0, middle_finger.landmarks["tip"], 200)
    places = {place_on_finger(middle_finger, at, side) for at in stations for side in ("dorsal", "volar")}
    assert len(places) == 10
    for place in places | {"forearm", "wrist", "palm", "fingers"}:
        assert len({text(f"straps.place.{place}", language) for language in LANGUAGES}) == len(LANGUAGES)

"""Nails, creases and knuckles lie on the skin, on their own side of it, and look right from either."""

import numpy as np
import pytest

from print3d.geometry.nearest import skin_surface
from print3d.limb.finger import FingerLimb
from print3d.limb.skin_marks import skin_marks
from print3d.output.paper.hand_drawing import drawn_hand
from print3d.output.paper.limb_views import PALM, marks_in
from tests.conftest import is_closed


@pytest.mark.parametrize("flexion", [0.0, 60.0])
def test_marks_of_a_finger_lie_on_its_skin_also_bent(flexion: float, middle_finger: FingerLimb) -> None:
    limb = middle_finger.posed(pip_flexion_deg=flexion)
    marks = skin_marks(limb)
    assert [mark.sort for mark in marks].count("nail") == 1
    for mark in marks:
        assert is_closed(mark.mesh)
        assert mark.mesh.volume_mm3() > 0.0
        assert np.abs(skin_surface(limb).signed(mark.line)).max() < 0.3
        assert np.allclose(np.linalg.norm(mark.out, axis=1), 1.0)


def test_nail_and_wrinkles_look_dorsally_and_creases_to_the_palm(middle_finger: FingerLimb) -> None:
    marks = skin_marks(middle_finger)
    dorsal = [mark for mark in marks if mark.out[:, 2].mean() > 0.0]
    assert len(dorsal) == 6
    assert {mark.sort for mark in dorsal} == {"nail", "crease"}
    seen = sum(len(line) for line in marks_in(middle_finger, PALM))
    assert seen > 0
    assert seen < sum(len(mark.line) for mark in marks if mark not in dorsal) + 1


def test_a_hand_has_four_nails_knuckles_and_three_palm_creases() -> None:
    marks = skin_marks(drawn_hand())
    assert [mark.sort for mark in marks].count("nail") == 4
    of_hand = [mark for mark in marks if mark.ray is None]
    assert len([mark for mark in of_hand if mark.out[0, 2] > 0.0]) == 8
    assert len([mark for mark in of_hand if mark.out[0, 2] < 0.0]) == 3

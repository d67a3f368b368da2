"""Straps are as wide as the trade's where they fit, and narrower only with the reason said."""

from collections.abc import Callable
from typing import Any

import pytest

from print3d.inputs.case import Case
from print3d.inputs.options import USUAL_FINGER_STRAP_MM
from print3d.kinds.registry import KINDS
from print3d.language.catalogue import LANGUAGES

MakeCase = Callable[..., Case]
STRAPPED: tuple[dict[str, Any], ...] = (
    {"kind": "pip_extension"}, {"kind": "pip_extension", "form": "dorsal"}, {"kind": "pip_extension", "form": "sleeve"},
    {"kind": "mallet"}, {"kind": "mallet", "form": "dorsal"}, {"kind": "mallet", "form": "sleeve"},
    {"kind": "mallet_with_pip_block"}, {"kind": "mallet_with_pip_block", "pieces": "two"},
)  # fmt: skip


LARGE = {"sex": "man", "hand_length_mm": 215.0, "middle": {"pip_girth_mm": 78.0, "dip_girth_mm": 66.0}}


def of_child(make_case: MakeCase, options: dict[str, Any], hand_length_mm: float = 150.0) -> Case:
    """A case of a child's middle finger."""
    measured = {"sex": "woman", "hand_length_mm": hand_length_mm, "middle": {"pip_girth_mm": 50.0}}
    return make_case(options, measured=measured)


def said(case: Case) -> list[str]:
    """The keys of its remarks, each of which every language can say."""
    remarks = KINDS[case.orthosis.kind].remarks(case)
    assert all(remark.said(language) for remark in remarks for language in LANGUAGES)
    return [remark.key for remark in remarks]


@pytest.mark.parametrize("options", STRAPPED, ids=str)
def test_straps_of_a_finger_are_of_the_usual_width_or_it_is_said_why_not(
    options: dict[str, Any], make_case: MakeCase
) -> None:
    """On a man's finger and on a child's."""
    for case in (make_case(options), of_child(make_case, options)):
        narrow = case.orthosis.straps.width_mm < USUAL_FINGER_STRAP_MM
        assert ("straps.remark.no_room" in said(case)) == narrow


def test_a_childs_gutter_is_built_with_the_straps_that_fit(make_case: MakeCase) -> None:
    case = of_child(make_case, {"kind": "pip_extension"})
    assert case.orthosis.straps.width_mm == 10.0
    (part,) = KINDS["pip_extension"].build(case).parts
    assert [strap.width_mm for strap in part.straps] == [10.0, 10.0]


def test_a_man_has_room_for_usual_straps_everywhere_but_on_a_sleeve_over_the_dip(make_case: MakeCase) -> None:
    widths = {str(options): make_case(options).orthosis.straps.width_mm for options in STRAPPED}
    assert [width for width in widths.values() if width < USUAL_FINGER_STRAP_MM] == [10.0]
    assert widths[str(STRAPPED[5])] == 10.0


def test_what_the_file_asks_stays_and_is_remarked(make_case: MakeCase) -> None:
    case = make_case({"kind": "pip_extension", "straps": {"width_mm": 10.0}})
    assert case.orthosis.straps.width_mm == 10.0
    assert "straps.remark.asked" in said(case)
    assert not said(
        make_case({"kind": "pip_extension", "straps": {"width_mm": 16.0}, "straps_at": "beside_pip"})
    )


def test_a_gutter_bares_the_back_of_the_pip_where_it_can(make_case: MakeCase) -> None:
    """Two straps that end 3 mm from its centre; a third by choice; one over it only where two have no room, which is said."""
    for at, places in {
        "beside_pip": ["back_proximal", "back_middle"],
        "beside_and_over_pip": ["back_proximal", "back_pip", "back_middle"],
        "over_pip": ["back_pip"],
    }.items():
        options = {"kind": "pip_extension", "straps_at": at, "straps": {"width_mm": 10.0}}
        case = make_case(options, measured=LARGE)
        (part,) = KINDS["pip_extension"].build(case).parts
        assert [strap.place for strap in part.straps] == places
        assert (f"kinds.pip_extension.remark.{at}" in said(case)) == (at != "beside_pip")
    assert make_case({"kind": "pip_extension"}).orthosis.model_dump()["straps_at"] == "beside_pip"
    child = of_child(make_case, {"kind": "pip_extension"}, 140.0)
    assert child.orthosis.model_dump()["straps_at"] == "over_pip"
    assert "kinds.pip_extension.remark.over_pip" in said(child)

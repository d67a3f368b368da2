"""Which of the builders makes a case."""

from collections.abc import Callable

from print3d.inputs.model_case import ModelCase
from print3d.training.build import Model, build_model
from print3d.training.stand import lettering

Progress = Callable[[str], None]


def build_case(case: ModelCase, progress: Progress, *, with_orthosis: bool = False) -> Model:
    """Build a model, jointed or of one piece, alone or with the orthosis that answers its pose.

    Raises InputError, before anything is grown, if a label cannot be written; LimbError or MeshingError if it cannot be made.
    """
    if case.model.has_stand:
        lettering(case)
    if with_orthosis:
        from print3d.training.pair import build_pair

        return build_pair(case, progress)
    if case.model.is_jointed:
        from print3d.training.articulated import build_jointed

        return build_jointed(case, progress)
    return build_model(case, progress)

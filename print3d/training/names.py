"""Names of training models and their bodies, as messages; words in `language/<language>/training.toml`."""

from print3d.forms.orthosis import part_name
from print3d.inputs.model_case import ModelOptions, PoseName
from print3d.language.message import Message, as_it_stands, message

ORTHOSIS = "orthosis_"
"""Bodies whose id begins with this are parts of an orthosis."""
HELD = "_as_held"
"""Ends the id of a body in the pose that its orthosis holds."""
BODIES: dict[PoseName, str] = {
    "neutral": "neutral",
    "mallet": "mallet_finger",
    "swan_neck": "swan_neck",
    "boutonniere": "boutonniere",
    "flexor_repair": "flexor_repair",
}
"""Id of the body in each pose."""


def body_name(body: str) -> Message:
    """Return the name of a body by its id ("mallet_finger", "pin_pip", "orthosis_yoke")."""
    if body.startswith(ORTHOSIS):
        return message("training.of_orthosis", part=part_name(body.removeprefix(ORTHOSIS)))
    if body.endswith(HELD):
        return message("training.as_held", body=body_name(body.removesuffix(HELD)))
    return message(f"training.body.{body}")


def model_name(model: ModelOptions) -> Message:
    """Return what a model is called: the clinic's own label, else the pose."""
    return as_it_stands(model.label) if model.label else message(f"training.body.{BODIES[model.pose]}")


def what_it_shows(model: ModelOptions) -> Message:
    """Return what a learner should see on a model."""
    return message(f"training.shows.{'jointed' if model.is_jointed else model.pose}")

"""Parametric builder of 3D-printable finger and forearm orthoses.

    case = read("case.toml")        built = check(shape(case))        write(built, "outputs")

Meshes and places of what is built are those of the asked hand. Importing this costs nothing: what a name needs is loaded when it is used.
"""

import typing as _typing

if _typing.TYPE_CHECKING:
    from print3d.built import Built
    from print3d.checks.finding import Finding
    from print3d.flow import advise, check, read, shape, write
    from print3d.inputs.case import Case
    from print3d.limb.joint_id import JointId

    __version__: str

__all__ = ["Built", "Case", "Finding", "JointId", "advise", "check", "read", "shape", "write"]

_HOME = {
    **dict.fromkeys(("read", "shape", "check", "advise", "write"), "flow"),
    "Built": "built",
    "Case": "inputs.case",
    "Finding": "checks.finding",
    "JointId": "limb.joint_id",
}
"""Public name -> the module that has it."""


def __getattr__(name: str) -> object:
    """Return a public name, loaded now, or the version. Raises AttributeError for any other."""
    if name == "__version__":
        return _version()
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(__name__)
    # guard: wheel: a version without an installation
    except PackageNotFoundError:  # run from a source tree that is not installed
        return "0+source"

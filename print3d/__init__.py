"""Parametric builder of 3D-printable finger and forearm orthoses."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("print3d")
# guard: wheel: a version without an installation
except PackageNotFoundError:  # run from a source tree that is not installed
    __version__ = "0+source"

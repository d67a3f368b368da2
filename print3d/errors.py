"""The exception tree.

Print3dError            anything a user can act on; the command line says it and ends with exit code 2
    InputError          a file or option asks for something that is not there, not known or not possible
    LimbError           the measurements cannot make a limb
    ShapingError        the pattern, shell or solid cannot take the asked shape
    MeshingError        the triangulation broke a promise it makes (closed, boundary kept)
    ExportError         a file cannot be written
    NotMeasurableError  a check lacks what it needs of the limb: a finding says so
    StudyError          a study, or a set of models, lost its workers
    InstallationError   something that comes with the program is missing or damaged
        CatalogueError      the words of a language cannot be used
            MissingWordError    a language has no text for something that is to be said

An error carries its problems as data; sentences are made when it is shown. A poor design is no exception: it is a `Finding`.
Our own mistakes stay Python's own exceptions.
"""

from collections.abc import Mapping
from typing import Protocol, runtime_checkable


@runtime_checkable
class Sayable(Protocol):
    """A message or a problem: data that is said in a language when it is shown."""

    def said(self, language: str) -> str:
        """Return the sentence."""

    def as_data(self) -> Mapping[str, object]:
        """Return it as plain data, for programs."""


class Print3dError(Exception):
    """Base of every error that a user can act on."""

    def __init__(self, *problems: Sayable) -> None:
        super().__init__(*problems)

    @property
    def problems(self) -> tuple[Sayable, ...]:
        """What is wrong, one by one."""
        return self.args

    def said(self, language: str) -> str:
        """Return the problems in a language, a line each."""
        return "\n".join(each.said(language) for each in self.problems)

    def as_data(self) -> list[Mapping[str, object]]:
        """Return the problems as plain data, for programs."""
        return [each.as_data() for each in self.problems]

    def __str__(self) -> str:
        return self.said("en")


class InputError(Print3dError):
    """A file or an option cannot be used; a problem names file, key, value and what would be accepted."""


class LimbError(Print3dError):
    """The measurements contradict each other so that no limb can be made from them."""


class ShapingError(Print3dError):
    """The pattern, the shell or the solid cannot take the asked shape."""


class MeshingError(Print3dError):
    """A triangulation lost a boundary or a mesh is not closed."""


class ExportError(Print3dError):
    """A file or a set of files cannot be written."""


class NotMeasurableError(Print3dError):
    """A check needs something of a limb that it does not have: a finding that fails says so."""


class StudyError(Print3dError):
    """A study or a set of models cannot go on: its workers are lost."""


class InstallationError(Print3dError):
    """Something that comes with the program or its libraries is missing or damaged."""


class CatalogueError(InstallationError):
    """The words of a language cannot be used; the message names file and key.

    It is the one error that is plain English: its own words might be the faulty ones.
    """

    def __init__(self, words: str) -> None:
        Exception.__init__(self, words)

    @property
    def problems(self) -> tuple[Sayable, ...]:
        """Nothing that a catalogue could say."""
        return ()

    def said(self, language: str) -> str:
        """Return the sentence, in English."""
        return str(self.args[0])


class MissingWordError(CatalogueError):
    """A text that a kind, a check or a page asks for is not in a language's catalogue."""

"""What a case is called: code, side, finger, kind."""

from print3d.inputs.case import Case
from print3d.language.catalogue import text


def title_of(case: Case) -> str:
    """Return the title in the language of the case."""
    head, language = case.header, case.header.language
    return text(
        "common.orthosis.title",
        language,
        code=str(case.mark),
        side=text(f"common.side.{head.side}", language),
        finger=text(f"common.finger.{head.finger}", language),
        kind=text(f"kinds.{case.orthosis.kind}.name", language),
    )

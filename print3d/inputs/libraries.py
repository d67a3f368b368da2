"""Where a clinic keeps what is its own: materials, printers, regimens, guidance."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Libraries:
    """Folders of a clinic's own files; an entry there goes before one of the program of the same name.

    None: only the program's.
    """

    materials: Path | None = None
    printers: Path | None = None
    protocols: Path | None = None
    guidance: Path | None = None

    @classmethod
    def of_folder(cls, folder: Path) -> "Libraries":
        """Return those in a folder such as `params`."""
        return cls(*(folder / name for name in ("materials", "printers", "protocols", "guidance")))

    @classmethod
    def beside(cls, case_file: Path) -> "Libraries":
        """Return those beside the folder of a case file."""
        return cls.of_folder(case_file.resolve().parents[1])

"""The files that a study writes."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Files:
    """Contents by file name."""

    contents: Mapping[str, bytes]

    def write(self, folder: Path) -> list[str]:
        """Write every file and return the names."""
        for name, content in self.contents.items():
            (folder / name).write_bytes(content)
        return list(self.contents)

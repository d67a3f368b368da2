"""Write a set of files so that a folder holds the old set or the new one, never a mixture.

New files go to a hidden folder beside the target. When all are written, the target is renamed away, the new folder is renamed
into place and the old one is removed. A build that died between the renames is repaired by the next one. A lock keeps two
builds out of one folder. Files that a user put into the folder move on into the new one.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from print3d.errors import ExportError

MANIFEST = ".print3d-files"
"""Lists the files of a set, one a line, so that a user's own files can be told apart."""


@contextmanager
def file_set(folder: Path, name: str) -> Iterator[Path]:
    """Yield an empty folder to write into; on success its files become `folder`/`name`.

    If the block raises, nothing changes. Raises ExportError if the folder cannot be written or is in use.
    """
    target = _target(folder, name)
    fresh, old = (target.with_name(f".{name}.{ending}") for ending in ("new", "old"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _locked(target.with_name(f".{name}.lock"), target):
            _repair(target, old)
            shutil.rmtree(fresh, ignore_errors=True)
            fresh.mkdir()
            try:
                yield fresh
                _replace(target, fresh, old)
            finally:
                shutil.rmtree(fresh, ignore_errors=True)
    except OSError as error:
        raise ExportError(
            f"{target}: cannot be written ({error.strerror or error}); choose a writable folder with --out"
        ) from error


def _target(folder: Path, name: str) -> Path:
    target = folder / name
    if not name or name.startswith(".") or target.resolve().parent != folder.resolve():
        raise ExportError(
            f"case.code = {name!r} cannot name a folder inside {folder}; use letters, digits, - and _"
        )
    if target.exists() and not target.is_dir():
        raise ExportError(
            f"{target}: is a file where the output folder should be; move it away or choose --out"
        )
    return target


@contextmanager
def _locked(lock: Path, target: Path) -> Iterator[None]:
    """Hold the folder's lock; the system frees it when its process ends, however it ends."""
    try:
        with FileLock(lock, timeout=0):
            yield
    except Timeout:
        raise ExportError(f"{target}: another build is writing there; wait until it has ended") from None


def _repair(target: Path, old: Path) -> None:
    """Bring back the old set if a build died between the two renames; else clear what it left."""
    if old.exists() and not target.exists():
        old.rename(target)
    shutil.rmtree(old, ignore_errors=True)


def _replace(target: Path, fresh: Path, old: Path) -> None:
    names = sorted(path.name for path in fresh.iterdir())
    (fresh / MANIFEST).write_text("\n".join(names) + "\n", encoding="utf-8")
    if target.exists():
        _keep_foreign(target, fresh)
        target.rename(old)
    fresh.rename(target)
    shutil.rmtree(old, ignore_errors=True)


def _keep_foreign(target: Path, fresh: Path) -> None:
    """Copy what the user put into the folder into the new one."""
    listed = target / MANIFEST
    ours = (
        set(listed.read_text(encoding="utf-8").splitlines()) | {MANIFEST} if listed.exists() else {MANIFEST}
    )
    for path in target.iterdir():
        if path.name in ours or (fresh / path.name).exists():
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.copytree(path, fresh / path.name, symlinks=True)
        else:
            shutil.copy2(path, fresh / path.name, follow_symlinks=False)

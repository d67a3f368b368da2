"""Write a set of files so that a folder holds the old set or the new one, never a mixture.

    outputs/.PY-014.new    the new set while it is written
    outputs/PY-014         renamed to .PY-014.old, then the new folder takes its name and the old one is removed
    outputs/.PY-014.lock   keeps two builds out of one folder
    outputs/PY-014/earlier what an asked replacement keeps; it is laid into the new set before that takes its name

A build that is stopped between the two renames puts the old set back; one that is killed there leaves it for the next build
to put back. Files that a user put into the folder move on into the new one.
"""

import errno
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from filelock import FileLock, Timeout

from print3d.errors import ExportError
from print3d.inputs.folder_name import is_device
from print3d.inputs.problems import Problem
from print3d.language.message import message

MANIFEST = ".print3d-files"
"""Lists the files of a set, one a line, so that a user's own files can be recognised."""
EARLIER = "earlier"
"""Folder, in that of a set, of the sets whose place it took."""
# guard: full disk
DISK_TROUBLE = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS}
"""Errors of a write that name no file."""


KeptAs = Callable[[Path], str | None]
"""Takes the folder of a set that gives way; returns under which name it is kept in EARLIER, None if it goes; raises to let it stay."""


def _goes(_: Path) -> None:
    """Keep nothing of a set that gives way."""


@contextmanager
def file_set(folder: Path, name: str, kept_as: KeptAs = _goes) -> Iterator[Path]:
    """Yield an empty folder to write into; on success its files become `folder`/`name`.

    `kept_as` is asked first, when nobody else can write there any more. If it or the block raises, nothing changes. Raises
    ExportError before the block runs if the folder cannot be written or is in use, and after it if the disk is full or fails.
    """
    target = _target(folder, name)
    # guard: killed: written beside the old set
    fresh = target.with_name(f".{name}.new")
    old = target.with_name(f".{name}.old")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _locked(target.with_name(f".{name}.lock"), target):
            # guard: killed: the next build puts back
            _put_back(target, old)
            _refuse_what_is_no_folder(target)
            keep = kept_as(target)
            if keep is not None:
                _refuse_what_is_no_folder(target / EARLIER)
            shutil.rmtree(fresh, ignore_errors=True)
            fresh.mkdir()
            try:
                yield fresh
                _replace(target, fresh, old, keep)
            finally:
                # guard: a failing build clears up
                shutil.rmtree(fresh, ignore_errors=True)
    except OSError as error:
        if not _is_about(error, folder):
            raise
        raise _cannot_write(target, error) from error


@contextmanager
def part_of_file_set(folder: Path, name: str, part: str) -> Iterator[Path]:
    """Do as `file_set` for `folder`/`name`/`part`, which lives on beside the set `folder`/`name` and is not replaced with it.

    Holds the lock of `folder`/`name` meanwhile, so that no build moves that folder away.
    """
    target = _target(folder, name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _locked(target.with_name(f".{name}.lock"), target):
            # guard: killed: a part beside the set puts back
            _put_back(target, target.with_name(f".{name}.old"))
            _refuse_what_is_no_folder(target)
            with file_set(target, part) as fresh:
                yield fresh
    except OSError as error:
        if not _is_about(error, folder):
            raise
        raise _cannot_write(target, error) from error


def refuse_unwritable(folder: Path, name: str) -> None:
    """Raise ExportError if a set of files could not be written to `folder`/`name`; leaves nothing behind.

    Asked before a build, so that nobody waits for one whose files have no place.
    """
    target = _target(folder, name)
    try:
        _refuse_what_is_no_folder(target)
        nearest = next(place for place in (folder.absolute(), *folder.absolute().parents) if place.exists())
        with TemporaryDirectory(prefix=".print3d-", dir=nearest):
            pass
    except OSError as error:
        raise _cannot_write(target, error) from error


def _cannot_write(target: Path, error: OSError) -> ExportError:
    reason = str(error.strerror or error)
    return ExportError(message("refusals.output.unwritable_out", file=str(target), reason=reason))


def _is_about(error: OSError, folder: Path) -> bool:
    """Whether an error is about writing here, not about something else that the block did."""
    # guard: what cannot be copied
    if isinstance(error, shutil.Error | shutil.SpecialFileError):  # of the user's own files, which move on
        return True
    if error.filename is None:
        return error.errno in DISK_TROUBLE
    place = Path(str(error.filename)).absolute()
    return place.is_relative_to(folder.absolute()) or folder.absolute().is_relative_to(place)


def _target(folder: Path, name: str) -> Path:
    target = folder / name
    # guard: code: of a folder
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,100}(\.[1-9][a-z0-9-]{0,20})?", name):
        wanted = message("refusals.output.no_folder_name", folder=str(folder))
        raise ExportError(Problem("case.code", name, wanted))
    # guard: code: a device
    if is_device(name):
        raise ExportError(message("refusals.output.device", file=str(target)))
    return target


def _refuse_what_is_no_folder(target: Path) -> None:
    """The last word is asked under the lock: between another build's renames a look can mislead."""
    # guard: a link for the folder
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        found = "refusals.output.is_link" if target.is_symlink() else "refusals.output.is_file"
        raise ExportError(message(found, file=str(target)))


@contextmanager
def _locked(lock: Path, target: Path) -> Iterator[None]:
    """Hold the folder's lock; the system frees it when its process ends, however it ends."""
    try:
        # guard: two builds at once
        with FileLock(lock, timeout=0):
            yield
    except Timeout:
        raise ExportError(message("refusals.output.busy", file=str(target))) from None


def _put_back(target: Path, old: Path) -> None:
    """Bring back the old set if a build ended between the two renames; else clear what it left."""
    if old.exists() and not target.exists():
        old.rename(target)
    shutil.rmtree(old, ignore_errors=True)


def _replace(target: Path, fresh: Path, old: Path, keep: str | None) -> None:
    names = sorted(path.name for path in fresh.iterdir())
    (fresh / MANIFEST).write_text("\n".join(names) + "\n", encoding="utf-8")
    if target.exists():
        # guard: files of the user's own
        _keep_foreign(target, fresh)
    if keep is not None:
        # guard: an earlier set is kept
        _keep_set(target, fresh / EARLIER / keep)
    try:
        if target.exists():
            target.rename(old)
        fresh.rename(target)
    finally:  # also when stopped by Ctrl-C or by a program that holds the folder open
        # guard: stopped between the renames
        _put_back(target, old)


def _keep_foreign(target: Path, fresh: Path) -> None:
    """Copy what the user put into the folder into the new one, and earlier sets.

    A name that the new set needs gives way.
    """
    ours = names_of_set(target)
    for path in sorted(target.iterdir()):
        if path.name not in ours:
            copy_into(path, _free_name(fresh, path))


def _keep_set(target: Path, place: Path) -> None:
    """Copy the files of a set, its list among them, to a place of their own."""
    place.parent.mkdir(exist_ok=True)
    kept, ours = _free_name(place.parent, place), names_of_set(target)
    kept.mkdir()
    for path in sorted(target.iterdir()):
        if path.name in ours:
            copy_into(path, kept / path.name)


def names_of_set(folder: Path) -> set[str]:
    """Names of what belongs to the set in a folder."""
    listed = folder / MANIFEST
    if not listed.is_file():
        return {MANIFEST}
    return {MANIFEST, *listed.read_text(encoding="utf-8", errors="replace").splitlines()}


def copy_into(path: Path, to: Path) -> None:
    """Copy a file, a folder or a link to a place that is free."""
    if path.is_dir() and not path.is_symlink():
        shutil.copytree(path, to, symlinks=True)
    else:
        shutil.copy2(path, to, follow_symlinks=False)


def _free_name(folder: Path, path: Path) -> Path:
    """Return where to keep `path` in `folder`: as it is named, or as name.kept.ending if that is taken."""
    kept, number = folder / path.name, 1
    while kept.exists() or kept.is_symlink():
        kept = folder / f"{path.stem}.kept{number if number > 1 else ''}{path.suffix}"
        number += 1
    return kept

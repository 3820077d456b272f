"""Write files whole or not at all, and tell lists that were typed into from those that were not.

Computes: nothing; writes beside the target, flushes to disk, then renames over it.
Units: none.
Source: POSIX rename(2), which replaces a file in one step within one file system.
Limits: a folder that cannot be written or a full disk raises `CouldNot`; the old file then still stands.
"""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from canvas.jobs.failure import CouldNot

SEAL = "# Nothing typed in yet: "


def write_whole(path: Path, content: str | bytes) -> Path:
    """Write `content` to `path` so that either the old file or the whole new one is there.

    Parameters
    ----------
    path : Path
        Target; its folder is made where absent. Text is written as UTF-8 with its line ends unchanged.
    content : str or bytes
        What the file holds afterwards.

    Returns
    -------
    Path
        The target.

    Raises
    ------
    CouldNot
        When the folder cannot be made or written, or the disk is full.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    scratch: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, scratch = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
        os.chmod(scratch, mode)
        os.replace(scratch, path)
    except OSError as error:
        if scratch is not None:
            with contextlib.suppress(OSError):
                os.unlink(scratch)
        what = f"{path} could not be written: {error.strerror or error}."
        advice = "Free some room or choose another folder."
        if isinstance(error, IsADirectoryError):
            advice = "Name a file in it."
        elif isinstance(error, FileExistsError | NotADirectoryError):
            advice = "A file stands where a folder is needed: choose another folder."
        raise CouldNot(what, advice) from error
    return path


def sealed(text: str) -> bytes:
    """Return a list to type into, with a last line that tells later whether anybody did; see `untouched`."""
    return f"{text}{SEAL}{_digest(text.encode())}\n".encode()


def untouched(content: bytes) -> bool:
    """Return whether a list is as `sealed` made it, so that nothing typed is lost with it."""
    text, _, seal = content.rpartition(SEAL.encode())
    return seal == f"{_digest(text)}\n".encode()


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:12]


def slug(*words: str, keep: str = "") -> str:
    """Return words as a file name: lower case letters, digits and hyphens, so that no word leads to another folder.

    Marks to `keep`, such as points, are kept within the name but not at its ends.
    """
    kept = "".join(letter if letter.isalnum() or letter in keep else " " for letter in " ".join(words).lower())
    return "-".join(kept.split()).strip(f"-{keep}")


def distinct(names: Iterable[str], *, taken: Iterable[str] = ()) -> list[str]:
    """Return names of files in order, each that stands already with the next free number behind it."""
    stand = set(taken)
    found: list[str] = []
    for name in names:
        tries = (name if k == 1 else f"{name}-{k}" for k in itertools.count(1))
        found.append(next(one for one in tries if one not in stand))
        stand.add(found[-1])
    return found


def renamed(name: str, ending: str) -> str:
    """Return the name of the file that stands beside another and differs in its ending, given without a point."""
    return f"{name.rpartition('.')[0] or name}.{ending}"


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current

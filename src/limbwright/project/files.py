"""Make a file beside its place and move it there: whole, or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from limbwright.errors import InputError
from limbwright.project.connect import SUFFIX

__all__ = ["beside", "check_name", "move_new", "refuse_existing"]

_READABLE = 0o644


def check_name(target: Path) -> None:
    """Raise InputError where a project file is not named as one."""
    if target.suffix.lower() != SUFFIX:
        stem = target.stem.lstrip(".")
        raise InputError(
            f"{target.name or 'The name of the project file'} does not end in {SUFFIX}.",
            f"Name the project file {stem if stem not in ('', 'gpkg') else 'holding'}{SUFFIX}.",
        )


def refuse_existing(target: Path) -> None:
    """Raise InputError where there is something already."""
    if target.exists():
        raise InputError(f"{target} is there already.", "Give another name, or move it away.")


@contextmanager
def beside(target: Path) -> Iterator[Path]:
    """Give an empty file beside the target to write first; it is gone afterwards."""
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=".", suffix=SUFFIX)
    except OSError as error:
        raise InputError(
            f"{target} cannot be written ({error.strerror}).",
            "Give a folder that is there and that you may write in.",
        ) from error
    os.close(handle)
    draft = Path(name)
    draft.chmod(_READABLE)  # temporary files are made for their owner alone
    try:
        yield draft
    except OSError as error:
        raise InputError(f"{target} cannot be written ({error.strerror}).", "") from error
    finally:
        for leftover in (draft, draft.with_name(draft.name + "-journal")):
            leftover.unlink(missing_ok=True)


def move_new(draft: Path, target: Path) -> None:
    """Move a finished file into place without ever writing over another."""
    try:
        os.link(draft, target)
    except FileExistsError:
        refuse_existing(target)
    except OSError:  # a disk that knows no links, as many a memory stick
        refuse_existing(target)
        draft.rename(target)

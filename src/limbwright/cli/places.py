"""Where results go: whether they can be written there is told before the work, not after it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from limbwright.errors import InputError

__all__ = ["RESULTS", "check_file", "check_folder"]

RESULTS = ("cut-cards.pdf", "cut-list.csv", "plan.json", "summary.md")
"""What a plan writes into its folder."""


def check_folder(
    folder: Path, inputs: Iterable[Path | None] = (), *, names: Iterable[str] = RESULTS
) -> None:
    """Make sure that results can be written into a folder, which need not exist yet.

    Parameters
    ----------
    folder
        The folder asked for.
    inputs
        Files that are read, which no result may take the place of.
    names
        Names of the results.

    Raises
    ------
    InputError
        A file is in the way, nothing can be written there, or a result would overwrite an input.
    """
    try:
        at = folder
        while not at.exists():
            at = at.parent
        if not at.is_dir():
            raise InputError(f"{folder}: {at} is a file.", "Name a folder for the results.")
        with tempfile.TemporaryFile(dir=at):
            pass
        read = {p.resolve() for p in inputs if p is not None}
        for target in (folder / name for name in names):
            if target.is_dir():
                raise InputError(f"{target} is a folder.", "Name a file to write in it with -o.")
            if target.resolve() in read:
                raise InputError(
                    f"{target} is read, and would be written over.", "Name another with -o."
                )
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or error
        raise InputError(
            f"Nothing can be written into {folder}: {said}.", "Name another folder with -o."
        ) from None


def check_file(path: Path, inputs: Iterable[Path | None] = ()) -> None:
    """Make sure that one result can be written; see `check_folder`.

    Raises
    ------
    InputError
        The path is a folder, cannot be written, or is one of the inputs.
    """
    check_folder(path.parent, inputs, names=[path.name])

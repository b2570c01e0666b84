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
    folder: Path,
    inputs: Iterable[Path | None] = (),
    *,
    names: Iterable[str] = RESULTS,
    option: str = "-o",
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
    option
        The option that names the place.

    Raises
    ------
    InputError
        A file is in the way, nothing can be written there, or a result would overwrite an input.
    """
    hint = f" with {option}"
    try:
        at = folder
        while not at.exists():
            at = at.parent
        if not at.is_dir():
            where = "" if at == folder else f"{folder}: "
            raise InputError(f"{where}{at} is a file.", f"Name a folder for the results{hint}.")
        with tempfile.TemporaryFile(dir=at):
            pass
        read = {p.resolve() for p in inputs if p is not None}
        for target in (folder / name for name in names):
            if target.is_dir():
                raise InputError(f"{target} is a folder.", f"Name a file to write in it{hint}.")
            if target.resolve() in read:
                raise InputError(
                    f"{target} is read, and would be written over.", f"Name another{hint}."
                )
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or error
        raise InputError(
            f"Nothing can be written into {folder}: {said}.", f"Name another folder{hint}."
        ) from None


def check_file(path: Path, inputs: Iterable[Path | None] = (), *, option: str = "-o") -> None:
    """Make sure that one result can be written; see `check_folder`.

    Raises
    ------
    InputError
        The path is a folder, cannot be written, or is one of the inputs.
    """
    check_folder(path.parent, inputs, names=[path.name], option=option)

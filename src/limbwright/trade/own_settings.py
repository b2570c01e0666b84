"""Settings of one's own: a TOML file of ``name = value`` lines."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from limbwright.errors import InputError

__all__ = ["read_own_settings"]


def read_own_settings(path: Path, example: str) -> dict[str, Any]:
    """Return what a TOML file of settings holds, sections as they stand.

    Parameters
    ----------
    path
        The file.
    example
        A line such as it may hold, for whom it went wrong.

    Raises
    ------
    InputError
        It cannot be read, is no text, or no TOML; tells the line.
    """
    remedy = f"Give a text file (UTF-8) of lines such as: {example}"
    try:
        return tomllib.loads(path.read_text("utf-8-sig"))
    except OSError as error:
        raise InputError(
            f"{path.name} cannot be read: {error.strerror or error}.", remedy
        ) from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path.name} is no text in UTF-8.", remedy) from error
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path.name} cannot be read as settings: {error}.", remedy) from error

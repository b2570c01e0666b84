"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

__all__ = ["write_whole"]

READABLE = 0o644


def write_whole(path: str | os.PathLike[str], data: bytes) -> Path:
    """Write ``data`` beside the target and move it into place: a stop leaves no half file."""
    target = Path(path)
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".", suffix=target.suffix)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        Path(name).chmod(READABLE)  # temporary files are made for their owner alone
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return target

"""The command line: parse, call the job, show what came of it."""

from __future__ import annotations

import sys
from collections.abc import Sequence

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 1 told what is wrong, 2 misused."""
    from limbwright.cli.commands import app
    from limbwright.errors import LimbwrightError

    given = list(sys.argv[1:] if arguments is None else arguments)
    try:
        app(args=given, prog_name="limbwright")
    except LimbwrightError as error:
        print(f"limbwright: {error}", file=sys.stderr)
        return 1
    except OSError as error:
        where = error.filename or error.filename2 or ""
        print(f"limbwright: {where}: {error.strerror or error}.", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("limbwright: stopped.", file=sys.stderr)
        return 130
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    return 0

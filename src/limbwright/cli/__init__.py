"""The command line: parse, call the job, show what came of it."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

__all__ = ["main"]

TRACE = "LIMBWRIGHT_TRACE"
"""Environment variable that shows where in the program an unforeseen fault arose."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 1 told what is wrong, 2 misused."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    try:
        code = _run(given)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever reads has seen enough, as `head` does
        _close_stdout()
        return 1
    except OSError as error:
        where = f"{error.filename or error.filename2}: " if error.filename else ""
        print(
            f"limbwright: {where}{error.strerror or error}. Make room or choose another place;"
            " files written before are whole.",
            file=sys.stderr,
        )
        _close_stdout()
        return 1
    except KeyboardInterrupt:
        code = 130
    if code == 130:
        print("limbwright: stopped. What is written is whole.", file=sys.stderr)
    return code


def _run(given: list[str]) -> int:
    from limbwright.cli.commands import app
    from limbwright.errors import LimbwrightError

    try:
        app(args=given, prog_name="limbwright")
    except LimbwrightError as error:
        print(f"limbwright: {error}", file=sys.stderr)
        return 1
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except OSError:
        raise
    except Exception as error:  # a fault of ours; whoever stands in the orchard needs a sentence
        if os.environ.get(TRACE):
            import traceback

            traceback.print_exc()
        print(
            f"limbwright: a fault in Limbwright itself ({type(error).__name__}: {error})."
            f" What was written before is whole. Please report it with the command and the survey;"
            f" {TRACE}=1 shows where it arose.",
            file=sys.stderr,
        )
        return 1
    return 0


def _close_stdout() -> None:
    """Send what is still to be printed nowhere, so that ending does not fail once more."""
    try:
        sys.stdout.flush()
    except OSError:
        sink = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(sink, sys.stdout.fileno())
        except (OSError, ValueError):
            pass
        finally:
            os.close(sink)

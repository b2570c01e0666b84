#!/usr/bin/env python3
"""Set Limbwright up on a machine that has only Python, then run it.

python3 start.py              the main job on the invented demo holding
python3 start.py test         the checks and tests
python3 start.py plan ...     any command of limbwright

Uses the standard library alone. Everything goes into ``.venv`` beside this file; nothing outside
the folder is touched. A stamp remembers what is set up, so that later starts begin at once.
"""

import contextlib
import hashlib
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

# Old Pythons must be able to read this file, to give a plain answer: no syntax newer than 3.6.
ROOT = Path(__file__).resolve().parent
ENV = ROOT / ".venv"
NEEDED = (3, 11)
CHECKS = (
    ("style", ["-m", "ruff", "check", "."]),
    ("layout", ["-m", "ruff", "format", "--check", "."]),
    ("types", ["-m", "mypy"]),
    ("layers", ["-c", "from importlinter.cli import lint_imports_command as c; c()"]),
    ("tests", ["-m", "pytest", "-n", "2"]),
)
NO_PIP = (
    "This Python cannot set up an environment of its own: {} is missing.\n"
    "On Debian or Ubuntu: sudo apt install python3-venv\n"
    "Elsewhere: install Python from its own installer. Then run the same command again."
)
CAUSES = (  # what the last words of a failed step tell, most telling first
    ("no such option: --python", NO_PIP.format("a new enough pip")),
    ("No space left", "The disk is full: make room, about 700 MB."),
    ("DO NOT MATCH THE HASHES", "A download was damaged or changed on its way: try again later."),
    (
        "onnection",
        "No network connection: the set-up needs one, once. Where a proxy stands between,"
        " set HTTPS_PROXY.",
    ),
    ("name resolution", "No network connection: the set-up needs one, once."),
    ("timed out", "The network is too slow or blocked: try again, or elsewhere."),
    (
        "No matching distribution",
        "A library cannot be had for this Python or machine, or there is no network."
        " A 64-bit Python 3.11 or 3.12 on Linux, macOS or Windows is the surest.",
    ),
)


def main(arguments):
    """Set up what the arguments need, then run it."""
    if sys.version_info < NEEDED:
        return (
            f"Limbwright needs Python 3.11 or newer; this is {sys.version.split()[0]}.\n"
            "Where a newer one is installed beside it, name it: python3.11 start.py"
        )
    testing = arguments[:1] == ["test"]
    try:
        set_up("dev" if testing else "base")
        if testing:
            return run_checks(arguments[1:])
        return run([str(python_in(ENV)), "-m", "limbwright.cli", *(arguments or ["demo"])])
    except KeyboardInterrupt:
        say("\nStopped. The same command begins again.")
        return 130


def say(words, end="\n"):
    """Print at once, whatever the console can show."""
    sys.stdout.write(words + end)
    sys.stdout.flush()


def run(command):
    """Run a command in place of this process where the system can, else as a child."""
    if os.name != "nt":
        sys.stdout.flush()
        os.execv(command[0], command)
    return subprocess.call(command)


def run_checks(extra):
    """Run every check, tests last; stop at the first that fails."""
    for name, command in CHECKS:
        say("-- " + name)
        more = extra if name == "tests" else []
        code = subprocess.call([str(python_in(ENV)), *command, *more], cwd=str(ROOT))
        if code:
            return code
    return 0


def python_in(env, system=os.name):
    """Return where an environment keeps its Python."""
    return env / ("Scripts/python.exe" if system == "nt" else "bin/python")


def stamp(kind):
    """Return the fingerprint of everything an environment is made from."""
    made_from = hashlib.sha256(f"{ROOT} {os.path.realpath(python_in(ENV))}".encode())
    for name in ("lock/" + kind + ".txt", "pyproject.toml"):
        made_from.update((ROOT / name).read_bytes())
    return made_from.hexdigest()


def ready(kind):
    """Say whether everything for ``kind`` is in place; the test set-up holds the plain one too."""
    if not python_in(ENV).exists() or unfinished().exists():
        return False
    marks = [(k, ENV / ("limbwright-" + k + ".stamp")) for k in (kind, "dev")]
    return any(mark.exists() and mark.read_text() == stamp(k) for k, mark in marks)


def unfinished():
    """Return the mark that stands while a set-up is under way, and after one that was cut off."""
    return ENV / "limbwright-unfinished"


def set_up(kind):
    """Make ``.venv`` and install from the lock, unless that is done."""
    try:
        if not ready(kind):
            with alone() as held:
                if not ready(kind):  # another start may have finished it meanwhile
                    build(kind, held)
    except FileNotFoundError as error:
        sys.exit(f"{error.filename} is missing: fetch the whole folder of Limbwright again.")
    except OSError as error:
        sys.exit(
            f"The set-up cannot write in {ROOT}: {error.strerror or error}.\n"
            "Copy the whole folder to a place of your own and start there."
        )


def build(kind, held):
    """Make ``.venv`` and install from the lock; a mark stands until all of it is done."""
    say("Setting up Limbwright in .venv (once; a minute or two) ...")
    pip = environment(held)
    install = [*pip, "install", "--quiet", "--disable-pip-version-check", "--retries", "2"]
    step(
        "the libraries",
        [*install, "--require-hashes", "-r", str(ROOT / "lock" / (kind + ".txt"))],
        held,
    )
    step(
        "Limbwright itself",
        [*install, "--no-deps", "--no-build-isolation", "-e", str(ROOT)],
        held,
    )
    (ENV / ("limbwright-" + kind + ".stamp")).write_text(stamp(kind))
    unfinished().unlink()


@contextlib.contextmanager
def alone():
    """Let one set-up work at a time; a second start waits until the first is done.

    The system drops the lock when its holder ends, however it ends. The steps of the set-up hold
    it as well, so that one left running by a killed start is waited for.
    """
    with open(str(ROOT / ".venv.lock"), "ab") as file:  # noqa: PTH123
        told = False
        while not taken(file):
            if not told:
                say("Another start is setting up; waiting for it ...")
                told = True
            time.sleep(0.2)
        yield file


def taken(file):
    """Try to take the lock; where the disk knows no locks, go on without."""
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True


def environment(held):
    """Make the environment if need be and return the pip command that serves it."""
    python = str(python_in(ENV))
    ours = [python, "-m", "pip"]
    outer = [sys.executable, "-m", "pip", "--python", python]
    if ENV.exists() and not unfinished().exists():
        if succeeds([python, "-c", "import pip"]):
            unfinished().write_text("")
            return ours
        if succeeds([python, "-c", ""]) and succeeds([sys.executable, "-c", "import pip"]):
            unfinished().write_text("")
            return outer
    if not succeeds([sys.executable, "-c", "import venv"]):
        sys.exit(NO_PIP.format("venv"))
    # Debian and its kin ship Python without ensurepip: make the environment without pip and
    # let the pip outside serve it.
    own_pip = succeeds([sys.executable, "-c", "import ensurepip"])
    if not own_pip and not succeeds([sys.executable, "-c", "import pip"]):
        sys.exit(NO_PIP.format("pip"))
    if ENV.exists():
        shutil.rmtree(str(ENV))
    ENV.mkdir()
    unfinished().write_text("")
    extra = [] if own_pip else ["--without-pip"]
    step("a Python of its own", [sys.executable, "-m", "venv", *extra, str(ENV)], held)
    return ours if own_pip else outer


def succeeds(command):
    """Say whether a command ends well, showing nothing."""
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except OSError:
        return False


def step(what, command, held):
    """Run one step of the set-up, showing that it goes on; say plainly what failed."""
    settings = dict(os.environ, PIP_USER="0")  # a personal "always for the user" would stop pip
    inherit = {} if os.name == "nt" else {"pass_fds": (held.fileno(),)}
    began = time.monotonic()
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=settings, **inherit
    )
    while True:
        if sys.stdout.isatty():
            say(f"\r  {what} ... {time.monotonic() - began:.0f} s", end="")
        try:
            output = process.communicate(timeout=1)[0].decode("utf-8", "replace")
            break
        except subprocess.TimeoutExpired:
            continue
    say(f"\r  {what}: {time.monotonic() - began:.0f} s   ")
    if process.returncode:
        sys.exit(failure(what, output))


def failure(what, output):
    """Return what to tell when a step failed: its last words, the likely cause, what to do."""
    last = [line for line in output.splitlines() if line.strip()][-5:]
    cause = next((said for sign, said in CAUSES if sign in output), "")
    return "\n".join(
        [
            "",
            f"The set-up stopped at {what}:",
            *("  " + line[:200] for line in last),
            *([cause] if cause else []),
            "Nothing outside this folder was changed; run the same command again to go on.",
        ]
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

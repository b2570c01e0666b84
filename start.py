#!/usr/bin/env python3
"""Set Limbwright up on a machine that has only Python, then run it.

python3 start.py              the main job on the invented demo holding
python3 start.py test         the checks and tests
python3 start.py plan ...     any command of limbwright

Uses the standard library alone. Everything goes into ``.venv`` beside this file; nothing outside
the folder is touched. A stamp remembers what is set up, so that later starts begin at once.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
ENV = ROOT / ".venv"
PYTHON = ENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
CHECKS = (
    ("style", ["-m", "ruff", "check", "."]),
    ("layout", ["-m", "ruff", "format", "--check", "."]),
    ("types", ["-m", "mypy"]),
    ("layers", ["-c", "from importlinter.cli import lint_imports_command as c; c()"]),
    ("tests", ["-m", "pytest", "-n", "2"]),
)


def main(arguments):
    """Set up what the arguments need, then run it."""
    if sys.version_info < (3, 11):  # noqa: UP036 (an old Python must get a plain answer)
        return f"Limbwright needs Python 3.11 or newer; this is {sys.version.split()[0]}."
    testing = arguments[:1] == ["test"]
    set_up("dev" if testing else "base")
    if testing:
        return run_checks(arguments[1:])
    return run([str(PYTHON), "-m", "limbwright.cli", *(arguments or ["demo"])])


def run(command):
    """Run a command in place of this process where the system can, else as a child."""
    if os.name != "nt":
        sys.stdout.flush()
        os.execv(command[0], command)
    return subprocess.call(command)


def run_checks(extra):
    """Run every check, tests last; stop at the first that fails."""
    for name, command in CHECKS:
        print(f"-- {name}", flush=True)
        more = extra if name == "tests" else []
        code = subprocess.call([str(PYTHON), *command, *more], cwd=ROOT)
        if code:
            return code
    return 0


def stamp(kind):
    """Return the fingerprint of everything an environment is made from."""
    made_from = hashlib.sha256(f"{sys.version} {ROOT}".encode())
    for name in (f"lock/{kind}.txt", "pyproject.toml"):
        made_from.update((ROOT / name).read_bytes())
    return made_from.hexdigest()


def set_up(kind):
    """Make ``.venv`` and install from the lock, unless the stamp says it is done."""
    marks = [ENV / f"limbwright-{k}.stamp" for k in dict.fromkeys((kind, "dev"))]
    kinds = dict.fromkeys((kind, "dev"))  # the test set-up holds all that the plain one has
    for mark, k in zip(marks, kinds, strict=True):
        if PYTHON.exists() and mark.exists() and mark.read_text() == stamp(k):
            return
    print("Setting up Limbwright in .venv (once; about a minute) ...", flush=True)
    pip = environment()
    install = [*pip, "install", "--quiet", "--disable-pip-version-check"]
    call([*install, "--require-hashes", "-r", str(ROOT / "lock" / f"{kind}.txt")])
    call([*install, "--no-deps", "--no-build-isolation", "-e", str(ROOT)])
    marks[0].write_text(stamp(kind))


def environment():
    """Make the environment if need be and return the pip command that serves it."""
    ours = [str(PYTHON), "-m", "pip"]
    if PYTHON.exists() and succeeds([str(PYTHON), "-c", "import pip"]):
        return ours
    if ENV.exists():
        shutil.rmtree(ENV)
    if succeeds([sys.executable, "-c", "import ensurepip"]):
        call([sys.executable, "-m", "venv", str(ENV)])
        return ours
    # Debian and its kin ship Python without ensurepip: make the environment without pip and
    # let the pip outside serve it.
    call([sys.executable, "-m", "venv", "--without-pip", str(ENV)])
    if succeeds([sys.executable, "-c", "import pip"]):
        return [sys.executable, "-m", "pip", "--python", str(PYTHON)]
    sys.exit(
        "This Python has no pip. On Debian or Ubuntu: sudo apt install python3-venv python3-pip"
        "\nthen run this command again."
    )


def succeeds(command):
    """Say whether a command ends well, showing nothing."""
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


def call(command):
    """Run one step of the set-up, or say plainly what failed."""
    if subprocess.call(command):
        sys.exit(
            "The set-up stopped at:\n  " + " ".join(command) + "\nIs there a network connection?"
            " Nothing outside .venv was changed; run the same command again to go on."
        )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

#!/usr/bin/env python3
"""Set the project up on first use, then run it: ./go ARGS is `slackwater ARGS`, ./go test runs the tests.

Only the standard library is used here, so that a fresh machine with Python and git is enough.
"""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
READY = VENV / ".ready"
LOWEST, BEYOND = (3, 11), (3, 14)
LOCKS = {"run": "requirements.lock", "dev": "requirements-dev.lock"}


def stop(sentence: str) -> None:
    """End with one sentence and exit code 2."""
    print(sentence, file=sys.stderr)
    raise SystemExit(2)


def wanted(group: str) -> str:
    """What the set-up depends on, as a hash: an interrupted or outdated one is done again."""
    digest = hashlib.sha256(f"{group} {sys.version_info[:2]}".encode())
    for name in ("pyproject.toml", LOCKS[group]):
        digest.update((HERE / name).read_bytes())
    return digest.hexdigest()


def ready(group: str) -> bool:
    """Whether what is needed is installed; the test set-up holds all that running needs."""
    if not READY.is_file():
        return False
    marks = READY.read_text(encoding="utf-8").split()
    return any(wanted(name) in marks for name in ([group, "dev"] if group == "run" else [group]))


def pip(*args: str) -> None:
    """Run pip quietly; when it fails, show its last lines and a cure."""
    command = [str(python()), "-m", "pip", "--disable-pip-version-check", "install", "--quiet", *args]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        print("\n".join((done.stderr or done.stdout).strip().splitlines()[-5:]), file=sys.stderr)
        stop("The packages could not be installed: check the connection to your package registry, then run this again.")


def python() -> Path:
    """The Python of the project's own environment."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def set_up(group: str) -> None:
    """Make the environment and install the locked packages."""
    if not LOWEST <= sys.version_info[:2] < BEYOND:
        stop(f"Slackwater needs Python 3.11 to 3.13, this is {sys.version.split()[0]}: run it with one of those, for instance python3.12 go.")
    print("Setting up, once; this takes about a minute ...", file=sys.stderr, flush=True)
    try:
        import ensurepip  # noqa: F401
        import venv
    except ImportError:
        stop("Python's venv module is missing: install it (on Debian and Ubuntu: apt install python3-venv), then run this again.")
    READY.unlink(missing_ok=True)
    try:
        venv.EnvBuilder(with_pip=True, clear=True).create(VENV)
    except (OSError, subprocess.CalledProcessError) as error:
        stop(f"The environment {VENV.name} could not be made ({error}): free some disk space or make this folder writable, then run this again.")
    pip("--require-hashes", "-r", str(HERE / LOCKS[group]))
    pip("--no-deps", "--no-build-isolation", "-e", str(HERE))
    READY.write_text(wanted(group), encoding="utf-8")


def main(args: list) -> int:
    """Set up what the command needs and run it."""
    if args[:1] == ["setup"]:
        group = args[1] if len(args) > 1 else "run"
        if group not in LOCKS:
            stop(f"There is no group {group}; known are {', '.join(LOCKS)}.")
        if not ready(group):
            set_up(group)
        return 0
    group = "dev" if args[:1] == ["test"] else "run"
    if not ready(group):
        set_up(group)
    if group == "dev":
        command = [str(python()), "-m", "pytest", "-n", "2", *args[1:]]
        return subprocess.run(command, cwd=HERE).returncode
    return subprocess.run([str(python()), "-m", "slackwater.cli", *args]).returncode


if __name__ == "__main__":
    try:
        raise SystemExit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        raise SystemExit(130) from None

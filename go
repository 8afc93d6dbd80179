#!/usr/bin/env python3
"""Set the project up on first use, then run it: ./go ARGS is `slackwater ARGS`, ./go test runs the tests.

Only the standard library is used here, so that a fresh machine with Python and git is enough.
"""

import hashlib
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
READY = VENV / ".ready"
LOWEST, BEYOND = (3, 11), (3, 15)
LOCKS = {
    "run": "requirements.lock",
    "web": "requirements-web.lock",
    "picture": "requirements-picture.lock",
    "dev": "requirements-dev.lock",
}

LARGER = {"run": ("web", "picture", "dev"), "web": ("picture", "dev"), "picture": ("dev",), "dev": ()}


def stop(sentence: str) -> NoReturn:
    """End with one sentence and exit code 2."""
    print(sentence, file=sys.stderr)
    raise SystemExit(2)


def python() -> Path:
    """Name the Python of the project's own environment."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def wanted(group: str) -> str:
    """Hash what the set-up depends on, the folder included: a moved or outdated one is done again."""
    digest = hashlib.sha256(f"{group} {sys.version_info[:2]} {HERE}".encode())
    for name in ("pyproject.toml", LOCKS[group]):
        digest.update((HERE / name).read_bytes())
    return digest.hexdigest()


def ready(group: str) -> bool:
    """Tell whether what is needed is installed; the larger set-ups hold all that the smaller need."""
    if not (READY.is_file() and python().is_file()):
        return False
    return READY.read_text(encoding="utf-8") in {wanted(larger) for larger in (group, *LARGER[group])}


def pip(*args: str) -> None:
    """Run pip quietly; when it fails, show its last lines and a cure."""
    command = [str(python()), "-m", "pip", "--disable-pip-version-check", "install", "--quiet", *args]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace")
    if done.returncode:
        said = [line for line in (done.stderr or done.stdout).splitlines() if line.strip() and "is ignored" not in line]
        print("\n".join(said[-5:]), file=sys.stderr)
        stop("The packages could not be installed: check the connection to your package registry, then run this again.")


def set_up(group: str) -> None:
    """Make the environment, or add to a sound one, and install the locked packages; the mark is written last."""
    try:
        import ensurepip  # noqa: F401
        import venv
    except ImportError:
        stop("Python's venv module is missing: install it (Debian, Ubuntu: apt install python3-venv), then try again.")
    print("Setting up, once; this takes about a minute ...", file=sys.stderr, flush=True)
    try:
        if not ready("run"):
            READY.unlink(missing_ok=True)
            venv.EnvBuilder(with_pip=True, clear=True).create(VENV)
        READY.unlink(missing_ok=True)
    except (OSError, subprocess.CalledProcessError) as error:
        stop(f"The folder .venv could not be made ({error}): free disk space or make {HERE} writable, then try again.")
    # The lock is whole. Left to resolve, an older pip takes the newest of a package asked for with extras, not the locked.
    pip("--no-deps", "--require-hashes", "-r", str(HERE / LOCKS[group]))
    pip("--no-deps", "--no-build-isolation", "-e", str(HERE))
    READY.write_text(wanted(group), encoding="utf-8")


def main(args: "list[str]") -> int:
    """Set up what the command needs and run it."""
    if not LOWEST <= sys.version_info[:2] < BEYOND:
        this = sys.version.split()[0]
        stop(f"Slackwater needs Python 3.11 to 3.14, this is {this}: run it with one of those, e.g. python3.12 go.")
    group = "run"
    if args[:1] == ["test"]:
        group = "dev"
    elif args[:1] == ["serve"]:
        group = "web"
    elif args[:1] == ["setup"] and len(args) > 1:
        group = args[1]
        if group not in LOCKS:
            stop(f"There is no group {group}; known are {', '.join(LOCKS)}.")
    if not ready(group):
        set_up(group)
    if args[:1] == ["setup"]:
        return 0
    if args[:1] in (["test"], ["serve"]):
        # Pages work without their scripts, so a bundle that cannot be built stops nothing; the tool says why.
        subprocess.run([str(python()), "-P", str(HERE / "tools" / "bundle.py")], cwd=HERE)
    if args[:1] == ["test"]:
        return subprocess.run(
            [str(python()), "-m", "pytest", "-n", "2", "--dist", "worksteal", *args[1:]], cwd=HERE
        ).returncode
    # -P: a file of the reader's folder must not stand in for a module of the program
    called_as = "python go" if os.name == "nt" else "./go"
    command = [str(python()), "-P", "-m", "slackwater.cli", *args]
    return run_to_its_end(command, {**os.environ, "SLACKWATER_CALLED_AS": called_as})


def run_to_its_end(command: "list[str]", environment: "dict[str, str]") -> int:
    """Run the program and wait until it has ended by itself: office and worker have things to put away when interrupted.

    The terminal's interrupt reaches it without our help; what asks us to end is passed on.
    """
    asked: list[bool] = []
    begun: list[subprocess.Popen[bytes]] = []

    def pass_on(*_: object) -> None:
        asked.append(True)
        for program in begun:
            program.terminate()

    # Before the program begins, so that none comes too early; it begins with its own.
    signal.signal(signal.SIGINT, lambda *_: None)
    signal.signal(signal.SIGTERM, pass_on)
    program = subprocess.Popen(command, env=environment)
    begun.append(program)
    if asked:
        program.terminate()
    return program.wait()


if __name__ == "__main__":
    try:
        raise SystemExit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        raise SystemExit(130) from None

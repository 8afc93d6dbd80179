"""Write both lock files from one resolution: versions and hashes, no addresses. Needs uv on PATH."""

import subprocess
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
SHAPE = ["--no-emit-project", "--no-annotate", "--no-header", "--format", "requirements.txt"]


def export(name: str, *extra: str) -> None:
    """One lock from the resolution in uv.lock (which is ignored by git: it holds addresses)."""
    command = ["uv", "export", "--quiet", *SHAPE, *extra, "-o", name]
    subprocess.run(command, cwd=HERE, check=True)
    text = (HERE / name).read_text(encoding="utf-8")
    if "://" in text:
        raise SystemExit(f"{name} holds an address; it is not written for others to use")


if __name__ == "__main__":
    subprocess.run(["uv", "lock", "--quiet", "--upgrade"], cwd=HERE, check=True)
    export("requirements.lock", "--no-dev", "--group", "build")
    export("requirements-dev.lock", "--group", "dev", "--group", "build")

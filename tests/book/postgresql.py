"""A PostgreSQL server of the tests' own, on a free port and in a temporary folder, gone with the tests."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg


def programs() -> Path | None:
    """Where initdb and pg_ctl are."""
    found = shutil.which("pg_ctl")
    places = [Path(found).parent] if found else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((place for place in places if (place / "initdb").exists()), None)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def server() -> Iterator[str]:
    """Start a server; yields the address of its database ``postgres``."""
    bin_folder = programs()
    assert bin_folder is not None
    # The server refuses to run as root, and as whom it runs must own its folder.
    as_other = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    folder = Path(tempfile.mkdtemp(prefix="slackwater-postgresql-"))
    if as_other:
        shutil.chown(folder, "postgres")
    data, port = folder / "data", _free_port()

    def run(program: str, *words: str) -> None:
        done = subprocess.run(
            [*as_other, str(bin_folder / program), *words], capture_output=True, text=True, timeout=120, cwd=folder
        )
        assert done.returncode == 0, done.stderr

    run("initdb", "-D", str(data), "-U", "tester", "--auth=trust", "--encoding=UTF8", "--locale=C", "--no-sync")
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c max_connections=100 -c fsync=off"
    try:
        run("pg_ctl", "-D", str(data), "-l", str(folder / "log"), "-o", options, "-w", "start")
        yield f"postgresql://tester@127.0.0.1:{port}/postgres"
    finally:
        subprocess.run(
            [*as_other, str(bin_folder / "pg_ctl"), "-D", str(data), "-m", "immediate", "-w", "stop"],
            capture_output=True,
            timeout=60,
            cwd=folder,
        )
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def schema(address: str, name: str) -> Iterator[str]:
    """An empty schema of a database; yields an address that leads to it. Making a database each time takes seconds."""
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f'CREATE SCHEMA "{name}"')
    try:
        yield f"{address}?options=-csearch_path%3D{name}"
    finally:
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(f'DROP SCHEMA "{name}" CASCADE')

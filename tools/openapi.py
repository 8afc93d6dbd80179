"""Write the description of the office's API into web/openapi.json, and from it the types for scripts of the pages."""

import json
import subprocess
from pathlib import Path

from slackwater.actions.settings import Settings
from slackwater.web.app import create_app
from tools.bundle import node

HERE = Path(__file__).resolve().parents[1]


def description() -> str:
    """The description as text, the same each time."""
    app = create_app(Settings(home=HERE))
    return json.dumps(app.openapi(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    (HERE / "web" / "openapi.json").write_text(description(), encoding="utf-8", newline="\n")
    found = node()
    if found is None:
        raise SystemExit("web/src/api.d.ts is as it was: node is not installed (./go setup dev)")
    subprocess.run([str(found[0]), "types.mjs"], cwd=HERE / "web", check=True)

"""The JSON schemas of what goes in and what comes out."""

from __future__ import annotations

import json
from typing import Literal

from slackwater.frozen import Frozen


def schema_text(what: Literal["job", "plan", "event"]) -> str:
    """The schema as indented JSON, the same text each time."""
    model: type[Frozen]
    if what == "job":
        from slackwater.job.model import Job as model
    elif what == "event":
        from slackwater.job.event import Event as model
    else:
        from slackwater.plan import Plan as model
    return json.dumps(model.model_json_schema(), indent=2, sort_keys=True, ensure_ascii=False)

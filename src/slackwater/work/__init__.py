"""Long work beside the pages: processes of this machine, what they are at, and how they are stopped."""

from slackwater.work.workshop import WORKER as WORKER
from slackwater.work.workshop import Doer as Doer
from slackwater.work.workshop import Kind as Kind
from slackwater.work.workshop import Workshop as Workshop

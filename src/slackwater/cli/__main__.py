"""Lets ``python -m slackwater.cli`` run the command line."""

from slackwater.cli.main import main

raise SystemExit(main())

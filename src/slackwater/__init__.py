"""Slackwater plans the one-day rebuild of a planted display aquarium."""

__version__ = "0.1.0"

__all__ = ["__version__"]

"""Property tests are the same on every run: no luck, no flakes."""

from hypothesis import settings

settings.register_profile("same every time", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("same every time")

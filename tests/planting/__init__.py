"""The planting room."""

"""The steps themselves, in the order of their numbers."""

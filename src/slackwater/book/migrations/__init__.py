"""Numbered steps from each form of the book to the next; a step that was released is never changed."""

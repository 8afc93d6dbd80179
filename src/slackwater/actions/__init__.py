"""One function for each thing a user does; the only place where pure and I/O rooms meet."""

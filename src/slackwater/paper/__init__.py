"""Documents and figures made from a finished plan."""

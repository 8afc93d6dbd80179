"""The command line: parse, call one action, show."""

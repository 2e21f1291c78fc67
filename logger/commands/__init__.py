"""The command line: one file per command, thin: parse, call, print."""

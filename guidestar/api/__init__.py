"""The Python interface: the same answers as the command line, as objects; one module a command."""

"""The command line, thin: parse, call, show."""

from lagwise.cli.commands import app

__all__ = ["app"]

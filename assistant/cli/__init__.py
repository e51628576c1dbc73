"""The command line: builds real doors, hands them to the session, prints. It decides nothing."""

from assistant.cli.app import app, run

__all__ = ["app", "run"]

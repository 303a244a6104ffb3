"""The command line: parse, call the workflow, print. Nothing else prints."""

from __future__ import annotations


def main() -> None:
    """Run the command line and leave with its exit code."""
    from sync.one_thread import algebra_on_one_thread

    algebra_on_one_thread()
    from overlay.cli.app import run

    raise SystemExit(run())

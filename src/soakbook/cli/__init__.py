"""The command line."""

from __future__ import annotations

import json
import sys
from importlib import import_module

COMMANDS = (
    "demo",
    "serve",
    "round",
    "ask",
    "show",
    "away",
    "balance",
    "eto",
    "plants",
    "soils",
    "drip",
    "line",
    "lay",
    "pipes",
    "cups",
    "garden",
    "log",
    "listen",
    "weather",
    "trial",
    "timer",
)


def main() -> None:
    """Run the command line; errors of ours become one plain sentence and their exit code."""
    from soakbook.cli.app import app
    from soakbook.errors import SoakbookError

    for name in COMMANDS:
        import_module(f"soakbook.cli.{name}")
    try:
        app(prog_name="soakbook")
    except SoakbookError as error:
        if "--json" in sys.argv:
            print(json.dumps({"kind": "error", "version": 1, **error.to_json()}, ensure_ascii=False))
        print(f"soakbook: {error}", file=sys.stderr)
        raise SystemExit(error.exit_code) from None
    except BrokenPipeError:
        raise SystemExit(0) from None

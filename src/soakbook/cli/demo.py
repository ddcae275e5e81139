"""``soakbook demo``: the app on an invented garden."""

from __future__ import annotations

import os
from typing import Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.serve import OpenOption, show_app
from soakbook.cli.terminal import paragraph


@app.command("demo")
def demo_command(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Where it listens, or the next free.")] = 8765,
    open_it: OpenOption = None,
) -> None:
    """Open the app on an invented garden, under real weather of a public station. Nothing is kept."""
    import tempfile
    from pathlib import Path

    from soakbook.app.serve import ending_well, listen_from, port_of, quick_start, run, start_logging
    from soakbook.app.settings import Settings
    from soakbook.demo import DAY

    with ending_well():
        sockets = listen_from(port)
        with tempfile.TemporaryDirectory(prefix="soakbook-demo-", ignore_cleanup_errors=True) as folder:
            start_logging(os.environ.get("SOAKBOOK_LOG", "warning"))
            settings = Settings(Path(folder), port_of(sockets), today=DAY, demo=True, fetch_in_background=False)
            with quick_start():
                from soakbook.app.bring import bring_demo
                from soakbook.app.build import build_app

                built = build_app(settings)
                bring_demo(built.state.house.desk)
            with built.state.house.store:
                typer.echo(paragraph("An invented garden on 8 July 2017. What you enter is gone when this ends."))
                show_app(settings, open_it)
                run(built, sockets)

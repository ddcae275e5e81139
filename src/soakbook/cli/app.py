"""The command tree. Each command lives in a module of its own and imports what is heavy inside its function."""

from __future__ import annotations

import typer

app = typer.Typer(
    name="soakbook",
    help="How much and how often to water each bed and pot, computed from weather, soil, roots and what you saw.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
garden_app = typer.Typer(help="Write or check a garden file.", no_args_is_help=True, rich_markup_mode=None)
log_app = typer.Typer(
    help="Write down a watering, rain, a reading or a note.", no_args_is_help=True, rich_markup_mode=None
)
weather_app = typer.Typer(help="Fetch and look at weather.", no_args_is_help=True, rich_markup_mode=None)
timer_app = typer.Typer(
    help="The best programme a timer can hold; what the one that is set does.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
app.add_typer(garden_app, name="garden")
app.add_typer(log_app, name="log")
app.add_typer(weather_app, name="weather")
app.add_typer(timer_app, name="timer")

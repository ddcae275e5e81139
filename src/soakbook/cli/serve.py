"""``soakbook serve``: the app on your own gardens."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from soakbook.cli.app import app
from soakbook.cli.terminal import paragraph

if TYPE_CHECKING:
    from soakbook.app.desk import Desk
    from soakbook.app.serve import Certificate
    from soakbook.app.settings import Settings
    from soakbook.store import Store

OpenOption = Annotated[
    bool | None,
    typer.Option("--open/--no-open", help="Open the browser; else only where there is a screen.", show_default=False),
]


@app.command("serve")
def serve_command(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Where it listens.")] = 8765,
    lan: Annotated[bool, typer.Option("--lan", help="For phones on the home network too.")] = False,
    folder: Annotated[
        Path | None, typer.Option("--folder", help="Where the data lies; else $SOAKBOOK_DATA.", show_default=False)
    ] = None,
    garden: Annotated[
        Path | None, typer.Option("--garden", "-g", help="A garden file to bring in first.", show_default=False)
    ] = None,
    host_name: Annotated[
        list[str] | None, typer.Option("--host-name", help="A name it is also asked by.", show_default=False)
    ] = None,
    certificate: Annotated[
        Path | None, typer.Option("--certificate", help="For https: a PEM file.", show_default=False)
    ] = None,
    key: Annotated[Path | None, typer.Option("--key", help="The certificate's key.", show_default=False)] = None,
    new_phrase: Annotated[bool, typer.Option("--new-phrase", help="Make a new pairing phrase.")] = False,
    open_it: OpenOption = None,
) -> None:
    """Open the app on your gardens, in the browser."""
    from soakbook.app.serve import checked_name, ending_well, listen, port_of, quick_start, run, start_logging
    from soakbook.app.settings import Settings
    from soakbook.store.open import default_folder

    files = _certificate(certificate, key)
    hosts = tuple(checked_name(name) for name in host_name or ())
    with ending_well():
        sockets = listen(port, lan=lan)
        settings = Settings(folder or default_folder(), port_of(sockets), lan, hosts, https=files is not None)
        start_logging(os.environ.get("SOAKBOOK_LOG", "warning"))
        with quick_start():
            from soakbook.app.build import build_app

            built = build_app(settings)
        with built.state.house.store as store:
            if garden is not None:
                _bring(built.state.house.desk, garden)
            _say(settings, store, new_phrase)
            show_app(settings, open_it)
            run(built, sockets, files)


def show_app(settings: Settings, open_it: bool | None) -> None:
    """Say where the app is, and open it there."""
    from soakbook.app.serve import has_display, open_browser

    here = f"{'https' if settings.https else 'http'}://localhost:{settings.port}/"
    typer.echo(f"On this machine: {here}")
    typer.echo("Ctrl+C ends it.")
    sys.stdout.flush()
    if has_display() if open_it is None else open_it:
        open_browser(here)


def _certificate(certificate: Path | None, key: Path | None) -> Certificate | None:
    from soakbook.app.serve import Certificate, check_certificate
    from soakbook.errors import InputError

    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        raise InputError(
            "https takes both a certificate and its key.", code="serve.certificate", field="certificate",
            hint="Give --certificate and --key.",
        )  # fmt: skip
    files = Certificate(certificate, key)
    check_certificate(files)
    return files


def _bring(desk: Desk, path: Path) -> None:
    """The garden of a file, its log and its weather, unless there is a garden of that name already."""
    import tomllib

    from soakbook.app.bring import bring_garden
    from soakbook.garden.disk import read_text
    from soakbook.garden.file import MAX_BYTES
    from soakbook.garden.log import log_path

    text = read_text(path, "garden", MAX_BYTES)
    try:
        head = tomllib.loads(text).get("garden", {})
    except tomllib.TOMLDecodeError:
        head = {}  # what is wrong is said when it is brought in
    head = head if isinstance(head, dict) else {}
    name = str(head.get("name", "")).strip().casefold()
    if any(row.name.casefold() == name for row in desk.store.gardens()):
        typer.echo(paragraph("The garden of that file is here already; the file is left as it is."))
        return
    log = log_path(path)
    weather = _weather(path, str(head.get("weather", "")))
    row = bring_garden(desk, text, read_text(log, "log", MAX_BYTES) if log.exists() else "", weather)
    typer.echo(paragraph(f'Brought in: "{row.name}". From now on the app keeps it; the file is left as it is.'))


def _weather(path: Path, name: str) -> tuple[str, bytes] | None:
    """A garden's weather file, when it has one of its own."""
    from soakbook.errors import InputError

    if name in ("", "normals", "live"):
        return None
    file = path.parent / name
    try:
        return file.name, file.read_bytes()
    except OSError as exc:
        why = exc.strerror or exc
        raise InputError(f"{file} cannot be read: {why}.", code="weather.unreadable", field="weather") from exc


def _say(settings: Settings, store: Store, new_phrase: bool) -> None:
    """How others come in: address, code to scan, pairing phrase."""
    from soakbook.app.pairing import keep_new_phrase, phrase_since
    from soakbook.app.serve import addresses, qr_text

    if not (settings.lan or settings.hosts or new_phrase):
        return
    since = phrase_since(store)
    if settings.lan or settings.hosts:
        *others, _ = addresses(settings)
        if not others:
            typer.echo(paragraph("No home network was found: for now only this machine reaches the app."))
        for address in others:
            typer.echo(f"From other devices: {address}/sign-in")
        if others and (code := qr_text(f"{others[0]}/sign-in", sys.stdout.encoding)):
            typer.echo(f"\n{code}\n")
    if since is None or new_phrase:
        typer.echo(f"Pairing phrase: {keep_new_phrase(store)}")
        typer.echo(paragraph("Type it where a device signs in. It is not shown again; --new-phrase makes another."))
    else:
        typer.echo(
            paragraph(
                f"The pairing phrase of {since.astimezone():%Y-%m-%d} holds. Forgotten? --new-phrase makes another; "
                "devices that are signed in stay so."
            )
        )
    if settings.lan and not settings.https:
        typer.echo(
            paragraph(
                "On plain http, others on the same network could read along: use it at home only, or give "
                "--certificate and --key."
            )
        )

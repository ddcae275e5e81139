"""``soakbook listen``: a sensor's messages, written down as readings while they come."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from queue import Empty, Queue
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo

import typer

from soakbook.cli.app import app
from soakbook.cli.log_parts import GardenFile
from soakbook.cli.log_to import Keep, opened
from soakbook.errors import InputError, SoakbookError
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.cli.mqtt import Broker, Change, Event
    from soakbook.garden.sensor import Due, Heard, Sensor

#: Where the password is looked for: on the command line others on the machine could read it.
PASSWORD = "SOAKBOOK_MQTT_PASSWORD"
#: How often it is looked whether the morning is over. [s]
TICK_S = 30.0


@app.command("listen")
def listen_command(
    place: Annotated[str, typer.Argument(help="The place the sensor is in.")],
    broker: Annotated[str, typer.Option("--broker", help="The MQTT broker: its name or address, and :port.")],
    topic: Annotated[str, typer.Option("--topic", help="What the sensor speaks under.")],
    key: Annotated[
        str, typer.Option("--key", help='Where the number stands in a JSON message, such as "soil.moisture".')
    ] = "",
    unit: Annotated[str, typer.Option("--unit", help="Of the values: m3/m3, % or kPa.")] = "m3/m3",
    depth: Annotated[str, typer.Option("--depth", help='How deep the sensor sits, such as "20 cm".')] = "",
    by: Annotated[str, typer.Option("--by", help="What the sensor is called.")] = "",
    user: Annotated[str, typer.Option("--user", help=f"A name to join with; the password from ${PASSWORD}.")] = "",
    tls: Annotated[bool, typer.Option("--tls", help="Join by TLS.")] = False,
    tls_ca: Annotated[
        Path | None,
        typer.Option("--tls-ca", help="The certificate of your own authority, a PEM file.", show_default=False),
    ] = None,
    garden: GardenFile = None,
    in_app: Annotated[
        str, typer.Option("--app", help="A garden of the app, by its name, instead of a garden file.")
    ] = "",
    folder: Annotated[
        Path | None,
        typer.Option("--folder", help="Where the app's data lies; else $SOAKBOOK_DATA.", show_default=False),
    ] = None,
) -> None:
    """Listen to a sensor by MQTT, and write down one reading each morning and one when it jumps."""
    from soakbook.cli.mqtt import Broker, joined, parse_broker
    from soakbook.garden.sensor import sensor_of

    use_tls = tls or tls_ca is not None
    host, port = parse_broker(broker, use_tls)
    _check_topic(topic)
    found = Broker(host, port, topic, user, os.environ.get(PASSWORD, "") if user else "", use_tls, tls_ca)
    with opened(garden, in_app, folder) as (the_garden, keep):
        sensor = sensor_of(the_garden, place, unit, depth, by)
        ear = Ear(sensor, key, ZoneInfo(the_garden.time_zone), keep, typer.echo)
        _begin(found, sensor)
        with joined(found) as events, _ending_on_terminate():
            try:
                follow(events, ear)
            except KeyboardInterrupt:
                typer.echo("Stopped.")
            finally:
                ear.end()


def _begin(broker: Broker, sensor: Sensor) -> None:
    typer.echo(f"Listening for {sensor.place} at {broker.host}:{broker.port}, topic {broker.topic}. Ctrl+C ends it.")
    if broker.user and not broker.tls:
        typer.echo("Without --tls the password can be read by others on the network: use it at home only.", err=True)


def _check_topic(topic: str) -> None:
    if not topic or any(c in topic for c in "+#\0") or len(topic.encode()) > 65_535:
        raise InputError(
            say('"{topic}" must be the topic of one sensor, without + and #.', topic=topic[:80]),
            code="listen.topic",
            field="topic",
            hint=say("Listen once for each sensor."),
        )


@contextmanager
def _ending_on_terminate() -> Iterator[None]:
    """A service manager's request to end is as good as Ctrl+C."""
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


# --- what is heard -------------------------------------------------------------------------------------------------
@dataclass
class Ear:
    """Turns messages into readings. ``keep`` writes rows down and says which were new; ``tell`` says something to the user.

    What could not be kept is tried again with whatever comes next.
    """

    sensor: Sensor
    key: str
    zone: ZoneInfo
    keep: Keep
    tell: Callable[[str], None]
    waiting: list[Due] = field(default_factory=list)
    _heard: Heard | None = None
    _trouble: str = ""

    def message(self, payload: bytes, at: datetime) -> None:
        """One message. What cannot be read is said, once for each kind in a row, and skipped."""
        from soakbook.garden.sensor import Heard, Sample, hear, parse_payload, sensor_value

        try:
            value = sensor_value(parse_payload(payload, self.key), self.sensor.unit)
        except InputError as error:
            self._say(f"Skipped: {error}")
            return
        self._trouble = ""
        sample = Sample(at.astimezone(self.zone), value)
        self._heard, due = hear(self._heard or Heard(), sample, self.sensor.reading)
        self._keep(due)

    def tick(self, now: datetime) -> None:
        """Time has gone on."""
        from soakbook.garden.sensor import passed

        if self._heard is not None:
            self._heard, due = passed(self._heard, now.astimezone(self.zone))
            self._keep(due)

    def end(self) -> None:
        """Write down what was heard of the morning so far."""
        from soakbook.garden.sensor import ended

        if self._heard is not None:
            self._heard, due = ended(self._heard)
            self._keep(due)

    def _keep(self, due: list[Due]) -> None:
        from soakbook.garden.sensor import jump_id, sensor_row

        self.waiting += due
        while self.waiting:
            one = self.waiting[0]
            row = sensor_row(self.sensor, one.sample, jump_id(self.sensor, one.sample.at) if one.is_jump else "")
            try:
                ((_, is_new),) = self.keep([row])
            except SoakbookError as error:
                self._say(f"Not written down yet: {error}")
                return
            self.waiting.pop(0)
            self.tell(f"{row.at.replace('T', ' ')}  {row.place}: {row.amount}{'' if is_new else ' (here already)'}")

    def _say(self, text: str) -> None:
        if text != self._trouble:
            self.tell(text)
        self._trouble = text


def follow(
    events: Queue[Event],
    ear: Ear,
    *,
    is_over: Callable[[], bool] = lambda: False,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
    tick_s: float = TICK_S,
) -> None:
    """Hand what comes to the ear until it is over. InputError when the broker refuses for good."""
    from soakbook.cli.mqtt import Message

    last = ""
    while not is_over():
        try:
            event = events.get(timeout=tick_s)
        except Empty:
            ear.tick(now())
            continue
        if not isinstance(event, Message):
            if event.what != last:
                _tell_change(event, ear.tell)
            last = event.what
        elif event.is_old:
            ear.tell("Skipped: a message the broker had kept from before; nobody knows from when it is.")
        else:
            ear.message(event.payload, event.at_utc)


def _tell_change(change: Change, tell: Callable[[str], None]) -> None:
    if change.what == "refused":
        raise InputError(
            say("The broker refuses: {why}.", why=change.why),
            code="listen.refused",
            field="broker",
            hint=say("Look at name, password (${name}) and topic.", name=PASSWORD),
        )
    tell(
        {
            "joined": "Joined the broker.",
            "lost": "The line to the broker is lost; trying again. What was written down is safe.",
            "away": "The broker cannot be reached; trying again.",
        }[change.what]
    )

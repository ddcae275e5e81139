"""One question to a weather service: time-outs, retries and a limit on size; messages name no place and no address."""

from __future__ import annotations

import json
import logging
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from soakbook.errors import SourceDown
from soakbook.said import say

if TYPE_CHECKING:
    import httpx2

#: Named to the services, as they ask; no contact, no place.
USER_AGENT = "soakbook (garden watering notebook)"


@dataclass(frozen=True)
class WebSettings:
    """How patient to be.

    ``timeout_s`` bounds the wait for a connection and for each piece of an answer, ``total_s`` one whole answer;
    ``attempts`` is the number of tries, with waits that double from ``wait_s``.
    """

    timeout_s: float = 10.0
    total_s: float = 30.0
    attempts: int = 3
    wait_s: float = 0.5
    most_bytes: int = 8_000_000


class _TryAgainError(Exception):
    """An answer worth another try."""


class NotCovered(SourceDown):
    """The service answered that it does not know the place or the question (HTTP 4xx)."""


def ask_json(base_url: str, path: str, params: dict[str, str], service: str, settings: WebSettings) -> str:
    """The text of a JSON answer, checked to be a whole JSON object.

    Raises
    ------
    SourceDown
        No useful answer after all tries; :class:`NotCovered` where the service refused the question.
    """
    import httpx2
    import stamina
    from stamina.instrumentation import set_on_retry_hooks

    # Both would write full addresses, and with them the garden's place, to the log.
    set_on_retry_hooks([])
    logging.getLogger("httpx2").setLevel(logging.WARNING)
    try:
        with httpx2.Client(
            base_url=base_url,
            timeout=settings.timeout_s,
            follow_redirects=True,
            max_redirects=3,
            headers={"User-Agent": USER_AGENT, "Accept": "application/geo+json, application/json"},
        ) as client:
            for attempt in stamina.retry_context(
                on=(_TryAgainError, httpx2.TransportError),
                attempts=settings.attempts,
                timeout=None,
                wait_initial=settings.wait_s,
                wait_max=8.0 * settings.wait_s,
                wait_jitter=settings.wait_s,
            ):
                with attempt:
                    return _once(client, path, params, service, settings)
    except _TryAgainError as exc:
        raise _down(service, exc.args[0]) from None
    except httpx2.TimeoutException:
        raise _down(service, say("it did not answer in time")) from None
    except (httpx2.HTTPError, httpx2.InvalidURL):
        raise _down(service, say("it could not be reached")) from None
    raise AssertionError("retry_context ends by returning or raising")


def _once(client: httpx2.Client, path: str, params: dict[str, str], service: str, settings: WebSettings) -> str:
    deadline = time.monotonic() + settings.total_s
    with client.stream("GET", path, params=params) as response:
        status = response.status_code
        if status == 429 or status >= 500:
            raise _TryAgainError(say("it answered with status {status}", status=status))
        if status != 200:
            raise NotCovered(
                say("{service} refused the question (status {status}).", service=service, status=status),
                code="weather.refused",
                hint=_HINT,
            )
        pieces, size = [], 0
        for piece in response.iter_bytes():
            pieces.append(piece)
            size += len(piece)
            if size > settings.most_bytes:
                raise _down(service, say("its answer is too large"))
            if time.monotonic() > deadline:
                raise _TryAgainError(say("it did not answer in time"))
    return _whole(b"".join(pieces))


def _whole(data: bytes) -> str:
    try:
        text = data.decode("utf-8")
        found: Any = json.loads(text)
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise _TryAgainError(say("its answer was cut short or is no JSON")) from None
    if not isinstance(found, dict):
        raise _TryAgainError(say("its answer is no JSON object"))
    return text


_HINT = say('Try again later, read a weather file, or use weather = "normals".')


def _down(service: str, why: str) -> SourceDown:
    return SourceDown(
        say("{service} gave no weather: {why}.", service=service, why=why), code="weather.down", hint=_HINT
    )

"""Who asks: the machine's own user without signing in, others by their session, a helper by a link."""

from __future__ import annotations

from fastapi import Request

from soakbook.app.guard import host_of, loopback
from soakbook.app.pages import SESSION_COOKIE, House, Viewer
from soakbook.errors import InputError
from soakbook.said import say

#: Headers of a server that passes requests on, beside all that begin with ``x-forwarded``: then the sender's address
#: says nothing about who asks.
_PASSED_ON = frozenset(
    ("forwarded", "via", "x-real-ip", "x-client-ip", "x-cluster-client-ip", "x-original-host", "client-ip",
     "true-client-ip", "cf-connecting-ip", "fastly-client-ip")
)  # fmt: skip
#: A token is 43 characters; nothing longer is looked up.
_LONGEST = 64


def viewer_of(request: Request, house: House) -> Viewer:
    """The one who asks. A request counts as the machine's own only if sender and address asked for both are loopback."""
    token = request.cookies.get(SESSION_COOKIE, "")
    session = house.store.session(token) if 0 < len(token) <= _LONGEST else None
    if session is not None:
        person = house.store.person(session.person_id)
        if person is not None:
            return Viewer("person", person.name, person, session)
    if is_own_machine(request):
        person = house.store.person("owner")
        return Viewer("owner", person.name if person else "", person)
    return Viewer("nobody")


def is_own_machine(request: Request) -> bool:
    """Whether a request comes from the machine itself, straight: no server in between passed it on."""
    sender = request.client.host if request.client else None
    asked = host_of(request.headers.get("host", ""))
    if not loopback(sender) or not (asked == "localhost" or loopback(asked)):
        return False
    if request.scope.get("http_version") == "1.0":  # no browser speaks it; servers that pass requests on often do
        return False
    return not any(name in _PASSED_ON or name.startswith("x-forwarded") for name in request.headers)


def helper_of(token: str, house: House) -> Viewer:
    """The helper whom a link lets see the round of one day.

    Raises
    ------
    InputError
        ``link.unknown`` when it opens nothing (any more), ``link.day`` on another day than the link's own.
    """
    link = house.store.link(token) if 0 < len(token) <= _LONGEST else None
    if link is None or link.kind != "round" or link.on is None:
        raise InputError(
            say("This link opens nothing any more."), code="link.unknown", hint=say("Ask the gardener for a new one.")
        )
    if link.on != house.desk.today(house.desk.known(link.key).garden):
        raise InputError(
            say("This link was for the round of {day}.", day=link.on),
            code="link.day",
            hint=say("Ask the gardener for a new one."),
        )
    return Viewer("helper", link.name, None, None, link)

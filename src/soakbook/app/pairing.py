"""The pairing phrase: four plain words that let a device on the home network sign in, and how often one may guess.

``pairing_words.txt`` is our own list of 1,188 words, each 3 to 9 small letters: four of them are one of 2 * 10**12
phrases, a little over 40 bits. Of the phrase only a hash is kept.
"""

from __future__ import annotations

import json
import re
import secrets
import threading
import time
import unicodedata
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argon2 import PasswordHasher

    from soakbook.store import Store

WORDS_IN_PHRASE = 4
SETTING = "pairing_phrase"
#: Wrong phrases within :data:`WINDOW_S` before one has to wait: from one address, and from all together. [-], [s]
MOST_FROM_ONE, MOST_FROM_ALL, WINDOW_S = 5, 40, 900.0
#: Each check takes 64 MB and a good part of a second: no more than two at once, and no longer wait for a turn. [s]
AT_ONCE, LONGEST_WAIT_S = 2, 5.0


@cache
def words() -> tuple[str, ...]:
    """The list of words."""
    return tuple((Path(__file__).parent / "pairing_words.txt").read_text(encoding="ascii").split())


def new_phrase() -> str:
    """Four words drawn by the system's source of chance, all different."""
    drawn: list[str] = []
    while len(drawn) < WORDS_IN_PHRASE:
        word = secrets.choice(words())
        if word not in drawn:
            drawn.append(word)
    return " ".join(drawn)


def plainly(phrase: str) -> str:
    """A phrase as typed on a phone: capitals, hyphens and spaces too many do not matter."""
    folded = unicodedata.normalize("NFKC", phrase[:200]).casefold()
    return " ".join(re.findall(r"[a-z]+", folded))


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()


@cache
def _of_nothing() -> str:
    """A hash that no phrase has, checked where there is none, so that an answer always takes the same time."""
    return _hasher().hash(secrets.token_urlsafe(32))


def keep_new_phrase(store: Store, now: datetime | None = None) -> str:
    """Make a phrase, keep its hash in place of the last one, and return it: it is not shown again."""
    phrase = new_phrase()
    at = (now or datetime.now(UTC)).isoformat(timespec="seconds")
    store.set_setting(SETTING, json.dumps({"hash": _hasher().hash(phrase), "since_utc": at}))
    return phrase


def phrase_since(store: Store) -> datetime | None:
    """Since when the phrase holds; None when there is none."""
    kept = store.setting(SETTING)
    return datetime.fromisoformat(json.loads(kept)["since_utc"]) if kept else None


def is_phrase(store: Store, typed: str) -> bool:
    """Whether it is the phrase. Takes as long when it is not, and when there is none."""
    from argon2.exceptions import VerifyMismatchError

    kept = store.setting(SETTING)
    try:
        _hasher().verify(json.loads(kept)["hash"] if kept else _of_nothing(), plainly(typed))
    except VerifyMismatchError:
        return False
    return kept is not None


@dataclass(frozen=True)
class Wait:
    """Too many tries: ask again in so many seconds."""

    seconds: int


class Gate:
    """Lets through so many tries at the phrase, and two checks at once. Each try counts until it turns out right."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._tries: deque[tuple[float, str]] = deque()
        self._turn = threading.BoundedSemaphore(AT_ONCE)

    def check(self, address: str, is_right: Callable[[], bool]) -> bool | Wait:
        """What ``is_right`` says, or how long to wait first."""
        wait = self._begin(address)
        if wait is not None:
            return wait
        if not self._turn.acquire(timeout=LONGEST_WAIT_S):
            return Wait(10)
        try:
            right = is_right()
        finally:
            self._turn.release()
        if right:
            self._forget(address)
        return right

    def _begin(self, address: str) -> Wait | None:
        now = self._clock()
        with self._lock:
            while self._tries and self._tries[0][0] <= now - WINDOW_S:
                self._tries.popleft()
            own = [at for at, whose in self._tries if whose == address]
            oldest = [own[-MOST_FROM_ONE]] if len(own) >= MOST_FROM_ONE else []
            oldest += [self._tries[-MOST_FROM_ALL][0]] if len(self._tries) >= MOST_FROM_ALL else []
            if oldest:
                return Wait(int(max(oldest) + WINDOW_S - now) + 1)
            self._tries.append((now, address))
        return None

    def _forget(self, address: str) -> None:
        with self._lock:
            self._tries = deque(tried for tried in self._tries if tried[1] != address)


def network_of(address: str | None) -> str:
    """The sender as tries are counted: of the long addresses, of which anyone has many, the first half."""
    import ipaddress

    try:
        found = ipaddress.ip_address(address or "")
    except ValueError:
        return address or ""
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((int(found), 64), strict=False).network_address)
    return str(found)

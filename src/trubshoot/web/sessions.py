"""Who may use the pages: signed cookies, tokens for forms, pairing codes, and limits on rates.

Nothing here waits or does input and output; the clock is given (seconds that only grow).
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

Clock = Callable[[], float]

CODE_DIGITS = 8
CODE_LIVES_S = 300.0
CODE_TRIES = 5  # wrong codes after which a code is void: one chance in twenty million
CODE_PAUSE_S = 20.0  # between two codes
SESSION_LIVES_S = 30 * 24 * 3600.0
_MOST_KEYS = 4096  # rate limits remembered; the oldest go first


@dataclass(frozen=True)
class Session:
    """One browser. `paired`: it has typed a code that was shown in the terminal."""

    id: str
    paired: bool


class Sessions:
    """Cookies that only this run of the server can have made; stopping it ends them all."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._key = secrets.token_bytes(32)

    def begin(self, *, paired: bool = False) -> Session:
        """Return a new session."""
        return Session(secrets.token_urlsafe(18), paired)

    def cookie(self, session: Session) -> str:
        """Return the signed value of the cookie that stands for a session."""
        text = f"{session.id}.{int(session.paired)}.{int(self._clock())}"
        return f"{text}.{self._sign('session', text)}"

    def read(self, cookie: str | None) -> Session | None:
        """Return the session of a cookie; None when it is not ours, changed, or too old."""
        if not cookie or len(cookie) > 200 or not cookie.isascii():
            return None
        text, _, signature = cookie.rpartition(".")
        if not hmac.compare_digest(signature, self._sign("session", text)):
            return None
        name, paired, made = text.split(".")
        if self._clock() - int(made) > SESSION_LIVES_S:
            return None
        return Session(name, paired == "1")

    def token(self, session: Session) -> str:
        """Return what every form of a session must carry."""
        return self._sign("form", session.id)

    def is_token(self, session: Session, given: str) -> bool:
        """Tell whether a form carries the token of its session."""
        return given.isascii() and hmac.compare_digest(given, self.token(session))

    def _sign(self, purpose: str, text: str) -> str:
        return hmac.new(self._key, f"{purpose}:{text}".encode(), hashlib.sha256).hexdigest()


class Pairing:
    """One code at a time: shown in the terminal, used once, soon too old, void after five tries."""

    def __init__(self, clock: Clock, show: Callable[[str], None]) -> None:
        """Take the clock, and what shows a code to whoever sits at the terminal."""
        self._clock, self._show = clock, show
        self._code = ""
        self._made = -CODE_PAUSE_S
        self._tries = 0

    def new_code(self) -> bool:
        """Show a new code, the old one is void; False when the last is too fresh for another."""
        if self._clock() - self._made < CODE_PAUSE_S:
            return False
        self._code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
        self._made, self._tries = self._clock(), 0
        self._show(f"{self._code[:4]} {self._code[4:]}")
        return True

    def use(self, given: str) -> bool:
        """Tell whether this is the code; it is void afterwards, as after too many wrong tries."""
        if not self._code or self._clock() - self._made > CODE_LIVES_S:
            self._code = ""
            return False
        typed = "".join(char for char in given if char in "0123456789")
        if hmac.compare_digest(typed, self._code):
            self._code = ""
            return True
        self._tries += 1
        if self._tries >= CODE_TRIES:
            self._code = ""
        return False


class Rate:
    """So many at once, then so many a second, for each key apart."""

    def __init__(self, clock: Clock, burst: float, per_s: float) -> None:
        self._clock, self._burst, self._per_s = clock, burst, per_s
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def allows(self, key: str) -> bool:
        """Count one for a key; False when it has used up what it may."""
        now = self._clock()
        left, at = self._left.pop(key, (self._burst, now))
        left = min(self._burst, left + (now - at) * self._per_s)
        allowed = left >= 1
        self._left[key] = (left - 1 if allowed else left, now)
        if len(self._left) > _MOST_KEYS:
            self._left.popitem(last=False)
        return allowed

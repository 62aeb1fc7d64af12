"""What the server keeps in memory, all of it bounded: answers to forms, interviews that go on."""

from __future__ import annotations

import asyncio
import secrets
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Generic, Protocol, TypeVar

from trubshoot.interview import Interview, State
from trubshoot.learning.drill import Drill, DrillState
from trubshoot.learning.drill_progress import Record

T = TypeVar("T")

MOST_TOLD = 1000
MOST_TALKS = 400
MOST_TALKS_EACH = 8


class Kept(Generic[T]):
    """A dictionary that forgets its oldest entries."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._items: OrderedDict[str, T] = OrderedDict()

    def get(self, key: str) -> T | None:
        """Return what is kept under a key, which makes it young again."""
        if key in self._items:
            self._items.move_to_end(key)
        return self._items.get(key)

    def put(self, key: str, item: T) -> None:
        """Keep an item."""
        self._items[key] = item
        self._items.move_to_end(key)
        while len(self._items) > self._most:
            self._items.popitem(last=False)

    def drop(self, key: str) -> None:
        """Forget an item."""
        self._items.pop(key, None)

    def items(self) -> list[tuple[str, T]]:
        """Return keys and items, the oldest first."""
        return list(self._items.items())


class Once:
    """A form sent twice, by two taps or by loading the page again, is done once.

    Every form carries a mark of its own; the second sending waits for the answer of the first.
    """

    def __init__(self) -> None:
        self._done: Kept[asyncio.Future[str]] = Kept(MOST_TOLD)

    async def do(self, mark: str, run: Callable[[], Awaitable[str]]) -> str:
        """Return what `run` gives, or gave when the same mark came before.

        Raises: whatever `run` raises; the form may then be sent again.
        """
        if not mark:
            return await run()
        before = self._done.get(mark)
        if before is not None:
            return await asyncio.shield(before)
        future: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        self._done.put(mark, future)
        try:
            answer = await run()
        except BaseException as error:
            self._done.drop(mark)
            if isinstance(error, Exception):
                future.set_exception(error)
                future.exception()  # marks it as seen, whether or not somebody waits
            else:
                future.cancel()
            raise
        future.set_result(answer)
        return answer


@dataclass(frozen=True)
class Told:
    """What a change of the log changed, kept until the page that shows it is loaded.

    fresh: ids of the hazard blocks that are new or worse by it.
    """

    title: str
    lines: tuple[str, ...]
    sentences: tuple[str, ...]
    warnings: tuple[str, ...]
    twin: int
    fresh: frozenset[str]


@dataclass
class Talk:
    """One interview: whose, about which file, and its states; `history[n]` is after n answers."""

    session: str
    file: str | None
    interview: Interview
    began: datetime
    history: list[State] = field(default_factory=lambda: [State()])
    saved: str = ""  # the name of the file that its answers went to

    @property
    def state(self) -> State:
        """Return where it stands."""
        return self.history[-1]


@dataclass
class Practice:
    """One invented case that is being played: whose, and where it stands."""

    session: str
    drill: Drill
    state: DrillState = field(default_factory=DrillState)


class Owned(Protocol):
    """Something that belongs to one browser."""

    @property
    def session(self) -> str:
        """The browser's session."""


Thing = TypeVar("Thing", bound=Owned)


class Store(Generic[Thing]):
    """What goes on in the browsers, each thing seen by its own browser alone."""

    def __init__(self) -> None:
        self._things: Kept[Thing] = Kept(MOST_TALKS)

    def begin(self, thing: Thing) -> str:
        """Keep a new thing and return its id; the oldest of the same browser may go."""
        own = [key for key, _ in self.of(thing.session)]
        for key in own[: max(0, len(own) - MOST_TALKS_EACH + 1)]:
            self._things.drop(key)
        name = secrets.token_urlsafe(12)
        self._things.put(name, thing)
        return name

    def get(self, name: str, session: str) -> Thing | None:
        """Return a thing of this browser; None when it is not there, or somebody else's."""
        thing = self._things.get(name)
        return thing if thing is not None and thing.session == session else None

    def of(self, session: str) -> list[tuple[str, Thing]]:
        """Return the things of a browser, the oldest first."""
        return [(key, thing) for key, thing in self._things.items() if thing.session == session]


class Records(Protocol):
    """Where the records of practice are kept."""

    def read(self) -> tuple[Record, ...]:
        """Return all of them, the oldest first."""

    def add(self, record: Record) -> None:
        """Keep one more; quietly not, when the machine cannot."""


class InMemory:
    """Records that end with the server, the latest of them."""

    def __init__(self) -> None:
        self._records: tuple[Record, ...] = ()

    def read(self) -> tuple[Record, ...]:
        """Return all of them, the oldest first."""
        return self._records

    def add(self, record: Record) -> None:
        """Keep one more; the oldest of very many is forgotten."""
        self._records = (*self._records, record)[-MOST_TOLD:]

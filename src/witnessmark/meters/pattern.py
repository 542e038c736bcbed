"""Regular expressions of a stranger's profile, matched in bounded time.

Python's own engine tries one way after the other: ``([0-9]+)+x`` on 34 digits tries 2^33 of them,
and holds up the whole program meanwhile. Here all ways are followed side by side, one sign after
another (Thompson's construction), so a line costs at most its signs times the expression's steps;
a line that would cost more than a few milliseconds even so is given up, and so is what comes when
many lines together have cost more than a fraction of the time.
Written here rather than refused by its looks, because what backtracks without end and what does
not look alike, and rather than by a library, because the expressions are short and so is this.

What it matches, and what its groups hold, is what Python's ``re`` says with ``re.ASCII``, which
also reads every single sign, set and place: only the ways are followed here. Left out is what
cannot be followed side by side: references to a group, looking ahead or behind, conditions, flags
and what gives nothing back (``a++``, ``(?>a)``).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import NamedTuple

MOST_STEPS = 1000
"""Largest expression, steps, its repeats written out."""
MOST_VISITS = 5000
"""Steps that are looked at for one line, each as often as it is: some ten milliseconds."""
MOST_AT_ONCE = 25_000
"""Steps for all lines that come at once: some sixty milliseconds, or hundreds of lines read by an
expression that fits what a meter sends."""
MOST_A_SECOND = 100_000
"""Steps for all lines of a second, after that: a fourth of the time of one processor."""
_DEEPEST = 20
"""Deepest nesting of groups."""
_LONGEST_TEXT = 2000

_TOKEN = re.compile(
    r"""
    (?P<open>\((?:\?:|\?P<(?P<name>[A-Za-z_][A-Za-z0-9_]*)>)?(?!\?))
    | (?P<close>\))
    | (?P<bar>\|)
    | (?P<repeat>(?:[*+?]|\{(?:[0-9]+(?:,[0-9]*)?|,[0-9]*)\}))(?P<lazy>\??)(?!\+)
    | (?P<place>\^|\$|\\[AZbB])
    | (?P<sign>
        \[\^?\]?(?:\\.|[^\]\\])*\]
        | \\(?:x[0-9A-Fa-f]{2}|u[0-9A-Fa-f]{4}|[^0-9ux])
        | \{(?!(?:[0-9]+(?:,[0-9]*)?|,[0-9]*)\})
        | [^()*+?\\\[{]
    )
    """,
    re.VERBOSE | re.DOTALL,
)


_DOUBTFUL = re.compile(r"(?<=\[)\[|(?<=\[\^)\[|--|&&|~~|\|\|")
"""What Python's engine warns of in a set, on the terminal that the program draws on."""


class PatternRefused(ValueError):
    """Not an expression, or one that is not followed here."""


class PatternTooCostly(Exception):
    """A line leaves an expression more ways than are followed."""


class TooMuchAtOnce(PatternTooCostly):
    """All that came lately does, though a line by itself may not."""


class StepAllowance:
    """How many steps may be looked at for all that one meter sends."""

    def __init__(self) -> None:
        self._left = float(MOST_AT_ONCE)
        self._at: datetime | None = None

    def left(self, at: datetime) -> float:
        """Return how many may be looked at for what came at this time."""
        if self._at is not None:
            grown = MOST_A_SECOND * max(0.0, (at - self._at).total_seconds())
            self._left = min(self._left + grown, MOST_AT_ONCE)
        self._at = at
        return self._left

    def take(self, visits: int) -> None:
        """Take note of how many were looked at."""
        self._left -= visits


class _OverSign(NamedTuple):
    """A step over one sign, or over none at a ``place`` such as the end of a word."""

    test: re.Pattern[str]
    place: bool


class _Split(NamedTuple):
    """Two ways to go on, the first one preferred."""

    first: int
    second: int


class _Save(NamedTuple):
    """A group begins (even slots) or ends (odd ones) here."""

    slot: int


_Instruction = _OverSign | _Split | _Save
_Program = list[_Instruction]
"""Steps whose jumps count from the piece's own first step; it is left past its last."""


class BoundedPattern:
    """An expression that is ready to be matched."""

    def __init__(self, text: str) -> None:
        """Read an expression.

        Raises:
            PatternRefused: when it is none, is too large, or has parts that are not followed here.
        """
        if len(text) > _LONGEST_TEXT:
            raise PatternRefused(f"over {_LONGEST_TEXT} signs")
        try:
            reader = _Reader(text)  # first, for it bounds the nesting
            re.compile(text, re.ASCII)
        except (re.error, OverflowError) as error:
            raise PatternRefused(str(error)) from None
        self.groups: Mapping[str, int] = reader.groups
        self._steps = reader.steps

    def fullmatch(
        self, line: str, came: datetime | None = None, allowance: StepAllowance | None = None
    ) -> dict[str, str | None] | None:
        """Return what the named groups hold where the whole line matches; None where not.

        Of an ``allowance`` it takes what that costs, for a line that ``came`` at this time.

        Raises:
            PatternTooCostly: when that would take too long to tell.
        """
        left = MOST_VISITS if came is None or allowance is None else allowance.left(came)
        slots: tuple[int, ...] = (-1,) * (2 * len(self.groups))
        ways, visits = {0: slots}, 0
        try:
            for at in range(len(line) + 1):
                if visits > left:
                    raise TooMuchAtOnce
                reached, visited = self._reached(ways, line, at)
                visits += visited
                if visits > MOST_VISITS:
                    raise PatternTooCostly
                ways = self._over_sign(reached, line, at) if at < len(line) else reached
                if not ways:
                    return None
        finally:
            if allowance is not None:
                allowance.take(visits)
        found = ways.get(len(self._steps))
        if found is None:
            return None
        ends = {name: found[2 * place : 2 * place + 2] for name, place in self.groups.items()}
        return {name: line[a:b] if b >= 0 else None for name, (a, b) in ends.items()}

    def _over_sign(
        self, ways: dict[int, tuple[int, ...]], line: str, at: int
    ) -> dict[int, tuple[int, ...]]:
        after: dict[int, tuple[int, ...]] = {}
        for place, slots in ways.items():
            step = self._steps[place] if place < len(self._steps) else None
            if isinstance(step, _OverSign) and step.test.match(line, at):
                after.setdefault(place + 1, slots)
        return after

    def _reached(
        self, ways: dict[int, tuple[int, ...]], line: str, at: int
    ) -> tuple[dict[int, tuple[int, ...]], int]:
        """All steps over a sign, and the end, that are reached without one; the preferred first.

        With them comes how many steps were looked at.
        """
        reached: dict[int, tuple[int, ...]] = {}
        seen: set[int] = set()
        todo = list(reversed(ways.items()))
        while todo:
            place, slots = todo.pop()
            if place in seen:
                continue
            seen.add(place)
            step = self._steps[place] if place < len(self._steps) else None
            match step:
                case _Split(first, second):
                    todo += [(second, slots), (first, slots)]
                case _Save(slot):
                    todo.append((place + 1, (*slots[:slot], at, *slots[slot + 1 :])))
                case _OverSign(test, True):
                    if test.match(line, at):
                        todo.append((place + 1, slots))
                case _:
                    reached[place] = slots
        return reached, len(seen)


class _Reader:
    """Reads the text of an expression into steps."""

    def __init__(self, text: str) -> None:
        self.groups: dict[str, int] = {}
        self._text = text
        self._at = 0
        self.steps = self._either(0)
        if self._at < len(text):
            raise PatternRefused("unbalanced parenthesis")

    def _next(self, *kinds: str) -> re.Match[str] | None:
        """Take the next token if it is of one of these kinds."""
        if self._at == len(self._text):
            return None
        token = _TOKEN.match(self._text, self._at)
        if token is None:
            rest = self._text[self._at : self._at + 12]
            raise PatternRefused(f"{rest!r} is not known here")
        if not any(token[kind] for kind in kinds):
            return None
        self._at = token.end()
        return token

    def _either(self, depth: int) -> _Program:
        if depth > _DEEPEST:
            raise PatternRefused(f"groups nested more than {_DEEPEST} deep")
        ways = [self._sequence(depth)]
        while self._next("bar"):
            ways.append(self._sequence(depth))
        piece = ways.pop()
        for way in reversed(ways):
            # the way taken first has to leave past the other
            piece = _joined([_Split(1, len(way) + 2)], way, [_jump(len(piece) + 1)], piece)
        return piece

    def _sequence(self, depth: int) -> _Program:
        piece: _Program = []
        while (one := self._one(depth)) is not None:
            if (times := self._next("repeat")) is not None:
                one = _repeated(one, *_times(times["repeat"]), lazy=bool(times["lazy"]))
            piece = _joined(piece, one)
        return piece

    def _one(self, depth: int) -> _Program | None:
        if token := self._next("place", "sign"):
            if token[0].startswith("[") and (doubtful := _DOUBTFUL.search(token[0], 1)):
                raise PatternRefused(
                    f"a set with {doubtful[0]} will mean something else one day; write "
                    f"{re.escape(doubtful[0])}"
                )
            test = re.compile(token[0], re.ASCII)
            return [_OverSign(test, token["place"] is not None)]
        if token := self._next("open"):
            return self._group(token["name"], depth)
        if self._next("repeat"):
            raise PatternRefused("nothing to repeat")
        return None

    def _group(self, name: str | None, depth: int) -> _Program:
        slot = None
        if name is not None:
            if name in self.groups:
                raise PatternRefused(f"two groups called {name}")
            slot = 2 * self.groups.setdefault(name, len(self.groups))
        piece = self._either(depth + 1)
        if not self._next("close"):
            raise PatternRefused("a group without its end")
        return piece if slot is None else _joined([_Save(slot)], piece, [_Save(slot + 1)])


def _jump(to: int) -> _Split:
    return _Split(to, to)


def _times(text: str) -> tuple[int, int | None]:
    match text:
        case "*":
            return 0, None
        case "+":
            return 1, None
        case "?":
            return 0, 1
    least, comma, most = text[1:-1].partition(",")
    if max(len(least), len(most)) > len(str(MOST_STEPS)):
        raise PatternRefused("repeated too often")
    if not comma:
        return int(least), int(least)
    return int(least or 0), int(most) if most else None


def _repeated(one: _Program, least: int, most: int | None, *, lazy: bool) -> _Program:
    if most is not None and most < least:
        raise PatternRefused("repeated at most less often than at least")
    if len(one) * max(least, most or 0, 1) > MOST_STEPS:
        raise PatternRefused(f"over {MOST_STEPS} steps")
    again = len(one) + 1
    if most is None:
        rest = _joined([_choice(1, again + 1, lazy=lazy)], one, [_jump(-again)])
    else:
        rest = []
        for _ in range(most - least):
            rest = _joined([_choice(1, again + len(rest), lazy=lazy)], one, rest)
    return _joined(*[one] * least, rest)


def _choice(inside: int, past: int, *, lazy: bool) -> _Split:
    return _Split(past, inside) if lazy else _Split(inside, past)


def _joined(*pieces: _Program) -> _Program:
    """Return one piece after the other, the jumps of each counted from where it comes to stand."""
    whole: _Program = []
    for piece in pieces:
        whole += list(_moved(piece, len(whole)))
    if len(whole) > MOST_STEPS:
        raise PatternRefused(f"over {MOST_STEPS} steps")
    return whole


def _moved(piece: _Program, by: int) -> Iterator[_Instruction]:
    for step in piece:
        yield _Split(step.first + by, step.second + by) if isinstance(step, _Split) else step

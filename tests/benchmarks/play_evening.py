"""One pair brought in by somebody who only reads the screen, with a meter whose truth is hidden.

    python tests/benchmarks/play_evening.py [STARTS]

The program runs in tmux, at 80x24 and at 140x45, and once more with a phone of 360x640 on its
page. The meter sends over a pseudo-terminal what a room says in which the cabinets stand somewhere
else than anybody knows. Whoever plays knows nothing but the words that are shown: which shot to
take, which way to push, and at which reading to stop. Hands push in pieces until the number is
within 2 mm, and are 15 % astray in what they do not watch. Printed for each start: readings, pushes
that were asked for, questions, moments at which no shot was named, keys pressed, and how far each
cabinet truly stands off at the end.
"""

from __future__ import annotations

import asyncio
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import numpy as np

from witnessmark.model import AimedAt, Held, Pair, Placement, ShotKind, Side
from witnessmark.store.store import Store
from witnessmark_simulators.room import SimulatedRoom
from witnessmark_simulators.scenario import DEMO_SETUP
from witnessmark_simulators.serial_line import SerialLine

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from browser import Phone

APP = Path(__file__).with_name("phone_app.py")
_SHOT = r"(?P<point>[\w-]+) to (?P<wall>left|right|front|back) wall"
_PROMPT = re.compile(
    rf"(?P<side>Left|Right|left|right) cabinet, shot \d+ of \d+[^:]*: {_SHOT} \(should"
)
_CHECK = re.compile(rf"shoot (?P<side>left|right) {_SHOT}")
_WHILE = r"while you (?P<how>move|turn)[^.]*\. Stop at (?P<stop>\d+) mm"
_WATCH = re.compile(rf"Shoot {_SHOT} {_WHILE}")
_ON_PHONE = re.compile(
    rf"(?:LEFT|RIGHT) {_SHOT} [Ww]hile you (?P<how>move) stop at (?P<stop>\d+) mm"
)
_PHONE_PROMPT = re.compile(rf"(?P<side>LEFT|RIGHT) {_SHOT} ")
_KEEP_ON = re.compile(rf"Keep shooting here {_WHILE}")
_GO_ON = re.compile(rf"Or go on to {_SHOT}")
_MOVED = re.compile(r"(?P<side>Left|Right) cabinet: (?=\d|turn)")
_PUSH = re.compile(
    r"(\d+(?:\.\d+)?) mm (toward|away from) the (left wall|right wall|front wall|seat)"
)
_TURN = re.compile(r"[Tt]urn (in|out) (\d+\.\d+)°")
_MOST = 150
_ASTRAY = 0.15


class Truth:
    """Where the cabinets truly stand, the meter's errors, and hands that push."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        targets = DEMO_SETUP.targets
        assert targets.left is not None
        assert targets.right is not None
        self.stands = {
            side: Placement(*(np.array(msgspec.structs.astuple(target)) + self._astray_start()))
            for side, target in zip(Side, (targets.left, targets.right), strict=True)
        }
        self.zero_mm = self.rng.normal(0.0, 0.5)

    def _astray_start(self) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return self.rng.uniform([-60.0, -60.0, -3.0], [60.0, 60.0, 3.0])

    def reading_mm(self, kind: ShotKind) -> float:
        """What the meter shows."""
        pair = Pair(self.stands[Side.LEFT], self.stands[Side.RIGHT])
        room = SimulatedRoom(DEMO_SETUP.room, DEMO_SETUP.cabinets, DEMO_SETUP.seat, pair)
        return round(room.true_distance(kind) + self.zero_mm + self.rng.normal(0.0, 0.4), 1)

    def push(self, side: Side, *, aside: float = 0.0, back: float = 0.0, turn: float = 0.0) -> None:
        """Move a cabinet: from its side wall, from the front wall, mm, and in, degrees."""
        at = self.stands[side]
        self.stands[side] = Placement(
            at.side_mm + aside, at.setback_mm + back, at.toe_in_deg + turn
        )

    def off(self, side: Side) -> Placement:
        """How far it stands off its target."""
        target = DEMO_SETUP.targets[side]
        assert target is not None
        return self.stands[side].minus(target)


class Told(msgspec.Struct):
    """What the words on the screen ask for now."""

    kind: ShotKind | None = None
    stop_mm: float | None = None
    moves: tuple[tuple[str, float], ...] = ()
    turns: bool = False
    is_question: bool = False
    is_over: bool = False


def kind_of(side: str, point: str, wall: str) -> ShotKind:
    """The shot that is named."""
    return ShotKind(Side(side.lower()), point, AimedAt(wall), Held.CABINET)


def told_by(text: str, held: ShotKind | None) -> Told:
    """Read the screen; ``held`` is the shot at which the meter is held now."""
    if "Both cabinets: " in text:
        return Told(is_over=True)
    if "Shoot again" in text and (asked := re.search(rf"(?P<side>Left|Right) {_SHOT}: read", text)):
        return Told(kind_of(*asked.group("side", "point", "wall")), is_question=True)
    if keep_on := _KEEP_ON.search(text):
        return Told(held, float(keep_on["stop"]), turns=keep_on["how"] == "turn")
    if (watch := _WATCH.search(text) or _ON_PHONE.search(text)) and (moved := _MOVED.search(text)):
        words = text[moved.start() :].partition("Called in")[0]
        moves = [(where + "|" + toward, float(mm)) for mm, where, toward in _PUSH.findall(words)]
        moves += [(way, float(degrees)) for way, degrees in _TURN.findall(words)]
        kind = kind_of(moved["side"], *watch.group("point", "wall"))
        return Told(kind, float(watch["stop"]), tuple(moves), turns=watch["how"] == "turn")
    if prompt := _PROMPT.search(text) or _PHONE_PROMPT.search(text):
        return Told(kind_of(*prompt.group("side", "point", "wall")))
    return Told()


class Evening:
    """Somebody who brings the pair in by what is shown."""

    def __init__(self, truth: Truth, line: SerialLine, seen: Callable[[], str]) -> None:
        self.truth, self.line, self._seen = truth, line, seen
        self.readings = self.pushes = self.questions = self.lost = 0
        self._held: ShotKind | None = None

    def text(self) -> str:
        """What is shown, as one line, once it has stopped to change."""
        text = self._seen()
        while (later := self._seen_later()) != text:
            text = later
        return text

    def _seen_later(self) -> str:
        time.sleep(0.25)
        return self._seen()

    def shoot(self, kind: ShotKind) -> float:
        """Press the meter's button; the number stands on the meter too."""
        self.readings += 1
        self._held = kind
        mm, before = self.truth.reading_mm(kind), self._seen()
        self.line.send(f"{mm / 1000:.4f} m\r\n".encode())
        for _ in range(20):  # a person looks whether it has arrived
            if self._seen() != before:
                break
            time.sleep(0.25)
        return mm

    def play(self) -> bool:
        """Go on until both are said to be in, or nobody would go on."""
        while self.readings < _MOST:
            told = told_by(text := self.text(), self._held)
            if told.is_over:
                return True
            if told.kind is None:
                self.lost += 1
                print(f"  at a loss before: {text}")
                return False
            self.questions += told.is_question
            if told.stop_mm is not None:
                self.watch(told, told.kind, told.stop_mm)
            else:
                self.shoot(told.kind)
        return False

    def watch(self, told: Told, kind: ShotKind, stop_mm: float) -> None:
        """Push in pieces until the number is within 2 mm of where to stop."""
        side, rng = kind.cabinet, self.truth.rng
        if told.moves:  # what is not watched is done first, as well as hands can
            self.pushes += 1
            for way, amount in told.moves[1:]:
                self._push(side, way, amount * rng.normal(1.0, _ASTRAY))
        for _ in range(12):
            off = stop_mm - self.shoot(kind)
            time.sleep(0.3)
            if abs(off) <= 2.0:
                if go_on := _GO_ON.search(self.text()):
                    self.shoot(kind_of(side, *go_on.group("point", "wall")))
                return
            self._toward(side, kind, 0.8 * off, turns=told.turns)

    def _push(self, side: Side, way: str, amount: float) -> None:
        match way:
            case "in" | "out":
                self.truth.push(side, turn=amount if way == "in" else -amount)
            case "toward|front wall" | "away from|seat":
                self.truth.push(side, back=-amount)
            case "away from|front wall" | "toward|seat":
                self.truth.push(side, back=amount)
            case _:
                toward, _, wall = way.partition("|")
                own = wall == f"{side} wall"
                self.truth.push(side, aside=-amount if (toward == "toward") == own else amount)

    def _toward(self, side: Side, kind: ShotKind, change_mm: float, *, turns: bool) -> None:
        """Push so that the number changes by that much."""
        if turns:  # a person sees which way the number goes
            before = self.truth.stands[side]
            exact = SimulatedRoom(
                DEMO_SETUP.room,
                DEMO_SETUP.cabinets,
                DEMO_SETUP.seat,
                Pair(self.truth.stands[Side.LEFT], self.truth.stands[Side.RIGHT]),
            )
            turned = msgspec.structs.replace(before, toe_in_deg=before.toe_in_deg + 0.5)
            slope = (
                exact.moved(side, turned).true_distance(kind) - exact.true_distance(kind)
            ) / 0.5
            self.truth.push(side, turn=change_mm / slope)
        elif kind.to in (AimedAt.FRONT, AimedAt.BACK):
            self.truth.push(side, back=change_mm if kind.to is AimedAt.FRONT else -change_mm)
        else:
            own = kind.to.value == side.value
            self.truth.push(side, aside=change_mm if own else -change_mm)


class Pane:
    """The program in tmux."""

    def __init__(self, columns: int, rows: int, store: Path) -> None:
        self._socket = f"evening{os.getpid()}"
        command = f"{sys.executable} {APP}"
        self._tmux(
            "new-session",
            "-d",
            "-s",
            "t",
            "-x",
            str(columns),
            "-y",
            str(rows),
            "-e",
            f"WITNESSMARK_STORE={store}",
            "-e",
            f"PYTHONPATH={os.environ.get('PYTHONPATH', '')}",
            command,
        )

    def _tmux(self, *arguments: str) -> str:
        return subprocess.run(
            ["tmux", "-L", self._socket, *arguments], capture_output=True, text=True, check=True
        ).stdout

    def seen(self) -> str:
        """The words on it, a blank between any two."""
        return " ".join(self._tmux("capture-pane", "-p", "-t", "t").split())

    def wait_for(self, words: str) -> str:
        """What is shown as soon as these words are."""
        for _ in range(240):
            if words in (text := self.seen()):
                return text
            time.sleep(0.25)
        raise TimeoutError(f"{words!r} was not shown: {text}")

    def press(self, key: str) -> None:
        """Press a key."""
        self._tmux("send-keys", "-t", "t", key)

    def close(self) -> None:
        """End the program."""
        self._tmux("kill-server")


@contextmanager
def opened(columns: int, rows: int) -> Iterator[tuple[Pane, SerialLine, Path]]:
    """The program on a pane of this size, on its live screen, its meter connected."""
    with tempfile.TemporaryDirectory() as folder, SerialLine() as line:
        store = Path(folder) / "store.sqlite3"
        with Store.open(store) as opened_store:
            opened_store.save_setup("Attic", DEMO_SETUP, datetime.now(UTC), {"meter": line.address})
        with closing(Pane(columns, rows, store)) as pane:
            pane.wait_for("is open")
            time.sleep(1.0)
            yield pane, line, Path(folder)


def tell(where: str, truth: Truth, evening: Evening, *, finished: bool) -> None:
    """Print how it went."""
    stands = "; ".join(
        f"{side} {at.side_mm:+.1f} {at.setback_mm:+.1f} mm {at.toe_in_deg:+.2f}°"
        for side, at in ((side, truth.off(side)) for side in Side)
    )
    print(
        f"{where}: {'finished' if finished else 'NOT FINISHED'} after {evening.readings} readings, "
        f"{evening.pushes} nudges, {evening.questions} questions, {evening.lost} times at a loss, "
        f"0 keys; truly off: {stands}",
        flush=True,
    )


def on_a_pane(seed: int, columns: int, rows: int) -> None:
    """Bring the pair in by the terminal."""
    truth = Truth(seed)
    with opened(columns, rows) as (pane, line, _):
        evening = Evening(truth, line, pane.seen)
        tell(f"{columns}x{rows}, start {seed}", truth, evening, finished=evening.play())


def on_a_phone(seed: int) -> None:
    """Bring the pair in by the page alone."""
    truth = Truth(seed)
    with opened(80, 24) as (pane, line, folder):
        pane.press("p")
        found = re.search(r"http://[\w.:/-]+", pane.wait_for("http://"))
        assert found is not None
        with closing(Phone(folder / "profile")) as phone:
            asyncio.run(phone.open(found[0]))

            def seen() -> str:
                words = asyncio.run(phone.run("return document.body.innerText"))
                return " ".join(str(words).split())

            evening = Evening(truth, line, seen)
            tell(f"phone 360x640, start {seed}", truth, evening, finished=evening.play())


if __name__ == "__main__":
    for start in range(int(sys.argv[1]) if len(sys.argv) > 1 else 3):
        on_a_pane(start, 80, 24)
        on_a_pane(start, 140, 45)
        on_a_phone(start)

"""``witnessmark learn``: work out how a meter's bytes are distances, and keep that as a profile."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Sequence
from typing import Self

import click
import msgspec

from witnessmark.cli.keyboard import keyboard_for
from witnessmark.cli.types import LENGTH
from witnessmark.errors import BadInput, TooFewShots
from witnessmark.lengths import Units, format_length, parse_length
from witnessmark.meters.capture import OffersRawFrames, RawFrame
from witnessmark.meters.finding import open_driver
from witnessmark.meters.learning import Learnt, OneMore, Refused, Sample, check_known, learn
from witnessmark.meters.lesson import over_transport, told_error
from witnessmark.meters.listening import Listening, listening_to
from witnessmark.meters.port import MeterError
from witnessmark.meters.profile import Profile
from witnessmark.meters.profile_words import in_words
from witnessmark.meters.profiles import check_profile_name, save_profile

_HOW = """\
Known distances: measure with a tape from a wall to a mark on the floor, then make a second mark a
known step further away. Hold the edge from which the meter measures on the mark, square to the
wall. Never look into the beam."""


class NotLearnt(MeterError):
    """No decoding explains the meter's bytes."""


@click.command("learn")
@click.argument("address")
@click.option(
    "--known",
    "known_mm",
    type=LENGTH,
    multiple=True,
    required=True,
    metavar="LENGTH",
    help="A known distance, such as 1.2m; give two to four.",
)
@click.option("--save", "name", required=True, metavar="NAME", help="The profile's name.")
@click.option("--failed", "shows_failure", is_flag=True, help="Also show one shot that fails.")
@click.option("--streaming", is_flag=True, help="The meter sends all the time.")
def learn_command(
    address: str, known_mm: tuple[float, ...], name: str, shows_failure: bool, streaming: bool
) -> None:
    """Learn to read the meter at ADDRESS from shots at known distances, and keep that as a profile.

    Two known distances often do, three are safer. They have to differ by 100 mm or
    more. Where several decodings explain all shots, one more known distance is asked for; where
    none does, nothing is saved.
    """
    check_profile_name(name)
    check_known(known_mm)
    driver = open_driver(address)
    if not isinstance(driver, OffersRawFrames):
        raise BadInput(f'meter address "{address}": there is nothing to learn here')
    if "profile" in driver.address.options:
        raise BadInput(f'meter address "{address}": leave profile out to learn one')
    lesson = _Lesson(shows_failure=shows_failure, streaming=streaming)
    learnt = asyncio.run(lesson.take(driver, known_mm))
    about = f"Learnt on {driver.clock():%Y-%m-%d} from {lesson.taught} known distances"
    profile = msgspec.structs.replace(learnt.profile, about=about)
    file = save_profile(name, over_transport(profile, driver.transport(learnt.channel)))
    _tell(profile, learnt.notes)
    click.echo(f"saved: {file}")
    joint = "&" if "?" in address else "?"
    click.echo(f'read it with: witnessmark read "{address}{joint}profile={name}"')


def _tell(profile: Profile, notes: tuple[str, ...]) -> None:
    click.echo("learnt:")
    for words in (*in_words(profile), *notes):
        click.echo(f"  {words}")


class _Lesson:
    """Asks for shots, until what they say is clear."""

    def __init__(self, *, shows_failure: bool, streaming: bool) -> None:
        self._shows_failure = shows_failure
        self._streaming = streaming
        self._samples: list[Sample] = []
        self._typed = _Typed()

    @property
    def taught(self) -> int:
        """How many known distances were shown."""
        return len(self._samples)

    async def take(self, driver: OffersRawFrames, known_mm: Sequence[float]) -> Learnt:
        """Open the meter and learn.

        Raises:
            NotLearnt: when no decoding explains every shot.
            TooFewShots: when one more was needed and not given.
            MeterError: when the meter cannot be reached or is gone.
        """
        click.echo(_HOW)
        async with listening_to(driver) as meter:
            with self._typed:
                if not self._streaming:
                    await meter.settle()
                for number, known in enumerate(known_mm, start=1):
                    await self._show(meter, known, f"{number} of {len(known_mm)}")
                failed = await self._fail(meter) if self._shows_failure else ()
                return await self._conclude(meter, failed)

    async def _conclude(self, meter: Listening, failed: tuple[RawFrame, ...]) -> Learnt:
        """What the shots say, with more of them where they say more than one thing."""
        while True:
            match learn(self._samples, failed):
                case Learnt() as learnt:
                    return learnt
                case Refused(why):
                    raise NotLearnt(why)
                case OneMore(why, _, otherwise):
                    known = await self._one_more(
                        why, "leave it at that" if otherwise else "give up"
                    )
                    if known is not None:
                        await self._show(meter, known, "one more")
                    elif otherwise:
                        return otherwise
                    else:
                        raise TooFewShots(why)

    async def _show(self, meter: Listening, known: float, which: str) -> None:
        """Ask for the shot at a known distance, again where the meter itself says it failed."""
        place = format_length(known, Units.TENTH_MM)
        while told := told_error(frames := await self._heard(meter, f"{which}: measure {place}")):
            click.echo(f"  the meter says {told}; once more")
        self._samples.append(Sample(known, frames))

    async def _fail(self, meter: Listening) -> tuple[RawFrame, ...]:
        return await self._heard(meter, "a shot that fails: cover the meter's window, and measure")

    async def _heard(self, meter: Listening, what: str) -> tuple[RawFrame, ...]:
        if self._streaming:
            await self._typed.answer(f"{what}, and press Enter while it does")
            frames = await meter.stretch()
        else:
            click.echo(what)
            frames = await meter.shot()
        click.echo(f"  {sum(len(frame.data) for frame in frames)} bytes")
        return frames

    async def _one_more(self, why: str, end: str) -> float | None:
        """A further known distance from the keyboard; None when there is none."""
        click.echo(why)
        while text := await self._typed.answer(f"one more known distance, or Enter to {end}:"):
            try:
                more = parse_length(text).mm
                check_known([*(sample.known_mm for sample in self._samples), more])
            except BadInput as error:
                click.echo(str(error), err=True)
            else:
                return more
        return None


class _Typed:
    """The lines that are typed, from the first question on until this is left."""

    def __init__(self) -> None:
        self._lines: asyncio.Queue[str | None] = asyncio.Queue()
        self._keyboard = contextlib.ExitStack()
        self._listens = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exc: object) -> None:
        self._keyboard.close()

    def submit(self, line: str) -> None:
        self._lines.put_nowait(line.strip())

    def end(self) -> None:
        self._lines.put_nowait(None)

    async def answer(self, question: str) -> str:
        """What is typed next; nothing when nothing more will be."""
        click.echo(question)
        if not self._listens:
            self._keyboard.enter_context(keyboard_for(self))
            self._listens = True
        line = await self._lines.get()
        if line is None:
            self.end()
        return line or ""

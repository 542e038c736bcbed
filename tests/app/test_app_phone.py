"""The live screen and phones: the code, what is told, what comes back, and the bell."""

from __future__ import annotations

from collections.abc import AsyncGenerator
from contextlib import AsyncExitStack, asynccontextmanager
from pathlib import Path

import pytest
from rehearsed import Rehearsed, rehearse
from sitting import saved_in
from visitor import Visitor

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.screens import phone as phone_screen
from witnessmark.app.screens.live import LiveScreen
from witnessmark.app.screens.phone import PhoneScreen
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.model import Act, Decision
from witnessmark.phone.network import code_lines
from witnessmark.session.workspace import Workspace
from witnessmark.store.store import Store


@pytest.fixture(autouse=True)
def loopback(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """This computer's addresses: nothing of these tests leaves it."""
    addresses = ["127.0.0.1"]
    monkeypatch.setattr(phone_screen, "own_addresses", lambda: addresses)
    return addresses


@asynccontextmanager
async def with_phones(
    store_file: Path, size: tuple[int, int] = (80, 24)
) -> AsyncGenerator[tuple[Rehearsed, Visitor], None]:
    """The live screen, its page being served, the code put away."""
    async with rehearse(store_file, size=size) as person:
        await ask_for_page(person)
        yield person, Visitor(url_of(person))


async def ask_for_page(person: Rehearsed) -> None:
    await person.pilot.press("p")
    await person.until(lambda: "http://" in person.text)
    await person.pilot.press("escape")
    await person.until(lambda: isinstance(person.app.screen, LiveScreen))


def url_of(person: Rehearsed) -> str:
    server = person.app.session.remote.server
    assert server is not None
    return server.url


def commands_in(store_file: Path) -> list[Act]:
    with Store.open(store_file) as store:
        latest = store.latest_round()
        assert latest is not None
        return [one.act for one in store.entries(latest.id) if isinstance(one, Decision)]


@pytest.mark.parametrize("size", [(80, 24), (140, 45)])
async def test_p_shows_code_address_and_caution(store_file: Path, size: tuple[int, int]) -> None:
    async with rehearse(store_file, size=size) as person:
        assert person.app.session.remote.server is None
        await person.pilot.press("p")
        await person.until(lambda: "http://" in person.text)
        assert url_of(person) in person.text
        for told in ("no phones connected", "The page is plain HTTP", "can also decide"):
            assert told in person.text
        for line in code_lines(url_of(person)):
            assert line in person.text


async def test_escape_closes_it_and_the_server_goes_on(store_file: Path) -> None:
    async with with_phones(store_file) as (person, visitor), visitor.socket() as phone:
        await phone.told()
        await person.pilot.press("p")
        await person.until(lambda: "1 phone connected" in person.text)
        assert visitor.token in url_of(person)
        await person.pilot.press("p")
        await person.until(lambda: isinstance(person.app.screen, LiveScreen))
        await person.shoot()


async def test_it_is_switched_off_by_a_key(store_file: Path) -> None:
    async with with_phones(store_file) as (person, visitor):
        async with visitor.socket() as phone:
            await phone.told()
            await person.pilot.press("p")
            await person.until(lambda: "Ctrl+L Stop" in person.text)
            await person.pilot.press("ctrl+l")
            await person.until(lambda: person.app.session.remote.server is None)
            code, why = await phone.ended()
            assert (code, "switched off" in why) == (1001, True)
        await person.until(lambda: isinstance(person.app.screen, LiveScreen))
        with pytest.raises(ConnectionRefusedError):
            await visitor.ask("/")
        await ask_for_page(person)
        assert Visitor(url_of(person)).token != visitor.token


async def test_without_a_network_it_says_so_and_serves_nothing(
    store_file: Path, loopback: list[str]
) -> None:
    loopback.clear()
    async with rehearse(store_file) as person:
        await person.pilot.press("p")
        await person.until(lambda: "no network" in person.text)
        assert person.app.session.remote.server is None
        assert "Ctrl+L Stop" not in person.text
        assert "Ctrl+N Next" not in person.text


async def test_an_address_that_is_not_ours_any_more_is_told(
    store_file: Path, loopback: list[str]
) -> None:
    loopback[:] = ["203.0.113.9"]
    async with rehearse(store_file) as person:
        await person.pilot.press("p")
        await person.until(lambda: "page cannot be opened at 203.0.113.9" in person.text)
        assert person.app.session.remote.server is None


async def test_the_other_addresses_are_offered_in_turn(
    store_file: Path, loopback: list[str]
) -> None:
    loopback[:] = ["127.0.0.1", "203.0.113.9"]
    async with rehearse(store_file) as person:
        await person.pilot.press("p")
        await person.until(lambda: "http://127.0.0.1:" in person.text)
        async with Visitor(url_of(person)).socket() as phone:
            await phone.told()
            await person.pilot.press("ctrl+n")
            assert "another address" in (await phone.ended())[1]
        await person.until(lambda: "cannot be opened at 203.0.113.9" in person.text)
        await person.pilot.press("ctrl+n")
        await person.until(lambda: "http://127.0.0.1:" in person.text)


async def test_a_reading_reaches_a_phone_with_what_follows_from_it(store_file: Path) -> None:
    async with with_phones(store_file) as (person, visitor), visitor.socket() as phone:
        assert (await phone.told()).state.sentence in person.text
        for _ in range(4):
            await person.shoot()
            told = await phone.told()
            while told.state.sentence not in person.text:
                told = await phone.told()
            assert told.sound is not None
        assert told.state.figure == "72 mm"
        assert told.state.meter.link == "meter ready"


async def test_what_is_decided_on_a_phone_is_journaled_and_shown_here(store_file: Path) -> None:
    async with with_phones(store_file) as (person, visitor), visitor.socket() as phone:
        first = await phone.told()
        await phone.send(Act.SKIP, first.seq)
        then = await phone.told_of(lambda state: state.figure == "REAR OUTER")
        assert person.figure == "L REAR OUTER ←"
        assert "Decided on a phone: Skip" in person.live.query_one(MeterLine).text
        assert commands_in(store_file) == [Act.SKIP]
        await phone.send(Act.UNDO, then.seq)
        await phone.told_of(lambda state: state.figure == "FRONT OUTER")
        assert commands_in(store_file) == [Act.SKIP, Act.UNDO]


async def test_phones_are_told_when_the_program_ends(store_file: Path) -> None:
    async with AsyncExitStack() as lines:
        async with with_phones(store_file) as (_, visitor):
            phone = await lines.enter_async_context(visitor.socket())
            await phone.told()
        assert await phone.ended() == (1001, "The program has ended.")


async def test_the_program_can_begin_with_the_code(store_file: Path) -> None:
    async with rehearse(store_file, phone=True) as person:
        await person.until(lambda: isinstance(person.app.screen, PhoneScreen))
        await person.until(lambda: "http://" in person.text)
        await person.pilot.press("escape")
        await person.until(lambda: isinstance(person.app.screen, LiveScreen))


@pytest.fixture
def rung(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How often the bell was rung, at each reading that is looked at."""
    bells: list[int] = [0]

    def bell(_app: WitnessmarkApp) -> None:
        bells[-1] += 1

    monkeypatch.setattr(WitnessmarkApp, "bell", bell)
    return bells


async def test_the_bell_tells_taken_from_questioned(store_file: Path, rung: list[int]) -> None:
    async with rehearse(store_file) as person:
        await person.shoot()
        assert rung == [1]
        rung.append(0)
        await person.press(*"9999", "enter")
        await person.until(lambda: rung[-1] == 3)


async def test_the_bell_can_be_silenced_and_stays_so(store_file: Path, rung: list[int]) -> None:
    async with rehearse(store_file) as person:
        await person.press("z")
        await person.shoot()
        assert rung == [0]
        await person.press("z")
        await person.shoot()
        assert rung == [1]
        await person.press("z")
    saved = saved_in(store_file)
    assert saved is not None
    assert Workspace.of(saved).silent

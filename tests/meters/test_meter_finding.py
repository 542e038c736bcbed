from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from patience import until

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.finding import discover_all, network_host, open_driver
from witnessmark.meters.port import MeterError, MeterUnreachable

WORKING = """
from witnessmark.meters.port import Driver, FoundMeter

class Ping(Driver):
    scheme = "ping"

    async def reports(self):
        yield self.opened("ping")

    @classmethod
    async def discover(cls):
        return [FoundMeter("ping:2", "second"), FoundMeter("ping:1", "first")]
"""

LATE = """
import asyncio
from witnessmark.meters.port import Driver

class Late(Driver):
    scheme = "late"

    async def reports(self):
        yield self.opened()

    @classmethod
    async def discover(cls):
        await asyncio.sleep(60)
"""


class Site:
    """A folder on the import path with installed packages of strangers."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def install(self, scheme: str, target: str, source: str = "") -> None:
        module = target.partition(":")[0]
        (self.folder / f"{module}.py").write_text(source)
        info = self.folder / f"{module}-1.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {module}\nVersion: 1.0\n")
        entry = f"[witnessmark.drivers]\n{scheme} = {target}\n"
        (info / "entry_points.txt").write_text(entry)


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Site:
    monkeypatch.syspath_prepend(str(tmp_path))
    return Site(tmp_path)


@pytest.mark.parametrize("text", ["typed:", "replay:some.txt", "serial:/dev/ttyUSB0"])
def test_our_own_drivers_are_found_by_their_scheme(text: str) -> None:
    driver = open_driver(text)
    assert driver.scheme == text.partition(":")[0]
    assert driver.address.text == text


def test_an_unknown_scheme_names_the_known_ones() -> None:
    with pytest.raises(BadInput, match=r'no "carrier-pigeon:".*replay:, serial:, sim:, typed:'):
        open_driver("carrier-pigeon:home")


@pytest.mark.parametrize("text", ["", "COM3", "/dev/ttyUSB0", ":x", "serial:x?unit", "serial:x?=m"])
def test_what_is_no_address_is_bad_input(text: str) -> None:
    with pytest.raises(BadInput, match="meter address"):
        open_driver(text)


async def test_a_stranger_s_driver_is_found_like_ours(site: Site) -> None:
    site.install("ping", "stranger_ping:Ping", WORKING)
    driver = open_driver("ping:1")
    assert [report.words async for report in driver.reports()] == ["ping"]
    found = [place.address for place in await discover_all()]
    assert [address for address in found if address.startswith("ping:")] == ["ping:1", "ping:2"]


@pytest.mark.parametrize(
    ("source", "reason"),
    [
        ("import no_such_module_anywhere", "ModuleNotFoundError"),
        ("raise RuntimeError('half installed')", "half installed"),
        ("", "AttributeError"),
        ("class Broken: pass", "not a meter driver"),
    ],
)
async def test_a_broken_driver_leaves_the_others_alone(
    site: Site, source: str, reason: str
) -> None:
    module = f"stranger_{reason.replace(' ', '_')}"
    site.install("broken", f"{module}:Broken", source)
    told: list[str] = []
    found = await discover_all(tell=told.append)
    assert "typed:" in [place.address for place in found]
    (about,) = (words for words in told if '"broken:"' in words)
    assert reason in about
    assert open_driver("typed:").scheme == "typed"
    with pytest.raises(MeterUnreachable, match=f'"broken:".*{module}'):
        open_driver("broken:")


async def test_a_driver_that_takes_too_long_is_skipped(site: Site) -> None:
    site.install("late", "stranger_late:Late", LATE)
    told: list[str] = []
    found = await discover_all(within_s=1.0, tell=told.append)
    assert "typed:" in [place.address for place in found]
    assert 'the driver for "late:" found nothing within 1 s' in told


RAISING = """
from witnessmark.meters.port import Driver, FoundMeter

class Raising(Driver):
    scheme = "raising"

    def __init__(self, address, clock):
        raise ValueError("odd options")

    async def reports(self):
        yield self.opened()

    @classmethod
    async def discover(cls):
        return [FoundMeter(None, 7)]
"""


async def test_one_that_fails_on_the_address_or_finds_no_meters_is_told(site: Site) -> None:
    site.install("raising", "raising_driver:Raising", RAISING)
    with pytest.raises(MeterError, match='the driver for "raising:" failed'):
        open_driver("raising:")
    told: list[str] = []
    await discover_all(within_s=5.0, tell=told.append)
    assert any('the driver for "raising:" cannot look for meters' in words for words in told)


async def test_what_a_driver_found_under_no_address_is_told_and_left_out(site: Site) -> None:
    two = WORKING.replace('FoundMeter("ping:2", "second")', 'FoundMeter("Garbage [/]", "second")')
    site.install("ping", "strange_ping:Ping", two)
    told: list[str] = []
    found = await discover_all(tell=told.append)
    assert [one.address for one in found if one.address.startswith(("ping", "Garbage"))] == [
        "ping:1"
    ]
    assert any('"Garbage [/]", which is no address of a meter' in words for words in told)


@pytest.mark.parametrize(
    ("says", "host"),
    [("return ''", ""), ("return 'gate:9'", "gate:9"), ("return 3", "lab"), ("1 / 0", "lab")],
)
def test_a_driver_may_say_whether_it_goes_over_a_network(site: Site, says: str, host: str) -> None:
    own = f"{WORKING}\n    @classmethod\n    def network_host(cls, address):\n        {says}\n"
    site.install("ping", f"strange_{len(says)}_{len(host)}:Ping", own)
    assert network_host(Address.parse("ping:lab")) == host


CLINGS = """
        while True:
            try:
                await asyncio.Event().wait()
            except asyncio.CancelledError:
                pass"""
WAYWARD = """
import asyncio
from witnessmark.meters.port import Driver, FoundMeter

class Wayward(Driver):
    async def reports(self):
        yield self.opened()

    @classmethod
    async def discover(cls):
        {deed}
"""


@pytest.mark.parametrize(
    ("module", "deed", "reason"),
    [
        ("cancelling", "raise asyncio.CancelledError", "CancelledError"),
        (
            "quitting",
            "asyncio.current_task().cancel(); await asyncio.sleep(60)",
            "it cancelled itself",
        ),
        ("leaving", "raise GeneratorExit", "GeneratorExit"),
        ("numbering", "return 7", "TypeError"),
        ("flooding", "return [FoundMeter('x:', 'y')] * 2000", "over 1000"),
        ("ending", "raise StopAsyncIteration", "StopAsyncIteration"),
    ],
)
async def test_whatever_it_does_while_it_looks_is_told(
    site: Site, module: str, deed: str, reason: str
) -> None:
    site.install("wayward", f"{module}_driver:Wayward", WAYWARD.format(deed=deed))
    told: list[str] = []
    found = await discover_all(tell=told.append)
    assert "typed:" in [place.address for place in found]
    (words,) = (one for one in told if '"wayward:"' in one)
    assert reason in words


async def test_one_that_does_not_stop_looking_is_left_behind(site: Site) -> None:
    site.install("clinging", "clinging_driver:Wayward", WAYWARD.format(deed=CLINGS))
    told: list[str] = []
    await discover_all(within_s=0.1, let_go_s=0.01, tell=told.append)
    assert 'the driver for "clinging:" found nothing within 0.1 s' in told
    assert any("did not stop looking for meters within 0.01 s" in words for words in told)
    assert asyncio.all_tasks() == {asyncio.current_task()}


async def test_one_that_does_not_stop_looking_is_told_when_the_program_ends(site: Site) -> None:
    site.install("holding", "holding_driver:Wayward", WAYWARD.format(deed=CLINGS))
    told: list[str] = []
    looking = asyncio.create_task(discover_all(let_go_s=0.01, tell=told.append))
    await until(lambda: any(task.get_name() == "holding: looking" for task in asyncio.all_tasks()))
    await asyncio.sleep(0)  # it waits
    looking.cancel()
    await asyncio.wait({looking})
    assert any('the driver for "holding:" failed (it did not stop' in words for words in told)


def test_one_without_its_scheme_is_not_opened(site: Site) -> None:
    site.install("nameless", "nameless_driver:Wayward", WAYWARD.format(deed="return []"))
    with pytest.raises(MeterError, match=r'"nameless:" failed .*it has no scheme'):
        open_driver("nameless:")

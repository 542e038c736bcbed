"""The page in a real browser of a phone's size: shown, alive, tapped, lost and found again."""

from __future__ import annotations

import asyncio
import re
from contextlib import closing

import msgspec
import pytest
from browser import LARGE, SMALL, Phone
from needs import needs
from on_screen import FRESH, scan, shows
from patience import until
from rounds import AT, Working
from served import Serve, Served

from witnessmark.lengths import Units
from witnessmark.meters.port import Link, LinkState
from witnessmark.model import Act
from witnessmark.phone.admission import Limits
from witnessmark.phone.server import PhoneServer
from witnessmark.phone.state import walk_picture
from witnessmark_simulators.scenario import DEMO_SETUP

pytestmark = needs("browser")

STALE = "document.body.classList.contains('stale')"


async def test_the_address_leads_to_the_page_and_the_token_leaves_it(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    await scan(browser, served)
    state = served.working.state
    assert await browser.text("sentence") == state.sentence
    assert await browser.text("figure") == state.figure == "FRONT OUTER"
    assert (await browser.text("arrow")).startswith("←")
    assert await browser.text("cabinet") == "Left cabinet"
    assert await browser.run("return location.pathname") == "/"
    assert await browser.run("return document.cookie") == ""
    await asyncio.to_thread(browser.driver.refresh)
    await browser.until(f"{FRESH} && {shows('sentence', state.sentence)}")


async def test_nothing_is_asked_of_any_other_computer(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    asked = await browser.run("return performance.getEntries().map((entry) => entry.name)")
    assert isinstance(asked, list)
    elsewhere = f"(?!.*//{served.visitor.authority}/)[a-z]+://"
    assert asked
    assert not [name for name in asked if re.match(elsewhere, name)]


async def test_each_reading_reaches_the_page(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    for _ in range(5):
        served.working.shoot()
        served.show()
        state = served.working.state
        await browser.until(shows("sentence", state.sentence))
        assert (await browser.text("figure")).replace("\n", "") == state.figure
        assert await browser.text("last") == state.meter.last


async def test_every_verdict_is_told_by_word_and_sign(browser: Phone, serve: Serve) -> None:
    served = await serve()
    served.working.shoot(4)
    served.show()
    await scan(browser, served)
    (left, *_) = served.working.state.tables
    said = await browser.run(_ROWS)
    assert isinstance(said, list)
    for row, text in zip(left.rows, said, strict=True):
        assert text.split("\t") == [
            row.name,
            f"{row.measured} ±{row.width}",
            row.off,
            f"{served.working.state.marks[str(row.verdict)]} {row.verdict}",
        ]
    served.working.finish()
    served.show()
    await browser.until(shows("figure", "BOTH IN"))
    assert await browser.run("return document.querySelectorAll('td.in').length") == 10


async def test_the_plan_is_the_drawing_of_the_terminal(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    count = "return document.querySelectorAll('#plan polyline.%s').length"
    assert await browser.run(count % "measured") == 0
    served.working.shoot(4)
    served.show()
    await browser.until("document.querySelectorAll('#plan polyline.measured').length === 2")
    assert await browser.run(count % "wall") == 4
    dashes = "return getComputedStyle(document.querySelector('#plan .target')).strokeDasharray"
    assert await browser.run(dashes) != "none"


async def test_the_walk_foreseen_is_drawn_below_the_plan_and_fits_a_small_phone(
    browser: Phone, serve: Serve
) -> None:
    """Without colour: the height of its steps tells the level. Letters of 10 px or more."""
    served = await serve()
    room = msgspec.structs.replace(DEMO_SETUP.room, height_mm=2500.0)
    walk = walk_picture(msgspec.structs.replace(DEMO_SETUP, room=room))
    served.server.show(msgspec.structs.replace(served.working.state, walk=walk))
    await scan(browser, served)
    rows = "document.querySelectorAll('#walk polyline').length"
    await browser.until(f"{rows} === {walk.count('<polyline')}")
    assert walk.count("<polyline") > 10
    label = "return document.querySelector('#walk').ariaLabel"
    assert await browser.run(label) == served.working.state.words.walk
    box = "document.querySelector('#walk svg').getBoundingClientRect()"
    plan = "document.querySelector('#plan').getBoundingClientRect()"
    assert await browser.run(f"return {box}.right <= innerWidth && {plan}.bottom <= {box}.top")
    heights = await browser.run(
        "return [...document.querySelectorAll('#walk text')]"
        ".map((one) => one.getBoundingClientRect().height)"
    )
    assert isinstance(heights, list)
    assert min(heights) >= 10


async def test_buttons_decide_and_only_what_is_offered(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    assert await browser.run("return document.querySelector('[name=undo]').disabled") is True
    await browser.tap("[name=skip]")
    await browser.until("document.querySelector('[name=skip]').classList.contains('waits')")
    await until_decided(served, Act.SKIP)
    await browser.until(shows("sentence", served.working.state.sentence))
    assert served.working.state.figure == "REAR OUTER"
    await browser.tap("[name=undo]")
    await until_decided(served, Act.UNDO)
    await browser.until(shows("figure", "FRONT OUTER"))


async def until_decided(served: Served, act: Act) -> None:
    await until(lambda: served.decided == [act])
    served.obey()


_TAP_AT = """
const tap = new MouseEvent("click");
Object.defineProperty(tap, "timeStamp", { value: %d });
document.querySelector("[name=skip]").dispatchEvent(tap);
"""


async def test_two_taps_for_one_are_one(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    for at_ms in (1000, 1100):
        await browser.run(_TAP_AT % at_ms)
    await until_decided(served, Act.SKIP)
    await browser.until(shows("figure", "REAR OUTER"))
    await browser.run(_TAP_AT % 1300)  # a new state is shown, which the finger did not mean
    assert await browser.run("return taken < told.seq") is True
    await browser.run(_TAP_AT % 1500)
    await until_decided(served, Act.SKIP)


async def test_a_questioned_reading_brings_its_answers(browser: Phone, serve: Serve) -> None:
    served = await serve()
    served.working.shoot(3)
    served.show()
    await scan(browser, served)
    assert await browser.run("return document.getElementById('answers').hidden") is True
    assert served.working.round.last is not None
    served.working.read(served.working.round.last.reading_mm + 7.0)
    served.show()
    await browser.until("document.querySelectorAll('#answers button').length === 3")
    await browser.tap("[name=there]")
    await until_decided(served, Act.THERE)
    await browser.until("document.getElementById('answers').hidden")
    assert served.working.round.question is None


async def test_a_hold_is_shown_pressed(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    assert await browser.run("return document.querySelector('[name=hold]').ariaPressed") == "false"
    await browser.tap("[name=hold]")
    await until_decided(served, Act.HOLD)
    await browser.until("document.querySelector('[name=hold]').ariaPressed === 'true'")


async def test_a_dropped_socket_is_opened_again_and_what_was_missed_is_shown(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    await scan(browser, served)
    (phone,) = served.server._phones
    phone.transport.abort()
    await browser.until(STALE)
    assert "trying again" in await browser.text("told")
    served.working.shoot()
    served.show()
    await browser.until(f"{FRESH} && {shows('sentence', served.working.state.sentence)}")
    assert await browser.text("told") == ""


async def test_a_line_that_has_gone_silent_is_given_up_for_another(
    browser: Phone, serve: Serve, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after the phone slept: the socket looks open, and nothing comes."""
    served = await serve(Limits(beat_s=0.1))
    await scan(browser, served)
    silent = asyncio.Event()
    tell = PhoneServer._send

    async def mute(server: PhoneServer, phone: object, what: object) -> None:
        if not silent.is_set():
            await tell(server, phone, what)  # type: ignore[arg-type]

    monkeypatch.setattr(PhoneServer, "_send", mute)
    silent.set()
    await browser.until(STALE)
    silent.clear()
    await browser.until(FRESH)


async def test_the_end_is_told_and_nothing_is_tried_any_more(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    await served.server.stop("The program has ended.")
    await browser.until(shows("told", "The program has ended."))
    assert await browser.run("return ended && socket === null") is True


async def test_two_phones_at_once(
    browser: Phone, serve: Serve, tmp_path_factory: pytest.TempPathFactory
) -> None:
    served = await serve()
    with closing(Phone(tmp_path_factory.mktemp("second"), LARGE)) as second:
        for phone in (browser, second):
            await scan(phone, served)
        assert served.server.phones == 2
        await second.tap("[name=skip]")
        await until_decided(served, Act.SKIP)
        for phone in (browser, second):
            await phone.until(shows("figure", "REAR OUTER"))


async def test_one_phone_too_many_is_told_so(browser: Phone, serve: Serve) -> None:
    served = await serve(Limits(phones=1))
    async with served.visitor.socket() as first:
        await first.told()
        await asyncio.to_thread(browser.driver.get, served.server.url)
        await browser.until(shows("told", "Too many phones are connected."))
    await browser.until(FRESH)


async def test_tones_are_played_once_allowed_and_each_once(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    served.working.shoot()
    served.show()
    await browser.until(shows("sentence", served.working.state.sentence))
    assert await browser.run("return notes") == []
    await browser.tap("#sound")
    await browser.until("document.documentElement.dataset.notes === '1'")
    assert await browser.run("return document.getElementById('sound').ariaPressed") == "true"
    await browser.run("notes.length = 0")
    served.working.read(9999.0)
    served.show()
    served.show()
    assert served.working.heard is not None
    tones = served.working.heard.tones
    wanted = len(tones.notes_hz) * tones.times
    await browser.until(f"document.documentElement.dataset.notes === '{wanted}'")
    played = await browser.run("return notes")
    assert isinstance(played, list)
    frequencies, times = zip(*played, strict=True)
    assert frequencies == pytest.approx(tones.notes_hz * tones.times, rel=1e-4)
    strokes = sorted(set(times))
    assert strokes[1] - strokes[0] == pytest.approx(tones.every_s, abs=1e-3)


_ROWS = """
const rows = document.querySelectorAll("table.current tbody tr");
return [...rows].map((row) => row.innerText);
"""
_CUT = """
const cut = (one) => one.checkVisibility() && one.getBoundingClientRect().right > innerWidth + 0.5;
return [...document.querySelectorAll("body *:not(svg *)")].filter(cut).map((one) => one.outerHTML);
"""
_SMALL = """
const boxes = [...document.querySelectorAll("button")].map((one) => one.getBoundingClientRect());
return boxes.filter((one) => one.width < 48 || one.height < 48 || one.bottom > innerHeight).length;
"""
_FINE = """
const fine = (one) => one.checkVisibility() && parseFloat(getComputedStyle(one).fontSize) < 16;
return [...document.querySelectorAll("p, li, th, td, button")].filter(fine).length;
"""
_LETTERS = """
const ground = (node) => getComputedStyle(node).backgroundColor;
const on = (node) => ground(node) === "rgba(0, 0, 0, 0)" ? on(node.parentElement) : ground(node);
const told = "#sentence, #details, #figure, td, th, #last, button:enabled";
return [...document.querySelectorAll(told)].map((one) => [getComputedStyle(one).color, on(one)]);
"""
_SHOT = """
const shot = document.getElementById("shot");
const seen = () => {
  const { top, bottom } = shot.getBoundingClientRect();
  return shot.innerText !== "" && top >= 0 && bottom <= innerHeight;
};
const parts = [seen(), (scrollTo(0, document.body.scrollHeight), seen())];
scrollTo(0, 0);
return parts;
"""
STATES = ("begin", "nudge", "question", "in inches", "done", "no connection")


def in_state(name: str) -> Working:
    """A round in which the page has most to show."""
    in_inches = msgspec.structs.replace(DEMO_SETUP, units=Units.INCH_32)
    working = Working(in_inches if name == "in inches" else DEMO_SETUP)
    if name == "done":
        working.finish()
    elif name != "begin":
        working.shoot(4)
    if name == "question":
        working.read(9999.0)
    if name == "no connection":
        working.meter = working.meter.after(Link(LinkState.LOST, "gone", AT, "sim:"))
    return working


@pytest.mark.parametrize("size", [SMALL, LARGE, SMALL[::-1]], ids=["small", "large", "lying"])
async def test_all_has_its_place_and_can_be_hit(
    browser: Phone, serve: Serve, size: tuple[int, int]
) -> None:
    served = await serve()
    browser.resize(size)
    try:
        await scan(browser, served)
        for name in STATES:
            served.working = in_state(name)
            served.show()
            await browser.until(shows("sentence", served.working.state.sentence))
            await browser.until(shows("link", served.working.state.meter.link))
            assert await browser.run("return document.documentElement.scrollWidth") == size[0]
            for nothing in (_CUT, _SMALL, _FINE):
                assert not await browser.run(nothing), name
            if served.working.state.shot is not None:
                assert await browser.run(_SHOT) == [True, True], name
    finally:
        browser.resize(SMALL)


async def test_a_screen_reader_is_told_what_there_is(browser: Phone, serve: Serve) -> None:
    served = await serve()
    served.working.shoot(4)
    served.show()
    await scan(browser, served)
    tree = await asyncio.to_thread(
        browser.driver.execute_cdp_cmd, "Accessibility.getFullAXTree", {}
    )
    spoken = {
        (node["role"]["value"], node.get("name", {}).get("value", ""))
        for node in tree["nodes"]
        if not node.get("ignored")
    }
    state = served.working.state
    assert ("heading", "Left cabinet") in spoken
    assert ("navigation", state.words.decisions) in spoken
    assert ("image", state.words.plan) in spoken
    assert {"banner", "main", "table"} <= {role for role, _ in spoken}
    for button in state.decisions:
        assert ("button", f"{button.label}: {button.explained}") in spoken
    assert ("rowheader", "setback") in spoken
    live = "return document.getElementById('sentence').ariaLive"
    assert await browser.run(live) == "assertive"


@pytest.mark.parametrize("light", [False, True])
async def test_letters_stand_out_from_their_ground_in_both_schemes(
    browser: Phone, serve: Serve, light: bool
) -> None:
    """WCAG 2.2, 1.4.3: a contrast of 4.5 to 1 at least."""
    served = await serve()
    served.working.shoot(4)
    browser.in_light(light=light)
    await scan(browser, served)
    rows = await browser.run(_LETTERS)
    assert isinstance(rows, list)
    grounds = {ground for _, ground in rows}
    assert all((luminance(ground) > 0.5) == light for ground in grounds)
    for text, ground in rows:
        brighter, darker = sorted((luminance(text), luminance(ground)), reverse=True)
        assert (brighter + 0.05) / (darker + 0.05) >= 4.5, (text, ground)


def luminance(css: str) -> float:
    """Relative luminance of ``rgb(r, g, b)``, WCAG 2.2."""
    parts = [int(part) / 255 for part in css.removeprefix("rgb(").removesuffix(")").split(",")]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

"""What the page says aloud, in which order, and what it drops; and the display that stays on.

The browser's own voice is replaced by a recorder before the page's script runs.
"""

from __future__ import annotations

import json
import re

import pytest
from browser import Phone
from needs import needs
from on_screen import FRESH, scan, shows
from served import Serve, Served

from witnessmark.model import Act

pytestmark = needs("browser")


async def said(phone: Phone, served: Served, words: str) -> None:
    """Wait until something is said, and see that it is the newest."""
    await phone.until(f"spoken.at(-1) === {json.dumps(words)}")
    assert words == served.working.state.spoken.words


async def shown(phone: Phone, served: Served) -> None:
    """Show how the round is, and wait until the page has taken it in."""
    served.show()
    words = json.dumps(served.working.state.spoken.words)
    await phone.until(
        f"{shows('last', served.working.state.meter.last)} && newest.words === {words}"
    )


async def put_on(phone: Phone, seconds: float) -> None:
    """Put the page's clock on."""
    await phone.run(f"skipped_s += {seconds}")


async def test_nothing_is_said_before_the_tap_and_then_the_newest_alone(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    await scan(browser, served)
    for _ in range(2):
        served.working.shoot()
        await shown(browser, served)
    assert await browser.run("return spoken") == []
    assert await browser.text("speak") == "Speak"
    await browser.tap("#speak")
    await said(
        browser, served, "Left. Rear outer to the front wall. Should read one four four three."
    )
    assert await browser.run("return document.getElementById('speak').ariaPressed") == "true"
    assert await browser.run("return [spoken.length, uttering.lang]") == [1, "en"]
    await browser.tap("#speak")
    await browser.until("document.getElementById('speak').ariaPressed === 'false'")
    served.working.shoot()
    await shown(browser, served)
    assert await browser.run("return spoken.length") == 2, "the rest was cut off, nothing followed"


async def test_the_newest_is_said_in_place_of_what_is_not_yet_said(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    served.working.shoot(3)
    served.show()
    await scan(browser, served)
    await browser.tap("#speak")
    prompt = served.working.state.spoken.words
    await said(browser, served, prompt)
    served.working.read(9999.0)
    served.show()
    question = served.working.state.spoken.words
    assert question.startswith("Question. Left. Rear inner to the front wall. Read nine nine nine")
    await said(browser, served, question)
    await browser.run("finishSaying()")
    served.show()  # a state that is shown again is not said again
    served.working.decide(Act.DROP)
    served.show()
    await said(browser, served, prompt)
    heard = await browser.run("return spoken")
    assert heard == [prompt, f"cut: {prompt}", question, prompt]


async def test_a_number_that_falls_fast_is_said_where_it_rests(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    served.working.decide(Act.HOLD)
    served.show()
    await scan(browser, served)
    await browser.tap("#speak")
    await browser.run("finishSaying(); spoken.length = 0")
    first = "Seventy-five millimetres toward the left wall."
    served.working.read(1290.0)
    served.show()
    await said(browser, served, first)
    await browser.run("finishSaying()")
    for reading_mm in (1280.0, 1262.0, 1245.0, 1231.0):
        served.working.read(reading_mm)
        await shown(browser, served)
    served.working.read(1222.0)
    await shown(browser, served)
    assert await browser.run("return spoken") == [first], "all of them within one breath"
    await put_on(browser, served.working.state.spoken.lasts_s)
    await said(browser, served, "Seven millimetres toward the left wall.")
    assert await browser.run("return spoken.length") == 2


async def test_a_number_waits_for_the_one_before_and_all_else_does_not(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    served.working.decide(Act.HOLD)
    served.working.read(1222.0)
    served.show()
    await scan(browser, served)
    await browser.tap("#speak")
    seven = "Seven millimetres toward the left wall."
    await said(browser, served, seven)
    for reading_mm in (1221.0, 1220.0):  # slowly: it may be said, but not into the one before
        served.working.read(reading_mm)
        await shown(browser, served)
    assert await browser.run("return spoken") == [seven]
    await browser.run("finishSaying()")
    five = "Five millimetres toward the left wall."
    await said(browser, served, five)
    served.working.decide(Act.HOLD)
    served.show()
    prompt = served.working.state.spoken.words
    await said(browser, served, prompt)
    assert await browser.run("return spoken") == [seven, five, f"cut: {five}", prompt]


async def test_a_phone_that_does_not_tell_the_end_is_not_waited_for(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    served.working.decide(Act.HOLD)
    served.working.read(1290.0)
    served.show()
    await scan(browser, served)
    await browser.tap("#speak")
    await said(browser, served, "Seventy-five millimetres toward the left wall.")
    await put_on(browser, 3 * served.working.state.spoken.lasts_s)
    served.working.read(1222.0)
    served.show()
    await said(browser, served, "Seven millimetres toward the left wall.")


_POLICY = "return waits({ lasts_s: 2, changing: %s }, null, %s, 10)"


@pytest.mark.parametrize(
    ("passed", "waits"),
    [
        ([], False),
        ([(10.0, 72.0)], False),
        ([(6.0, 90.0), (8.0, 80.0), (10.0, 72.0)], False),  # each can be said before the next
        ([(9.0, 76.0), (10.0, 72.0)], True),
        ([(8.1, 75.0), (9.0, 74.0), (10.0, 72.0)], False),  # as slow as the tolerance allows
        ([(8.1, 75.5), (9.0, 74.0), (10.0, 72.0)], True),
        ([(9.0, 72.0), (9.5, 60.0), (10.0, 72.0)], True),  # back where it was, but on its way
    ],
)
async def test_a_number_is_said_when_it_changes_no_faster_than_that_lasts(
    browser: Phone, serve: Serve, passed: list[tuple[float, float]], waits: bool
) -> None:
    await scan(browser, await serve()) if not passed else None
    numbers = json.dumps([{"at_s": at_s, "value": value} for at_s, value in passed])
    assert await browser.run(_POLICY % ("{ now: 72, slack: 3 }", numbers)) is waits
    assert await browser.run(_POLICY % ("null", numbers)) is False


async def test_a_lost_line_and_a_late_tap_are_said(browser: Phone, serve: Serve) -> None:
    served = await serve()
    await scan(browser, served)
    await browser.tap("#speak")
    prompt = served.working.state.spoken.words
    (phone,) = served.server._phones
    phone.transport.abort()
    stale = served.working.state.words.stale
    await browser.until(f"spoken.at(-1) === {json.dumps(prompt)} && spoken.length > 1")
    await browser.until(FRESH)
    assert await browser.run("return spoken") == [
        prompt,
        f"cut: {prompt}",
        stale,
        f"cut: {stale}",
        prompt,
    ]


_VOICES = "voices = [%s]"
_REMOTE = "{ lang: 'en-GB', localService: false }"
_OWN = "{ lang: 'de-DE', localService: true }, { lang: 'en-GB', localService: true }"


async def test_only_a_voice_of_the_phone_itself_speaks(browser: Phone, serve: Serve) -> None:
    """Others send the words to their maker's computers."""
    served = await serve()
    with browser.begins_with(_VOICES % _REMOTE):
        await scan(browser, served)
        assert await browser.run("return document.getElementById('speak').hidden") is True
    with browser.begins_with(_VOICES % f"{_REMOTE}, {_OWN}"):
        await scan(browser, served)
        assert await browser.run("return document.getElementById('speak').hidden") is False
        assert await browser.run("return voice() === voices[2]") is True


_PLAIN = "delete Navigator.prototype.wakeLock;"
_NO_FILM = "delete HTMLCanvasElement.prototype.captureStream;"


async def test_a_film_of_its_own_keeps_the_display_on_over_plain_http(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    with browser.begins_with(_PLAIN):
        await scan(browser, served)
        await browser.until(
            "document.querySelector('video') && !film.paused && film.videoWidth > 0"
        )
        assert await browser.run("return [film.muted, film.src, awake]") == [True, "", True]
        assert await browser.run("return document.getElementById('awake').hidden") is True
        box = "const { width, height } = film.getBoundingClientRect(); return [width, height]"
        # what a browser does not see large enough keeps no display on
        assert await browser.run(box) == [360, 640]
        asked = await browser.run("return performance.getEntries().map((entry) => entry.name)")
        assert isinstance(asked, list)
        elsewhere = f"(?!.*//{served.visitor.authority}/)[a-z]+://"
        assert not [name for name in asked if re.match(elsewhere, name)]


async def test_where_nothing_keeps_the_display_on_the_page_says_so(
    browser: Phone, serve: Serve
) -> None:
    served = await serve()
    for hindered in (_NO_FILM, "window.GestureEvent = class {};"):
        with browser.begins_with(_PLAIN + hindered):
            await scan(browser, served)
            await browser.until("!document.getElementById('awake').hidden")
            assert await browser.text("awake") == served.working.state.words.sleeps

"""The protocol, against the real server on loopback: what is let in, refused and dropped."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import hashlib
import re
import socket

import msgspec
import pytest
from patience import HUNG_S, until
from served import Serve
from strange import STEERS, strange
from visitor import HOST, Visitor
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.server import ServerProtocol

from witnessmark.model import Act
from witnessmark.phone.admission import Limits
from witnessmark.phone.state import PhoneState
from witnessmark.sentences import visible_within

SOCKET = {
    "Upgrade": "websocket",
    "Connection": "Upgrade",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": base64.b64encode(bytes(16)).decode(),
}


def with_details(state: PhoneState, *details: str) -> PhoneState:
    return msgspec.structs.replace(state, details=details)


async def test_the_address_on_the_screen_shows_the_page_and_moves_the_token(serve: Serve) -> None:
    served = await serve()
    visitor = served.visitor
    first = await visitor.ask(f"/{visitor.token}")
    assert first.status == 200
    cookie, *flags = first.headers["Set-Cookie"].split("; ")
    assert cookie == visitor.cookie
    assert set(flags) == {"Path=/", "HttpOnly", "SameSite=Strict"}
    assert visitor.token not in first.body
    again = await visitor.ask("/", Cookie=f"other=1; {cookie}")
    assert (again.status, again.body) == (200, first.body)


async def test_the_page_may_run_its_own_script_and_talk_to_its_server_alone(serve: Serve) -> None:
    visitor = (await serve()).visitor
    page = await visitor.ask(f"/{visitor.token}")
    policy = dict(
        rule.split(" ", 1) for rule in page.headers["Content-Security-Policy"].split("; ")
    )
    assert policy["default-src"] == "'none'"
    assert policy["connect-src"] == f"ws://{visitor.authority}"
    for element in ("script", "style"):
        (content,) = re.findall(f"<{element}>(.*?)</{element}>", page.body, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()
        assert policy[f"{element}-src"] == f"'sha256-{digest}'"
    assert page.headers["Referrer-Policy"] == "no-referrer"
    assert page.headers["Cache-Control"] == "no-store"
    assert not any(name.startswith("Access-Control") for name in page.headers)
    assert "Server" not in page.headers


async def test_the_page_is_one_small_file_that_asks_for_nothing_from_elsewhere(
    serve: Serve,
) -> None:
    visitor = (await serve()).visitor
    page = await visitor.ask(f"/{visitor.token}")
    assert len(page.body.encode()) < 60_000
    assert not re.findall(r"https?:|//\w+\.|@import|url\(|<script[^>]+src", page.body)


@pytest.mark.parametrize("path", ["/", "/live", "/wrong-token", "/favicon.ico", "/page.html"])
async def test_without_the_token_nothing_is_shown(serve: Serve, path: str) -> None:
    visitor = (await serve()).visitor
    for headers in ({}, {"Cookie": f"witnessmark-{visitor.port}=guess"}, {"Cookie": "="}):
        answer = await visitor.ask(path, **headers)
        assert answer.status == 403
        assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("path", ["/favicon.ico", "/live/", "//", "/?", "/..", "/page.html"])
async def test_with_the_token_there_is_no_other_path(serve: Serve, path: str) -> None:
    visitor = (await serve()).visitor
    answer = await visitor.ask(path, Cookie=visitor.cookie)
    assert answer.status == 404


@pytest.mark.parametrize("host", ["evil.example", "localhost:{port}", "127.0.0.1", "127.0.0.1:80"])
async def test_a_foreign_host_is_refused_even_with_the_token(serve: Serve, host: str) -> None:
    visitor = (await serve()).visitor
    named = host.format(port=visitor.port)
    for path in ("/", f"/{visitor.token}", "/live"):
        answer = await visitor.ask(path, Host=named, Cookie=visitor.cookie, **SOCKET)
        assert answer.status == 421


async def test_two_hosts_or_none_are_refused(serve: Serve) -> None:
    visitor = (await serve()).visitor
    cookie = f"Cookie: {visitor.cookie}\r\n"
    host = f"Host: {visitor.authority}\r\n"
    for lines in (cookie, host + "Host: evil.example\r\n" + cookie):
        answer = await visitor.send(f"GET / HTTP/1.1\r\n{lines}\r\n".encode())
        assert answer.status == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://{authority}"])
async def test_a_foreign_origin_is_refused_even_with_the_cookie(serve: Serve, origin: str) -> None:
    visitor = (await serve()).visitor
    named = origin.format(authority=visitor.authority)
    answer = await visitor.ask("/live", Origin=named, Cookie=visitor.cookie, **SOCKET)
    assert answer.status == 403


async def test_a_socket_that_names_no_origin_is_refused(serve: Serve) -> None:
    visitor = (await serve()).visitor
    answer = await visitor.ask("/live", Cookie=visitor.cookie, **SOCKET)
    assert answer.status == 404


async def test_a_socket_with_a_wrong_cookie_is_refused(serve: Serve) -> None:
    served = await serve()
    with pytest.raises(InvalidStatus) as refused:
        async with served.visitor.socket(cookie="witnessmark=guess"):
            pass
    assert refused.value.response.status_code == 403


@pytest.mark.parametrize("method", ["POST", "HEAD", "PUT", "OPTIONS"])
async def test_nothing_but_looking_is_answered(serve: Serve, method: str) -> None:
    visitor = (await serve()).visitor
    answer = await visitor.ask("/", method, Cookie=visitor.cookie)
    assert answer.status == 405


async def test_a_good_phone_is_told_the_state_and_each_that_follows(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        first = await phone.told()
        assert first.state == served.working.state
        served.working.shoot()
        served.show()
        then = await phone.told()
        assert then.state == served.working.state
        assert then.seq > first.seq


async def test_the_meter_alone_makes_no_other_state_to_decide_on(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        first = await phone.told()
        served.working.meter = served.working.meter.in_trouble("it could not measure")
        served.show()
        then = await phone.told()
        assert then.state.meter.last == "it could not measure"
        assert then.seq == first.seq


async def test_a_state_is_told_again_after_a_while(serve: Serve) -> None:
    served = await serve(Limits(beat_s=0.02))
    async with served.visitor.socket() as phone:
        assert await phone.told() == await phone.told() == await phone.told()


async def test_each_cue_has_a_number_of_its_own(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        assert (await phone.told()).sound is None
        for number in (1, 2):
            served.working.shoot()
            served.show()
            sound = (await phone.told()).sound
            assert sound is not None
            assert sound.number == number
            assert served.working.heard is not None
            assert sound.tones == served.working.heard.tones


async def test_what_is_decided_on_a_phone_is_handed_on_once(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        seq = (await phone.told()).seq
        await phone.send(Act.SKIP, seq)
        await phone.send(Act.SKIP, seq)
        assert "changed since" in await phone.refused()
        assert served.decided == [Act.SKIP]
        served.obey()
        after = await phone.told()
        assert after.seq > seq
        await phone.send(Act.UNDO, seq)
        assert "changed since" in await phone.refused()
        assert served.decided == []


async def test_a_decision_that_changes_nothing_can_be_taken_again(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        seq = (await phone.told()).seq
        await phone.send(Act.SKIP, seq)
        await until(lambda: served.decided == [Act.SKIP])
        served.show()
        await phone.send(Act.SKIP, (await phone.told()).seq)
        await until(lambda: served.decided == [Act.SKIP, Act.SKIP])


async def test_of_two_phones_that_decide_at_once_one_does(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as one, served.visitor.socket() as other:
        seq = (await one.told()).seq
        assert (await other.told()).seq == seq
        await one.send(Act.SKIP, seq)
        await until(lambda: bool(served.decided))
        await other.send(Act.HOLD, seq)
        assert "changed since" in await other.refused()
        assert served.decided == [Act.SKIP]


@pytest.mark.parametrize("act", [Act.KEEP, Act.BACK, Act.OTHER, Act.MOVED])
async def test_an_act_that_is_not_offered_is_refused(serve: Serve, act: Act) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        await phone.send(act, (await phone.told()).seq)
        assert "not possible now" in await phone.refused()
        assert served.decided == []


@pytest.mark.parametrize(
    "message",
    [
        "",
        "skip",
        "null",
        '{"act": "skip"}',
        '{"act": "launch", "seq": 1}',
        '{"act": "skip", "seq": "1"}',
        '{"act": "skip", "seq": 1, "more": 1}',
        "[" * 200,
        b"\xff\x00",
    ],
)
async def test_what_our_page_would_not_send_ends_the_line(
    serve: Serve, message: str | bytes
) -> None:
    served = await serve()
    async with served.visitor.socket() as bad, served.visitor.socket() as good:
        await bad.connection.send(message)
        assert await bad.ended() == (1008, "That is not a command of this page.")
        assert served.decided == []
        await good.send(Act.SKIP, (await good.told()).seq)
        await until(lambda: served.decided == [Act.SKIP])


async def test_a_message_that_is_too_long_ends_the_line_and_no_other(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as bad, served.visitor.socket() as good:
        await bad.connection.send(" " * 1000)
        assert (await bad.ended())[0] == 1009
        served.working.shoot()
        await good.told()
        served.show()
        assert (await good.told()).state == served.working.state


async def test_a_phone_too_many_is_told_so_and_may_come_once_one_has_gone(serve: Serve) -> None:
    served = await serve(Limits(phones=2))
    async with served.visitor.socket() as first:
        await first.told()
        async with served.visitor.socket() as second:
            await second.told()
            async with served.visitor.socket() as third:
                assert await third.ended() == (1013, "Too many phones are connected.")
            served.working.shoot()
            served.show()
            assert (await second.told()).state == served.working.state
        await until(lambda: served.server.phones == 1)
        async with served.visitor.socket() as third:
            assert (await third.told()).state == served.working.state


async def knock(visitor: Visitor) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    """Begin a request and never end it."""
    reader, writer = await asyncio.open_connection(HOST, visitor.port)
    writer.write(f"GET / HTTP/1.1\r\nHost: {visitor.authority}\r\n".encode())
    return reader, writer


async def hang_up(writer: asyncio.StreamWriter) -> None:
    writer.close()
    with contextlib.suppress(ConnectionError):
        await writer.wait_closed()


async def test_a_request_that_takes_too_long_is_dropped_and_a_good_phone_goes_on(
    serve: Serve,
) -> None:
    served = await serve(Limits(header_s=0.1))
    async with served.visitor.socket() as good:
        await good.told()
        reader, writer = await knock(served.visitor)
        async with asyncio.timeout(HUNG_S):
            assert await dropped(reader)
        await hang_up(writer)
        served.working.shoot()
        served.show()
        assert (await good.told()).state == served.working.state


async def dropped(reader: asyncio.StreamReader) -> bool:
    """Whether the other end broke off without a word."""
    try:
        return await reader.read() == b""
    except ConnectionResetError:
        return True


async def test_who_says_nothing_gives_way_to_who_comes_after(serve: Serve) -> None:
    served = await serve(Limits(lines=3, header_s=60.0, calls_a_second=100.0))
    async with served.visitor.socket() as good:
        await good.told()
        waiting = [await knock(served.visitor) for _ in range(30)]
        async with asyncio.timeout(HUNG_S):
            for reader, _ in waiting[:-2]:
                assert await dropped(reader)
            async with served.visitor.socket() as late:
                assert (await late.told()).state == served.working.state
        served.working.shoot()
        served.show()
        assert (await good.told()).state == served.working.state
        for _, writer in waiting:
            await hang_up(writer)


async def test_of_one_address_only_so_many_lines_wait(serve: Serve) -> None:
    served = await serve(Limits(lines_of_address=2, header_s=60.0))
    waiting = [await knock(served.visitor) for _ in range(4)]
    async with asyncio.timeout(HUNG_S):
        for reader, _ in waiting[:2]:
            assert await dropped(reader)
    assert len(served.server._lines.open) == 2
    for _, writer in waiting:
        await hang_up(writer)


async def test_where_all_lines_are_phones_one_more_is_broken_off(serve: Serve) -> None:
    served = await serve(Limits(lines=1))
    async with served.visitor.socket() as good:
        await good.told()
        reader, writer = await knock(served.visitor)
        async with asyncio.timeout(HUNG_S):
            assert await dropped(reader)
        await hang_up(writer)
        served.working.shoot()
        served.show()
        assert (await good.told()).state == served.working.state


async def test_who_calls_all_the_time_is_not_answered_for_a_while(serve: Serve) -> None:
    served = await serve(Limits(calls_a_second=4.0))
    statuses = [await refusal_of(served.visitor, b"GET / HTTP/1.1\r\n\r\n") for _ in range(12)]
    assert statuses[:4] == [421] * 4
    assert 0 in statuses[4:]


PING = b"\x89\x80mask"
"""A ping without content, as a client masks it (RFC 6455, 5.2 and 5.5.2)."""


@pytest.mark.parametrize("flood", [PING * 40_000, PING * 400])
async def test_a_phone_that_floods_is_broken_off_and_nothing_is_decoded(
    serve: Serve, monkeypatch: pytest.MonkeyPatch, flood: bytes
) -> None:
    decoded = 0
    decode = ServerProtocol.receive_data

    def count(protocol: ServerProtocol, data: bytes) -> None:
        nonlocal decoded
        decoded = max(decoded, len(data))
        decode(protocol, data)

    served = await serve()
    async with served.visitor.socket() as bad, served.visitor.socket() as good:
        monkeypatch.setattr(ServerProtocol, "receive_data", count)
        bad.connection.transport.write(flood)
        async with asyncio.timeout(HUNG_S):
            await bad.connection.wait_closed()
        assert decoded <= served.server._limits.burst_bytes
        await until(lambda: served.server.phones == 1)
        served.working.shoot()
        served.show()
        await good.told_of(lambda state: state == served.working.state)


async def test_one_that_decides_without_end_on_what_is_past_is_broken_off(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as bad, served.visitor.socket() as good:
        stale = (await bad.told()).seq - 1
        with contextlib.suppress(ConnectionClosed):
            for _ in range(1000):
                await bad.send(Act.SKIP, stale)
        async with asyncio.timeout(HUNG_S):
            await bad.connection.wait_closed()
        await good.send(Act.SKIP, (await good.told()).seq)
        await until(lambda: served.decided == [Act.SKIP])


async def test_a_person_who_taps_as_fast_as_fingers_go_is_not(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        seq = (await phone.told()).seq
        for _ in range(30):
            await phone.send(Act.KEEP, seq)
            assert "not possible now" in await phone.refused()


async def test_headers_without_end_are_dropped(serve: Serve) -> None:
    visitor = (await serve()).visitor
    for head in (b"X: " + b"x" * 20_000, b"X: x\r\n" * 300, b"X: xxxxx\r\n" * 900):
        request = b"GET / HTTP/1.1\r\n" + head + b"\r\n\r\n"
        answer = await asyncio.wait_for(refusal_of(visitor, request), HUNG_S)
        assert answer in {0, 400, 413, 414, 431}


async def refusal_of(visitor: Visitor, request: bytes) -> int:
    try:
        return (await visitor.send(request)).status
    except ConnectionError:
        return 0


async def test_a_phone_that_takes_nothing_is_dropped_and_holds_up_nobody(serve: Serve) -> None:
    served = await serve(Limits(slow_s=0.3))
    visitor = served.visitor
    slow = socket.socket()
    slow.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    slow.setblocking(False)
    async with visitor.socket() as good:
        await good.told()
        await asyncio.get_running_loop().sock_connect(slow, (HOST, visitor.port))
        more = {"Origin": f"http://{visitor.authority}", "Cookie": visitor.cookie} | SOCKET
        head = "".join(f"{name}: {value}\r\n" for name, value in more.items())
        request = f"GET /live HTTP/1.1\r\nHost: {visitor.authority}\r\n{head}\r\n"
        await asyncio.get_running_loop().sock_sendall(slow, request.encode())
        await until(lambda: served.server.phones == 2)
        async with asyncio.timeout(HUNG_S):
            number = 0
            while served.server.phones == 2:
                number += 1
                wanted = with_details(served.working.state, str(number), "x" * 300_000)
                served.server.show(wanted)
                assert (await good.told()).state == wanted
        served.show()
        assert (await good.told()).state == served.working.state
    slow.close()


async def test_signs_that_steer_are_written_out_on_their_way_to_a_phone(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        await phone.told()
        wanted = with_details(served.working.state, "a\x1b[2J\u202eb", "two\nlines")
        served.server.show(wanted)
        told = await phone.told_of(lambda state: "two\nlines" in state.details)
        assert told.state == with_details(wanted, r"a\x1b[2J\u202eb", "two\nlines")
        # whichever of its texts it is, in whatever part of it
        served.server.show(strange(wanted))
        told = await phone.told_of(lambda state: state.cabinet != wanted.cabinet)
        plain = msgspec.to_builtins(strange(wanted))
        assert told.state == msgspec.convert(visible_within(plain), PhoneState)
        assert STEERS.isdisjoint(msgspec.json.encode(told.state).decode())


async def test_a_phone_that_is_gone_is_counted_no_more(serve: Serve) -> None:
    served = await serve()
    async with served.visitor.socket() as phone:
        await phone.told()
        assert served.server.phones == 1
        phone.connection.transport.abort()
        await until(lambda: served.server.phones == 0)


async def test_the_end_is_told_and_does_not_wait_for_those_who_say_nothing(serve: Serve) -> None:
    served = await serve(Limits(header_s=60.0, slow_s=60.0))
    async with served.visitor.socket() as phone, served.visitor.socket() as asleep:
        await phone.told()
        await asleep.told()
        asleep.connection.transport.pause_reading()
        _, writer = await knock(served.visitor)
        async with asyncio.timeout(HUNG_S):
            await served.server.stop("The program has ended.")
        assert await phone.ended() == (1001, "The program has ended.")
        asleep.connection.transport.abort()
        await hang_up(writer)
    with pytest.raises(ConnectionRefusedError):
        await served.visitor.ask("/")


async def test_it_listens_on_the_one_address_alone(serve: Serve) -> None:
    served = await serve()
    listening = [one.getsockname() for one in served.server._server.sockets]
    assert listening == [(HOST, served.visitor.port)]


async def test_every_start_has_another_token(serve: Serve) -> None:
    one, other = await serve(), await serve()
    assert one.visitor.token != other.visitor.token
    assert len(one.visitor.token) >= 22
    answer = await other.visitor.ask(f"/{one.visitor.token}")
    assert answer.status == 403

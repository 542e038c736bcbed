"""Which of this computer's addresses a phone is sent to."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace

import ifaddr
import pytest
import segno

from witnessmark.phone import network
from witnessmark.phone.network import code_lines


def has(monkeypatch: pytest.MonkeyPatch, *addresses: str, outward: str | None) -> None:
    """Let this computer have these addresses, the default route going out by one of them."""
    found = [SimpleNamespace(ip=ip, is_IPv4=":" not in ip) for ip in addresses]
    monkeypatch.setattr(ifaddr, "get_adapters", lambda: [SimpleNamespace(ips=found)])
    monkeypatch.setattr(network, "_outward", lambda: outward)


@pytest.mark.parametrize(
    ("addresses", "outward", "offered"),
    [
        (["127.0.0.1", "192.168.7.20"], "192.168.7.20", ["192.168.7.20"]),
        (["10.8.0.2", "192.168.7.20"], "192.168.7.20", ["192.168.7.20", "10.8.0.2"]),
        (["10.8.0.2", "192.168.7.20"], None, ["10.8.0.2", "192.168.7.20"]),
        (["127.0.0.1", "169.254.10.9", "fe80::1"], None, []),
        ([], None, []),
    ],
)
def test_the_address_of_the_default_route_comes_first(
    monkeypatch: pytest.MonkeyPatch,
    addresses: Sequence[str],
    outward: str | None,
    offered: Sequence[str],
) -> None:
    has(monkeypatch, *addresses, outward=outward)
    assert network.own_addresses() == offered


def test_this_computers_own_addresses_are_found() -> None:
    assert all(not ip.startswith("127.") for ip in network.own_addresses())


def test_the_code_is_the_address_and_fits_beside_words_on_a_small_terminal() -> None:
    url = "http://192.168.100.200:65535/" + "x" * 22
    lines = code_lines(url)
    assert len(lines) == 17
    assert {len(line) for line in lines} == {33}
    # white blocks are light modules: upper halves in even rows, lower halves in odd ones
    rows = [[sign in halves for sign in line] for line in lines for halves in ("█▀", "█▄")]
    expected = segno.make(url, error="l").matrix_iter(border=2)
    assert [[not dark for dark in row] for row in expected] == rows[:33]

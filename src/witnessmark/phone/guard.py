"""Who may come in: whoever has the token that is in the code, by the address that is in it.

A page from elsewhere that a browser of this network shows must not get in either. Such a one names
another Origin, or, where its own name was made to lead here, another Host; and it has no cookie,
which is sent only with what our own page asks for.
"""

from __future__ import annotations

import enum
import secrets
from collections.abc import Iterator
from http import HTTPStatus

from websockets.datastructures import Headers
from websockets.http11 import Request

_ROOT, _LIVE = "/", "/live"


class Way(enum.Enum):
    """What a request that may come in is for."""

    PAGE = enum.auto()
    SOCKET = enum.auto()


class RequestRefused(Exception):
    """A request that may not come in, with the status that it is answered with."""

    def __init__(self, status: HTTPStatus, why: str) -> None:
        super().__init__(why)
        self.status = status


class Guard:
    """Lets in what comes to ``authority``, an address and a port, with a token of its own."""

    def __init__(self, authority: str) -> None:
        self.authority = authority
        self._token = secrets.token_urlsafe(16)
        # a cookie is sent to all ports of an address, and must not meet that of another program
        self._name = f"witnessmark-{authority.rpartition(':')[2]}"

    @property
    def url(self) -> str:
        """Where the page is, with the token."""
        return f"http://{self.authority}/{self._token}"

    @property
    def cookie(self) -> str:
        """The header that moves the token from the address into a cookie."""
        return f"{self._name}={self._token}; Path=/; HttpOnly; SameSite=Strict"

    def admit(self, request: Request) -> Way:
        """Return what a request is for.

        Raises:
            RequestRefused: when it may not come in.
        """
        headers, path = request.headers, request.path
        if headers.get_all("Host") != [self.authority]:
            raise RequestRefused(
                HTTPStatus.MISDIRECTED_REQUEST, "This is not the address on the screen."
            )
        origins = headers.get_all("Origin")
        if any(origin != f"http://{self.authority}" for origin in origins):
            raise RequestRefused(HTTPStatus.FORBIDDEN, ("Requests from another page are refused."))
        if request.method != "GET":
            raise RequestRefused(
                HTTPStatus.METHOD_NOT_ALLOWED, ("This page only answers GET requests.")
            )
        by_token = self._is_token(path.removeprefix(_ROOT))
        if not by_token and not any(map(self._is_token, self._tokens(headers))):
            raise RequestRefused(
                HTTPStatus.FORBIDDEN, "Scan the code on the computer's screen again."
            )
        if by_token or path == _ROOT:
            return Way.PAGE
        if path == _LIVE and origins:
            return Way.SOCKET
        raise RequestRefused(HTTPStatus.NOT_FOUND, "There is nothing here.")

    def _tokens(self, headers: Headers) -> Iterator[str]:
        """The values of our cookie."""
        for header in headers.get_all("Cookie"):
            for pair in header.split(";"):
                name, _, value = pair.strip().partition("=")
                if name == self._name:
                    yield value

    def _is_token(self, text: str) -> bool:
        return secrets.compare_digest(text.encode(), self._token.encode())

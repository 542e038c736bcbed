"""The page's file, and the headers that keep it to itself."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from http import HTTPStatus
from pathlib import Path

from websockets.datastructures import Headers
from websockets.http11 import Response

_FILE = Path(__file__).with_name("page.html")


def page_response(authority: str, cookie: str) -> Response:
    """The page, which may run its own script and style and talk to ``authority`` alone."""
    html = _html()
    policy = (
        f"default-src 'none'; script-src {_hash(html, 'script')}; "
        f"style-src {_hash(html, 'style')}; connect-src ws://{authority}; img-src data:; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    return response(HTTPStatus.OK, html, "text/html", policy, cookie)


def response(
    status: HTTPStatus,
    text: str,
    kind: str = "text/plain",
    policy: str = "default-src 'none'",
    cookie: str | None = None,
) -> Response:
    """An answer that is kept nowhere and tells no other site where it came from."""
    body = text.encode()
    headers = Headers(
        {
            "Content-Type": f"{kind}; charset=utf-8",
            "Content-Length": str(len(body)),
            "Content-Security-Policy": policy,
            "Referrer-Policy": "no-referrer",
            "X-Content-Type-Options": "nosniff",
            "Cross-Origin-Resource-Policy": "same-origin",
            "Cache-Control": "no-store",
            "Connection": "close",
        }
    )
    if cookie:
        headers["Set-Cookie"] = cookie
    return Response(status.value, status.phrase, headers, body)


@cache
def _html() -> str:
    return _FILE.read_text(encoding="utf-8")


def _hash(html: str, element: str) -> str:
    """The hash by which a policy allows the one ``script`` or ``style`` of the page."""
    found = re.search(f"<{element}>(.*?)</{element}>", html, re.DOTALL)
    assert found is not None  # noqa: S101 - our own file has one of each
    digest = hashlib.sha256(found[1].encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"

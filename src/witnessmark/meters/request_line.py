"""A request in one line, as a person types it: in the way in which profiles write it."""

from __future__ import annotations

import json
import re

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import complaint, printable
from witnessmark.meters.profile import Request
from witnessmark.meters.profile_values import read_value
from witnessmark.nesting import read_toml

_KEY = re.compile(r"\s*(?:text|bytes|every)\s*=")
_PAIRS = re.compile(r"(?:[0-9A-Fa-f]{2}(?:\s+|$))+")


def read_request(line: str) -> Request:
    r"""Return the request that a line is.

    A line that begins with a key of the table is what stands between its braces in a profile, such
    as ``bytes = "10 01"`` or ``text = "take\r\n", every = 2``. Any other line is the text alone,
    with the escapes of a profile.

    Raises:
        BadInput: saying how requests are written.
    """
    quoted = line.replace('"', r"\"")
    table = line if _KEY.match(line) else f'text = "{quoted}"'
    try:
        tables = read_toml(f"request = {{ {table} }}")
    except ValueError:
        raise BadInput(
            f'request "{printable(line)}": write it as in a profile, a text such as take\\r\\n, '
            'or bytes = "10 01"'
        ) from None
    try:
        return msgspec.convert(tables["request"], Request, dec_hook=read_value)
    except msgspec.ValidationError as error:
        raise BadInput(complaint(error, Request, "request")) from None


def doubt_about(request: Request) -> str | None:
    """Return what to ask back of a request that could mean two things; None where it is plain."""
    if _PAIRS.fullmatch(request.text):
        return f'it is sent as a text; bytes are written bytes = "{request.text.strip()}"'
    return None


def write_request(request: Request) -> str:
    """Return a line that ``read_request`` reads as this request."""
    key = "bytes" if request.bytes else "text"
    quoted = json.dumps(request.bytes.hex(" ")) if request.bytes else shown_request(request)
    return f"{key} = {quoted}" + (f", every = {request.every:g}" if request.every else "")


def shown_request(request: Request) -> str:
    """Return the bytes in hexadecimal, or the text in quotation marks with its escapes."""
    if request.bytes:
        return request.bytes.hex(" ")
    # the one sign that JSON leaves as it is and TOML does not allow
    return json.dumps(request.text, ensure_ascii=False).replace("\x7f", r"\u007f")

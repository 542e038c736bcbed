"""A message bus of one's own, apart from the system's (Linux)."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Self

from witnessmark.meters.port import MeterUnreachable

BLUETOOTH = "org.bluez"

_CONFIGURATION = """\
<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <listen>unix:path={socket}</listen>
  <auth>{auth}</auth>
  <policy context="default">
    <allow user="*"/>
    <allow own="*"/>
    <allow send_type="method_call"/>
    <allow send_type="signal"/>
    <allow send_requested_reply="true" send_type="method_return"/>
    <allow send_requested_reply="true" send_type="error"/>
    <allow receive_type="method_call"/>
    <allow receive_type="method_return"/>
    <allow receive_type="error"/>
    <allow receive_type="signal"/>
    {denied}
  </policy>
</busconfig>
"""


class PrivateBus:
    """A ``dbus-daemon`` that runs while this is entered as a context.

    Args:
        lets_in: whether programs may connect at all.
        permits: whether they may use the Bluetooth service.
    """

    def __init__(self, *, lets_in: bool = True, permits: bool = True) -> None:
        self._lets_in = lets_in
        self._permits = permits
        self._socket = Path()
        self._stack = contextlib.ExitStack()

    @property
    def address(self) -> str:
        """What DBUS_SYSTEM_BUS_ADDRESS has to be for programs to take it for the system's bus."""
        return f"unix:path={self._socket}"

    def __enter__(self) -> Self:
        """Start the daemon; it listens once this returns.

        Raises:
            MeterUnreachable: when ``dbus-daemon`` is not installed or does not start.
        """
        program = shutil.which("dbus-daemon")
        if program is None:
            raise MeterUnreachable(
                "simulated Bluetooth needs the program dbus-daemon; install it "
                "(on Debian and Ubuntu: apt-get install dbus)"
            )
        with contextlib.ExitStack() as stack:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="witnessmark-")))
            self._socket, configuration = folder / "bus", folder / "bus.conf"
            configuration.write_text(self._configuration(), "utf-8")
            daemon = subprocess.Popen(  # noqa: S603 - the program is the system's own
                [program, f"--config-file={configuration}", "--nofork", "--print-address=1"],
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
            )
            stack.callback(_end, daemon)
            if not daemon.stdout or not daemon.stdout.readline():
                reason = daemon.communicate()[1].decode(errors="replace").strip()
                raise MeterUnreachable(f"dbus-daemon does not start ({reason})")
            self._stack = stack.pop_all()
        return self

    def __exit__(self, *_exc: object) -> None:
        self._stack.close()

    def _configuration(self) -> str:
        return _CONFIGURATION.format(
            socket=self._socket,
            auth="EXTERNAL" if self._lets_in else "DBUS_COOKIE_SHA1",
            denied="" if self._permits else f'<deny send_destination="{BLUETOOTH}"/>',
        )


def _end(daemon: subprocess.Popen[bytes]) -> None:
    daemon.terminate()
    daemon.communicate()

"""``witnessmark demo``: the app on a simulated room, with a simulated person at the meter."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click


@click.command("demo")
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Seed of the simulation; the same seed gives the same readings.",
)
@click.option("--phone", is_flag=True, help="Show the live screen on a phone as well.")
def demo_command(seed: int, *, phone: bool) -> None:
    """Open the app on a simulated room and meter.

    Space presses the meter's button, n has simulated hands make the nudge. Nothing is kept.
    """
    import numpy as np  # noqa: PLC0415 - slow to import, as are the simulators

    from witnessmark.app import check_terminal, make_app, run_to_its_end  # noqa: PLC0415
    from witnessmark.meters.address import Address  # noqa: PLC0415
    from witnessmark.session.workspace import Workspace  # noqa: PLC0415
    from witnessmark.store.store import Store  # noqa: PLC0415
    from witnessmark_simulators.driver import SimulatedMeter  # noqa: PLC0415
    from witnessmark_simulators.rehearsal_room import RehearsalRoom  # noqa: PLC0415
    from witnessmark_simulators.scenario import demo_scenario  # noqa: PLC0415

    check_terminal()
    rng = np.random.default_rng(seed)
    scenario = demo_scenario(rng)
    room = RehearsalRoom(scenario.person(rng))
    workspace = Workspace.on(scenario.setup, name="Demo room", meter_address="sim:")
    with tempfile.TemporaryDirectory(prefix="witnessmark-demo-") as folder:
        app = make_app(
            Store.open(Path(folder) / "demo.sqlite3"),
            workspace,
            open_driver=lambda text: SimulatedMeter(Address.parse(text), room=room),
            rehearsal=room,
            phone=phone,
        )
        run_to_its_end(app)

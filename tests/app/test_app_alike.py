"""Are left and right alike? Two fields and one key from the first screen."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager

from sitting import Sitting

from witnessmark.app.steps import Aside, Step
from witnessmark.model import Cabinet, Pair, RoomKnown
from witnessmark.session.workspace import Workspace

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]


async def test_a_newcomer_needs_two_fields_and_one_key(sit_down: SitDown) -> None:
    async with sit_down() as sitting:
        assert sitting.is_at(Step.ROOM)
        await sitting.press("ctrl+k")
        assert sitting.is_at(Aside.ALIKE)
        await sitting.type("262")
        await sitting.press("enter")
        assert sitting.is_at(Aside.ALIKE)
        await sitting.type("391")
        await sitting.press("enter")
        assert sitting.is_at(Step.LIVE)
        draft = sitting.app.session.draft
        assert draft.cabinets == Pair(Cabinet(262, 391), Cabinet(262, 391))
        assert (draft.room_known, draft.targets) == (RoomKnown.NOTHING, Pair(None, None))
        await sitting.press("r")
        assert sitting.is_at(Step.ROOM)
        assert sitting.field("width").value is None


async def test_where_room_and_sizes_are_known_two_keys_suffice(
    sit_down: SitDown, opening: Workspace
) -> None:
    async with sit_down(opening) as sitting:
        await sitting.press("ctrl+k", "enter")
        assert sitting.is_at(Step.LIVE)
        draft = sitting.app.session.draft
        assert (draft.room, draft.seat) == (opening.draft.room, opening.draft.seat)
        assert draft.targets == Pair(None, None)

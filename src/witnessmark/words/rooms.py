"""What a room is besides its size: out of square, surveyed, open on a side, not bare."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.geometry.verdict import Verdict
from witnessmark.meters.address import Address
from witnessmark.meters.finding import network_host
from witnessmark.model import DatumLine, KeepClear, Room, RoomItem, Seat, Wall, WallOffset
from witnessmark.sentences import listed
from witnessmark.survey.names import SurveyNames

if TYPE_CHECKING:  # numpy is slow to import, and the first screen needs none
    from witnessmark.geometry.adjust import FloatArray
    from witnessmark.survey.squareness import CornerAngle, MirrorGap

_LONGEST = 100
"""Most signs that are shown of what a file holds in place of an address."""
GIVEN_UP = (
    "These corners differ from the surveyed ones: the survey's distances no longer belong to them."
)
SURVEY_DROPPED = "The survey's distances no longer fit these corners and are dropped."
LAYOUT_TO_CHECK = "Check the layout again: its distances count from this line."


def offered_words(address: Address) -> str:
    """Return what the list of meters says of an address that came with the room in a file."""
    return f"from this room's file{_network_words(address)}; Enter uses it"


def not_offered_words(text: str) -> str:
    """Return what is said in place of a meter that is named with the room and has no address."""
    return (
        f'The meter that was saved with this room, "{printable(text, _LONGEST)}", is no address '
        "of a meter. It is not offered."
    )


def offered_notice(text: str) -> str:
    """Return what is said as a room opens that came in a file with the address of a meter."""
    try:
        address = Address.parse(text)
    except BadInput:
        return f"{not_offered_words(text)} Choose your own on the Meter screen."
    named = printable(address.text, _LONGEST)
    return (
        f"This room came in a file that names the meter {named}{_network_words(address)}. It is "
        "not used unless you choose it from the list on the Meter screen."
    )


def _network_words(address: Address) -> str:
    host = printable(network_host(address), _LONGEST)
    return f", over the network at {host}" if host else ""


def room_words(room: Room | None, surveyed: int) -> str:
    """Return how far the room is out of square, and what else is known of it."""
    return "" if room is None else " ".join(_sentences(room, surveyed))


def _sentences(room: Room, surveyed: int) -> Iterator[str]:
    if not room.is_rectangle:
        from witnessmark.survey.squareness import corner_angles  # noqa: PLC0415 - numpy is slow

        over = max(abs(angle.over_deg) for angle in corner_angles(room).values())
        yield f"Out of square by up to {over:.2f}°."
    for wall in room.datum:
        yield f"The {wall} side has a line instead of a wall."
    if room.offsets:
        proud = listed(list(dict.fromkeys(str(offset.wall) for offset in room.offsets)))
        yield f"Boards, radiators or panels: {proud} wall."
    if room.keep_clear:
        yield f"Kept clear: {listed([zone.name for zone in room.keep_clear])}."
    if surveyed:
        yield f"Surveyed distances: {surveyed}."


def entry_words(entry: RoomItem, names: SurveyNames) -> str:
    """Return an entry as it stands in the list."""
    say = names.length
    match entry:
        case DatumLine(wall=wall):
            first, second = (say(end[wall.opposite]) for end in (entry.first, entry.second))
            far = first if first == second else f"{first} to {second}"
            return f"line on the {wall}, {far} from {names.side(wall.opposite)}"
        case WallOffset():
            heights = f"{say(entry.from_height_mm)} to {say(entry.to_height_mm)}"
            return f"{say(entry.proud_mm)} out from {names.side(entry.wall)}, {heights} high"
        case KeepClear():
            (x0, x1), (y0, y1) = entry.reach_mm
            across = f"{say(x0)} to {say(x1)} from the left"
            return f"{entry.name}: {across}, {say(y0)} to {say(y1)} from the front"


def changes(before: Room, after: Room, seat: Seat | None, names: SurveyNames) -> Iterator[str]:
    """Yield what an entry changed beside itself, a sentence each."""
    gone = [offset.wall for offset in before.offsets if offset.wall in after.datum]
    if gone:
        yield f"What stuck out from the {gone[0]} wall is removed with it."
    if seat is None or before.has_corners_of(after):
        return
    front, left = names.length(seat.from_front_mm), names.length(seat.from_left_mm)
    yield (
        f"The seat stays where it is: {front} from {names.side(Wall.FRONT)}, {left} from "
        f"{names.side(Wall.LEFT)}."
    )


def square_sentences(
    room: Room, gap: MirrorGap | None, names: SurveyNames, covariance: FloatArray | None = None
) -> Iterator[str]:
    """Return how far each corner is out of square and if that matters for a pair, as sentences."""
    from witnessmark.survey.squareness import corner_angles  # noqa: PLC0415 - numpy is slow

    for angle in corner_angles(room, covariance).values():
        yield _angle_words(angle, room, names)
    if gap is not None:
        yield _gap_words(gap, names)


def _angle_words(angle: CornerAngle, room: Room, names: SurveyNames) -> str:
    _, beside = angle.corner.walls
    side, length = names.side(beside), names.length(room.side_length_mm(beside))
    if not angle.is_told:
        within = f"{abs(angle.over_deg) + angle.expanded_deg:.2f}°"
        lean = names.length(abs(angle.lean_mm) + angle.expanded_mm)
        return (
            f"The {angle.corner} corner is square as far as the measurement can tell, within "
            f"{within}: {lean} over the {length} of {side}."
        )
    wider, leans = ("wider", "out") if angle.over_deg > 0 else ("narrower", "in")
    over = _with_expanded(f"{abs(angle.over_deg):.2f}°", f"{angle.expanded_deg:.2f}°", angle)
    lean = _with_expanded(names.length(abs(angle.lean_mm)), names.length(angle.expanded_mm), angle)
    return (
        f"The {angle.corner} corner is {over} {wider} than a right angle: {side} leans {leans} "
        f"{lean} over its {length}."
    )


def _with_expanded(value: str, expanded: str, angle: CornerAngle) -> str:
    return f"{value} ± {expanded}" if angle.expanded_deg > 0 else value


def _gap_words(gap: MirrorGap, names: SurveyNames) -> str:
    tolerance = names.length(gap.tolerance_mm)
    pair = f"At a setback of {names.length(gap.setback_mm)} a pair symmetrical about the front wall"
    if gap.verdict is Verdict.IN:
        within = names.length(abs(gap.side_mm) + gap.expanded_mm)
        return (
            f"{pair}'s normal is symmetrical between the side walls too, within {within}: either "
            f"mirror line will do for a tolerance of {tolerance}."
        )
    farther, nearer = ("left", "right") if gap.side_mm > 0 else ("right", "left")
    size = names.length(abs(gap.side_mm))
    if gap.expanded_mm > 0:
        size = f"{size} ± {names.length(gap.expanded_mm)}"
    matters = (
        f"that matters to a tolerance of {tolerance}, so choose the mirror line before the targets"
        if gap.verdict is Verdict.OUT
        else (f"whether that matters to a tolerance of {tolerance} needs more diagonals to tell")
    )
    return (
        f"{pair}'s normal stands {size} farther from {names.side(Wall(farther))} than from "
        f"{names.side(Wall(nearer))}: {matters}."
    )

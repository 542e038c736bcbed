"""A foreseen walk in plain sentences: what differs, and what makes it; never what is good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from witnessmark.acoustics.foresight import (
    DIPS_FROM_HZ,
    DIPS_TO_HZ,
    HEARD_DB,
    AxialOrder,
    LevelDip,
    Levels,
    difference_db,
    third_octaves,
)
from witnessmark.lengths import Units, format_length
from witnessmark.listening.association import Association, Associations, ForeseenFigure
from witnessmark.listening.foreseen import (
    AtOtherSeat,
    DipEnd,
    ForeseenPosition,
    ForeseenWalk,
    SpreadWalk,
)
from witnessmark.model import Side
from witnessmark.sentences import listed, sentence
from witnessmark.words.sound import surface_words

CAVEAT = (
    "This is calculated for an empty rectangle and for cabinets that radiate from a point, equally "
    "in all directions. It shows what differs, not what is good: your ears judge that."
)
MOST_DIPS = 3
"""Most dips of a cabinet that are named, the deepest first."""
_RANGE = f"{DIPS_FROM_HZ:g} to {DIPS_TO_HZ:g} Hz"
MOST_ASSOCIATIONS = 3
"""Most figures that are told beside grades, the strongest first."""
_FIGURES = {
    ForeseenFigure.LOW_BASS: "more bass below 60 Hz is foreseen",
    ForeseenFigure.UPPER_BASS: "more bass from 60 to 200 Hz is foreseen",
    ForeseenFigure.UNEVENNESS: f"the level from {_RANGE} is foreseen more uneven",
    ForeseenFigure.DEEPEST_DIP: f"the deepest dip from {_RANGE} is foreseen deeper",
    ForeseenFigure.APART: "the two cabinets are foreseen to differ more",
}
_ORDER = ("", "first", "second", "third", "fourth")


def absorption_words(absorbed: Mapping[str, float]) -> str:
    """Return how much sound the surfaces were taken to absorb."""
    shares = {name: f"{100 * share:.0f} %" for name, share in absorbed.items()}
    if len(set(shares.values())) == 1:
        return f"Each surface is taken to absorb {next(iter(shares.values()))} of the sound."
    each = listed([f"{surface_words(name)} {share}" for name, share in shares.items()])
    return f"The surfaces are taken to absorb of the sound: {each}."


def skew_words(walk: ForeseenWalk, units: Units) -> Iterator[str]:
    """Say how far the room is from the rectangle that is calculated."""
    scene = walk.foresight.scene
    if not scene.is_rectangle:
        yield (
            "The room is not a rectangle (walls or diagonals differ by "
            f"{format_length(scene.room.out_of_square_mm, units)}): the nearest one is calculated, "
            "so narrow dips may lie elsewhere."
        )
    for wall in scene.room.datum:
        yield f"The {wall} side is a datum line, not a wall: it is calculated as open."


def place_words(position: ForeseenPosition, units: Units) -> str:
    """Return where a position is: its name, setback and spread."""
    return (
        f"{_beginning(position.name)}: baffles "
        f"{format_length(position.setback_mm, units)} from the front wall, "
        f"{format_length(position.spread_mm, units)} apart."
    )


def dip_sentences(walk: ForeseenWalk, position: ForeseenPosition) -> Iterator[str]:
    """Tell the deepest dips of a position and what makes each."""
    for side, who in _cabinets(position):
        yield from (f"{who}: {dip_words(dip, side)}." for dip in _told(walk, position, side))
        yield from _none(walk, position, side, who)


def path_sentences(walk: ForeseenWalk, spread: int, place: int) -> Iterator[str]:
    """Tell the same of a position of the walk, and where each dip moves out of 40 to 200 Hz."""
    position = walk.spreads[spread].positions[place]
    for side, who in _cabinets(position):
        for dip in _told(walk, position, side):
            path = _path(walk, spread, place, side, dip)
            yield f"{who}: {dip_words(dip, side)}{path}."
        yield from _none(walk, position, side, who)


def _cabinets(position: ForeseenPosition) -> Iterator[tuple[Side, str]]:
    """Return the cabinets to speak of, by their names; one where they are alike."""
    if position.is_alike:
        yield Side.LEFT, "Each cabinet"
    else:
        yield from ((side, f"{side.capitalize()} cabinet") for side in Side)


def _told(walk: ForeseenWalk, position: ForeseenPosition, side: Side) -> Sequence[LevelDip]:
    return walk.dips(position, side)[:MOST_DIPS]


def _none(walk: ForeseenWalk, position: ForeseenPosition, side: Side, who: str) -> Iterator[str]:
    if not walk.dips(position, side):
        yield f"{who}: no deep dip from {_RANGE}."


def dip_words(dip: LevelDip, side: Side) -> str:
    """Return a dip and its cause, without full stop."""
    what = f"{-dip.level_db:.0f} dB down at {dip.frequency_hz:.0f} Hz"
    return f"{what}, {_made_by(dip, side)}"


def _made_by(dip: LevelDip, side: Side) -> str:
    if dip.cause is None:
        return "made by no single surface"
    return f"mostly because of {cause_words(dip.cause, side)}"


def cause_words(cause: str | AxialOrder, side: Side) -> str:
    """Return what makes a dip of one cabinet, such as "its own side wall"."""
    if isinstance(cause, AxialOrder):
        return f"the {_ORDER[cause.half_waves]} mode of the {cause.axis.value}"
    if cause == side.value:
        return "its own side wall"
    if cause == side.other.value:
        return "the side wall across the room"
    return f"the {surface_words(cause)}"


def _path(walk: ForeseenWalk, spread: int, place: int, side: Side, dip: LevelDip) -> str:
    """Return where a dip goes, as an end of its sentence."""
    positions = walk.spreads[spread].positions
    if dip.cause is None or place == len(positions) - 1:
        return ""
    path = walk.dip_path(spread, place, side, dip)
    if path.end is DipEnd.STAYS:
        return f". It stays within {_RANGE} as the pair goes on forward"
    there = positions[path.place].name
    if path.end is DipEnd.FILLED:
        return f". It is no longer deep at {there}"
    edge = f"above {DIPS_TO_HZ:g} Hz" if path.end is DipEnd.ABOVE else f"below {DIPS_FROM_HZ:g} Hz"
    return f". It moves {edge} at {there}"


def change_words(one: ForeseenPosition, other: ForeseenPosition) -> str:
    """Return what another position changes of the pair's level."""
    total, most = _change(one.levels, other.levels)
    if total < HEARD_DB:
        most = f": a slight difference, below {HEARD_DB:g} dB."
    return f"{_beginning(other.name)} differs by {total:.1f} dB on average{most}"


def _change(before: Levels, after: Levels) -> tuple[float, str]:
    """Return by how much the pair's level differs, dB, and where most, as a sentence's end."""
    middles, one = third_octaves(before.pair)
    _, other = third_octaves(after.pair)
    change = other - one
    most = int(abs(change).argmax())
    way = "louder" if change[most] > 0 else "softer"
    end = f", most around {middles[most]:.0f} Hz: {abs(change[most]):.0f} dB {way}."
    return difference_db(one, other), end


def _beginning(words: str) -> str:
    """Return words as the beginning of a sentence."""
    return sentence(words).rstrip(".")


def next_sentences(row: SpreadWalk, place: int) -> Iterator[str]:
    """Tell what the next position changes, where there is one."""
    if place + 1 < len(row.positions):
        yield change_words(row.positions[place], row.positions[place + 1])


def neighbour_words(row: SpreadWalk) -> str:
    """Return which neighbours of a walk differ by less than is heard."""
    names = [one.name for one in row.positions]
    runs = [_run(names[first], names[last]) for first, last in row.slight_runs]
    if not runs:
        return f"Every position differs from the next by {HEARD_DB:g} dB or more on average."
    return (
        f"{_beginning(listed(runs))}: each differs from the next by less than "
        f"{HEARD_DB:g} dB on average, a slight difference."
    )


def _run(first: str, last: str) -> str:
    """Neighbours by their names, such as "stations 3 to 5"."""
    kind, _, number = first.partition(" ")
    return f"{kind}s {number} to {last.removeprefix(kind).strip()}"


def left_out_sentences(walk: ForeseenWalk) -> Iterator[str]:
    """Tell how many positions are not foreseen, and why."""
    count = len(walk.left_out)
    if count:
        which = "position is" if count == 1 else "positions are"
        yield (f"{count} {which} left out: a cabinet would stand outside the room or at the ears.")


def limits_sentences(walk: ForeseenWalk, units: Units) -> Iterator[str]:
    """Tell what the calculation takes for granted and leaves out."""
    yield absorption_words(walk.absorbed)
    yield from skew_words(walk, units)
    yield from left_out_sentences(walk)
    yield CAVEAT


def station_sentences(walk: ForeseenWalk, spread: int, place: int, units: Units) -> Iterator[str]:
    """Tell all of one position: where it is, its dips, where they go, and the next."""
    row = walk.spreads[spread]
    position = row.positions[place]
    yield place_words(position, units)
    yield from path_sentences(walk, spread, place)
    yield from next_sentences(row, place)
    yield from position.obstacles


def seat_sentences(number: int, found: AtOtherSeat, here: ForeseenPosition) -> Sequence[str]:
    """Tell what another seat gets of a position: arrival, level, and how its bass differs."""
    total, most = _change(here.levels, found.levels)
    sound = (
        f"Seat {number}: the left cabinet arrives {_later(found.arrival_us)} and is "
        f"{_louder(found.level_db)}, by the lengths of the paths alone."
    )
    bass = (
        f"Seat {number}: its bass differs from that of the main seat by {total:.1f} dB on "
        f"average{most}"
    )
    return sound, bass


def _later(arrival_us: float) -> str:
    size = f"{abs(arrival_us) / 1000:.2f}"
    if float(size) == 0:
        return "at the same time as the right one"
    return f"{size} ms {'later' if arrival_us > 0 else 'earlier'} than the right one"


def _louder(level_db: float) -> str:
    size = f"{abs(level_db):.1f}"
    if float(size) == 0:
        return "as loud"
    return f"{size} dB {'louder' if level_db > 0 else 'softer'}"


def association_sentences(found: Associations) -> Iterator[str]:
    """Tell which figures go along with which grades, or how many grades that needs."""
    if found.missing:
        more = "position" if found.missing == 1 else "positions"
        yield (
            f"Grade {found.missing} more {more} to compare what you heard with what was foreseen "
            f"({found.positions} graded so far)."
        )
        return
    if not found.found:
        yield (
            f"The {found.positions} graded positions have all the same grades, or the same bass: "
            "there is nothing to compare."
        )
        return
    surely = [one for one in found.found if not one.could_be_chance]
    for one in surely[:MOST_ASSOCIATIONS] or found.found[:1]:
        yield _association(one)
    yield (
        f"Compared over {found.positions} graded positions: {len(found.found)} pairs of a foreseen "
        "figure and a grade, which p allows for. What goes along need not be the cause."
    )


def _association(one: Association) -> str:
    way = "higher" if one.rho > 0 else "lower"
    how = "This could be chance" if one.could_be_chance else "This is unlikely to be chance"
    return (
        f"You graded {one.attribute} {way} where {_FIGURES[one.figure]} (rank correlation "
        f"{one.rho:+.2f}). {how} ({_probability(one.chance)})."
    )


def _probability(chance: float) -> str:
    return "p below 0.001" if chance < 0.001 else f"p = {max(chance, 0.001):.2g}"

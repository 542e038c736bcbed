"""Sound pressure in a rectangular room at low frequencies, by two methods that check each other.

Every wall throws a part ``R`` of the pressure back, at all angles and frequencies alike. The source
is a point that sounds alike in all directions. Pressures are relative to ``exp(-j k r) / r``, so
that in the open the pressure at distance r has the magnitude 1 / r; the time factor is
``exp(j w t)``.

*Image sources* (Allen & Berkley, JASA 65, 943 (1979)) add one delayed copy for each path. They hold
for any R and need more copies the harder the walls are.

The *modal sum* is the same lattice of images in the domain of wave numbers. Along one axis the
images weighted by ``R0 R1`` for each return trip make poles at ``n pi / L + j g`` with
``g = -ln(R0 R1) / 2 L``; about each pole the wave numbers spread as a Lorentz curve of half width g
(Poisson's sum of a series of damped images). For n > 0 the pole itself is what counts. For n = 0
the spread is taken whole: with ``D`` what the other axes leave,

    integral of (g / pi) / (t^2 + g^2) * 1 / (t^2 + D) dt = 1 / (sqrt(D) (sqrt(D) + g)).

A second axis without waves is added up over its spread. Each term is the difference to the same
term at an imaginary wave number, whose own sum is that of a few quickly dying images; so some two
thousand modes are enough near the source, too. It holds while a wave crosses the room several times
before it dies, and costs next to nothing for a further position.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from witnessmark.errors import BadInput
from witnessmark.model.limits import DISTANCE

Floats = NDArray[np.float64]
Pressures = NDArray[np.complex128]

_LEAST_AMPLITUDE: Final = 1e-3
"""Images weaker than this part of the source are usually left out."""
_STEP_RADIANS: Final = 0.3
"""Phase of the highest frequency between two distances on which images are gathered."""
MOST_WAVES: Final = 65_000
"""Most combinations of half waves of which the modal sum is made: those of some 1000 m³."""
_AT_ONCE: Final = 2048
"""Distances whose waves are held at a time."""
_MOST_TRIPS: Final = 60
"""Return trips along one axis after which images end, however hard the walls."""
_LEAST_ABSORPTION: Final = 0.002
"""Sound absorption of a wall that is called rigid, so that a mode stays finite."""
_BEYOND: Final = 2.0
"""Modes are added up to this multiple of the highest frequency asked for."""
_STATIC_PER_M: Final = 3.6
"""The imaginary wave number at which the sum is taken from images, 1/m."""
_STATIC_TRIPS: Final = 2
_SPREAD: Final = np.tan((np.arange(12) + 0.5) / 12 * math.pi - math.pi / 2)
"""Twelve places of a Lorentz curve of half width 1 that each hold the same part of it."""
_LEAST_RETURN: Final = 0.3
"""Part of the pressure that must be left after a return trip for the modal sum to hold."""


class BoxRoom(msgspec.Struct, frozen=True):
    """A rectangular room: its sizes, mm, and how much sound each pair of walls absorbs.

    ``absorptions`` holds, for each size, the sound absorption (part of the energy, 0 to 1) of the
    wall at its beginning and of the wall at its end. A side without a wall absorbs all, 1.

    Raises:
        BadInput: when a size is not above 0, to 100 m, or an absorption lies outside 0 to 1.
    """

    sizes_mm: tuple[float, float, float]
    absorptions: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    speed_m_s: float

    def __post_init__(self) -> None:
        if not all(DISTANCE.admits(size) for size in self.sizes_mm):
            raise BadInput("room: every size must lie above 0, to 100 m")
        for value in itertools.chain(*self.absorptions):
            if not 0 <= value <= 1:
                raise BadInput(f"absorption: {value:g} must lie between 0 (rigid) and 1 (open)")

    @property
    def sizes_m(self) -> Floats:
        """The three sizes, metres."""
        return np.array(self.sizes_mm) / 1000

    @property
    def factors(self) -> Floats:
        """The reflection factors of pressure, 3 x 2: the root of what is not absorbed."""
        kept: Floats = np.sqrt(1 - np.maximum(np.array(self.absorptions), _LEAST_ABSORPTION))
        return kept

    def waves(self, frequencies_hz: ArrayLike) -> Floats:
        """Return the wave numbers of frequencies, 1/m."""
        found: Floats = math.tau * np.asarray(frequencies_hz, dtype=float) / self.speed_m_s
        return found

    @property
    def has_modes(self) -> bool:
        """Whether waves last long enough along all three axes for the modal sum."""
        return all(map(self.rings, range(3)))

    def rings(self, axis: int) -> bool:
        """Return whether a wave crosses the room several times along an axis before it dies."""
        return bool(self.factors[axis].prod() >= _LEAST_RETURN)


def wave_counts(box: BoxRoom, frequencies_hz: ArrayLike) -> tuple[int, int, int]:
    """Return how many numbers of half waves, 0 included, the modal sum tries along each size."""
    most = _BEYOND * float(box.waves(frequencies_hz).max())
    across, along, up = (int(most * size / math.pi) + 1 for size in box.sizes_m.tolist())
    return across, along, up


def image_pressures(
    box: BoxRoom,
    sources_mm: ArrayLike,
    ears_mm: ArrayLike,
    frequencies_hz: ArrayLike,
    *,
    weakest: float = _LEAST_AMPLITUDE,
) -> Pressures:
    """Return the pressure at the ears of each source by image sources, at each frequency.

    The images of a source are gathered on evenly spaced distances, each on the four about it with
    Lagrange's cubic weights, so that the waves to all distances are computed once for all sources.
    With three tenths of a radian between two distances that is true to 2e-4 of each image.

    Args:
        box: the room.
        sources_mm: S sources, three distances each from the walls at the beginning of each size.
        ears_mm: likewise, one.
        frequencies_hz: F frequencies.
        weakest: images weaker than this part of the source are left out.

    Returns:
        S x F complex pressures times one metre.
    """
    waves = box.waves(frequencies_hz)
    step_m = _STEP_RADIANS / float(waves.max())
    ears = _m(ears_mm)
    rows = [
        _gathered(*_images(box, source, ears, weakest), step_m)
        for source in np.atleast_2d(_m(sources_mm))
    ]
    return _added_up(rows, waves, step_m)


def pressures_without_each(
    box: BoxRoom,
    source_mm: ArrayLike,
    ears_mm: ArrayLike,
    frequencies_hz: ArrayLike,
    *,
    weakest: float = _LEAST_AMPLITUDE,
) -> Pressures:
    """Return what ``image_pressures`` finds of one source with each surface taken away in turn.

    Without one surface there are two images along its axis, the source and its image in the surface
    across the room. So the images of the other two axes serve for both surfaces.

    Returns:
        3 x 2 x F: for each axis without the surface at its beginning, and without that at its end.
    """
    waves = box.waves(frequencies_hz)
    step_m = _STEP_RADIANS / float(waves.max())
    source, ears = _m(source_mm), _m(ears_mm)
    along = [_along_axis(box, axis, source, ears, weakest) for axis in range(3)]
    rows = []
    for axis in range(3):
        squares, weights = _combined(along[:axis] + along[axis + 1 :], weakest)
        behind, before = source[axis] - ears[axis], source[axis] + ears[axis]
        at_end = 2 * box.sizes_m[axis] - before
        rows += [
            _gathered(np.sqrt(squares + away**2), weights, step_m)
            for away in (behind, before, at_end)
        ]
    straight, by_first, by_last = _added_up(rows, waves, step_m).reshape(3, 3, -1).swapaxes(0, 1)
    kept = box.factors[:, :, None]
    without: Pressures = np.stack(
        (straight + kept[:, 1] * by_last, straight + kept[:, 0] * by_first), 1
    )
    return without


def _added_up(rows: Sequence[Floats], waves: Floats, step_m: float) -> Pressures:
    """The pressures of rows of gathered images at each wave number."""
    gathered = np.zeros((len(rows), max(map(len, rows))))
    for whole, row in zip(gathered, rows, strict=True):
        whole[: len(row)] = row

    found = np.zeros((len(rows), len(waves)), dtype=complex)
    first = np.exp(-1j * np.multiply.outer(np.arange(_AT_ONCE) * step_m, waves))
    for begun in range(0, gathered.shape[1], _AT_ONCE):
        some = gathered[:, begun : begun + _AT_ONCE]
        turned = np.exp(-1j * waves * (begun - 1) * step_m)
        found += (some @ first[: some.shape[1]]) * turned
    return found


def _gathered(away_m: Floats, weights: Floats, step_m: float) -> Floats:
    """The pressures of images on every step of distance, the first one step before the source."""
    steps = away_m / step_m
    before = steps.astype(int)
    t = steps - before
    shares = (
        t * (t - 1) * (2 - t) / 6,
        (t + 1) * (t - 1) * (t - 2) / 2,
        (t + 1) * t * (2 - t) / 2,
        (t + 1) * t * (t - 1) / 6,
    )
    loud = weights / away_m
    places = np.concatenate([before + place for place in range(4)])
    return np.bincount(places, np.concatenate([loud * share for share in shares])).astype(float)


def _images(
    box: BoxRoom, source_m: Floats, ears_m: Floats, weakest: float
) -> tuple[Floats, Floats]:
    """Distances, m, and weights of all images that are strong enough."""
    along = [_along_axis(box, axis, source_m, ears_m, weakest) for axis in range(3)]
    squares, weights = _combined(along, weakest)
    return np.sqrt(squares), weights


def _along_axis(
    box: BoxRoom, axis: int, source_m: Floats, ears_m: Floats, weakest: float
) -> tuple[Floats, Floats]:
    """The images along one axis as ``_along``, as many as may be strong enough."""
    source, ears = source_m[axis], ears_m[axis]
    trip = float(box.factors[axis].prod())
    trips = math.ceil(math.log(weakest) / math.log(max(trip, 1e-9))) + 1
    return _along(box, axis, source - ears, source + ears, min(trips, _MOST_TRIPS))


def _combined(along: Sequence[tuple[Floats, Floats]], weakest: float) -> tuple[Floats, Floats]:
    """Squared distances, m2, and weights of images along several axes, where strong enough."""
    squares, weights = np.zeros(1), np.ones(1)
    # no weight is above 1, so what is too weak after two axes stays so, and far fewer are left
    for away, weight in along:
        together = np.multiply.outer(weights, weight)
        strong = together > weakest
        squares, weights = np.add.outer(squares, away**2)[strong], together[strong]
    return squares, weights


def _along(
    box: BoxRoom, axis: int, behind: ArrayLike, before: ArrayLike, trips: int
) -> tuple[Floats, Floats]:
    """Return where the images lie along one axis from the ears, m, and their weights.

    ``behind`` is source minus ears, ``before`` source plus ears (S of each, or one); the results
    have the images on their last axis.
    """
    size, (at_0, at_end) = box.sizes_m[axis], box.factors[axis]
    round_trips = np.arange(-trips, trips + 1)
    behind, before = np.asarray(behind)[..., None], np.asarray(before)[..., None]
    places = (behind + 2 * round_trips * size, -before + 2 * round_trips * size)
    hits = np.abs(round_trips)
    straight, turned = at_0**hits * at_end**hits, at_0 ** np.abs(round_trips - 1) * at_end**hits
    return np.concatenate(places, axis=-1), np.concatenate((straight, turned))


def _m(point_mm: ArrayLike) -> Floats:
    return np.asarray(point_mm, dtype=float) / 1000


class ModalSum:
    """The modal sum of one room at given frequencies: made once, then cheap for any position.

    ``orders`` are the N modes as half waves along each size.
    """

    def __init__(self, box: BoxRoom, frequencies_hz: ArrayLike) -> None:
        """Prepare it; ``frequencies_hz`` are F frequencies above 0."""
        self.box = box
        waves = box.waves(frequencies_hz)
        sizes = box.sizes_m
        most = _BEYOND * float(waves.max())
        orders = np.indices(wave_counts(box, frequencies_hz)).reshape(3, -1).T
        self.orders = orders[((math.pi * orders / sizes) ** 2).sum(axis=1) <= most**2]
        self._widths = -np.log(box.factors.prod(axis=1)) / (2 * sizes)
        self._waves = math.pi * self.orders / sizes + 1j * self._widths
        self._terms = self._resonances(waves**2) - self._resonances(np.array([-(_STATIC_PER_M**2)]))

    def pressures(self, sources_mm: ArrayLike, ears_mm: ArrayLike) -> Pressures:
        """Return the pressure at the ears of each of S sources: S x F, times one metre."""
        sources, ears = np.atleast_2d(_m(sources_mm)), _m(ears_mm)
        found: Pressures = self._shares(sources, ears) @ self._terms.T
        return found + self._static(sources, ears)[:, None]

    def _shares(self, sources: Floats, ears: Floats) -> Pressures:
        """Return how strongly each source drives each mode at the ears, S x N."""
        shares = np.full((len(sources), len(self.orders)), 4 * math.pi / self.box.sizes_m.prod())
        found: Pressures = shares.astype(complex)
        for axis in range(3):
            highest = int(self.orders[:, axis].max())
            half_waves = np.arange(highest + 1)
            wave = math.pi * half_waves / self.box.sizes_m[axis] + 1j * self._widths[axis]
            factor = self.box.factors[axis, 0]

            places = np.append(sources[:, axis], ears[axis])
            phases = 1j * np.multiply.outer(places, wave)
            shapes = (np.exp(phases) + factor * np.exp(-phases)) / (2 * math.sqrt(factor))
            at = 2 * shapes[:-1] * shapes[-1]
            at[:, 0] = 1.0
            found *= at[:, self.orders[:, axis]]
        return found

    def _resonances(self, squares: Floats) -> Pressures:
        """One over what a squared wave number is off each mode's, F x N, spread included."""
        still = self.orders == 0
        own = np.where(still, 0.0, self._waves**2).sum(axis=1)
        # the lossless open air counts as losing a trace, which settles the sign of roots
        off: Pressures = own[None, :] - squares[:, None] + 1e-9j
        found = np.empty_like(off)
        count = still.sum(axis=1)
        found[:, count == 0] = 1 / off[:, count == 0]
        for axes in itertools.chain(itertools.combinations(range(3), 1), ((0, 1), (0, 2), (1, 2))):
            chosen = (count == len(axes)) & still[:, list(axes)].all(axis=1)
            found[:, chosen] = self._spread(off[:, chosen], axes)
        found[:, count == 3] = self._spread(off[:, count == 3], (0, 1, 2))
        return found

    def _spread(self, off: Pressures, still: Sequence[int]) -> Pressures:
        """The same where no waves lie along these axes: one in closed form, the others added up."""
        *summed, last = still
        total: Pressures = off[..., None]
        weight = 1.0
        for axis in summed:
            squares = (self._widths[axis] * _SPREAD) ** 2
            total = (total[..., :, None] + squares).reshape(*off.shape, -1)
            weight /= len(_SPREAD)
        root = np.sqrt(total)
        root = np.where(root.real < 0, -root, root)
        found: Pressures = (weight / (root * (root + self._widths[last]))).sum(axis=-1)
        return found

    def _static(self, sources: Floats, ears: Floats) -> Floats:
        """The sum at the imaginary wave number, by the images nearby, S."""
        axes = [
            _along(
                self.box,
                axis,
                sources[:, axis] - ears[axis],
                sources[:, axis] + ears[axis],
                _STATIC_TRIPS,
            )
            for axis in range(3)
        ]
        (x, wx), (y, wy), (z, wz) = axes
        away = np.sqrt(
            x[:, :, None, None] ** 2 + y[:, None, :, None] ** 2 + z[:, None, None, :] ** 2
        )
        weights = wx[:, None, None] * wy[None, :, None] * wz[None, None, :]
        total: Floats = (weights * np.exp(-_STATIC_PER_M * away) / away).sum(axis=(1, 2, 3))
        return total

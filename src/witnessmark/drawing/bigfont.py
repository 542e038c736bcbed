"""Large figures out of half blocks: our own 7-pixel-high letters, scaled to the space there is."""

from functools import lru_cache

GLYPH_HEIGHT = 7
_GAP = 1

_SHEETS = """
0    1   2    3    4    5    6    7    8    9    -    +
.##. .#. .##. .##. ...# #### .##. #### .##. .##. .... .....
#..# ##. #..# #..# ..## #... #..# ...# #..# #..# .... ..#..
#..# .#. ...# ...# .#.# ###. #... ..#. #..# #..# .... ..#..
#..# .#. ..#. .##. #..# ...# ###. ..#. .##. .### #### #####
#..# .#. .#.. ...# #### ...# #..# .#.. #..# ...# .... ..#..
#..# .#. #... #..# ...# #..# #..# .#.. #..# #..# .... ..#..
.##. ### #### .##. ...# .##. .##. .#.. .##. .##. .... .....

A    B    C    D    E    F    G    H    I   J    K    L    M
.##. ###. .##. ###. #### #### .##. #..# ### ..## #..# #... #...#
#..# #..# #..# #..# #... #... #..# #..# .#. ...# #..# #... ##.##
#..# #..# #... #..# #... #... #... #..# .#. ...# #.#. #... #.#.#
#### ###. #... #..# ###. ###. #.## #### .#. ...# ##.. #... #.#.#
#..# #..# #... #..# #... #... #..# #..# .#. ...# #.#. #... #...#
#..# #..# #..# #..# #... #... #..# #..# .#. #..# #..# #... #...#
#..# ###. .##. ###. #### #... .### #..# ### .##. #..# #### #...#

N     O    P    Q    R    S    T     U    V     W     X     Y     Z
#...# .##. ###. .##. ###. .### ##### #..# #...# #...# #...# #...# ####
##..# #..# #..# #..# #..# #... ..#.. #..# #...# #...# #...# #...# ...#
##..# #..# #..# #..# #..# #... ..#.. #..# #...# #...# .#.#. .#.#. ..#.
#.#.# #..# ###. #..# ###. .##. ..#.. #..# #...# #.#.# ..#.. ..#.. ..#.
#..## #..# #... #..# #.#. ...# ..#.. #..# .#.#. #.#.# .#.#. ..#.. .#..
#..## #..# #... #.#. #..# ...# ..#.. #..# .#.#. ##.## #...# ..#.. #...
#...# .##. #... .#.# #..# ###. ..#.. .##. ..#.. #...# #...# ..#.. ####

c    d    e    f   g    i m     n    o    t   .  ' " /    ?    ! °   ±     %
.... ...# .... .## .... # ..... .... .... .#. .. # #.# ...# .##. # .#. ..#.. ##..#
.... ...# .... .#. .... . ..... .... .... .#. .. # #.# ...# #..# # #.# ..#.. ##.#.
.### .### .##. ### .### # ##.#. ###. .##. ### .. . ... ..#. ...# # .#. ##### ...#.
#... #..# #..# .#. #..# # #.#.# #..# #..# .#. .. . ... .##. ..#. # ... ..#.. ..#..
#... #..# #### .#. .### # #.#.# #..# #..# .#. .. . ... .#.. .#.. # ... ..#.. .#...
#... #..# #... .#. ...# # #.#.# #..# #..# .#. ## . ... #... .... . ... ..... .#.##
.### .### .### .#. .##. # #.#.# #..# .##. .## ## . ... #... .#.. # ... ##### #..##

←         →         ↑       ↓       ↔           ↻       ↺       ✓
...#..... .....#... ...#... ...#... ...#...#... .####.# #.####. ......#
..##..... .....##.. ..###.. ...#... ..##...##.. #....## ##....# .....##
.###..... .....###. .#####. ...#... .###...###. #...### ###...# ....##.
######### ######### ####### ####### ########### #...... ......# #..##..
.###..... .....###. ...#... .#####. .###...###. #.....# #.....# ####...
..##..... .....##.. ...#... ..###.. ..##...##.. #.....# #.....# .##....
...#..... .....#... ...#... ...#... ...#...#... .#####. .#####. .......
"""

_LIKE = {"\N{MINUS SIGN}": "-", "\N{PRIME}": "'", "\N{DOUBLE PRIME}": '"', "×": "X"}
_BLANK = (".",) * GLYPH_HEIGHT
_UNKNOWN = ("####", "#..#", "#..#", "#..#", "#..#", "#..#", "####")


@lru_cache(maxsize=1)
def glyphs() -> dict[str, tuple[str, ...]]:
    """Return every character of the font with its seven rows of ``#`` and ``.``."""
    found: dict[str, tuple[str, ...]] = {}
    for sheet in _SHEETS.strip().split("\n\n"):
        names, *rows = (line.split() for line in sheet.splitlines())
        found.update(zip(names, zip(*rows, strict=True), strict=True))
    return found


def pixels(text: str) -> list[str]:
    """Return the seven rows of pixels of a text, one pixel between letters.

    A space is one pixel; a character that the font lacks is a hollow box.
    """
    shapes = [_shape(character) for character in text]
    return [("." * _GAP).join(shape[row] for shape in shapes) for row in range(GLYPH_HEIGHT)]


def _shape(character: str) -> tuple[str, ...]:
    if character == " ":
        return _BLANK
    return glyphs().get(_LIKE.get(character, character), _UNKNOWN)


def fitting_scale(width: int, columns: int, rows: int) -> tuple[int, int] | None:
    """Return the largest (across, down) scale at which ``width`` pixels of text fit, or None.

    ``columns`` and ``rows`` count character cells; a pixel is a cell wide and half a cell high,
    which is nearly square. Letters may be up to twice as tall as wide: height is what is read
    from afar.
    """
    for down in range(2 * rows // GLYPH_HEIGHT, 0, -1):
        for across in range(down, (down - 1) // 2, -1):
            if width * across <= columns:
                return across, down
    return None


def rows_below(rows: int) -> int:
    """Return how many of ``rows`` a second line takes, so that it is no larger than the first.

    At least what letters of one pixel a half block need: with 24 rows on a laptop these are some
    25 mm high, and from three metres 15 mm can be read (a two hundredth of the distance; common
    practice, no source).
    """
    return max((GLYPH_HEIGHT + 1) // 2, 2 * rows // 5)


@lru_cache(maxsize=16)
def big_rows(text: str, columns: int, rows: int) -> tuple[str, ...]:
    """Return a text as rows of half blocks, as large as fits; the bare text where nothing fits."""
    grid = pixels(text)
    scale = fitting_scale(len(grid[0]), columns, rows)
    if scale is None:
        return (text[:columns],)
    across, down = scale
    tall = ["".join(pixel * across for pixel in row) for row in grid for _ in range(down)]
    if len(tall) % 2:
        tall.append("." * len(tall[0]))
    halves = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}
    return tuple(
        "".join(halves[upper + lower] for upper, lower in zip(top, bottom, strict=True))
        for top, bottom in zip(tall[::2], tall[1::2], strict=True)
    )

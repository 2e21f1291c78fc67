"""Words and numbers five lines high, to be read across a bench.

A letter as high as 1/200 of the distance is read at ease (a rule of thumb for signs, from memory): 7.5 mm at
1.5 m. Five lines of the smallest type that terminals come with, 3 mm a line, are twice that.
"""

from __future__ import annotations

LINES = 5

# Five rows of points from the top; a point becomes two characters wide, since they are twice as high as wide.
_POINTS = {
    "0": "### #.# #.# #.# ###",
    "1": ".#. ##. .#. .#. ###",
    "2": "### ..# ### #.. ###",
    "3": "### ..# ### ..# ###",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ### ..# ###",
    "6": "### #.. ### #.# ###",
    "7": "### ..# .#. .#. .#.",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ###",
    ":": ". # . # .",
    ".": ". . . . #",
    " ": ". . . . .",
    "A": ".#. #.# ### #.# #.#",
    "B": "##. #.# ##. #.# ##.",
    "C": "### #.. #.. #.. ###",
    "D": "##. #.# #.# #.# ##.",
    "E": "### #.. ##. #.. ###",
    "F": "### #.. ##. #.. #..",
    "G": "#### #... #.## #..# ####",
    "H": "#.# #.# ### #.# #.#",
    "I": "# # # # #",
    "J": "..# ..# ..# #.# ###",
    "K": "#.# #.# ##. #.# #.#",
    "L": "#.. #.. #.. #.. ###",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "O": "### #.# #.# #.# ###",
    "P": "### #.# ### #.. #..",
    "Q": "#### #..# #..# #.## ####",
    "R": "##. #.# ##. #.# #.#",
    "S": "### #.. ### ..# ###",
    "T": "### .#. .#. .#. .#.",
    "U": "#.# #.# #.# #.# ###",
    "V": "#.# #.# #.# #.# .#.",
    "W": "#.#.# #.#.# #.#.# #.#.# .#.#.",
    "X": "#.# #.# .#. #.# #.#",
    "Y": "#.# #.# .#. .#. .#.",
    "Z": "### ..# .#. #.. ###",
}


def large(text: str, plain: bool = False) -> tuple[str, ...]:
    """Write a text five lines high.

    :param text: of digits, ``:``, ``.``, blanks and the capitals A to Z
    :param plain: ASCII alone
    :raises KeyError: when a character has no large form
    """
    ink = "##" if plain else "██"
    rows = [_POINTS[character].split() for character in text]
    lines = ("  ".join(row[line] for row in rows) for line in range(LINES))
    return tuple(line.replace(".", "  ").replace("#", ink) for line in lines)

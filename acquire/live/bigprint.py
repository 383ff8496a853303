"""Large characters for what must be read from across the bench. Pure.

Five rows high, of blocks; a text that has a character without a shape, or that does not fit, is
not drawn, and the caller prints it as it is.
"""

from __future__ import annotations

HEIGHT = 5

# Rows from top to bottom, one digit a row of three cells: "7" fills all three, "5" the outer two,
# "4", "2" and "1" the left, the middle and the right one.
_THREE = {
    "0": "75557", "1": "26227", "2": "71747", "3": "71317", "4": "55711",
    "5": "74717", "6": "74757", "7": "71122", "8": "75757", "9": "75717",
    "A": "25755", "B": "65656", "C": "34443", "D": "65556", "E": "74647",
    "F": "74644", "G": "34553", "H": "55755", "I": "72227", "J": "11152",
    "K": "55655", "L": "44447", "O": "25552", "P": "65644", "Q": "25571",
    "R": "65655", "S": "34216", "T": "72222", "U": "55557", "V": "55552",
    "X": "55255", "Y": "55222", "Z": "71247", "-": "00700", "+": "02720",
    "_": "00007", "/": "11244", " ": "00000",
}  # fmt: skip
_WIDE = {
    "M": ("10001", "11011", "10101", "10001", "10001"),
    "N": ("10001", "11001", "10101", "10011", "10001"),
    "W": ("10001", "10001", "10101", "11011", "10001"),
}
_NARROW = {".": ("0", "0", "0", "0", "1"), ",": ("0", "0", "0", "1", "1")}


def _rows(char: str) -> tuple[str, ...] | None:
    if char in _THREE:
        return tuple(f"{int(row):03b}" for row in _THREE[char])
    return _WIDE.get(char) or _NARROW.get(char)


def bigprint(text: str, width: int, block: str = "█", tall: int = 1) -> list[str] | None:
    """Lines of at most `width` cells, as broad as fits; None if it cannot be drawn.

    `tall` rows of the terminal make one of the five rows of a shape. A row is about twice as high
    as a cell is broad, so a shape keeps its looks with two cells for each row.
    """
    shapes = [_rows(char) for char in text.upper()]
    if not text or any(shape is None for shape in shapes):
        return None
    for cells in range(2 * tall, 0, -1):
        lines = [
            (" " * cells)
            .join(
                "".join((block if cell == "1" else " ") * cells for cell in shape[row])
                for shape in shapes
                if shape is not None
            )
            .rstrip()
            for row in range(HEIGHT)
        ]
        if max(len(line) for line in lines) <= width:
            return [line for line in lines for _ in range(tall)]
    return None

"""How boards are called."""


def letter_board(index: int) -> str:
    """Name the board at a place in the order, counted from 0: A to Z, then AA, AB and so on.

    >>> [letter_board(index) for index in (0, 25, 26, 52)]
    ['A', 'Z', 'AA', 'BA']
    """
    letters = ""
    index += 1
    while index:
        index, letter = divmod(index - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return letters

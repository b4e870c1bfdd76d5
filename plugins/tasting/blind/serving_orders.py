"""Serving orders in which every glass stands in every place, and follows every other, equally often.

Williams (1949), Australian Journal of Scientific Research A2:149. With an even number of glasses one
square does it; with an odd number a square and its mirror image together. A test proves the balance.
"""

from __future__ import annotations


def first_row(glasses: int) -> list[int]:
    """0, 1, n-1, 2, n-2, …: the row from which the square is made by adding 1."""
    row, low, high = [0], 1, glasses - 1
    while len(row) < glasses:
        row.append(low)
        low += 1
        if len(row) < glasses:
            row.append(high)
            high -= 1
    return row


def orders(glasses: int) -> list[list[int]]:
    """All serving orders of the design, glasses counted from 0: n orders for an even n, 2n for an odd one."""
    if glasses < 1:
        raise ValueError("a flight needs at least one glass")
    start = first_row(glasses)
    square = [[(place + shift) % glasses for place in start] for shift in range(glasses)]
    return square if glasses % 2 == 0 else square + [row[::-1] for row in square]

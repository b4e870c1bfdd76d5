"""Figures as a person wrote them, and what a transposition makes of them."""

from __future__ import annotations

SIGNIFICANT = 7


def written(value: float) -> str:
    """The shortest decimal figure of at most seven digits: what stood on the sheet before conversion."""
    return f"{float(f'{value:.{SIGNIFICANT}g}'):.10f}".rstrip("0").rstrip(".")


def transposed(value: float) -> list[float]:
    """Every figure that comes of exchanging two neighbouring digits, the decimal point staying put.

    A zero never comes to the front, and equal digits give nothing new.
    """
    text = written(abs(value))
    digits = [character for character in text if character != "."]
    point = text.find(".")
    made = []
    for place in range(len(digits) - 1):
        if digits[place] == digits[place + 1]:
            continue
        swapped = digits.copy()
        swapped[place], swapped[place + 1] = swapped[place + 1], swapped[place]
        whole = swapped if point < 0 else swapped[:point]
        if len(whole) > 1 and whole[0] == "0":
            continue
        figure = "".join(swapped) if point < 0 else "".join(swapped[:point]) + "." + "".join(swapped[point:])
        made.append(float(figure) * (-1.0 if value < 0 else 1.0))
    return made

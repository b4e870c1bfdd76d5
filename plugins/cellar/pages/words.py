"""What the cellar's pages say of how their figures are had."""

from __future__ import annotations

METHOD = (
    "A year’s loss is a constant share of what is there. A cask’s own gauges count by their uncertainty and are drawn "
    "towards casks of its warehouse, floor, wood and age where they tell little; a cask with one gauge follows "
    "the house curve. Strength is what the hydrometer shows (apparent), with obscuration added where it was measured; "
    "it may rise or fall. Bands hold with 95 in 100 as long as nothing changes; they are no guarantee."
)


def settled(loss: str | None, strength: str | None) -> str:
    """When the house curves of loss and of strength were settled, in words; None: every gauge still moves that one."""
    if loss is None and strength is None:
        return (
            "The house curve is not settled yet: until enough was measured before the first day of a month, every "
            "gauge moves it, and with it what other casks are expected to do."
        )
    if loss == strength:
        curve, rest = "The house curve was", ""
    else:
        fixed, open_ = ("loss", "strength") if loss else ("strength", "loss")
        curve, rest = f"The house curve of {fixed} was", f" That of {open_} still follows every gauge."
    return (
        f"{curve} settled on {loss or strength} from what was measured before. It stays until the month ends or the "
        f"book has a tenth more gauges: a gauge moves the forecast of its own cask and of no other.{rest}"
    )

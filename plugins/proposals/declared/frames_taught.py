"""What tasted trials taught: each trial against its prediction, and what a change of it would do."""

from __future__ import annotations

from pipeline import Column, Frame
from plugins.proposals.declared.frames import TRIED

LEFT_OUT = Frame(
    "taste_left_out",
    key=("trial", "family"),
    meaning="each tasted trial as predicted from all others, beside what it was tasted as and the plain guess",
    columns=(
        Column("trial", "text", "", "trial", ("trials.trial",)),
        Column("batch", "text", "", "batch", ("trials.batch",)),
        Column("family", "text", "", "flavour family or scale", ("profiles.family",)),
        Column("tasted", "float", "0-10", "as tasted", ("profiles.mean",)),
        Column("predicted", "float", "0-10", "by the law and the other trials", TRIED),
        Column("low", "float", "0-10", "lower end of the 90 % interval of its tasting", TRIED),
        Column("high", "float", "0-10", "upper end", TRIED),
        Column("naive", "float", "0-10", "the plain guess: as its largest component", TRIED),
    ),
)

MOVES = Frame(
    "taste_moves",
    key=("trial", "component", "points", "family"),
    meaning="what a trial would taste of with one component moved and the others in their ratio, or with water",
    columns=(
        Column("trial", "text", "", "trial", ("trials.trial",)),
        Column("batch", "text", "", "batch", ("trials.batch",)),
        Column("component", "text", "", "what is moved; or water", ("trials.component",)),
        Column("points", "float", "%", "hundredths of the alcohol; of water: of the volume", ("trials.ml",)),
        Column("family", "text", "", "flavour family or scale", ("profiles.family",)),
        Column("base", "float", "0-10", "the trial before it", TRIED),
        Column("change", "float", "0-10", "change of intensity", TRIED),
        Column("low", "float", "0-10", "lower end of its 90 % interval", TRIED),
        Column("high", "float", "0-10", "upper end", TRIED),
        Column("sure", "float", "", "probability that the change has that sign, as far as the model goes", TRIED),
    ),
)

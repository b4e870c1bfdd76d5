"""``vatting calc``: the alcoholometry at a prompt. Thin: what is typed → stated.py → reckon.py → told.py."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from plugins.proof.calc.reckon import Answer

Told = Callable[["Answer"], list[str]]
MINUS = "\N{MINUS SIGN}"


class Figures(click.Command):
    """A command whose arguments may be negative figures, such as -5degC."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        negative = [word[:1] == "-" and word[1:2].isdigit() for word in args]
        return super().parse_args(ctx, [MINUS + w[1:] if n else w for w, n in zip(args, negative, strict=True)])


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def calc() -> None:
    """Alcoholometry at a prompt: figures with their units in, a table or --json out.

    A strength is 124.6proof (at 60 °F), 62.3%vol (at 20 °C) or 54.1%mass; an amount is a volume, 53gal or 200L, or a
    weight on a scale in air, 418lb. What is computed is for control: the tables of 27 CFR part 30 are the law for
    official gauges in the US.
    """


def _answers(told: str) -> Callable[[Callable[..., Answer]], Callable[..., None]]:
    """Give a command --json and --debug, print what it answers, and say in words what cannot be."""

    def decorated(work: Callable[..., Answer]) -> Callable[..., None]:
        @click.option("--short", is_flag=True, help="Figures alone, without method, source and cautions.")
        @click.option("--json", "as_json", is_flag=True, help="Answer with one JSON object.")
        @click.option("--debug", is_flag=True, help="Show a traceback where something fails.")
        @wraps(work)
        def command(*args: Any, short: bool, as_json: bool, debug: bool, **options: Any) -> None:
            from plugins.proof.calc import printed as telling
            from plugins.proof.calc.typed_in import Unclear

            try:
                answer = work(*args, **options)
            except Unclear as error:
                raise click.UsageError(str(error)) from (error if debug else None)
            except click.ClickException:
                raise
            except Exception as error:  # the last net: a person gets a sentence, the developer --debug
                if debug:
                    raise
                raise click.ClickException(
                    f"Something failed that should not ({type(error).__name__}: {error}). Run again with --debug."
                ) from None
            if as_json:
                click.echo(json.dumps(answer, ensure_ascii=False, indent=2, allow_nan=False))
            else:
                lines = getattr(telling, told)(answer)
                click.echo("\n".join(lines[: lines.index("")] if short else lines))

        return command

    return decorated


def _figures(words: tuple[str, ...], wanted: str) -> list[str]:
    from plugins.proof.calc.typed_in import gathered

    found, names = gathered(words), wanted.split()
    if len(found) != len(names):
        given = ", ".join(found) or "none"
        raise click.UsageError(f"wanted are {len(names)} figures, {wanted}; given: {given}.")
    return found


@calc.command("proof", cls=Figures)
@click.argument("words", metavar="READING TEMPERATURE", nargs=-1, required=True)
@click.option("--base", metavar="TEMPERATURE", help="Where the scale holds [60degF for proof, else 20degC].")
@click.option("--solids", metavar="AMOUNT", help="Dissolved solids, such as 450mg/100mL.")
@click.option("--glass", metavar="EXPANSION", help="Cubic expansion of the glass [25e-6/K].")
@click.option("--meter", is_flag=True, help="Read by a density meter, not by a glass hydrometer.")
@click.option("--in-air", is_flag=True, help="A density or specific gravity by weight in air.")
@_answers("reading")
def proof(
    words: tuple[str, ...], base: str | None, solids: str | None, glass: str | None, meter: bool, in_air: bool
) -> Answer:
    """True proof at 60 °F and % vol at 20 °C of a READING at a TEMPERATURE, such as: 193 75degF."""
    from plugins.proof.calc import reckon_reading
    from plugins.proof.calc import typed_in as stated

    reading, temperature = _figures(words, "READING TEMPERATURE")
    value, scale = stated.scale_and_value(reading)
    shown = reckon_reading.Reading(
        value,
        scale,
        stated.temperature(temperature),
        stated.temperature(base) if base else math.nan,
        stated.expansion(glass) if glass else math.nan,
        meter,
        in_air,
    )
    return reckon_reading.read(shown, stated.solids(solids) if solids else math.nan)


@calc.command("gauge", cls=Figures)
@click.argument("words", metavar="AMOUNT STRENGTH", nargs=-1, required=True)
@click.option("--tare", metavar="WEIGHT", help="Weight of the empty cask; AMOUNT is then the gross weight.")
@click.option("--temperature", metavar="TEMPERATURE", help="Temperature of a volume [the strength's reference].")
@click.option("--solids", metavar="AMOUNT", help="Dissolved solids; the strength is then the apparent one.")
@click.option("--true", "true", metavar="STRENGTH", help="True strength by distillation; the other is apparent.")
@_answers("gauge")
def gauge(
    words: tuple[str, ...], tare: str | None, temperature: str | None, solids: str | None, true: str | None
) -> Answer:
    """Gallons, litres, proof gallons and litres of alcohol of an AMOUNT at a STRENGTH, such as: 418lb 124.6proof.

    From the scale and the glass at once: 468lb 126.1proof@75degF --tare 50lb.
    """
    from plugins.proof.calc import reckon, reckon_reading
    from plugins.proof.calc import typed_in as stated

    amount, strength = _figures(words, "AMOUNT STRENGTH")
    return reckon.gauge(
        stated.net(amount, tare) if tare else stated.amount(amount),
        reckon_reading.strength_of(strength),
        stated.temperature(temperature) if temperature else math.nan,
        stated.solids(solids) if solids else math.nan,
        stated.strength(true) if true else None,
    )


@calc.command("reduce", cls=Figures)
@click.argument("words", metavar="AMOUNT STRENGTH TARGET", nargs=-1, required=True)
@click.option("--steps", type=click.IntRange(1, 50), default=1, show_default=True, help="Additions before the gauge.")
@click.option(
    "--hold-back",
    type=click.FloatRange(0.0, 50.0),
    default=5.0,
    show_default=True,
    help="Percent of the water kept until after the gauge.",
)
@click.option("--fill", is_flag=True, help="AMOUNT is what is wanted at TARGET.")
@click.option("--gauged", metavar="STRENGTH", help="What was gauged before the last part: how to trim.")
@_answers("reduction")
def reduce(words: tuple[str, ...], steps: int, hold_back: float, fill: bool, gauged: str | None) -> Answer:
    """Water that brings an AMOUNT at a STRENGTH down to a TARGET, such as: 53gal 124.6proof 100proof.

    STRENGTH may be a reading of glass at a temperature, 126.1proof@75degF, as may what was gauged.
    """
    from plugins.proof.calc import reckon, reckon_reading
    from plugins.proof.calc import typed_in as stated

    amount, strength, target = _figures(words, "AMOUNT STRENGTH TARGET")
    plan = reckon.Plan(steps, hold_back / 100.0, fill, reckon_reading.strength_of(gauged) if gauged else None)
    return reckon.reduce(stated.amount(amount), reckon_reading.strength_of(strength), stated.strength(target), plan)


@calc.command("mix", cls=Figures)
@click.argument("words", metavar="AMOUNT@STRENGTH...", nargs=-1, required=True)
@_answers("mixture")
def mix(words: tuple[str, ...]) -> Answer:
    """Spirits and waters together, such as: 53gal@124.6proof 20gal@water."""
    from plugins.proof.calc import reckon, reckon_reading
    from plugins.proof.calc import typed_in as stated

    return reckon.mix([stated.part(word, reckon_reading.strength_of) for word in stated.gathered(words)])


@calc.command("dip", cls=Figures)
@click.argument("vessel")
@click.argument("words", metavar="DEPTH", nargs=-1, required=True)
@click.option("--out", type=click.Path(path_type=Path), default=Path("outputs"), show_default=True, help="Outputs.")
@_answers("dip")
def dip(vessel: str, words: tuple[str, ...], out: Path) -> Answer:
    """What VESSEL holds at a DEPTH by its own dip table, as last taken, such as: VT-1 31.5in."""
    from plugins.proof.calc import reckon_dip

    (depth,) = _figures(words, "DEPTH")
    return reckon_dip.dip(out, vessel, depth)

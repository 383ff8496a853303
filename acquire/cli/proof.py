"""`coatbench proof`."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import Misuse


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("number")
@click.option("--check", "is_check", is_flag=True, help="NUMBER is that of a check.")
@click.option("--wash", "is_wash", is_flag=True, help="NUMBER is that of a wash.")
@bench_option
def proof(number: str, is_check: bool, is_wash: bool, bench: Path | None) -> int:
    """Follow reading NUMBER back to the bytes that came down the cable.

    Shows its place, the checks and certificates that cover it and its bytes, and plays the stored
    tape through the driver and profile of then: they must give the same reading again, with its
    value, unit and channel, and every row that it rests on must fit its seal.

    With --check, check NUMBER is judged again from the readings, certificates and policy that it
    was judged by: every figure and every word of it must come out the same, its readings from their
    bytes and what the pass covers from its policy.

    With --wash, wash NUMBER is followed to the stroke of a counter that counted it, and to its
    bytes; one that was counted by key or typed has none, and that is said.

    \b
    Example:  coatbench proof 87
              coatbench proof --check 12
    Next:     coatbench report TRIAL names the numbers of all readings.
    """
    from acquire.report.proof.checkproof import prove_check  # noqa: PLC0415 - slow
    from acquire.report.proof.proof import prove  # noqa: PLC0415

    if is_check and is_wash:
        raise click.UsageError("say one of --check and --wash")
    row_id = _number(number, "check" if is_check else "wash" if is_wash else "reading")
    if is_check:
        again = prove_check(store_of(bench), row_id)
        say(again.lines)
        return DONE if again.holds else NOT_DONE
    if is_wash:
        from acquire.report.proof.washproof import prove_wash  # noqa: PLC0415

        washed = prove_wash(store_of(bench), row_id)
        say(washed.lines)
        return DONE if washed.holds else NOT_DONE
    found = prove(store_of(bench), row_id)
    say(found.lines)
    return DONE if found.holds else NOT_DONE


def _number(text: str, what: str) -> int:
    """The number of a row, as it was typed. Raises `Misuse`."""
    if not (text.isascii() and text.isdecimal() and len(text) <= 40 and int(text) >= 1):
        raise Misuse(
            f"no {what} is followed back",
            got=repr(text),
            wanted=f"the number of a {what}, a whole number from 1 on",
            next_step="coatbench report TRIAL names the numbers of all readings and checks",
        )
    return int(text)

"""`frostalert buds` and `frostalert trial`: what was lost, and what worked."""

from dataclasses import asdict
from datetime import date
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from frostalert.agronomy.bud_counts import (
    Share,
    compare_trial,
    counted_share,
    crop_outlook_pct,
)
from frostalert.cli import completions
from frostalert.cli.options import (
    ConfigOption,
    JsonOption,
    counted_by,
    find_config,
    parse_night,
)
from frostalert.cli.say import say, say_json
from frostalert.clock import SystemClock
from frostalert.config.edit import find_block
from frostalert.config.load import load_settings
from frostalert.config.state_folder import state_directory
from frostalert.cycle.ledger import predicted_kill_pct
from frostalert.errors import NoStateError, PhysicsDomainError, UsageError
from frostalert.model.ledger import BudCount
from frostalert.model.settings import Settings
from frostalert.model.site import Block, Site
from frostalert.physics.nights import last_night_over
from frostalert.store.open import open_beside

_GUIDE = (
    "How to sample: about 100 buds of each block and variety, from several heights and "
    "sides; stand the cut shoots in water at 70 F (21 C) for two hours or more, so "
    "that dead buds brown (Intermountain fruit extension). Cut lengthwise from the "
    "base up: a greenish white to cream pistil lives, a brown or black one is dead "
    "(Kansas State University). Cherry and plum have several flowers to a bud: cut "
    "across, and count flowers."
)


def buds(
    block: Annotated[
        str,
        typer.Argument(help="Name of the block.", autocompletion=completions.blocks),
    ],
    dead: Annotated[int, counted_by("--dead", "Dead buds that were found.")],
    of: Annotated[int, counted_by("--of", "Buds that were cut.")],
    night: Annotated[
        str | None,
        typer.Option(
            "--night",
            metavar="DATE",
            help="Evening of the night that did it; by default the last one whose "
            "morning has come.",
            show_default=False,
        ),
    ] = None,
    config: ConfigOption = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Say what share of a block's buds is lost, how sure that is, and what it means."""
    settings = load_settings(find_config(config), needs_secrets=False)
    farm = settings.farm
    found = find_block(farm.blocks, block)
    try:
        share = counted_share(dead, of)
    except PhysicsDomainError as error:
        raise UsageError(str(error)) from error
    lost = found.buds_lost_pct + (100.0 - found.buds_lost_pct) * share.share
    kept, outlook = _kept(settings, found, (dead, of), night), _outlook(found, share)
    if as_json:
        say_json(
            block=found.name, dead=asdict(share), lost_pct=lost, words=[*kept, *outlook]
        )
        return
    say(f"{found.name}: {_words(share)} of the buds cut are dead.")
    if share.is_wide:
        say("That is a wide range: cut more before you decide anything.")
    for line in (*kept, *outlook):
        say(line)
    if not share.is_wide:
        say(
            f"Now write buds_lost_pct = {lost:.0f} for this block into the "
            "configuration: coming nights are then judged by what is left."
        )
    say("\n" + _GUIDE)


def _kept(
    settings: Settings, block: Block, count: tuple[int, int], night: str | None
) -> list[str]:
    """Keep a count for the ledger, and return what was predicted beside it."""
    day = _night_of_harm(settings.farm.site, night)
    try:
        store = open_beside(state_directory(settings.state_directory))
    except NoStateError:
        return ["Not kept for the season: there is no state of the service yet."]
    try:
        dead, counted = count
        kept = BudCount(block=block.name, night=day, dead=dead, counted=counted)
        before = next(
            (c for c in store.bud_counts() if (c.block, c.night) == (block.name, day)),
            None,
        )
        store.save_bud_count(kept)
        expected = predicted_kill_pct(settings.farm, store, block.name, day)
    finally:
        store.database.close()
    replaced = []
    if before is not None and before != kept:
        replaced = [
            f"This replaces {before.dead} of {before.counted} counted earlier for "
            "that night; to keep both, enter their sums."
        ]
    if expected is None:
        unknown = f"Kept for the night of {day}; what was predicted then is not known."
        return [unknown, *replaced]
    return [
        f"Kept for the night of {day}. Predicted that afternoon, unprotected: "
        f"{expected:.0f} % of the buds.",
        *replaced,
    ]


def _night_of_harm(site: Site, given: str | None) -> date:
    """Return the night that a count is of: what is given, or the last one over.

    Raises
    ------
    UsageError
        If it is not over.
    """
    over = last_night_over(
        SystemClock().now_utc(),
        ZoneInfo(site.time_zone),
        (site.latitude, site.longitude),
    )
    day = parse_night(given) or over
    if day > over:
        message = (
            f"--night {day} is not over: a count is of buds that a past night killed; "
            f"the last one whose morning has come is {over}"
        )
        raise UsageError(message)
    return day


def trial(
    treated_dead: Annotated[
        int, counted_by("--treated-dead", "Dead buds where it was treated.")
    ],
    treated_of: Annotated[int, counted_by("--treated-of", "Buds that were cut there.")],
    alone_dead: Annotated[
        int, counted_by("--alone-dead", "Dead buds where it was left alone.")
    ],
    alone_of: Annotated[int, counted_by("--alone-of", "Buds that were cut there.")],
    *,
    as_json: JsonOption = False,
) -> None:
    """Say whether a method saved buds: limbs or rows treated against left alone."""
    try:
        found = compare_trial((treated_dead, treated_of), (alone_dead, alone_of))
    except PhysicsDomainError as error:
        raise UsageError(str(error)) from error
    if as_json:
        say_json(trial=asdict(found), can_tell=found.can_tell)
        return
    say(f"Treated:    {_words(found.treated)} dead.")
    say(f"Left alone: {_words(found.left_alone)} dead.")
    say(
        f"{_saved(found.saved, found.saved_low, found.saved_high)}; exact test p "
        f"{_p_value(found.p_value)}."
    )
    if found.can_tell and found.saved < 0.0:
        say(
            "The treatment did harm, and that is more than chance, if limbs or rows "
            "were chosen by lot."
        )
    elif found.can_tell:
        say("That is more than chance, if limbs or rows were chosen by lot.")
    else:
        say(
            "Too few to tell: it may have helped, done nothing, or harmed. Mark more "
            "limbs next time, and choose by lot which are treated."
        )
    say(
        "Buds of one tree fare alike: one tree treated against one left alone says "
        "little, however many buds are cut."
    )


def _saved(saved: float, low: float, high: float) -> str:
    """Return what was saved, or lost by it, with its interval."""
    if saved < 0.0:
        saved, low, high = -saved, -high, -low
        words = "Lost by it"
    else:
        words = "Saved"
    return (
        f"{words}: {100 * saved:.0f} of 100 buds, 95 % interval {100 * low:.0f} to "
        f"{100 * high:.0f}"
    )


def _p_value(value: float) -> str:
    """Return a p value in words; never zero."""
    return "under 0.001" if value < 0.001 else f"= {value:.3f}"  # noqa: PLR2004


def _words(share: Share) -> str:
    """Return a share in words."""
    return (
        f"{100 * share.share:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f} % "
        f"at 95 %, of {share.counted})"
    )


def _outlook(block: Block, share: Share) -> list[str]:
    """Return what a share means for the crop."""
    needed = block.crop.needed_pct
    if needed is None:
        return [
            f"No share of blossoms that makes a full crop of {block.crop.title} is "
            "published: what the crop will be is not said."
        ]
    expected, least, most = crop_outlook_pct(share, block.buds_lost_pct, needed)
    lines = [
        f"Crop that can still be had: {expected:.0f} % of a full one ({least:.0f} to "
        f"{most:.0f} %): {needed:.0f} % of the blossoms make a full crop "
        f"({block.crop.needed_source})."
    ]
    if least >= 100.0:  # noqa: PLR2004 - percent
        lines.append("Enough is left: thin as usual, but later, once fruit has set.")
    elif expected >= 100.0:  # noqa: PLR2004 - percent
        lines.append("Probably enough is left: thin late and lightly.")
    else:
        lines.append("Do not thin before fruit has set; keep every living blossom.")
    return lines

"""What a shell offers at the tab key: names from the configuration."""

import typer

from frostalert.agronomy.crops import packaged_crop_names
from frostalert.agronomy.looks import stages_of
from frostalert.cli.options import find_config
from frostalert.config.load import load_settings
from frostalert.errors import FrostalertError
from frostalert.model.site import Block, Farm


def blocks(ctx: typer.Context, incomplete: str) -> list[str]:
    """Return the blocks that begin as typed."""
    return _beginning([block.name for block in _holding_blocks(ctx)], incomplete)


def blocks_and_stages(ctx: typer.Context, incomplete: str) -> list[str]:
    """Return the blocks, or the stages of the block that was named before."""
    before = ctx.params.get("words") or ()
    if not before:
        return blocks(ctx, incomplete)
    wanted = str(before[0]).lower()
    own = [b for b in _holding_blocks(ctx) if b.name.lower() == wanted]
    return _beginning([s for b in own for s in stages_of(b.crop)], incomplete)


def sensors(ctx: typer.Context, incomplete: str) -> list[str]:
    """Return the thermometers that begin as typed."""
    farm = _holding(ctx)
    return _beginning([s.name for s in farm.sensors] if farm else [], incomplete)


def people(ctx: typer.Context, incomplete: str) -> list[str]:
    """Return the people that begin as typed."""
    farm = _holding(ctx)
    return _beginning([p.name for p in farm.people] if farm else [], incomplete)


def crops(incomplete: str) -> list[str]:
    """Return the crops that begin as typed."""
    return _beginning(list(packaged_crop_names()), incomplete)


def _beginning(names: list[str], incomplete: str) -> list[str]:
    """Return the names that begin as typed, upper and lower case alike."""
    return [name for name in names if name.lower().startswith(incomplete.lower())]


def _holding_blocks(ctx: typer.Context) -> tuple[Block, ...]:
    """Return the blocks of the configuration."""
    farm = _holding(ctx)
    return farm.blocks if farm else ()


def _holding(ctx: typer.Context) -> Farm | None:
    """Return what is configured; a mistake in it offers nothing, and says nothing."""
    try:
        path = find_config(ctx.params.get("config"))
        return load_settings(path, needs_secrets=False).farm
    except FrostalertError:
        return None

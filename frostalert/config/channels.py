"""The table of the configuration that each channel has."""

from typing import assert_never

from frostalert.config.people import ChannelSection, EmailSection, SmsSection
from frostalert.config.schema import ConfigFile
from frostalert.model.channel import ChannelKind


def section_type(kind: ChannelKind) -> type[ChannelSection]:
    """Return what a channel's table may hold."""
    match kind:
        case ChannelKind.EMAIL:
            return EmailSection
        case ChannelKind.SMS:
            return SmsSection
        case _:
            assert_never(kind)


def section_in(content: ConfigFile, kind: ChannelKind) -> ChannelSection | None:
    """Return a channel's table in a file, if it is there."""
    match kind:
        case ChannelKind.EMAIL:
            return content.email
        case ChannelKind.SMS:
            return content.sms
        case _:
            assert_never(kind)

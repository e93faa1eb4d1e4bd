"""A method and a channel that are not there, as a contributor would add them.

Both are invented for the test of "How to add" in DEVELOPERS.md. Each comes in two
steps: the kind with as little as possible, then all of its parts.
"""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Insertion:
    """Text that is put after some that is there; a new file where there is none."""

    file: str
    text: str
    after: str = ""

    def put_into(self, root: Path) -> None:
        """Do it, in a copy of the tree."""
        path = root / self.file
        if not self.after:
            path.write_text(self.text)
            return
        there = path.read_text()
        assert there.count(self.after) == 1, f"{self.file}: {self.after!r}"
        path.write_text(there.replace(self.after, self.after + self.text))


METHOD = "frostalert/model/method.py"
METHODS = "frostalert/agronomy/methods.py"
OPTIONS = "frostalert/plan/options.py"

FOGGING_BARE = (
    Insertion(METHOD, '    FOG = "fog"\n', after='    LAMP = "lamp under a cover"\n'),
    Insertion(
        METHODS,
        """\
        Method(
            name="fogging",
            kind=MethodKind.FOG,
            caution="Fog that drifts over a road blinds drivers.",
            # needs
        ),
""",
        after="""\
            needs_or_gain=(EquipmentKey.HEAT_EACH, EquipmentKey.SKIN_EACH),
            most_wind_mps=None,
            harms_when=_NO_HARM,
        ),
""",
    ),
)
FOGGING_PARTS = (
    Insertion(
        METHODS,
        """
            needs=(EquipmentKey.FLOW,),
            most_wind_mps=MOST_STILL_WIND_MPS,
            harms_when=frozenset({RefusalReason.TOO_WINDY}),""",
        after="            # needs",
    ),
    Insertion(
        METHOD,
        """\
            case MethodKind.FOG:
                return Agent.WATER
""",
        after="                return Agent.WATER\n",
    ),
    Insertion(
        METHOD,
        """\
            case MethodKind.FOG:
                return False
""",
        after="""\
            case MethodKind.OVER_PLANT_WATER | MethodKind.HAND_WATER:
                return True
""",
    ),
    Insertion(
        OPTIONS,
        """\
        case MethodKind.FOG:
            options = fog_options(case, equipment)
""",
        after="            options = lamp_options(case, equipment)\n",
    ),
    Insertion(
        OPTIONS,
        "from frostalert.plan.fog_options import fog_options\n",
        after="from frostalert.plan.block_case import BlockAtRisk\n",
    ),
    Insertion(
        "frostalert/plan/fog_options.py",
        '''\
"""What fog is worth in one block: what was measured, for nothing is published."""

from frostalert.model.equipment import Equipment
from frostalert.model.method import RefusalReason
from frostalert.model.plan import GainFacts, Option, Resource
from frostalert.plan.block_case import BlockAtRisk
from frostalert.plan.warm_judgement import cold_hours_h, judged, measured_gain, unknown


def fog_options(case: BlockAtRisk, equipment: Equipment) -> list[Option]:
    """Return what fog is worth, and the water that it takes."""
    assert equipment.flow_l_per_h is not None  # noqa: S101 - its row asks for it
    found = measured_gain(equipment)
    if found is None:
        return [unknown(case, equipment, RefusalReason.UNKNOWN_NUMBERS)]
    low, high, source = found
    facts = GainFacts(low_delta_c=low, high_delta_c=high, source=source)
    litres = equipment.flow_l_per_h * cold_hours_h(case)
    return [judged(case, equipment, facts, ((Resource.WATER, "", litres),))]
''',
    ),
)

CHANNEL = "frostalert/model/channel.py"
SITE = "frostalert/model/site.py"
SETTINGS = "frostalert/model/settings.py"
PEOPLE = "frostalert/config/people.py"
SCHEMA = "frostalert/config/schema.py"
SECTIONS = "frostalert/config/channels.py"
TO_MODEL = "frostalert/config/to_model.py"
APP = "frostalert/app.py"
DOCTOR = "frostalert/cli/doctor.py"

PUSH_BARE = (
    Insertion(CHANNEL, '    PUSH = "push"\n', after='    SMS = "sms"\n'),
    Insertion(CHANNEL, '    TOPIC = "topic"\n', after='    PHONE = "phone"\n'),
)
PUSH_PARTS = (
    Insertion(
        CHANNEL,
        """\
        case ChannelKind.PUSH:
            return _PUSH
""",
        after="            return _SMS\n",
    ),
    Insertion(
        CHANNEL,
        """\
_PUSH = Channel(
    kind=ChannelKind.PUSH,
    form=Form.TEXT,
    address_key=AddressKey.TOPIC,
    section="push",
    lane="push",
    lane_limit_s=600.0,
)
""",
        after="""\
    lane="sms",
    lane_limit_s=600.0,
)
""",
    ),
    Insertion(
        SITE,
        "    topic: str | None\n",
        after="    email: str | None\n    phone: str | None\n",
    ),
    Insertion(
        SITE,
        """\
            case AddressKey.TOPIC:
                address = self.topic
""",
        after="                address = self.phone\n",
    ),
    Insertion(
        SETTINGS,
        '''
@dataclass(frozen=True, slots=True, kw_only=True)
class PushSettings:
    """The HTTP service for push messages."""

    url: str
    username: str | None
    password: Secret | None

''',
        after="    status_failed: tuple[str, ...] = ()\n",
    ),
    Insertion(
        SETTINGS,
        " | PushSettings",
        after="ChannelSettings = EmailSettings | SmsSettings",
    ),
    Insertion(
        SETTINGS,
        "    push: PushSettings | None\n",
        after="    sms: SmsSettings | None\n",
    ),
    Insertion(
        SETTINGS,
        """\
            case ChannelKind.PUSH:
                return self.push
""",
        after="                return self.sms\n",
    ),
    Insertion(
        PEOPLE,
        """\
    topic: str | None = Field(
        default=None,
        description="Topic for push messages.",
        examples=["heron-bench-frost"],
    )
""",
        after="""\
        description="Number for text messages, with + and the country code.",
        examples=["+15095550142"],
    )
""",
    ),
    Insertion(
        PEOPLE,
        """\
            case AddressKey.TOPIC:
                return self.topic
""",
        after="                return self.phone\n",
    ),
    Insertion(
        PEOPLE,
        " | PushSection",
        after="ChannelSection = EmailSection | SmsSection",
    ),
    Insertion(
        PEOPLE,
        '''\
class PushSection(Section):
    """The HTTP service that takes our push messages."""

    url: str = Field(description="Its address.", examples=["https://push.example"])
    username: str | None = Field(
        default=None, description="Account name for basic log-in.", examples=["heron"]
    )
    password_file: str | None = Field(
        default=None,
        description="File with the password on its first line.",
        examples=["push-password"],
    )
    password_env: str | None = Field(
        default=None,
        description="Or the environment variable that holds it.",
        examples=["FROSTALERT_PUSH_PASSWORD"],
    )

    @field_validator("url")
    @classmethod
    def _is_checked_https(cls, value: str) -> str:
        """Refuse a plain connection to another machine."""
        return checked_https(value)


''',
        after="""\
                message = f"fields must hold {part} somewhere"
                raise ValueError(message)
        return self


""",
    ),
    Insertion(
        SCHEMA,
        "    push: PushSection | None = None\n",
        after="    sms: SmsSection | None = None\n",
    ),
    Insertion(
        SCHEMA,
        "from frostalert.config.people import PushSection\n",
        after="from frostalert.config.section import Name, Section, checked_https\n",
    ),
    Insertion(
        SECTIONS,
        """\
        case ChannelKind.PUSH:
            return PushSection
""",
        after="            return SmsSection\n",
    ),
    Insertion(
        SECTIONS,
        """\
        case ChannelKind.PUSH:
            return content.push
""",
        after="            return content.sms\n",
    ),
    Insertion(
        SECTIONS,
        "from frostalert.config.people import PushSection\n",
        after="from frostalert.config.schema import ConfigFile\n",
    ),
    Insertion(
        TO_MODEL,
        "        push=_push(content.push, folder, needs_secrets=needs_secrets),\n",
        after="        sms=_sms(content.sms, folder, needs_secrets=needs_secrets),\n",
    ),
    Insertion(
        TO_MODEL,
        '''\
def _push(
    section: PushSection | None, folder: Path, *, needs_secrets: bool
) -> PushSettings | None:
    """Return the service for push messages."""
    if section is None:
        return None
    password = _password(section, folder, is_needed=needs_secrets)
    return PushSettings(**_values(section, *_WHERE), password=password)


''',
        after="""\
    return SmsSettings(**_values(section, *_WHERE), password=password)


""",
    ),
    Insertion(
        TO_MODEL,
        """\
from frostalert.config.people import PushSection
from frostalert.model.settings import PushSettings
""",
        after="from frostalert.model.secret import Secret\n",
    ),
    Insertion(
        APP,
        """\
        case ChannelKind.PUSH:
            if settings.push is None:
                return None, None
            return PushNotifier(settings.push, session), None
""",
        after="None if settings.sms.status_url is None else texts\n",
    ),
    Insertion(
        APP,
        "from frostalert.notify.push import PushNotifier\n",
        after="from frostalert.notify.email import EmailNotifier\n",
    ),
    Insertion(
        DOCTOR,
        """\
        case ChannelKind.PUSH:
            yield Finding(LOOK, "push", "cannot be tried without sending")
""",
        after="            yield from _texts(settings)\n",
    ),
    Insertion(
        "frostalert/notify/push.py",
        '''\
"""Push messages through an HTTP service of our own invention."""

import json

from frostalert.errors import DeliveryError, Refusal, TransportError
from frostalert.messages.repeat import marked_repeat
from frostalert.model.channel import ChannelKind
from frostalert.model.notice import Message, Receipt
from frostalert.model.settings import PushSettings
from frostalert.transport import HttpSession

_TAKEN = range(200, 300)


class PushNotifier:
    """Sends push messages."""

    kind = ChannelKind.PUSH

    def __init__(self, settings: PushSettings, session: HttpSession) -> None:
        self._settings = settings
        self._session = session

    def send(self, message: Message, *, is_repeat: bool) -> Receipt:
        """Hand a message to the service."""
        text = marked_repeat(message.text) if is_repeat else message.text
        try:
            answer = self._session.post(
                self._settings.url, json={"topic": message.address, "text": text}
            )
        except TransportError as error:
            raise DeliveryError(self.kind, Refusal.TRY_AGAIN, error.problem) from error
        if answer.status not in _TAKEN:
            raise DeliveryError(self.kind, Refusal.TRY_AGAIN, f"{answer.status}")
        return Receipt(provider_id=json.loads(answer.text)["id"], is_confirmed=True)
''',
    ),
)

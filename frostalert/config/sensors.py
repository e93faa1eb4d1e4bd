"""Schema of the thermometers outside."""

from typing import Literal

from pydantic import Field, model_validator

from frostalert.config.section import Name, Section
from frostalert.model.reading import SensorKind


class SensorSection(Section):
    """A thermometer outside: where it is colder, it lowers the coming hours."""

    name: Name = Field(
        min_length=1,
        max_length=40,
        description="Its name; no two alike.",
        examples=["Post by the shed"],
    )
    kind: SensorKind = Field(
        description='"reference" (the site itself), "sheltered" (shaded air of a '
        'block) or "exposed" (under the open sky, as a bud).',
        examples=["reference"],
    )
    block: str | None = Field(
        default=None,
        description="The block where it hangs; the reference has none.",
        examples=["Apricots by the lane"],
    )
    treated: bool = Field(
        default=False,
        description="True while water, heat or a cover changes what it reads: then it "
        "says nothing of the open air.",
        examples=[False],
    )

    equipment: str | None = Field(
        default=None,
        description="The equipment that it hangs beside or under, whose gain over the "
        "open air it measures; such a sensor counts as treated.",
        examples=["Bed covers"],
    )

    @model_validator(mode="after")
    def _hangs_somewhere(self) -> "SensorSection":
        """Refuse a block's sensor without a block."""
        if self.kind is not SensorKind.REFERENCE and self.block is None:
            message = f'a {self.kind} sensor needs its block = "NAME"'
            raise ValueError(message)
        return self


class ReadingsSection(Section):
    """A file that thermometers write their readings to, if there is one."""

    csv: str | None = Field(
        default=None,
        description="CSV file with the columns time, sensor, value; looked at every "
        "minute. Times with an offset, such as 2026-04-12T22:10-07:00.",
        examples=["/var/lib/thermometers/readings.csv"],
    )
    unit: Literal["degF", "degC"] = Field(
        default="degF",
        description='Unit of the values in it: "degF" or "degC".',
        examples=["degF"],
    )

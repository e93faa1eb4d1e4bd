"""The first hour: `frostalert init` from four answers, then `frostalert doctor`."""

import os
import subprocess
import sys
from itertools import chain
from pathlib import Path

import pytest
import typer
from aiosmtpd.smtp import AuthResult

from frostalert.cli.doctor import doctor
from frostalert.cli.first_answers import read_crop, read_money, read_place
from frostalert.config.example import example_text
from frostalert.config.load import load_settings
from frostalert.errors import UsageError
from frostalert.model.settings import Settings
from frostalert.store.open import open_store
from tests.adapters.test_nws import Office
from tests.cli.test_commands import frostalert
from tests.support.configs import config_text
from tests.support.grids import grid_text
from tests.support.servers import MailBox, Reply, http_server, smtp_server

ANSWERS = {
    "--place": "46.2205, -119.2412",
    "--elevation": "410 ft",
    "--crop": "apricot, full bloom",
    "--email": "ines@heron-bench.example",
}
ZONE = ("--time-zone", "America/Los_Angeles")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "grid.json").write_text(grid_text())
    return tmp_path


def init(folder: Path, *more: str, **answers: str):  # type: ignore[no-untyped-def]
    given = {**ANSWERS, **{f"--{key}": value for key, value in answers.items()}}
    flags = [part for pair in given.items() for part in pair]
    look = ("--forecast", "grid.json")
    zone = () if "--time-zone" in more else ZONE
    return frostalert("init", *flags, *zone, *look, *more, cwd=folder)


def test_four_answers_make_a_file_that_is_good(folder: Path) -> None:
    done = init(folder)
    assert (done.returncode, done.stderr) == (0, "")
    settings = load_settings(folder / "frostalert.toml", needs_secrets=False)
    [block] = settings.farm.blocks
    assert (block.crop.name, block.stage) == ("apricot", "full bloom")
    assert settings.sources.names == ("nws", "met-norway")
    assert "Written: frostalert.toml" in done.stdout
    assert "US National Weather Service" in done.stdout
    for step in (
        "1. Edit",
        "2. frostalert doctor",
        "3. frostalert past",
        "4. frostalert run",
    ):
        assert step in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 80


def typed(
    folder: Path,
    *answers: str,
    zone: tuple[str, ...] = ZONE,
    machine: str = "Europe/Vienna",
) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-m", "frostalert", "init", *zone, "--forecast", "grid.json"],
        cwd=folder,
        env={**os.environ, "TZ": machine},
        input="\n".join([*answers, ""]),
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_what_is_not_given_is_asked_for(folder: Path) -> None:
    done = typed(folder, *ANSWERS.values())
    assert done.returncode == 0
    assert "Latitude, longitude?" in done.stdout
    assert (folder / "frostalert.toml").is_file()


def test_what_is_typed_wrong_is_asked_for_again_at_once(folder: Path) -> None:
    place, height, crop, email = ANSWERS.values()
    done = typed(folder, "here", place, "410", height, crop, email)
    assert done.returncode == 0
    assert '"here" is not a place' in done.stdout + done.stderr
    assert '"410" has no unit' in done.stdout + done.stderr


@pytest.mark.parametrize(
    ("at", "wrong", "words"),
    [
        (1, "41000 ft", "must be between -450 m and 5000 m (16400 ft)"),
        (3, "Bob <bob@farm.example>", 'write "bob@farm.example" alone'),
        (
            3,
            "bob@farm.example, eva@farm.example",
            'write "bob@farm.example" or "eva@farm.example" alone',
        ),
        (3, "bob miller@farm.example", 'write one like "ines@heron-bench.example"'),
        (3, "bj\u00f6rn@farm.example", "plain characters"),
    ],
)
def test_what_the_file_would_not_take_is_asked_for_again_at_once(
    folder: Path, at: int, wrong: str, words: str
) -> None:
    answers = [*ANSWERS.values()]
    answers.insert(at, wrong)
    done = typed(folder, *answers)
    assert done.returncode == 0, done.stderr
    said = " ".join((done.stdout + done.stderr).split())
    assert words in said
    assert ": line " not in said
    assert " problem" not in said
    [person] = written(folder).farm.people
    assert person.email == ANSWERS["--email"]


def test_every_option_that_cannot_be_has_a_message_and_nothing_is_asked(
    folder: Path,
) -> None:
    wrong = {
        "--place": "at home",
        "--elevation": "41000 ft",
        "--email": "Bob <bob@farm.example>",
        "--name": "x" * 61,
        "--time-zone": "Pacific",
        "--protect": "shets",
        "--now": "noon",
    }
    done = frostalert("init", *chain.from_iterable(wrong.items()), cwd=folder)
    assert (done.returncode, done.stdout) == (64, "")
    lines = [line for line in done.stderr.splitlines() if not line.startswith("  ")]
    begun = [line.removeprefix("frostalert: ").split()[0] for line in lines]
    assert begun == [f"{option}:" for option in wrong if option != "--now"] + ["--now"]
    assert "line " not in done.stderr
    assert not (folder / "frostalert.toml").exists()


def test_a_long_address_makes_a_name_that_fits(folder: Path) -> None:
    email = f"{'x' * 50}@heron-bench.example"
    assert init(folder, email=email).returncode == 0
    [person] = written(folder).farm.people
    assert (person.name, person.email) == ("x" * 40, email)


@pytest.mark.parametrize("amount", ["inf", "nan", "-3", "1e999"])
def test_an_amount_that_is_none_is_not_taken(amount: str) -> None:
    with pytest.raises(UsageError):
        read_money(amount)


def test_a_time_zone_of_another_continent_is_not_taken_unasked(folder: Path) -> None:
    more = ("", "Mars/Base", "America/Boise")
    done = typed(folder, *ANSWERS.values(), *more, zone=())
    assert done.returncode == 0
    said = " ".join(done.stdout.split())
    assert "Europe/Vienna is 9 h off the sun" in said
    assert '"Mars/Base" is no time zone' in said
    settings = load_settings(folder / "frostalert.toml", needs_secrets=False)
    assert settings.farm.site.time_zone == "America/Boise"


def test_a_server_on_universal_time_is_asked_for_the_zone_alone(folder: Path) -> None:
    done = typed(folder, *ANSWERS.values(), "America/Boise", zone=(), machine="Etc/UTC")
    assert done.returncode == 0
    said = " ".join(done.stdout.split())
    assert "This machine's clock runs on universal time" in said
    assert "once more?" not in said
    settings = load_settings(folder / "frostalert.toml", needs_secrets=False)
    assert settings.farm.site.time_zone == "America/Boise"


def written(folder: Path) -> Settings:
    return load_settings(folder / "frostalert.toml", needs_secrets=False)


@pytest.mark.parametrize(
    ("said", "place"),
    [
        ("45.19N 5.72E", (45.19, 5.72)),
        ("45.19 N, 5.72 E", (45.19, 5.72)),
        ("N45.19\u00b0 E5.72\u00b0", (45.19, 5.72)),
        ("5.72E 45.19N", (45.19, 5.72)),
        ("45\u00b011'24\"N 5\u00b043'12\"E", (45.19, 5.72)),
        ("45\u00b0 11.4' N, 5\u00b0 43.2' E", (45.19, 5.72)),
        ("46.2205N 119.2412W", (46.2205, -119.2412)),
        ("46.2205, \u2212119.2412", (46.2205, -119.2412)),
        ("33.5 S 70.7 W", (-33.5, -70.7)),
        ("47.05,15.44", (47.05, 15.44)),
    ],
)
def test_a_place_may_be_written_as_maps_write_it(
    said: str, place: tuple[float, float]
) -> None:
    assert read_place(said) == pytest.approx(place)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("45,19 5,72", 'did you mean "45.19, 5.72"'),
        ("45,19; 5,72", 'did you mean "45.19, 5.72"'),
        ("45,19N 5,72E", 'did you mean "45.19, 5.72"'),
        ("-119.2412 46.2205", 'write "46.2205, -119.2412"'),
        ("45,19", "one number, or two whole degrees"),
        ("45 5", "which are 100 km wide"),
        ("45.19N 5.72N", "is not a place"),
        ("145.1 210.2", "nowhere on the globe"),
        ("Grenoble", "is not a place"),
    ],
)
def test_a_place_that_cannot_be_says_what_to_write(said: str, words: str) -> None:
    with pytest.raises(UsageError) as caught:
        read_place(said)
    assert words in str(caught.value)


def test_the_sign_is_looked_at_again_after_the_zone(folder: Path) -> None:
    _, *rest = ANSWERS.values()
    more = ("America/Los_Angeles", "46.2205 -119.2412")
    done = typed(folder, "46.2205 119.2412", *rest, *more, zone=(), machine="Etc/UTC")
    assert done.returncode == 0, done.stderr
    said = " ".join(done.stdout.split())
    assert "lies 9,395 km from America/Los_Angeles" in said
    assert "write longitude = -119.2412" in said
    assert written(folder).farm.site.longitude == -119.2412


def test_a_server_on_universal_time_in_europe_is_asked_for_the_zone(
    folder: Path,
) -> None:
    _, *rest = ANSWERS.values()
    done = typed(
        folder, "45.19N 5.72E", *rest, "Europe/Paris", zone=(), machine="Etc/UTC"
    )
    assert done.returncode == 0
    assert "Near there are Europe/Monaco" in " ".join(done.stdout.split())
    site = written(folder).farm.site
    assert (site.time_zone, site.units) == ("Europe/Paris", "metric")
    assert "in the time of Europe/Paris" in " ".join(done.stdout.split())
    (folder / "frostalert.toml").unlink()
    given = ANSWERS | {"--place": "45.19N 5.72E"}
    flags = tuple(chain.from_iterable(given.items()))
    refused = typed(folder, zone=flags, machine="Etc/UTC")
    assert refused.returncode == 64
    assert "--time-zone" in refused.stderr


def test_a_neighbouring_clock_is_asked_for_and_enter_keeps_it(folder: Path) -> None:
    _, *rest = ANSWERS.values()
    there = "45.19N 5.72E"
    done = typed(folder, there, *rest, "Europe/Paris", zone=(), machine="Europe/London")
    assert "This machine runs on Europe/London" in done.stdout
    assert written(folder).farm.site.time_zone == "Europe/Paris"
    (folder / "frostalert.toml").unlink()
    typed(folder, there, *rest, "", zone=(), machine="Europe/Lisbon")
    assert written(folder).farm.site.time_zone == "Europe/Lisbon"
    (folder / "frostalert.toml").unlink()
    done = typed(folder, there, *rest, zone=(), machine="Europe/Paris")
    assert "This machine" not in done.stdout


def test_a_place_and_a_zone_that_were_both_given_must_agree(folder: Path) -> None:
    done = init(folder, place="46.2205 119.2412")
    assert done.returncode == 64
    assert "write longitude = -119.2412" in " ".join(done.stderr.split())
    assert not (folder / "frostalert.toml").exists()


def test_a_stage_that_was_left_out_is_asked_for(folder: Path) -> None:
    place, height, _, email = ANSWERS.values()
    answers = (place, height, "plum", "popping", "full bloom", email)
    done = typed(folder, *answers)
    assert "Its stage, of the most advanced buds? One of dormant, " in done.stdout
    assert 'unknown stage "popping"' in done.stdout + done.stderr
    [block] = written(folder).farm.blocks
    assert (block.crop.name, block.stage) == ("european-plum", "full bloom")


def test_only_who_names_equipment_is_asked_what_a_night_costs(folder: Path) -> None:
    done = typed(folder, *ANSWERS.values(), "")
    assert "What can you protect it with?" in done.stdout
    assert "cost you" not in done.stdout
    assert written(folder).farm.equipment == ()
    (folder / "frostalert.toml").unlink()
    done = typed(folder, *ANSWERS.values(), "shets", "sheets, buckets", "", "35", "900")
    assert '"shets" is not known; write sheets' in done.stdout + done.stderr
    assert "What does a night of row cover cost you" in done.stdout
    [block] = written(folder).farm.blocks
    assert [method.name for method in block.methods] == ["row cover", "hand wetting"]
    assert dict(block.night_costs) == {"hand wetting": 35.0}
    assert block.crop_value == 900.0
    assert not any(item.missing for item in written(folder).farm.equipment)


def test_methods_without_ready_made_equipment_are_asked_for_in_the_next_step(
    folder: Path,
) -> None:
    done = init(folder, "--protect", "micro-sprinklers")
    said = " ".join(done.stdout.split())
    assert "Under [[equipment]] say what your micro-sprinklers can do" in said
    assert written(folder).farm.equipment == ()


def test_the_ready_made_equipment_can_be_switched_on(folder: Path) -> None:
    init(folder)
    path = folder / "frostalert.toml"
    text = path.read_text()
    start = text.index("# Ready-made")
    end = text.index("\n\n", text.rindex("# Ready-made"))
    ready = "\n".join(
        line.removeprefix("#: ")
        for line in text[start:end].splitlines()
        if line.startswith("#: ")
    )
    methods = 'methods = ["row cover", "hand wetting"]'
    path.write_text(text.replace("methods = []", methods, 1) + ready + "\n")
    farm = written(folder).farm
    assert [item.method.name for item in farm.equipment] == [
        "row cover",
        "hand wetting",
    ]
    assert not any(item.missing for item in farm.equipment)
    look = ("--forecast", "grid.json", "--now", "2026-04-12T15:00")
    frostalert("stage", "My", "apricot", "full", "bloom", "--yes", cwd=folder)
    plan = frostalert("plan", *look, cwd=folder)
    assert "Bed sheets to the ground" in plan.stdout


def test_a_minus_that_is_missing_is_asked_for(folder: Path) -> None:
    answers = ANSWERS | {"--place": "46.2205 119.2412"}
    zone = ("--time-zone", "America/Los_Angeles")
    done = typed(folder, *answers.values(), "46.2205 -119.2412", zone=zone)
    assert done.returncode == 0
    settings = load_settings(folder / "frostalert.toml", needs_secrets=False)
    assert settings.farm.site.longitude == -119.2412
    assert settings.sources.names == ("nws", "met-norway")


@pytest.mark.parametrize("zone", ["Pacific", "America/New York", "America", "EST5"])
def test_a_time_zone_that_is_none_is_refused(folder: Path, zone: str) -> None:
    given = tuple(chain.from_iterable(ANSWERS.items()))
    done = typed(folder, zone=(*given, "--time-zone", zone))
    assert done.returncode == 64
    assert f'"{zone}" is no time zone; write it like' in " ".join(done.stderr.split())


def test_with_every_answer_given_a_doubtful_time_zone_is_refused(folder: Path) -> None:
    done = typed(folder, zone=tuple(chain.from_iterable(ANSWERS.items())))
    assert done.returncode == 64
    assert "--time-zone" in done.stderr
    assert not (folder / "frostalert.toml").exists()


def test_outside_the_usa_it_is_metric_and_asks_a_source_that_reaches_there(
    folder: Path,
) -> None:
    there = ("--time-zone", "Europe/Vienna")
    init(folder, *there, place="47.05 15.44", elevation="350 m")
    settings = load_settings(folder / "frostalert.toml", needs_secrets=False)
    assert settings.sources.names == ("met-norway",)
    assert settings.farm.site.units == "metric"


def test_nothing_that_stands_there_is_written_over(folder: Path) -> None:
    (folder / "frostalert.toml").write_text("mine")
    done = init(folder)
    assert done.returncode == 64
    assert "is there already" in done.stderr
    assert (folder / "frostalert.toml").read_text() == "mine"


def test_a_forgotten_comma_between_crop_and_stage_is_no_other_crop() -> None:
    crop, stage = read_crop("sweet cherry full bloom")
    assert (crop.name, stage) == ("sweet-cherry", "full bloom")
    assert read_crop("apricot") == (read_crop("apricot, dormant")[0], None)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("place", "at home", "is not a place; write it like"),
        ("elevation", "410", '"410" has no unit'),
        ("crop", "aprikot", 'unknown crop "aprikot"'),
        ("crop", "apricot, blooming", 'unknown stage "blooming"'),
        ("crop", "sweet cherry full blom", '"full bloom"'),
        ("crop", "sweet cherry full blom", 'unknown stage "full blom"'),
        ("crop", "grape, full bloom", 'unknown stage "full bloom"; write one of "'),
        ("crop", "quince full bloom", 'unknown crop "quince full bloom"'),
        ("email", "ines", "email"),
    ],
)
def test_an_answer_that_cannot_be_is_told_and_nothing_is_written(
    folder: Path, key: str, value: str, words: str
) -> None:
    done = init(folder, **{key: value})
    assert done.returncode in (64, 78)
    assert words in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
    assert not (folder / "frostalert.toml").exists()


def doctored(folder: Path, nws: str, port: int, more: str = "") -> tuple[int, str]:
    text = config_text(smtp_port=port, nws_url=nws, state=str(folder / "st"))
    login = 'security = "none"\nusername = "u"\npassword_file = "smtp-password"'
    text = text.replace('security = "none"', login) + more
    (folder / "frostalert.toml").write_text(text)
    (folder / "smtp-password").write_text("right\n")
    done = frostalert("doctor", cwd=folder)
    assert "Traceback" not in done.stderr
    return done.returncode, " ".join(done.stdout.split())


def authenticator(*given):  # type: ignore[no-untyped-def]
    data = given[-1]
    return AuthResult(success=data.password == b"right")


WATCHED = '\n[watcher]\nurl = "https://watch.example/ping"\n'


def test_a_machine_that_is_ready_has_nothing_bad_and_got_no_mail(folder: Path) -> None:
    office, box = Office(), MailBox()
    office.grid = Reply(200, grid_text())
    with (
        http_server(office) as nws,
        smtp_server(box, authenticator=authenticator, auth_require_tls=False) as mail,
    ):
        code, words = doctored(folder, nws.url, mail.port, WATCHED)
    assert "good mail: 127.0.0.1 takes the log-in; nothing was sent" in words
    assert "good forecast nws: 72 hours, cell TST 1,2" in words
    assert "look service: no state yet" in words
    assert "let its number through" in words
    assert "No problems found." in words
    assert code == 0
    assert box.mails == []


def test_a_doubtful_forecast_is_looked_at(folder: Path) -> None:
    office, box = Office(), MailBox()
    office.grid = Reply(200, grid_text(validTimes="soon"))
    with (
        http_server(office) as nws,
        smtp_server(box, authenticator=authenticator, auth_require_tls=False) as mail,
    ):
        _, words = doctored(folder, nws.url, mail.port, WATCHED)
    assert "look forecast nws: it does not say for what times it holds" in words


def test_each_fault_says_what_to_do(folder: Path) -> None:
    office, box = Office(), MailBox()
    office.grid = office.points = Reply(404)

    def refusing(*_: object) -> AuthResult:
        return AuthResult(success=False, handled=False)

    with (
        http_server(office) as nws,
        smtp_server(box, authenticator=refusing, auth_require_tls=False) as mail,
    ):
        code, words = doctored(folder, nws.url, mail.port)
    assert code == 1
    assert "BAD mail:" in words
    assert "app password" in words
    assert "BAD forecast nws:" in words
    assert "BAD watcher: nobody notices when the service dies" in words


def test_without_a_file_the_newcomer_is_sent_to_init(tmp_path: Path) -> None:
    done = frostalert("tonight", cwd=tmp_path)
    assert done.returncode == 78
    assert "let frostalert init write a first one" in " ".join(done.stderr.split())


def test_the_unit_is_looked_for_once_the_service_has_run(folder: Path) -> None:
    with smtp_server(MailBox()) as mail:
        _, before = doctored(folder, "http://127.0.0.1:9", mail.port)
        (folder / "st").mkdir()
        open_store(folder / "st").database.close()
        _, after = doctored(folder, "http://127.0.0.1:9", mail.port)
    assert "unit:" not in before
    assert "look unit: " in after or "good unit: " in after


def test_the_doctor_knows_the_invented_example_and_a_wrong_place(folder: Path) -> None:
    text = example_text().replace("smtp-password", "x").replace("sms-token", "x")
    (folder / "x").write_text("invented")
    path = folder / "frostalert.toml"
    path.write_text(text.replace("-119.2412", "119.2412"))
    wrong = " ".join(frostalert("doctor", cwd=folder).stdout.split())
    assert "BAD configuration:" in wrong
    assert "write longitude = -119.2412" in wrong
    path.write_text(text)
    done = " ".join(frostalert("doctor", cwd=folder).stdout.split())
    assert "look configuration: this is the invented example" in done


def test_a_folder_on_a_network_share_is_told_before_a_state_is_in_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = folder / "frostalert.toml"
    path.write_text(config_text(nws_url="http://127.0.0.1:9", state=str(folder)))
    monkeypatch.setattr("frostalert.cli.doctor.share_of", lambda _: "nfs4")
    with pytest.raises(typer.Exit):
        doctor(path)
    words = " ".join(capsys.readouterr().out.split())
    assert "look disk: the state lies on a network share (nfs4)" in words
    assert "set [storage] directory to a disk of this machine" in words


def test_a_broken_configuration_is_the_first_finding(folder: Path) -> None:
    (folder / "frostalert.toml").write_text("config_version = 1\n")
    done = frostalert("doctor", cwd=folder)
    assert done.returncode == 1
    assert done.stdout.startswith("BAD   configuration:")

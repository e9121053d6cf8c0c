"""The configuration: an empty file works, and whatever is wrong is named with its line."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest
from pydantic import BaseModel, ConfigDict, ValidationError

from weighd import config
from weighd.config.sections import HttpSection, ScaleSection
from weighd.domain.errors import ConfigError
from weighd.domain.metrology import Rule
from weighd.main.said import with_port

WHOLE = """
[station]
name = "kitchen-2"
data = "record"
operators = ["Ada", "Bo"]

[http]
port = 9000

[elsewhere]
host = "0.0.0.0"
names = ["bench.example:9000"]
certificate = "tls/bench.pem"
key = "tls/bench.key"

[judging]
rule = "simple"

[log]
level = "debug"
format = "json"

[scales.bench]
driver = "serial"
max_g = 6000
min_g = "5"
interval_g = 0.1
repeatability_g = "0.05"
silent_after_s = 3
device = "/dev/ttyUSB0"
speed = 9600

[scales.floor]
driver = "usb"
"""


def refused(text: str, file: Path | None = None) -> ConfigError:
    with pytest.raises(ConfigError) as caught:
        config.parse(text, file)
    return caught.value


def test_an_empty_file_is_a_station_without_a_scale() -> None:
    empty = config.parse("")
    assert empty.scales == {}
    assert (empty.http.host, empty.http.port) == ("127.0.0.1", 8451)
    assert (empty.elsewhere.open, empty.elsewhere.allow_plain) == (False, False)
    assert empty.judging.as_rule() == Rule("guarded", Decimal(2))
    assert (empty.log.level, empty.log.format) == ("info", "auto")
    assert empty.station.operators == ()


def test_everything_can_be_set() -> None:
    whole = config.parse(WHOLE)
    assert (whole.station.name, whole.station.operators) == ("kitchen-2", ("Ada", "Bo"))
    assert whole.elsewhere.names == ("bench.example:9000",)
    assert (whole.elsewhere.open, whole.elsewhere.plain) == (True, False)
    assert whole.judging.as_rule().name == "simple"
    assert list(whole.scales) == ["bench", "floor"]
    bench = whole.scales["bench"]
    assert (bench.max_g, bench.min_g) == (Decimal(6000), Decimal(5))
    assert (str(bench.interval_g), str(bench.repeatability_g)) == ("0.1", "0.05")
    assert bench.silent_after_s == 3.0
    assert bench.settings == {"device": "/dev/ttyUSB0", "speed": 9600}
    assert whole.scales["floor"].settings == {}


def test_a_configuration_is_frozen() -> None:
    whole = config.parse(WHOLE)
    for thing, name in ((whole, "http"), (whole.http, "port"), (whole.scales["bench"], "driver")):
        with pytest.raises(ValidationError):
            setattr(thing, name, "other")


WRONG = [
    ("[http]\n\nprot = 1", 3, "http.prot", "unknown-key", 'did you mean "port"'),
    ("[http]\nx = 1", 2, "http.x", "unknown-key", "the keys are host, port"),
    (
        "[http]\nhost = '0.0.0.0'\nallow_remote = true",
        3,
        "http.allow_remote",
        "unknown-key",
        '"allow_remote" is gone, take it out; the section elsewhere opens a door of its own',
    ),
    (
        "[http]\nallowed_hosts = ['a']",
        2,
        "http.allowed_hosts",
        "unknown-key",
        '"allowed_hosts" is gone, take it out; the names under which other devices open the page',
    ),
    ("[log]\nallow_remote = true", 2, "log.allow_remote", "unknown-key", "is not a key here"),
    (
        "colour = 1",
        1,
        "colour",
        "unknown-key",
        "station, http, elsewhere, judging, plan",
    ),
    ("[statoin]\nname = 'x'", 1, "statoin", "unknown-key", 'did you mean "station"'),
    ("http = 3", 1, "http", "bad-value", "must be a table"),
    ("[http]\nport = '8451'", 2, "http.port", "bad-value", "whole number"),
    ("[http]\nport = true", 2, "http.port", "bad-value", "whole number"),
    ("[http]\nport = 70000", 2, "http.port", "bad-value", "65535"),
    ("[http]\nport = -1", 2, "http.port", "bad-value", "0"),
    ("[elsewhere]\nallow_plain = 1", 2, "elsewhere.allow_plain", "bad-value", "true or false"),
    ("[elsewhere]\nnames = 'a'", 2, "elsewhere.names", "bad-value", "list"),
    ("[elsewhere]\nnames = ['a', 'http://b']", 2, "elsewhere.names[2]", "bad-value", ""),
    ("[station]\nname = 'my station'", 2, "station.name", "bad-value", "letters, digits"),
    ("[station]\nname = ''", 2, "station.name", "bad-value", "letters, digits"),
    ("[station]\ndata = ''", 2, "station.data", "bad-value", "folder"),
    ("[station]\noperators = ['Ada', 3]", 2, "station.operators[2]", "bad-value", "text"),
    ("[judging]\nrule = 'strict'", 2, "judging.rule", "bad-value", '"guarded" or "simple"'),
    ("[judging]\nk = 0", 2, "judging.k", "bad-value", "makes no sense"),
    ("[judging]\nk = 'two'", 2, "judging.k", "bad-value", "not a number"),
    ("[log]\nlevel = 'loud'", 2, "log.level", "bad-value", '"debug"'),
    ("[scales]\nbench = 1", 2, "scales.bench", "bad-value", "table"),
    ("[[scales]]\nmax_g = 1", 1, "scales[1]", "bad-value", "table"),
    ("[scales.'my scale']\nmax_g = 1", 1, "scales.my scale", "bad-value", "letters, digits"),
    ("[scales.b]\n\nmax_g = nan", 3, "scales.b.max_g", "bad-value", "not a number"),
    ("[scales.b]\nmax_g = inf", 2, "scales.b.max_g", "bad-value", "not a number"),
    ("[scales.b]\nmax_g = -5", 2, "scales.b.max_g", "bad-value", "not a number"),
    ("[scales.b]\nmax_g = 0", 2, "scales.b.max_g", "bad-value", "above zero"),
    ("[scales.b]\nmax_g = true", 2, "scales.b.max_g", "bad-value", "grams"),
    ("[scales.b]\nmax_g = '6 kg'", 2, "scales.b.max_g", "bad-value", "not a number"),
    ("[scales.b]\nmax_g = '1e99'", 2, "scales.b.max_g", "bad-value", "more than"),
    ("[scales.b]\nmax_g = 1979-05-27", 2, "scales.b.max_g", "bad-value", "grams"),
    ("[scales.b]\ninterval_g = 0.0", 2, "scales.b.interval_g", "bad-value", "above zero"),
    ("[scales.b]\nmax_g=5\ninterval_g=5", 3, "scales.b.interval_g", "bad-value", "smaller"),
    ("[scales.b]\nmax_g=5\nmin_g=9", 3, "scales.b.min_g", "bad-value", "smaller"),
    ("[scales.b]\nsilent_after_s = 0", 2, "scales.b.silent_after_s", "bad-value", "greater"),
    ("[scales.b]\nsilent_after_s = nan", 2, "scales.b.silent_after_s", "bad-value", "finite"),
    ("[scales.b]\ndriver = 3", 2, "scales.b.driver", "bad-value", "text"),
]


@pytest.mark.parametrize(("text", "line", "key", "code", "says"), WRONG)
def test_what_is_wrong_is_named_with_file_line_and_key(
    text: str, line: int, key: str, code: str, says: str
) -> None:
    error = refused(text, Path("/etc/weighd/weighd.toml"))
    assert error.where == f"/etc/weighd/weighd.toml, line {line}, {key}"
    assert error.code == code
    assert says in error.message
    assert error.message.endswith(".")


def test_the_first_of_several_mistakes_is_told() -> None:
    error = refused("[http]\nport = 'x'\nhots = 1\n")
    assert error.where.endswith("line 2, http.port")


def test_what_is_not_toml() -> None:
    error = refused("[http]\nport = = 3", Path("w.toml"))
    assert (error.code, error.where) == ("not-toml", "w.toml, line 2")


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "bench.example", "127.0.0.1.nip"])
def test_the_stations_own_door_opens_on_no_other_address(host: str) -> None:
    error = refused(f'[http]\nhost = "{host}"\n')
    assert (error.code, error.where) == ("remote-refused", "weighd.toml, line 2, http.host")
    assert "the section elsewhere" in error.message
    with pytest.raises(ConfigError) as caught:
        with_port(config.parse(""), host, None, None)  # nor by the command line
    assert (caught.value.code, caught.value.where) == ("remote-refused", "--host")


OPEN = '[elsewhere]\nhost = "0.0.0.0"\n'
NAMED = f'{OPEN}names = ["bench.example", "[::1]", "192.0.2.7:9000"]\n'
TLS = 'certificate = "c.pem"\nkey = "k.pem"\n'


@pytest.mark.parametrize(
    ("text", "key", "code", "says"),
    [
        (OPEN + TLS, "names", "bad-value", "is needed"),
        (NAMED, "host", "plain-refused", "without TLS"),
        (NAMED + 'certificate = "c.pem"', "key", "bad-value", "belong together"),
        (NAMED + 'key = "k.pem"', "certificate", "bad-value", "belong together"),
        (NAMED + 'proxy = "front.example"', "proxy", "bad-value", "in figures"),
    ],
)
def test_a_door_for_other_devices_has_names_and_tls(
    text: str, key: str, code: str, says: str
) -> None:
    error = refused(text)
    assert (error.code, error.where.rpartition(", ")[2]) == (code, f"elsewhere.{key}")
    assert says in error.message


def test_what_other_devices_open() -> None:
    plain = config.parse(NAMED + "allow_plain = true").elsewhere
    assert plain.addresses(8452) == (
        "http://bench.example:8452/",
        "http://[::1]:8452/",
        "http://192.0.2.7:9000/",
    )
    assert config.parse(NAMED + TLS).elsewhere.addresses(443)[0] == "https://bench.example/"
    behind = config.parse(NAMED + 'proxy = "127.0.0.1"').elsewhere
    assert (behind.addresses(8452)[0], behind.plain) == ("https://bench.example/", False)
    assert config.parse("[elsewhere]\nport = 9").elsewhere.open is False


@pytest.mark.parametrize("host", ["127.0.0.1", "127.1.2.3", "::1", "localhost", "LOCALHOST"])
def test_this_computer_is_always_allowed(host: str) -> None:
    assert config.parse(f'[http]\nhost = "{host}"\n').http.host == host


def test_floats_count_as_they_were_written() -> None:
    """0.1 in binary is not 0.1 (IEEE 754); what was written is what counts."""
    scale = config.parse("[scales.b]\ninterval_g = 0.1\nmax_g = 0.3\n").scales["b"]
    assert (scale.interval_g, scale.max_g) == (Decimal("0.1"), Decimal("0.3"))
    assert config.parse("[scales.b]\ninterval_g = 1e-3").scales["b"].interval_g == Decimal("0.001")


class DriverSettings(BaseModel):
    """What a driver may check its settings with."""

    model_config = ConfigDict(extra="forbid", strict=True)
    device: str
    speed: int = 9600


def test_what_a_driver_refuses_gets_its_line() -> None:
    text = '[scales.bench]\ndriver = "serial"\nspeed = "fast"\ndevice = "/dev/x"\nmax = 3\n'
    whole = config.parse(text, Path("w.toml"))
    with pytest.raises(ValidationError) as caught:
        DriverSettings.model_validate({"device": "/dev/x", "speed": "fast"})
    error = whole.driver_error("bench", caught.value)
    assert error.where == "w.toml, line 3, scales.bench.speed"
    assert error.message == "must be a whole number."

    with pytest.raises(ValidationError) as caught:
        DriverSettings.model_validate({"device": "/dev/x", "max": 3})
    error = whole.driver_error("bench", caught.value)
    assert (error.code, error.where) == ("unknown-key", "w.toml, line 5, scales.bench.max")
    assert 'did you mean "max_g"' in error.message

    with pytest.raises(ValidationError) as caught:
        DriverSettings.model_validate({})
    error = whole.driver_error("bench", caught.value)
    # A key that is not there has no line; its table has.
    assert (error.where, error.message) == ("w.toml, line 4, scales.bench.device", "is missing.")

    error = whole.driver_error("bench", ValueError("speed: no scale talks that fast"))
    assert error.where == "w.toml, line 3, scales.bench.speed"
    error = whole.driver_error("bench", ValueError("it is broken"))
    assert error.where == "w.toml, line 1, scales.bench"

    error = whole.wrong(("scales", "bench", "driver"), "no driver is called serial")
    assert error.where == "w.toml, line 2, scales.bench.driver"


def test_where_a_configuration_is_looked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, home = tmp_path / "here", tmp_path / "home"
    here.mkdir()
    (home / "weighd").mkdir(parents=True)
    monkeypatch.chdir(here)
    env = {"XDG_CONFIG_HOME": str(home)}
    (home / "weighd" / "weighd.toml").touch()
    assert config.find(environment=env) == home / "weighd" / "weighd.toml"
    (here / "weighd.toml").touch()
    assert config.find(environment=env) == Path("weighd.toml")
    assert config.find(tmp_path / "named.toml", env) == tmp_path / "named.toml"
    by_home = tmp_path / ".config" / "weighd"
    by_home.mkdir(parents=True)
    (by_home / "weighd.toml").touch()
    (here / "weighd.toml").unlink()
    assert config.find(environment={"HOME": str(tmp_path)}) == by_home / "weighd.toml"


def test_reading_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "weighd.toml"
    file.write_bytes(b"\xef\xbb\xbf[station]\nname = 'mine'\ndata = 'record'\n")
    read = config.load(file)
    assert (read.station.name, read.file) == ("mine", file)
    assert read.place(read.station.data) == tmp_path / "record"
    assert read.place(Path("/var/lib/x")) == Path("/var/lib/x")

    file.write_bytes(b"\xff\xfe")
    with pytest.raises(ConfigError) as caught:
        config.load(file)
    assert (caught.value.code, caught.value.where) == ("not-text", str(file))
    with pytest.raises(ConfigError) as caught:
        config.load(tmp_path / "nowhere.toml")
    assert caught.value.code == "no-config"
    with pytest.raises(ConfigError) as caught:
        config.load(tmp_path)
    assert caught.value.code == "unreadable-config"

    monkeypatch.setattr(config, "find", lambda _: None)
    assert config.load() == config.Config()
    assert config.load().place(Path("x")) == Path.cwd() / "x"


def test_every_key_is_described_and_its_default_is_toml() -> None:
    rows = config.reference()
    keys = [row.key for row in rows]
    assert len(keys) == len(set(keys))
    for row in rows:
        assert re.fullmatch(r"[A-Z].{10,}\.", row.description), row.key
        if row.default:
            tomllib.loads(f"x = {row.default}")
    for section, model in (("http", HttpSection), ("scales.NAME", ScaleSection)):
        for name in model.model_fields:
            key = f"{section}.{name}"
            assert key in keys or any(one.startswith(f"{key}.") for one in keys), key


def test_the_defaults_in_the_reference_are_the_defaults() -> None:
    written: dict[str, list[str]] = {}
    for row in config.reference():
        section, _, name = row.key.rpartition(".")
        # A check has weights, or is none; a vessel has a mass.
        if row.default and ".check" not in section and not section.startswith("vessels"):
            section = section.replace("NAME", "bench")
            written.setdefault(section, []).append(f"{name} = {row.default}")
    text = "".join(f"[{one}]\n" + "\n".join(rows) + "\n" for one, rows in written.items())
    spelt, short = config.parse(text), config.parse("[scales.bench]\n")
    assert spelt.model_dump() == short.model_dump()
    assert spelt.scales["bench"].settings == {}


# --- vessels --------------------------------------------------------------------------------------


def test_vessels_are_read_with_their_masses() -> None:
    steel = "[vessels.'steel bowl']\nmass_g = '812.4'\nu_g = 0.05\nallow_g = 2\n"
    text = steel + "[vessels.pot]\nmass_g = 3"
    first, second = config.parse(text).known_vessels()
    assert (first.name, str(first.mass_g), str(first.u_g), str(first.allow_g)) == (
        "steel bowl",
        "812.4",
        "0.05",
        "2",
    )
    assert (second.name, second.u_g) == ("pot", 0)


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("vessels = 3", 1, "must be a table"),
        ("[vessels]\npot = 640", 2, "a table of its own"),
        ("[vessels.pot]", 1, "is missing"),
        ("[vessels.pot]\nmass_g = 0", 1, "no mass of a vessel"),
        ("[vessels.pot]\nmass_g = -3", 2, "not a number of grams"),
        ("[vessels.pot]\nmass_g = 5\nu_g = 6", 1, "not known to 6 g"),
        ("[vessels.pot]\nmass_g = 5\nallow_g = 5", 1, "heavier or lighter"),
        ("[vessels.pot]\nmass_g = 5\nweight = 5", 3, "is not a key here"),
        ("[vessels.' pot']\nmass_g = 5", 1, "needs a name"),
    ],
)
def test_what_is_no_vessel_is_named_with_its_line(text: str, line: int, said: str) -> None:
    with pytest.raises(ConfigError) as caught:
        config.parse(text)
    assert f"line {line}," in caught.value.where
    assert said in caught.value.message

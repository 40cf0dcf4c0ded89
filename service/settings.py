"""Settings: TOML files a foundry can read and edit, checked, with units, turned into typed data.

Each file ships with coatbell (package `configs`). A shop's own folder overrides them file by file; a key left
out of a file keeps its default. Secrets may come from the environment instead, so that they need not lie in a file.
"""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Mapping
from difflib import get_close_matches
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from service.drying.isotherm import Gab
from service.drying.shell import Coat, Parameters
from service.errors import BadInput
from service.records.recipes import CoatKind
from service.room.room_fittings import RoomFittings
from service.room_tables import RoomTable
from service.toml_files import check_data as check_data
from service.toml_files import key_list, load_toml
from service.toml_files import read_toml as read_toml
from service.units import (
    AreaHeatJM2K,
    DataSizeB,
    DensityKgM3,
    DiffusivityM2S,
    Fraction,
    LengthM,
    MolarEnergyJMol,
    SecondsS,
    SorptivityKgM2S05,
    SpecificEnergyJKg,
    SpecificHeatJKgK,
)
from service.voice import say

SHOP_KEY = "COATBELL_SHOP_KEY"
BROKER_PASSWORD = "COATBELL_BROKER_PASSWORD"
FILE_NAMES = ("site.toml", "drying.toml", "alerts.toml", "sensors.toml", "demo.toml")


class Part(BaseModel):
    """A table of a settings file: an unknown key is an error, and so is a number that is not finite."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Server(Part):
    """Where the pages are served. Off this machine they ask for the shop key."""

    host: str = Field(default="127.0.0.1", min_length=1)
    port: int = Field(default=8321, ge=1, le=65535)
    shop_key: str | None = Field(default=None, min_length=8, max_length=200, repr=False)
    address: str | None = Field(
        default=None, pattern=r"^https?://[^\s/]+\S*$", examples=['"http://shellroom.local:8321"']
    )

    @property
    def link_base(self) -> str:
        """What links in messages start with: `address`, or else the host and port."""
        if self.address:
            return self.address.rstrip("/")
        host = socket.gethostname() if self.host in ("0.0.0.0", "::") else self.host
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}"


class Data(Part):
    """Where the records lie, and how much. `database`: a SQLAlchemy URL, or None for a SQLite file in `folder`."""

    folder: Path = Path("coatbell-data")
    database: str | None = Field(
        default=None, pattern=r"^(sqlite:///|postgresql(\+psycopg)?://).*$", repr=False
    )

    keep_readings_s: SecondsS = Field(
        default=400 * 86400.0, ge=100 * 86400, le=100 * 366 * 86400, alias="keep_readings"
    )
    disk_limit_b: DataSizeB = Field(default=12e9, ge=1e8, le=1e15, alias="disk_limit")

    @property
    def disk_limit_bytes(self) -> int:
        return round(self.disk_limit_b)

    @property
    def on_sqlite(self) -> bool:
        return self.database_url.startswith("sqlite:")

    @property
    def database_url(self) -> str:
        return self.database or f"sqlite:///{self.folder / 'coatbell.db'}"


class Broker(Part):
    """The MQTT broker: coatbell's own (`embedded`, listening on host and port) or one that runs already.

    publish: the topic under which coatbell tells lamps and programs how the moulds are; empty: it tells nothing.
    """

    kind: Literal["embedded", "external"] = "embedded"
    host: str = Field(default="127.0.0.1", min_length=1)
    port: int = Field(default=1883, ge=1, le=65535)
    tls: bool = False
    ca_file: Path | None = None
    user: str | None = Field(default=None, min_length=1)
    password: str | None = Field(default=None, min_length=1, repr=False)
    client_id: str = Field(default="coatbell", min_length=1, max_length=60, pattern=r"^[^+#/\s]+$")
    publish: str = Field(
        default="coatbell",
        max_length=60,
        pattern=r"^([^+#/\s$][^+#/\s]*(/[^+#/\s]+)*)?$",
        examples=['"coatbell"', '"shop/bell"'],
    )


class BackUp(Part):
    """The nightly copy. `hour` is local and never between 0 and 3, when clocks change."""

    keep: int = Field(default=14, ge=1, le=1000)
    hour: int = Field(default=4, ge=3, le=23)


class Estimate(Part):
    """How often every wet mould is advanced and forecast."""

    every_s: SecondsS = Field(default=60.0, ge=5, le=3600, alias="every")


class Outdoor(Part):
    """Where a forecast of the air outside comes from, and where its numbers stand in it.

    url, topic: one of them, or neither: there is none. times, temperature, humidity, dew_point: dotted paths; a dew
    point that is named goes before the humidity. room: the name of a room whose sensors hang outside. What is wrong in
    it beyond a value's shape is said by `service.outdoor.reading.check`.
    """

    url: str = Field(default="", max_length=2000)
    topic: str = Field(default="", max_length=200, pattern=r"^[^+#\x00]*$", examples=['"weather/forecast"'])
    every_s: SecondsS = Field(default=3600.0, ge=600, le=86400, alias="every")
    times: str = Field(default="hours.at", min_length=1, max_length=200)
    temperature: str = Field(default="hours.temperature", min_length=1, max_length=200)
    temperature_unit: str = Field(default="degC", max_length=40)
    humidity: str = Field(default="hours.humidity", max_length=200)
    humidity_unit: str = Field(default="%", max_length=40)
    dew_point: str = Field(default="", max_length=200)
    dew_point_unit: str = Field(default="degC", max_length=40)
    room: str = Field(default="", max_length=60)

    @property
    def damp(self) -> str:
        """Which of both says how damp it is."""
        return "dew_point" if self.dew_point else "humidity"

    @property
    def given(self) -> bool:
        """Whether a forecast is to come from anywhere."""
        return bool(self.url or self.topic)


class SiteFile(Part):
    """site.toml"""

    server: Server = Server()
    data: Data = Data()
    broker: Broker = Broker()
    back_up: BackUp = BackUp()
    estimate: Estimate = Estimate()
    outdoor: Outdoor = Outdoor()
    rooms: tuple[RoomTable, ...] = ()


Positive = Annotated[float, Field(gt=0)]
Share = Annotated[Fraction, Field(gt=0, lt=1)]


class GelSettings(Part):
    """The sorption isotherm: how much water the dry shell holds (see `service.drying.isotherm.Gab`)."""

    monolayer: Fraction = Field(default=0.009, gt=0, lt=1)
    c: float = Field(default=10.0, gt=0)
    k: float = Field(default=0.95, gt=0, lt=1)


class ParameterSettings(Part):
    """The drying computation's numbers, as `service.drying.shell.Parameters` names them."""

    diffusivity_m2_s: DiffusivityM2S = Field(default=4e-10, gt=0, alias="diffusivity")
    diffusivity_slope: float = Field(default=3.0, ge=0, le=10)
    activation_energy_j_mol: MolarEnergyJMol = Field(default=18e3, ge=0, alias="activation_energy")
    isotherm: GelSettings = GelSettings()
    sorptivity_kg_m2_s05: SorptivityKgM2S05 = Field(default=0.05, ge=0, alias="sorptivity")
    latent_heat_j_kg: SpecificEnergyJKg = Field(default=2.45e6, gt=0, alias="latent_heat")
    shell_heat_j_kg_k: SpecificHeatJKgK = Field(default=900.0, gt=0, alias="shell_heat")
    wax_heat_j_m2_k: AreaHeatJM2K = Field(default=9500.0, ge=0, alias="wax_heat")
    emissivity: Fraction = Field(default=0.9, ge=0, le=1)
    pocket_stirring: float = Field(default=8.0, gt=0)
    transfer_multiplier: Positive = 1.0
    diffusivity_multiplier: Positive = 1.0
    thickness_multiplier: Positive = 1.0
    sorptivity_multiplier: Positive = 1.0
    stirring_multiplier: Positive = 1.0

    def parameters(self) -> Parameters:
        values = self.model_dump()
        return Parameters(**{**values, "isotherm": Gab(**values["isotherm"])})


class CoatSettings(Part):
    """What a coat is like where nobody says otherwise."""

    prime_thickness_m: LengthM = Field(default=0.6e-3, gt=0, le=0.02, alias="prime_thickness")
    backup_thickness_m: LengthM = Field(default=1.1e-3, gt=0, le=0.02, alias="backup_thickness")
    seal_thickness_m: LengthM = Field(default=0.3e-3, gt=0, le=0.02, alias="seal_thickness")
    porosity: Share = 0.29
    dry_density_kg_m3: DensityKgM3 = Field(default=1650.0, gt=0, alias="dry_density")
    immersion_s: SecondsS = Field(default=15.0, ge=0, le=600, alias="immersion")
    ready_saturation: Share = 0.35
    water_limit: Share = 0.02

    def coat(self, kind: CoatKind) -> Coat:
        thickness = {
            CoatKind.PRIME: self.prime_thickness_m,
            CoatKind.BACKUP: self.backup_thickness_m,
            CoatKind.SEAL: self.seal_thickness_m,
        }[kind]
        return Coat(thickness, self.porosity, self.dry_density_kg_m3)


class DryingFile(Part):
    """drying.toml"""

    parameters: ParameterSettings = ParameterSettings()
    coat: CoatSettings = CoatSettings()


class Settings(Part):
    """All of it. `folder` is the shop's own settings folder, if one was given."""

    server: Server = Server()
    data: Data = Data()
    broker: Broker = Broker()
    back_up: BackUp = BackUp()
    estimate: Estimate = Estimate()
    outdoor: Outdoor = Outdoor()
    rooms: tuple[RoomTable, ...] = ()
    drying: DryingFile = DryingFile()
    folder: Path | None = None

    @property
    def room_fittings(self) -> dict[str, RoomFittings]:
        """What stands in the rooms, by their names, as site.toml says."""
        return {room.name: room.fittings() for room in self.rooms}

    @property
    def parameters(self) -> Parameters:
        return self.drying.parameters.parameters()


FILES: dict[str, type[BaseModel]] = {"site.toml": SiteFile, "drying.toml": DryingFile}


def load_settings(
    folder: Path | None = None,
    overrides: Mapping[str, Mapping[str, Any]] | None = None,
    environ: Mapping[str, str] = os.environ,
) -> Settings:
    """Read the settings: shipped files, or the shop's own in `folder`, file by file.

    overrides: keys of site.toml that the command line sets, such as ``{"server": {"port": 9000}}``.
    environ: COATBELL_SHOP_KEY and COATBELL_BROKER_PASSWORD win over the file.
    Raises BadInput naming file, key, what is wrong and what to do.
    """
    site_data = _merged(load_toml(config_file(folder, "site.toml")), overrides or {})
    site = check_data(_with_secrets(site_data, environ), "site.toml", SiteFile)
    drying = check_data(load_toml(config_file(folder, "drying.toml")), "drying.toml", DryingFile)
    _check_open_doors(site)
    return Settings(
        **{name: getattr(site, name) for name in SiteFile.model_fields}, drying=drying, folder=folder
    )


def config_file(folder: Path | None, name: str) -> Path | Traversable:
    """The shop's own file of that name if it has one, else the shipped one."""
    if folder is None:
        return files("configs") / name
    if not folder.is_dir():
        raise BadInput(
            "folder_missing",
            say("There is no folder {folder}.", folder=folder),
            say("Check the name given with --configs."),
        )
    _check_names(folder)
    own = folder / name
    return own if own.exists() else files("configs") / name


def _check_names(folder: Path) -> None:
    """A settings file with a slip in its name would be passed over, and nobody would know."""
    for path in sorted(folder.glob("*.toml")):
        meant = get_close_matches(path.name, FILE_NAMES, n=1, cutoff=0.85)
        if meant and path.name not in FILE_NAMES and not (folder / meant[0]).exists():
            raise BadInput(
                "file_name_wrong",
                say("{path} is not read: no settings file is called that.", path=path),
                say("Did you mean “{meant}”?", meant=meant[0]),
            )


def option_keys() -> list[str]:
    """Every key of site.toml and drying.toml, dotted, and the environment's: what the manual must name."""
    return [key for model in FILES.values() for key in key_list(model)] + [SHOP_KEY, BROKER_PASSWORD]


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach `host`."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _merged(data: dict[str, Any], over: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    merged = dict(data)
    for table, keys in over.items():
        held = merged.get(table, {})
        merged[table] = {**held, **keys} if isinstance(held, dict) else held
    return merged


def _with_secrets(data: dict[str, Any], environ: Mapping[str, str]) -> dict[str, Any]:
    over: dict[str, dict[str, str]] = {}
    if environ.get(SHOP_KEY):
        over["server"] = {"shop_key": environ[SHOP_KEY]}
    if environ.get(BROKER_PASSWORD):
        over["broker"] = {"password": environ[BROKER_PASSWORD]}
    return _merged(data, over)


def _check_open_doors(site: SiteFile) -> None:
    """Nothing is opened to the network without a key, and no TLS is promised that is not there."""
    if not is_loopback(site.server.host) and not site.server.shop_key:
        raise BadInput(
            "shop_key_missing",
            say(
                "site.toml: the pages would be open to everybody who can reach {host}.", host=site.server.host
            ),
            say(
                'Set shop_key under [server], or {shop_key} in the environment, or keep host = "127.0.0.1".',
                shop_key=SHOP_KEY,
            ),
            "server.shop_key",
        )
    broker = site.broker
    if broker.kind == "external":
        return
    if broker.tls or broker.ca_file:
        raise BadInput(
            "broker_tls",
            say("site.toml: coatbell's own broker speaks without TLS."),
            say('Leave out tls and ca_file, or run a broker that has it and set kind = "external".'),
            "broker.tls",
        )
    if not is_loopback(broker.host) and not (broker.user and broker.password):
        raise BadInput(
            "broker_password_missing",
            say(
                "site.toml: anybody who can reach {host} could send readings to the broker.", host=broker.host
            ),
            say(
                "Set user and password under [broker] (or {broker_password}), and the same in the sensors.",
                broker_password=BROKER_PASSWORD,
            ),
            "broker.password",
        )

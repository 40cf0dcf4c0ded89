"""The settings: shipped files, a shop's own, and what is refused."""

from __future__ import annotations

import dataclasses
import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from service.drying.isotherm import Gab
from service.drying.shell import Coat, Parameters
from service.errors import BadInput
from service.records.recipes import CoatKind
from service.settings import (
    DryingFile,
    ParameterSettings,
    Settings,
    SiteFile,
    config_file,
    is_loopback,
    load_settings,
    option_keys,
    read_toml,
)
from service.toml_files import key_list

NOBODY: dict[str, str] = {}


def write(folder: Path, name: str, text: str) -> Path:
    (folder / name).write_text(text)
    return folder


def refused(folder: Path) -> BadInput:
    with pytest.raises(BadInput) as caught:
        load_settings(folder, environ=NOBODY)
    return caught.value


class TestShipped:
    def test_they_load_and_keep_to_this_machine(self) -> None:
        settings = load_settings(environ=NOBODY)
        assert (settings.server.host, settings.server.port, settings.server.shop_key) == (
            "127.0.0.1",
            8321,
            None,
        )
        assert (settings.broker.kind, settings.broker.host, settings.broker.port) == (
            "embedded",
            "127.0.0.1",
            1883,
        )
        assert settings.data.database_url == "sqlite:///coatbell-data/coatbell.db"
        assert (settings.back_up.keep, settings.back_up.hour, settings.estimate.every_s) == (14, 4, 60.0)

    def test_the_site_file_shows_the_defaults(self) -> None:
        assert read_toml(files("configs") / "site.toml", SiteFile) == SiteFile()

    def test_the_drying_file_shows_the_defaults(self) -> None:
        shipped, usual = read_toml(files("configs") / "drying.toml", DryingFile), DryingFile()
        assert shipped.coat.model_dump() == pytest.approx(usual.coat.model_dump())
        assert shipped.parameters.parameters() == usual.parameters.parameters()

    @pytest.mark.parametrize(("name", "model"), [("site.toml", SiteFile), ("drying.toml", DryingFile)])
    def test_every_key_stands_in_its_file_with_words_beside_it(
        self, name: str, model: type[SiteFile]
    ) -> None:
        text = (files("configs") / name).read_text()
        for key in key_list(model):
            assert re.search(rf"^(# )?{key.rsplit('.')[-1]} = ", text, re.MULTILINE), key

    def test_lines_left_out_of_a_file_are_toml_too(self) -> None:
        text = (files("configs") / "site.toml").read_text()
        tomllib.loads(re.sub(r"^# (\w+ = )", r"\1", text, flags=re.MULTILINE))

    def test_what_has_no_source_says_so(self) -> None:
        lines = (files("configs") / "drying.toml").read_text().splitlines()
        sourced = {"latent_heat", "porosity"}
        multipliers = {key for key in ParameterSettings.model_fields if key.endswith("multiplier")}
        for line in lines:
            if (
                " = " in line
                and not line.startswith("#")
                and line.split(" = ")[0] not in sourced | multipliers
            ):
                assert "(assumed)" in line, line


class TestParameters:
    def test_every_parameter_of_the_computation_can_be_set(self) -> None:
        assert set(ParameterSettings.model_fields) == {f.name for f in dataclasses.fields(Parameters)}

    def test_the_defaults_are_the_computations_own(self) -> None:
        assert load_settings(environ=NOBODY).parameters == Parameters()

    def test_a_shop_sets_its_own(self, tmp_path: Path) -> None:
        text = '[parameters]\ndiffusivity = "6e-10 m2/s"\nlatent_heat = "2.4 MJ/kg"\n[parameters.isotherm]\nk = 0.9\n'
        parameters = load_settings(write(tmp_path, "drying.toml", text), environ=NOBODY).parameters
        assert parameters.diffusivity_m2_s == pytest.approx(6e-10)
        assert parameters.latent_heat_j_kg == pytest.approx(2.4e6)
        assert parameters.isotherm == Gab(k=0.9)
        assert parameters.sorptivity_kg_m2_s05 == 0.05

    @pytest.mark.parametrize(
        ("line", "words"),
        [
            ('diffusivity = "0 m2/s"', "parameters.diffusivity: “0 m2/s” is too small"),
            ('diffusivity = "4e-10 m/s"', "is not a diffusivity"),
            ("emissivity = 1.2", "is too large: it must be at most 1"),
            ("diffusivity_slope = nan", "is not a usable number"),
            ("pocket_stiring = 3", "Did you mean “pocket_stirring”?"),
        ],
    )
    def test_wrong_numbers_are_refused(self, tmp_path: Path, line: str, words: str) -> None:
        assert words in str(refused(write(tmp_path, "drying.toml", f"[parameters]\n{line}\n")))

    @pytest.mark.parametrize(
        ("kind", "thickness_m"),
        [(CoatKind.PRIME, 0.6e-3), (CoatKind.BACKUP, 1.1e-3), (CoatKind.SEAL, 0.3e-3)],
    )
    def test_coats_by_kind(self, kind: CoatKind, thickness_m: float) -> None:
        assert DryingFile().coat.coat(kind) == Coat(thickness_m)


class TestOwnFolder:
    def test_it_overrides_file_by_file(self, tmp_path: Path) -> None:
        settings = load_settings(write(tmp_path, "site.toml", "[server]\nport = 9000\n"), environ=NOBODY)
        assert settings.server.port == 9000
        assert settings.server.host == "127.0.0.1"
        assert settings.parameters == Parameters()
        assert settings.folder == tmp_path

    def test_an_empty_folder_changes_nothing(self, tmp_path: Path) -> None:
        assert load_settings(tmp_path, environ=NOBODY).server == Settings().server

    @pytest.mark.parametrize(
        ("slip", "meant"),
        [("sensor.toml", "sensors.toml"), ("alert.toml", "alerts.toml"), ("Site.toml", "site.toml")],
    )
    def test_a_slip_in_a_files_name(self, tmp_path: Path, slip: str, meant: str) -> None:
        error = refused(write(tmp_path, slip, ""))
        assert (error.code, error.todo) == ("file_name_wrong", f"Did you mean “{meant}”?")
        assert slip in error.message

    @pytest.mark.parametrize("name", ["bell.toml", "site.txt", "my-recipe.toml"])
    def test_a_file_of_another_kind_may_lie_beside_them(self, tmp_path: Path, name: str) -> None:
        assert load_settings(write(tmp_path, name, ""), environ=NOBODY).folder == tmp_path

    def test_an_older_copy_may_lie_beside_the_one_that_is_read(self, tmp_path: Path) -> None:
        write(write(tmp_path, "site.toml", "[server]\nport = 9001\n"), "site2.toml", "nonsense")
        assert load_settings(tmp_path, environ=NOBODY).server.port == 9001

    def test_a_folder_that_is_not_there(self, tmp_path: Path) -> None:
        error = refused(tmp_path / "ours")
        assert error.code == "folder_missing"
        assert "--configs" in error.todo

    def test_a_file_is_found_in_it_first(self, tmp_path: Path) -> None:
        write(tmp_path, "site.toml", "")
        assert config_file(tmp_path, "site.toml") == tmp_path / "site.toml"
        assert (
            config_file(tmp_path, "drying.toml").read_bytes()
            == (files("configs") / "drying.toml").read_bytes()
        )

    @pytest.mark.parametrize(
        ("text", "code", "words"),
        [
            (
                "[server]\nprot = 1\n",
                "key_unknown",
                "server.prot: there is no such key. Did you mean “port”?",
            ),
            ("[sever]\n", "key_unknown", "Did you mean “server”?"),
            ("[server]\nport = 70000\n", "value_wrong", "it must be at most 65535"),
            ('[server]\nport = "8321a"\n', "value_wrong", "is not a whole number"),
            ("[server]\nport = \n", "toml_syntax", "line 2"),
            ('[data]\ndatabase = "mysql://x"\n', "value_wrong", "data.database"),
            ('[broker]\nkind = "mosquito"\n', "value_wrong", "'embedded' or 'external'"),
            ('[broker]\nclient_id = "a/b"\n', "value_wrong", "broker.client_id"),
            ('[broker]\npublish = "bell/#"\n', "value_wrong", "broker.publish"),
            ('[broker]\npublish = "/bell"\n', "value_wrong", "broker.publish"),
            ('[broker]\npublish = "bell/"\n', "value_wrong", "broker.publish"),
            ('[broker]\npublish = "$SYS"\n', "value_wrong", "broker.publish"),
            ("[back_up]\nhour = 2\n", "value_wrong", "it must be at least 3"),
            ("[back_up]\nkeep = 0\n", "value_wrong", "back_up.keep"),
            ('[estimate]\nevery = "1 s"\n', "value_wrong", "it must be at least 5 s"),
            ("[estimate]\nevery = 60\n", "unit_missing", "Write it with one, such as 15 s or 2 h."),
        ],
    )
    def test_mistakes_name_file_key_and_remedy(
        self, tmp_path: Path, text: str, code: str, words: str
    ) -> None:
        error = refused(write(tmp_path, "site.toml", text))
        assert error.code == code
        assert error.message.startswith("site.toml")
        assert words in str(error)


class TestOverrides:
    def test_the_command_line_wins(self, tmp_path: Path) -> None:
        write(tmp_path, "site.toml", "[server]\nport = 9000\n")
        settings = load_settings(
            tmp_path, {"server": {"port": 9001}, "data": {"folder": "elsewhere"}}, NOBODY
        )
        assert settings.server.port == 9001
        assert settings.data.database_url == "sqlite:///elsewhere/coatbell.db"

    def test_it_is_checked_too(self) -> None:
        with pytest.raises(BadInput, match=r"server\.port"):
            load_settings(None, {"server": {"port": -1}}, NOBODY)

    def test_a_table_that_is_none_is_still_told(self, tmp_path: Path) -> None:
        write(tmp_path, "site.toml", "server = 3\n")
        with pytest.raises(BadInput, match="must be a table"):
            load_settings(tmp_path, {"server": {"port": 9001}}, NOBODY)


class TestSecrets:
    def test_they_come_from_the_environment(self) -> None:
        environ = {"COATBELL_SHOP_KEY": "herons at low tide", "COATBELL_BROKER_PASSWORD": "reeds"}
        settings = load_settings(environ=environ)
        assert settings.server.shop_key == "herons at low tide"
        assert settings.broker.password == "reeds"

    def test_the_environment_wins_over_the_file(self, tmp_path: Path) -> None:
        write(tmp_path, "site.toml", '[server]\nshop_key = "from the file"\n')
        assert (
            load_settings(tmp_path, environ={"COATBELL_SHOP_KEY": "from outside"}).server.shop_key
            == "from outside"
        )
        assert load_settings(tmp_path, environ={"COATBELL_SHOP_KEY": ""}).server.shop_key == "from the file"

    def test_they_are_not_printed(self) -> None:
        settings = load_settings(
            environ={"COATBELL_SHOP_KEY": "herons at low tide", "COATBELL_BROKER_PASSWORD": "reeds"}
        )
        assert "herons" not in repr(settings)
        assert "reeds" not in repr(settings)

    def test_a_short_key_is_refused_without_repeating_it(self) -> None:
        with pytest.raises(BadInput, match="at least 8 letters") as caught:
            load_settings(environ={"COATBELL_SHOP_KEY": "curlew"})
        assert "curlew" not in str(caught.value)


class TestOpenDoors:
    def test_pages_for_the_network_want_a_key(self, tmp_path: Path) -> None:
        error = refused(write(tmp_path, "site.toml", '[server]\nhost = "0.0.0.0"\n'))
        assert (error.code, error.field) == ("shop_key_missing", "server.shop_key")
        assert "COATBELL_SHOP_KEY" in error.todo
        assert (
            load_settings(tmp_path, environ={"COATBELL_SHOP_KEY": "herons at low tide"}).server.host
            == "0.0.0.0"
        )

    @pytest.mark.parametrize("given", ["", 'user = "shed"\n', 'password = "reeds"\n'])
    def test_the_broker_for_the_network_wants_user_and_password(self, tmp_path: Path, given: str) -> None:
        error = refused(write(tmp_path, "site.toml", f'[broker]\nhost = "0.0.0.0"\n{given}'))
        assert error.code == "broker_password_missing"

    def test_with_both_it_opens(self, tmp_path: Path) -> None:
        text = '[broker]\nhost = "0.0.0.0"\nuser = "shed"\npassword = "reeds"\n'
        assert load_settings(write(tmp_path, "site.toml", text), environ=NOBODY).broker.user == "shed"

    def test_a_broker_elsewhere_is_its_own_affair(self, tmp_path: Path) -> None:
        text = '[broker]\nkind = "external"\nhost = "broker.local"\ntls = true\nca_file = "our-ca.pem"\n'
        broker = load_settings(write(tmp_path, "site.toml", text), environ=NOBODY).broker
        assert (broker.tls, broker.ca_file) == (True, Path("our-ca.pem"))

    @pytest.mark.parametrize("topic", ["coatbell", "shop/bell", "glocke-2", ""])
    def test_where_to_publish(self, tmp_path: Path, topic: str) -> None:
        text = f'[broker]\npublish = "{topic}"\n'
        assert load_settings(write(tmp_path, "site.toml", text), environ=NOBODY).broker.publish == topic

    @pytest.mark.parametrize("line", ["tls = true", 'ca_file = "our-ca.pem"'])
    def test_the_embedded_broker_promises_no_tls(self, tmp_path: Path, line: str) -> None:
        assert refused(write(tmp_path, "site.toml", f"[broker]\n{line}\n")).code == "broker_tls"


@pytest.mark.parametrize(
    ("host", "loopback"),
    [
        ("127.0.0.1", True),
        ("127.1.2.3", True),
        ("::1", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.168.1.20", False),
        ("shellroom.local", False),
    ],
)
def test_who_can_reach_a_host(host: str, loopback: bool) -> None:
    assert is_loopback(host) is loopback


class TestLinks:
    @pytest.mark.parametrize(
        ("server", "base"),
        [
            ({}, "http://127.0.0.1:8321"),
            ({"host": "::1", "port": 80}, "http://[::1]:80"),
            ({"address": "https://shellroom.example/"}, "https://shellroom.example"),
        ],
    )
    def test_they_start_where_a_phone_finds_the_pages(self, server: dict[str, object], base: str) -> None:
        assert load_settings(None, {"server": server}, NOBODY).server.link_base == base

    def test_every_host_is_named_by_the_machines_name(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("service.settings.socket.gethostname", lambda: "shellroom")
        server = {"host": "0.0.0.0", "shop_key": "herons at low tide"}
        assert load_settings(None, {"server": server}, NOBODY).server.link_base == "http://shellroom:8321"

    @pytest.mark.parametrize("address", ["shellroom", "ftp://shellroom", "http://", "http:// x"])
    def test_an_address_is_one(self, address: str) -> None:
        with pytest.raises(BadInput, match=r"server\.address"):
            load_settings(None, {"server": {"address": address}}, NOBODY)


def test_a_database_url_is_taken_as_it_is() -> None:
    url = "postgresql+psycopg://coatbell@localhost/coatbell"
    assert load_settings(None, {"data": {"database": url}}, NOBODY).data.database_url == url


def test_all_option_keys_are_known() -> None:
    keys = option_keys()
    assert len(keys) == len(set(keys))
    assert {
        "server.port",
        "broker.ca_file",
        "parameters.isotherm.k",
        "coat.immersion",
        "COATBELL_SHOP_KEY",
    } <= set(keys)


class TestRoomForRecords:
    @pytest.mark.parametrize(
        ("key", "value", "words"),
        [
            ("keep_readings", "99.9 d", "at least 100 d"),
            ("keep_readings", "200 years", "at most 36600 d"),
            ("keep_readings", "400", "no unit"),
            ("disk_limit", "99 MB", "at least 100 MB"),
            ("disk_limit", "2000 TB", "at most 1e+06 GB"),
            ("disk_limit", "4 m", "not a data size"),
        ],
    )
    def test_what_cannot_be_is_told(self, key: str, value: str, words: str) -> None:
        with pytest.raises(BadInput) as told:
            load_settings(None, {"data": {key: value}}, {})
        assert words in told.value.message

    def test_to_the_limit(self) -> None:
        data = load_settings(None, {"data": {"keep_readings": "100 d", "disk_limit": "100 MB"}}, {}).data
        assert (data.keep_readings_s, data.disk_limit_bytes) == (100 * 86400, 100_000_000)

    @pytest.mark.parametrize(("url", "is_one"), [(None, True), ("postgresql://localhost/x", False)])
    def test_only_sqlite_is_copied_every_night(self, url: str | None, is_one: bool) -> None:
        assert load_settings(None, {"data": {"database": url}}, {}).data.on_sqlite is is_one

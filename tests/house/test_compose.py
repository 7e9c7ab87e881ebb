"""What docker-compose.yml promises beside being well formed: one beat, one keeper of the seal's key, no credentials."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from ruamel.yaml import YAML

CHECKOUT = Path(__file__).resolve().parent.parent.parent
FILE = CHECKOUT / "docker-compose.yml"
APPLICATION = {"web", "worker", "beat", "migrate"}
SECRET_NAME = re.compile(r"PASSWORD|SECRET|_URL")


@pytest.fixture(scope="module")
def services():
    return YAML(typ="safe").load(FILE)["services"]


def test_the_file_meets_the_published_compose_specification():
    answer = subprocess.run(
        [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.compose-spec", FILE],
        capture_output=True,
        text=True,
        check=False,
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr


def test_web_and_worker_are_several_and_beat_is_exactly_one(services):
    assert services["web"]["deploy"]["replicas"] > 1
    assert services["worker"]["deploy"]["replicas"] > 1
    assert services["beat"]["deploy"]["replicas"] == 1
    assert [name for name, service in services.items() if "beat" in service.get("command", [])] == ["beat"]
    assert "-B" not in services["worker"]["command"]


def test_only_the_worker_is_given_the_seals_key(services):
    holders = [name for name, service in services.items() if "seal_key" in service.get("secrets", [])]
    assert holders == ["worker"]
    told = [
        name for name, service in services.items() if "SLAKE_SEAL_KEY_FILE" in service.get("environment", {})
    ]
    assert told == ["worker"]


def test_only_the_one_shot_migration_has_the_owners_role(services):
    owners = {name for name in APPLICATION if "SLAKE_OWNER_DATABASE_URL" in services[name]["environment"]}
    assert owners == {"migrate"}
    assert services["migrate"]["restart"] == "no"


@pytest.mark.parametrize("name", sorted(APPLICATION - {"migrate"}))
def test_nothing_runs_before_the_migration_has_succeeded(services, name):
    assert services[name]["depends_on"]["migrate"]["condition"] == "service_completed_successfully"


def test_no_credential_stands_in_the_file(services):
    for name, service in services.items():
        for variable, value in service.get("environment", {}).items():
            if SECRET_NAME.search(variable) and not variable.startswith("SLAKE_REDIS"):
                assert re.search(r"\$\{\w+:[?-]\}", str(value)), (
                    f"{name}: {variable} is not taken from outside"
                )


def test_only_the_worker_is_given_what_opens_the_mail_server_and_the_gateway(services):
    for variable in ("SLAKE_SMTP_PASSWORD", "SLAKE_CALLOUT_TOKEN"):
        assert [name for name in APPLICATION if variable in services[name]["environment"]] == ["worker"]


def test_redis_refuses_rather_than_forgets(services):
    command = services["redis"]["command"]
    assert command[command.index("--maxmemory-policy") + 1] == "noeviction"


@pytest.mark.parametrize("name", sorted(APPLICATION))
def test_our_containers_can_write_only_where_they_must(services, name):
    assert services[name]["read_only"] is True
    assert services[name]["cap_drop"] == ["ALL"]


def test_the_image_runs_as_nobody_special_with_hashed_pins():
    dockerfile = (CHECKOUT / "Dockerfile").read_text()
    assert re.search(r"^USER slake$", dockerfile, re.MULTILINE)
    assert "pip install --no-cache-dir --require-hashes -r requirements.txt" in dockerfile


def test_the_image_holds_no_tests_and_no_private_services():
    ignored = (CHECKOUT / ".dockerignore").read_text().splitlines()
    assert "*" in ignored
    assert "config/private" in ignored
    assert not any(line.startswith("!tests") for line in ignored)

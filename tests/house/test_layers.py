"""Who may know whom, by name as well as by import; and that the pure modules are pure.

Imports are the layers contract's business (./run layers). A model or a module named in a string slips past it.
"""

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from django.apps import apps

CHECKOUT = Path(__file__).resolve().parent.parent.parent
RANKS = {"people": 0, "fleet": 1, "inspections": 2, "servicing": 2, "hire": 3, "config": 4}
LOADERS = {"import_module", "import_string", "__import__", "send_task", "signature"}
# What a pure module may import beside the standard library and its like.
ALLOWED_PACKAGES = {"numpy", "scipy", "dateutil"}
PURE_BY_CONTRACT = [
    "fleet.meters",
    "fleet.tread_limits",
    "fleet.vin",
    "fleet.water.tank",
    "fleet.water.loading",
    "fleet.water.spraying",
    "fleet.water.dust",
    "fleet.water.history",
    "servicing.intervals",
    "servicing.tread",
    "servicing.extinguishers",
    "servicing.queue",
    "servicing.reliability",
    "inspections.verdict",
    "inspections.truthfulness",
    "inspections.lot",
    "hire.cart_use",
    "hire.charges",
    "hire.charging.back",
    "hire.charging.carriage",
    "hire.charging.waiver",
    "hire.comparing",
    "hire.deposits",
    "hire.terms_words",
    "hire.zip_stream",
    "hire.rights",
    "hire.period_price",
    "hire.quote_price",
    "hire.quote_words",
    "inspections.good_until",
    "hire.shifts",
    "hire.site_rules",
    "hire.working_days",
    "hire.matching",
    "hire.matching_input",
    "hire.matching_solver",
    "hire.matching_ways",
]


def path_of(module):
    return CHECKOUT / f"{module.replace('.', '/')}.py"


def may_know(package, other):
    return package == other or RANKS[other] < RANKS[package]


def names_in(source):
    """(line, package) of every app named in a string: a model, a migration, a module to be loaded."""
    owners = {config.label: config.name.split(".")[0] for config in apps.get_app_configs()}
    owners = {label: package for label, package in owners.items() if package in RANKS}
    models = {
        (model._meta.app_label, model.__name__.lower())
        for model in apps.get_models(include_auto_created=True)
    }
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            label, dot, name = node.value.partition(".")
            if dot and (label, name.lower()) in models and label in owners:
                yield node.lineno, owners[label]
        elif isinstance(node, ast.Tuple) and [type(each) for each in node.elts] == [
            ast.Constant,
            ast.Constant,
        ]:
            label, name = (each.value for each in node.elts)
            if label in owners and re.fullmatch(r"\d{4}_\w+|__first__|__latest__", str(name)):
                yield node.lineno, owners[label]
        elif isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            called = getattr(node.func, "attr", getattr(node.func, "id", ""))
            first = str(node.args[0].value)
            if called == "get_model" and first in owners:
                yield node.lineno, owners[first]
            elif called in LOADERS and first.split(".", maxsplit=1)[0] in RANKS:
                yield node.lineno, first.split(".", maxsplit=1)[0]


def named_against_the_direction(package, source):
    return [(line, other) for line, other in names_in(source) if not may_know(package, other)]


@pytest.mark.parametrize("package", sorted(RANKS))
def test_no_app_names_one_above_or_beside_it(package):
    offences = [
        f"{path.relative_to(CHECKOUT)}:{line} names {other}"
        for path in sorted((CHECKOUT / package).rglob("*.py"))
        for line, other in named_against_the_direction(package, path.read_text())
    ]
    assert offences == []


@pytest.mark.parametrize(
    "source",
    [
        pytest.param("models.ForeignKey('hire.Line', models.PROTECT)", id="a model by name"),
        pytest.param("models.ForeignKey('hire.line', models.PROTECT)", id="in small letters"),
        pytest.param("apps.get_model('hire', 'Line')", id="asked of the registry"),
        pytest.param("apps.get_model('hire.Line')", id="asked of the registry in one word"),
        pytest.param("if TYPE_CHECKING:\n    Line = 'hire.Line'", id="for types only"),
        pytest.param("import_module('hire.actions')", id="a module to be loaded"),
        pytest.param("app.send_task('hire.tasks.remind')", id="a task by name"),
        pytest.param("dependencies = [('hire', '0001_initial')]", id="a migration"),
    ],
)
def test_each_way_of_naming_is_noticed(source):
    assert [other for _, other in named_against_the_direction("fleet", source)] == ["hire"]
    assert named_against_the_direction("config", source) == []


def test_siblings_do_not_name_each_other():
    assert named_against_the_direction("servicing", "import_module('inspections.verdict')")
    assert named_against_the_direction("inspections", "import_module('servicing.queue')")


def test_the_contract_of_imports_is_the_same_direction():
    settings = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["tool"]["importlinter"]
    layers = next(contract for contract in settings["contracts"] if contract["type"] == "layers")["layers"]
    ranked = sorted({rank: [] for rank in RANKS.values()}, reverse=True)
    assert layers == [" | ".join(sorted(name for name in RANKS if RANKS[name] == rank)) for rank in ranked]
    assert settings["exclude_type_checking_imports"] is False


def test_the_contracts_of_imports_are_kept():
    answer = subprocess.run(
        [Path(sys.executable).parent / "lint-imports"],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert answer.returncode == 0, answer.stdout


def pure_modules():
    settings = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["tool"]["importlinter"]
    return next(each for each in settings["contracts"] if each["name"].startswith("Pure"))["source_modules"]


def test_every_pure_module_there_is_stands_in_the_contract():
    assert [
        module for module in PURE_BY_CONTRACT if path_of(module).exists() and module not in pure_modules()
    ] == []


@pytest.mark.parametrize("module", pure_modules())
def test_a_pure_module_imports_the_standard_library_numbers_and_its_like(module):
    imported = set()
    for node in ast.walk(ast.parse(path_of(module).read_text())):
        if isinstance(node, ast.Import):
            imported |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            imported.add(node.module)
    strange = {
        name
        for name in imported
        if name not in pure_modules() and name.split(".")[0] not in sys.stdlib_module_names | ALLOWED_PACKAGES
    }
    assert strange == set()


@pytest.mark.parametrize("package", sorted(set(RANKS) - {"config"}))
def test_package_files_are_empty(package):
    found = sorted((CHECKOUT / package).rglob("__init__.py"))
    # The framework finds models by their package's file, so those gather.
    assert [path for path in found if path.stat().st_size and path.parent.name != "models"] == []


@pytest.mark.parametrize(
    "package", sorted(CHECKOUT.glob("*/models/__init__.py")), ids=lambda path: path.parts[-3]
)
def test_a_models_package_names_all_its_files(package):
    """Django finds tables through it alone: one left out is there only once somebody else imports it."""
    imported = {
        alias.name
        for node in ast.walk(ast.parse(package.read_text()))
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert {path.stem for path in package.parent.glob("*.py")} - {"__init__"} == imported

"""The clone itself: its locks, its top level, its words about settings, services and packages."""

import ast
import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from django.core.management import call_command

from workshop import machine
from workshop.service_list import services

ROOT = Path(__file__).resolve().parent.parent
APPS = ("orders", "stock", "workshop")
LOCKS = ("requirements.lock", "requirements-test.lock")
TOP_LEVEL = {
    *(
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "LICENSE",
        "manage.py",
        "pyproject.toml",
    ),
    *LOCKS,
    *("workshop", "orders", "stock", "templates", "tests", "fixtures"),
}


def kept_files() -> list[Path]:
    """Every file that the version control keeps and that still stands."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return [ROOT / name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file()]


def own_modules() -> list[Path]:
    """The Python files that run in the workshop, tests left out."""
    return [path for app in APPS for path in sorted((ROOT / app).rglob("*.py"))]


def read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def project() -> dict:
    return tomllib.loads(read("pyproject.toml"))["project"]


# --- Locks ---


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_place_to_fetch_from(lock):
    for trace in ("://", "--index", "--extra-index", "--find-links", "--trusted-host", "-f "):
        assert trace not in read(lock)


def pins(lock: str) -> dict[str, str]:
    """Each entry of a lock by its first line: name, version and, where it has one, marker."""
    parts = re.split(r"\n(?=[A-Za-z0-9])", read(lock).strip())
    return {part.split(" \\")[0]: part for part in parts}


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_is_locked_to_one_version_by_hash(lock):
    for name, pin in pins(lock).items():
        assert re.match(r"[A-Za-z0-9._-]+(\[[a-z,]+\])?==[0-9]", pin), name
        assert "--hash=sha256:" in pin, name


def test_the_test_lock_holds_every_package_of_the_other_at_the_same_version():
    # What was installed for the tests can open the workshop, so one environment serves both.
    in_tests = pins("requirements-test.lock")
    for name, pin in pins("requirements.lock").items():
        assert in_tests.get(name) == pin, name


def test_the_locks_answer_to_what_the_project_asks_for():
    from packaging.requirements import Requirement

    tools = project()["optional-dependencies"]["test"]
    asked = {LOCKS[0]: project()["dependencies"], LOCKS[1]: project()["dependencies"] + tools}
    for lock, lines in asked.items():
        for wanted in map(Requirement, lines):
            name = re.escape(wanted.name.lower())
            pinned = rf"^{name}(?:\[[a-z,]+\])?==(\S+)"
            versions = re.findall(pinned, read(lock), re.MULTILINE)
            assert versions, f"{lock} has no {wanted.name}"
            assert all(version in wanted.specifier for version in versions), f"{lock}: {wanted}"


def requirement_name(requirement: str) -> str:
    return re.match(r"[A-Za-z0-9._-]+", requirement)[0].lower().replace("_", "-").replace(".", "-")


def test_the_workshop_imports_only_what_its_own_lock_installs():
    # A package that only the tests install would break the first start on a fresh machine.
    declared = {requirement_name(line) for line in project()["dependencies"]}
    providers = packages_distributions()
    for path in own_modules():
        for module in imported_roots(path):
            if module in sys.stdlib_module_names or module in APPS:
                continue
            names = {name.lower().replace("_", "-") for name in providers.get(module, [])}
            assert names & declared, f"{path.relative_to(ROOT)} imports {module}"


def imported_roots(path: Path) -> set[str]:
    roots: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            roots.update(alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            roots.add(node.module.split(".")[0])
    return roots


def test_the_server_starts_without_the_heavy_packages():
    # A computer without the Pango libraries still opens, a start stays quick and a worker small:
    # these are read when they are first needed.
    heavy = {
        *("weasyprint", "pikepdf", "highspy", "scipy", "numpy", "openpyxl", "pint", "lxml"),
        *("zeroconf", "cryptography", "icalendar", "phonenumbers", "segno", "fontTools.subset"),
    }
    look = f"import workshop.wsgi, workshop.urls, sys; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", look], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


# --- What the clone holds ---


def test_the_top_level_holds_only_what_belongs_there():
    tops = {path.relative_to(ROOT).parts[0] for path in kept_files()}
    strangers = {name for name in tops if not name.startswith(".")} - TOP_LEVEL
    assert not strangers


def test_no_file_names_a_registry_or_a_folder_of_one_machine():
    # Written in halves, so that this file does not name them either.
    traces = [
        *("pypi" + ".org", "python" + "hosted", "deb." + "debian", "npm" + "js.", "unpkg" + "."),
        *("jsdelivr" + ".", "cdn" + "js."),
        *("/ro" + "ot/", "/wo" + "rk/", "/tm" + "p/", "../sha" + "red"),
    ]
    for path in kept_files():
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        for trace in traces:
            assert trace not in text, f"{path.relative_to(ROOT)} names {trace}"


def test_nothing_that_a_machine_makes_for_itself_is_kept():
    for path in kept_files():
        parts = path.relative_to(ROOT).parts
        assert not {"var", ".venv", "__pycache__"} & set(parts[:-1])
        assert path.suffix not in {".pyc", ".sqlite3"}


# --- Debian packages ---


def apt_packages() -> dict[str, list[str]]:
    """The sections of .ci/apt-packages, each with its packages."""
    sections: dict[str, list[str]] = {}
    for line in read(".ci/apt-packages").splitlines():
        words = line.split("#")[0].strip()
        if words.startswith("["):
            current = sections.setdefault(words.strip("[]"), [])
        elif words:
            current.append(words)
    return sections


def test_every_debian_package_the_code_asks_for_is_in_the_list():
    needed = [*machine.PANGO_PACKAGES, machine.VENV_PACKAGE]
    assert sorted(apt_packages()["run-time"]) == sorted(needed)


def test_ci_installs_only_debian_packages_of_the_list():
    asked = re.findall(r"\b(?:need|unpack) ([a-z][a-z0-9.+-]+)", read(".ci/run"))
    assert sorted(set(asked)) == sorted(apt_packages()["test"] + apt_packages()["letters"])


def test_the_fonts_that_a_missing_letter_asks_for_are_in_the_list():
    fonts = {package for _letter, package in machine.SCRIPTS.values()}
    assert sorted(fonts) == sorted(apt_packages()["letters"])


def test_the_documents_tell_every_debian_package_and_no_other():
    readme = "".join(map(read, ("README.md", "workshop/machine.md", "workshop/deploy.md")))
    every = [package for section in apt_packages().values() for package in section]
    for package in every:
        assert package in readme
    for line in re.findall(r"apt-get install ([^\n`]+)", readme):
        packages = [word for word in line.split() if not word.startswith("-")]
        assert set(packages) <= {*every, "git", "python3", "openssl"}


def test_the_readme_stays_short_enough_to_be_read():
    assert len(read("README.md").splitlines()) < 120
    assert len(read("DEVELOPERS.md").splitlines()) < 250


# --- Words about settings and services ---


def settings_read() -> set[str]:
    """Names that the code reads from the environment."""
    names = set()
    for path in [ROOT / "manage.py", *own_modules()]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and node.args:
                called = ast.unparse(node.func)
                if called in {"os.environ.get", "os.getenv"} or called.startswith("read_"):
                    names.update(name_in(node.args[0]))
            elif isinstance(node, ast.Subscript) and ast.unparse(node.value) == "os.environ":
                names.update(name_in(node.slice))
    return names


def name_in(node: ast.expr) -> list[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value] if re.fullmatch(r"[A-Z][A-Z0-9_]+", node.value) else []
    return []


def test_the_settings_are_found_in_the_code():
    assert {"DATABASE_URL", "SECRET_KEY", "DEBUG", "STRANDWORK_VENV"} <= settings_read()


def test_every_setting_read_from_the_environment_is_written_up():
    words = read("workshop/deploy.md") + read("workshop/machine.md") + read("tests/README.md")
    missing = sorted(name for name in settings_read() if f"`{name}`" not in words)
    assert not missing


def test_every_service_says_in_a_line_what_it_does():
    assert not [f"{each.module}.{each.name}" for each in services() if not each.about]


def test_every_room_of_services_is_listed(capsys):
    call_command("list_services")
    told = capsys.readouterr().out
    rooms = [path for app in APPS for path in (ROOT / app).rglob("*.py") if "services" in str(path)]
    acts = ("record_act", "weigh_in_sack", "confirm_order", "log_firing")
    assert len(rooms) > 50
    assert all(f"  {act}: " in told for act in acts)


# --- Templates ---


def template_files() -> list[Path]:
    folders = [ROOT / "templates", *(ROOT / app / "templates" for app in APPS)]
    return [path for folder in folders for path in sorted(folder.rglob("*.*")) if path.is_file()]


def test_every_template_can_be_read():
    from django.template import TemplateSyntaxError, engines

    troubles = []
    for path in template_files():
        try:
            engines["django"].from_string(path.read_text(encoding="utf-8"))
        except TemplateSyntaxError as error:
            troubles.append(f"{path.relative_to(ROOT)}: {error}")
    assert not troubles


def test_no_template_carries_code_or_style_inside_a_page():
    # The content-security policy would refuse it: code and looks come from files of their own.
    refused = {
        "a style attribute": r"\sstyle\s*=",
        "a style element": r"<style\b",
        "a script without a file": r"<script(?![^>]*\bsrc=)(?![^>]*application/json)",
        "an event attribute": r"\son[a-z]+\s*=\s*[\"']",
    }
    troubles = []
    for path in template_files():
        text = re.sub(r"\{#.*?#\}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        for what, pattern in refused.items():
            if path.suffix == ".html" and re.search(pattern, text):
                troubles.append(f"{path.relative_to(ROOT)} carries {what}")
    assert not troubles


# --- Functions ---


def test_not_one_function_in_a_hundred_asks_for_more_than_six_things():
    """What belongs together is one dataclass; itself and its class do not count."""
    long, functions = [], 0
    for path in own_modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                functions += 1
                args = node.args
                asked = {arg.arg for arg in (*args.posonlyargs, *args.args, *args.kwonlyargs)}
                if len(asked - {"self", "cls"}) > 6:
                    long.append(f"{path.relative_to(ROOT)}: {node.name}")
    assert len(long) < functions / 100, "\n".join(long)

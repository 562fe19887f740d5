"""What is private stays hidden in every command that shows settings, unless asked for."""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from cfgaudit.dialects.opening import bundled_dialects, open_dump
from cfgaudit.dialects.redaction import redact
from tests.cli import sweep
from tests.cli.calling import CORPUS, call, environment, run
from tests.cli.repository import new_repo
from tests.cli.sweep import EVERY_COMMAND

DIPPER = str(CORPUS / "dipper.dump")
SANDPIPER = str(CORPUS / "sandpiper.dump")
COMMANDS = [
    ("show", DIPPER),
    ("show", DIPPER, "--format", "json"),
    ("plain", DIPPER),
    ("diff", "--everything", DIPPER, SANDPIPER),
    ("diff", "--everything", "--format", "json", DIPPER, SANDPIPER),
    ("compare", "--everything", DIPPER, SANDPIPER),
    ("compare", "--everything", "--format", "json", DIPPER, SANDPIPER),
]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_the_serial_is_hidden_unless_asked_for(
    monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...]
) -> None:
    assert "RS-0412" not in call(monkeypatch, command).out
    assert "RS-0412" in call(monkeypatch, [*command, "--secrets"]).out


def test_a_hidden_value_is_said_to_be_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = json.loads(call(monkeypatch, ["show", DIPPER, "craft", "--format", "json"]).out)
    assert shown["settings"]["craft.serial"]["value"] == "(hidden)"
    assert shown["settings"]["craft.name"]["value"] == "dipper"


# Invented, all of it; numbers kept for stories (Ofcom's 01632 960xxx, published) and examples.
# Those under `note` tell by their looks, the others by their key.
KINDS = {
    "owner": ("owner", "Maria Thornhill"),
    "keeper": ("keeper", "Alder Bridge survey"),
    "pilot": ("pilot_name", "Tom Valerian"),
    "operator": ("operator", "GBR-OP-77XYZW"),
    "registration": ("registration", "RV-OSPREY-11"),
    "licence": ("licence_no", "LIC-5521-Q"),
    "call sign": ("callsign", "M7HERONX"),
    "serial number": ("serial_no", "RS-0412-88"),
    "plate": ("plate", "OW-0223-K"),
    "password": ("wifi_password", "otterholt!9"),
    "passphrase": ("passphrase", "three grey herons"),
    "network": ("ssid", "BeckHouse-5G"),
    "token": ("api_token", "tok_9f8e7d6c5b"),
    "secret": ("shared_secret", "s3kr1t-weir"),
    "binding": ("bind_phrase", "ninewetstones"),
    "receiver": ("receiver_id", "1f90a2b3c4"),
    "postcode": ("postcode", "ZZ99 3WZ"),
    "street": ("street", "14 Millrace Lane"),
    "home": ("home_address", "Lower Aldercombe"),
    "radio uid": ("radio_uid", "31.7.204.9.88.2"),
    "one half of home": ("home_lat", "53.1177"),
    "decimal degrees": ("note", "53.43841, -2.52430"),
    "decimal with a slash": ("note", "53.43842/-2.52431"),
    "one angle": ("note", "53.43843 N"),
    "letter in front": ("note", "N53.43844"),
    "minutes": ("note", "53° 26.305' N"),
    "seconds": ("note", "53°26'18.3\"N 2°31'27.5\"W"),
    "sentence": ("note", "5326.305,N,00231.458,W"),
    "geo": ("note", "geo:53.4384,-2.5243"),
    "iso": ("note", "+53.4385-002.5244/"),
    "grid code": ("note", "9C5VCFQG+9M"),
    "military grid": ("note", "30U WE 12345 67890"),
    "e-mail": ("note", "m.thorn@alder-beck.example"),
    "number abroad": ("note", "+44 1632 960 961"),
    "number at home": ("note", "(01632) 960962"),
    "network address": ("note", "00:1A:2B:3C:4D:5E"),
    "identifier": ("note", "6f1c0a52-8d0e-4b1e-9a44-0a1b2c3d4e5f"),
    "telephone": ("phone", "01632 960963"),
    "imei": ("imei", "490154203237518"),
    "contact": ("contact", "Ferryman Joss"),
}
SHAPES = {
    "assignment": "{key} = {value}\n",
    "quoted": '{key} = "{value}"\n',
    "colon": "{key}: {value}\n",
    "comma behind": '"{key}": "{value}",\n',
    "words": "{key} {value}\n",
    "words and a number": "{key} {value} 7\n",
    "row": "{key},{value},3\n",
    "under a word": "craft_{key} = {value}\n",
    "camel case": "my{camel} = {value}\n",
    "remark": "# {key}: {value}\n",
    "remark with more": "# made in spring, {key}: {value}\n",
    "behind a setting": "heron_{number} = 4  # {key}: {value}\n",
    "unclosed": '{key} = "{value}\n',
    "behind letters that grow": "# İstanbul İ {key}: {value}\n",
    "value that is said again": "words = of {value} they spoke\n",
    "key that says it again": "told {value} = 4\n",
    "upper case": "{key} = {upper}\n",
    "indented": "    {key} = {value}\n",
    "in the next line": "{key} = \\\n    {value}\n",
    "head": "[{key} {value}]\nwarm_{number} = 1\n",
}


def salted(dump: str, *, backwards: bool = False) -> str:
    """A dump with every kind of secret in every shape: half of them in its midst, half at its end.

    Backwards what would stand in the midst stands at the end.
    """
    kinds = list(KINDS.values())[:: -1 if backwards else 1]
    lines = [
        in_shape(shape, key, value, f"{number}_{index}")
        for number, shape in enumerate(SHAPES)
        for index, (key, value) in enumerate(kinds)
    ]
    midst, end = (f"[beck]\n{''.join(lines[first::2])}" for first in (0, 1))
    head, mark, tail = dump.partition("[port lid]\n")
    assert mark
    return f"{head}{midst}{mark}{tail}{end}"


def in_shape(shape: str, key: str, value: str, number: str = "1") -> str:
    camel = key.title().replace("_", "")
    return SHAPES[shape].format(
        key=key, camel=camel, value=value, upper=value.upper(), number=number
    )


def leaks(text: str) -> list[str]:
    """The kinds of secrets that a text tells, in any case."""
    low = text.lower()
    return [name for name, (_, value) in KINDS.items() if value.lower() in low]


@pytest.fixture(scope="module")
def salty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository of two salted dumps, one of which changed."""
    repo = new_repo(tmp_path_factory.mktemp("salty"), install=False)
    dump = (CORPUS / "dipper.dump").read_text(encoding="utf-8")
    other = (CORPUS / "faulty" / "dipper-after-repair.dump").read_text(encoding="utf-8")
    (repo.top / "dipper.build.toml").write_bytes((CORPUS / "dipper.build.toml").read_bytes())
    repo.write(salted(other, backwards=True), "craft.dump")
    repo.commit("as it was")
    repo.write(salted(dump), "craft.dump")
    repo.write(salted(other, backwards=True), "other.dump")
    repo.commit("as it is")
    return repo.top


def test_there_are_forty_kinds_in_twenty_shapes() -> None:
    assert (len(KINDS), len(SHAPES)) == (40, 20)


@pytest.mark.parametrize("arguments", EVERY_COMMAND, ids=" ".join)
def test_no_output_of_any_command_tells_a_secret(
    monkeypatch: pytest.MonkeyPatch, salty: Path, arguments: list[str]
) -> None:
    before = {path: path.stat().st_mtime_ns for path in salty.iterdir() if path.is_file()}
    answer = call(monkeypatch, arguments, cwd=salty)
    assert "internal fault" not in answer.err
    assert leaks(answer.out + answer.err) == []
    for path in salty.iterdir():
        if path.is_file() and path.stat().st_mtime_ns != before.get(path):
            assert leaks(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("kind", KINDS)
def test_redact_hides_one_secret_alone_and_does_no_more_when_it_runs_again(
    kind: str, shape: str
) -> None:
    key, value = KINDS[kind]
    if "again" in shape and key != "note":
        return  # what only a key tells is known again where that key stands too
    data = f"[beck]\n{in_shape(shape, key, value)}\ncells = 4\n".encode()
    once = redact(open_dump("a.dump", data, bundled_dialects())).data
    assert leaks(once.decode()) == []
    assert redact(open_dump("a.dump", once, bundled_dialects())).data == once


@pytest.mark.parametrize("dump", ["wagtail.dump", "goosander.dump"])
def test_a_new_dialect_is_the_same_for_any_hash_seed(dump: str) -> None:
    made = {run("dialect", "new", dump, env=environment(PYTHONHASHSEED=s)).out for s in "12"}
    assert len(made) == 1


@pytest.mark.long
def test_every_command_says_the_same_for_any_hash_seed(salty: Path, tmp_path: Path) -> None:
    said = []
    top = tmp_path / "boats"
    for seed in ("1", "2026"):
        shutil.copytree(salty, top)  # what a run leaves would be there for the next one
        done = subprocess.run(
            [sys.executable, sweep.__file__, str(top)],
            env=environment(PYTHONHASHSEED=seed),
            capture_output=True,
            check=True,
            timeout=3_600,
        )
        pages = [(top / name).read_bytes() for name in ("page.html", "change.html", "base.json")]
        chosen = re.sub(rb"--salt[= ][0-9a-f]+", b"--salt=CHOSEN", done.stdout)  # by lot, anew
        said.append((json.loads(chosen), pages))
        shutil.rmtree(top)
    one, other = said
    assert [(a, b) for a, b in zip(one[0], other[0], strict=True) if a != b] == []
    assert one[1] == other[1]

"""Forms for CI: SARIF against its published schema, JUnit by a reader of its own, annotations; several layouts, settings.

Sources: SARIF 2.1.0 and its JSON Schema, OASIS (tests/published/sarif-schema-2.1.0.json); JUnit's XML as the library
junitparser reads it, and as the schema junit-10.xsd has it that the xUnit plugin of a CI server publishes (MIT licence; its
elements and attributes as a table here, what we never write left out); the annotations as the forge documents its workflow commands.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree as ET

import jsonschema
import junitparser
import pytest
import yaml
from click.shell_completion import ShellComplete
from click.testing import CliRunner

from netlister.check import check
from netlister.cli.main import group
from netlister.edits.patch import TextEdit, apply_edits
from netlister.formats import sarif
from netlister.layout.read import read_layout
from netlister.rules import BY_NAME, RULES
from netlister.source import Source

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "tests" / "published" / "sarif-schema-2.1.0.json").read_text(encoding="utf-8"))
EXAMPLES = sorted(path.parent.name for path in (ROOT / "examples").glob("*/layout.yaml"))
QUICK = [name for name in EXAMPLES if name not in {"terminus", "every-piece-mistakes"}]
RIGHT = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  a: {length: 1 m}
  b: {length: 1 m}
joints:
  - {from: a, to: b, insulate: both}
feeds:
  - {to: [a, b]}
"""
SHORT = RIGHT.replace("{to: [a, b]}", "{to: a}\n  - {to: a, A: right, B: left}")
DEAD = RIGHT.replace("{to: [a, b]}", "{to: a}")


def run(*arguments, **more):
    return CliRunner().invoke(group, [str(a) for a in arguments], **more)


def layout(name):
    return ROOT / "examples" / name / "layout.yaml"


def log_of(*paths):
    made = run("check", *paths, "--format", "sarif")
    found = json.loads(made.stdout)
    jsonschema.validate(found, SCHEMA)
    return found["runs"][0], made.exit_code


@pytest.mark.parametrize("name", QUICK)
def test_sarif_has_every_finding_and_keeps_to_its_schema(name):
    log, code = log_of(layout(name))
    plain = run("check", layout(name), "--format", "json")
    assert code == plain.exit_code
    findings = json.loads(plain.stdout)["findings"]
    results = log["results"]
    assert [r["ruleId"] for r in results] == [f["rule"] for f in findings]
    for result, finding in zip(results, findings, strict=True):
        assert log["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == finding["rule"]
        assert result["level"] == finding["severity"]
        assert finding["message"] in result["message"]["text"]
        place = result["locations"][0]["physicalLocation"]
        assert (place["region"]["startLine"], place["region"]["startColumn"]) == (
            finding["where"][0]["line"], finding["where"][0]["column"],
        )  # fmt: skip
        if finding["path"]:
            steps = result["codeFlows"][0]["threadFlows"][0]["locations"]
            assert [s["location"]["message"]["text"] for s in steps] == finding["path"]
    assert {rule["id"] for rule in log["tool"]["driver"]["rules"]} == {"unusable-file", *BY_NAME}


@pytest.mark.parametrize("name", ["crossover", "peat-railway-faulty", "ferry-plug", "junction", "sawmill"])
def test_the_fixes_of_sarif_mend_the_layout(name):
    """Each fix, made in the text as the standard says, leaves a layout without the errors that it belongs to."""
    log, _ = log_of(layout(name))
    text = layout(name).read_text(encoding="utf-8")
    tried = 0
    for result in log["results"]:
        for fix in result.get("fixes", ()):
            (change,) = fix["artifactChanges"]
            edits = []
            for one in change["replacements"]:
                r = one["deletedRegion"]
                places = (r["startLine"], r["startColumn"], r["endLine"], r["endColumn"])
                edits.append(TextEdit("layout.yaml", *places, one["insertedContent"]["text"]))
            report = check(
                read_layout(Source("layout.yaml", apply_edits(text, edits)), layout(name).parent), causes=False
            )
            subject = result["locations"][0]["logicalLocations"][0]["fullyQualifiedName"]
            assert (result["ruleId"], subject) not in {(f.rule, f.subject) for f in report.findings}
            tried += 1
    assert tried or not any(r["level"] == "error" for r in log["results"])


def test_a_fingerprint_stays_when_lines_move(tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(SHORT, encoding="utf-8")
    before, _ = log_of(path)
    path.write_text("# a line\n\n" + SHORT, encoding="utf-8")
    after, _ = log_of(path)
    prints = [[r["partialFingerprints"] for r in log["results"]] for log in (before, after)]
    assert prints[0] == prints[1]
    assert before["results"][0]["locations"] != after["results"][0]["locations"]


def test_places_of_sarif_are_relative_and_escaped(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "the yard #2"
    folder.mkdir()
    (folder / "größe.yaml").write_text(SHORT, encoding="utf-8")
    log, code = log_of("the yard #2/größe.yaml")
    uri = log["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert code == 1
    assert unquote(uri) == "the yard #2/größe.yaml"
    assert re.fullmatch(r"[\w%./~-]+", uri, re.ASCII)


def test_more_results_than_readers_take_are_left_out_and_said():
    parts = [[{"ruleId": "dead-track", "message": {"text": "x"}} for _ in range(sarif.MOST + 3)]]
    log = json.loads(sarif.whole(parts))
    jsonschema.Draft7Validator(SCHEMA).validate({**log, "runs": [{**log["runs"][0], "results": []}]})
    assert len(log["runs"][0]["results"]) == sarif.MOST
    note = log["runs"][0]["invocations"][0]["toolExecutionNotifications"][0]
    assert "3 more results" in note["message"]["text"]


def test_what_is_not_proved_is_told_in_every_form():
    """A limit of one step leaves everything open: no form may look like a pass."""
    made = run("check", layout("terminus"), "--limit", "1", "--format", "sarif")
    results = json.loads(made.stdout)["runs"][0]["results"]
    assert made.exit_code == 1
    assert any(r.get("kind") == "open" and r["level"] == "none" for r in results)
    xml = run("check", layout("terminus"), "--limit", "1", "--format", "junit").stdout
    assert 'type="unproved"' in xml
    assert "not proved" in run("check", layout("terminus"), "--limit", "1", "--format", "github").stdout


@pytest.mark.parametrize("name", QUICK)
def test_junit_as_another_library_reads_it(name, tmp_path):
    made = run("check", layout(name), "--format", "junit")
    findings = json.loads(run("check", layout(name), "--format", "json").stdout)["findings"]
    file = tmp_path / "out.xml"
    file.write_text(made.stdout, encoding="utf-8")
    (suite,) = junitparser.JUnitXml.fromfile(str(file))
    failed = {case.name for case in suite if any(isinstance(r, junitparser.Failure) for r in case.result)}
    assert failed == {f["rule"] for f in findings if f["severity"] == "error"}
    assert suite.failures == len(failed)
    ran = {case.name for case in suite}
    assert suite.tests == len(ran)
    assert {rule.name for rule in RULES if rule.default} <= ran
    for finding in findings:
        assert ET_escaped(finding["message"]) in made.stdout


SUITE = {"name", "tests", "failures", "errors"}
JUNIT = {  # element: attributes that it must have, that it may have, elements in it; by junit-10.xsd
    "testsuites": (set(), {"name", "time", "tests", "failures", "errors"}, {"testsuite"}),
    "testsuite": (
        SUITE,
        {"skipped", "time", "timestamp", "hostname", "id", "package", "file"},
        {"testcase", "properties"},
    ),
    "testcase": ({"name"}, {"time", "classname", "group"}, {"skipped", "error", "failure", "system-out", "system-err"}),
    "failure": (set(), {"type", "message"}, set()),
    "error": (set(), {"type", "message"}, set()),
    "system-out": (set(), set(), set()),
}
ODD = (
    RIGHT.replace("a:", '"a\\u0001<&\\">":')
    .replace("from: a", 'from: "a\\u0001<&\\">"')
    .replace("to: [a", 'to: ["a\\u0001<&\\">"')
)


@pytest.mark.parametrize(
    ("text", "more"),
    [(RIGHT, ()), (SHORT, ()), (SHORT, ("--fail-on", "never")), ("format: netlister/1\ntrack: 3\n", ()), (ODD, ())],
)
def test_junit_by_the_schema_of_its_readers(text, more, tmp_path):
    for name in ("one", "tw&o"):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    made = run("check", tmp_path / "one.yaml", tmp_path / "tw&o.yaml", "--format", "junit", *more)
    root = ET.fromstring(made.stdout)
    assert root.tag == "testsuites"
    assert len(root) == 2
    for element in root.iter():
        must, may, inside = JUNIT[element.tag]
        assert must <= set(element.attrib) <= must | may, element.tag
        assert {child.tag for child in element} <= inside, element.tag
        if inside:
            assert not (element.text or "").strip(), element.tag
    for key, tag in (("tests", "testcase"), ("failures", "failure"), ("errors", "error")):
        for whole in (root, *root):
            assert int(whole.get(key)) == len(list(whole.iter(tag))), key


def ET_escaped(text):  # noqa: N802
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


ANNOTATION = re.compile(
    r"::(error|warning|notice) file=([^,]*),title=([^,]*)(?:,line=(\d+),col=(\d+)(?:,endColumn=\d+)?)?::(.*)"
)


@pytest.mark.parametrize("name", QUICK)
def test_annotations(name):
    lines = run("check", layout(name), "--format", "github").stdout.splitlines()
    findings = json.loads(run("check", layout(name), "--format", "json").stdout)["findings"]
    lines = lines[: len(findings)]  # where there are many, a count comes last
    findings.sort(key=lambda f: ["error", "warning", "note"].index(f["severity"]))
    assert len(lines) == len(findings)
    for line, finding in zip(lines, findings, strict=True):
        found = ANNOTATION.fullmatch(line)
        assert found, line
        text = found[6].replace("%0A", "\n").replace("%0D", "\r").replace("%25", "%")
        assert found[1] == {"note": "notice"}.get(finding["severity"], finding["severity"])
        assert (int(found[4]), int(found[5])) == (finding["where"][0]["line"], finding["where"][0]["column"])
        assert text.startswith(finding["message"])


def test_annotations_beyond_what_a_step_shows_are_sorted_and_counted():
    from netlister.formats import github

    parts = ["::notice file=a,title=x::n\n::warning file=a,title=x::w\n", "::error file=b,title=x::e\n" * 11]
    lines = github.whole(parts).splitlines()
    assert [line[2:7] for line in lines[:13]] == ["error"] * 11 + ["warni", "notic"]
    assert lines[13].startswith("11 errors, 1 warnings, 1 notices; a step shows 10")


def test_text_of_a_layout_never_becomes_a_command_of_the_forge(tmp_path):
    path = tmp_path / "layout.yaml"
    path.write_text(SHORT.replace("main:", "'::error::%0A,x:':"), encoding="utf-8")
    made = run("check", path, "--format", "github")
    assert made.exit_code in {1, 2}
    for line in made.stdout.splitlines():
        head, data = line[2:].split("::", 1)
        assert head.startswith("error file=layout.yaml")
        assert "%0A" not in data.replace("%250A", "") or "\n" not in data


# -- several layouts


def test_several_layouts_and_a_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "yards" / ".hidden").mkdir(parents=True)
    files = {
        "yards/a.yaml": RIGHT,
        "yards/b.yml": SHORT,
        "yards/other.yaml": "name: x\n",
        "yards/.hidden/c.yaml": SHORT,
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    every = json.loads(run("check", "yards", "--format", "json").stdout)
    assert [one["layout"] for one in every["layouts"]] == ["yards/a.yaml", "yards/b.yml"]
    for one in every["layouts"]:
        assert one == json.loads(run("check", one["layout"], "--format", "json").stdout)
    text = run("check", "yards")
    alone = [run("check", name) for name in ("yards/a.yaml", "yards/b.yml")]
    assert text.exit_code == 1
    assert text.stdout == "\n".join(one.stdout for one in alone)
    assert run("check", "yards/a.yaml", "yards/a.yaml").stdout == alone[0].stdout
    (tmp_path / "yards" / "bad.yaml").write_text("format: netlister/1\ntrack: 3\n", encoding="utf-8")
    worst = run("check", "yards", "--format", "json")
    assert worst.exit_code == 2
    assert "unusable" in json.loads(worst.stdout)["layouts"][-1]
    for form in ("sarif", "junit", "github"):
        assert run("check", "yards", "--format", form).exit_code == 2
    (tmp_path / "empty").mkdir()
    nothing = run("check", "empty")
    assert nothing.exit_code == 2
    assert "no layout in 'empty'" in nothing.stderr


# -- settings


def test_settings_from_a_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "yards").mkdir()
    path = tmp_path / "yards" / "layout.yaml"
    path.write_text(SHORT, encoding="utf-8")
    assert run("check", path).exit_code == 1
    (tmp_path / "pyproject.toml").write_text('[tool.netlister]\nignore = ["pole-short"]\n', encoding="utf-8")
    made = run("check", path)
    assert "pole-short" not in made.stdout
    assert "pyproject.toml ignores pole-short" in made.stderr  # what is not looked at is never left out in silence
    assert "pole-short" in run("check", path, "--ignore", "dead-track").stdout  # the command line goes first
    (tmp_path / "yards" / "netlister.toml").write_text('fail-on = "never"\n', encoding="utf-8")
    nearest = run("check", path)
    assert nearest.exit_code == 0
    assert "pole-short" in nearest.stdout
    assert run("check", path, "--fail-on", "error").exit_code == 1


def test_nothing_is_wrong_only_where_every_rule_was_looked_at(tmp_path, monkeypatch):
    """What the line or a file leaves out is said in the verdict itself; what the line selects no file can ignore."""
    monkeypatch.chdir(tmp_path)
    Path("layout.yaml").write_text(DEAD, encoding="utf-8")
    Path("right.yaml").write_text(RIGHT, encoding="utf-8")
    assert "nothing wrong" in run("check", "right.yaml").stdout
    ignored = run("check", "layout.yaml", "--ignore", "dead-track,floating-net").stdout
    assert "nothing wrong" not in ignored
    assert "nothing found, but not looked at: floating-net, dead-track" in ignored
    assert "rules of a plain check" in run("check", "layout.yaml", "--select", "pole-short").stdout
    Path("netlister.toml").write_text('ignore = ["dead-track", "floating-net"]\n', encoding="utf-8")
    assert "not looked at: floating-net, dead-track" in run("check", "layout.yaml").stdout
    assert run("check", "layout.yaml", "--select", "dead-track").exit_code == 1
    none = run("check", "layout.yaml", "--select", "pole-short", "--ignore", "pole-short")
    assert none.exit_code == 2
    assert "no rule is left" in none.stderr


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('ignore = ["pole-shrt"]', "did you mean 'pole-short'"),
        ("ignor = []", "did you mean 'ignore'"),
        ('ignore = "pole-short"', "must be a list of rules"),
        ('fail-on = "fatal"', "must be one of note, warning, error, never"),
        ("limit = true", "must be a whole number"),
        ("allow-unproved = 1", "must be true or false"),
        ("limit = ", "cannot be read as TOML"),
    ],
)
def test_a_faulty_setting_is_said_with_its_file(text, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "layout.yaml").write_text(RIGHT, encoding="utf-8")
    (tmp_path / "netlister.toml").write_text(text + "\n", encoding="utf-8")
    made = run("check", "layout.yaml")
    assert made.exit_code == 2
    assert "netlister.toml: " in made.stderr
    assert said in made.stderr


# -- completion, hook


def test_completion_of_rules_and_commands():
    def offered(arguments, incomplete):
        return {
            item.value for item in ShellComplete(group, {}, "netlister", "_X").get_completions(arguments, incomplete)
        }

    assert "check" in offered([], "ch")
    assert offered(["check", "layout.yaml", "--select"], "pole-short,dead") == {"pole-short,dead-track"}
    assert {rule.name for rule in RULES} <= offered(["check", "layout.yaml", "--ignore"], "")
    assert "sarif" in offered(["check", "--format"], "")
    assert offered(["explain"], "gap-") == {name for name in BY_NAME if name.startswith("gap-")}
    assert "live-frog" in offered(["kinds"], "live")
    assert "T1" in offered(["card", str(layout("one-frog"))], "T")


def test_the_hook_for_commits_names_a_command_that_works():
    (hook,) = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
    program, *arguments = hook["entry"].split()
    assert program == "netlister"
    assert run(*arguments, layout("one-frog")).exit_code == 0
    assert run(*arguments, layout("crossover")).exit_code == 1
    assert re.search(hook["files"], "yards/layout.yaml")

"""Layouts wired in scripts."""

from __future__ import annotations

import logging
import re
import subprocess
import sys
from pathlib import Path

import pytest

import netlister
from netlister.propose.proposal import shared_out
from netlister.skidl import attach, check, circuit, mend, net, part, propose, read_circuit
from tests.repairs.test_drawn import obeyed
from tests.unit.netlists.drawn import drawn, siding


def wired(parts, nets):
    """The circuit of skidl with the parts and nets of a drawing."""
    design = circuit()
    made = {}
    for reference, (kind, fields) in parts.items():
        made[reference] = part(
            kind, ref=reference, circuit=design, **{k.lower().replace(" ", "_"): v for k, v in fields.items()}
        )
    for name, pins in nets.items():
        joined = net(name, design)
        for pin in pins:
            reference, _, number = pin.partition(".")
            joined += made[reference][number]
    return design


def outline(report):
    return sorted((f.rule, f.severity, f.subject, f.when) for f in report.findings)


def test_a_script_gives_the_findings_of_the_drawing():
    parts, nets = siding()
    assert check(wired(parts, nets)).findings == ()
    parts["U1"] = ("metal-joiner", {})
    nets["LEFT"][1], nets["RIGHT"][1] = "Q1.through", "Q1.diverging"
    expected = netlister.check_text(drawn(parts, nets), "drawing.net")
    assert expected.findings
    assert outline(check(wired(parts, nets))) == outline(expected)


def test_findings_point_at_the_lines_that_made_the_parts():
    design = circuit()
    supply = part("supply", ref="G1", type="dcc", voltage="15 V", circuit=design)
    line = part("rail-section", ref="L1", circuit=design)  # this line
    supply["A"] += line["left"], line["right"]
    places = {(place.file.rpartition("/")[2], place.line) for f in check(design).findings for place in f.where}
    lines = Path(__file__).read_text(encoding="utf-8").splitlines()
    number = next(n for n, text in enumerate(lines, 1) if text.endswith("# this line"))
    assert ("test_skidl_front.py", number) in places


def test_a_part_made_by_a_function_is_placed_where_that_is_called():
    design = circuit()

    def section(name):
        return part("rail-section", ref=name, circuit=design)

    part("supply", ref="G1", type="dcc", voltage="15 V", circuit=design)
    one = section("L1")
    other = section("L2")
    one["left"] += other["left"]
    lines = [f.where[0].line for f in check(design, select=["dead-track"]).findings]
    assert len({*lines}) == 2
    assert lines[1] == lines[0] + 1


def test_errors_and_warnings_reach_skidls_own_check():
    from skidl.logger import erc_logger

    parts, nets = siding()
    design = wired(parts, nets)
    attach(design)
    design.ERC()
    assert erc_logger.error.count == 0
    nets["LEFT"][1], nets["RIGHT"][1] = "Q1.through", "Q1.diverging"
    design = wired(parts, nets)
    attach(design)
    design.ERC()
    assert erc_logger.error.count >= 1
    design = circuit()
    part("rail-section", ref="L1", circuit=design)
    attach(design)
    design.ERC()
    assert erc_logger.error.count == 1  # there is no supply
    other = circuit()
    other.ERC()
    assert erc_logger.error.count == 0  # nothing was attached to this one


@pytest.mark.parametrize(
    ("kind", "fields", "message"),
    [
        ("live-forg", {}, "did you mean 'live-frog'"),
        ("live-frog", {}, "needs a hand"),
        ("live-frog", {"hand": "up"}, "needs a hand"),
        ("live-frog", {"hand": "left", "jumper": True}, "did you mean 'jumpers'"),
        ("live-frog", {"hand": "left", "jumpers": "perhaps"}, "jumpers"),
        ("supply", {"volts": "3 V"}, "takes no 'volts'"),
        ("contact-9", {}, "there is no symbol 'contact-9'"),
    ],
)
def test_parts_that_cannot_be(kind, fields, message):
    with pytest.raises(ValueError, match=message):
        part(kind, circuit=circuit(), **fields)


def test_options_and_counts_and_positions_make_pins():
    design = circuit()
    table = part("turntable", ref="TT", roads=6, circuit=design)
    assert "s6-left" in [pin.num for pin in table.pins]
    contact = part("contact", moved_by="S1", positions=["off", "on", "test"], circuit=design)
    assert [pin.num for pin in contact.pins] == ["common", "off", "on", "test"]
    part("supply", ref="G1", type="dcc", voltage="15 V", circuit=design)
    part("switch", ref="S1", positions=["off", "on", "test"], circuit=design)
    layout = read_circuit(design)
    assert layout.variables["S1"].positions == ("off", "on", "test")
    assert layout.pieces["TT"].kind.ends.keys() >= {"s6"}


def test_faults_name_true_lines():
    design = circuit()
    part("supply", ref="G1", type="dcc", voltage="15 V", circuit=design)
    part("rail-section", ref="L1", name="a", circuit=design)
    part("rail-section", ref="L2", name="a", circuit=design)
    with pytest.raises(netlister.UnusableError) as caught:
        check(design)
    (fault,) = caught.value.faults
    assert f"in line {fault.span.line - 1} " in fault.message


QUIET = """
import sys
import netlister.skidl
assert "skidl" not in sys.modules and "matplotlib" not in sys.modules
from netlister.skidl import check, circuit, part
design = circuit()
supply = part("supply", ref="G1", type="dcc", voltage="15 V", circuit=design)
line = part("rail-section", ref="L1", circuit=design)
supply["A"] += line["left"]
supply["B"] += line["right"]
assert not check(design).findings
"""


def test_it_is_quiet_and_leaves_nothing_behind(tmp_path):
    done = subprocess.run([sys.executable, "-c", QUIET], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert list(tmp_path.iterdir()) == []


def test_the_script_of_the_manual(capsys):
    text = (Path(__file__).parents[2] / "netlister" / "manual" / "netlists.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    exec(compile(block, "manual", "exec"), {})  # noqa: S102
    assert "floating-net" not in capsys.readouterr().out


@pytest.mark.parametrize(("pin", "meant"), [("leftt", "left"), ("stock_left", "stock-left"), ("comon", "common")])
def test_a_pin_that_a_part_lacks_is_told(pin, meant):
    kind = {"left": "rail-section", "stock-left": "live-frog", "common": "contact"}[meant]
    fields = {"hand": "left"} if kind == "live-frog" else {"moved_by": "M1"} if kind == "contact" else {}
    made = part(kind, ref="P1", circuit=circuit(), **fields)
    with pytest.raises(ValueError, match=f"'P1', a {kind}, has no pin '{pin}'; did you mean '{meant}'"):
        made[pin]


def test_pins_that_are_not_there_are_told_however_they_are_asked_for():
    design = circuit()
    turnout = part("live-frog", ref="T1", hand="left", circuit=design)
    for asked in ("forg", ("stock-left", "forg"), "stock-left, forg"):
        with pytest.raises(ValueError, match="'T1', a live-frog, has no pin 'forg'; did you mean 'frog'"):
            turnout[asked]
    with pytest.raises(ValueError, match="its pins are stock-left, stock-right, frog"):
        turnout[1]
    with pytest.raises(AttributeError, match="has no pin 'forg'; did you mean 'frog'"):
        turnout.forg  # noqa: B018
    assert len(turnout["stock-left", "frog"]) == 2


def test_what_only_lies_on_one_net_in_a_script_is_parted_and_no_part_taken_out():
    """A net of a script has the place of a part, which is not what joins."""
    design = circuit()
    supply = part("supply", ref="G1", type="dcc", voltage="15 V", circuit=design)
    line = part("rail-section", ref="L1", circuit=design)
    supply["A"] += line["left"]
    supply["B"] += line["right"], line["left"]
    text = check(design).to_text()
    assert "help: part G1 pin A from G1 pin B, which lie on one net" in text
    assert "take out" not in text


def test_the_check_of_skidl_itself_prints_what_it_finds(capsys):
    from skidl.logger import erc_logger

    for handler in list(erc_logger.handlers):
        erc_logger.removeHandler(handler)  # those of other tests write where these read no more
    erc_logger.addHandler(logging.NullHandler())
    design = circuit()
    supply = part("supply", ref="G1", type="dcc", voltage="15 V", circuit=design)
    line = part("rail-section", ref="L1", circuit=design)
    supply["A"] += line["left"]
    attach(design)
    design.ERC()
    said = capsys.readouterr().err
    assert "Unconnected pin: PASSIVE pin right/right of rail-section/L1" in said  # skidl's own
    assert "floating-net: L1.right has no pole in any position" in said  # ours


def test_mending_is_told_with_the_lines_of_the_script_and_mends_it():
    """Each repair is obeyed word by word by what shares nothing with it, in the parts and nets of the script."""
    parts, nets = siding()
    parts["U1"] = ("metal-joiner", {})
    nets["LEFT"][1], nets["RIGHT"][1] = "Q1.through", "Q1.diverging"
    found = mend(wired(parts, nets))
    assert found.repairs
    assert not found.wrong
    lines = Path(__file__).read_text(encoding="utf-8").splitlines()
    for one in found.repairs[0].choices:
        assert one.span.file.endswith("test_skidl_front.py")
        assert "part(" in lines[one.span.line - 1]
        parts, nets = obeyed(one.say, parts, nets)
    assert check(wired(parts, nets)).findings == ()
    text = found.to_text()
    assert "exchange U1 for an insulated joiner" in text
    assert "no error is left" in text
    assert mend(wired(parts, nets)).to_text() == "nothing to mend\n"


def test_a_script_of_bare_track_is_wired_in_the_words_of_its_parts():
    parts, nets = siding()
    bare = {r: ("metal-joiner", {}) if k[0] == "insulated-joiner" else k for r, k in parts.items()}
    bare = {r: k for r, k in bare.items() if k[0] not in {"feed", "contact"}}
    left = {name: [pin for pin in pins if pin.partition(".")[0] in bare] for name, pins in nets.items()}
    found = propose(wired(bare, left))
    assert found.right
    assert found.cost == found.bound == 6  # two joiners, and a wire for each of four nets
    places = set()
    for say, why, span, edits in shared_out(found):
        assert why
        assert not edits
        places.add(span.file.rpartition("/")[2])
        bare, left = obeyed(say, bare, left)
    assert places == {"test_skidl_front.py"}
    assert check(wired(bare, left)).findings == ()
    assert "test_skidl_front.py:" in found.to_text()


def test_a_script_given_to_the_command_is_told_to_be_run(tmp_path):
    path = tmp_path / "wiring.py"
    path.write_text('"""A layout."""\n\nfrom netlister.skidl import circuit\n', encoding="utf-8")
    with pytest.raises(netlister.UnusableError, match="this is a script"):
        netlister.read_file(path)

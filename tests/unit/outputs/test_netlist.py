"""The netlist: read back with libraries that know nothing of us, and compared with the nets that are checked."""

from __future__ import annotations

import logging
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any, NamedTuple

import kinparse
import networkx as nx
import pytest
import sexpdata

import netlister
from netlister.circuit.build import build
from netlister.outputs.netlist_parts import parts
from netlister.poles.nets import contract
from netlister.skidl.netlist import kicad_netlist
from tests.properties.layouts import dump, random_layout

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.model import Circuit

ROOT = Path(__file__).parents[3]
SEEDS = 2000 if os.environ.get("NETLISTER_LONG") else 80

SIDING = """\
format: netlister/1
title: A "short" siding
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 50 mohm}
buses:
  main: {supply: main, wire: 2.5 mm2, length: 6 m, colours: {A: BN, B: BU}}
track:
  west: {length: 600 mm}
  east: {length: 900 mm}
  siding: {length: 450 mm}
  T1: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
joints:
  - {from: west, to: T1.toe}
  - {from: T1.through, to: east, insulate: vee}
  - {from: T1.diverging, to: siding, insulate: vee, id: J9}
feeds:
  - {to: [west, siding], A: left, B: right}
  - {to: east, A: left, B: right, at: 450 mm, tap: 2 m, wire: 0.5 mm2, length: 250 mm, id: east-feed}
boards:
  end: [east, M1]
"""

GEAR = """\
format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 1 A}
  cab2: {type: dc, voltage: 12 V, trip: 1 A, common: cab1.B}
  yard: {type: dcc, voltage: 15 V, trip: 3 A}
track:
  west: {length: 1 m}
  middle: {length: 1 m}
  east: {length: 1 m}
  loop: {length: 2 m}
  turn: {length: 1 m}
  bay: {length: 1 m}
  T1: {kind: insulated-frog, hand: left, jumpers: true}
  T2: {kind: live-frog-bonded, hand: wye}
  X1: {kind: double-slip-live}
switches:
  S1: {positions: [one, off, two], contacts: {rail: {common: middle.left, one: cab1.A, two: cab2.A}}}
  K1: {follows: T1, positions: [rest, pulled], contacts: {bay: {common: TB1.2, rest: yard.A, pulled: TB1.3}}}
machines:
  M2: {throws: [T2], contacts: {frog: {common: T2.frog, left: T2.stock-right, right: T2.stock-left}}}
reversers:
  R1: {from: yard, mode: automatic}
  R2: {from: yard, follows: M2, straight: [left]}
frog-units:
  U1: {feeds: X1.frog-a, from: yard}
components:
  F1: {kind: breaker, from: yard.A, to: TB1.1, rating: 2 A}
  D1: {kind: diode, from: TB1.1, to: TB1.2, resistance: 0.1 ohm}
  Z1: {kind: resistor, from: T2.frog, to: yard.B, rating: 2 W, resistance: 1 kohm}
plugs:
  P1: {pins: {1: [TB1.3, bay.left], 2: [yard.B, bay.right]}, optional: true}
  P2: {pins: {1: [M2.frog.common, TB2]}}
joints:
  - {from: west, to: middle, insulate: left}
  - {from: middle, to: east, insulate: left}
  - {from: loop, to: X1.a1, insulate: both}
  - {from: turn, to: T2.toe, insulate: both}
feeds:
  - {to: west, from: cab1}
  - {to: east, from: cab2, A: left}
  - {to: loop, from: R1}
  - {to: turn, from: R2}
wires:
  - {from: TB2, to: TB3, wire: 0.5 mm2, length: 1 m, colour: GN, id: w1}
  - {from: TB3, to: T1.stock-left}
  - {from: M2.frog.left, to: yard.A}
"""

NAMES = """\
format: netlister/1
supplies: {on: {type: dcc, voltage: 15 V}}
track:
  '"x': {length: 1 m}
  '(': {length: 1 m}
  'a\\b': {length: 1 m}
  "it's": {length: 1 m}
  'Größe ☃ 線路': {length: 1 m}
  ')(("\\"': {kind: live-frog, hand: right}
  '; |#': {length: 1 m}
  'nil': {length: 1 m}
  '" "': {length: 1 m}
  '\\': {length: 1 m}
  '\\"': {length: 1 m}
  'x\\nil': {length: 1 m}
switches:
  'S (1)': {positions: [on, 'ON', '01', '1', footprint, '"'], contacts: {
    'c"': {common: nil.left, on: 'a\\b.left', 'ON': 'a\\b.left', '01': 'a\\b.left', '1': 'a\\b.left', footprint: __NOCONNECT, '"': '(('}}}
joints:
  - {from: '"x', to: ')(("\\".toe', insulate: left, id: '(joint "1" \\'}
feeds:
  - {to: '"x'}
  - {to: '('}
wires:
  - {from: __NOCONNECT, to: '; |#.left', id: '"w'}
  - {from: '((', to: '((2'}
  - {from: '((2', to: 'Größe ☃ 線路.right'}
"""

LAYOUTS = {"siding": SIDING, "gear": GEAR, "names": NAMES}
EXAMPLES = sorted((ROOT / "examples").glob("*/layout.yaml"))


def circuit_of(text: str) -> Circuit:
    return build(netlister.read_text(text))


# ---- reading back


class Component(NamedTuple):
    library: str
    kind: str
    value: str
    fields: dict[str, str]


class Read(NamedTuple):
    components: dict[str, Component]
    nets: dict[str, list[tuple[str, str]]]
    tree: list[Any]


def below(tree: list[Any], *names: str) -> Iterator[list[Any]]:
    """Every list that stands under lists of these names."""
    for item in tree:
        if isinstance(item, list) and item[0] == sexpdata.Symbol(names[0]):
            if names[1:]:
                yield from below(item, *names[1:])
            else:
                yield item


def only(tree: list[Any], *names: str) -> str:
    """The text of the one list that stands under lists of these names."""
    ((_, *rest),) = below(tree, *names)
    return rest[0] if rest else ""


def read(text: str) -> Read:
    tree = sexpdata.loads(text)
    components = {}
    for comp in below(tree, "components", "comp"):
        fields = {only(f, "name"): f[2] if len(f) > 2 else "" for f in below(comp, "fields", "field")}
        reference = only(comp, "ref")
        assert reference not in components
        library, kind = only(comp, "libsource", "lib"), only(comp, "libsource", "part")
        components[reference] = Component(library, kind, only(comp, "value"), fields)
    nets = {}
    for net in below(tree, "nets", "net"):
        assert only(net, "name") not in nets
        nets[only(net, "name")] = [(only(node, "ref"), only(node, "pin")) for node in below(net, "node")]
    return Read(components, nets, tree)


def net_of(netlist: Read, reference: str, pin: str) -> str:
    (name,) = [name for name, pins in netlist.nets.items() if (reference, pin) in pins]
    return name


def named(netlist: Read, name: str, kind: str = "") -> list[str]:
    """The references of the components with a name."""
    return [r for r, c in netlist.components.items() if c.fields.get("Name") == name and kind in {"", c.kind}]


# ---- the nets that are checked


class Nets(NamedTuple):
    """Per net its terminals and the poles that feed it always; and the pairs of poles that are always joined."""

    fed: dict[frozenset[str], frozenset[str]]
    bridges: set[frozenset[str]]


def nets_checked(circuit: Circuit) -> Nets:
    nets = contract(circuit)
    poles = len(circuit.poles)
    fed = {}
    for net, members in enumerate(nets.members[poles:], poles):
        names = frozenset(circuit.names[m] for m in members)
        fed[names] = frozenset(circuit.names[p] for p in range(poles) if nets.fed[net] >> p & 1)
    return Nets(fed, {frozenset((circuit.names[c.a], circuit.names[c.b])) for c in nets.bridges})


OUTPUTS = {"A", "B"}


def terminal(component: Component, pin: str) -> str | None:
    """The layout's name for a pin that is a terminal of its own."""
    own = component.library == "track" or component.kind == "contact"
    if own or (component.kind == "following reverser" and pin in OUTPUTS):
        return f"{component.fields['Name']}.{pin}"
    return None


def poles_of(netlist: Read) -> set[str]:
    """The nets that are poles: those of supplies and of the outputs of automatic reversers."""
    return {
        net
        for net, pins in netlist.nets.items()
        for reference, pin in pins
        if netlist.components[reference].kind == "supply"
        or (netlist.components[reference].kind == "automatic reverser" and pin in OUTPUTS)
    }


def terminals_of(netlist: Read, poles: set[str]) -> dict[str, set[str]]:
    """The terminals on every net that is no pole; a pole's net must have none."""
    found = {net: {net} for net in netlist.nets if net not in poles}  # a free junction has no pin but names its net
    for net, pins in netlist.nets.items():
        for reference, pin in pins:
            name = terminal(netlist.components[reference], pin)
            if name is not None:
                assert net in found, f"{name} lies on the pole {net}"
                found[net].add(name)
    return found


def always_conducting(netlist: Read) -> list[tuple[str, str]]:
    """The nets of the two pins of every part that always conducts."""
    on = {pin: net for net, pins in netlist.nets.items() for pin in pins}
    always = [r for r, c in netlist.components.items() if c.fields.get("Conducts") == "always"]
    return [(on[reference, "1"], on[reference, "2"]) for reference in always]


def nets_written(netlist: Read) -> Nets:
    """The netlist with everything that always conducts contracted, poles apart."""
    poles = poles_of(netlist)
    terminals = terminals_of(netlist, poles)
    pairs = always_conducting(netlist)
    graph = nx.Graph([pair for pair in pairs if not poles & {*pair}])
    graph.add_nodes_from(terminals)
    fed = {(net, pole) for one, other in pairs for net, pole in ((one, other), (other, one)) if pole in poles}
    result = {}
    for nets in nx.connected_components(graph):
        names = frozenset(name for net in nets for name in terminals[net])
        result[names] = frozenset(pole for net, pole in fed if net in nets)
    bridges = {frozenset(pair) for pair in pairs if {*pair} <= poles and len({*pair}) > 1}
    return Nets(result, bridges)


@pytest.mark.parametrize("name", LAYOUTS)
def test_the_nets_written_are_the_nets_checked(name):
    circuit = circuit_of(LAYOUTS[name])
    assert nets_written(read(kicad_netlist(circuit))) == nets_checked(circuit)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_the_nets_of_an_example(path):
    circuit = build(netlister.read_file(str(path)))
    assert nets_written(read(kicad_netlist(circuit))) == nets_checked(circuit)


@pytest.mark.parametrize("seeds", [range(first, first + 20) for first in range(0, SEEDS, 20)], ids=str)
def test_the_nets_of_random_layouts(seeds):
    for seed in seeds:
        text = dump(random_layout(Random(seed)))
        circuit = circuit_of(text)
        netlist = read(kicad_netlist(circuit))
        assert nets_written(netlist) == nets_checked(circuit), (seed, text)
        assert conductors_written(netlist) == conductors_checked(circuit), (seed, text)


def test_the_layouts_compared_have_every_kind_of_part():
    seen = {part.kind for part in parts(circuit_of(GEAR))}
    for seed in range(80):
        seen |= {part.kind for part in parts(circuit_of(dump(random_layout(Random(seed)))))}
    assert seen >= {
        *("supply", "bus", "metal joiner", "insulated joiner", "feed", "lead", "wire", "contact", "plug pin"),
        *("automatic reverser", "following reverser", "frog unit", "breaker", "fuse", "diode", "detector", "lamp"),
        *("resistor", "rail-section", "live-frog", "insulated-frog", "three-way-live", "double-slip-live"),
    }


def test_a_missing_joiner_is_noticed():
    circuit = circuit_of(SIDING)
    netlist = read(kicad_netlist(circuit))
    (joiner,) = named(netlist, "J9", "metal joiner")
    del netlist.components[joiner]
    for pins in netlist.nets.values():
        pins[:] = [pin for pin in pins if pin[0] != joiner]
    assert nets_written(netlist) != nets_checked(circuit)


# ---- what conducts sometimes


def conductors_checked(circuit: Circuit) -> Counter[tuple[frozenset[str], str]]:
    """What conducts sometimes: between which terminals and when."""
    found: Counter[tuple[frozenset[str], str]] = Counter()
    for c in circuit.conductors:
        if c.when:
            when = " and ".join(
                f"{circuit.variables[v].name}={'|'.join(circuit.variables[v].positions[i] for i in values)}"
                for v, values in c.when
            )
            found[frozenset((circuit.names[c.a], circuit.names[c.b])), when] += 1
    return found


def conductors_written(netlist: Read) -> Counter[tuple[frozenset[str], str]]:
    """The same from the fields of the netlist."""
    found: Counter[tuple[frozenset[str], str]] = Counter()
    on = {pin: net for net, pins in netlist.nets.items() for pin in pins}
    circuit_names = terminals_of_plugs(netlist)
    for reference, component in netlist.components.items():
        for entry in component.fields.get("Conducts", "").split("; "):
            pins, sign, when = entry.partition(" while ")
            if sign:
                ends = [
                    circuit_names.get((reference, pin)) or terminal(component, pin) or on[reference, pin]
                    for pin in pins.split(" to ")
                ]
                found[frozenset(ends), when] += 1
    return found


def terminals_of_plugs(netlist: Read) -> dict[tuple[str, str], str]:
    """The terminals that the pins of plugs are wired to, as their tags tell."""
    found = {}
    for reference, component in netlist.components.items():
        if component.kind == "plug pin":
            tag = component.fields["SKiDL Tag"].removeprefix(f"plug pin {component.fields['Name']} ")
            found[reference, "1"], found[reference, "2"] = tag.split()[:2]
    return found


def test_contacts_say_when_they_conduct():
    netlist = read(kicad_netlist(circuit_of(GEAR)))
    says = {c.fields.get("Name"): c.fields.get("Conducts", "") for c in netlist.components.values() if c.kind != "lead"}
    assert says["S1.rail"] == "common to one while S1=one; common to off while S1=off; common to two while S1=two"
    assert says["K1.bay"] == "common to rest while T1=through; common to pulled while T1=diverging"
    assert says["P1.1"] == "1 to 2 while P1=in"
    assert says["P2.1"] == "always"
    assert says["R1"] == says["U1"] == "as the device chooses"
    assert says["R2"].startswith("A to in-A while M2=left; B to in-B while M2=left; A to in-B while M2=right")
    assert says["T1"] == "closure-right to stock-right while T1=diverging; closure-left to stock-left while T1=through"


# ---- parts and their names


def test_parts_of_the_siding():
    netlist = read(kicad_netlist(circuit_of(SIDING)))
    kinds = Counter((r.rstrip("0123456789"), c.kind) for r, c in netlist.components.items())
    assert kinds == {
        ("G", "supply"): 1,
        ("W", "bus"): 1,
        ("L", "rail-section"): 3,
        ("Y", "live-frog"): 1,
        ("X", "metal joiner"): 4,
        ("U", "insulated joiner"): 2,
        ("W", "feed"): 6,
        ("Q", "contact"): 1,
        ("M", "machine"): 1,
    }
    (turnout,) = named(netlist, "T1")
    assert netlist.components[turnout].value == "live-frog right"
    assert netlist.components[turnout].fields["Place"] == "layout.yaml:11:3"
    assert set(netlist.nets["T1.frog"]) >= {(turnout, "frog"), ("Q1", "common")}
    assert set(netlist.nets["T1.stock-right"]) >= {(turnout, "stock-right"), ("Q1", "through")}
    assert {(r, p) for r, p in netlist.nets["main.A"] if r in {"G1", "W1"}} == {("G1", "A"), ("W1", "A")}
    feeds = [netlist.components[r] for r in named(netlist, "east-feed")]
    assert [f.value for f in feeds] == ["0.5 mm2"] * 2
    assert {"Tap": "2 m", "At": "0.45 m", "Length": "0.25 m"}.items() <= feeds[0].fields.items()
    assert netlist.components[named(netlist, "east")[0]].fields["Board"] == "end"
    assert netlist.components["Q1"].fields["Board"] == "end"
    assert netlist.components["W1"].fields["Colour A"] == "BN"
    assert only(netlist.tree, "design", "sheet", "title_block", "title") == 'A "short" siding'
    assert only(netlist.tree, "design", "source") == "layout.yaml"


def test_letters_and_values_of_gear():
    netlist = read(kicad_netlist(circuit_of(GEAR)))
    letters = {c.fields.get("Name"): r[0] for r, c in netlist.components.items() if c.kind != "lead"}
    expected = {"S1.rail": "S", "K1.bay": "K", "M2.frog": "Q", "R1": "Q", "R2": "Q", "U1": "Q", "F1": "F", "D1": "R"}
    assert {name: letters[name] for name in expected} == expected
    (breaker,) = named(netlist, "F1")
    assert netlist.components[breaker].value == "breaker"
    assert netlist.components[breaker].fields["Rating"] == "2 A"
    (resistor,) = named(netlist, "Z1")
    assert {"Rating": "2 W", "Resistance": "1000 ohm"}.items() <= netlist.components[resistor].fields.items()
    (wire,) = named(netlist, "w1")
    assert netlist.components[wire].value == "0.5 mm2"
    assert netlist.components[wire].fields["Colour"] == "GN"
    assert letters["P1.1"] == "X"


def test_an_insulated_joiner_parts_two_nets_and_a_metal_one_lies_between_two_as_well():
    netlist = read(kicad_netlist(circuit_of(SIDING)))
    insulated = [r for r in netlist.components if r.startswith("U")]
    assert {(net_of(netlist, r, "1"), net_of(netlist, r, "2")) for r in insulated} == {
        ("T1.frog", "east.right"),
        ("T1.frog", "siding.left"),
    }
    assert net_of(netlist, "X1", "1") == "west.left"
    assert net_of(netlist, "X1", "2") == "T1.stock-left"


def test_poles_that_a_common_return_ties_are_one_net():
    netlist = read(kicad_netlist(circuit_of(GEAR)))
    (one,), (two,) = named(netlist, "cab1"), named(netlist, "cab2")
    assert net_of(netlist, one, "B") == net_of(netlist, two, "B") == "cab1.B"
    assert net_of(netlist, two, "A") == "cab2.A"
    assert netlist.components[two].fields["Common"] == "cab1.B"


def test_bonded_rails_are_one_net():
    netlist = read(kicad_netlist(circuit_of(GEAR)))
    (turnout,) = named(netlist, "T1")
    assert net_of(netlist, turnout, "closure-left") == net_of(netlist, turnout, "stock-left") == "T1.closure-left"
    assert net_of(netlist, turnout, "closure-right") == net_of(netlist, turnout, "stock-right")


def test_poles_are_tapped_by_parts_with_two_pins_and_by_gear_alone():
    netlist = read(kicad_netlist(circuit_of(GEAR)))
    for pole in poles_of(netlist):
        for reference, _ in netlist.nets[pole]:
            component = netlist.components[reference]
            assert component.library != "track"
            assert component.kind != "contact"
    assert {c.fields["Name"] for c in netlist.components.values() if c.kind == "lead"} == {"S1.rail", "K1.bay"}


def test_every_pin_lies_on_one_net():
    for text in LAYOUTS.values():
        circuit = circuit_of(text)
        netlist = read(kicad_netlist(circuit))
        pins = Counter(pin for pins in netlist.nets.values() for pin in pins)
        assert set(pins.values()) == {1}
        assert set(pins) == {(part.reference, pin) for part in parts(circuit) for pin, _ in part.pins}


def test_tags_do_not_depend_on_what_else_there_is():
    before = {c.fields["SKiDL Tag"] for c in read(kicad_netlist(circuit_of(SIDING))).components.values()}
    grown = SIDING.replace("track:\n", "track:\n  spur: {length: 1 m}\n")
    after = {c.fields["SKiDL Tag"] for c in read(kicad_netlist(circuit_of(grown))).components.values()}
    assert after - before == {"track spur"}
    assert not before - after


def test_parts_alike_have_different_tags():
    twice = SIDING.replace("  - {to: [west,", "  - {to: west, A: left}\n  - {to: [west,")
    tags = [part.tag for part in parts(circuit_of(twice))]
    assert len(set(tags)) == len(tags)


# ---- odd names


def test_odd_names_come_back_as_they_were():
    circuit = circuit_of(NAMES)
    netlist = read(kicad_netlist(circuit))
    layout = circuit.layout
    names = {c.fields.get("Name") for c in netlist.components.values()}
    assert names >= {*layout.supplies, *layout.pieces, 'S (1).c"', '(joint "1" \\'}
    assert "on.A" in netlist.nets
    assert {*circuit.names} - {*netlist.nets} == {'S (1).c".common', *(f'S (1).c".{p}' for p in PARALLEL), *THROWN}
    assert '"w' in names


PARALLEL = ("on", "ON", "01", "1")
THROWN = ('S (1).c".footprint', 'S (1).c"."')


def test_pins_that_differ_little_are_kept_apart():
    netlist = read(kicad_netlist(circuit_of(NAMES)))
    (contact,) = named(netlist, 'S (1).c"')
    assert {pin for reference, pin in netlist.nets["a\\b.left"] if reference == contact} == {*PARALLEL}
    assert net_of(netlist, contact, "footprint") == "__NOCONNECT"
    assert only(next(below(netlist.tree, "components", "comp")), "footprint") == ""


def test_line_ends_and_tabs_in_texts():
    layout = netlister.read_text(SIDING)
    layout.title = "one\ntwo\tthree\r\\n"
    netlist = read(kicad_netlist(build(layout)))
    assert only(netlist.tree, "design", "sheet", "title_block", "title") == layout.title


# ---- a second reader


def unescaped(text: str) -> str:
    """The other reader leaves the escapes of a string as they are."""
    return sexpdata.loads(f'"{text}"')


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.parametrize("name", LAYOUTS)
def test_a_second_reader_finds_the_same(name):
    text = kicad_netlist(circuit_of(LAYOUTS[name]))
    netlist = read(text)
    other = kinparse.parse_netlist(text)
    assert {unescaped(n.name): [(p.ref, unescaped(p.num)) for p in n.pins] for n in other.nets} == netlist.nets
    assert {p.ref: unescaped(p.value) for p in other.parts} == {r: c.value for r, c in netlist.components.items()}
    assert {p.ref: (unescaped(p.lib), unescaped(p.name)) for p in other.parts} == {
        r: (c.library, c.kind) for r, c in netlist.components.items()
    }


# ---- the same bytes, and nothing left behind


def run(arguments: Iterable[str], folder: Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    kept = {key: os.environ[key] for key in ("PATH", "SYSTEMROOT") if key in os.environ}
    return subprocess.run(
        [sys.executable, "-m", "netlister", "netlist", *arguments],
        cwd=folder,
        env={
            **kept,
            "PYTHONPATH": str(ROOT),
            "PYTHONDONTWRITEBYTECODE": "1",
            "HOME": str(folder.parent),
            **environment,
        },
        capture_output=True,
        check=False,
    )


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_the_same_input_gives_the_same_bytes():
    first, again = (kicad_netlist(circuit_of(GEAR)) for _ in range(2))
    assert first == again


def test_the_same_bytes_in_another_process_folder_and_order_of_sets(tmp_path):
    outputs = set()
    for number in ("1", "2"):
        folder = tmp_path / f"folder{number}" / "work"
        folder.mkdir(parents=True)
        (folder / "layout.yaml").write_text(GEAR, encoding="utf-8")
        path = "layout.yaml" if number == "1" else str(folder / "layout.yaml")
        done = run([path], folder, PYTHONHASHSEED=number, TZ=f"UTC+{number}")
        assert (done.returncode, done.stderr) == (0, b"")
        outputs.add(done.stdout)
    assert outputs == {kicad_netlist(circuit_of(GEAR)).encode()}
    (output,) = outputs
    assert str(tmp_path).encode() not in output
    assert b"3.0" not in output
    assert b".py" not in output


def test_nothing_is_left_behind_and_nothing_said(tmp_path):
    folder = tmp_path / "work"
    folder.mkdir()
    (folder / "layout.yaml").write_text(SIDING, encoding="utf-8")
    done = run(["layout.yaml"], folder)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b"(export")
    assert names_in(folder) == ["layout.yaml"]
    assert done.stdout.decode() == kicad_netlist(circuit_of(SIDING))


def test_loggers_folder_and_warnings_stay_as_they_were(recwarn, monkeypatch, tmp_path, capfd):
    monkeypatch.chdir(tmp_path)
    logger_class, level = logging.getLoggerClass(), logging.root.manager.disable
    kicad_netlist(circuit_of(SIDING))
    assert logging.getLoggerClass() is logger_class
    assert logging.root.manager.disable == level
    assert Path.cwd() == tmp_path
    assert not list(tmp_path.iterdir())
    assert capfd.readouterr() == ("", "")
    assert not recwarn.list


def test_skidl_that_is_there_already_is_left_as_it_was(tmp_path):
    script = (
        "import logging, os, sys, skidl\n"
        "handlers = list(skidl.logger.rt_logger.handlers)\n"
        "net = skidl.Net('mine')\n"
        "import netlister\n"
        "from netlister.circuit.build import build\n"
        "from netlister.skidl.netlist import kicad_netlist\n"
        "handler = skidl.empty_footprint_handler\n"
        "kicad_netlist(build(netlister.read_text(sys.argv[1])))\n"
        "assert skidl.logger.rt_logger.handlers == handlers\n"
        "assert len(handlers) == 2\n"
        "assert skidl.empty_footprint_handler is handler\n"
        "assert default_circuit.nets[-1] is net and net.circuit is default_circuit\n"
    )
    subprocess.run(
        [sys.executable, "-c", script, SIDING],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=True,
    )


# ---- the command


@pytest.fixture
def work(tmp_path):
    folder = tmp_path / "work"
    folder.mkdir()
    (folder / "layout.yaml").write_text(SIDING, encoding="utf-8")
    return folder


def test_command_writes_a_file_whole(work):
    done = run(["layout.yaml", "-o", "siding.net"], work)
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    assert names_in(work) == ["layout.yaml", "siding.net"]
    assert (work / "siding.net").read_bytes() == run(["layout.yaml"], work).stdout
    assert not (work / "siding.net").stat().st_mode & 0o111


def test_command_replaces_a_file_and_keeps_its_mode(work):
    old = work / "siding.net"
    old.write_text("old")
    old.chmod(0o640)
    run(["layout.yaml", "--output", "siding.net"], work)
    assert old.read_text(encoding="utf-8").startswith("(export")
    assert old.stat().st_mode & 0o777 == 0o640


def test_command_writes_through_a_link(work):
    (work / "far.net").write_text("old")
    (work / "near.net").symlink_to("far.net")
    run(["layout.yaml", "-o", "near.net"], work)
    assert (work / "near.net").is_symlink()
    assert (work / "far.net").read_text(encoding="utf-8").startswith("(export")


@pytest.mark.skipif(not Path("/dev/stdout").exists(), reason="this system has no /dev/stdout")
def test_command_writes_to_a_device(work):
    done = run(["layout.yaml", "-o", "/dev/stdout"], work)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == run(["layout.yaml"], work).stdout


def test_command_reads_standard_input(work):
    done = subprocess.run(
        [sys.executable, "-m", "netlister", "netlist", "-"],
        cwd=work,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        input=SIDING.encode(),
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == run(["layout.yaml"], work).stdout.replace(b'"layout.yaml', b'"<stdin>')


def test_command_does_not_write_over_the_layout(work):
    done = run(["layout.yaml", "-o", "./layout.yaml"], work)
    assert done.returncode == 2
    assert b"is the layout itself" in done.stderr
    assert (work / "layout.yaml").read_text(encoding="utf-8") == SIDING


def test_command_says_why_a_file_cannot_be_written(work):
    for path, why in (("no/such/folder.net", b"No such file or directory"), (".", b"Is a directory")):
        done = run(["layout.yaml", "-o", path], work)
        assert done.returncode == 1
        assert f"'{path}' cannot be written: ".encode() + why in done.stderr
        assert names_in(work) == ["layout.yaml"]


def test_command_leaves_the_old_file_where_the_layout_cannot_be_used(work):
    (work / "bad.yaml").write_text("format: netlister/1\ntrack: {a: {length: 1}}\n")
    (work / "old.net").write_text("old")
    done = run(["bad.yaml", "-o", "old.net"], work)
    assert done.returncode == 2
    assert b"bad.yaml:2:" in done.stdout
    assert (work / "old.net").read_text() == "old"


TOLD_GEAR = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}, lights: {accessory: true, voltage: 12 V}}
buses: {west: {supply: main, breaker: 3 A}}
track: {a: {length: 1 m}, T1: {kind: live-frog, hand: left}}
machines: {M1: {throws: [T1], type: stall, contacts: {f: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}}
components: {L1: {kind: load, from: lights.A, to: lights.B, rating: 20 mA}}
feeds: [{to: a}]
"""


def test_how_gear_is_built_is_in_the_fields_and_a_load_joins_nothing():
    from netlister.circuit.build import build
    from netlister.layout.read import read_layout
    from netlister.outputs.netlist_parts import parts
    from netlister.source import Source

    found = {part.tag: part for part in parts(build(read_layout(Source("gear.yaml", TOLD_GEAR))))}
    assert dict(found["contact M1.f"].fields)["Type"] == "stall"
    assert dict(found["bus west"].fields)["Breaker"] == "3 A"
    load = found["load L1 lights.A lights.B"]
    assert dict(load.fields)["Conducts"] == "never"
    assert {net for _, net in load.pins} == {"lights.A", "lights.B"}

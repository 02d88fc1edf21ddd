"""The library of symbols: as the generator writes it, and as libraries read it that know nothing of us."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest
import sexpdata
from click.testing import CliRunner
from kiutils.symbol import SymbolLib

import netlister
from netlister.circuit.build import build
from netlister.cli.main import group
from netlister.kinds import library
from netlister.layout.devices import DEVICES
from netlister.netlists.drawing import key_of
from netlister.outputs.netlist_parts import parts
from netlister.outputs.symbols import contact_positions, piece_kind, symbol_library
from tests.unit.outputs.test_netlist import GEAR, SIDING

ROOT = Path(__file__).parents[3]
FILE = ROOT / "parts" / "netlister.kicad_sym"
GRID = 2.54


@pytest.fixture(scope="module")
def read():
    """The symbols of the file by name, as kiutils reads them."""
    return {symbol.entryName: symbol for symbol in SymbolLib.from_file(str(FILE)).symbols}


def pins_of(symbol):
    return [pin for unit in symbol.units for pin in unit.pins]


def test_the_file_is_what_the_generator_writes():
    assert FILE.read_bytes().decode() == symbol_library(library())


def test_the_command_writes_it(tmp_path):
    path = tmp_path / "mine.kicad_sym"
    done = CliRunner().invoke(group, ["symbols", "-o", str(path)])
    assert done.exit_code == 0, done.output
    assert path.read_bytes() == FILE.read_bytes()


def test_kinds_of_ones_own_get_symbols():
    kinds = ROOT / "examples" / "second-hand" / "kinds" / "half-linked.yaml"
    done = CliRunner().invoke(group, ["symbols", "--use", str(kinds)])
    assert '(symbol "half-linked"' in done.output
    assert CliRunner().invoke(group, ["symbols", "--use", "none.yaml"]).exit_code == 2


def test_every_kind_has_a_symbol_with_its_rails(read):
    kinds = library()
    assert len(kinds.names()) >= 31
    for name in kinds.names():
        pins = pins_of(read[name])
        assert sorted(pin.name for pin in pins) == sorted(piece_kind(kinds, name).rails)
        assert all(pin.name == pin.number for pin in pins)


def test_hands_and_options_change_no_pins_but_for_counts():
    kinds = library()
    for name in kinds.names():
        takes = kinds.takes(name)
        for hand in takes.hands or ("",):
            for option, values in takes.options.items():
                if takes.number is not None and option == takes.number.option:
                    continue
                for value in values:
                    try:
                        kind = kinds.kind(name, hand, ((option, value),))
                    except netlister.kinds.KindError:  # not for this hand
                        continue
                    assert kind.rails == piece_kind(kinds, name).rails


def test_every_other_part_has_a_symbol_with_its_pins(read):
    for name, pins in ((d.name, d.pins) for d in DEVICES.values()):
        assert [pin.number for pin in pins_of(read[name])] == list(pins)
    for name, positions in contact_positions(library()).items():
        assert [pin.number for pin in pins_of(read[name])] == ["common", *positions]


def test_the_netlist_that_is_written_has_these_parts_pins_and_letters(read):
    seen = set()
    for text in (SIDING, GEAR):
        for part in parts(build(netlister.read_text(text))):
            name = key_of(part.kind)
            seen.add(name)
            assert name in read, name
            letter = part.reference.rstrip("0123456789")
            if name == "contact":
                assert letter in {"Q", "K", "S"}
                continue
            properties = {p.key: p.value for p in read[name].properties}
            assert properties["Reference"] == letter or (name, letter) == ("switch", "K")
            assert [pin for pin, _ in part.pins] == [p.number for p in pins_of(read[name])]
    assert seen >= {"supply", "bus", "feed", "terminal", "machine", "switch", "frog-unit", "live-frog", "plug-pin"}


def test_every_pin_is_on_the_grid_and_alone(read):
    for name, symbol in read.items():
        places = [(pin.position.X, pin.position.Y) for pin in pins_of(symbol)]
        assert len(set(places)) == len(places), name
        for x, y in places:
            assert abs(x / GRID - round(x / GRID)) < 1e-6, name
            assert abs(y / GRID - round(y / GRID)) < 1e-6, name


def test_every_pin_points_into_its_symbol(read):
    for name, symbol in read.items():
        for pin in pins_of(symbol):
            assert (pin.position.angle == 0) == (pin.position.X < 0), name
            assert pin.length >= GRID, name


def test_a_second_reader_finds_the_same(read):
    tree = sexpdata.loads(FILE.read_text(encoding="utf-8"))
    assert tree[0] == sexpdata.Symbol("kicad_symbol_lib")
    names = [item[1] for item in tree[1:] if isinstance(item, list) and item[0] == sexpdata.Symbol("symbol")]
    assert names == list(read)
    assert len(set(names)) == len(names)


def test_a_fuse_is_a_box_with_its_wire_through_it_and_a_resistor_a_box_between_wires(read):
    """IEC 60617 S00362 and S00555, from memory."""
    for name, through in (("fuse", True), ("resistor", False)):
        lines = [[(p.X, p.Y) for p in g.points] for u in read[name].units for g in u.graphicItems]
        boxes = [line for line in lines if len(line) == 5 and line[0] == line[-1]]
        assert len(boxes) == 1
        middle = [line for line in lines if line not in boxes and line[0][0] * line[-1][0] < 0]
        assert bool(middle) == through


def test_library_and_schematic_have_one_shape_for_each_part(read):
    """The drawing of a part in a schematic is that of the library, but for where it stands about its middle."""
    from netlister.outputs.schematic.kicad import kicad_schematic

    text = kicad_schematic(build(netlister.read_text(SIDING)), "out")["out.kicad_sch"]
    tree = sexpdata.loads(text)
    (known,) = [item for item in tree if isinstance(item, list) and item[0] == sexpdata.Symbol("lib_symbols")]
    seen = set()
    for symbol in known[1:]:
        library_name, _, name = symbol[1].partition(":")
        if library_name != "netlister" or "_" in name or name not in read or name == "supply":
            continue
        kinds = [type(g).__name__ for u in read[name].units for g in u.graphicItems]
        drawn = [i[0].value() for unit in symbol[2:] if unit[0] == sexpdata.Symbol("symbol") for i in unit[2:]]
        shapes = [one for one in drawn if one != "pin"]
        assert len(shapes) == len(kinds), name
        seen.add(name)
    assert {"insulated-joiner", "metal-joiner", "feed", "contact"} <= seen


def test_an_insulated_joiner_does_not_look_like_a_capacitor(read):
    def lines(name):
        return [[(p.X, p.Y) for p in g.points] for u in read[name].units for g in u.graphicItems]

    plates = [line for line in lines("capacitor") if len(line) == 2 and line[0][0] == line[1][0]]
    assert len(plates) == 2
    assert not [line for line in lines("insulated-joiner") if len(line) == 2 and line[0][0] == line[1][0]]


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # it leaves the file open
def test_skidl_reads_the_file_and_wires_its_symbols(tmp_path, monkeypatch):
    from netlister.skidl import check, circuit
    from netlister.skidl.quiet import quiet, skidl_module

    monkeypatch.chdir(tmp_path)
    skidl = skidl_module()
    design = circuit()
    with quiet(skidl):
        lib = skidl.SchLib(str(FILE), tool=skidl.KICAD8, use_pickle=False)  # read, not what an earlier run kept
        supply = skidl.Part(lib, "supply", circuit=design, ref="G1", tool=skidl.KICAD8)
        line = skidl.Part(lib, "rail-section", circuit=design, ref="L1", tool=skidl.KICAD8)
        supply["A"] += line["left"]
    gc.collect()  # close that file here, not while another test runs
    assert {f.rule for f in check(design).findings} >= {"floating-net"}

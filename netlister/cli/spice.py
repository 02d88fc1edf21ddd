"""`netlister spice`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from netlister.circuit.numbers import Var
from netlister.cli.common import LAYOUT, not_the_layout, open_layout, write_file
from netlister.cli.drop import AMPS, WARMTH, current
from netlister.cli.positions import SET, circuit_of, positions_given, state_of
from netlister.layout.model import Value
from netlister.lengths import NO_LENGTH, Metres, in_mm
from netlister.source import suggest

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit, State
    from netlister.outputs.deck.ask import TrainPlace
    from netlister.outputs.deck.timing import Throw, Timing
    from netlister.quantity import Dimension


@click.command("spice")
@LAYOUT
@SET
@click.option("--train", "trains", multiple=True, metavar="NAME@PIECE:PLACE", help="A train standing at a place.")
@click.option("--move", metavar="NAME@PIECE,PIECE…", help="A train that moves over pieces, step by step.")
@click.option(
    "--steps", type=click.IntRange(2, 1000), default=10, show_default=True, help="With --move: on each piece."
)
@AMPS
@click.option("--probe", "probes", multiple=True, metavar="TERMINAL", help="A voltage to print: T1.frog.")
@click.option(
    "--throw", "throws", multiple=True, metavar="MACHINE@TIME", help="Throw a machine: M1@50 ms, M1=diverging@50 ms."
)
@click.option("--travel", default="200 ms", show_default=True, metavar="TIME", help="How long a throw takes.")
@click.option(
    "--shift", "shifts", multiple=True, metavar="NAME=TIME", help="A contact or blades out of step: M1.frog=-80 ms."
)
@click.option("--until", metavar="TIME", help="With --throw: when to stop; a travel after the last throw if left out.")
@click.option("--diodes", is_flag=True, help="Diodes that conduct one way; else both ways, as in the checks.")
@click.option("--lowest", is_flag=True, help="The lowest resistances of the sources; else the highest.")
@click.option("--ideal", is_flag=True, help="Supplies without their own resistance.")
@WARMTH
@click.option("--output", "-o", metavar="FILE", default="-", help="Where to write it; standard output if left out.")
def command(
    layout: str,
    settings: tuple[str, ...],
    trains: tuple[str, ...],
    move: str | None,
    steps: int,
    amps: str | None,
    probes: tuple[str, ...],
    throws: tuple[str, ...],
    travel: str,
    shifts: tuple[str, ...],
    until: str | None,
    diodes: bool,
    lowest: bool,
    ideal: bool,
    temperature: float,
    output: str,
) -> None:
    """Write LAYOUT in one state as a deck for a circuit simulator, to be run by `ngspice -b deck.cir`.

    It prints the voltages of the probes and of the trains, and the current of each supply. PLACE is a length from the
    entering end of a piece (its middle if left out); a route through it is named as in `T1.diverging:40 mm`. A train is
    one of the layout's, or any name with --amps. With --throw contacts and blades are switches that open and close as
    time goes by, so that a short while they move is seen as a pulse of current.
    """
    from netlister.outputs.deck.ask import Ask, DeckError
    from netlister.outputs.deck.write import deck

    _, read = open_layout(layout)
    not_the_layout(layout, output, "-o deck.cir")
    circuit = circuit_of(read)
    if throws and move:
        raise click.UsageError("--throw and --move do not go together; write a deck for each")
    if not throws and (shifts or until):
        raise click.UsageError("--shift and --until say how a throw goes; name one with --throw")
    asked = dict(positions_given(settings))
    devices = _devices(circuit, asked)
    state = state_of(circuit, asked)
    drawn = current(amps)
    timing = _timing(circuit, travel, shifts)
    thrown = _throws(circuit, state, throws, timing)
    stop = 0.0
    if thrown:
        late = max([0.0, *timing.shifts.values()])
        stop = _quantity(until, "TIME", "--until") if until else max(t.at for t in thrown) + 2 * timing.travel + late
        if stop <= 0:
            raise click.BadParameter("there is nothing to see before 0 s", param_hint="--until")
    ask = Ask(
        state,
        devices,
        tuple(_train(circuit, state, text, drawn) for text in trains),
        tuple(_steps(circuit, state, move, drawn, steps)) if move else (),
        probes,
        thrown,
        timing,
        stop,
        not lowest,
        ideal,
        diodes,
        temperature,
    )
    try:
        text = deck(circuit, ask)
    except DeckError as error:
        if error.option:
            raise click.BadParameter(str(error), param_hint=error.option) from None
        raise click.ClickException(str(error)) from None
    write_file(output, text)


def _quantity(text: str, what: str, option: str) -> float:
    from netlister import quantity

    dimension: Dimension = getattr(quantity, what)
    try:
        return quantity.parse(text.strip().removeprefix("-"), dimension) * (-1 if text.strip().startswith("-") else 1)
    except quantity.QuantityError as error:
        raise click.BadParameter(str(error), param_hint=option) from None


def _devices(circuit: Circuit, asked: dict[str, str]) -> tuple[Value, ...]:
    """Where automatic devices stand; what is said of them is taken out of `asked`."""
    found = []
    for device in circuit.devices:
        positions = ("straight", "crossed") if device.kind == "reverser" else ("A", "B")
        position = asked.pop(device.name, positions[0])
        if position not in positions:
            message = f"'{device.name}' has no position '{position}'; it has '{positions[0]}', '{positions[1]}'"
            raise click.BadParameter(message, param_hint="--set")
        found.append(Value(positions.index(position)))
    return tuple(found)


def _timing(circuit: Circuit, travel: str, shifts: tuple[str, ...]) -> Timing:
    from netlister.outputs.deck.timing import Timing

    layout = circuit.layout
    known = [c.full for c in layout.contacts] + list(layout.bars)
    known += [name for r in layout.reversers.values() if not r.automatic for name in (r.name, *r.outputs)]
    found = {}
    for text in shifts:
        name, sign, time = text.rpartition("=")
        if not sign:
            message = f"'{text}' has no '='; write NAME=TIME, as in --shift M1.frog=-80ms"
            raise click.BadParameter(message, param_hint="--shift")
        if name not in known:
            message = f"nothing that moves is called '{name}'{suggest(name, known)}; name a contact or a tie bar"
            raise click.BadParameter(message, param_hint="--shift")
        found[name] = _quantity(time, "TIME", "--shift")
    whole = _quantity(travel, "TIME", "--travel")
    if whole <= 0:
        raise click.BadParameter("a throw takes some time; write it as in --travel '200 ms'", param_hint="--travel")
    return Timing(whole, found)


def _throws(circuit: Circuit, state: State, texts: tuple[str, ...], timing: Timing) -> tuple[Throw, ...]:
    """The throws in the order of time, each variable from where the one before left it."""
    from netlister.outputs.deck.timing import Throw

    wanted = []
    for text in texts:
        what, sign, time = text.rpartition("@")
        if not sign:
            message = f"'{text}' has no '@'; write MACHINE@TIME, as in --throw 'M1@50 ms'"
            raise click.BadParameter(message, param_hint="--throw")
        wanted.append((_quantity(time, "TIME", "--throw"), what))
    earliest = min([0.0, *timing.shifts.values()])
    now = {Var(number): value for number, value in enumerate(state)}
    last: dict[Var, float] = {}
    found = []
    for at, what in sorted(wanted, key=lambda w: w[0]):
        variable, new = _thrown(circuit, now, what)
        if at + earliest < 0:
            message = f"'{what}' would begin to move before 0 s; throw it at {-earliest:g} s or later"
            raise click.BadParameter(message, param_hint="--throw")
        if variable in last and at < last[variable] + timing.travel:
            message = f"'{what}' is thrown again before its throw has ended; wait {timing.travel:g} s"
            raise click.BadParameter(message, param_hint="--throw")
        found.append(Throw(variable, now[variable], new, at))
        now[variable], last[variable] = new, at
    return tuple(found)


def _thrown(circuit: Circuit, now: dict[Var, Value], what: str) -> tuple[Var, Value]:
    """The variable that a throw names, and the value that it goes to."""
    bars = circuit.layout.bars
    if what in circuit.variable or what in bars:
        variable = circuit.variable[what if what in circuit.variable else bars[what].variable]
        count = len(circuit.variables[variable].positions)
        if count > 2:  # noqa: PLR2004
            names = ", ".join(f"'{n}'" for n in circuit.variables[variable].positions)
            message = f"'{what}' has more than two positions; write --throw '{what}=POSITION@TIME' with one of {names}"
            raise click.BadParameter(message, param_hint="--throw")
        return variable, Value(1 - now[variable])
    name, sign, position = what.rpartition("=")
    state = state_of(circuit, {name if sign else what: position}, "--throw")
    variable = circuit.variable[name if name in circuit.variable else bars[name].variable]
    if state[variable] == now[variable]:
        message = f"'{name}' stands at '{position}' already; throw it to another position"
        raise click.BadParameter(message, param_hint="--throw")
    return variable, state[variable]


def _amps(circuit: Circuit, name: str, drawn: float | None, option: str) -> float:
    train = circuit.layout.trains.get(name)
    amps = drawn if drawn is not None else train.current if train else None
    if amps is None:
        hint = "" if train else suggest(name, list(circuit.layout.trains))
        message = f"'{name}' has no current in the layout{hint or ';'} say it with --amps, as in --amps '1 A'"
        raise click.BadParameter(message, param_hint=option)
    return amps


def _split_at(circuit: Circuit, text: str, option: str) -> tuple[str, str]:
    """A train and its place: the first `@` behind which a piece is named."""
    pieces = circuit.layout.pieces
    for n, c in enumerate(text):
        if c == "@" and any(_named(text[n + 1 :], piece) for piece in pieces):
            return text[:n], text[n + 1 :]
    name, sign, where = text.partition("@")
    if not sign or not name or not where:
        message = f"'{text}' names no train and place; write NAME@PIECE:PLACE, as in {option} 'goods@siding:300 mm'"
        raise click.BadParameter(message, param_hint=option)
    piece = where.split(",")[0].rsplit(":", 1)[0]
    message = f"there is no piece of track '{piece}'{suggest(piece, list(pieces))}"
    raise click.BadParameter(message, param_hint=option)


def _named(text: str, piece: str) -> bool:
    return text == piece or (text.startswith(piece) and text[len(piece)] in ".:,")


def _train(circuit: Circuit, state: State, text: str, drawn: float | None) -> TrainPlace:
    from netlister.outputs.deck.ask import TrainPlace

    name, where = _split_at(circuit, text, "--train")
    amps = _amps(circuit, name, drawn, "--train")
    pieces = circuit.layout.pieces
    piece = max((p for p in pieces if _named(where, p)), key=len)
    rest = where[len(piece) :]
    route, sign, place = rest.partition(":")
    chosen, length = _route(circuit, state, piece, route.removeprefix("."), "--train")
    at = Metres(_quantity(place, "LENGTH", "--train") if sign else length / 2)
    if not 0 <= at <= length:
        message = f"'{piece}' has no place {place.strip()}; it is {in_mm(length):g} mm long"
        raise click.BadParameter(message, param_hint="--train")
    return TrainPlace(name, piece, chosen, at, amps)


def _steps(circuit: Circuit, state: State, text: str, drawn: float | None, steps: int) -> list[TrainPlace]:
    from netlister.outputs.deck.ask import TrainPlace

    name, where = _split_at(circuit, text, "--move")
    amps = _amps(circuit, name, drawn, "--move")
    pieces = circuit.layout.pieces
    found = []
    passed = []
    for one in where.split(","):
        piece, _, route = one.strip().partition(".")
        if piece not in pieces:
            message = f"there is no piece of track '{piece}'{suggest(piece, list(pieces))}"
            raise click.BadParameter(message, param_hint="--move")
        passed.append((piece, *_route(circuit, state, piece, route, "--move")))
    turned = _turned(circuit, [piece for piece, *_ in passed])
    for piece, chosen, length in passed:
        places = [Metres(length * n / (steps - 1)) for n in range(steps)] if length else [NO_LENGTH]
        if turned.get(piece):
            places.reverse()
        found += [TrainPlace(name, piece, chosen, at, amps) for at in places]
    return found


def _turned(circuit: Circuit, pieces: list[str]) -> dict[str, bool]:
    from netlister.outputs.volts_picture import turned_by_joints

    return turned_by_joints(circuit.layout, pieces)


def _route(circuit: Circuit, state: State, piece: str, name: str, option: str) -> tuple[str, Metres]:
    """The route through a piece: the one named, else one that is set; and its length in m."""
    from netlister.circuit.build import setting_when
    from netlister.circuit.model import holds
    from netlister.layout.stretches import stretches

    found = circuit.layout.pieces[piece]
    routes = found.kind.routes
    if not routes:
        message = f"no train runs over '{piece}', which has one end only; name another piece"
        raise click.BadParameter(message, param_hint=option)
    if name:
        chosen = next((r for r in routes if r.name == name), None)
        if chosen is None:
            listed = ", ".join(f"'{piece}.{r.name}'" for r in routes)
            message = f"'{piece}' has no route '{name}'; it has {listed}"
            raise click.BadParameter(message, param_hint=option)
    else:
        chosen = next((r for r in routes if holds(setting_when(circuit, piece, r.when), state)), None)
        if chosen is None:
            message = (
                f"no route through '{piece}' is set; set one with --set or name it, as in '{piece}.{routes[0].name}'"
            )
            raise click.BadParameter(message, param_hint=option)
    if found.kind.plain:
        return chosen.name, found.length or NO_LENGTH
    run = stretches(circuit.layout, found, chosen)
    return chosen.name, run.length if run.stated else NO_LENGTH

"""`dryfit measure`: guided readings at the terminal."""

from __future__ import annotations

import queue
import sys
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated

import typer

from qa.cli.common import ModelOption, ShopOption, open_shop
from qa.cli.hands import ENTER, End, Hands, Key, Typed, single_keys
from qa.cli.verdicts import COLOURS, MARKS

if TYPE_CHECKING:
    from drivers.reading import Reading
    from qa.bench.capture import Bench
    from qa.cli.measuring_line import Ear
    from qa.instruments import Instrument
    from qa.judge import JudgedPart
    from qa.record import BenchReading
    from qa.shop import Shop


def add_to(app: typer.Typer) -> None:
    app.command()(measure)


def measure(
    build: Annotated[str, typer.Argument(help="The build, such as OM-16; begun if it is new.")],
    part: Annotated[str, typer.Argument(help="The part, as the plan calls it.")],
    instrument: Annotated[
        str | None,
        typer.Option("--instrument", metavar="ID", help="One of shop.toml; its only one without it."),
    ] = None,
    model: ModelOption = None,
    bench: Annotated[str, typer.Option("--bench", help="Which bench, kept with each reading.")] = "",
    machine: Annotated[
        str, typer.Option("--machine", help="What cut the part, kept with each reading.")
    ] = "",
    bell: Annotated[
        bool, typer.Option("--bell/--no-bell", help="Ring the terminal's bell on a reading.")
    ] = True,
    shop: ShopOption = None,
) -> None:
    """Guide the readings of one part, station by station.

    It tells what each should be and what the last one says. Readings come from the instrument's serial line
    or are typed: 31.75, 31,75, 1 1/4, 1.250 in. A serial instrument needs no key, or Enter where it sends
    only when asked. Keys: u undo, s skip, r read the last again, a accept a doubted reading, p a pass of
    planing was made (the part's readings before it then no longer open the gate), q quit. Every reading is
    safe on the disk before the next is asked for; stop at any moment, run the same command again, and it goes
    on where it was. Measure with the machine off and the part clear of the blade.

    Example: dryfit measure OM-16 tail-block --instrument CAL-2
    """
    from qa.bench.acts import open_bench
    from qa.bench.at_bench import Chosen

    with open_shop(shop, at_bench=True) as (found, store):
        chosen = _instrument(found, instrument)
        at_bench = open_bench(found, store, Chosen(chosen.id, build, part, model or "", bench, machine))
        at_bench.next_place()
        with single_keys():
            judged = Session(at_bench, found, bell).run()
    if not judged.fit:
        raise typer.Exit(1)


def _keys() -> dict[str, str]:
    """The keys of the bench; here the part is put down by leaving."""
    from qa.bench.acts import KEYS

    return KEYS | {"q": "quit"}


def _instrument(shop: Shop, named: str | None) -> Instrument:
    from qa.instruments import TYPED

    if named:
        return shop.instrument(named)
    if len(shop.instruments) == 1:
        return next(iter(shop.instruments.values()))
    return TYPED


@dataclass(slots=True)
class Session:
    """One part at the terminal: acts and instrument events in, lines of text out."""

    bench: Bench
    shop: Shop
    bell: bool
    acts: queue.Queue[object] = field(default_factory=queue.Queue)
    hands_ended: bool = False
    skipping: str = ""
    """The place whose reason for skipping is asked for, "" for none."""
    line_gone: bool = False
    ear: Ear | None = None

    def run(self) -> JudgedPart:
        """Take readings until told to stop, and give the verdict on the part."""
        from qa.bench.speech import say_part

        hands = Hands("".join(_keys()), self.acts)
        self.ear = self._listen()
        hands.start()
        self._greet()
        self._ask()
        try:
            self._take_acts(hands)
        except KeyboardInterrupt:
            typer.echo("")
        hands.stop.set()
        if self.ear:
            self.ear.end()
        judged = self._judge()
        typer.secho(say_part(judged), bold=True)
        self._remind()
        return judged

    def _take_acts(self, hands: Hands) -> None:
        passes = self._passes()
        while True:
            act = self.acts.get()
            if isinstance(act, End):
                if self.ear is None or self.line_gone:
                    return
                self.hands_ended = True
            elif isinstance(act, Key) and act.name == "q" and not self.skipping:
                return
            else:
                self._do(act, hands)
            if self.hands_ended and self._passes() > passes:
                return

    def _passes(self) -> int:
        return self.bench.next_place().read_before

    def _listen(self) -> Ear | None:
        """Hear the instrument; None where readings are typed."""
        if not self.bench.instrument.url:
            return None
        from qa.cli.measuring_line import Ear

        ear = Ear(self.shop, self.bench.instrument, self.acts)
        gone = ear.open()
        if gone:  # its display can still be read
            self.line_gone = True
            self._say(f"{gone}; it is tried again and again: type its readings meanwhile", "yellow")
        ear.start()
        return ear

    def _do(self, act: object, hands: Hands) -> None:
        from drivers.reading import BadRecord, Reading
        from drivers.serial_line import LineState

        if isinstance(act, Reading):
            self._take(act)
        elif isinstance(act, BadRecord):
            self._say(f"not a reading: {act.why}", "yellow")
        elif isinstance(act, LineState):
            self.line_gone = act.state in ("lost", "waiting")
            if act.state != "closed":
                self._say(act.why, None if act.state == "open" else "yellow")
        elif self.skipping and isinstance(act, Typed):
            self._skip(act.text)
        elif isinstance(act, Typed):
            self._typed(act)
        elif isinstance(act, Key):
            self._key(act, hands)

    def _typed(self, typed: Typed) -> None:
        from drivers.reading import BadRecord
        from drivers.typed import read_typed
        from qa.bench.acts import as_sent

        wanted = self.bench.next_place().characteristic.unit
        reading = read_typed(typed.text, self.shop.unit if wanted == "mm" else wanted)
        if isinstance(reading, BadRecord):
            self._say(f"not a reading: {reading.why}", "yellow")
        else:
            self._take(as_sent(reading) if typed.by_instrument else reading, typed.text.strip())

    def _take(self, reading: Reading, entered: str = "") -> None:
        from qa.bench.speech import HELD, say_doubt
        from qa.errors import ShopError

        try:
            row = self.bench.take(reading, entered)
        except ShopError as error:
            self._say(str(error), "yellow")
            return
        if self.bell and sys.stdout.isatty():
            typer.echo("\a", nl=False)
        if row.note:
            self._say(row.note, "yellow")
        if row.held:
            self._say(f"? {say_doubt(row, self.shop.unit)}", "yellow", bold=True)
            self._say(f"  {HELD}: key a", "yellow")
        else:
            self._tell(row)
        self._ask()

    def _key(self, key: Key, hands: Hands) -> None:
        if key.name == ENTER:
            if self.ear and self.ear.only_answers and (why := self.ear.ask()):
                self._say(why, "yellow")
        elif key.name == "s" and sys.stdin.isatty():
            self.skipping = self.bench.next_place().name
            hands.asking.set()
            typer.echo("reason for skipping: ", nl=False)
        else:
            self._press(key.name, key.text)

    def _skip(self, reason: str) -> None:
        """Skip the place that was to be skipped, unless it was read while the reason was typed."""
        place, self.skipping = self.skipping, ""
        if self.bench.next_place().name == place:
            self._press("s", reason)
        else:
            self._say(f"{place} was read meanwhile: nothing was skipped", "yellow")
            self._ask()

    def _press(self, key: str, text: str = "") -> None:
        from qa.bench.acts import press

        held = self.bench.doubted() if key == "a" else None
        self._say(press(self.bench, key, self.shop.unit, text).say)
        if held:
            self._tell(held)
        self._ask()

    def _judge(self) -> JudgedPart:
        from qa.calipers.in_shop import instruments_of
        from qa.judge import judge_part

        known = instruments_of(self.shop, self.bench.store)
        return judge_part(self.bench.part, self.bench.holding(), known)

    def _tell(self, row: BenchReading) -> None:
        """What the reading says, and what it completes."""
        from qa.bench.speech import say_judged

        for item in self._judge().characteristics:
            source = self.bench.part.characteristics[item.characteristic].of
            here = item.characteristic == row.characteristic and (item.station or "") == row.station
            if here or (source == row.characteristic and item.value is not None):
                self._say(f"{MARKS[item.verdict]} {say_judged(item, self.shop.unit)}", COLOURS[item.verdict])

    def _greet(self) -> None:
        source = self.bench.instrument.url or "typed"
        name = self.bench.instrument.id or "no instrument named"
        typer.secho(f"{self.bench.build} {self.bench.part.title}: {name}, {source}", bold=True)
        rows = self.bench.rows()
        if rows:
            typer.echo(f"going on after {len(rows)} rows already kept")
        self._warn()
        if self.ear and self.ear.only_answers:
            typer.echo(f"{name} sends only when asked: press Enter for each reading")
        if sys.stdin.isatty():
            typer.echo("keys: " + ", ".join(f"{key} {what}" for key, what in _keys().items()))

    def _warn(self) -> None:
        """That the instrument is not to be believed, where its last check says so."""
        from qa.calipers.status import warning

        said = warning(self.shop, self.bench.store, self.bench.instrument.id)
        if said:
            self._say(said, "yellow")

    def _ask(self) -> None:
        from qa.bench.speech import say_place

        for line in self.bench.store.news():  # what became of rows while its server was gone
            self._say(line, "yellow")
        typer.echo(f"-> {say_place(self.bench.next_place(), self.shop.unit)}")
        sys.stdout.flush()

    def _remind(self) -> None:
        """What was doubted and still waits for an answer."""
        from qa.bench.speech import say_held
        from qa.bench.watch import waiting

        for row in waiting(self.bench.holding()):
            self._say(f"held: {say_held(row, self.shop.unit)}", "yellow")

    def _say(self, text: str, colour: str | None = None, *, bold: bool = False) -> None:
        typer.secho(f"   {text}", fg=colour, bold=bold or None)

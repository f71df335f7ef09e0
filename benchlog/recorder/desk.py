"""The open bench: a thread for each meter and supply, and the off-switches made from its file."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchlog.domain.leads import HIGHEST, LeadNull
from benchlog.domain.quantity import show
from benchlog.domain.reading import Reading
from benchlog.errors import BadInput, Refused
from benchlog.instruments import bench as benches
from benchlog.instruments.address import (
    Address,
    SerialAddress,
    TcpAddress,
    UsbSerialAddress,
    VisaAddress,
)
from benchlog.instruments.line_port import LinePort
from benchlog.instruments.link_apart import START_SECONDS
from benchlog.instruments.meter import Meter
from benchlog.instruments.opening import open_control, open_lines, open_meter, open_supply
from benchlog.instruments.profile import Profile, find_profile
from benchlog.instruments.reappearing import Reappearing
from benchlog.instruments.stream_meter import StreamMeter
from benchlog.instruments.supply import SupplyControl
from benchlog.instruments.supply_meter import SupplyMeter
from benchlog.recorder.cut import Done, OffSwitch
from benchlog.recorder.off_hand import HandSwitch, Sound
from benchlog.recorder.off_level import LevelRelay
from benchlog.recorder.off_relay import PumpedRelay
from benchlog.recorder.off_supply import Control, SupplySwitch
from benchlog.recorder.poll import Poller
from benchlog.recorder.shared import SharedControl

OPEN_SECONDS = 8.0
COMPARE = "have it compared, and write the date on the bench"
"""What to do about a meter past its calibration."""
REOPEN_SECONDS = 0.8
"""Longest wait for a connection, and for its first answer, when a wire is opened again."""
SHARED_DEADLINES = 4
"""So many deadlines a question of a cut may take where reading shares its wire: the open one, step proven, its own."""

AnyMeter = Meter | StreamMeter
OnReading = Callable[[str, Reading], None]
OnState = Callable[[str, str, str], None]
OnLost = Callable[[str, str], None]
"""Hears the name of an off-switch that let go by itself, and why."""


def _nobody(_name: str, _reason: str) -> None:
    """Where nobody wants to hear of it."""


class Desk:
    """A bench file come alive; BadInput where it cannot be understood."""

    def __init__(
        self,
        text: str,
        place: str,
        folders: list[Path],
        rate: float,
        on_reading: OnReading,
        on_state: OnState,
    ) -> None:
        self.bench = benches.parse(text, place, folders)
        self._folders = folders
        self._switches: list[OffSwitch] = []
        self._ports: dict[Address, LinePort] = {}
        self._volts: dict[str, float] = {}
        names = {entry.job: entry.profile for entry in self.bench.meter}
        names |= {entry.job: entry.profile for entry in self.bench.supply}
        self._profiles = {job: find_profile(name, folders) for job, name in names.items()}
        self.profile_texts = {names[job]: profile.text for job, profile in self._profiles.items()}
        self.nulls = {entry.job: entry.null for entry in self.bench.meter}
        """Each meter's lead null as it stands; one that is opened again has it still."""
        self.meters: dict[str, Poller[AnyMeter]] = {}
        self.supplies: dict[str, Poller[SupplyMeter]] = {}
        for meter in self.bench.meter:
            profile = self._profiles[meter.job]
            self.meters[meter.job] = Poller(
                meter.job,
                self._meter_opener(meter, profile, rate),
                on_reading,
                on_state,
                self._meter_opener(meter, profile, rate, REOPEN_SECONDS),
                _allowed(meter.parsed_address, profile),
                returned=Reappearing(meter.parsed_address),
            )
        for supply in self.bench.supply:
            profile = self._profiles[supply.job]
            self.supplies[supply.job] = Poller(
                supply.job,
                _supply_opener(supply, profile, rate),
                on_reading,
                on_state,
                _supply_opener(supply, profile, rate, REOPEN_SECONDS),
                _allowed(supply.parsed_address, profile),
                returned=Reappearing(supply.parsed_address),
            )

    @property
    def unprotected(self) -> frozenset[str]:
        """Jobs of the supplies that have no over-voltage protection to set."""
        commands = {entry.job: self._profiles[entry.job].supply for entry in self.bench.supply}
        return frozenset(job for job, supply in commands.items() if not (supply and supply.set_protection))

    def wait_open(self) -> dict[str, list[str]]:
        """Wait until every instrument is open or has failed once: job to state and its text."""
        return {poller.job: poller.wait_open(OPEN_SECONDS) for poller in self._pollers()}

    def _pollers(self) -> list[Poller[Any]]:
        return [*self.meters.values(), *self.supplies.values()]

    def quiet_for(self, job: str) -> float:
        """Wire seconds since the thread of that instrument last showed that it is alive."""
        poller = self.meters.get(job) or self.supplies.get(job)
        return poller.quiet_for if poller is not None else float("inf")

    def walking(self, job: str) -> Poller[AnyMeter]:
        """The meter of that job, to take parts with."""
        poller = self.meters.get(job)
        if poller is None:
            known = ", ".join(sorted(self.meters)) or "none"
            raise BadInput("take", f"the bench has no meter {job!r}", f"it has {known}")
        return poller

    def overdue(self) -> Iterator[tuple[str, str]]:
        """Each meter that is past its calibration, and what is to be said of it."""
        today = datetime.now(UTC).date()
        return ((entry.job, due) for entry in self.bench.meter if (due := entry.overdue(today)))

    def null(self, job: str, value: float, utc: str) -> None:
        """Have a meter's leads taken off from now on; BadInput where it cannot be so."""
        meter = self.walking(job)
        try:
            null = LeadNull(value=value, time=datetime.fromisoformat(utc).astimezone(UTC))
        except ValueError:
            raise BadInput("null", f"{utc!r} is no time", "write UTC as ISO 8601 does") from None
        if not 0.0 <= value <= HIGHEST:
            problem = f"{job} reads {show(value, 'ohm')} on its shorted leads"
            raise BadInput("null", problem, f"clean tips and plugs: it should be 0 to {show(HIGHEST, 'ohm')}")
        self.nulls[job] = null
        meter.do(lambda instrument: instrument.null(null))

    def _meter_opener(
        self, entry: benches.MeterEntry, profile: Profile, rate: float, patience: float | None = None
    ) -> Callable[[], AnyMeter]:
        return lambda: open_meter(replace(entry, null=self.nulls[entry.job]), profile, rate, patience)

    # --- off-switches ---------------------------------------------------------------------------

    def switches(
        self, alarm: Sound, player: str, permit: Callable[[], bool], on_lost: OnLost = _nobody
    ) -> list[OffSwitch]:
        """The off-switches of the bench file, their wires open; LinkError where one does not open.

        `permit` says whether a relay may be held in, `on_lost(name, reason)` hears of one that let go by
        itself.
        """
        self.let_go()
        for entry in self.bench.off_switch:
            self._switches.append(self._switch(entry, alarm, player, permit, on_lost))
        return self._switches

    def let_go(self) -> None:
        """Close the wires of the off-switches; a relay on a pumped line drops."""
        switches, self._switches = self._switches, []
        for switch in switches:
            switch.close()

    def _switch(
        self,
        entry: benches.OffSwitchEntry,
        alarm: Sound,
        player: str,
        permit: Callable[[], bool],
        on_lost: OnLost,
    ) -> OffSwitch:
        if entry.kind == "hand":
            return HandSwitch(entry.job, player=player, sound=alarm)
        if entry.kind == "relay":
            return self._relay(entry, permit, lambda reason: on_lost(entry.job, reason))
        supply = next(supply for supply in self.bench.supply if supply.job == entry.supply)
        profile = self._profiles[supply.job]
        return SupplySwitch(
            entry.job,
            self._control_opener(supply, profile, None),
            lambda was_cut, done: self._turn_on(supply.job, was_cut, done),
            profile.outputs,
            reopener=self._control_opener(supply, profile, REOPEN_SECONDS),
            at_once=isinstance(supply.cut, TcpAddress | VisaAddress),
        )

    def _relay(
        self, entry: benches.OffSwitchEntry, permit: Callable[[], bool], on_lost: Callable[[str], None]
    ) -> OffSwitch:
        port = self.line_port(entry.parsed_address, entry.job)
        if not entry.held_by_level:
            return PumpedRelay(
                entry.job,
                port.afresh,
                beat=entry.beat,
                drop_out=entry.drop_out,
                permit=permit,
                on_lost=on_lost,
            )
        high = entry.level == "high"
        return LevelRelay(
            entry.job,
            lambda: port.afresh(entry.rests_high, falls=high),
            line=entry.line,
            high=high,
            drop_out=entry.drop_out,
            permit=permit,
            on_lost=on_lost,
        )

    def pedal_port(self, entry: benches.PedalEntry) -> LinePort:
        """The port of a pedal."""
        return self.line_port(entry.parsed_address, entry.job)

    def line_port(self, address: Address, job: str) -> LinePort:
        """The port of a relay or a pedal, the same for all that hang on it; its errors name them all."""
        if not isinstance(address, SerialAddress | UsbSerialAddress):
            raise BadInput(job, "hangs on no serial port", "name one")
        at = replace(address, text="")
        if at not in self._ports:
            pedals = [one for one in self.bench.pedal if replace(one.parsed_address, text="") == at]
            fed = frozenset(one.feed for one in pedals) - {"none"}
            place = ", ".join(dict.fromkeys([job, *(one.job for one in pedals)]))
            self._ports[at] = LinePort(
                lambda high: open_lines(address, place, high), fed, pedals=bool(pedals)
            )
        return self._ports[at]

    def _control_opener(
        self, supply: benches.SupplyEntry, profile: Profile, patience: float | None
    ) -> Callable[[], Control]:
        """What reaches the supply for a cut: a connection of its own, or the only one it takes."""
        if supply.cut_address or (isinstance(supply.cut, TcpAddress) and profile.link.connections > 1):
            return lambda: open_control(supply, profile, patience)
        poller = self.supplies[supply.job]
        return lambda: SharedControl(poller, SHARED_DEADLINES * profile.link.deadline)

    def _turn_on(self, job: str, was_cut: Callable[[], bool], done: Done) -> None:
        def act(control: SupplyControl) -> None:
            if was_cut():
                raise Refused(job, "was cut before it was switched on", _BEGIN_ANEW)
            try:
                control.on()
            except Refused:
                # Off because it was cut meanwhile is no fault of the supply's.
                if was_cut():
                    raise Refused(job, "was cut as it was switched on", _BEGIN_ANEW) from None
                raise

        self._with_supply(job, act, done)

    def supply_setter(self, job: str) -> Callable[[float, float, float, Done], None]:
        """What sets every output of a supply: volts, current limit, protection, each read back."""

        def set_all(volts: float, limit: float, protection: float, done: Done) -> None:
            def act(control: SupplyControl) -> None:
                going_down = volts < self._volts.get(job, 0.0)
                for output in control.outputs:
                    control.set_limit(output, limit)
                    # Protection stays above the volts at every moment, or it would fire on the way.
                    if going_down:
                        control.set_volts(output, volts)
                    if protection > 0.0:
                        control.set_protection(output, protection)
                    if not going_down:
                        control.set_volts(output, volts)
                self._volts[job] = volts

            self._with_supply(job, act, done)

        return set_all

    def _with_supply(self, job: str, act: Callable[[SupplyControl], None], done: Done) -> None:
        self.supplies[job].do(lambda supply: act(supply.control), done)

    def recipe(self) -> list[tuple[str, int, str, str, str, list[str]]]:
        """How a one-shot recorder cuts each network supply: host, port, line, question, answer, volts."""
        lines = []
        for entry in self.bench.off_switch:
            if entry.kind != "supply":
                continue
            supply = next(supply for supply in self.bench.supply if supply.job == entry.supply)
            address = supply.cut
            if isinstance(address, TcpAddress):
                lines.append((address.host, address.port, *self._profiles[supply.job].off_recipe()))
        return lines

    def close(self) -> None:
        """Let go of every wire."""
        self.let_go()
        for port in self._ports.values():
            port.close()
        for poller in self._pollers():
            poller.stop()


_BEGIN_ANEW = "find out why, then begin a new run"


def _allowed(address: Address, profile: Profile) -> tuple[float, float]:
    """Seconds that opening may take, the first time and again: for the wire and for the first answer."""
    loading = START_SECONDS if isinstance(address, VisaAddress) else 0.0
    return loading + profile.link.connect + profile.link.deadline, loading + 2 * REOPEN_SECONDS


def _supply_opener(
    entry: benches.SupplyEntry, profile: Profile, rate: float, patience: float | None = None
) -> Callable[[], SupplyMeter]:
    return lambda: open_supply(entry, profile, rate, patience)

"""The bench page: instruments attached by their jobs, off-switches, what each says; saved and opened."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog import textfile
from benchlog.errors import BadInput, BenchlogError
from benchlog.instruments.bench import Bench, MeterEntry, OffSwitchEntry, PedalEntry, SupplyEntry
from benchlog.recorder.client import messages
from benchlog.window import bench_file, bench_form, bench_told, pedal_form, switch_form, words
from benchlog.window.bench_choice import BenchChoice
from benchlog.window.bench_file import Draft, InstrumentKind, Spot
from benchlog.window.bench_find import BenchFind
from benchlog.window.bench_form import InstrumentForm
from benchlog.window.bench_state import Attached
from benchlog.window.bench_view import BenchView
from benchlog.window.choose_file import ChooseFile
from benchlog.window.fault_list import FaultList, counted
from benchlog.window.foot import face_of
from benchlog.window.forms import GAP, Views, scrolled
from benchlog.window.page import Page, label
from benchlog.window.pedal_form import PedalForm
from benchlog.window.run_view import Phase
from benchlog.window.switch_form import SwitchForm
from benchlog.window.tile import TileFace
from benchlog.window.work import Work

AGES = 300
"""Milliseconds between two looks at what the meters read."""


class BenchPage(Page):
    """The bench at hand, and what came of attaching it."""

    title = words.BENCH

    def __init__(self, work: Work) -> None:
        super().__init__(work)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.draft = Draft(Bench(name=""))
        self.attached = Attached(work.runner.rate, work.offer.bench_text)
        self._before: Draft | None = None
        self._editing: Spot | None = None
        self._kinds: dict[str, InstrumentKind] = {}
        self.view = BenchView(work)
        self.form = InstrumentForm(work.look)
        self.switch = SwitchForm(work.look)
        self.pedal = PedalForm(work.look)
        self.search = BenchFind(work.look)
        self.choice = BenchChoice(work.look)
        self.choose = ChooseFile(work.look, work.shelf, "Open a bench from a file")
        self.faults = FaultList(work.look)
        self.views = Views()
        for view in (self.view, self.form, self.switch, self.pedal, self.search, self.choice, self.choose):
            self.views.add(view)
        self.views.show_only(self.view)
        self._ages = QTimer(self)
        self._ages.setInterval(AGES)
        self._ages.timeout.connect(self._show_readings)
        self._lay_out()
        self._connect()
        self._show()

    def _lay_out(self) -> None:
        content = QWidget()
        column = QVBoxLayout(content)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(GAP)
        for widget in (label(words.BENCH, "soft"), self.faults):
            column.addWidget(widget)
        column.addWidget(self.views, 1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(content))

    def _connect(self) -> None:
        view, runner = self.view, self.work.runner
        view.attach.connect(lambda: self._begin(None))
        view.look.connect(self._begin_search)
        view.add_switch.connect(lambda: self._begin_switch(None))
        view.add_pedal.connect(lambda: self._begin_pedal(None))
        view.change.connect(self._change)
        view.remove.connect(self._remove)
        view.trying.connect(self._try_one)
        view.try_all.connect(self.attach)
        view.open.connect(self._begin_open)
        view.save.connect(self.save)
        view.put_back.connect(self._put_back)
        view.renamed.connect(self._rename)
        for form in (self.form, self.switch, self.pedal):
            form.filled.connect(self._filled)
            form.left.connect(self._home)
        self.search.taken.connect(self._found)
        self.search.left.connect(self._home)
        self.choice.chosen.connect(lambda path: self._open_path(Path(path)))
        self.choice.from_file.connect(self._begin_file)
        self.choice.left.connect(self._home)
        self.choose.chosen.connect(self._open_path)
        self.choose.left.connect(self._home)
        runner.meter.connect(self._hear_state)
        runner.pedal.connect(self._hear_pedal)
        runner.read.connect(self._hear_readings)
        runner.gone.connect(self._hear_loss)
        runner.again.connect(self._attach_again)
        runner.phase_changed.connect(lambda _: self._stand())

    @property
    def _folders(self) -> list[Path]:
        return [Path(folder) for folder in self.work.shelf.profiles]

    # --- coming and going ----------------------------------------------------------------------------

    def open_offer(self) -> None:
        """The bench the window was opened on is attached by itself."""
        offer, folders = self.work.offer, self._folders
        self._look_for_kinds()
        if offer.bench_text:
            name = offer.bench_name or "bench.toml"
            self._open(lambda: bench_file.read(offer.bench_text, name, folders), name)

    def came(self) -> None:
        """Look for kinds of instruments, and at what the meters read."""
        self._ages.start()
        self._show_readings()
        self._look_for_kinds()

    def left(self) -> None:
        """Nobody looks any more."""
        self._ages.stop()

    def _look_for_kinds(self) -> None:
        folders, draft = self._folders, self.draft

        def look() -> tuple[tuple[InstrumentKind, ...], Draft]:
            return bench_file.known_kinds(folders), bench_file.judged_anew(draft, folders)

        def found(what: tuple[tuple[InstrumentKind, ...], Draft]) -> None:
            self._take_kinds(what[0], draft, what[1])

        self.work.shelf.off_thread(look, found, owner=self, key="kinds")

    def _take_kinds(self, kinds: tuple[InstrumentKind, ...], before: Draft, judged: Draft) -> None:
        """Have the kinds there are now, and what that means for the bench as it was then."""
        found = {kind.name: kind for kind in kinds}
        known = self._kinds
        if found == known and judged == before:
            return
        self._kinds = found
        self.attached.doubt_profiles(frozenset(n for n in found if n in known and found[n] != known[n]))
        if self.draft == before:
            self.draft = judged
        self.form.know(kinds)
        self._show()

    def _view(self, view: QWidget) -> None:
        self.faults.clear()
        self.views.show_only(view)

    def _home(self) -> None:
        self._view(self.view)
        self.setFocus()

    # --- opening and saving --------------------------------------------------------------------------

    def _begin_open(self) -> None:
        self._view(self.choice)
        self.work.shelf.read(bench_file.find_benches, self.choice.put, owner=self, key="benches")
        self.choice.begin()

    def _begin_file(self) -> None:
        self._view(self.choose)
        self.choose.begin()

    def _open_path(self, path: Path) -> None:
        folders, kept = self._folders, self.work.shelf.folder / bench_file.BENCHES
        self._open(lambda: bench_file.read_path(path, folders, kept), path.name)

    def _open(self, read: Callable[[], Draft], name: str) -> None:
        def failed(error: BenchlogError) -> None:
            faults = counted(len(error.faults), "thing")
            self.faults.tell(error, f"{name} was not opened: {faults} to mend in it. Nothing was changed.")

        self.faults.clear()
        self.work.shelf.off_thread(read, self._opened, failed, owner=self)

    def _opened(self, draft: Draft) -> None:
        self._take(draft)
        self._home()
        if not draft.faults and not draft.empty and not self._busy():
            self.attach()

    def save(self) -> None:
        """Keep the bench in the library."""
        draft = self.draft
        if not draft.bench.name.strip():
            error = BadInput("Name", "is empty", "say what this bench is called; its file is named after it")
            self.faults.tell(error, "Not saved yet.")
            self.view.name.setFocus()
            return

        def saved(kept: Draft) -> None:
            if self.draft.text == draft.text:
                self.draft = kept
            self.faults.clear()
            self.work.say(f"Saved as {kept.name}.")
            self._stand()

        def failed(error: BenchlogError) -> None:
            self.faults.tell(error, "Not saved.")

        self.work.shelf.edit(
            lambda library: bench_file.save(draft, library.benches), saved, failed, owner=self
        )

    # --- changing ------------------------------------------------------------------------------------

    def _take(self, draft: Draft, *, before: Draft | None = None, undo: str = "") -> None:
        """Have another bench at hand; what stood there before can be put back where `undo` says so."""
        self.draft = draft
        self._before = before if undo else None
        self.view.back_button.setText(undo.replace("&", "&&"))
        self.view.back_button.setVisible(bool(undo))
        self._show()

    def _begin(self, entry: MeterEntry | SupplyEntry | None) -> None:
        self._editing = self._editing if entry is not None else None
        self._view(self.form)
        self.form.begin(entry)
        self._look_for_kinds()

    def _begin_search(self) -> None:
        self._view(self.search)
        self.search.folders = self.work.shelf.profiles
        self.search.look()

    def _found(self, address: str, profile: str) -> None:
        """What was found goes into a new form, to be given its job."""
        self._begin(None)
        self.form.offer(address, profile)

    def _begin_switch(self, entry: OffSwitchEntry | None) -> None:
        self._editing = self._editing if entry is not None else None
        self._view(self.switch)
        self.switch.begin(tuple(one.job for one in self.draft.bench.supply), entry)

    def _begin_pedal(self, entry: PedalEntry | None) -> None:
        self._editing = self._editing if entry is not None else None
        self._view(self.pedal)
        self.pedal.begin(entry)

    def _change(self, spot: Spot) -> None:
        self._editing = spot
        entry = bench_file.entries(self.draft.bench, spot.table)[spot.at]
        if isinstance(entry, OffSwitchEntry):
            self._begin_switch(entry)
        elif isinstance(entry, PedalEntry):
            self._begin_pedal(entry)
        else:
            self._begin(entry)

    def _filled(self, entry: bench_file.Entry) -> None:
        draft, folders = self.draft, self._folders
        form: InstrumentForm | SwitchForm | PedalForm = self.form
        names = bench_form.NAMES
        if isinstance(entry, OffSwitchEntry):
            form, names = self.switch, switch_form.NAMES
        elif isinstance(entry, PedalEntry):
            form, names = self.pedal, pedal_form.NAMES
        bench, spot = bench_file.put(draft.bench, entry, self._editing)

        def judged(changed: Draft) -> None:
            wrong = changed.faults_of(spot)
            if wrong:
                form.refuse(bench_file.in_words(wrong, names, entry.job))
                return
            self._take(changed)
            self._home()

        def failed(error: BenchlogError) -> None:
            form.refuse(bench_file.in_words(error.faults, names, entry.job))

        self.work.shelf.off_thread(
            lambda: bench_file.anew(draft, bench, folders), judged, failed, owner=self, key="bench"
        )

    def _remove(self, spot: Spot) -> None:
        draft, folders = self.draft, self._folders
        entry = bench_file.entries(draft.bench, spot.table)[spot.at]
        bench = bench_file.without(draft.bench, spot)

        def judged(changed: Draft) -> None:
            self._take(changed, before=draft, undo=f"Put {entry.job or 'it'} back")

        self.setFocus()  # the button that was pressed goes with its card
        self.work.shelf.off_thread(
            lambda: bench_file.anew(draft, bench, folders), judged, owner=self, key="bench"
        )

    def _put_back(self) -> None:
        if self._before is not None:
            self.setFocus()
            self._take(self._before)

    def _rename(self, name: str) -> None:
        if name != self.draft.bench.name:
            bench = replace(self.draft.bench, name=name)
            self.draft = replace(self.draft, bench=bench, text=textfile.write(bench), saved=False)
            self._stand()

    # --- attaching -----------------------------------------------------------------------------------

    def _busy(self) -> bool:
        """Whether a run stands on the bench as it is."""
        return self.work.runner.may_be_on

    def attach(self) -> None:
        """Open every instrument of the bench as it stands, and hear what each says."""
        draft, runner = self.draft, self.work.runner
        if self._busy() or draft.faults or draft.empty or self.attached.at_work:
            self._stand()  # It says why not.
            return
        runner.rate = self.attached.begin(draft.bench)
        self.view.transcript.add(f"{bench_told.stamp(datetime.now().astimezone())}\tthe bench is tried")
        runner.know_bench(draft.bench)
        runner.open_bench(draft.text, draft.name, self.work.shelf.profiles, self._has_opened, self._refused)
        self._stand()

    def _has_opened(self, meters: dict[str, list[str]]) -> None:
        self.attached.opened(meters)
        self._stand()

    def _refused(self, error: BenchlogError) -> None:
        self.attached.failed()
        self.faults.tell(error, "That was not possible.")
        self._stand()

    def _try_one(self, spot: Spot) -> None:
        """One instrument by itself, its exchange word for word; the bench is attached again after."""
        entry = bench_file.entries(self.draft.bench, spot.table)[spot.at]
        if self._busy() or self.attached.at_work or isinstance(entry, OffSwitchEntry | PedalEntry):
            self._stand()
            return
        alone, _ = bench_file.put(Bench(name=self.draft.bench.name), entry)
        again = self.attached.holds(self.draft.bench)
        began = datetime.now().astimezone()
        self.attached.begin_trial(entry)
        self.view.transcript.add(f"{bench_told.stamp(began)}\t{entry.job}\ttried by itself")

        def done(data: dict[str, object]) -> None:
            self.attached.tried(entry.job, str(data["wrong"]), str(data.get("unreadable", "")))
            self.view.transcript.add_all(bench_told.of_exchange(entry.job, data, began))
            self._stand()
            if again:
                self.attach()

        request = messages.Try(
            id=0,
            text=textfile.write(alone),
            place=self.draft.name,
            profiles=self.work.shelf.profiles,
            job=entry.job,
        )
        self.work.runner.try_one(request, done, self._refused)
        self._stand()

    # --- what is heard -------------------------------------------------------------------------------

    def _hear_state(self, message: messages.Meter) -> None:
        if self.attached.heard(message):
            self.view.transcript.add(bench_told.of_state(message, datetime.now().astimezone()))
            self._stand()

    def _hear_pedal(self, message: messages.Pedal) -> None:
        self.view.transcript.add(bench_told.of_pedal(message, datetime.now().astimezone()))

    def _hear_readings(self, message: messages.Readings) -> None:
        if self.work.runner.view.is_open:
            return
        now, changed = datetime.now().astimezone(), False
        for batch in message.batches:
            for _, _, value, outcome in batch.rows:
                changed |= self.attached.hear_outcome(batch.trace, outcome)
                entry = self.attached.worth_telling(batch.trace, outcome)
                if entry is not None:
                    line = bench_told.of_reading(entry, outcome, value, now, asked=self._asked(entry))
                    self.view.transcript.add(line)
        if changed:
            self._stand()

    def _asked(self, entry: MeterEntry) -> bool:
        """Whether a meter is asked, rather than writing by itself."""
        kind = self._kinds.get(entry.profile)
        return kind is None or kind.kind != "stream"

    def _hear_loss(self, why: str) -> None:
        """The recorder is gone, and nothing reads the instruments any more."""
        self.attached.lost(why)
        self._stand()

    def _attach_again(self) -> None:
        """A new recorder runs: the bench that the old one had is attached again, as long as it is the same."""
        if self.attached.wants(self.draft.bench) and self.work.runner.view.phase is not Phase.CLOSED:
            self.attach()
        self._stand()

    # --- what is shown -------------------------------------------------------------------------------

    def _show(self) -> None:
        self.view.put(self.draft, self._kinds)
        self._show_readings()
        self._stand()

    def _show_readings(self) -> None:
        view, now = self.work.runner.view, self.work.now()

        def face(entry: MeterEntry) -> TileFace | None:
            if entry.function is None or not self.attached.state_of(entry)[0]:
                return None
            live, doubt = view.live.get(entry.job), view.doubt_in(entry.job)
            return face_of(entry.job, live, now, unit=entry.function.unit, doubt=doubt)

        self.view.read(face, self.draft.bench.meter)

    def _stand(self) -> None:
        """Say how the bench stands, here and at the left."""
        draft, attached = self.draft, self.attached
        says, shape, detail = attached.account(draft, busy=self._busy())
        self.view.says.setText(says)
        self.view.says.setVisible(bool(says))
        free = not self._busy() and not attached.at_work
        self.view.stand(attached.state_of, free=free)
        self.view.try_button.setEnabled(free and not draft.faults and not draft.empty)
        self.view.save_button.setEnabled(not draft.empty and (not draft.saved or draft.path is None))
        self.work.stand(words.BENCH, shape, detail)

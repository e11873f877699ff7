"""The record as a page: everything is said in words, nothing is lost, nothing in it can act."""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
import samples

from assistant.edge.files.language import Language, english
from assistant.edge.pages.record_page import export_html, html
from assistant.errors import RecordError
from assistant.record import record
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.journal import read_lines, read_what_holds
from tests.dialogues.kept import kept

VOID = {"meta", "br", "link", "img", "hr", "input"}


class Page(HTMLParser):
    """A page as text and tags; fails on a tag that is not closed where it should be."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.stack: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        assert self.stack == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.stack.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.stack.pop() == tag, (tag, self.getpos())

    def handle_data(self, data: str) -> None:
        if not {"style", "title"} & set(self.stack):
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


def page_of(pen: samples.Pen, clips: bool = True) -> Page:
    judged = record(read_lines(pen.data))
    return Page(html(judged, {clip.sha256: f"clips/{clip.sha256}.flac" for clip in judged.clips()} if clips else {}))


@pytest.fixture(scope="module")
def eventful() -> Page:
    return page_of(samples.eventful_visit())


@pytest.mark.parametrize(
    "words",
    [
        "Demonstration data: every value is invented",
        "Complete: all 52 steps, 1 of them left out with a reason.",
        "A leak was seen at the cold look.",
        "The same check was in order at 08:2",
        "Coolant temperature 91 °C is too high. Limits: 70 °C to 88 °C.",
        "Oil in 2.5 L: heard with confidence 0.44. Listen to its sound.",
        "A warning was cut off before its end: “WARNING. Turning parts catch sleeves and cables.",
        "Sample. Reason: tool not available.",
        "Plug torque was 31 N.m, too low (limits 34 N.m to 40 N.m). Measured again: 37 N.m, as left, within limits.",
        "Run hours 1250.4 h was confirmed. Corrected: 1215.4 h was read back and refused.",
        "Oil pressure 46 psi (317 kPa), as found: within limits (200 kPa to 450 kPa).",
        "Heard 0.6 gallons, which may be several units. Asked which.",
        "0.6 gallons taken back by the technician.",
        "24 L was heard first and is hard to believe (0.0 L to 6.0 L), so it was asked again.",
        "Look and smell: 2 hearings failed before the answer.",
        "“next” was refused: a hold point passes only on its own phrase.",
        "“next” was refused: the time was not over.",
        "Oil in 2.3 L taken back by the technician.",
        "Not understood. Best guess, not acted on: “locks”.",
        "Asked with the choices spoken from here.",
        "Carried on after 12 min 44 s.",
        "The engine's state had to be proved again: a long pause.",
        "Device lost: the loudspeaker (no such device).",
        "An answer to an earlier question came too late and was dropped.",
        "Timer began: 4 min.",
        "State: oil warm, yes for 30 min.",
        "Work ended, complete",
        "Carried out by technician",
        "each chained to the one before by its hash",
    ],
)
def test_it_is_said_in_plain_words(words: str, eventful: Page) -> None:
    assert words in eventful.text.replace("\N{NO-BREAK SPACE}", " ")


def test_every_reading_has_limits_verdict_confidence_and_sound(eventful: Page) -> None:
    pen = samples.eventful_visit()
    judged = record(read_lines(pen.data))
    page = html(judged, {clip.sha256: f"clips/{clip.sha256}.flac" for clip in judged.clips()})
    table = page[page.index('<table class="readings">') : page.index("</table>")].replace("\N{NO-BREAK SPACE}", " ")
    rows = table.split("<tr")[2:]
    readings = judged.of(f.ReadingRecorded)
    assert len(rows) == len(readings) == 10
    for row, entry in zip(rows, readings, strict=True):
        reading = entry.fact
        assert isinstance(reading, f.ReadingRecorded)
        assert reading.clip is not None
        for wanted in (
            str(reading.quantity),
            reading.limits or "none",
            f"{reading.confidence:.2f}",
            f"clips/{reading.clip.sha256}.flac",
            reading.clip.sha256[:8],
            reading.stage.value,
        ):
            assert wanted in row, wanted


def test_a_value_taken_back_is_marked_by_words_too(eventful: Page) -> None:
    assert sum("gone" in (row.get("class") or "") for row in eventful.all("tr")) == 1
    assert "Within limits taken back" in eventful.text


def test_the_page_is_accessible(eventful: Page) -> None:
    assert eventful.all("html") == [{"lang": "en-GB"}]
    assert len(eventful.all("h1")) == 1
    tables = len(eventful.all("table"))
    assert tables == len(eventful.all("caption")) == len(eventful.all("thead")) == 6
    assert all(header.get("scope") for header in eventful.all("th"))
    assert all(audio.get("aria-label") for audio in eventful.all("audio"))
    identifiers = [attributes["id"] for _, attributes in eventful.tags if "id" in attributes]
    assert len(identifiers) == len(set(identifiers))
    for link in eventful.all("a"):
        assert (link["href"] or "").removeprefix("#") in identifiers


def test_sounds_are_played_on_demand_from_beside_the_page(eventful: Page) -> None:
    players = eventful.all("audio")
    assert players
    for player in players:
        assert player["preload"] == "none"
        assert "controls" in player
        assert re.fullmatch(r"clips/[0-9a-f]{64}\.flac", player["src"] or "")


def test_the_page_stands_alone(eventful: Page) -> None:
    """It is opened from a memory stick, without a network: no script, no style sheet, no address elsewhere."""
    assert not eventful.all("script") + eventful.all("link") + eventful.all("img")
    text = html(record(read_lines(samples.eventful_visit().data)), {})
    assert "http" not in text
    assert "@import" not in text


def test_a_sound_that_is_not_there_is_named_by_its_hash() -> None:
    page = page_of(samples.eventful_visit(), clips=False)
    assert page.all("audio") == []
    assert "not kept" in page.text


def test_what_was_said_never_becomes_markup() -> None:
    visit = samples.Visit()
    visit.begin()
    visit.fail("<script>alert(1)</script> & \"quotes\" 'too'")
    visit.pen.write(i.DeviceVanished("<b>", "x"), f.DeviceLost("<b>it</b>", "<i>"))
    text = html(record(read_lines(visit.pen.data)), {"a": '"><script>'})
    assert "<script" not in text
    assert "<b>" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp;" in text


def test_a_plain_visit_says_that_nothing_is_to_be_judged() -> None:
    page = page_of(samples.plain_visit())
    assert "Nothing: all in order, nothing left out, no reading in doubt." in page.text
    assert "Also of note" not in page.text


def test_what_was_judged_says_how() -> None:
    text = page_of(samples.judged_values()).text.replace("\N{NO-BREAK SPACE}", " ")
    for words in (
        "Oil pressure 203 kPa is inconclusive. Limits: 200 kPa to 450 kPa.",
        "Oil pressure was 205 kPa, inconclusive (limits 200 kPa to 450 kPa). Measured again: 203 kPa",
        "Oil balance 0.5 L, worked out: too high (-0.4 L to 0.4 L).",
        "By oil balance, from oil in 2.9 L, oil out 2.4 L. Oil in is in doubt.",
        "Mean of 7.5 mm, 7.6 mm, 7.4 mm; spread 0.1 mm.",
        "Limits by running. With the panel gauge. Under: running, not isolated.",
        "panel gauge: calibration out of date since 2024-12-31",
    ):
        assert words in text, words
    judging = text[text.index("To be judged") : text.index("Readings", text.index("To be judged"))]
    assert "limits 200 kPa to 450 kPa, inconclusive" not in judging, "the finding repeats the reading"


@pytest.mark.parametrize(
    "words",
    [
        "help called Help was called for at the step 'Leaks', aloud at the engine. Nobody else was reached.",
        "substitute oil filter: a substitute was fitted. Reason: owner asks for it.",
        "part refused Leaks: F29 was given, and is the number of no part expected there.",
    ],
)
def test_what_was_said_and_done_besides_is_to_be_judged(words: str, eventful: Page) -> None:
    """Calls for help, substitutes and refused parts stood in the middle of the record only."""
    text = eventful.text.replace("\N{NO-BREAK SPACE}", " ")
    assert words in text[text.index("To be judged") : text.index("In time order.")]


def test_notes_and_typed_hold_points_are_to_be_judged() -> None:
    """A typed note was told as kept, and nobody was told to read it."""
    visit = samples.Visit()
    visit.begin()
    pen, place = visit.pen, visit.place("leaks")
    typed = f.NoteKept(place, "Leaks", f.Subject.NOTE, "the sea cock is stiff", None)
    spoken = f.NoteKept(place, "Leaks", f.Subject.STEP_WRONG, "", pen.clip("the cock is elsewhere"))
    hold = f.HoldPointPassed(place, "Proof", 1.0, None, i.Source.TYPED)
    pen.write(i.ButtonPressed(1), typed, spoken, hold)
    text = page_of(pen).text
    judging = text[text.index("To be judged") : text.index("Hold points Work passed")]
    told = text[text.index("The visit in time order") :]
    assert "note Leaks: “the sea cock is stiff”" in judging
    assert "step wrong Leaks: listen to its sound. It goes to the trainer." in judging
    assert "hold point typed Proof: its words were typed, not spoken. There is no sound of it." in judging
    assert "A note, typed. “the sea cock is stiff” note" in told
    assert "What is wrong with this step, for the trainer, kept as sound. step wrong" in told
    assert "Hold point passed in its set words, typed. hold point typed" in told


def test_one_thing_is_not_counted_as_several() -> None:
    """It was: "1 steps", "1 lines"."""
    pen = samples.Pen()
    history = f.HistoryTakenOver("marram-auxiliary", "before.csv", "0" * 64, 1)
    pen.write(i.WorkOrdered(samples.order()), f.WorkTakenUp(samples.order(), "Oil", 1), history)
    whole = page_of(pen).text
    assert "Broken off and not ended: 1 of 1 step is open." in whole
    assert "1 of 1 step was not done" in whole
    assert "Work taken up by the technician: Oil, 1 step." in whole
    assert "Taken over from before.csv: 1 line of what was done before." in whole
    assert "The journal holds: 1 line, each" in whole
    damaged = Page(html(record(read_lines(pen.data), "line 2: damaged"), {})).text
    assert "This record shows the 1 line that can be verified" in damaged
    assert "1 line can be verified by hash." in damaged
    torn = Page(html(record(read_lines(pen.data + b"{")), {})).text
    assert "(1 byte was set aside)" in torn
    assert "1 byte of a line that was never completed was set aside" in torn


def test_a_visit_ended_early() -> None:
    text = page_of(samples.ended_early()).text
    assert "Ended early (the technician ended it): 49 of 52 steps are open." in text
    assert "Reached and left open: Fit to start." in text


def test_a_visit_broken_off() -> None:
    text = page_of(samples.broken_off()).text
    assert "Broken off and not ended: 49 of 52 steps are open." in text
    assert "Carried out by technician, then trainer" in text
    assert "Taken up again by the trainer. The engine's state had to be proved again." in text
    assert "The device started 2 times during the visit" in text


# --- of a planned visit --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


@pytest.fixture
def written(tmp_path: Path, language: Language) -> Callable[[str], str]:
    """The page of a dialogue's session as it is written."""

    def page(name: str) -> str:
        text = export_html(kept(name, tmp_path, language)).read_text(encoding="utf-8")
        return text.replace("\N{NO-BREAK SPACE}", " ")

    return page


def headings(text: str) -> list[str]:
    return re.findall(r'class="part">([^<]+)<', text)


def table_after(text: str, heading: str) -> list[list[str]]:
    """The cells of the first table after a heading, as text."""
    table = text[text.index(f">{heading}</h") :]
    rows = table[: table.index("</table>")].split("<tr>")[2:]
    cells = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, flags=re.DOTALL) for row in rows]
    return [[" ".join(re.sub(r"<[^>]+>", " ", cell).split()) for cell in row] for row in cells]


def test_a_planned_visit_reads_as_one(written: Callable[[str], str]) -> None:
    """From arrival to handing over, under the stages' headings; what was reached of the task put off is there too."""
    text = written("visit_put_off")
    assert headings(text) == [
        *("Arrival", "Stop it", "Isolate it", "Task: Air filter", "Let it cool", "Task: Coolant", "Task: Belt"),
        *("Close it up", "Handing over"),
    ]
    told = Page(text).text
    assert "Complete: all 10 steps. Put off: Air filter." in told
    assert "Air filter, and it stays due. Reason: part is missing." in told[: told.index("The visit as planned")]
    assert "Planned anew at 08:00:00. Air filter is put off: part is missing." in told
    assert told.index("The visit as planned") < told.index("Due next") < told.index("In time order.")


def test_each_stage_says_what_became_of_it_and_why_it_stands_there(written: Callable[[str], str]) -> None:
    rows = table_after(written("visit_put_off"), "The visit as planned")
    assert [row[1] for row in rows] == [
        *("Arrival", "Stop it", "Isolate it", "Let it cool", "Task: Coolant", "Task: Belt", "Close it up"),
        *("Handing over", "Task: Air filter"),
    ]
    assert {row[2] for row in rows[:-1]} == {"Done in 0 s"}  # the clock of a dialogue stands still
    assert rows[-1][2] == "put off at 08:00:00: part is missing"
    assert rows[5][3] == "After coolant: nothing may drip on a new belt."


def test_an_added_task_and_what_was_not_done(written: Callable[[str], str]) -> None:
    text = written("visit_add_task")
    became = {row[1]: row[2] for row in table_after(text, "The visit as planned")}
    assert became["Task: Air filter"] == "Done in 0 s. Added: it was found worn"
    assert became["Task: Coolant"] == "not done but begun"
    assert became["Handing over"] == "not done"
    assert "Broken off and not ended" in text


def test_a_stage_that_is_gone_back_to_says_so(written: Callable[[str], str]) -> None:
    assert headings(written("visit_restart"))[2:] == [
        *("Isolate it", "Task: Air filter", "Task: Belt", "Isolate it, continued", "Task: Belt, continued"),
        *("Close it up", "Handing over"),
    ]


def test_what_is_due_next_stands_by_hours_and_by_date(written: Callable[[str], str]) -> None:
    """205 h on 2026-03-02: every 1000 h or 24 months, every 180 h, every 24 months. What was done stands first."""
    rows = [row[:5] for row in table_after(written("visit_put_off"), "Due next")]
    assert rows == [
        ["Coolant", "done", "1205 h", "2 March 2028", "later"],
        ["Belt", "done", "–", "2 March 2028", "later"],
        ["Air filter", "put off", "–", "–", "due"],
    ]


def test_the_page_of_a_planned_visit_is_accessible(written: Callable[[str], str]) -> None:
    page = Page(written("visit_put_off"))
    assert len(page.all("table")) == len(page.all("caption")) == len(page.all("thead")) == 8
    assert all(header.get("scope") for header in page.all("th"))
    identifiers = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(identifiers) == len(set(identifiers))


def test_old_sessions_keep_their_three_parts() -> None:
    text = html(record(read_lines(samples.eventful_visit().data)), {})
    assert list(dict.fromkeys(headings(text))) == ["Before the work", "The work", "Putting back into service"]
    assert "The visit as planned" not in text
    assert "Due next" not in text


# --- from a session folder -----------------------------------------------------------------------------------


def test_export_writes_a_page_beside_the_sounds(tmp_path: Path) -> None:
    session = samples.eventful_visit().save(tmp_path / "session")
    written = export_html(session)
    assert written == session / "record.html"
    page = Page(written.read_text(encoding="utf-8"))
    assert "Some files of this session" not in page.text
    for player in page.all("audio"):
        assert (session / (player["src"] or "")).is_file()
    again = written.read_bytes()
    assert export_html(session).read_bytes() == again


def test_files_that_are_missing_or_changed_are_named(tmp_path: Path) -> None:
    session = samples.eventful_visit().save(tmp_path / "session")
    first, second = sorted((session / "clips").iterdir())[:2]
    first.unlink()
    second.write_bytes(b"other")
    (session / "procedures" / "equipment.yaml").write_text("changed")
    (session / "procedures" / "oil-and-filter.yaml").unlink()
    text = Page(export_html(session).read_text(encoding="utf-8")).text
    assert f"The sound {first.stem[:12]} is not in the session folder." in text
    assert f"The sound {second.stem[:12]} was changed: it does not fit its hash. It is not linked." in text
    assert "The copy of the procedure file equipment.yaml was changed" in text
    assert "The copy of the procedure file oil-and-filter.yaml is not in the session folder." in text
    assert f'src="clips/{second.name}"' not in (session / "record.html").read_text(encoding="utf-8")


def test_a_torn_last_line_is_told(tmp_path: Path) -> None:
    pen = samples.plain_visit()
    pen.data = pen.data[:-30]
    text = Page(export_html(pen.save(tmp_path / "session")).read_text(encoding="utf-8")).text
    assert "The last line of the journal was never completed" in text
    assert "Broken off and not ended" in text


@pytest.mark.parametrize("line", [2, 5, 40])
def test_a_damaged_journal_is_shown_as_far_as_it_holds(line: int, tmp_path: Path) -> None:
    """Of everything behind one damaged line nothing was shown."""
    pen = samples.eventful_visit()
    lines = pen.data.splitlines(keepends=True)
    lines[line - 1] = lines[line - 1].replace(b"7", b"8", 1)
    pen.data = b"".join(lines)
    text = Page(export_html(pen.save(tmp_path / "session")).read_text(encoding="utf-8")).text
    assert f"journal.jsonl, line {line}: the line is damaged" in text
    assert f"This record shows the {len(lines) - 1} lines that can be verified, and where the gaps are." in text
    assert f"Here the journal has a gap: the line is damaged: its hash does not fit its text (line {line}" in text
    assert "Lines lost: 1." in text


def test_a_journal_without_its_first_line_is_shown(tmp_path: Path) -> None:
    """Nothing of it was shown, although every other line could be verified."""
    pen = samples.eventful_visit()
    pen.data = pen.data[pen.data.index(b"\n") + 1 :]
    text = Page(export_html(pen.save(tmp_path / "session")).read_text(encoding="utf-8")).text
    assert "not known" in text
    assert "a line before it is missing" in text
    judged = record(read_what_holds(pen.data))
    assert judged.counts.left_open >= 0, "it counted below zero"
    assert judged.counts.steps == len(judged.steps) + judged.counts.passed_over


def test_a_link_is_no_sound_of_the_session(tmp_path: Path) -> None:
    """A link among the sounds was followed, wherever it led."""
    session = samples.eventful_visit().save(tmp_path / "session")
    first = min((session / "clips").iterdir())
    first.rename(tmp_path / "elsewhere")
    first.symlink_to(tmp_path / "elsewhere")
    text = Page(export_html(session).read_text(encoding="utf-8")).text
    assert f"The sound {first.stem[:12]} is not in the session folder." in text


def test_a_record_is_written_through_no_link_and_into_no_pipe(tmp_path: Path) -> None:
    """A file outside the session was overwritten through a link, and a pipe was waited for."""
    session = samples.plain_visit().save(tmp_path / "session")
    (tmp_path / "letter").write_text("mine")
    (session / "record.html").symlink_to(tmp_path / "letter")
    with pytest.raises(RecordError, match="no file stands in the record's place"):
        export_html(session)
    assert (tmp_path / "letter").read_text() == "mine"
    (session / "record.html").unlink()
    os.mkfifo(session / "record.html")
    with pytest.raises(RecordError, match="no file stands in the record's place"):
        export_html(session)


def test_sounds_without_a_line_are_told(tmp_path: Path) -> None:
    """Lines that were cut off the end of a journal left sounds behind, and nothing was said of them."""
    pen = samples.eventful_visit()
    lines = pen.data.splitlines(keepends=True)
    pen.data = b"".join(lines[: len(lines) // 2])
    text = Page(export_html(pen.save(tmp_path / "session")).read_text(encoding="utf-8")).text
    assert "to no line of the journal: lines may be missing." in text


def test_a_page_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a full disk half a page took the place of the one that was there."""
    session = samples.plain_visit().save(tmp_path / "session")
    before = export_html(session).read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("assistant.edge.files.access.os.fsync", full)
    with pytest.raises(RecordError, match="No space left"):
        export_html(session)
    assert (session / "record.html").read_bytes() == before
    assert [path.name for path in session.iterdir() if path.name.endswith(".part")] == []


@pytest.mark.parametrize(
    ("content", "cause", "remedy"),
    [
        (None, "no journal.jsonl", "Name the folder"),
        (b"", "no whole line", "Restore"),
        (b"nonsense\n", "line 1: the line is damaged", "Restore"),
    ],
)
def test_a_folder_that_is_no_session(content: bytes | None, cause: str, remedy: str, tmp_path: Path) -> None:
    if content is not None:
        (tmp_path / "journal.jsonl").write_bytes(content)
    with pytest.raises(RecordError) as caught:
        export_html(tmp_path)
    assert cause in caught.value.cause
    assert remedy in caught.value.remedy
    assert not (tmp_path / "record.html").exists()


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="no such folder"):
        export_html(tmp_path / "nowhere")


def test_a_name_in_the_journal_reaches_no_file_outside_the_session(tmp_path: Path) -> None:
    """A journal from elsewhere must not make the export read other files."""
    pen = samples.Pen()
    outside = i.ProcedureCopy("../../secret.yaml", "0" * 64)
    order = i.Order("a", "b", "technician", ("t",), (outside,), False)
    pen.write(i.WorkOrdered(order), f.WorkTakenUp(order, "Work", 1))
    (tmp_path / "secret.yaml").write_text("x")
    session = pen.save(tmp_path / "session")
    text = Page(export_html(session).read_text(encoding="utf-8")).text
    assert "secret.yaml is not in the session folder" in text
    assert "Demonstration data" not in text

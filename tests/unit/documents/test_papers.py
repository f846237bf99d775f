"""Papers of a small plan: what they say, how they look, and that they say it again."""

import io
import re
from dataclasses import replace
from zipfile import ZipFile

import numpy as np
import openpyxl
import pypdf
import pypdfium2
import pytest

from tests.unit.documents.made import retold, squeezed, text_by_other, text_of
from towerlift.checks import ALL_LIMITS
from towerlift.documents import binder, pictures
from towerlift.documents.binder import lists_of, paper_files, write_documents
from towerlift.documents.edition import CAUTION, Edition, PageSize, content_hash
from towerlift.documents.fonts import printable, unprintable
from towerlift.documents.holds import HOLD_POINTS, NOT_RELEASED
from towerlift.documents.lift_plan import FRONT, lift_plan
from towerlift.documents.lock_papers import lock_certificates
from towerlift.documents.page import paper_html
from towerlift.documents.press import press_pdf
from towerlift.documents.sheets import xlsx_bytes
from towerlift.documents.stage_cards import stage_cards
from towerlift.documents.summary import client_summary
from towerlift.drawings.lengths import Measure
from towerlift.findings import Bound, Finding, Limit, Overrule, Verdict
from towerlift.plan.paperwork import Arrangement, Signed
from towerlift.plan.work import Person
from towerlift.programme.holds import HOLD_POINTS as NEEDED

SHORT = Finding(
    check="clearance",
    subject="brace foot & <ledge>",
    stage="",
    heel=9.1,
    where=None,
    limit=Limit(value=31.0, unit="mm", bound=Bound.AT_LEAST, source="budget, said by hand"),
    value=11.0,
    why="the foot passes the ledge",
    remedy=("pare 50 mm off the foot", "move the plumb line"),
)
UNKNOWN = replace(SHORT, subject="something unheard of", value=None, why="no wind was given")
HELD = replace(
    SHORT,
    subject="bury held to less",
    overrule=Overrule(
        limit=Limit(value=10.0, unit="mm", bound=Bound.AT_LEAST, source="overruled"),
        by="Tobin Vale, engineer",
        note="by a sum that stands here in full",
    ),
)


def test_every_page_names_plan_content_and_caution(edition, printed):
    for name, pdf in printed.items():
        for number, text in enumerate(text_of(pdf), start=1):
            assert edition.plan.name in text, (name, number)
            assert f"content {edition.content}" in text, (name, number)
            assert squeezed(CAUTION) in squeezed(text), (name, number)


def test_every_page_has_a_number(printed):
    for pdf in printed.values():
        pages = text_of(pdf)
        for number, text in enumerate(pages, start=1):
            assert f"page {number} of {len(pages)}" in text


def rendered(pdf, scale=1.0):
    document = pypdfium2.PdfDocument(pdf)
    for number in range(len(document)):
        yield np.asarray(document[number].render(scale=scale).to_pil().convert("L"))


def test_no_page_is_empty_and_nothing_runs_off_it(printed):
    for name, pdf in printed.items():
        for number, page in enumerate(rendered(pdf), start=1):
            ink = page < 200
            height, width = page.shape
            body = ink[int(0.08 * height) : int(0.92 * height)]
            assert body.mean() > 0.001, (name, number)
            edge = int(0.02 * width)
            rim = [ink[:edge], ink[-edge:], ink[:, :edge], ink[:, -edge:]]
            assert not any(part.any() for part in rim), (name, number)


def test_the_lift_plan_tells_every_limit_with_its_source(edition, printed):
    text = squeezed("".join(text_by_other(printed["lift-plan"])))
    chosen = {each.limit: each.source for each in edition.plan.limits}
    for limit in ALL_LIMITS:
        assert squeezed(printable(limit.name)) in text, limit.name
        source = chosen.get(limit.name, limit.source)
        assert squeezed(printable(source)) in text, limit.name


def test_what_does_not_pass_is_told_in_full(outcome):
    told = Edition(outcome=replace(outcome, findings=(SHORT, UNKNOWN, *outcome.findings)))
    pages = text_by_other(press_pdf(lift_plan(told, parts=("Findings",)), told))
    whole = squeezed("".join(pages))
    for words in ("11 mm", "at least 31 mm", "20 mm short", "budget, said by hand",
                  "brace foot & <ledge>", "pare 50 mm off the foot", "move the plumb line",
                  "NOT EVALUATED clearance: something unheard of",
                  "no wind was given"):  # fmt: skip
        assert squeezed(words) in whole, words
    for text in pages:
        assert "DO NOT LIFT on this plan: 1 fail, 1 not evaluated" in text


def test_an_overrule_is_told_with_name_and_note(outcome):
    told = Edition(outcome=replace(outcome, findings=(HELD, *outcome.findings)))
    paper = lift_plan(told, parts=("Limits and overrules",))
    whole = squeezed("".join(text_by_other(press_pdf(paper, told))))
    for words in ("OVERRULED", "Tobin Vale, engineer", "by a sum that stands here in full"):
        assert squeezed(words) in whole, words


def test_nothing_checked_is_no_pass(outcome):
    told = Edition(outcome=replace(outcome, findings=()))
    for paper in (lift_plan(told, parts=(FRONT, "Findings")), client_summary(told)):
        for text in text_of(press_pdf(paper, told)):
            assert "DO NOT LIFT on this plan: nothing was checked" in text


def test_the_summary_is_one_page(printed):
    assert len(text_of(printed["summary"])) == 1


def signed(edition, stage, **changes):
    by = edition.plan.people[0].name
    return tuple(
        Signed.model_validate(
            {"hold_point": mark, "stage": stage.name, "by": by,
             "at": "2027-05-04T07:45:00-02:00"} | changes
        )
        for mark in stage.hold_points
    )  # fmt: skip


def with_holds(outcome, **changes):
    """A plan whose first stage is held by two points, and its edition."""
    first, *others = outcome.plan.stages
    held = first.model_copy(update={"hold_points": ("H1", "H3")})
    return retold(outcome, stages=(held, *others), **changes), held


def card_pages(told, stage):
    paper = stage_cards(told)
    named = (f"Stage {stage.name}:", f"Stage {stage.name},")
    leaves = tuple(leaf for leaf in paper.leaves if leaf.title.startswith(named))
    return text_of(press_pdf(replace(paper, leaves=leaves), told)), leaves[0]


def test_a_card_with_an_unsigned_hold_point_is_stamped(outcome):
    changed, held = with_holds(outcome)
    pages, leaf = card_pages(Edition(outcome=changed), held)
    assert leaf.stamp == NOT_RELEASED
    for text in pages:
        assert squeezed(NOT_RELEASED) in squeezed(text)
    assert squeezed("not signed: H1, H3") in squeezed(pages[0])
    assert squeezed(HOLD_POINTS["H3"]) in squeezed("".join(pages))


def test_one_signature_of_two_does_not_release(outcome):
    changed, held = with_holds(outcome)
    one = signed(Edition(outcome=changed), held)[:1]
    told = Edition(outcome=retold(changed, signatures=one))
    pages, _ = card_pages(told, held)
    assert squeezed("not signed: H3") in squeezed(pages[0])
    assert "H1, H3" not in pages[0]


@pytest.mark.parametrize("content", ["", "own"])
def test_all_signed_releases_and_tells_who_and_when(outcome, content):
    changed, held = with_holds(outcome)
    before = Edition(outcome=changed)
    mark = before.content if content else ""
    told = Edition(outcome=retold(changed, signatures=signed(before, held, content=mark)))
    assert told.outcome.passes
    pages, leaf = card_pages(told, held)
    assert leaf.stamp == ""
    whole = squeezed("".join(pages))
    assert squeezed(NOT_RELEASED) not in whole
    assert squeezed(told.plan.people[0].name) in whole
    assert squeezed("2027-05-04 07:45") in whole


def test_a_signature_for_another_content_does_not_count(outcome):
    changed, held = with_holds(outcome)
    other = signed(Edition(outcome=changed), held, content="0123456789ab")
    pages, leaf = card_pages(Edition(outcome=retold(changed, signatures=other)), held)
    assert leaf.stamp == NOT_RELEASED
    assert squeezed("signed for content 0123456789ab") in squeezed("".join(pages))


def test_signatures_do_not_release_a_plan_that_fails(outcome):
    changed, held = with_holds(outcome)
    signatures = signed(Edition(outcome=changed), held)
    failing = replace(
        retold(changed, signatures=signatures), findings=(SHORT, *outcome.findings)
    )
    _, leaf = card_pages(Edition(outcome=failing), held)
    assert leaf.stamp == NOT_RELEASED
    assert "the plan does not pass its checks" in leaf.because


def test_a_haul_without_hold_points_is_not_released(outcome):
    stages = tuple(s.model_copy(update={"hold_points": ()}) for s in outcome.plan.stages)
    told = Edition(outcome=retold(outcome, stages=stages))
    moving = {p.stage for p in outcome.raise_.moving_passages}
    stamped = {leaf.title.split(",")[0].split(":")[0] for leaf in stage_cards(told).leaves
               if leaf.stamp == NOT_RELEASED}  # fmt: skip
    assert stamped == {f"Stage {stage.name}" for stage in stages if stage.name in moving}


def test_hold_points_are_those_that_a_programme_asks_for():
    assert HOLD_POINTS.keys() == NEEDED.keys()


def test_drawings_beside_the_papers_name_their_plan(edition):
    name, drawing = next(iter(pictures.drawings_of(edition, ())))
    files = dict(binder.drawing_files(edition, drawing))
    assert name.startswith("elevation")
    dxf = files["dxf"].decode("utf-8")
    # 6 is metres, by the format's own table of insertion units.
    assert re.search(r"\$INSUNITS\s+70\s+6\s", dxf)
    for content in (dxf, files["svg"].decode("utf-8")):
        assert edition.content in content


def test_a_drawing_is_the_same_from_run_to_run(edition):
    _, drawing = next(iter(pictures.drawings_of(edition, ())))
    dxf = dict(binder.drawing_files(edition, drawing))["dxf"].decode("utf-8")
    # The order of a set changes with every start of Python.
    classes = re.findall(r"\n *0\r?\nCLASS\r?\n *1\r?\n(\w+)", dxf)
    assert len(classes) > 3
    assert classes == sorted(classes)


def test_letters_of_cards_are_14_points_at_least(printed):
    reader = pypdf.PdfReader(io.BytesIO(printed["crew-cards"]))
    page = reader.pages[0]
    height, sizes = float(page.mediabox.height), []

    def seen(text, cm, tm, _font, size):
        y = cm[5] + tm[5] * cm[3] if cm[3] else tm[5]
        if text.strip() and 0.08 * height < y < 0.93 * height:
            sizes.append(size * abs(tm[3]) * abs(cm[3] or 1.0))

    page.extract_text(visitor_text=seen)
    assert len(sizes) > 10
    assert min(sizes) >= 13.99


def first_two(edition, benches):
    """The first two drawings only."""
    return list(pictures.drawings_of(edition, benches))[:2]


def test_the_same_plan_gives_the_same_bytes(outcome, papers, printed, monkeypatch):
    # Every paper is built again from nothing; all are held so on the Tidewatch.
    again = Edition(outcome=outcome)
    some = (client_summary, stage_cards, lock_certificates)
    monkeypatch.setattr(binder, "PAPERS", some)
    monkeypatch.setattr(binder, "drawings_of", first_two)
    once, twice = dict(paper_files(again)), dict(paper_files(Edition(outcome=outcome)))
    assert once.keys() == twice.keys()
    assert [name for name in once if once[name] != twice[name]] == []
    for name in ("summary", "stage-cards", "lock-certificates"):
        assert once[f"{name}.pdf"] == printed[name]
    assert all(b"/CreationDate" not in content for content in once.values())
    assert sum(name.endswith(".dxf") for name in once) == 2


def test_any_figure_changes_the_mark_and_a_signature_does_not(outcome):
    plan = outcome.plan
    mark = content_hash(plan, ())
    line = plan.plumb_line.model_copy(update={"x": plan.plumb_line.x + 1e-6})
    assert content_hash(plan.model_copy(update={"plumb_line": line}), ()) != mark
    given = signed(Edition(outcome=outcome), with_holds(outcome)[1])
    assert content_hash(plan.model_copy(update={"signatures": given}), ()) == mark


@pytest.mark.parametrize(
    ("page", "size"), [(PageSize.A4, (595.3, 841.9)), (PageSize.LETTER, (612.0, 792.0))]
)
def test_sizes_of_paper(outcome, page, size):
    told = Edition(outcome=outcome, page=page)
    box = pypdf.PdfReader(io.BytesIO(press_pdf(client_summary(told), told))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.5)


def test_feet_and_inches(outcome):
    told = Edition(outcome=outcome, measure=Measure.FEET)
    parts = ("The tower and where it hangs", "Stages", "Limits and overrules")
    whole = " ".join(text_of(press_pdf(lift_plan(told, parts=parts), told)))
    assert "[mm]" not in whole
    assert "[kg]" not in whole
    assert "[lb]" in whole
    # 0.8 m of lift left is 2 ft 7.496 in, to a sixteenth 2' 7 1/2".
    assert "2' 7 1/2\" (0.8 m)" in whole


def test_no_cell_runs_as_a_formula(evil):
    papers, told = evil
    content = xlsx_bytes(lists_of(papers, told))
    book = openpyxl.load_workbook(io.BytesIO(content))
    cells = [c for sheet in book for row in sheet.iter_rows() for c in row]
    assert {"=HYPERLINK(1)", "@SUM(1)"} <= {cell.value for cell in cells}
    assert [cell.value for cell in cells if cell.data_type == "f"] == []
    with ZipFile(io.BytesIO(content)) as archive:
        sheets = [n for n in archive.namelist() if "worksheets" in n]
        assert all(b"<f>" not in archive.read(name) for name in sheets)


def test_the_workbook_holds_every_finding(edition, papers):
    book = openpyxl.load_workbook(
        io.BytesIO(xlsx_bytes(lists_of(tuple(papers.values()), edition)))
    )
    sheet = book["findings"]
    subjects = {row[2].value for row in sheet.iter_rows(min_row=2)}
    assert {f.subject for f in edition.outcome.findings} <= subjects
    assert {Verdict.PASS} == {f.verdict for f in edition.outcome.findings}


def test_words_of_a_plan_are_only_words_in_html(evil):
    papers, told = evil
    for paper in papers:
        html = paper_html(paper, told)
        for tag in ("<script", "<img", "</title><b>"):
            assert tag not in html, paper.name
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html, paper.name
        assert "&amp;lt;" in html


@pytest.mark.parametrize(
    "words",
    [
        "#let x = 1",
        "$a^2$ *bold* _low_",
        "@ref <label>",
        '#image("x.svg")',
        '\\ ] } #eval("1")',
    ],
)
def test_words_of_a_plan_are_only_words_for_the_typesetter(outcome, words):
    told = Edition(outcome=retold(outcome, note=words))
    paper = lift_plan(told, parts=(FRONT,))
    whole = squeezed("".join(text_of(press_pdf(paper, told))))
    assert squeezed(words) in whole


SCRIPTS = {
    "accents": "Zoë Łukasiewicz Ñandú",
    "macrons": "Ōtāne Wāhirere",
    "chinese": "海塔先生",
    "japanese": "ひがし カナ",
    "korean": "종탑지기",
    "greek": "Ὀδυσσεύς",
    "cyrillic": "Ярославъ",
    "hebrew": "מגדל",
    "arabic": "برج",
    "devanagari": "मीनार",
    "thai": "หอคอย",
}


@pytest.mark.parametrize("script", SCRIPTS)
def test_names_in_any_script_print_or_are_told(outcome, script):
    name = SCRIPTS[script]
    people = (*outcome.plan.people, Person(name=name, role="framer"))
    told = Edition(outcome=retold(outcome, people=people))
    missing = unprintable([name])
    if missing:
        # Not silently: at the head of every paper, and as a number where it stands.
        assert "[U+" in printable(name)
        return
    pdf = press_pdf(lift_plan(told, parts=(FRONT,)), told)
    assert used_glyphs(pdf, name) > 0


def used_glyphs(pdf, name):
    """Letters of a name that a PDF's fonts map back to text; none may be missing."""
    text = "".join(text_of(pdf))
    letters = {letter for letter in name if letter.isalnum()}
    return sum(letter in text for letter in letters)


def test_a_letter_without_a_font_is_never_silent(evil):
    papers, told = evil
    for paper in papers:
        first, *_ = paper.leaves
        assert first.blocks[0].words.startswith("NOT PRINTED"), paper.name
        assert "U+10FFFD" in first.blocks[0].words
    assert "U+10FFFD" in text_of(press_pdf(papers[0], told))[0]


def test_a_name_cannot_turn_the_line_round():
    assert printable("pass \u202elliaf") == "pass [U+202E]lliaf"
    assert printable("a\u0000b") == "a[U+0000]b"
    assert printable("plain") == "plain"


def test_files_are_written_and_not_over_others(edition, tmp_path, monkeypatch):
    monkeypatch.setattr(binder, "PAPERS", (client_summary,))
    monkeypatch.setattr(binder, "drawings_of", lambda edition, benches: [])
    paths = write_documents(edition, tmp_path / "papers")
    assert all(path.stat().st_size > 500 for path in paths)
    first = paths[0].read_bytes()
    paths[0].write_bytes(b"mine")
    with pytest.raises(FileExistsError, match="--replace"):
        write_documents(edition, tmp_path / "papers")
    assert paths[0].read_bytes() == b"mine"
    write_documents(edition, tmp_path / "papers", replace=True)
    assert paths[0].read_bytes() == first


def test_what_is_not_arranged_is_asked_for(outcome):
    asked = Edition(outcome=outcome)
    parts = ("Arrangements and requirements",)
    whole = squeezed("".join(text_of(press_pdf(lift_plan(asked, parts=parts), asked))))
    assert squeezed("NOT ANSWERED in the plan: hospital route") in whole
    by = outcome.plan.people[0].name
    said = Arrangement(about="hospital route", words="By the quay road.", by=by)
    told = Edition(outcome=retold(outcome, arrangements=(said,)))
    whole = squeezed("".join(text_of(press_pdf(lift_plan(told, parts=parts), told))))
    assert squeezed("By the quay road.") in whole
    assert squeezed("NOT ANSWERED in the plan: hospital route") not in whole

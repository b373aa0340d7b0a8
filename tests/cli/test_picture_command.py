"""`picture`, `sheet`, `report` and `template` as a builder runs them."""

import re
import subprocess
import sys

import ezdxf
import pypdfium2
import pytest
from defusedxml import ElementTree

from tests.cli.builds import PILOT
from tests.cli.commands import SAMPLES
from tests.makers import plate_drawing, row_of, save
from tests.pictures import png_size

DRAWING = SAMPLES / "fl-110.dxf"
DRAWERS = ("reportlab", "pypdfium2", "PIL", "ezdxf", "numpy")


def words_of(path):
    """Texts of an SVG file."""
    root = ElementTree.parse(path).getroot()
    return [e.text for e in root.iter("{http://www.w3.org/2000/svg}text")]


def pdf_words(path):
    document = pypdfium2.PdfDocument(path)
    try:
        return [page.get_textpage().get_text_bounded() for page in document]
    finally:
        document.close()


# Of a drawing ----------------------------------------------------------------------------------


def test_a_bare_drawing_is_drawn_by_verdict_without_a_build(command, tmp_path):
    out = tmp_path / "cover.svg"
    ran = command("picture", DRAWING, out)
    assert (ran.status, ran.out) == (0, f"{out}: picture of {DRAWING}.\n")
    assert {"X2-X3  CLOSE", "spacing 0.3250 in", "close: 2", "FL-110"} <= set(words_of(out))


@pytest.mark.parametrize("kind", ["pdf", "png", "html", "dxf"])
def test_the_name_of_the_file_says_what_it_is_to_be(command, tmp_path, kind):
    out = tmp_path / f"cover.{kind}"
    assert command("picture", DRAWING, out).status == 0
    if kind == "pdf":
        (text,) = pdf_words(out)
        assert "CLOSE" in text
    elif kind == "png":
        assert min(png_size(out)) > 1000
    elif kind == "html":
        assert "X2-X3  CLOSE" in out.read_text(encoding="utf-8")
    else:
        assert ezdxf.readfile(out).modelspace().query('CIRCLE[layer=="HOLES-CLOSE"]').first


def test_paper_is_chosen_for_a_pdf(command, tmp_path):
    for paper, size in (("letter", (612, 792)), ("a4", (595, 842))):
        out = tmp_path / f"{paper}.pdf"
        assert command("picture", DRAWING, out, "--paper", paper).status == 0
        document = pypdfium2.PdfDocument(out)
        assert sorted(round(side) for side in document[0].get_size()) == list(size)
        document.close()


def test_options_of_a_drawing_count(command, tmp_path):
    out = tmp_path / "cover.svg"
    assert command("picture", DRAWING, out, "--head", "flush", "--rivet", "1/8").status == 0
    assert any(word.endswith("SHORT") for word in words_of(out))


def test_a_drawing_of_several_parts_has_to_be_told_which(command, tmp_path):
    out, drawing = tmp_path / "skeg.svg", SAMPLES / "fl-112.dxf"
    complaint = command("picture", drawing, out).complaint_only()
    assert complaint == (
        f"holeschedule: {drawing}: shows 2 parts. Say which with --part, 1 from the left."
    )
    assert command("picture", drawing, out, "--part", "2").status == 0
    assert "FL-112.2" in words_of(out)


@pytest.mark.parametrize(
    ("options", "complaint"),
    [
        (("--view", "state"), "--view state: {} is a drawing, to which no work was done."),
        (("--copy", "2"), "--copy: {} is a drawing, to which no work was done."),
        (("--times", "5"), "--times is for joints; {} is none."),
        (("--rules", "no-such"), "--rules: "),
        (("--part", "3"), "{}: no part 3: the drawing has 1 part."),
    ],
)
def test_an_option_that_does_not_fit_a_drawing_is_refused(command, tmp_path, options, complaint):
    out = tmp_path / "cover.svg"
    said = command("picture", DRAWING, out, *options).complaint_only()
    assert said.startswith(f"holeschedule: {complaint.format(DRAWING)}")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["cover.gif", "cover", "cover.svg.bak"])
def test_a_file_of_another_kind_is_refused_with_the_choices(command, tmp_path, name):
    said = command("picture", DRAWING, tmp_path / name).complaint_only()
    assert "choose from .dxf, .html, .pdf, .png, .svg" in said
    assert not list(tmp_path.iterdir())


def test_a_file_that_cannot_be_written_is_one_line_and_nothing_is_left(command, tmp_path):
    out = tmp_path / "missing" / "cover.svg"
    said = command("picture", DRAWING, out).complaint_only()
    assert said.startswith(f"holeschedule: {out}: cannot be written (")
    assert not list(tmp_path.iterdir())


def test_a_picture_that_was_there_stays_if_the_new_one_cannot_be_drawn(command, tmp_path):
    out = tmp_path / "cover.svg"
    out.write_text("old", encoding="utf-8")
    (tmp_path / "bad.dxf").write_text("not a drawing", encoding="ascii")
    assert command("picture", tmp_path / "bad.dxf", out).status == 2
    assert out.read_text(encoding="utf-8") == "old"


def test_a_missing_hole_is_pointed_at(command, tmp_path):
    out = tmp_path / "bulkhead.svg"
    assert command("picture", SAMPLES / "fl-104.dxf", out).status == 0
    assert {"A5-A6  GAP", "a hole may be missing"} <= set(words_of(out))


# Of a part -------------------------------------------------------------------------------------


def test_a_part_of_a_build_is_drawn_by_what_was_done_to_it(shop, tmp_path):
    shop.bring(diameter=PILOT)
    shop("mark", "P-1:A1-A3", "match-drill")
    shop("mark", "P-1:A1-A2", "deburr")
    shop("reject", "P-1:A3", "elongated")
    out = tmp_path / "p.svg"
    assert shop("picture", "P-1", out).status == 0
    words = set(words_of(out))
    assert {"pilot: 7", "deburred: 2", "rejected: 1", "A3  REJECTED", "elongated"} <= words
    assert shop("picture", "P-1", out, "--view", "verdict").status == 0
    assert "ok: 10" in words_of(out)


def test_the_copy_that_is_asked_for_is_drawn(shop, tmp_path):
    shop.bring("p-1.dxf", "--quantity", "3")
    shop("mark", "P-1#2", "deburr")
    out = tmp_path / "p.svg"
    for asked, title, state in (
        (("P-1",), "P-1#1", "at final size: 10"),
        (("P-1#2",), "P-1#2", "deburred: 10"),
        (("P-1", "--copy", "2"), "P-1#2", "deburred: 10"),
    ):
        assert shop("picture", asked[0], out, *asked[1:]).status == 0
        assert {title, state} <= set(words_of(out))
    said = shop("picture", "P-1", out, "--copy", "4").complaint_only()
    assert "P-1 has no copy 4; there are copies 1 to 3" in said


def test_a_mirrored_part_is_drawn_as_it_is_made(shop, tmp_path):
    shop.bring("p-1.dxf", "--mirror")
    out = tmp_path / "p.svg"
    assert shop("picture", "P-1", out).status == 0
    assert {"the side drawn; mirror image", "turned over"} <= set(words_of(out))
    assert shop("picture", "P-1", out, "--flip").status == 0
    assert "the other side; mirror image" in words_of(out)
    assert "turned over" not in words_of(out)


def test_a_part_that_is_not_there_is_told_with_those_that_are(shop, tmp_path):
    shop.bring()
    said = shop("picture", "P-2", tmp_path / "p.svg").complaint_only()
    assert said == "holeschedule: selection 'P-2': there is no part P-2; the parts are P-1."
    assert "write FL-101 or FL-107#2" in shop("picture", "J1,J2", tmp_path / "p.svg").complaint


def test_options_of_a_drawing_are_refused_for_a_part(shop, tmp_path):
    shop.bring()
    said = shop("picture", "P-1", tmp_path / "p.svg", "--part", "1").complaint_only()
    assert said == (
        "holeschedule: --part is for drawings; of a part in a build build.toml says it."
    )


# Of a joint ------------------------------------------------------------------------------------


def joined(shop, shift=0.0):
    shop.bring("p-1.dxf", "--thickness", "0.032")
    holes = [(x + shift * x, y) for x, y in row_of(0.5, 0.5, 0.75, 5)]
    save(plate_drawing(holes=holes), shop.sheets, "q-1.dxf")
    shop("import", shop.sheets / "q-1.dxf", "--thickness", "0.025")
    ran = shop("join", "J1", "P-1:A", "Q-1:A", "--by", "Q-1:A1=A1,A5=A5", "--no-flip", "Q-1")
    assert "Recorded" in ran.out or ran.status in (0, 1), ran.err


def test_a_joint_is_drawn_with_its_layers_and_offsets(shop, tmp_path):
    joined(shop)
    out = tmp_path / "j.svg"
    ran = shop("picture", "J1", out, "--times", "20")
    assert (ran.status, ran.err) == (0, "")
    words = set(words_of(out))
    assert {"J1", "P-1 0.032 in", "Q-1 0.025 in", "drawn 20 times their length"} <= words


def test_a_joint_that_is_not_there_is_told(shop, tmp_path):
    shop.bring()
    said = shop("picture", "J7", tmp_path / "j.svg").complaint_only()
    assert said == ("holeschedule: there is no joint J7, nor any other. Define one with `join`.")


def test_options_of_parts_are_refused_for_a_joint(shop, tmp_path):
    joined(shop)
    said = shop("picture", "J1", tmp_path / "j.svg", "--flip").complaint_only()
    assert said == "holeschedule: --flip is for parts; J1 is a joint."
    assert "choose from .html, .pdf, .png, .svg" in shop("picture", "J1", "j.dxf").complaint_only()


# Sheet, template, report -----------------------------------------------------------------------


def test_a_sheet_has_a_box_for_each_hole_and_operation(shop, tmp_path):
    shop.bring("p-1.dxf", "--finish", "prime")
    shop("mark", "P-1:A", "deburr")
    out = tmp_path / "p.pdf"
    ran = shop("sheet", "P-1", out)
    assert (ran.status, ran.out) == (0, f"{out}: P-1 on 1 sheet of letter paper.\n")
    (text,) = pdf_words(out)
    assert set(re.findall("prime|deburr|rivet 3/32", text)) == {"prime", "deburr", "rivet 3/32"}
    said = shop("sheet", "P-1", tmp_path / "p.svg").complaint_only()
    assert "choose from .pdf" in said


def test_a_template_says_how_many_sheets_it_takes(command, tmp_path):
    out = tmp_path / "t.pdf"
    ran = command("template", SAMPLES / "fl-101.dxf", out, "--paper", "a4")
    assert ran.status == 0
    assert ran.out == (
        f"{out}: {SAMPLES / 'fl-101.dxf'} full size on 6 sheets of a4 paper. Print at 100 %, and"
        " measure the check bars before use.\n"
    )
    assert len(pdf_words(out)) == 6


def test_a_report_has_the_build_on_one_page_and_no_note_becomes_markup(shop, tmp_path):
    shop.bring()
    shop("mark", "P-1:A", "deburr", "--note", "<script>alert('x')</script> & more")
    shop("mark", "P-1:B", "deburr", "--by", "<b>Bo</b>")
    out = tmp_path / "r.html"
    assert shop("report", out).status == 0
    html = out.read_text(encoding="utf-8")
    assert "<script" not in html
    assert "<b>" not in html
    assert "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; more" in html
    assert "P-1:A deburr" in html
    assert html.count("<svg") == 1


def test_a_report_of_a_build_without_parts_says_so(shop, tmp_path):
    out = tmp_path / "r.html"
    assert shop("report", out).status == 0
    assert "There are no parts yet." in out.read_text(encoding="utf-8")


def test_copies_that_are_alike_share_a_picture(shop, tmp_path):
    shop.bring("p-1.dxf", "--quantity", "4")
    shop("mark", "P-1#3", "deburr")
    out = tmp_path / "r.html"
    assert shop("report", out).status == 0
    assert out.read_text(encoding="utf-8").count("<svg") == 2


def test_only_the_commands_that_draw_load_what_draws():
    code = (
        "import sys; from holeschedule.cli import run\n"
        "run(['picture', '--help']); run(['report', '--help']); run(['--help'])\n"
        f"print([name for name in {DRAWERS} if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines()[-1] == "[]"
    audit = (
        "import sys; from holeschedule.cli import run\n"
        f"run(['audit', {str(DRAWING)!r}])\n"
        f"print([name for name in {DRAWERS[:3]} if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", audit], capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines()[-1] == "[]"

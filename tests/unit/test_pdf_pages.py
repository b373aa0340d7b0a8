"""Pages as PDF and PNG: read back by another library."""

import io

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from holeschedule.geometry.edges import arc_edges, circle_edges, line_edges
from holeschedule.views.page import Circles, Clipped, Page, Path, Text
from holeschedule.views.part_picture import part_picture
from holeschedule.views.pdf import pdf_bytes, png_bytes
from tests.pictures import demo_view, pdf_circles, pdf_shapes


def page_of(*items, size=(4.0, 3.0), title="FL-101"):
    return Page(*size, items, title)


def pdf_text(content):
    document = pypdfium2.PdfDocument(content)
    try:
        return [page.get_textpage().get_text_bounded() for page in document]
    finally:
        document.close()


def test_circles_come_back_where_they_were_put():
    item = Circles(np.array([[1.0, 2.0], [3.0, 0.5]]), np.array([0.25, 0.049]), "hole")
    (shapes,) = pdf_shapes(pdf_bytes([page_of(item)]))
    assert sorted(pdf_circles(shapes)) == [
        pytest.approx((1.0, 2.0, 0.25), abs=1e-4),
        pytest.approx((3.0, 0.5, 0.049), abs=1e-4),
    ]


def test_curves_of_an_arc_stay_on_it():
    edges = arc_edges(np.array([[2.0, 1.5]]), np.array([1.2]), np.array([0.3]), np.array([4.0]))
    (shapes,) = pdf_shapes(pdf_bytes([page_of(Path(edges, "outline"))]))
    (points,) = shapes
    knots = points[::3]
    assert np.abs(np.hypot(*(knots - (2.0, 1.5)).T) - 1.2).max() < 1e-5
    start, a, b, end = points[:4]
    middle = (start + 3 * a + 3 * b + end) / 8  # a Bézier curve at its half
    assert abs(np.hypot(*(middle - (2.0, 1.5))) - 1.2) < 1e-5


def test_a_window_in_a_filled_shape_stays_open():
    loops = circle_edges(np.array([[2.0, 1.5], [2.0, 1.5]]), np.array([1.0, 0.5]))
    image = Image.open(io.BytesIO(png_bytes(page_of(Path(loops, "metal")), 50)))
    ring, middle = (image.getpixel((int(x * 50), 75)) for x in (2.75, 2.0))
    assert middle == (255, 255, 255)
    assert ring != middle


def test_what_is_clipped_ends_at_its_window():
    line = Path(line_edges(np.array([[0.0, 1.5]]), np.array([[4.0, 1.5]])), "trouble line")
    image = Image.open(io.BytesIO(png_bytes(page_of(Clipped((line,), (1, 1, 2, 2))), 50)))
    assert image.getpixel((75, 75)) != (255, 255, 255)
    assert image.getpixel((150, 75)) == (255, 255, 255)


def test_texts_come_back_and_what_cannot_be_printed_is_a_question_mark():
    (text,) = pdf_text(pdf_bytes([page_of(Text(1.0, 1.0, "Naht 3/32 ° 機", "body"))]))
    assert text == "Naht 3/32 ° ?"


def test_a_title_may_hold_anything():
    content = pdf_bytes([page_of(title="機 (\\) <script>")])
    document = pypdfium2.PdfDocument(content)
    assert document.get_metadata_value("Title") == "? (\\) <script>"
    document.close()


def test_every_page_has_its_own_size():
    content = pdf_bytes([page_of(size=(4.0, 3.0)), page_of(size=(8.5, 11.0))])
    document = pypdfium2.PdfDocument(content)
    sizes = [page.get_size() for page in document]
    document.close()
    assert sizes == [(288.0, 216.0), (612.0, 792.0)]


def test_the_same_page_is_the_same_file_each_time():
    page = part_picture(demo_view("FL-110"))
    assert pdf_bytes([page]) == pdf_bytes([page])


def test_a_picture_in_dots_is_as_large_as_asked_and_never_beyond_the_memory():
    small = Image.open(io.BytesIO(png_bytes(page_of(), 100)))
    assert small.size == (400, 300)
    large = Image.open(io.BytesIO(png_bytes(page_of(size=(100.0, 100.0)), 200)))
    assert large.size[0] * large.size[1] <= 16_100_000

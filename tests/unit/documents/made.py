"""Small papers for the tests of documents."""

import io
from dataclasses import replace

import pypdf
import pypdfium2

from towerlift.plan.model import Plan

EVIL = (
    '<script>alert(1)</script>"><img src=x onerror=alert(1)></title><b>&lt;',
    "=HYPERLINK(1)",
    "@SUM(1)",
)


def retold(outcome, **changes):
    """The same outcome of a plan with some of its words changed."""
    plan = outcome.plan.model_copy(update=changes)
    assert isinstance(plan, Plan)
    return replace(outcome, plan=plan)


def text_of(pdf):
    """Text of every page of a PDF, runs of blanks as one and hidden breaks left out."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [_plain(page.get_textpage().get_text_range()) for page in document]
    finally:
        document.close()


def body_of(pdf, told):
    """Text of a PDF without head and foot of its pages, and without blanks."""
    parts = []
    for text in text_of(pdf):
        body = squeezed(text).split(squeezed(told.identity))[0]
        verdict = squeezed(told.verdict_words)
        parts.append(body.split(verdict, 1)[1] if verdict and verdict in body else body)
    return "".join(parts)


def text_by_other(pdf):
    """The same by another reader."""
    return [_plain(page.extract_text()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def _plain(text):
    # A hyphen at the end of a line is written as a mark of its own.
    return " ".join(text.replace("\u200b", "").replace("\ufffe", "-").split())


def squeezed(words):
    """Words without blanks, since a line may be broken anywhere."""
    return "".join(words.replace("\u200b", "").split())

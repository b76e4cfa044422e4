"""Papers that say where wood came from: invoices, permits, declarations."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_POST

from boards import files
from boards.actions import get_blank
from boards.models import Blank, Paper
from boards.pictures import read_picture
from shop.forms import PlainWords
from shop.models import Hand, Refused
from shop.presses import carry_out

LARGEST_PDF = 20 * 2**20  # bytes


class PaperForm(PlainWords, forms.ModelForm):
    """A paper, for one blank or for all that came in with it."""

    scan = forms.FileField(
        label="The paper itself", required=False, help_text="A PDF, or a photograph of it.", max_length=200
    )
    box = forms.BooleanField(required=False)

    class Meta:
        model = Paper
        fields = ("kind", "number", "issued_by", "dated", "says")
        widgets = {
            "dated": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "says": forms.Textarea(attrs={"rows": 2}),
        }

    field_order = ("kind", "number", "issued_by", "dated", "says", "scan", "box")

    def __init__(self, *args: Any, box: QuerySet[Blank], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scan"].widget = forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png"})
        others = box.count() - 1
        self.fields["box"].label = f"For all {others + 1} blanks that came in with it"
        if not others:
            del self.fields["box"]

    def clean_scan(self) -> tuple[bytes, str] | None:
        """Read the file: a PDF as it is, a photograph of a paper as photographs are."""
        upload: UploadedFile | None = self.cleaned_data["scan"]
        if not upload:
            return None
        if upload.read(5) == b"%PDF-":
            if upload.size > LARGEST_PDF:
                raise forms.ValidationError(f"It is larger than {LARGEST_PDF // 2**20} MB.")
            upload.seek(0)
            content = upload.read()
            if b"%%EOF" not in content[-2048:]:
                raise forms.ValidationError("The PDF is broken: its end is missing.")
            return content, files.name_of(content, "pdf")
        upload.seek(0)
        picture = read_picture(upload)
        return picture.content, picture.file

    def clean(self) -> dict[str, Any]:
        """Refuse a paper that says nothing at all."""
        cleaned = super().clean() or self.cleaned_data
        if "scan" not in self.errors and not any(cleaned.get(name) for name in ("number", "issued_by", "says", "scan")):
            self.add_error("number", "Give its number, who issued it, what it says, or the paper itself.")
        return cleaned


def came_in_with(blank: Blank) -> QuerySet[Blank]:
    """Find the blanks of the same delivery: same day, supplier, lot and wood."""
    return Blank.objects.filter(
        received_on=blank.received_on, supplier=blank.supplier, lot=blank.lot, species=blank.species_id
    )


def papers(request: HttpRequest, number: str) -> HttpResponse:
    """Show the papers of a blank, and take another one down."""
    blank = get_blank(number)
    box = came_in_with(blank)
    if request.method != "POST":
        return _page(request, blank, PaperForm(box=box))
    form = PaperForm(request.POST, request.FILES, box=box)
    if not form.is_valid():
        return _page(request, blank, form, status=422)
    scan = form.cleaned_data["scan"]
    if scan:
        files.keep(*scan)

    def do(hand: Hand) -> str:
        paper = form.instance
        paper.file, paper.at, paper.by = scan[1] if scan else "", hand.at, hand.by
        paper.save()
        paper.blanks.set(box if form.cleaned_data.get("box") else [blank])
        return reverse("boards:papers", args=[number])

    return carry_out(request, do, said="The paper is kept.", form=form)


@require_POST
def take_away(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Take a paper off one blank; it is dropped when it speaks of no other."""
    blank = get_blank(number)
    gone: list[str] = []

    def do(hand: Hand) -> str:
        paper = Paper.objects.filter(blanks=blank, pk=pk).first()
        if paper is None:
            raise Refused("That paper is gone already.")
        paper.blanks.remove(blank)
        if not paper.blanks.exists():
            paper.delete()
            gone.append(paper.file)
        return reverse("boards:papers", args=[number])

    answer = carry_out(request, do, said=f"The paper is taken off {number}.")
    for file in filter(None, gone):  # once it is certain
        if not Paper.objects.filter(file=file).exists():
            files.forget(file)
    return answer


@require_GET
def scan(request: HttpRequest, pk: int) -> HttpResponse:
    """Send the file of a paper, to be saved."""
    paper = get_object_or_404(Paper, pk=pk)
    if not paper.file:
        raise Http404("There is no file with that paper.")
    return files.hand_out(paper.file, called=f"{slugify(str(paper)) or 'paper'}.{paper.file.rpartition('.')[2]}")


def _page(request: HttpRequest, blank: Blank, form: PaperForm, status: int = 200) -> HttpResponse:
    context = {
        "blank": blank,
        "papers": blank.papers.select_related("by"),
        "form": form,
        "section": "rack",
    }
    return render(request, "boards/papers.html", context, status=status)

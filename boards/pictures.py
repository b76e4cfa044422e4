"""Photographs of blanks, from the tablet's camera."""

from __future__ import annotations

import io
import struct
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.functional import cached_property
from django.views.decorators.http import require_GET, require_POST
from PIL import Image, ImageCms, ImageOps

from boards import files
from boards.actions import get_blank
from boards.models import Blank, Photograph
from shop.forms import PlainWords
from shop.models import Hand, Refused
from shop.presses import carry_out

LARGEST_FILE = 25 * 2**20  # bytes
MOST_PIXELS, MOST_UNPACKED = 100_000_000, 50_000_000  # as it was taken; as it has to be unpacked here
LONGEST_SIDE = 2400  # px, of what is kept
AT_ONCE = 12
FORMATS = ("JPEG", "PNG", "WEBP")
Image.init()  # by itself Pillow knows fewer until one of the others is met


class Picture:
    """A photograph that was read whole: turned as it was taken, without what the camera wrote into it."""

    def __init__(self, upload: UploadedFile) -> None:
        self.name = upload.name
        with Image.open(upload, formats=FORMATS) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise ValueError("too many pixels")
            opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG is not unpacked larger than it is needed
            if opened.width * opened.height > MOST_UNPACKED:
                raise ValueError("too many pixels")
            self.image = _plain(ImageOps.exif_transpose(opened))
        self.image.thumbnail((LONGEST_SIDE, LONGEST_SIDE))

    @cached_property
    def content(self) -> bytes:
        """Write it as the file to keep."""
        return _as_jpeg(self.image)

    @cached_property
    def small(self) -> bytes:
        """Write it as the small file for a list."""
        image = self.image.copy()
        image.thumbnail((files.SMALL_SIDE, files.SMALL_SIDE))
        return _as_jpeg(image)

    @cached_property
    def file(self) -> str:
        """Its name in the data folder."""
        return files.name_of(self.content, "jpg")

    def keep(self) -> None:
        """Write it down."""
        files.keep(self.content, self.file)
        files.keep(self.small, files.small(self.file))


def _plain(image: Image.Image) -> Image.Image:
    """Give a picture in plain sRGB on white; its colour profile is worked in rather than kept."""
    profile = image.info.get("icc_profile")
    if "A" in image.getbands() or "transparency" in image.info:
        image = image.convert("RGBA")
        ground = Image.new("RGB", image.size, "white")
        ground.paste(image, mask=image.getchannel("A"))
        image = ground
    if profile and image.mode == "RGB":
        try:
            wide = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            image = ImageCms.profileToProfile(image, wide, ImageCms.createProfile("sRGB"), outputMode="RGB")
        except (ImageCms.PyCMSError, OSError):
            pass  # a profile that cannot be read: the colours as they are
    return image.convert("RGB")


def _as_jpeg(image: Image.Image) -> bytes:
    # A new image: whatever was read along with the old one stays behind.
    plain = Image.new("RGB", image.size)
    plain.paste(image)
    with io.BytesIO() as out:
        plain.save(out, "JPEG", quality=85, optimize=True)
        return out.getvalue()


def read_picture(upload: UploadedFile) -> Picture:
    """Read one photograph, or say in words why it cannot be read."""
    if not upload.size:
        raise forms.ValidationError(f"{_called(upload)} is empty.")
    if upload.size > LARGEST_FILE:
        raise forms.ValidationError(f"{_called(upload)} is larger than {LARGEST_FILE // 2**20} MB.")
    try:
        return Picture(upload)
    except Image.UnidentifiedImageError:
        raise forms.ValidationError(
            f"{_called(upload)} is no photograph that can be read here. Set the camera to JPEG and take it again."
        ) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning, ValueError):
        raise forms.ValidationError(f"{_called(upload)} has too many pixels, or is broken.") from None
    except (OSError, SyntaxError, EOFError, ArithmeticError, IndexError, struct.error, TypeError):
        # What Pillow raises over a broken file depends on where it is broken.
        raise forms.ValidationError(f"{_called(upload)} is broken: it cannot be read to its end.") from None


def _called(upload: UploadedFile) -> str:
    return f"“{upload.name[:60]}”" if upload.name else "The file"


class SeveralFiles(forms.FileField):
    """A box for one file or several."""

    class Widget(forms.ClearableFileInput):
        allow_multiple_selected = True

    widget = Widget

    def clean(self, data: Any, initial: Any = None) -> list[Picture]:
        """Read them all; each that cannot be read is named."""
        uploads = data if isinstance(data, list | tuple) else [data] if data else []
        if not uploads:
            raise forms.ValidationError("Choose a photograph.", code="required")
        if len(uploads) > AT_ONCE:
            raise forms.ValidationError(f"{len(uploads)} at once are too many: {AT_ONCE} is the most.")
        pictures, wrong = [], []
        for upload in uploads:
            try:
                pictures.append(read_picture(upload))
            except forms.ValidationError as error:
                wrong.append(error)
        if wrong:
            raise forms.ValidationError(wrong)
        return pictures


class PhotographForm(PlainWords, forms.Form):
    """Photographs to add to a blank."""

    photographs = SeveralFiles(label="Photographs", help_text="Several at once, or one from the camera.")
    note = forms.CharField(label="What they show", max_length=120, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["photographs"].widget.attrs["accept"] = "image/jpeg,image/png,image/webp"


@require_POST
def add(request: HttpRequest, number: str) -> HttpResponse:
    """Add photographs to a blank."""
    blank = get_blank(number)
    form = PhotographForm(request.POST, request.FILES)
    if not form.is_valid():
        return page(request, blank, form, status=422)
    pictures = form.cleaned_data["photographs"]
    said = _said(blank, pictures)
    for picture in pictures:
        picture.keep()

    def do(hand: Hand) -> str:
        _add(blank, pictures, form.cleaned_data["note"], hand)
        return reverse("boards:pictures", args=[number])

    return carry_out(request, do, said=said, form=form)


def _said(blank: Blank, pictures: list[Picture]) -> str:
    """Say how many of them are new: one that was there already is kept once."""
    sent = {picture.file for picture in pictures}
    there = blank.photographs.filter(file__in=sent).count()
    new = len(sent) - there
    if not new:
        return f"{blank.number}: {'they were' if there > 1 else 'it was'} there already."
    added = f"{blank.number}: {new} photograph{'s' if new > 1 else ''} added"
    return f"{added}; {there} {'were' if there > 1 else 'was'} there already." if there else f"{added}."


def _add(blank: Blank, pictures: list[Picture], note: str, hand: Hand) -> None:
    there = set(blank.photographs.values_list("file", flat=True))
    new = {picture.file: picture for picture in pictures if picture.file not in there}
    if len(there) + len(new) > Photograph.MOST:
        raise Refused(f"{blank.number} has {len(there)} photographs already; {Photograph.MOST} is the most.")
    Photograph.objects.bulk_create(
        Photograph(
            blank=blank,
            file=file,
            width=picture.image.width,
            height=picture.image.height,
            note=note,
            at=hand.at,
            by=hand.by,
        )  # fmt: skip
        for file, picture in new.items()
    )


@require_POST
def take_away(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Take a photograph away."""
    blank = get_blank(number)

    def do(hand: Hand) -> str:
        found = Photograph.objects.filter(blank=blank, pk=pk).first()
        if found is None:
            raise Refused("That photograph is gone already.")
        found.delete()
        gone.append(found.file)
        return reverse("boards:pictures", args=[number])

    gone: list[str] = []
    answer = carry_out(request, do, said=f"{number}: the photograph is taken away.")
    for file in gone:  # once it is certain
        if not Photograph.objects.filter(file=file).exists():
            files.forget(file)
    return answer


@require_GET
def pictures(request: HttpRequest, number: str) -> HttpResponse:
    """Show the photographs of a blank."""
    return page(request, get_blank(number), PhotographForm())


def page(request: HttpRequest, blank: Blank, form: PhotographForm, status: int = 200) -> HttpResponse:
    """Render the page of a blank's photographs."""
    context = {
        "blank": blank,
        "photographs": blank.photographs.select_related("by"),
        "form": form,
        "section": "rack",
    }
    return render(request, "boards/pictures.html", context, status=status)


@require_GET
def picture(request: HttpRequest, file: str) -> HttpResponse:
    """Send a photograph, or its small version."""
    if not Photograph.objects.filter(file=file.replace("-small.", ".")).exists():
        raise Http404("There is no such photograph.")
    return files.hand_out(file)

"""Photographs of blanks: kept once, upright, without what the camera wrote; and what is refused."""

import io
import zlib
from random import Random

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image, ImageCms

from boards import files
from boards.models import Photograph
from tests.factories import make_blank, tap

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def data_folder(settings, tmp_path):
    settings.DATA = tmp_path
    return tmp_path


def halves(width: int = 60, height: int = 40) -> Image.Image:
    """A picture that tells which way it lies: red on the left, blue on the right."""
    image = Image.new("RGB", (width, height), "blue")
    image.paste("red", (0, 0, width // 2, height))
    return image


def upload(image: Image.Image, kind: str = "JPEG", name: str = "blank.jpg", **more) -> SimpleUploadedFile:
    with io.BytesIO() as out:
        image.save(out, kind, **({"quality": 95} if kind == "JPEG" else {}), **more)
        return SimpleUploadedFile(name, out.getvalue())


def send(client, blank, *uploads, **typed):
    typed = tap(**{"note": "", **typed})
    return client.post(reverse("boards:add-pictures", args=[blank.number]), {**typed, "photographs": list(uploads)})


def kept(photograph: Photograph) -> Image.Image:
    return Image.open(files.place_of(photograph.file))


def test_it_works(bench, maker):
    blank = make_blank()
    answer = send(bench, blank, upload(halves()), note="face side")
    assert answer.status_code == 302
    photograph = blank.photographs.get()
    assert (photograph.note, photograph.by, photograph.width, photograph.height) == ("face side", maker, 60, 40)
    page = bench.get(answer["Location"]).content.decode()
    assert "face side" in page
    assert reverse("boards:picture", args=[photograph.small]) in page
    for name in (photograph.file, photograph.small):
        answer = bench.get(reverse("boards:picture", args=[name]))
        assert answer["Content-Type"] == "image/jpeg"
        assert "immutable" in answer["Cache-Control"]
        assert "sandbox" in answer["Content-Security-Policy"]
        assert Image.open(io.BytesIO(b"".join(answer))).size == (60, 40)


# Exif 2.32 (CIPA DC-008), tag 0112 (hex), Orientation: 1 as it is, 3 upside down, 6 and 8 on its side; from memory.
@pytest.mark.parametrize(("orientation", "size", "red_at"), [
    (1, (60, 40), (5, 20)), (3, (60, 40), (55, 20)), (6, (40, 60), (20, 5)), (8, (40, 60), (20, 55)),
])  # fmt: skip
def test_it_lies_as_it_was_taken(bench, orientation, size, red_at):
    exif = Image.Exif()
    exif[0x0112] = orientation
    blank = make_blank()
    send(bench, blank, upload(halves(), exif=exif))
    image = kept(blank.photographs.get())
    assert image.size == size
    red, _, blue = image.getpixel(red_at)
    assert red > 200 > 60 > blue
    assert 0x0112 not in image.getexif()


def test_nothing_of_what_the_camera_wrote_is_kept(bench):
    exif = Image.Exif()
    exif[0x010F] = "A camera of somebody's"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (48.0, 12.0, 0.5)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    brought = upload(halves(), exif=exif, icc_profile=profile, comment=b"at home")
    assert b"A camera of somebody" in brought.read()
    brought.seek(0)
    blank = make_blank()
    send(bench, blank, brought)
    for name in (blank.photographs.get().file, blank.photographs.get().small):
        content = files.place_of(name).read_bytes()
        image = Image.open(io.BytesIO(content))
        assert not image.getexif()
        assert not {"exif", "icc_profile", "comment", "xmp"} & set(image.info)
        assert b"camera" not in content


def test_large_ones_are_made_smaller_and_have_a_small_version(bench):
    blank = make_blank()
    send(bench, blank, upload(halves(4000, 3000)))
    photograph = blank.photographs.get()
    assert kept(photograph).size == (photograph.width, photograph.height) == (2400, 1800)
    assert Image.open(files.place_of(photograph.small)).size == photograph.shown_size == (480, 360)


def test_the_same_one_is_kept_once(bench, data_folder):
    first, second = make_blank(), make_blank()
    for blank in (first, first, second):
        assert send(bench, blank, upload(halves())).status_code == 302
    assert Photograph.objects.count() == 2
    assert len(list(data_folder.rglob("*.jpg"))) == 2  # one, and its small version


def test_several_at_once_and_other_kinds(bench):
    blank = make_blank()
    clear = Image.new("RGBA", (50, 30), (0, 0, 0, 0))
    send(bench, blank, upload(halves()), upload(clear, "PNG", "a.png"), upload(halves(30, 30), "WEBP", "a.webp"))
    send(bench, blank, upload(halves(70, 30), "MPO", save_all=True, append_images=[halves()]))
    assert blank.photographs.count() == 4
    assert kept(blank.photographs.get(width=50)).getpixel((10, 10)) == (255, 255, 255)


def test_one_is_taken_away_with_its_file_unless_another_blank_has_it(bench, data_folder):
    first, second = make_blank(), make_blank()
    for blank in (first, second):
        send(bench, blank, upload(halves()))
    for blank, left in ((first, 2), (second, 0)):
        address = reverse("boards:take-picture-away", args=[blank.number, blank.photographs.get().pk])
        assert bench.post(address, tap()).status_code == 302
        assert len(list(data_folder.rglob("*.jpg"))) == left
        assert bench.post(address, tap()).status_code == 409
    assert not Photograph.objects.exists()


BROKEN = {
    "empty": SimpleUploadedFile("a.jpg", b""),
    "no picture": SimpleUploadedFile("a.jpg", b"<svg onload='alert(1)'></svg>" * 9),
    "a page": SimpleUploadedFile("a.jpg", b"<html><script>alert(1)</script>"),
    "a kind that is not read": upload(halves(), "TIFF", "a.tif"),
}


@pytest.mark.parametrize("what", [*BROKEN, "nothing", "cut off", "too many pixels", "half a header"])
def test_what_cannot_be_read_is_said_and_nothing_is_kept(bench, data_folder, what):
    blank = make_blank()
    whole = upload(halves(300, 300)).read()
    # A PNG says its size in its first chunk (W3C, PNG, 11.2.2): this one claims to be 60 000 by 60 000.
    with io.BytesIO() as out:
        halves().save(out, "PNG")
        large = bytearray(out.getvalue())
    large[16:24] = (60_000).to_bytes(4, "big") * 2
    large[29:33] = zlib.crc32(bytes(large[12:29])).to_bytes(4, "big")
    uploads = {
        **{name: [file] for name, file in BROKEN.items()},
        "nothing": [],
        "cut off": [SimpleUploadedFile("a.jpg", whole[: len(whole) // 2])],
        "half a header": [SimpleUploadedFile("a.jpg", whole[:20])],
        "too many pixels": [SimpleUploadedFile("a.png", bytes(large))],
    }[what]
    for each in uploads:
        each.seek(0)
    answer = send(bench, blank, *uploads, note="what was typed")
    assert answer.status_code == 422, what
    page = answer.content.decode()
    assert "what was typed" in page
    assert 'class="field wrong' in page
    assert not Photograph.objects.exists()
    assert not list(data_folder.rglob("*.jpg"))


def test_one_broken_among_several_keeps_none(bench):
    blank = make_blank()
    answer = send(bench, blank, upload(halves()), SimpleUploadedFile("b.jpg", b"nothing like it"))
    assert answer.status_code == 422
    assert "b.jpg" in answer.content.decode()
    assert not Photograph.objects.exists()


def test_broken_anywhere_is_never_a_fault_of_the_server(bench):
    random = Random(4)
    blank = make_blank()
    whole = upload(halves(200, 120)).read()
    for _ in range(60):
        broken = bytearray(whole)
        for _ in range(random.randint(1, 12)):
            broken[random.randrange(len(broken))] = random.randrange(256)
        answer = send(bench, blank, SimpleUploadedFile("a.jpg", bytes(broken[: random.randint(10, len(broken))])))
        assert answer.status_code in (302, 409, 422)


def test_there_is_an_end_to_how_many(bench, monkeypatch):
    monkeypatch.setattr(Photograph, "MOST", 2)
    blank = make_blank()
    assert send(bench, blank, *(upload(halves(60 + step, 40)) for step in range(3))).status_code == 409
    assert not Photograph.objects.exists()


@pytest.mark.parametrize("name", ["../../secret-key", "a" * 64 + ".jpg", "a" * 64 + ".php", "%2e%2e/x.jpg"])
def test_only_photographs_are_handed_out(bench, data_folder, name):
    (data_folder / "secret-key").write_text("secret")
    assert bench.get(f"/photographs/{name}").status_code == 404


def test_a_file_that_is_lost_is_a_page_that_says_so(bench):
    blank = make_blank()
    send(bench, blank, upload(halves()))
    photograph = blank.photographs.get()
    files.forget(photograph.file)
    assert bench.get(reverse("boards:picture", args=[photograph.file])).status_code == 404
    assert bench.get(reverse("boards:pictures", args=[blank.number])).status_code == 200


def test_it_says_how_many_are_new(bench):
    blank = make_blank()
    face, edge = halves(), halves(80, 20)
    for sent, said in (
        ([face], "1 photograph added."),
        ([face], "it was there already."),
        ([face, edge], "1 photograph added; 1 was there already."),
        ([face, edge], "they were there already."),
    ):
        answer = send(bench, blank, *map(upload, sent))
        assert f"{blank.number}: {said}" in bench.get(answer["Location"]).text


def test_the_blanks_page_shows_them(bench):
    blank = make_blank()
    send(bench, blank, upload(halves()))
    assert reverse("boards:picture", args=[blank.photographs.get().small]) in bench.get(f"/blanks/{blank.number}/").text


def test_a_picture_that_takes_too_much_room_unpacked_is_refused(bench, monkeypatch):
    monkeypatch.setattr("boards.pictures.MOST_UNPACKED", 2000)
    blank = make_blank()
    answer = send(bench, blank, upload(halves(), "PNG", "face.png"))
    assert answer.status_code == 422
    assert "“face.png” has too many pixels" in answer.text
    assert not blank.photographs.exists()

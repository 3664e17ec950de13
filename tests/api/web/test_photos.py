"""Photos: made small, without the place, in the job that they belong to."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

import pytest
from PIL import Image

from api.jobs.photos import LONGEST_SIDE, small_jpeg
from api.problems import ProblemError
from tests.api.web.shop import Client, Shop

#: EXIF tags by their numbers in the Exif standard (CIPA DC-008): make, orientation, GPS block.
MAKE, ORIENTATION, GPS = 0x010F, 0x0112, 0x8825


def picture(kind: str = "JPEG", size: tuple[int, int] = (64, 48), **more: Any) -> bytes:
    """Return a file with a picture."""
    out = io.BytesIO()
    Image.new("RGB", size, (200, 120, 40)).save(out, kind, **more)
    return out.getvalue()


def located() -> bytes:
    """Return a photo that says where and with what it was taken, lying on its side."""
    exif = Image.Exif()
    exif[MAKE], exif[ORIENTATION] = "invented maker", 6
    exif[GPS] = {1: "N", 2: (48.0, 12.0, 34.5), 3: "E", 4: (11.0, 5.0, 6.5)}
    return picture(exif=exif)


def sent(client: Client, job: str, data: bytes, **fields: str) -> Any:
    """Send a photo as a form does."""
    told = {"id": "photo-event-00001", "device_time": "2026-03-02T08:15:00Z", **fields}
    return client.send(
        "POST", f"/api/jobs/{job}/photos", files={"photo": ("p.jpg", data)}, data=told
    )


def test_a_photo_is_kept_with_its_job(shop: Shop) -> None:
    """The picture, its event and its caption."""
    technician = shop.as_role("technician")
    job = technician.new_job()

    kept = sent(technician, job, picture(), caption="hub, left rear")
    shown = technician.get(kept.headers["location"])

    assert kept.status_code == 201
    assert technician.get(f"/api/jobs/{job}").json()["photos"] == [kept.json()["photo"]]
    assert shown.headers["content-type"] == "image/jpeg"
    assert "immutable" in shown.headers["cache-control"]
    assert "sandbox" in shown.headers["content-security-policy"]
    again = technician.get(
        kept.headers["location"], headers={"if-none-match": shown.headers["etag"]}
    )
    assert again.status_code == 304


def test_the_same_photo_sent_twice_is_one(shop: Shop) -> None:
    """A photo is the first thing that a dead network cuts in half."""
    technician = shop.as_role("technician")
    job = technician.new_job()

    first, second = (sent(technician, job, picture()) for _ in range(2))

    assert first.json() == second.json()
    assert technician.get(f"/api/jobs/{job}").json()["version"] == 2


def test_what_is_kept_says_nothing_of_place_and_device() -> None:
    """Position, maker and everything else that came with the pixels is gone."""
    before = located()
    assert b"invented maker" in before
    assert dict(Image.open(io.BytesIO(before)).getexif().get_ifd(GPS))

    after = small_jpeg(before + b"hidden behind the end")

    with Image.open(io.BytesIO(after)) as kept:
        assert dict(kept.getexif()) == {}
        assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert kept.size == (48, 64)  # turned upright as the orientation said
    assert b"invented" not in after
    assert b"Exif" not in after
    assert b"hidden" not in after


@pytest.mark.parametrize(
    ("data", "size"),
    [
        (picture(size=(4000, 3000)), (1600, 1200)),
        (picture(size=(3000, 4000)), (1200, 1600)),
        (picture("PNG", size=(2000, 10)), (1600, 8)),
        (picture("WEBP", size=(640, 480)), (640, 480)),
    ],
    ids=["lying", "standing", "narrow", "small"],
)
def test_a_photo_is_made_small(data: bytes, size: tuple[int, int]) -> None:
    """Large enough to see a crack, small enough for bad wireless."""
    with Image.open(io.BytesIO(small_jpeg(data))) as kept:
        assert kept.format == "JPEG"
        assert kept.size == size
        assert max(kept.size) <= LONGEST_SIDE


def test_what_is_transparent_becomes_white() -> None:
    """A screenshot with holes must not turn black."""
    out = io.BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(out, "PNG")

    with Image.open(io.BytesIO(small_jpeg(out.getvalue()))) as kept:
        assert kept.getpixel((4, 4)) == (255, 255, 255)


def bomb(width: int, height: int) -> bytes:
    """Return the head of a PNG that says it is huge (PNG specification, sections 5 and 11)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        whole = kind + data
        return struct.pack(">I", len(data)) + whole + struct.pack(">I", zlib.crc32(whole))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


#: The first box of a HEIC file (ISO/IEC 23008-12, file type box).
HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 200


@pytest.mark.parametrize(
    ("data", "status", "words"),
    [
        (HEIC, 415, "HEIC"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", 415, "no JPEG, PNG or WebP"),
        (b"GIF89a" + b"\0" * 100, 415, "no JPEG"),
        (b"", 415, "no JPEG"),
        (picture()[:300], 422, "broken"),
        (bomb(50_000, 50_000), 422, "broken"),
        (bomb(9_000, 9_000), 413, "9000 x 9000 pixels"),
    ],
    ids=["heic", "svg", "gif", "empty", "cut off", "bomb", "many pixels"],
)
def test_what_is_no_photo_is_refused_in_one_sentence(data: bytes, status: int, words: str) -> None:
    """And nothing of it is unpacked."""
    with pytest.raises(ProblemError, match="nothing was stored") as refused:
        small_jpeg(data)

    assert refused.value.status_code == status
    assert words in refused.value.detail


@pytest.mark.parametrize(
    "fields",
    [{"id": "short"}, {"device_time": "yesterday"}, {"caption": "two\nlines"}],
    ids=["id", "time", "caption"],
)
def test_a_photo_without_a_right_event_is_refused(shop: Shop, fields: dict[str, str]) -> None:
    """What comes with a photo is as strict as any event, and nothing is kept."""
    technician = shop.as_role("technician")
    job = technician.new_job()

    refused = sent(technician, job, picture(), **fields)

    assert refused.status_code == 422
    assert technician.get(f"/api/jobs/{job}").json()["version"] == 1


def test_another_jobs_photo_is_not_shown(shop: Shop) -> None:
    """A photo belongs to one job."""
    technician = shop.as_role("technician")
    one, other = technician.new_job(), technician.new_job()
    photo = sent(technician, one, picture()).json()["photo"]

    assert technician.get(f"/api/jobs/{one}/photos/{photo}").status_code == 200
    assert technician.get(f"/api/jobs/{other}/photos/{photo}").status_code == 404


def test_an_event_can_not_name_a_photo_that_is_not_there(shop: Shop) -> None:
    """A record that points at nothing is broken."""
    technician = shop.as_role("technician")
    job = technician.new_job()
    from tests.api.web.shop import event

    refused = technician.post(
        f"/api/jobs/{job}/events", [event({"kind": "photo", "photo": "0" * 64})]
    )

    assert refused.status_code == 422
    assert "no such photo" in refused.json()["detail"]

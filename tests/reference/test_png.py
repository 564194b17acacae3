"""PNG files against the standard (PNG third edition, W3C, 24 June 2025) and other readers."""

import hashlib
import io
import itertools
import struct
import zlib
from collections.abc import Iterator
from typing import Any

import imageio.v3 as iio
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from texbake.deliver import encode_png

Samples = NDArray[np.uint8] | NDArray[np.uint16]


def chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and data of every chunk, lengths and CRCs checked (5.3, chunk layout)."""
    assert data[:8] == bytes([137, 80, 78, 71, 13, 10, 26, 10])  # 5.2, signature
    at = 8
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + length]
        (crc,) = struct.unpack(">I", data[at + 8 + length : at + 12 + length])
        assert crc == zlib.crc32(kind + body)
        yield kind, body
        at += 12 + length
    assert at == len(data)


def stream(data: bytes) -> bytes:
    """What the IDAT chunks hold together."""
    return b"".join(body for kind, body in chunks(data) if kind == b"IDAT")


def predictor(a: int, b: int, c: int) -> int:
    """The predictor of filter 4, word for word as 9.4 has it."""
    p = a + b - c
    pa, pb, pc = abs(p - a), abs(p - b), abs(p - c)
    if pa <= pb and pa <= pc:
        return a
    if pb <= pc:
        return b
    return c


def read(data: bytes) -> Samples:
    """A reader of our files by the letter of the standard, byte by byte."""
    header = dict(chunks(data))[b"IHDR"]
    width, height, depth, colour, method, filters, interlace = struct.unpack(">IIBBBBB", header)
    assert (method, filters, interlace) == (0, 0, 0)
    channels = {0: 1, 2: 3}[colour]
    step = channels * depth // 8
    raw = zlib.decompress(stream(data))
    length = width * step
    assert len(raw) == height * (length + 1)
    above = bytearray(length)
    rows = []
    for number in range(height):
        line = bytearray(raw[number * (length + 1) : (number + 1) * (length + 1)])
        assert line.pop(0) == 4
        for i in range(length):
            a, c = (line[i - step], above[i - step]) if i >= step else (0, 0)
            line[i] = (line[i] + predictor(a, above[i], c)) & 255
        rows.append(bytes(line))
        above = line
    kind = ">u2" if depth == 16 else "u1"
    samples = np.frombuffer(b"".join(rows), kind).reshape(height, width, channels)
    return samples.astype(np.uint16) if depth == 16 else samples.astype(np.uint8)


def noise(shape: tuple[int, ...], dtype: type[Any], seed: int = 1) -> Any:
    """Random samples, with runs of few values too, so that ties in the predictor occur."""
    rng = np.random.default_rng(seed)
    top = np.iinfo(dtype).max
    wild = rng.integers(0, top, shape, dtype, endpoint=True)
    calm = rng.integers(0, 3, shape, dtype)
    return np.where(rng.random(shape) < 0.5, wild, calm).astype(dtype)


SHAPES = [(1, 1), (1, 9), (9, 1), (17, 5), (40, 33), (1, 1, 3), (7, 1, 3), (33, 20, 3)]
KINDS = list(itertools.product(SHAPES, [np.uint8, np.uint16]))


@pytest.mark.parametrize(("shape", "dtype"), KINDS)
def test_a_reader_by_the_letter_of_the_standard_gets_the_samples_back(
    shape: tuple[int, ...], dtype: type[Any]
) -> None:
    image = noise(shape, dtype)
    assert np.array_equal(read(encode_png(image)).reshape(shape), image)


@pytest.mark.parametrize(("shape", "dtype"), KINDS)
def test_other_readers_get_the_samples_back(shape: tuple[int, ...], dtype: type[Any]) -> None:
    image = noise(shape, dtype)
    data = encode_png(image)
    if dtype == np.uint16 and len(shape) == 3:
        cv2 = pytest.importorskip("cv2", reason="Pillow cannot read 16-bit RGB")
        got = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)[..., ::-1]
    else:
        got = np.asarray(Image.open(io.BytesIO(data)))
        assert np.array_equal(iio.imread(data, extension=".png"), image)
    assert np.array_equal(got, image)


@pytest.mark.parametrize(
    ("shape", "dtype", "depth", "colour"),
    [
        ((3, 5), np.uint8, 8, 0),
        ((3, 5), np.uint16, 16, 0),
        ((3, 5, 3), np.uint8, 8, 2),
        ((3, 5, 3), np.uint16, 16, 2),
    ],
)
def test_the_header_says_size_depth_and_colour_type(
    shape: tuple[int, ...], dtype: type[Any], depth: int, colour: int
) -> None:
    kind, header = next(chunks(encode_png(noise(shape, dtype))))
    assert kind == b"IHDR"
    assert header == struct.pack(">IIBBBBB", 5, 3, depth, colour, 0, 0, 0)


def test_16_bit_samples_come_most_significant_byte_first() -> None:
    # 7.1, integers and byte order
    data = encode_png(np.array([[0x1234]], np.uint16))
    assert zlib.decompress(stream(data)) == bytes([4, 0x12, 0x34])


def test_srgb_files_say_so_before_the_samples_and_linear_ones_say_nothing() -> None:
    image = noise((4, 4, 3), np.uint8)
    # 11.3.2, sRGB: one byte, 0 = perceptual; with it a gAMA of 45455 is recommended
    assert list(chunks(encode_png(image, srgb=True)))[1:3] == [
        (b"sRGB", b"\0"),
        (b"gAMA", (45455).to_bytes(4, "big")),
    ]
    assert [kind for kind, _ in chunks(encode_png(image))] == [b"IHDR", b"IDAT", b"IEND"]


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_green_down_is_the_maximum_less_green_to_the_bit(dtype: type[Any]) -> None:
    image = noise((50, 41, 3), dtype)
    before = image.copy()
    down = read(encode_png(image, flip_green=True))
    top = np.iinfo(dtype).max
    assert np.array_equal(down[..., 1].astype(int), top - image[..., 1].astype(int))
    assert np.array_equal(down[..., ::2], image[..., ::2])
    assert np.array_equal(image, before)


def test_long_files_are_cut_into_chunks_of_one_length() -> None:
    image = noise((600, 600, 3), np.uint8)
    sizes = [len(body) for kind, body in chunks(encode_png(image)) if kind == b"IDAT"]
    assert len(sizes) > 2
    assert set(sizes[:-1]) == {1 << 18}
    assert np.array_equal(np.asarray(Image.open(io.BytesIO(encode_png(image)))), image)


def test_the_bytes_do_not_depend_on_which_zlib_there_is() -> None:
    x, y = np.arange(700, dtype=np.uint32)[None], np.arange(500, dtype=np.uint32)[:, None]
    wild = x * 0x9E3779B1 + y * 0x85EBCA77
    wild ^= wild >> 15
    wild *= np.uint32(0x2C1B3C6D)
    wild ^= wild >> 12
    red, green = (x // 3 + y // 5) % 200 + wild % 9, (x * y // 700) % 230 + (wild >> 9) % 5
    blue = np.where((x // 60 + y // 40) % 2 == 0, 255, wild % 256)
    image = np.stack([red, green, blue], axis=-1).astype(np.uint8)
    image[100:300, 200:500] = (90, 60, 30)
    # The same from zlib 1.2.13 and from zlib-ng 2.3.3 (package zlib-ng 1.1.0) in its place.
    wanted = "18824edd4d184077074fec0da5d1584c9c02a6fd363b3f2096297fc4d0dbca98"
    assert hashlib.sha256(encode_png(image)).hexdigest() == wanted


def test_views_with_gaps_are_written_as_they_look() -> None:
    whole = noise((20, 30, 3), np.uint8)
    assert encode_png(whole[::2, 3:20, ::-1]) == encode_png(whole[::2, 3:20, ::-1].copy())


@pytest.mark.parametrize(
    "image",
    [
        np.zeros((4, 4), np.float32),
        np.zeros((4, 4, 2), np.uint8),
        np.zeros((4, 4, 4), np.uint8),
        np.zeros(4, np.uint8),
        np.zeros((0, 4), np.uint8),
    ],
)
def test_what_is_no_map_is_refused(image: Any) -> None:
    with pytest.raises(ValueError, match=r"samples are|image has shape"):
        encode_png(image)


def test_a_grey_image_has_no_green_to_flip() -> None:
    with pytest.raises(ValueError, match="three channels"):
        encode_png(np.zeros((4, 4), np.uint8), flip_green=True)

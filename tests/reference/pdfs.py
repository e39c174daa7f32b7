"""Writes the PDFs in tests/data/formats/pdf and the pictures in them, by independent writers.

    python3 tests/reference/pdfs.py tests/data/formats

Needs `pdfs-requirements.txt` (a virtual environment outside of the project). The picture is a corner of the project's own
tests/pictures/tide-pool.jpg. `tests/decode_pdf.rs` compares what barewash reads with the pictures that were put in.
"""

import base64
import io
import pathlib
import sys
import zlib

import img2pdf
import numpy as np
import pikepdf
from PIL import Image, ImageCms
from pikepdf import Array, Dictionary, Name, Stream
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas

OUT = pathlib.Path(sys.argv[1])
PDF = OUT / "pdf"
PDF.mkdir(parents=True, exist_ok=True)
WIDE, HIGH = 61, 47
# Points of the picture at 300 pixels per inch.
ACROSS, DOWN = WIDE * 72 / 300, HIGH * 72 / 300

here = pathlib.Path(__file__).resolve().parent.parent
whole = Image.open(here / "pictures/tide-pool.jpg").convert("RGB")
picture = whole.crop((250, 330, 250 + WIDE * 6, 330 + HIGH * 6)).resize((WIDE, HIGH), Image.Resampling.BOX)
rgb = np.asarray(picture)
gray = np.asarray(picture.convert("L"))
down, across = np.mgrid[:HIGH, :WIDE]
rgb16 = rgb.astype(np.uint16) * 256 + ((across * 7 + down * 13) % 256)[..., None].astype(np.uint16)
picture.save(OUT / "png/tide-pool.png")
jpeg = io.BytesIO()
picture.save(jpeg, "JPEG", quality=92, subsampling=0)
(OUT / "jpeg/tide-pool.jpg").write_bytes(jpeg.getvalue())
inks = io.BytesIO()
picture.convert("CMYK").save(inks, "JPEG", quality=95)
(OUT / "jpeg/tide-pool-inks.jpg").write_bytes(inks.getvalue())


def png16(pixels):
    """A PNG of 16 bits a channel, which Pillow does not write."""
    rows = b"".join(b"\0" + row.astype(">u2").tobytes() for row in pixels)
    chunk = lambda kind, data: len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")
    head = WIDE.to_bytes(4, "big") + HIGH.to_bytes(4, "big") + bytes([16, 2, 0, 0, 0])
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


(OUT / "png/tide-pool-16.png").write_bytes(png16(rgb16))


def png(image):
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def at(dpi):
    return img2pdf.get_fixed_dpi_layout_fun((dpi, dpi))


# Writers as they come.
bits = picture.convert("L").point(lambda v: 255 * (v > 170)).convert("1", dither=Image.Dither.NONE)
bits.save(OUT / "png/tide-pool-bits.png")
palette = picture.quantize(13, dither=Image.Dither.NONE)
palette.convert("RGB").save(OUT / "png/tide-pool-palette.png")
plain = dict(creationdate=None, moddate=None, nodate=True)
for name, data, dpi in [
    ("img2pdf-png", png(picture), 300),
    ("img2pdf-jpeg", jpeg.getvalue(), 600),
    ("img2pdf-gray", png(picture.convert("L")), 400),
    ("img2pdf-fax", png(bits), 600),
    ("img2pdf-palette", png(palette), 300),
    ("img2pdf-16-bits", png16(rgb16), 800),
    ("img2pdf-inks", inks.getvalue(), 300),
]:
    (PDF / f"{name}.pdf").write_bytes(img2pdf.convert(data, layout_fun=at(dpi), **plain))
small, large = picture.resize((20, 15)), picture.resize((WIDE, HIGH))
small.save(PDF / "pillow-pages.pdf", save_all=True, append_images=[large, small], resolution=300)
bits.save(PDF / "pillow-fax.pdf", resolution=300)
palette.save(PDF / "pillow-palette.pdf", resolution=300)


def report(name, draw, page=(ACROSS, DOWN), **options):
    out = canvas.Canvas(str(PDF / name), pagesize=page, invariant=1, **options)
    draw(out)
    out.showPage()
    out.save()


def whole_page(out):
    out.drawImage(ImageReader(picture), 0, 0, ACROSS, DOWN)


def searched(out):
    """Words that were read off the scan, to be searched and not seen."""
    whole_page(out)
    text = out.beginText(2, 5)
    text.setTextRenderMode(3)
    text.setFont("Helvetica", 4)
    text.textLine("shell")
    out.drawText(text)


def hidden(out):
    out.setFont("Helvetica", 4)
    out.drawString(2, 5, "shell")
    whole_page(out)


def stamped(out):
    whole_page(out)
    out.setFont("Helvetica", 4)
    out.drawString(2, 5, "shell")


def words(out):
    out.setFont("Helvetica", 4)
    out.drawString(2, 5, "shell")


def two(out):
    out.drawImage(ImageReader(picture), 0, 0, ACROSS / 2, DOWN / 2)
    out.drawImage(ImageReader(small), ACROSS / 2, DOWN / 2, ACROSS / 2, DOWN / 2)


alpha = ((across * 255) // (WIDE - 1)).astype(np.uint8)
seen = Image.fromarray(np.dstack([rgb, alpha]))
seen.save(OUT / "png/tide-pool-alpha.png")
report("reportlab.pdf", whole_page)
report("reportlab-searched.pdf", searched)
report("reportlab-hidden-words.pdf", hidden)
report("reportlab-stamped.pdf", stamped)
report("reportlab-words.pdf", words)
report("reportlab-two.pdf", two)
report("reportlab-empty.pdf", lambda out: None)
report("reportlab-alpha.pdf", lambda out: out.drawImage(ImageReader(seen), 0, 0, ACROSS, DOWN, mask="auto"))


# By hand, through pikepdf: what scanner software writes and the writers above do not.
def image(pdf, data, **more):
    stream = Stream(pdf, data)
    stream.Type, stream.Subtype = Name.XObject, Name.Image
    stream.Width, stream.Height = WIDE, HIGH
    for key, value in more.items():
        stream[f"/{key}"] = value
    return stream


def made(name, images, content=None, page=(ACROSS, DOWN), save=None, **keys):
    pdf = pikepdf.new()
    images = images(pdf)
    content = content or f"q {ACROSS} 0 0 {DOWN} 0 0 cm /I0 Do Q"
    one = Dictionary(
        Type=Name.Page,
        MediaBox=[0, 0, *page],
        Resources=Dictionary(XObject=Dictionary({f"/I{i}": pdf.make_indirect(x) for i, x in enumerate(images)})),
        Contents=Stream(pdf, content.encode()),
    )
    for key, value in keys.items():
        one[f"/{key}"] = value(pdf) if callable(value) else value
    pdf.pages.append(pikepdf.Page(pdf.make_indirect(one)))
    pdf.save(PDF / name, deterministic_id=not (save or {}).get("encryption"), **({"compress_streams": False} | (save or {})))


def packed(data):
    return zlib.compress(data.tobytes() if hasattr(data, "tobytes") else data, 9)


def flate(pixels, **more):
    return lambda pdf: [image(pdf, packed(pixels), Filter=Name.FlateDecode, **more)]


RGB = dict(ColorSpace=Name.DeviceRGB, BitsPerComponent=8)
plain_rgb = flate(rgb, **RGB)
before = np.diff(rgb.astype(np.int16), axis=1, prepend=0).astype(np.uint8)
made("tiff-differences.pdf", flate(before, DecodeParms=Dictionary(Predictor=2, Colors=3, Columns=WIDE), **RGB))
before16 = np.diff(rgb16.astype(np.int32), axis=1, prepend=0).astype(np.uint16).astype(">u2")
made("tiff-differences-16.pdf", flate(before16, DecodeParms=Dictionary(Predictor=2, Colors=3, BitsPerComponent=16, Columns=WIDE), ColorSpace=Name.DeviceRGB, BitsPerComponent=16))
made("inverted.pdf", flate(255 - gray, ColorSpace=Name.DeviceGray, BitsPerComponent=8, Decode=[1, 0]))
picture.convert("L").save(OUT / "png/tide-pool-gray.png")


def in_bits(values, depth):
    """Rows of so many bits a value, each row in whole bytes."""
    rows = ["".join(format(int(v), f"0{depth}b") for v in row.flatten()) for row in values]
    return b"".join(int(row.ljust(-(-len(row) // 8) * 8, "0"), 2).to_bytes(-(-len(row) // 8), "big") for row in rows)


numbers = np.asarray(palette)
table = bytes(palette.getpalette()[: 13 * 3])
made("palette-4-bits.pdf", flate(np.frombuffer(in_bits(numbers, 4), np.uint8), ColorSpace=Array([Name.Indexed, Name.DeviceRGB, 12, pikepdf.String(table)]), BitsPerComponent=4))
made("gray-2-bits.pdf", flate(np.frombuffer(in_bits(gray >> 6, 2), np.uint8), ColorSpace=Name.DeviceGray, BitsPerComponent=2))
ones = np.asarray(bits).astype(np.uint8)
made("stencil.pdf", flate(np.frombuffer(in_bits(ones, 1), np.uint8), ImageMask=True))
made("profile.pdf", lambda pdf: [image(pdf, packed(rgb), Filter=Name.FlateDecode, BitsPerComponent=8, ColorSpace=Array([Name.ICCBased, pdf.make_indirect(Stream(pdf, (here / "data/profiles/DisplayP3-v2-magic.icc").read_bytes(), N=3))]))])
srgb = [0.4124, 0.2126, 0.0193, 0.3576, 0.7152, 0.1192, 0.1805, 0.0722, 0.9505]
made("calibrated.pdf", flate(rgb, BitsPerComponent=8, ColorSpace=Array([Name.CalRGB, Dictionary(WhitePoint=[0.9505, 1, 1.089], Gamma=[2.2, 2.2, 2.2], Matrix=srgb)])))
to_lab = ImageCms.buildTransform(ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB", renderingIntent=1)
lab = np.asarray(ImageCms.applyTransform(picture, to_lab)).copy()
lab[..., 1:] += 128
made("lab.pdf", flate(lab, BitsPerComponent=8, ColorSpace=Array([Name.Lab, Dictionary(WhitePoint=[0.9642, 1, 0.8249], Range=[-128, 127, -128, 127])])))
made("runs.pdf", lambda pdf: [image(pdf, b"".join(bytes([len(part) - 1]) + part for part in [rgb.tobytes()[i : i + 128] for i in range(0, rgb.size, 128)]) + b"\x80", Filter=Name.RunLengthDecode, **RGB)])
made("base85.pdf", lambda pdf: [image(pdf, base64.a85encode(packed(rgb)) + b"~>", Filter=Array([Name.ASCII85Decode, Name.FlateDecode]), **RGB)])
made("jpeg-in-hex.pdf", lambda pdf: [image(pdf, jpeg.getvalue().hex().encode() + b">", Filter=Array([Name.ASCIIHexDecode, Name.DCTDecode]), DecodeParms=Array([pikepdf.Object.parse(b"null"), Dictionary()]), **RGB)])


def lzw(data):
    """LZW after TIFF 6.0, section 13, with the table cleared before it is full."""
    out, bits, count = bytearray(), 0, 0
    codes, width, word = {bytes([i]): i for i in range(256)}, 9, b""

    def put(code):
        nonlocal bits, count
        bits, count = bits << width | code, count + width
        while count >= 8:
            out.append(bits >> (count - 8) & 255)
            count -= 8
        bits &= (1 << count) - 1

    put(256)
    for byte in data:
        longer = word + bytes([byte])
        if longer in codes:
            word = longer
            continue
        put(codes[word])
        codes[longer] = len(codes) + 2
        # Codes grow once entry 511, 1023 or 2047 is there.
        size = len(codes) + 2
        if size > 4094:
            put(256)
            codes, width = {bytes([i]): i for i in range(256)}, 9
        else:
            width = max(9, size.bit_length())
        word = bytes([byte])
    put(codes[word])
    put(257)
    if count:
        out.append(bits << (8 - count) & 255)
    return bytes(out)


with pikepdf.new() as judge:
    assert Stream(judge, lzw(rgb.tobytes()), Filter=Name.LZWDecode).read_bytes() == rgb.tobytes()
made("lzw.pdf", lambda pdf: [image(pdf, lzw(rgb.tobytes()), Filter=Name.LZWDecode, **RGB)])

STRIP = 16
strips = [rgb[y : y + STRIP] for y in range(0, HIGH, STRIP)]
placed, top = "", DOWN
for i, strip in enumerate(strips):
    tall = len(strip) * 72 / 300
    top -= tall
    placed += f"q {ACROSS:.4f} 0 0 {tall:.4f} 0 {top:.4f} cm /I{i} Do Q\n"


def strip_images(pdf):
    return [image(pdf, packed(strip), Filter=Name.FlateDecode, Height=len(strip), **RGB) for strip in strips]


made("strips.pdf", strip_images, placed)
made("strips-apart.pdf", strip_images, placed.replace(f"0 {top:.4f} cm", "0 -5 cm"))
made("rotated.pdf", plain_rgb, Rotate=90)
made("turned.pdf", plain_rgb, f"q 0 {ACROSS} {-DOWN} 0 {DOWN} 0 cm /I0 Do Q", page=(DOWN, ACROSS))
made("slanted.pdf", plain_rgb, f"q {ACROSS * 0.9998} {ACROSS * 0.02} {-DOWN * 0.02} {DOWN * 0.9998} 0 0 cm /I0 Do Q")
made("unit.pdf", plain_rgb, UserUnit=2)
made("scaled-twice.pdf", plain_rgb, f"q 0.24 0 0 0.24 0 0 cm q {WIDE} 0 0 {HIGH} 0 0 cm /I0 Do Q Q")
made("stretched.pdf", plain_rgb, f"q {ACROSS} 0 0 {DOWN / 2} 0 0 cm /I0 Do Q", page=(ACROSS, DOWN / 2))


def group(pdf):
    form = Stream(pdf, f"q {ACROSS} 0 0 {DOWN} 0 0 cm /P Do Q".encode())
    form.Type, form.Subtype, form.BBox = Name.XObject, Name.Form, Array([0, 0, 100, 100])
    form.Matrix = Array([2, 0, 0, 2, 0, 0])
    form.Resources = Dictionary(XObject=Dictionary(P=pdf.make_indirect(plain_rgb(pdf)[0])))
    return [form]


made("group.pdf", group, "/I0 Do")
made("default-rgb.pdf", plain_rgb, Resources=lambda pdf: Dictionary(
    XObject=Dictionary(I0=pdf.make_indirect(plain_rgb(pdf)[0])),
    ColorSpace=Dictionary(DefaultRGB=Array([Name.ICCBased, pdf.make_indirect(Stream(pdf, (here / "data/profiles/DisplayP3-v2-magic.icc").read_bytes(), N=3))]))))
made("object-streams.pdf", plain_rgb, save=dict(object_stream_mode=pikepdf.ObjectStreamMode.generate, compress_streams=True))
made("open-lock.pdf", plain_rgb, save=dict(encryption=pikepdf.Encryption(owner="owner", user="", R=6)))
made("open-lock-128.pdf", plain_rgb, save=dict(encryption=pikepdf.Encryption(owner="owner", user="", R=4)))
made("locked.pdf", plain_rgb, save=dict(encryption=pikepdf.Encryption(owner="owner", user="user", R=6)))


# JPEG 2000, by OpenJPEG through Pillow: without loss, with its own colors and with the PDF's; and with loss, against what it reads itself.
def jpeg_2000(image, **more):
    out = io.BytesIO()
    image.save(out, "JPEG2000", **more)
    return out.getvalue()


def jpx(name, image_in, options=None, **more):
    made(name, lambda pdf: [image(pdf, jpeg_2000(image_in, **(options or {})), Filter=Name.JPXDecode, **more)])


deep = (gray.astype(np.uint16) << 8) + ((across * 7 + down * 13) % 256).astype(np.uint16)
deep_gray = Image.fromarray(deep)
deep_gray.save(OUT / "png/tide-pool-gray-16.png")
lossy = dict(irreversible=True, quality_mode="rates", quality_layers=[6], tile_size=(32, 32), progression="RPCL")
Image.open(io.BytesIO(jpeg_2000(picture, **lossy))).save(OUT / "png/tide-pool-jpx.png")
(PDF / "img2pdf-jpx.pdf").write_bytes(img2pdf.convert(jpeg_2000(picture), layout_fun=at(300), **plain))
jpx("jpx-stream.pdf", picture, dict(no_jp2=True), **RGB)
jpx("jpx-gray.pdf", picture.convert("L"))
jpx("jpx-gray-16.pdf", deep_gray)
jpx("jpx-palette.pdf", Image.fromarray(numbers), ColorSpace=Array([Name.Indexed, Name.DeviceRGB, 12, pikepdf.String(table)]), BitsPerComponent=8)
jpx("jpx-lossy.pdf", picture, lossy)
jpx("jpx-alpha.pdf", seen)
jpx("jpx-alpha-seen.pdf", seen, SMaskInData=1)
jpx("jpx-other-colors.pdf", picture, ColorSpace=Name.DeviceCMYK)
made("jpx-broken.pdf", lambda pdf: [image(pdf, b"\0\0\0\x0cjP  ", Filter=Name.JPXDecode)])
made("jbig2.pdf", lambda pdf: [image(pdf, b"\0\0\0\0", Filter=Name.JBIG2Decode, ColorSpace=Name.DeviceGray, BitsPerComponent=1)])
made("spot-ink.pdf", flate(gray, BitsPerComponent=8, ColorSpace=Array([Name.Separation, Name("/Rust"), Name.DeviceGray, Dictionary(FunctionType=2, N=1, Domain=[0, 1])])))
made("giant.pdf", flate(rgb, Width=100_000, **{**RGB, "Height": 100_000}))
(PDF / "lost-table.pdf").write_bytes((PDF / "rotated.pdf").read_bytes().split(b"xref")[0])
made("cut-off.pdf", lambda pdf: [image(pdf, packed(rgb[: HIGH // 2]), Filter=Name.FlateDecode, **RGB)])
(PDF / "late-head.pdf").write_bytes(b"\r\n\r\nfrom a scanner\r\n" + (PDF / "rotated.pdf").read_bytes())

"""Makes table-rgb.icc, tinted-rgb.icc, new-table-rgb.icc, press.icc, vectors.csv, inks.csv and exact.csv, which tests/color.rs reads. Run by hand; needs
Pillow and NumPy.

vectors.csv  8-bit colors through an independent color engine (LittleCMS 2.19, by way of Pillow 13.0): relative colorimetric, with
             black point compensation, no shortcuts, to its sRGB. Its answers are rounded to 8 bits.
inks.csv     8-bit inks likewise.
exact.csv    16-bit colors through the formulas of ICC.1:2010 in double precision, for profiles of curves and a matrix.
table-rgb.icc  a made-up scanner profile with a color table (ICC.1 type mft2, 9 x 9 x 9 nodes to Lab), as scanner makers
             ship them.
tinted-rgb.icc  the same with a black that is neither black nor neutral.
new-table-rgb.icc  a made-up scanner with a table of ICC.1 type mAB: curves, 3 x 5 x 4 nodes, curves, a matrix, curves, to XYZ.
press.icc    a made-up press (mft2, 5 x 5 x 5 x 5 nodes to Lab), which prints the darkest color with less than all inks, far from black.
"""

import pathlib
import struct

import numpy as np
from PIL import Image, ImageCms

HERE = pathlib.Path(__file__).parent
D50 = np.array([0.9642, 1.0, 0.8249])
NO_CACHE, NO_OPTIMIZE, BLACK_POINT = 0x0040, 0x0100, 0x2000


def srgb_d50():
    """Linear sRGB to XYZ under D50: the matrix of CSS Color 4, adapted by Bradford."""
    to_xyz = np.array([
        [506752 / 1228815, 87881 / 245763, 12673 / 70218],
        [87098 / 409605, 175762 / 245763, 12673 / 175545],
        [7918 / 409605, 87881 / 737289, 1001167 / 1053270],
    ])
    bradford = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
    gain = (bradford @ D50) / (bradford @ to_xyz.sum(axis=1))
    return np.linalg.inv(bradford) @ np.diag(gain) @ bradford @ to_xyz


def encoded(linear):
    linear = np.clip(linear, 0, 1)
    return np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)


def tags(icc):
    count = struct.unpack(">I", icc[128:132])[0]
    found = {}
    for i in range(count):
        name, start, size = struct.unpack(">4sII", icc[132 + 12 * i : 144 + 12 * i])
        found[name.decode()] = icc[start : start + size]
    return found


def curve(tag, v):
    if tag[:4] == b"curv":
        count = struct.unpack(">I", tag[8:12])[0]
        values = struct.unpack(f">{count}H", tag[12 : 12 + 2 * count])
        if count == 0:
            return v
        if count == 1:
            return v ** (values[0] / 256)
        return np.interp(v, np.linspace(0, 1, count), np.array(values) / 65535)
    kind = struct.unpack(">H", tag[8:10])[0]
    count = [1, 3, 4, 5, 7][kind]
    p = [x / 65536 for x in struct.unpack(f">{count}i", tag[12 : 12 + 4 * count])]
    if kind == 0:
        return v ** p[0]
    if kind == 3:
        g, a, b, c, d = p
        return np.where(v >= d, (a * np.maximum(v, d) + b) ** g, c * v)
    raise ValueError(kind)


def exact(icc, rgb):
    t = tags(icc)
    xyz = np.array([[x / 65536 for x in struct.unpack(">3i", t[c + "XYZ"][8:20])] for c in "rgb"]).T
    linear = np.stack([curve(t[c + "TRC"], rgb[:, i]) for i, c in enumerate("rgb")])
    return encoded(np.linalg.inv(srgb_d50()) @ xyz @ linear).T


def lab(xyz):
    t = xyz / D50
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def stored_lab(values):
    """Lab in 16 bits as mft2 has it, as bytes."""
    return np.clip(np.round((values + [0, 128, 128]) * [652.8, 256, 256]), 0, 65535).astype(">u2").tobytes()


def table(inputs, outputs, points, nodes):
    """ICC.1 type mft2 with straight curves."""
    head = b"mft2" + bytes(4) + bytes([inputs, outputs, points, 0])
    head += struct.pack(">9i", *[65536 if i % 4 == 0 else 0 for i in range(9)])
    return head + struct.pack(">HH", 2, 2) + struct.pack(">HH", 0, 65535) * inputs + nodes + struct.pack(">HH", 0, 65535) * outputs


def new_table(points, nodes):
    """ICC.1 type mAB, nodes 0..1 of 8 bits."""

    def powers(*numbers):
        return b"".join(b"para" + bytes(4) + struct.pack(">HHi", 0, 0, round(g * 65536)) for g in numbers)

    parts = [powers(1.1, 1.1, 1.1)]  # beside the connection
    rows = [0.9, 0.05, 0.02, 0.03, 0.95, 0.01, 0.0, 0.02, 0.97, 0.002, 0.001, 0.0]
    parts.append(struct.pack(">12i", *[round(v * 65536) for v in rows]))
    parts.append(powers(0.95, 1.0, 1.05))  # beside the matrix
    grid = bytes(points).ljust(16, b"\0") + bytes([1, 0, 0, 0]) + np.round(nodes * 255).astype(np.uint8).tobytes()
    parts.append(grid + bytes(-len(grid) % 4))
    parts.append(powers(1.5, 1.6, 1.7))  # beside the samples
    places = np.cumsum([32, *(len(part) for part in parts[:-1])])
    return b"mAB " + bytes(4) + bytes([3, 3, 0, 0]) + struct.pack(">5I", *places) + b"".join(parts)


def packed(name, kind, space, tables, version=0x02400000, connection=b"Lab "):
    """A profile of these tables; those with the same bytes are stored once."""
    desc = b"desc" + bytes(4) + struct.pack(">I", len(name) + 1) + name + bytes(1 + 4 + 4 + 2 + 1 + 67)
    text = b"text" + bytes(4) + b"No rights reserved (CC0)\0"
    white = b"XYZ " + bytes(4) + struct.pack(">3i", *[round(v * 65536) for v in D50])
    places = [(b"desc", desc), (b"cprt", text), (b"wtpt", white), *tables]
    at = 128 + 4 + 12 * len(places)
    directory, body, known = struct.pack(">I", len(places)), b"", {}
    for tag, data in places:
        if data not in known:
            known[data] = at + len(body)
            body += data + bytes(-len(data) % 4)
        directory += struct.pack(">4sII", tag, known[data], len(data) + -len(data) % 4)
    header = struct.pack(">I4sI4s4s4s", at + len(body), bytes(4), version, kind, space, connection)
    header += struct.pack(">6H", 2000, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    header += struct.pack(">3i", *[round(v * 65536) for v in D50])
    return header.ljust(128, b"\0") + directory + body


def scanner_profile(black):
    """Of a scanner with some cross talk and a tone curve of its own; white stays white, black is so much linear light."""
    nodes = np.linspace(0, 1, 9)
    rgb = np.stack(np.meshgrid(nodes, nodes, nodes, indexing="ij"), -1)
    mixed = np.clip(rgb @ np.array([[0.9, 0.07, 0.03], [0.05, 0.92, 0.03], [0.02, 0.08, 0.9]]).T, 0, 1)
    made = table(3, 3, 9, stored_lab(lab((black + (1 - np.array(black)) * mixed**1.9) @ srgb_d50().T)))
    return packed(b"Made-up scanner", b"scnr", b"RGB ", [(b"A2B0", made), (b"A2B1", made)])


def new_scanner_profile():
    axes = [np.linspace(0, 1, points) for points in (3, 5, 4)]
    rgb = np.stack(np.meshgrid(*axes, indexing="ij"), -1)
    made = new_table([3, 5, 4], np.clip((0.03 + 0.97 * rgb) @ srgb_d50().T / (1 + 32767 / 32768), 0, 1))
    return packed(b"Made-up scanner", b"scnr", b"RGB ", [(b"A2B0", made), (b"A2B1", made)], 0x04200000, b"XYZ ")


def press_profile():
    nodes = np.linspace(0, 1, 5)
    c, m, y, k = np.meshgrid(nodes, nodes, nodes, nodes, indexing="ij")
    left = np.stack([1 - 0.95 * c, 1 - 0.9 * m - 0.1 * c, 1 - 0.9 * y - 0.1 * m], -1) * (1 - 0.85 * k)[..., None]
    printed = table(4, 3, 5, stored_lab(lab(np.clip(left, 0.02, 1) ** 1.8 @ srgb_d50().T)))
    lightness = np.linspace(0, 1, 5)[:, None, None] * np.ones((1, 5, 5))
    inks = (1 - lightness[..., None]) * [0.6, 0.5, 0.5, 0.9]
    inked = table(3, 4, 5, np.round(inks * 65535).astype(">u2").tobytes())
    return packed(b"Made-up press", b"prtr", b"CMYK", [(b"A2B0", printed), (b"A2B1", printed), (b"B2A0", inked)])


def vectors(file, channels, mode, names, colors):
    """What the engine makes of 8-bit colors."""
    target = ImageCms.createProfile("sRGB")
    picture = Image.frombytes(mode, (len(colors), 1), np.array(colors, np.uint8).tobytes())
    with open(HERE / file, "w") as out:
        out.write(f"profile,{channels},srgb_r,srgb_g,srgb_b\n")
        for name in names:
            source = ImageCms.getOpenProfile(str(HERE / f"{name}.icc"))
            through = ImageCms.buildTransform(source, target, mode, "RGB", 1, NO_CACHE | NO_OPTIMIZE | BLACK_POINT)
            for before, after in zip(colors, np.array(ImageCms.applyTransform(picture, through))[0]):
                out.write(f"{name},{','.join(map(str, before))},{','.join(map(str, after))}\n")


def main():
    (HERE / "table-rgb.icc").write_bytes(scanner_profile([0.0, 0.0, 0.0]))
    (HERE / "tinted-rgb.icc").write_bytes(scanner_profile([0.02, 0.01, 0.005]))
    (HERE / "new-table-rgb.icc").write_bytes(new_scanner_profile())
    (HERE / "press.icc").write_bytes(press_profile())
    steps = [0, 10, 60, 128, 200, 255]
    colors = [(r, g, b) for r in steps for g in steps for b in steps] + [(v, v, v) for v in range(0, 256, 15)]
    names = ["AdobeCompat-v2", "DisplayP3-v2-magic", "ProPhoto-v4", "Rec2020-v2-micro", "scRGB-v2"]
    names += ["table-rgb", "tinted-rgb", "new-table-rgb"]
    vectors("vectors.csv", "r,g,b", "RGB", names, colors)
    steps = [0, 60, 190, 255]
    inks = [(c, m, y, k) for c in steps for m in steps for y in steps for k in (0, 100, 230, 255)]
    vectors("inks.csv", "c,m,y,k", "CMYK", ["CGATS001Compat-v2-micro", "press"], inks)
    with open(HERE / "exact.csv", "w") as out:
        out.write("profile,r,g,b,srgb_r,srgb_g,srgb_b\n")
        wide = np.array([(r, g, b) for r in (0, 300, 20000, 45000, 65535) for g in (200, 31000, 65535) for b in (100, 9000, 60000)]
                        + [(v, v, v) for v in (0, 50, 500, 2000, 5000, 12345, 30000, 54321, 65000, 65535)])
        for name in ["AdobeCompat-v2", "ProPhoto-v4", "scRGB-v2"]:
            answers = exact((HERE / f"{name}.icc").read_bytes(), wide / 65535) * 65535
            for before, after in zip(wide, answers):
                out.write(f"{name},{','.join(map(str, before))},{','.join(f'{v:.2f}' for v in after)}\n")


main()

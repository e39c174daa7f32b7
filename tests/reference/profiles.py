"""Reads a picture of many colors with one profile after another, with barewash and with Little CMS, and tells how far apart they are.

    cargo build --release --example read_scan
    python3 tests/reference/profiles.py target/release/examples/read_scan FOLDER [FOLDER ...] > tests/reference/PROFILES.md

Run over `tests/data`, a format suite, and a folder each of what the Debian packages icc-profiles-free, colord-data and libgs-common
hold. A FOLDER holds profiles (`.icc`, `.icm`) and pictures (PNG, JPEG, TIFF), whose embedded profiles are taken. Of profiles that are the
same to the byte the first is taken. Those for other colors than gray, RGB or CMYK are passed over, and so are those that Little CMS
cannot read colors by. A few are made here, so that every kind of table is among them: of 8 and of 16 bits, of the older and of the
newer make, towards L*a*b* and towards XYZ.

The picture has a grid of colors with all corners, a ramp of gray and random colors; it is a TIFF of 8 bits and one of 16. Little CMS
converts in 16 bits, relative colorimetric with black point compensation, without its shortcuts, to its own sRGB. The difference is
CIEDE2000 of what both give. Needs `formats-requirements.txt`.
"""

import hashlib
import pathlib
import struct
import sys
import tempfile

import imagecodecs
import numpy as np
import tifffile
from formats import by_profile, ours
from PIL import Image

MEAN, MOST = 0.5, 1.5
KINDS = {b"GRAY": ("gray", 1), b"RGB ": ("rgb", 3), b"CMYK": ("cmyk", 4)}
D50 = np.array([0.9642, 1.0, 0.8249])
TO_XYZ = np.array([[0.4360747, 0.3850649, 0.1430804], [0.2225045, 0.7168786, 0.0606169], [0.0139322, 0.0971045, 0.7141733]])


def colors(channels):
    """Samples of 16 bits that are whole ones of 8 bits too."""
    steps = np.linspace(0, 255, {1: 256, 3: 9, 4: 6}[channels]).round()
    grid = np.stack(np.meshgrid(*[steps] * channels, indexing="ij"), -1).reshape(-1, channels)
    ramp = np.repeat(np.arange(256.0)[:, None], channels, axis=1)
    alone = np.zeros((256, channels))
    alone[:, -1] = np.arange(256)
    random = np.random.default_rng(7).integers(0, 256, (4096, channels))
    all_of_them = np.concatenate([grid, ramp, alone, random])
    wide = 64
    return np.resize(all_of_them, (-(-len(all_of_them) // wide), wide, channels)).astype(np.uint16) * 257


def fine(channels):
    """Samples that use all 16 bits, half of them dark."""
    random = np.random.default_rng(8)
    values = random.integers(0, 65536, (64, 64, channels))
    values[::2] = values[::2] >> 4
    return values.astype(np.uint16)


def lab(rgb):
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    t = linear @ TO_XYZ.T / D50
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def ciede2000(one, two):
    """Sharma, Wu and Dalal 2005, equations 2 to 22."""
    l1, a1, b1 = np.moveaxis(one, -1, 0)
    l2, a2, b2 = np.moveaxis(two, -1, 0)
    mean = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    g = (1 - np.sqrt(mean**7 / (mean**7 + 25.0**7))) / 2
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    both = c1 * c2 > 0
    turn = np.where(both, (h2 - h1 + 180) % 360 - 180, 0)
    dl, dc, dh = l2 - l1, c2 - c1, 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    l, c = (l1 + l2) / 2, (c1 + c2) / 2
    h = np.where(both, np.where(abs(h1 - h2) <= 180, (h1 + h2) / 2, ((h1 + h2 + 360) / 2) % 360), h1 + h2)
    cosine = lambda angle: np.cos(np.radians(angle))  # noqa: E731
    t = 1 - 0.17 * cosine(h - 30) + 0.24 * cosine(2 * h) + 0.32 * cosine(3 * h + 6) - 0.20 * cosine(4 * h - 63)
    sl = 1 + 0.015 * (l - 50) ** 2 / np.sqrt(20 + (l - 50) ** 2)
    sc, sh = 1 + 0.045 * c, 1 + 0.015 * c * t
    rc = 2 * np.sqrt(c**7 / (c**7 + 25.0**7))
    rt = -np.sin(np.radians(60 * np.exp(-(((h - 275) / 25) ** 2)))) * rc
    return np.sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * dc / sc * dh / sh)


def packed(tags, version, kind, space, connection):
    """A profile of these tags (ICC.1:2010, 7)."""
    name = b"Made up"
    old = b"desc" + bytes(4) + struct.pack(">I", len(name) + 1) + name + bytes(1 + 4 + 4 + 2 + 1 + 67)
    new = b"mluc" + bytes(4) + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(name) * 2, 28) + name.decode().encode("utf-16-be")
    white = b"XYZ " + bytes(4) + struct.pack(">3i", *[round(v * 65536) for v in D50])
    tags = {b"desc": new if version >= 4 else old, b"wtpt": white, **tags}
    at, directory, body, seen = 128 + 4 + 12 * len(tags), b"", b"", {}
    for tag, data in tags.items():
        if data not in seen:
            seen[data] = at + len(body)
            body += data + bytes(-len(data) % 4)
        directory += struct.pack(">4sII", tag, seen[data], len(data))
    head = struct.pack(">I4sI4s4s4s", at + len(body), bytes(4), version << 24, kind, space, connection)
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28) + struct.pack(">3i", *[round(v * 65536) for v in D50])
    return head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + directory + body


def old_table(bits, inputs, points, nodes, curve):
    """ICC.1:2010, 10.8 and 10.9, of node values 0..1 and a curve 0..1 for each channel in."""
    kind, number, most = (b"mft1", ">u1", 255) if bits == 8 else (b"mft2", ">u2", 65535)
    entries = 256 if bits == 8 else len(curve)
    curve = np.interp(np.linspace(0, 1, entries), np.linspace(0, 1, len(curve)), curve)
    straight = np.linspace(0, 1, 256 if bits == 8 else 2)
    numbers = lambda v: np.round(np.clip(v, 0, 1) * most).astype(number).tobytes()  # noqa: E731
    out = kind + bytes(4) + bytes([inputs, 3, points, 0]) + struct.pack(">9i", *[65536 if i % 4 == 0 else 0 for i in range(9)])
    out += struct.pack(">HH", entries, len(straight)) if bits == 16 else b""
    return out + numbers(curve) * inputs + numbers(nodes) + numbers(straight) * 3


def new_table(inputs, points, nodes, gamma, outputs=3):
    """ICC.1:2010, 10.10: curves of a power, nodes of 16 bits for each axis, further curves with a matrix, and straight ones; with other
    than three channels out 10.11, the same parts the other way round."""
    power = lambda g: b"para" + bytes(4) + struct.pack(">HHi", 0, 0, round(g * 65536))  # noqa: E731
    last, middle = power(1.0) * 3, power(1.0) * 3
    matrix = struct.pack(">12i", *[round(v * 65536) for v in (0.98, 0.01, 0.01, 0.0, 0.99, 0.01, 0.01, 0.0, 0.99, 0.0, 0.0, 0.0)])
    grid = bytes(points).ljust(16, b"\0") + bytes([2, 0, 0, 0]) + np.round(np.clip(nodes, 0, 1) * 65535).astype(">u2").tobytes()
    grid += bytes(-len(grid) % 4)
    at = [32]
    for part in (last, matrix, middle, grid):
        at.append(at[-1] + len(part))
    head = (b"mAB " if outputs == 3 else b"mBA ") + bytes(4) + bytes([inputs, outputs, 0, 0]) + struct.pack(">5I", *at)
    return head + last + matrix + middle + grid + power(gamma) * (inputs if outputs == 3 else outputs)


def made():
    """Profiles of a scanner with cross talk and flare, and of a press, whose black is far from none."""

    def scanned(points):
        axes = [np.linspace(0, 1, p) for p in points]
        rgb = np.stack(np.meshgrid(*axes, indexing="ij"), -1)
        mixed = rgb @ np.array([[0.9, 0.07, 0.03], [0.05, 0.92, 0.03], [0.02, 0.08, 0.9]]).T
        flare = np.array([0.015, 0.01, 0.006])
        xyz = (flare + (1 - flare) * mixed**1.2) @ TO_XYZ.T
        t = xyz / D50
        f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
        return xyz, np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)

    curve = np.linspace(0, 1, 1024) ** 1.6
    xyz, color = scanned((9, 9, 9))
    old = (color + [0, 128, 128]) * np.array([652.8, 256, 256]) / 65535
    eight = (color + [0, 128, 128]) / [100, 255, 255]
    for name, table, connection in (
        ("scanner, table of 8 bits, L*a*b*", old_table(8, 3, 9, eight, curve), b"Lab "),
        ("scanner, table of 16 bits, L*a*b*", old_table(16, 3, 9, old, curve), b"Lab "),
        ("scanner, table of 16 bits, XYZ", old_table(16, 3, 9, xyz * 32768 / 65535, curve), b"XYZ "),
    ):
        yield name, packed({b"A2B0": table, b"A2B1": table}, 2, b"scnr", b"RGB ", connection)
        yield name + ", perceptual only", packed({b"A2B0": table}, 2, b"scnr", b"RGB ", connection)
    xyz, color = scanned((5, 9, 7))
    for name, nodes, connection in (
        ("scanner, new table, L*a*b*", (color + [0, 128, 128]) / [100, 255, 255], b"Lab "),
        ("scanner, new table, XYZ", xyz * 32768 / 65535, b"XYZ "),
    ):
        yield name, packed({(tag): new_table(3, (5, 9, 7), nodes, 1.6) for tag in (b"A2B0", b"A2B1")}, 4, b"scnr", b"RGB ", connection)
    dark = (np.linspace(0, 1, 1024) ** 1.8 * 0.97 + 0.03) * 65535
    gray = b"curv" + bytes(4) + struct.pack(">I", 1024) + dark.round().astype(">u2").tobytes()
    yield "gray, black not black", packed({b"kTRC": gray}, 2, b"scnr", b"GRAY", b"XYZ ")
    steep = b"curv" + bytes(4) + struct.pack(">IH", 1, 461) + bytes(2)
    primaries = {name: b"XYZ " + bytes(4) + struct.pack(">3i", *[round(v * 65536) for v in column]) for name, column in zip((b"rXYZ", b"gXYZ", b"bXYZ"), TO_XYZ.T)}
    yield "curves of a power", packed({**primaries, b"rTRC": steep, b"gTRC": steep, b"bTRC": steep}, 2, b"mntr", b"RGB ", b"XYZ ")
    tinted = {b"rTRC": gray, b"gTRC": steep, b"bTRC": steep}
    yield "curves, black red", packed({**primaries, **tinted}, 2, b"scnr", b"RGB ", b"XYZ ")
    scale = np.linspace(0, 1, 33)[:, None] * [100.0, 4.0, -6.0]
    table = old_table(16, 1, 33, (scale + [0, 128, 128]) * np.array([652.8, 256, 256]) / 65535, curve)
    yield "gray by a table, tinted", packed({b"A2B0": table, b"A2B1": table}, 2, b"scnr", b"GRAY", b"Lab ")
    lightness = b"curv" + bytes(4) + struct.pack(">IH", 1, 256) + bytes(2)
    yield "gray, towards L*a*b*", packed({b"kTRC": lightness}, 4, b"scnr", b"GRAY", b"Lab ")
    inks = 1 - np.stack(np.meshgrid(*[np.linspace(0, 1, 7)] * 4, indexing="ij"), -1)
    light = inks[..., :3] * inks[..., 3:] * 0.94 + 0.06
    t = light**2 @ TO_XYZ.T / D50
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    color = np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)
    table = old_table(16, 4, 7, (color + [0, 128, 128]) * np.array([652.8, 256, 256]) / 65535, np.linspace(0, 1, 256))
    tables = {b"A2B0": table, b"A2B1": table}
    lightness = np.linspace(0, 1, 5)[:, None, None, None] * np.ones((1, 5, 5, 1))
    printed = (1 - lightness) * [0.5, 0.4, 0.4, 0.9]
    entries = np.round(printed * 65535).astype(">u2").tobytes()
    ends = struct.pack(">HH", 0, 65535)
    inked = b"mft2" + bytes(4) + bytes([3, 4, 5, 0]) + struct.pack(">9i", *[65536 if i % 4 == 0 else 0 for i in range(9)])
    inked += struct.pack(">HH", 2, 2) + ends * 3 + entries + ends * 4
    yield "press, darkest color not of all inks", packed({**tables, b"B2A0": inked}, 2, b"prtr", b"CMYK", b"Lab ")
    yield "press that does not say how it prints", packed(tables, 2, b"prtr", b"CMYK", b"Lab ")
    new = new_table(4, (7, 7, 7, 7), (color + [0, 128, 128]) / [100, 255, 255], 1.1)
    newer = {b"A2B0": new, b"A2B1": new, b"B2A0": new_table(3, (5, 5, 5), printed, 1.0, outputs=4)}
    yield "press, new tables", packed(newer, 4, b"prtr", b"CMYK", b"Lab ")
    yield "inks seen by a scanner, all of them not black", packed({b"A2B0": table, b"A2B1": table}, 2, b"scnr", b"CMYK", b"Lab ")


def embedded(path):
    """The profile that a picture embeds."""
    with Image.open(path) as image:
        return image.info.get("icc_profile")


def profiles(folders):
    """Name and bytes of each profile, and where it is from."""
    seen = set()
    for folder in folders:
        for path in sorted(p for p in pathlib.Path(folder).rglob("*") if p.is_file()):
            try:
                data = path.read_bytes() if path.suffix.lower() in (".icc", ".icm") else embedded(path)
            except Exception:  # noqa: BLE001 (no picture, or a broken one)
                continue
            key = hashlib.sha256(data or b"").digest()
            if data and key not in seen:
                seen.add(key)
                yield f"{path.parent.name}/{path.name}", data
    for name, data in made():
        yield f"made here: {name}", data


def sort_of(data):
    """What a profile is, in words."""
    count = struct.unpack(">I", data[128:132])[0]
    tags = {data[132 + 12 * i : 136 + 12 * i]: struct.unpack(">I", data[136 + 12 * i : 140 + 12 * i])[0] for i in range(count)}
    tables = [name.decode() + " " + data[tags[name] : tags[name] + 4].decode().strip() for name in (b"A2B0", b"A2B1") if name in tags]
    way = ", ".join(tables) if tables else "curves and matrix" if b"rXYZ" in tags else "curve"
    return f"{data[16:20].decode().strip()} v{data[8]}.{data[9] >> 4} {data[12:16].decode()}, {way}, towards {data[20:24].decode().strip()}"


def compared(program, data, scratch):
    """Mean and largest difference in 16 bits and in 8 and what barewash remarks; `None` where Little CMS cannot read by the profile."""
    kind, channels = KINDS[data[16:20]]
    photometric = {"gray": "minisblack", "rgb": "rgb", "cmyk": "separated"}[kind]
    found, remarks = [], set()
    for picture in (np.concatenate([colors(channels), fine(channels)]), (colors(channels) // 257).astype(np.uint8)):
        values = picture.astype(np.float64) / (65535 if picture.dtype == np.uint16 else 255)
        wanted = by_profile(values, kind, data)
        if wanted is None:
            return None
        stored = picture[..., 0] if channels == 1 else picture
        tag = (34675, 7, len(data), data, True)
        tifffile.imwrite(scratch / "scan.tif", stored, photometric=photometric, extratags=[tag], metadata=None, resolution=(300, 300))
        said, pixels = ours(program, scratch / "scan.tif", scratch / "raw")
        if pixels is None:
            return None, said["message"]
        remarks.update(said["warnings"])
        apart = ciede2000(lab(pixels), lab(wanted))
        found += [apart.mean(), apart.max()]
    return found, ", ".join(sorted(remarks))


def main(program, *folders):
    rows, over, passed = [], [], []
    with tempfile.TemporaryDirectory() as scratch:
        for name, data in profiles(folders):
            if data[36:40] != b"acsp" or len(data) < 132:
                passed.append(f"{name}: no profile")
                continue
            if data[16:20] not in KINDS:
                passed.append(f"{name}: for {data[16:20].decode('ascii', 'replace').strip()}")
                continue
            result = compared(program, data, pathlib.Path(scratch))
            if result is None:
                passed.append(f"{name}: Little CMS cannot read colors by it")
                continue
            found, remarks = result
            if found is None:
                over.append(f"{name}: {remarks}")
                continue
            mean, most, mean_8, most_8 = found
            rows.append(f"| {name} | {sort_of(data)} | {mean:.3f} | {most:.2f} | {mean_8:.3f} | {most_8:.2f} | {remarks} |")
            if mean > MEAN or most > MOST or mean_8 > MEAN or most_8 > MOST:
                over.append(f"{name}: {mean:.3f} and {most:.2f} in 16 bits, {mean_8:.3f} and {most_8:.2f} in 8{': ' * bool(remarks)}{remarks}")
    print("# Colors by embedded profiles, and how far from Little CMS\n")
    print("Made by `profiles.py`, whose head says how. CIEDE2000 in the mean and at the most, of pictures of 16 and of 8 bits.\n")
    print(f"{len(rows)} profiles; over {MEAN} in the mean or {MOST} at the most: {len(over)}.\n")
    for title, items in (("Over the limits", over), ("Passed over", passed)):
        if items:
            print(f"{title}:\n\n" + "\n".join(f"- {item}" for item in items) + "\n")
    print("| profile | what it is | mean | most | mean, 8 bits | most, 8 bits | remarks |\n|---|---|---|---|---|---|---|")
    print("\n".join(rows))


if __name__ == "__main__":
    main(*sys.argv[1:])

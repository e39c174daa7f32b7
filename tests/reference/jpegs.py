"""Writes the JPEGs whose channels stand in scans of their own, and beside each the pixels that Pillow reads of it.

    python3 tests/reference/jpegs.py tests/data/formats

Needs `formats-requirements.txt`. Pillow writes a picture with all channels in one scan; here its coded blocks are read and sorted
into other scans, by ITU-T T.81 (annexes A, B and F) alone. `tests/decode.rs` compares what barewash reads with Pillow's pixels.
"""

import io
import math
import pathlib
import sys

import numpy as np
from PIL import Image

OUT = pathlib.Path(sys.argv[1])


def picture(width, height):
    """Color and light that change everywhere, in the last rows too."""
    down, across = np.mgrid[:height, :width]
    light = 40 * np.sin(across / 3) * np.cos(down / 4)
    red, green, blue = 200 - across * 2 + light, 90 + down * 3 + light, 60 + across + down * 2 - light
    return Image.fromarray(np.clip(np.stack([red, green, blue], -1), 0, 255).astype(np.uint8))


class Bits:
    """The bits of coded data, without the zeros stuffed after FF."""

    def __init__(self, data):
        self.bits = "".join(f"{byte:08b}" for byte in data.replace(b"\xff\x00", b"\xff"))
        self.at = 0

    def take(self, count):
        self.at += count
        return self.bits[self.at - count : self.at]

    def symbol(self, table):
        code = ""
        while code not in table:
            code += self.take(1)
        return table[code]


def huffman(counts, values):
    """Codes and what they stand for: annex C."""
    table, code, at = {}, 0, 0
    for length, count in enumerate(counts, 1):
        for _ in range(count):
            table[f"{code:0{length}b}"] = values[at]
            code, at = code + 1, at + 1
        code <<= 1
    return table


def signed(bits):
    return (int(bits, 2) if bits[0] == "1" else int(bits, 2) - (1 << len(bits)) + 1) if bits else 0


def unsigned(value):
    size = abs(value).bit_length()
    return f"{value if value > 0 else value + (1 << size) - 1:0{size}b}" if size else ""


def apart(file, scans):
    """The file with its channels in these scans."""
    at, head, tables, channels, data = 2, b"", {}, [], b""
    while not data:
        mark, long = file[at + 1], int.from_bytes(file[at + 2 : at + 4])
        body = file[at + 4 : at + 2 + long]
        if mark == 0xC4:
            while body:
                kind, counts = body[0], body[1:17]
                tables[kind] = huffman(counts, body[17 : 17 + sum(counts)])
                body = body[17 + sum(counts) :]
        if mark == 0xC0:
            height, width = int.from_bytes(body[1:3]), int.from_bytes(body[3:5])
            channels = [dict(id=c[0], h=c[1] >> 4, v=c[1] & 15) for c in (body[6 + 3 * i : 9 + 3 * i] for i in range(body[5]))]
        if mark == 0xDA:
            for i, channel in enumerate(channels):
                channel["tables"] = body[2 + 2 * i]
            data = file[at + 2 + long : -2]
        else:
            head += file[at : at + 2 + long]
        at += 2 + long
    most = max(c["h"] for c in channels), max(c["v"] for c in channels)
    units = math.ceil(width / 8 / most[0]), math.ceil(height / 8 / most[1])
    bits = Bits(data)
    for channel in channels:
        channel["blocks"], channel["dc"] = {}, 0
    for unit in range(units[0] * units[1]):
        for channel in channels:
            dc, ac = tables[channel["tables"] >> 4], tables[16 | channel["tables"] & 15]
            for block in range(channel["h"] * channel["v"]):
                x = unit % units[0] * channel["h"] + block % channel["h"]
                y = unit // units[0] * channel["v"] + block // channel["h"]
                channel["dc"] += signed(bits.take(bits.symbol(dc)))
                rest, filled = [], 1
                while filled < 64:
                    run = bits.symbol(ac)
                    rest.append((run, bits.take(run & 15)))
                    filled = 64 if run == 0 else filled + (run >> 4) + 1
                channel["blocks"][x, y] = channel["dc"], rest
    out = b"\xff\xd8" + head
    for scan in scans:
        chosen = [channels[i] for i in scan]
        out += b"\xff\xda" + (6 + 2 * len(scan)).to_bytes(2) + bytes([len(scan)])
        out += b"".join(bytes([c["id"], c["tables"]]) for c in chosen) + bytes([0, 63, 0])
        order = []
        if len(scan) == 1:
            # As many blocks as the channel's own samples take: annex A.2.2.
            c = chosen[0]
            across = math.ceil(math.ceil(width * c["h"] / most[0]) / 8)
            down = math.ceil(math.ceil(height * c["v"] / most[1]) / 8)
            order = [(c, x, y) for y in range(down) for x in range(across)]
        else:
            for unit in range(units[0] * units[1]):
                for c in chosen:
                    for block in range(c["h"] * c["v"]):
                        x, y = unit % units[0] * c["h"] + block % c["h"], unit // units[0] * c["v"] + block // c["h"]
                        order.append((c, x, y))
        coded, before = [], {c["id"]: 0 for c in chosen}
        for c, x, y in order:
            dc, rest = c["blocks"][x, y]
            codes = [{value: code for code, value in tables[kind].items()} for kind in (c["tables"] >> 4, 16 | c["tables"] & 15)]
            step = unsigned(dc - before[c["id"]])
            before[c["id"]] = dc
            coded += [codes[0][len(step)], step] + [codes[1][run] + tail for run, tail in rest]
        text = "".join(coded)
        text += "1" * (-len(text) % 8)
        out += bytes(int(text[i : i + 8], 2) for i in range(0, len(text), 8)).replace(b"\xff", b"\xff\x00")
    return out + b"\xff\xd9"


for name, size, subsampling, scans in [
    ("apart-420", (48, 32), 2, [[0], [1], [2]]),
    ("apart-420-odd", (45, 27), 2, [[1], [2], [0]]),
    ("apart-422", (37, 29), 1, [[0], [1], [2]]),
    ("apart-444", (48, 32), 0, [[0], [1], [2]]),
    ("apart-in-part", (48, 32), 2, [[0], [1, 2]]),
]:
    whole = io.BytesIO()
    picture(*size).save(whole, "JPEG", quality=90, subsampling=subsampling, dpi=(300, 300))
    file = apart(whole.getvalue(), scans)
    (OUT / f"jpeg/{name}.jpg").write_bytes(file)
    seen = Image.open(io.BytesIO(file)).convert("RGB")
    assert np.array_equal(np.asarray(seen), np.asarray(Image.open(whole).convert("RGB"))), name
    seen.save(OUT / f"png/{name}.png", dpi=(300, 300))

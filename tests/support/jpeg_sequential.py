# SPDX-License-Identifier: GPL-3.0-or-later
"""A plain reading of ITU-T T.81 for one grey component: Huffman, sequential DCT, 8 or 12 bits, no restarts.
Slow; an oracle for the 12-bit images that djpeg does not read."""
import numpy as np

ZIGZAG = sorted(range(64), key=lambda i: (i // 8 + i % 8, (i // 8 if (i // 8 + i % 8) % 2 else i % 8)))


def segments(data):
    at = 2
    while True:
        assert data[at] == 0xFF
        marker, length = data[at + 1], int.from_bytes(data[at + 2:at + 4], "big")
        yield marker, data[at + 4:at + 2 + length], at + 2 + length
        at += 2 + length


def huffman_table(counts, symbols):
    """Code words in order of length (T.81 annex C), as {(length, code): symbol}."""
    table, code, k = {}, 0, 0
    for length in range(1, 17):
        for _ in range(counts[length - 1]):
            table[length, code] = symbols[k]
            code, k = code + 1, k + 1
        code *= 2
    return table


class Bits:
    def __init__(self, data):
        data = data[:data.rindex(b"\xff\xd9")].replace(b"\xff\x00", b"\xff")
        self.bits, self.at = np.unpackbits(np.frombuffer(data, np.uint8)).tolist(), 0

    def take(self, n):
        value = 0
        for bit in self.bits[self.at:self.at + n]:
            value = value * 2 + bit
        self.at += n
        return value

    def symbol(self, table):
        code = 0
        for length in range(1, 17):
            code = code * 2 + self.bits[self.at]
            self.at += 1
            if (length, code) in table:
                return table[length, code]
        raise ValueError("no such code")

    def signed(self, n):
        value = self.take(n)
        return value if n == 0 or value >= 1 << (n - 1) else value - (1 << n) + 1


def decode(data):
    quantisers, tables = {}, {}
    for marker, body, end in segments(data):
        if marker == 0xDB:
            while body:
                wide = body[0] >> 4
                quantisers[body[0] & 15] = np.frombuffer(body[1:65 + 64 * wide], ">u2" if wide else "u1").astype(float)
                body = body[65 + 64 * wide:]
        elif marker == 0xC4:
            while body:
                counts = list(body[1:17])
                tables[body[0]] = huffman_table(counts, body[17:17 + sum(counts)])
                body = body[17 + sum(counts):]
        elif marker in (0xC0, 0xC1):
            precision, rows, cols = body[0], int.from_bytes(body[1:3], "big"), int.from_bytes(body[3:5], "big")
            quantiser = body[8]
        elif marker == 0xDD:
            assert body == b"\0\0"
        elif marker == 0xDA:
            dc, ac = tables[body[2] >> 4], tables[16 + (body[2] & 15)]
            return picture(Bits(data[end:]), dc, ac, quantisers[quantiser], precision, rows, cols)


def picture(bits, dc, ac, quantiser, precision, rows, cols):
    k = np.arange(8)
    basis = np.sqrt(np.where(k == 0, 1, 2) / 8)[:, None] * np.cos((2 * k[None] + 1) * k[:, None] * np.pi / 16)
    out = np.zeros(((rows + 7) // 8 * 8, (cols + 7) // 8 * 8))
    previous = 0
    for y in range(0, rows, 8):
        for x in range(0, cols, 8):
            block = np.zeros(64)
            previous += bits.signed(bits.symbol(dc))
            block[0] = previous * quantiser[0]
            i = 1
            while i < 64:
                run, size = divmod(bits.symbol(ac), 16)
                if size == 0 and run != 15:
                    break
                i += run
                if size:
                    block[ZIGZAG[i]] = bits.signed(size) * quantiser[i]
                i += 1
            out[y:y + 8, x:x + 8] = basis.T @ block.reshape(8, 8) @ basis
    top = (1 << precision) - 1
    return np.clip(np.rint(out[:rows, :cols] + (1 << (precision - 1))), 0, top).astype(int)

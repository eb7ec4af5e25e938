"""Frames built and read by text alone, with nothing of the program: slow, plain, and for comparison only."""

FD_BYTES = [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64]
POLYNOMIAL = {15: "1100010110011001", 17: "110110100001011011", 21: "1100000010100010011001"}
"""Generators as sums of powers, highest first, from x^15, x^17 and x^21 down."""


def remainder(text, width):
    """What long division by the generator leaves of a text of bits with as many zeros appended."""
    work = list(text + "0" * width)
    for place in range(len(text)):
        if work[place] == "1":
            for offset, bit in enumerate(POLYNOMIAL[width]):
                work[place + offset] = "1" if work[place + offset] != bit else "0"
    return "".join(work[-width:])


def stuffed(text, *, at_end):
    out = ""
    for place, bit in enumerate(text):
        out += bit
        if (at_end or place < len(text) - 1) and len(out) >= 5 and _run(out) == 5:
            out += "1" if bit == "0" else "0"
    return out


def _run(text):
    """Equal bits at the end, which stuffing keeps at five or fewer."""
    return len(text) - len(text.rstrip(text[-1]))


def bytes_of(data):
    return "".join(format(byte, "08b") for byte in data)


def classical_header(identifier, extended, code):
    start = "0" + format(identifier, "029b")[:11] + "11" + format(identifier, "029b")[11:] + "000"
    return (start if extended else "0" + format(identifier, "011b") + "000") + format(code, "04b")


def fd_header(identifier, extended, length, brs, passive):
    start = "0" + format(identifier, "029b")[:11] + "11" + format(identifier, "029b")[11:] + "0"
    start = start if extended else "0" + format(identifier, "011b") + "00"
    return start + "10" + "01"[brs] + "01"[passive] + format(FD_BYTES.index(length), "04b")


def classical(identifier, extended, data):
    """The whole frame with intermission."""
    text = classical_header(identifier, extended, len(data)) + bytes_of(data)
    return stuffed(text + remainder(text, 15), at_end=True) + "1" + "01" + "1111111" + "111"


def repeated(header, count):
    """Free bits after a header that always repeat the last level on the wire, for as much stuffing as can be."""
    free, wire = "", stuffed(header, at_end=True)
    for _ in range(count):
        free += wire[-1]
        wire += wire[-1]
        if _run(wire) == 5:
            wire += "1" if wire[-1] == "0" else "0"
    return free


def payload_repeated(header, length):
    """The same as a payload."""
    free = repeated(header, 8 * length)
    return bytes(int(free[place : place + 8], 2) for place in range(0, 8 * length, 8))


class Receiver:
    """Takes a frame apart bit by bit, leaving stuff bits out, and divides the check."""

    def __init__(self, wire):
        self.wire, self.place, self.last, self.run = wire, 0, "", 0
        self.own = ""

    def take(self, count):
        for _ in range(count):
            if self.run == 5:
                self.drop_stuff()
            bit = self.wire[self.place]
            self.run = self.run + 1 if bit == self.last else 1
            self.last = bit
            self.place += 1
            self.own += bit
        return self.own[-count:] if count else ""

    def drop_stuff(self):
        assert self.wire[self.place] != self.last, "six equal bits"
        self.last, self.run = self.wire[self.place], 1
        self.place += 1

    def frame(self):
        """Identifier, extended, payload, FD, switch, passive; asserts everything that a receiver can check."""
        assert self.take(1) == "0"
        identifier, extended, switch, passive = self.take(11), False, False, False
        self.take(1)
        if self.take(1) == "1":
            extended = True
            identifier += self.take(18)
            assert self.take(1) == "0"
        fd = self.take(1) == "1"
        if fd:
            assert self.take(1) == "0"
            switch, passive = self.take(1) == "1", self.take(1) == "1"
        elif extended:
            assert self.take(1) == "0"
        code = int(self.take(4), 2)
        length = FD_BYTES[code] if fd else min(8, code)
        data = bytes(int(self.take(8), 2) for _ in range(length))
        self.fd_check(length) if fd else self.classical_check()
        assert self.wire[self.place :] == "1" + "01" + "1111111" + "111"
        return int(identifier, 2), extended, data, fd, switch, passive

    def classical_check(self):
        self.take(15)
        assert remainder(self.own, 15) == "0" * 15
        if self.run == 5:
            self.drop_stuff()

    def fd_check(self, length):
        width = 17 if length <= 16 else 21
        covered = self.wire[: self.place]
        field = ""
        while len(field) < 4 + width:
            assert self.wire[self.place] != self.wire[self.place - 1], "fixed stuff bit"
            taken = self.wire[self.place + 1 : self.place + 1 + min(4, 4 + width - len(field))]
            field += taken
            self.place += 1 + len(taken)
        counts = ["0000", "0011", "0110", "0101", "1100", "1111", "1010", "1001"]
        assert counts.index(field[:4]) == (len(covered) - len(self.own)) % 8
        # A start value of one and zeros turns the first bit, which is the dominant start of frame.
        assert remainder("1" + covered[1:] + field, width) == "0" * width

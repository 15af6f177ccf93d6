#!/usr/bin/env python3
"""EXR frames of 4096 x 2160 half floats in several compressions, and OpenEXR's own time to decode them whole.

opencv-exr.py make FOLDER         writes none.exr, zips.exr, zip.exr, piz.exr, dwaa.exr
opencv-exr.py time FILE           decodes it a few times; prints {"seconds": ..., "version": ...}, the least processor time
opencv-exr.py plates FOLDER N     writes N frames into each of FOLDER/none, zip, piz, dwaa; something dark stands there on some
opencv-exr.py all FOLDER          decodes every EXR of a folder whole, once; prints the same
opencv-exr.py run COMMAND ...     runs it, its output thrown away; prints {"seconds": ...}, its processor time and its children's
"""
import json
import os
import pathlib
import resource
import subprocess
import sys
import time

os.environ["OPENCV_IO_ENABLE_OPENEXR"] = "1"
import cv2
import numpy as np

ROUNDS = 2
# OpenEXR's own numbers (ImfCompression.h)
METHODS = {"none": 0, "zips": 2, "zip": 3, "piz": 4, "dwaa": 8}


def wall(random):
    """A wall in uneven light."""
    y, x = np.mgrid[0:2160, 0:4096].astype(np.float32)
    light = np.zeros_like(x)
    for _ in range(12):
        angle, length, phase = random.uniform(0, 6.3), random.uniform(6, 80), random.uniform(0, 6)
        light += 0.15 * np.sin(6.2832 * (x * np.cos(angle) + y * np.sin(angle)) / length + phase)
    lit = 0.2 * 2**light
    return np.stack([0.85 * lit, lit, 1.05 * lit], 2)


def with_grain(random, picture):
    return picture * (1 + 0.01 * random.standard_normal(picture.shape, dtype=np.float32))


def write(path, picture, method):
    how = [cv2.IMWRITE_EXR_TYPE, cv2.IMWRITE_EXR_TYPE_HALF, cv2.IMWRITE_EXR_COMPRESSION, method]
    if not cv2.imwrite(str(path), picture, how):
        sys.exit(f"{path} was not written")


def make(folder):
    random = np.random.default_rng(1)
    picture = with_grain(random, wall(random))
    for name, method in METHODS.items():
        write(folder / f"{name}.exr", picture, method)


def plates(folder, frames):
    random = np.random.default_rng(1)
    empty = wall(random)
    for name in ("none", "zip", "piz", "dwaa"):
        (folder / name).mkdir(parents=True)
    for frame in range(frames):
        picture = with_grain(random, empty)
        if frames // 3 <= frame < frames // 2:
            picture[920:1140, 1830:2030] = 0.05
        for name in ("none", "zip", "piz", "dwaa"):
            write(folder / name / f"wall.{1001 + frame}.exr", picture, METHODS[name])


def least(path):
    took = []
    for _ in range(ROUNDS + 1):
        started = time.process_time()
        if cv2.imread(path, cv2.IMREAD_UNCHANGED) is None:
            sys.exit(f"{path} can't be decoded")
        took.append(time.process_time() - started)
    # the first one warms up
    return min(took[1:])


def once(folder):
    started = time.process_time()
    for path in sorted(pathlib.Path(folder).glob("*.exr")):
        if cv2.imread(str(path), cv2.IMREAD_UNCHANGED) is None:
            sys.exit(f"{path} can't be decoded")
    return time.process_time() - started


def cost(command):
    if subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode != 0:
        sys.exit(f"{command[0]} failed")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


what, *given = sys.argv[1:]
if what == "make":
    make(pathlib.Path(given[0]))
elif what == "plates":
    plates(pathlib.Path(given[0]), int(given[1]))
elif what == "run":
    print(json.dumps({"seconds": cost(given)}))
else:
    seconds = least(given[0]) if what == "time" else once(given[0])
    print(json.dumps({"seconds": seconds, "version": cv2.__version__}))

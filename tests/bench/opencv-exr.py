#!/usr/bin/env python3
"""EXR frames of 4096 x 2160 half floats in several compressions, and OpenEXR's own time to decode them whole.

opencv-exr.py make FOLDER         writes none.exr, zips.exr, zip.exr, piz.exr, dwaa.exr
opencv-exr.py time FILE           decodes it a few times; prints {"seconds": ..., "version": ...}, the least processor time
"""
import json
import os
import pathlib
import sys
import time

os.environ["OPENCV_IO_ENABLE_OPENEXR"] = "1"
import cv2
import numpy as np

ROUNDS = 2
# OpenEXR's own numbers (ImfCompression.h)
METHODS = {"none": 0, "zips": 2, "zip": 3, "piz": 4, "dwaa": 8}


def make(folder):
    # a wall in uneven light with one per cent of grain
    random = np.random.default_rng(1)
    y, x = np.mgrid[0:2160, 0:4096].astype(np.float32)
    light = np.zeros_like(x)
    for _ in range(12):
        angle, length, phase = random.uniform(0, 6.3), random.uniform(6, 80), random.uniform(0, 6)
        light += 0.15 * np.sin(6.2832 * (x * np.cos(angle) + y * np.sin(angle)) / length + phase)
    wall = 0.2 * 2**light
    picture = np.stack([0.85 * wall, wall, 1.05 * wall], 2)
    picture *= 1 + 0.01 * random.standard_normal(picture.shape, dtype=np.float32)
    for name, method in METHODS.items():
        how = [cv2.IMWRITE_EXR_TYPE, cv2.IMWRITE_EXR_TYPE_HALF, cv2.IMWRITE_EXR_COMPRESSION, method]
        if not cv2.imwrite(str(folder / f"{name}.exr"), picture, how):
            sys.exit(f"{name}.exr was not written")


def least(path):
    took = []
    for _ in range(ROUNDS + 1):
        started = time.process_time()
        if cv2.imread(path, cv2.IMREAD_UNCHANGED) is None:
            sys.exit(f"{path} can't be decoded")
        took.append(time.process_time() - started)
    # the first one warms up
    return min(took[1:])


if sys.argv[1] == "make":
    make(pathlib.Path(sys.argv[2]))
else:
    print(json.dumps({"seconds": least(sys.argv[2]), "version": cv2.__version__}))

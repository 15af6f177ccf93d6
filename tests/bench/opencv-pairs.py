#!/usr/bin/env python3
"""The loop that is used today: OpenCV's masked matchTemplate for every target against every donor.

opencv-pairs.py FOLDER: reads meta.json, targets.bin, donors.bin, mask.bin (float32), times the loop alone, and writes
offsets.bin (int32: x, y of each pair's peak) and margins.bin (float32: how far the peak stands above every other place).
Prints {"seconds": ..., "version": ..., "threads": ...}.
"""
import json
import pathlib
import sys
import time

import cv2
import numpy as np

folder = pathlib.Path(sys.argv[1])
meta = json.loads((folder / "meta.json").read_text())


def load(name, count, size):
    return np.fromfile(folder / name, "<f4").reshape(count, size[1], size[0])


targets = load("targets.bin", meta["targets"], meta["template"])
donors = load("donors.bin", meta["donors"], meta["image"])
mask = load("mask.bin", 1, meta["template"])[0]
rows = meta["image"][1] - meta["template"][1] + 1
columns = meta["image"][0] - meta["template"][0] + 1
surfaces = np.empty((len(targets), len(donors), rows, columns), np.float32)
cv2.matchTemplate(donors[0], targets[0], cv2.TM_CCOEFF_NORMED, mask=mask)  # warm-up
started = time.perf_counter()
for t, target in enumerate(targets):
    for d, donor in enumerate(donors):
        surfaces[t, d] = cv2.matchTemplate(donor, target, cv2.TM_CCOEFF_NORMED, mask=mask)
seconds = time.perf_counter() - started
flat = surfaces.reshape(len(targets), len(donors), -1)
flat[~np.isfinite(flat)] = -2
top = np.sort(np.partition(flat, -2, axis=2)[:, :, -2:], axis=2)
peak = flat.argmax(axis=2)
np.stack([peak % columns, peak // columns], axis=2).astype("<i4").tofile(folder / "offsets.bin")
(top[:, :, 1] - top[:, :, 0]).astype("<f4").tofile(folder / "margins.bin")
print(json.dumps({"seconds": seconds, "version": cv2.__version__, "threads": cv2.getNumThreads()}))

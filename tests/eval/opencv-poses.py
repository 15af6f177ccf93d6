#!/usr/bin/env python3
"""What general-purpose OpenCV makes of a camera that moves: a homography per donor frame onto one target frame.

opencv-poses.py JOB.json: {"target": path, "mask": path, "donors": [path, ...], "ring": px}. First SIFT features outside of
the mask, matched with Lowe's ratio test, and RANSAC; then from there findTransformECC on a ring round the mask in log
luminance. Reading files and the target's own features are not timed. Prints {"version": ..., "threads": ..., "donors":
[{"features": 9 numbers or null, "featuresMs": ms, "ecc": 9 numbers or null, "eccMs": ms}, ...]}; each takes a donor's pixel
to its place on the target.
"""
import json
import sys
import time

import cv2
import numpy as np

MAX_FEATURES = 2000
RATIO = 0.75
RANSAC_PX = 3
STEPS = cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 50, 1e-5
BLUR = 5
NEAR_MASK_PX = 3
PAD_PX = 8
FLOOR = 1e-3

job = json.load(open(sys.argv[1]))


def read(path):
    """Display codes of 8 bits, and log2 luminance (sRGB, BT.709)."""
    codes = cv2.imread(path, cv2.IMREAD_UNCHANGED)
    v = codes.astype(np.float32) / np.iinfo(codes.dtype).max
    linear = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    luminance = linear @ np.float32([0.0722, 0.7152, 0.2126])
    grey = cv2.cvtColor((v * 255).round().astype(np.uint8), cv2.COLOR_BGR2GRAY)
    return grey, np.log2(luminance + FLOOR).astype(np.float32)


def grown(mask, px):
    return cv2.dilate(mask, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * px + 1, 2 * px + 1)))


sift = cv2.SIFT_create(MAX_FEATURES)
matcher = cv2.BFMatcher()
grey, target = read(job["target"])
mask = cv2.threshold(cv2.imread(job["mask"], cv2.IMREAD_GRAYSCALE), 127, 255, cv2.THRESH_BINARY)[1]
outside = cv2.bitwise_not(grown(mask, NEAR_MASK_PX))
ring = cv2.bitwise_and(grown(mask, job["ring"]), outside)
places, words = sift.detectAndCompute(grey, outside)
rows, columns = ring.nonzero()
around = np.float64([[columns.min(), rows.min()], [columns.max(), rows.min()],
                     [columns.min(), rows.max()], [columns.max(), rows.max()]])


def by_features(grey):
    found, described = sift.detectAndCompute(grey, None)
    if described is None or len(found) < 4 or words is None:
        return None
    pairs = matcher.knnMatch(described, words, k=2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
    if len(good) < 4:
        return None
    source = np.float32([found[m.queryIdx].pt for m in good])
    to = np.float32([places[m.trainIdx].pt for m in good])
    return cv2.findHomography(source, to, cv2.RANSAC, RANSAC_PX)[0]


def by_ecc(donor, start):
    height, width = donor.shape
    corners = cv2.perspectiveTransform(around[None], np.linalg.inv(start))[0]
    x, y = np.maximum(0, np.floor(corners.min(0)).astype(int) - PAD_PX)
    right, bottom = np.minimum([width, height], np.ceil(corners.max(0)).astype(int) + PAD_PX)
    if right - x < 2 * PAD_PX or bottom - y < 2 * PAD_PX:
        return None
    move = np.float64([[1, 0, x], [0, 1, y], [0, 0, 1]])
    warp = start @ move
    warp = (warp / warp[2, 2]).astype(np.float32)
    part = np.ascontiguousarray(donor[y:bottom, x:right])
    try:
        _, warp = cv2.findTransformECC(part, target, warp, cv2.MOTION_HOMOGRAPHY, STEPS, ring, BLUR)
    except cv2.error:  # it says so where it does not converge
        return None
    return warp.astype(np.float64) @ np.linalg.inv(move)


def numbers(matrix):
    return None if matrix is None else [float(v) for v in (matrix / matrix[2, 2]).ravel()]


by_features(grey)  # warm-up
answers = []
for path in job["donors"]:
    grey, donor = read(path)
    started = time.perf_counter()
    features = by_features(grey)
    between = time.perf_counter()
    ecc = by_ecc(donor, np.eye(3) if features is None else features)
    answers.append({"features": numbers(features), "featuresMs": 1000 * (between - started),
                    "ecc": numbers(ecc), "eccMs": 1000 * (time.perf_counter() - between)})
print(json.dumps({"version": cv2.__version__, "threads": cv2.getNumThreads(), "donors": answers}))

"""Reads an EXR with OpenImageIO (Debian: python3-openimageio) and gives it back as plain numbers.

usage: python3 exr-read.py picture.exr samples.bin
samples.bin: float32, little endian, [height, width, channels] of the data window; standard output: the header as JSON.
"""
import json
import sys

import OpenImageIO as oiio

source, target = sys.argv[1:]
picture = oiio.ImageInput.open(source)
if picture is None:
    sys.exit(oiio.geterror())
spec = picture.spec()
picture.read_image(0, 0, 0, spec.nchannels, "float").astype("<f4").tofile(target)
rate = spec.getattribute("FramesPerSecond")
print(json.dumps({
    "width": spec.width, "height": spec.height, "x": spec.x, "y": spec.y,
    "full": [spec.full_x, spec.full_y, spec.full_width, spec.full_height],
    "channels": list(spec.channelnames), "format": str(spec.format),
    "compression": spec.getattribute("compression"),
    "pixelAspect": spec.getattribute("PixelAspectRatio"),
    "framesPerSecond": list(rate) if isinstance(rate, tuple) else rate,
    "timeCode": spec.getattribute("smpte:TimeCode"),
    "imageCounter": spec.getattribute("imageCounter"),
}))

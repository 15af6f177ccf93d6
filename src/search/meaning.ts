// What each measure is, in the words of the result's schema, of the sheet, and of README.md's table.

export const MEANING = {
  ncc: 'correlation of the surround, -1 to 1; absent where it is flat, clipped or hidden',
  stops: 'luminance of target over donor on the surround, log base 2',
  seam: 'difference on the surround after the light is matched, over what grain alone gives (1 = the limit)',
  inside:
    'expected RMS error inside the region, over that of the best clean donor held over the range (where none is clean, of the best donors frame by frame); 1 equals it, less is better; a borrow has none',
  clean: 'share of the region that shows the clean plate; over a range, on its worst frame',
  grain: 'noise of donor over target, after resampling and averaging',
  sharpness: 'detail of donor over target on the surround',
  steadiness: 'jitter of the 2D offset from frame to frame, pixels',
  life: "share of the surround's detail that is another one in the next frame: 0 stands still, near 1 is water",
} as const

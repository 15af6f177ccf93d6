// What is taken where nothing is asked, and the choices there are: the command line shows them before it loads anything else.

/** Candidates kept: what a lead looks at. */
export const KEEP = 12
/** Largest 2D offset looked for, pixels: more than a locked-off or swaying camera moves between two frames. */
export const REACH_PX = 16
/** Width of the surround in pixels: wide enough for texture, narrow enough to share the region's light. */
export const SURROUND_PX = 24

/** How a mask of another size is put on the plate: refused, centred (cut or filled with 0), or scaled to it. */
export const MASK_FITS = ['same', 'centre', 'scale'] as const
export type MaskFit = (typeof MASK_FITS)[number]

/** Width over which a patch fades into the plate outside the mask, pixels. */
export const FEATHER_PX = 4
/** Where a patch fades out, seen from the mask's edge. */
export const FEATHER_SIDES = ['outside', 'inside', 'both'] as const
export type FeatherSide = (typeof FEATHER_SIDES)[number]

/** Stops of a lift are multiplied by this: 1 is the change as it was shot. */
export const STRENGTH = 1
/** Most of it: a shadow of one stop is then four stops deep, more than any shadow takes. */
export const MAX_STRENGTH = 4
/**
 * By default a lift fades over so many frames at either end, and never over the wanted peak: there the shadow that was
 * asked for is as it was shot.
 */
export const FADE_FRAMES = 2

/** What a patch may be written as. */
export const PATCH_FORMATS = ['exr', 'png', 'tif'] as const
export type PatchFormat = (typeof PATCH_FORMATS)[number]

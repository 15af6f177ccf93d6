// What is taken for clean, for locked off and for a difference that shows: each judges footage in more than one place.
// The limits of the measures stand in src/search/measures.ts.

/** A region is clean when this share of it agrees with the clean plate. */
export const CLEAN_SHARE = 0.985

/** A camera that moves less than this, pixels, is locked off: below it is the aligner's noise, 0.03 to 0.055 RMS on planted sway. */
export const LOCKED_PX = 0.06

/** A difference from the clean plate under this, stops, is none: no eye sees it in a cleaned plate (a 4 % step of light). */
export const VISIBLE_STOPS = 0.05

/** ... and one under this, of the display's code values, whatever it is in stops: one and a half of 255. */
export const VISIBLE_CODE = 0.006

/** The least step of light along an edge that is told, stops: twice what no eye sees. */
export const STEP_STOPS = 0.1

/** No eye tells differences apart that are smaller than this, dB of peak signal to noise. */
export const INVISIBLE_DB = 46

/** A region is clean when this share of it agrees with the clean plate: apart, as the page reads it, too. */
export const CLEAN_SHARE = 0.985

// Memory of large pictures that goes back to the system as soon as nobody has them any longer.

/**
 * The C library of Linux maps what is larger than this by itself, always (DEFAULT_MMAP_THRESHOLD_MAX of glibc); what is
 * smaller it may put into its heap once something of that size was freed, between small things that stay, and then the heap
 * does not shrink: of 24 pictures of 2048 x 2160 pixels, dropped after a search, hardly anything was given back.
 */
const MAPPED_BYTES = 32 * 2 ** 20
/** From this on it is worth it, bytes: the engine counts all that is asked for, and would collect garbage for nothing. */
const WORTH_BYTES = 16 * 2 ** 20

/** Zeros, at least so many bytes: of what is asked for in vain nothing is ever touched, so that it takes no memory. */
export function ownPages(byteLength: number): ArrayBuffer {
  return new ArrayBuffer(byteLength < WORTH_BYTES ? byteLength : Math.max(byteLength, MAPPED_BYTES + 1))
}

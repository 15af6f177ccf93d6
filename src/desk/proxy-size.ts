// How far whole frames are brought down for a look at them: the server keeps them so, and the page asks for no more of them
// until it stands still.

/** A proxy is at most so wide, pixels. */
const MAX_WIDTH = 1280

/** Plate pixels of a side per pixel of a plate's proxies. */
export function proxyFactor(width: number): number {
  return Math.max(1, Math.ceil(width / MAX_WIDTH))
}

/** Width of a plate's proxies, pixels. */
export function proxyWidth(width: number): number {
  return Math.floor(width / proxyFactor(width))
}

// An even share of many: what is measured on all of them is hardly better known than on a few thousand.

/** Every so manieth of `length` pixels leaves about `most`. Odd, so that no column is left out of an even width. */
export function oddStep(length: number, most: number): number {
  return Math.max(1, Math.floor(length / most)) | 1
}

/** At most `most` items, in order and evenly spread. */
export function subsample<T>(items: readonly T[], most: number): T[] {
  if (items.length <= most) return [...items]
  return Array.from({ length: most }, (_, i) => items[Math.floor((i * items.length) / most)])
}

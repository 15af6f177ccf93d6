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

/** The same, its first and last item among them. @param most two at least */
export function subsampleToEnds<T>(items: readonly T[], most: number): T[] {
  if (items.length <= most) return [...items]
  return Array.from({ length: most }, (_, i) => items[Math.round((i * (items.length - 1)) / (most - 1))])
}

/** The same, the middle one of each even stretch. */
export function subsampleMiddles<T>(items: readonly T[], most: number): T[] {
  if (items.length <= most) return [...items]
  return Array.from({ length: most }, (_, i) => items[Math.floor(((i + 0.5) * items.length) / most)])
}

/** Where weights are above 0, ascending. */
export function indicesOf(weight: Readonly<Float32Array>): Int32Array {
  const list = new Int32Array(weight.length)
  let n = 0
  for (let i = 0; i < weight.length; i++) if (weight[i] > 0) list[n++] = i
  return list.slice(0, n)
}

/** About `most` of a list, every so manieth as `oddStep` has it. */
export function evenly(list: Readonly<Int32Array>, most: number): Int32Array {
  const step = oddStep(list.length, most)
  const out = new Int32Array(Math.ceil(list.length / step))
  for (let k = 0; k < out.length; k++) out[k] = list[k * step]
  return out
}

// The wavelet of PIZ, pair by pair. Source: OpenEXR 3.1, ImfWav.

/**
 * Undoes the two-dimensional Haar wavelet in place, from the coarsest level to the finest.
 *
 * @param at index of the first word; `stepX` and `stepY` lead to the neighbours
 * @param highest largest word that was transformed: below 2^14 sums keep their sign, above they wrap
 */
export function straightWavelet(
  words: Uint16Array,
  at: number,
  width: number,
  stepX: number,
  height: number,
  stepY: number,
  highest: number,
): void {
  const pair = highest < 1 << 14 ? undoPairSigned : undoPairWrapped
  let span = 1
  while (span * 2 <= Math.min(width, height)) span *= 2
  for (; span >= 2; span >>= 1) {
    const half = span >> 1
    const right = half * stepX
    const below = half * stepY
    let y = 0
    for (; y + span <= height; y += span) {
      let i = at + y * stepY
      let x = 0
      for (; x + span <= width; x += span, i += span * stepX) {
        pair(words, i, i + below)
        pair(words, i + right, i + below + right)
        pair(words, i, i + right)
        pair(words, i + below, i + below + right)
      }
      if (width & half) pair(words, i, i + below)
    }
    if (height & half) {
      let i = at + y * stepY
      for (let x = 0; x + span <= width; x += span, i += span * stepX) pair(words, i, i + right)
    }
  }
}

/** From mean and difference back to two words; both signed, the mean rounded towards minus infinity. */
function undoPairSigned(words: Uint16Array, a: number, b: number): void {
  const mean = (words[a]! << 16) >> 16
  const difference = (words[b]! << 16) >> 16
  const first = mean + (difference & 1) + (difference >> 1)
  words[a] = first
  words[b] = first - difference
}

/** The same modulo 2^16, where the mean is offset by half the range. */
function undoPairWrapped(words: Uint16Array, a: number, b: number): void {
  const difference = words[b]!
  const second = (words[a]! - (difference >> 1)) & 0xffff
  words[b] = second
  words[a] = difference + second - 0x8000
}

/** What a writer does: the same pairs the other way round, from the finest level to the coarsest. */
export function transform(words: Uint16Array, width: number, height: number, highest: number): void {
  const pair = highest < 1 << 14 ? pairSigned : pairWrapped
  for (let span = 2; span <= Math.min(width, height); span *= 2) {
    const half = span >> 1
    let y = 0
    for (; y + span <= height; y += span) {
      let i = y * width
      let x = 0
      for (; x + span <= width; x += span, i += span) {
        pair(words, i, i + half)
        pair(words, i + half * width, i + half * width + half)
        pair(words, i, i + half * width)
        pair(words, i + half, i + half * width + half)
      }
      if (width & half) pair(words, i, i + half * width)
    }
    if (height & half) {
      let i = y * width
      for (let x = 0; x + span <= width; x += span, i += span) pair(words, i, i + half)
    }
  }
}

function pairSigned(words: Uint16Array, a: number, b: number): void {
  const [first, second] = [(words[a] << 16) >> 16, (words[b] << 16) >> 16]
  words[a] = (first + second) >> 1
  words[b] = first - second
}

function pairWrapped(words: Uint16Array, a: number, b: number): void {
  const first = (words[a] + 0x8000) & 0xffff
  let mean = (first + words[b]) >> 1
  const difference = first - words[b]
  if (difference < 0) mean = (mean + 0x8000) & 0xffff
  words[a] = mean
  words[b] = difference
}
